from __future__ import annotations

import tempfile
from pathlib import Path

import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError, LagwiseError

ROOM = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])

PERSON = st.sampled_from(["a1", "A2", " b3 ", "", "ü7"])
DATE = st.sampled_from(
    ["2024-01-01", "2024-02-29", "2023-02-29", "", "14.03.2024", "45365", "2024-01-01 08:00"]
)
NUMBER = st.one_of(
    st.integers(-3, 14).map(str),
    st.sampled_from(["", "3,5", "8/10", "RPE 7", "x", "NA", "=1+1", "1e3", " 4 "]),
)
YES = st.sampled_from(["yes", "no", "", "ja", "?", "perhaps", "1"])
CHECKIN = st.tuples(PERSON, DATE, NUMBER, NUMBER, YES)
SESSION = st.tuples(PERSON, DATE, st.sampled_from(["Press", "row ", ""]), NUMBER, NUMBER, NUMBER)
TABLES = st.tuples(st.lists(CHECKIN, min_size=1, max_size=12), st.lists(SESSION, max_size=12))


def write(root: Path, checkins, sessions) -> Path:
    (root / "study.toml").write_text('title = "x"\n', encoding="utf-8")
    sound = ("z9", "2024-01-05", "3", "4", "no")
    pd.DataFrame([sound, *checkins], columns=["person", "date", "pain", "stress", "flare"]).to_csv(
        root / "checkins.csv", index=False
    )
    if sessions:
        sessions = [("z9", "2024-01-04", "press", "3", "50", "7"), *sessions]
        pd.DataFrame(sessions, columns=["person", "date", "exercise", "sets", "load_kg", "effort"]).to_csv(
            root / "sessions.csv", index=False
        )
    return root


def asked(root: Path):
    """The caseload, or the column whose values ask which scale they are on: then nothing is read."""
    try:
        return read(root)
    except CaseloadError as error:
        assert "which looks like a scale of" in error.what or "lie outside" in error.what
        return error.what.split(":")[0]


def content(frame: pd.DataFrame) -> list[tuple]:
    return sorted(map(repr, frame.drop(columns=["row"]).astype(object).itertuples(index=False, name=None)))


@given(TABLES)
@ROOM
def test_every_row_is_used_or_quarantined_and_reading_twice_is_equal(tables):
    with tempfile.TemporaryDirectory() as place:
        root = write(Path(place), *tables)
        caseload, again = asked(root), asked(root)
    if isinstance(caseload, str):
        assert caseload == again
        return
    for table, rows in zip(("checkins", "sessions"), tables, strict=True):
        if not rows:
            continue
        expected = set(range(2, len(rows) + 3))
        listed = caseload.quarantine.query("table == @table")
        aside = listed.loc[listed["whole_row"], "row"]
        assert not listed.duplicated(["row", "column"]).any()
        assert set(listed.loc[~listed["whole_row"], "row"]) <= set(getattr(caseload, table)["row"])
        used = getattr(caseload, table)["row"]
        assert len(aside) + len(used) == len(expected)
        assert {*aside, *used} == expected
        counts = caseload.counts.set_index("table").loc[table]
        assert counts["read"] == counts["used"] + counts["quarantined"] == len(expected)
        first = (
            ("z9", "2024-01-05", "3", "4", "no")
            if table == "checkins"
            else ("z9", "2024-01-04", "press", "3", "50", "7")
        )
        filled = {
            row: sum(bool(cell.strip()) for cell in cells)
            for row, cells in enumerate([first, *rows], start=2)
        }
        assert counts["cells_read"] == sum(filled[row] for row in used)
        assert counts["cells_quarantined"] == (~listed["whole_row"]).sum()
        assert counts["cells_read"] == counts["cells_used"] + counts["cells_quarantined"]
        pd.testing.assert_frame_equal(getattr(caseload, table), getattr(again, table))
    for frame in ("quarantine", "remarks", "counts"):
        pd.testing.assert_frame_equal(getattr(caseload, frame), getattr(again, frame))
    assert caseload.data_hash == again.data_hash


@given(TABLES, st.randoms(use_true_random=False))
@ROOM
def test_row_order_does_not_matter(tables, random):
    shuffled = [random.sample(rows, len(rows)) for rows in tables]
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
        first, second = asked(write(Path(one), *tables)), asked(write(Path(other), *shuffled))
    if isinstance(first, str):
        assert isinstance(second, str)
        return
    for table in ("checkins", "sessions"):
        assert content(getattr(first, table)) == content(getattr(second, table))
    assert content(first.quarantine) == content(second.quarantine)
    assert sorted(first.remarks["code"]) == sorted(second.remarks["code"])


@given(st.text(max_size=400), st.text(max_size=200))
@ROOM
def test_any_text_raises_nothing_but_our_own_errors(table, plan):
    with tempfile.TemporaryDirectory() as place:
        root = Path(place)
        (root / "study.toml").write_text('title = "x"\n', encoding="utf-8")
        for text in (table, f"person,date,pain\n{table}"):
            (root / "checkins.csv").write_text(text, encoding="utf-8", errors="replace", newline="")
            try:
                caseload = read(root)
            except LagwiseError:
                continue
            assert (
                caseload.counts["read"].sum()
                == len(caseload.checkins) + caseload.quarantine["whole_row"].sum()
            )
        (root / "study.toml").write_text(f'title = "x"\n{plan}', encoding="utf-8", errors="replace")
        try:
            read(root)
        except LagwiseError as error:
            assert str(error)

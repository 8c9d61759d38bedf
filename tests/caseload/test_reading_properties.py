import tempfile
from pathlib import Path

import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError, LagwiseError

ROOM = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])

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


FIRST = {
    "checkins": ("z9", "2024-01-05", "3", "4", "no"),
    "sessions": ("z9", "2024-01-04", "press", "3", "50", "7"),
}
COLUMNS = {
    "checkins": ["person", "date", "pain", "stress", "flare"],
    "sessions": ["person", "date", "exercise", "sets", "load_kg", "effort"],
}


def write(root: Path, checkins, sessions) -> Path:
    (root / "study.toml").write_text('title = "x"\n', encoding="utf-8")
    for table, rows in (("checkins", checkins), ("sessions", sessions)):
        if rows:
            frame = pd.DataFrame([FIRST[table], *rows], columns=COLUMNS[table])
            frame.to_csv(root / f"{table}.csv", index=False)
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


@given(TABLES, st.randoms(use_true_random=False))
@ROOM
def test_every_row_is_used_or_quarantined_whatever_the_order_and_reading_twice_is_equal(tables, random):
    mixed = [random.sample(rows, len(rows)) for rows in tables]
    with tempfile.TemporaryDirectory() as place, tempfile.TemporaryDirectory() as elsewhere:
        root = write(Path(place), *tables)
        caseload, again, other = asked(root), asked(root), asked(write(Path(elsewhere), *mixed))
    if isinstance(caseload, str):
        assert caseload == again and isinstance(other, str)
        return
    for table, rows in zip(("checkins", "sessions"), tables, strict=True):
        if not rows:
            continue
        expected = set(range(2, len(rows) + 3))
        listed, used = caseload.quarantine.query("table == @table"), getattr(caseload, table)["row"]
        aside = listed.loc[listed["whole_row"], "row"]
        assert not listed.duplicated(["row", "column"]).any()
        assert set(listed.loc[~listed["whole_row"], "row"]) <= set(used)
        assert len(aside) + len(used) == len(expected)
        assert {*aside, *used} == expected
        counts = caseload.counts.set_index("table").loc[table]
        assert counts["read"] == counts["used"] + counts["quarantined"] == len(expected)
        cells = [len(FIRST[table]), *(sum(bool(cell.strip()) for cell in row) for row in rows)]
        assert counts["cells_read"] == sum(cells[row - 2] for row in used)
        assert counts["cells_quarantined"] == (~listed["whole_row"]).sum()
        assert counts["cells_read"] == counts["cells_used"] + counts["cells_quarantined"]
        pd.testing.assert_frame_equal(getattr(caseload, table), getattr(again, table))
        assert content(getattr(caseload, table)) == content(getattr(other, table))
    for frame in ("quarantine", "remarks", "counts"):
        pd.testing.assert_frame_equal(getattr(caseload, frame), getattr(again, frame))
    assert caseload.data_hash == again.data_hash
    assert content(caseload.quarantine) == content(other.quarantine)
    assert sorted(caseload.remarks["code"]) == sorted(other.remarks["code"])


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

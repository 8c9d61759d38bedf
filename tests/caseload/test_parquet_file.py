from datetime import date

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError


def put(root, table: pa.Table) -> None:
    pq.write_table(table, root / "checkins.parquet")


def test_typed_columns(folder):
    root = folder(**{"x.md": ""})
    days = [date(2024, 1, 7), date(2024, 1, 8), None]
    put(
        root,
        pa.table(
            {
                "person": pa.array(["a1", " a2 ", "a3"]).dictionary_encode(),
                "date": pa.array(days, pa.date32()), "pain": pa.array([3, None, 4], pa.int16()),
                "stress": pa.array([3.5, float("inf"), None]), "flare": pa.array([True, None, False]),
                "blob": pa.array([[1], [2], []])}),
    )  # fmt: skip
    caseload = read(root)
    assert caseload.checkins["person"].tolist() == ["a1"]
    assert caseload.checkins["flare"].tolist() == [True]
    assert caseload.quarantine[["row", "column", "code"]].to_numpy().tolist() == [
        [3, "stress", "bad_number"],
        [4, "date", "missing_date"],
    ]
    assert caseload.remarks["code"].tolist() == ["ignored_column"]


def test_same_content_as_csv_gives_the_same_tables(folder):
    text = "person,date,time,pain,sleep_hours,flare\n12,2024-01-07,07:30,3,7.5,yes\n13,2024-01-08,,,6,\n14,2024-01-09,,11,6,no\n"
    root = folder(checkins=text)
    expected = read(root)
    (root / "checkins.csv").unlink()
    put(
        root,
        pa.table(
            {
                "person": pa.array([12, 13, 14]),
                "date": pa.array(pd.to_datetime(["2024-01-07", "2024-01-08", "2024-01-09"])),
                "time": pa.array(["07:30", None, None]),
                "pain": pa.array([3.0, None, 11.0]),
                "sleep_hours": pa.array([7.5, 6.0, 6.0], pa.float32()),
                "flare": pa.array([True, None, False]),
            }
        ),
    )
    got = read(root)
    pd.testing.assert_frame_equal(got.checkins, expected.checkins)
    assert got.quarantine[["row", "code"]].equals(expected.quarantine[["row", "code"]])


def test_units_zone_times_and_fractions(folder):
    root = folder('[tables.sessions]\nfile = "s.parquet"\n[tables.sessions.units]\nload_kg = "lb"')
    pq.write_table(
        pa.table(
            {
                "person": ["a1", "a2"],
                "date": pa.array(pd.to_datetime(["2024-01-07 10:30", "2024-01-08 00:00"]).tz_localize("UTC")),
                "sets": [3.0, 2.5], "load_kg": [100.0, 50.0]}), root / "s.parquet",
    )  # fmt: skip
    caseload = read(root)
    assert caseload.sessions["load_kg"].tolist() == pytest.approx([45.359237, 45.359237 / 2])
    assert caseload.sessions["date"].dt.strftime("%Y-%m-%d").tolist() == ["2024-01-07", "2024-01-08"]
    assert caseload.sessions["sets"].isna().tolist() == [False, True]
    assert caseload.quarantine[["code", "whole_row"]].to_numpy().tolist() == [["not_whole", False]]
    assert "repair_date_times" in caseload.remarks["code"].tolist()


def test_damaged_parquet(folder):
    for content in (b"PAR1junkPAR1", b"x" * 100):
        with pytest.raises(CaseloadError, match="no readable Parquet file"):
            read(folder(**{"checkins.parquet": content}))
    with pytest.raises(CaseloadError, match="is empty"):
        read(folder(**{"checkins.parquet": b""}))


def test_missing_required_column(folder):
    root = folder(**{"x.md": ""})
    put(root, pa.table({"person": ["a"], "datum": ["2024-01-07"]}))
    with pytest.raises(CaseloadError, match="no column 'date'"):
        read(root)


CLOCKED = ["2024-01-07 07:30", "2024-01-07 23:15", "2024-01-08 00:00", "2024-01-09 24:00"]


def told(root) -> tuple:
    caseload = read(root)
    repaired = caseload.remarks.set_index("code")["count"].get("repair_date_times")
    dates = caseload.checkins["date"].dt.strftime("%Y-%m-%d").tolist()
    return dates, caseload.checkins["time"].astype(object).where(lambda t: t.notna(), None).tolist(), repaired


def test_a_clock_beside_the_date_is_read_alike_from_text_workbook_and_parquet(folder):
    stamps = pd.to_datetime(CLOCKED[:3])
    want = (["2024-01-07", "2024-01-07", "2024-01-08"], ["07:30", "23:15", None], 2)
    put(folder(**{"x.md": ""}), pa.table({"person": ["a"] * 3, "date": stamps, "pain": [1, 2, 3]}))
    root = folder(**{"x.md": ""})
    assert told(root) == want
    (root / "checkins.parquet").unlink()
    rows = [["person", "date", "pain"], *([["a", at.to_pydatetime(), i] for i, at in enumerate(stamps)])]
    assert told(folder(checkins=rows)) == want
    (root / "checkins.xlsx").unlink()
    text = "person,date,pain\n" + "".join(f"a,{at},{i}\n" for i, at in enumerate(CLOCKED))
    assert told(folder(checkins=text)) == ([*want[0], "2024-01-09"], [*want[1], "23:59"], 4)


def test_a_clock_switched_off_sets_the_row_aside(folder):
    root = folder("[repair]\ndate_times = false", **{"x.md": ""})
    put(root, pa.table({"person": ["a"] * 3, "date": pd.to_datetime(CLOCKED[:3]), "pain": [1, 2, 3]}))
    caseload = read(root)
    assert caseload.quarantine["code"].tolist() == ["bad_date", "bad_date"]
    assert caseload.checkins["time"].isna().all()


def test_a_time_column_outranks_the_clock_beside_the_date(folder):
    root = folder(**{"x.md": ""})
    put(
        root,
        pa.table(
            {"person": ["a"], "date": pd.to_datetime(["2024-01-07 07:30"]), "time": ["08:00"], "pain": [1]}
        ),
    )
    assert read(root).checkins["time"].tolist() == ["08:00"]


@pytest.mark.parametrize(
    ("zone", "text", "day", "clock"),
    [("Europe/Berlin", "2024-01-08T00:30:00+01:00", "2024-01-08", "00:30"), ("UTC", "2024-01-07T23:30:00Z", "2024-01-07", "23:30")],
)  # fmt: skip
def test_day_and_clock_are_those_of_the_files_own_zone(folder, zone, text, day, clock):
    stamps = pd.to_datetime(["2024-01-07 23:30"]).tz_localize("UTC").tz_convert(zone)
    root = folder(**{"x.md": ""})
    put(root, pa.table({"person": ["a"], "date": stamps, "pain": [1]}))
    for _ in range(2):
        caseload = read(root)
        assert caseload.checkins["date"].dt.strftime("%Y-%m-%d").tolist() == [day]
        assert caseload.checkins["time"].tolist() == [clock]
        assert caseload.remarks.set_index("code")["count"]["repair_time_zones"] == 1
        (root / "checkins.parquet").unlink(missing_ok=True)
        folder(checkins=f"person,date,pain\na,{text},1\n")


def test_zones_switched_off_set_the_rows_aside(folder):
    stamps = pd.to_datetime(["2024-01-07 10:30"]).tz_localize("UTC")
    root = folder("[repair]\ntime_zones = false", **{"x.md": ""})
    put(root, pa.table({"person": ["a"], "date": stamps, "pain": [1]}))
    with pytest.raises(CaseloadError, match="bad_date"):
        read(root)
    (root / "checkins.parquet").unlink()
    text = "person,date,pain\na,2024-01-07T10:30+01:00,1\na,2024-01-08 10:30,1\n"
    assert read(folder("[repair]\ntime_zones = false", checkins=text)).quarantine["row"].tolist() == [2]


def test_an_unknown_zone_is_our_own_error(folder):
    root = folder(**{"x.md": ""})
    stamps = pa.array([1_704_600_000_000_000]).cast(pa.timestamp("us", "Nowhere/Land"))
    put(root, pa.table({"person": ["a"], "date": stamps, "pain": [1]}))
    with pytest.raises(CaseloadError, match="no readable Parquet file"):
        read(root)

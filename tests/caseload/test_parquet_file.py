from __future__ import annotations

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
                "date": pa.array(days, pa.date32()),
                "pain": pa.array([3, None, 4], pa.int16()),
                "stress": pa.array([3.5, float("inf"), None]),
                "flare": pa.array([True, None, False]),
                "blob": pa.array([[1], [2], []]),
            }
        ),
    )
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
                "sets": [3.0, 2.5],
                "load_kg": [100.0, 50.0],
            }
        ),
        root / "s.parquet",
    )
    caseload = read(root)
    assert caseload.sessions["load_kg"].tolist() == pytest.approx([45.359237])
    assert caseload.sessions["date"].dt.strftime("%Y-%m-%d").tolist() == ["2024-01-07"]
    assert caseload.quarantine["code"].tolist() == ["not_whole"]
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

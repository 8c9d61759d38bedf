"""Shapes that drafts meet, each in a file of a few lines."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

import lagwise as lw
from lagwise.core.errors import CaseloadError

DAYS = [dt.date(2025, 3, 3) + dt.timedelta(days=7 * i) for i in range(8)]


@pytest.fixture
def drafted(tmp_path):
    def draft(**files):
        (tmp_path / "in").mkdir()
        for name, rows in files.items():
            text = "\n".join(",".join(map(str, row)) for row in rows)
            (tmp_path / "in" / f"{name.replace('_', ' ')}.csv").write_text(text, encoding="utf-8")
        return lw.draft(tmp_path / "in", tmp_path / "out")

    return draft


def mapped(made, table="checkins"):
    return {g.key: g.value for g in made.section(f"tables.{table}.columns")}


def log(header, *cells):
    return [
        header,
        *([f"K{p}", day, *(cell(p, i) for cell in cells)] for p in range(4) for i, day in enumerate(DAYS)),
    ]


def test_an_ambiguous_date_is_a_question_and_no_guess(drafted):
    rows = [[c, f"0{i + 1}/0{p + 1}/2025", i] for p, c in enumerate(("K1", "K2")) for i in range(8)]
    made = drafted(log=[["Code", "Date", "Pain"], *rows])
    formats = [(g.value, g.on) for g in made.section("tables.checkins") if g.key == "date_format"]
    assert formats == [("%d/%m/%Y", False), ("%m/%d/%Y", False)]


def test_identifying_columns_are_left_out_and_their_values_are_nowhere(drafted, tmp_path):
    people = ("Anna Berg", "Tom Hill", "Lea Stein", "Jan Roth")
    born = ("1960-02-01", "1975-03-04", "1988-11-30", "1999-05-06")
    rows = log(
        ["ID", "Day", "Pain", "Who trained", "DOB"],
        lambda p, i: i,
        lambda p, i: people[p],
        lambda p, i: born[p],
    )
    made = drafted(log=rows)
    assert {one.header: one.identifying for one in made.left_out} == {
        "Who trained": "a name",
        "DOB": "a birth date",
    }
    text = (tmp_path / "out" / "study.toml").read_text("utf-8")
    assert not any(secret in text for secret in (*people, *born))


def test_names_in_the_place_of_codes_are_not_taken_for_codes(drafted):
    people = ("Anna Berg", "Tom Hill", "Lea Stein")
    made = drafted(
        log=[["Client", "Date", "Pain"], *([people[i % 3], day, i % 8] for i, day in enumerate(3 * DAYS))]
    )
    assert mapped(made) == {"date": "Date", "pain": "Pain"}


def test_tables_of_different_measures_are_not_pasted_together(drafted):
    wide = [["Code", *DAYS], *([f"K{p}", *((p + i) % 9 for i in range(8))] for p in range(5))]
    made = drafted(Pain=wide, Stress=wide)
    assert [g.value for g in made.section("tables.checkins") if g.key == "file"] == ["Pain.csv"]
    assert [g.value for g in made.section("tables.checkins.wide.pain")] == list(range(0, 56, 7))
    assert any("Stress.csv: holds checkins too" in line for line in made.not_read)
    assert [g.value for g in made.section("clock") if g.key == "study_start"] == ["2025-03-03"]


def test_people_across_columns_are_said(drafted):
    across = [["Date", "K0", "K1", "K2"], *([day, i, i + 1, i + 2] for i, day in enumerate(DAYS))]
    made = drafted(Pain=across, log=log(["Code", "Date", "Stress"], lambda p, i: i))
    assert mapped(made) == {"person": "Code", "date": "Date", "stress": "Stress"}
    assert any("a column for each person" in line for line in made.not_read)


def test_ratings_of_ones_own_and_rivals_are_marked(drafted):
    header = ["Code", "Date", "NRS average", "NRS worst", "Fatigue 1-5", "Steps"]
    cells = (lambda p, i: i, lambda p, i: i + 1, lambda p, i: 1 + i % 5, lambda p, i: 4000 + 11 * i)
    made = drafted(log=log(header, *cells))
    marked = {g.key: g.certainty for g in made.section("tables.checkins.columns")}
    assert marked == {"person": "sure", "date": "sure", "pain": "look at this", "fatigue": "look at this"}
    assert [g.value for g in made.section("ratings.fatigue")] == [1, 5, "high"]


def test_what_no_log_is_stops_with_the_way_on(drafted, tmp_path):
    with pytest.raises(CaseloadError, match=r"no log was found: prices\.csv"):
        drafted(prices=[["Course", "Price"], ["Ten visits", 300]])
    assert not (tmp_path / "out").exists()


def test_files_that_cannot_be_read_are_said_and_the_rest_goes_on(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"x")
    (tmp_path / "old.xls").write_bytes(b"x")
    (tmp_path / "broken.xlsx").write_bytes(b"x")
    rows = log(["Code", "Date", "Pain"], lambda p, i: i)
    (tmp_path / "log.csv").write_text("\n".join(",".join(map(str, row)) for row in rows))
    made = lw.draft([*sorted(tmp_path.iterdir())], tmp_path / "out")
    told = [line.split(":")[0] for line in made.not_read]
    assert (told, made.tables, [*made.copies]) == (
        ["broken.xlsx", "old.xls", "photo.jpg"],
        ("checkins",),
        ["log.csv"],
    )


def test_the_command_says_what_was_found_and_what_comes_next(tmp_path):
    from typer.testing import CliRunner

    from lagwise.cli import app

    rows = log(["Code", "Date", "Pain", "Phone"], lambda p, i: i, lambda p, i: "+00 555 0101")
    (tmp_path / "my log.csv").write_text("\n".join(",".join(map(str, row)) for row in rows))
    said = CliRunner().invoke(
        app, ["start", str(tmp_path / "my caseload"), "--from", str(tmp_path / "my log.csv")]
    )
    flat = " ".join(said.output.split())
    assert said.exit_code == 0
    assert "'Phone' (my log.csv): looks like a phone number" in flat
    assert "check '" in flat and "my caseload'" in flat.replace(" ", "").replace("mycaseload", "my caseload")
    assert Path(tmp_path / "my caseload" / "my log.csv").exists()


def test_the_next_command_is_quoted_for_the_platform(monkeypatch):
    from lagwise.say.draft import command

    monkeypatch.setattr("sys.argv", ["lagwise"])
    for platform, said in (
        ("win32", 'py -m lagwise check "my caseload"'),
        ("darwin", "lagwise check 'my caseload'"),
    ):
        monkeypatch.setattr("sys.platform", platform)
        assert command("check", "my caseload") == said


def test_the_example_of_the_docs_holds(tmp_path, monkeypatch):
    import doctest

    from lagwise.drafts import write

    monkeypatch.chdir(tmp_path)
    example = doctest.DocTestFinder().find(write.draft, "draft", globs={"lw": lw})[0]
    assert doctest.DocTestRunner().run(example).failed == 0

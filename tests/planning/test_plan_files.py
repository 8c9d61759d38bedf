"""What a plan leaves: page, tables, figure; whole or not at all, and the same words everywhere."""

import json
import re
from dataclasses import replace
from html import unescape

import pandas as pd
import pytest

import lagwise as lw
from lagwise.core.errors import WriteUpError
from lagwise.pages.plan_file import write_plan
from lagwise.pages.plan_page import answers, plan_page, records
from lagwise.planning import Plan
from lagwise.writeup.checker import check_text


@pytest.fixture(scope="module")
def plan() -> Plan:
    study = lw.Study('A <b>title</b> & "more"')
    return lw.plan((4, 8, 12), (10, 12), (0.0, -0.5), study=study, caseloads=50)


def test_every_file_is_written_and_a_former_plan_replaced(plan, tmp_path):
    for _ in range(2):
        out = write_plan(plan, tmp_path / "out")
    names = sorted(p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file())
    assert names == ["figures/plan.csv", "figures/plan.png", "figures/plan.svg", "manifest.json", "plan.csv", "plan.html", "plan.json"]  # fmt: skip
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
    pd.testing.assert_frame_equal(pd.read_csv(out / "plan.csv"), plan.table, check_dtype=False)
    held = json.loads((out / "plan.json").read_text("utf-8"))
    assert held["assumptions"]["missing_weeks"] == 0.15
    assert held["study"]["analysis"]["practically_zero"] == 0.5
    assert [(c["people"], c["weeks"], c["effect"]) for c in held["cells"]] == list(plan.table[["people", "weeks", "effect"]].itertuples(index=False, name=None))  # fmt: skip
    assert held["cells"][0]["width"] is None, "4 people give no interval, and unknown is never a number"


def test_other_people_s_folders_are_left_alone(plan, tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(WriteUpError, match="holds no earlier plan"):
        write_plan(plan, tmp_path)
    (tmp_path / "file").write_text("mine")
    with pytest.raises(WriteUpError, match="Name a folder for the plan"):
        write_plan(plan, tmp_path / "file")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "thesis.txt"]


def test_the_page_is_whole_escaped_and_fetches_nothing(plan):
    page = plan_page(plan)
    assert "<b>title</b>" not in page
    assert "A &lt;b&gt;title&lt;/b&gt;" in page
    assert "<script" not in page
    assert not re.findall(r'(?:src|href)="(?!#|data:)', page)
    for sentence in (*plan.notes, *plan.assumed):
        assert sentence in unescape(page)


def test_tables_show_no_number_where_there_is_none(plan):
    head, rows = answers(plan)
    small = plan.study.with_(outcome="mood", ratings={"mood": {"low": 0, "high": 1}})
    finer = answers(replace(plan, study=small))[1]
    assert {(a[0] == "4", len(b[3]) - len(a[3])) for a, b in zip(rows, finer, strict=True)} == {
        (True, 0),
        (False, 1),
    }
    four = [dict(zip(head, row, strict=True)) for row in rows if row[0] == "4"]
    assert four
    assert all(row[name] == "–" for row in four for name in head[3:])
    others = [row for row in rows if row[0] != "4"]
    assert not any("–" in cell for row in others for cell in row[3:])
    assert {row[-1].split()[0] for row in records(plan)[1]} == {"describe", "exploratory", "small"}


def test_words_claim_no_cause_and_say_what_they_are(plan):
    text = "\n\n".join((*plan.notes, *plan.assumed, plan.picture.title, plan.picture.alt))
    assert [f"{r.rule}: {r.sentence}" for r in check_text(text)] == []
    assert plan.notes[-1].endswith("no advice on how many people or weeks to record.")


def test_the_figure_is_the_grid_with_its_numbers_in_words(plan):
    figure = lw.figure(plan)
    assert figure.name == "plan"
    assert figure.alt.count("people, ") == len(plan.table)
    assert "4 people, 10 weeks, true difference 0: nothing is estimated." in figure.alt
    row = plan.table.query("people == 12 and weeks == 12 and effect == -0.5").iloc[0]
    assert (
        f"12 people, 12 weeks, true difference \u22120.5: interval {row['width']:.2f} points wide"
        in figure.alt
    )
    assert 650 < figure.size[0] < 750
    assert lw.figure(plan).png == figure.png


def test_more_true_differences_make_the_figure_longer(plan):
    one = replace(plan, table=plan.table.query("effect == 0").reset_index(drop=True))
    assert lw.figure(plan).size[1] > lw.figure(one).size[1]

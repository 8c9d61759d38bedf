"""What a check says with the panel: exposures that hardly vary, ranges, steps recorded in part, rows without a step."""

from __future__ import annotations

import pandas as pd
import pytest

from lagwise.caseload import read
from lagwise.caseload.check_ratings import heaped_ratings, narrow_scales
from lagwise.core.results import Caseload
from lagwise.pages import check_parts
from lagwise.pages.check_page import checked
from lagwise.pages.check_panel import panel_check
from lagwise.panel import build_panel
from lagwise.say import check_record
from lagwise.say.check_first import draft_blocks, first_blocks, lacks
from lagwise.say.check_page import TEXTS

STUDY = 'title = "Elbow pain in climbers"\n[load]\nmeasure = "session_rpe"\n[analysis]\nexposures = ["jump", "effort", "stress"]\n'
DAYS = [d.strftime("%Y-%m-%d") for d in pd.date_range("2024-01-01", periods=12, freq="7D")]


def caseload(
    tmp_path,
    *,
    stress=lambda i, t: (i + t) % 7,
    effort=lambda i, t: str((i + t) % 4 + 5),
    pain=lambda i, t: t % 5,
    extra="",
    repair="",
) -> Caseload:
    people = [f"a{i}" for i in range(6)]
    checkins = [
        f"{p},{d},{pain(i, t)},{stress(i, t)}" for i, p in enumerate(people) for t, d in enumerate(DAYS)
    ]
    sessions = [
        f"{p},{d},{effort(i, t)},{30 + 10 * (t % 2)}"
        for i, p in enumerate(people)
        for t, d in enumerate(DAYS)
    ]
    (tmp_path / "study.toml").write_text(STUDY + repair)
    (tmp_path / "checkins.csv").write_text("\n".join(["person,date,pain,stress", *checkins]) + "\n")
    (tmp_path / "sessions.csv").write_text(
        "\n".join(["person,date,effort,minutes", *sessions]) + "\n" + extra
    )
    return read(tmp_path)


def found(caseload):
    return panel_check(caseload, build_panel(caseload)).set_index("code")


def test_nothing_is_found_where_all_is_well(tmp_path):
    one = caseload(tmp_path)
    assert found(one).empty
    assert check_record.lost_sentences(one, build_panel(one)) == []
    assert check_record.aside_sentence(one, "rest_used") == TEXTS["none_aside"]


@pytest.mark.parametrize(
    ("stress", "said"),
    [
        (lambda i, t: i, "Stress does not vary within any person"),
        (lambda i, t: 3 + (t == 4 and i < 2), "Stress hardly varies within people: 2 of 72"),
    ],
)
def test_an_exposure_that_is_constant_or_nearly_so_is_named(tmp_path, stress, said):
    row = found(caseload(tmp_path, stress=stress)).loc["hardly_varies"]
    assert row["why"].startswith("Nothing can be told of weeks with more or less of it")
    assert row["what"].startswith(said)
    assert "Take stress out of exposures" in row["mend"]


@pytest.mark.parametrize("number", [0, 5])
def test_a_rating_that_is_one_number_throughout_is_named_as_that_alone(tmp_path, number):
    """Pain, an exposure of the plan and a rating that nobody asks about: not as a use of round answers, nor of a narrower scale."""
    caseload(tmp_path, pain=lambda i, t: number, stress=lambda i, t: number)
    days = (tmp_path / "checkins.csv").read_text().splitlines()
    sleep = ["sleep_hours", *["8"] * (len(days) - 1)]
    (tmp_path / "checkins.csv").write_text(
        "\n".join(f"{a},{b}" for a, b in zip(days, sleep, strict=True)) + "\n"
    )
    one = read(tmp_path)
    rows = panel_check(one, build_panel(one)).set_index("where")["what"]
    assert rows.to_dict() == {
        "pain": f"Pain is {number} in all 72 known weeks", "stress": f"Stress is {number} in all 72 known weeks",
        "sleep_hours": "Sleep is 8 in all 72 known weeks",
    }  # fmt: skip
    assert heaped_ratings(one) == narrow_scales(one) == []


def test_pain_that_is_one_number_for_each_person_is_named(tmp_path):
    row = found(caseload(tmp_path, pain=lambda i, t: i)).loc["hardly_varies"]
    assert row["what"].startswith("Pain does not vary within any person") and row["mend"].startswith(
        "Look whether"
    )


def test_a_load_that_no_row_can_give_is_named_with_a_way_on(tmp_path):
    caseload(tmp_path)
    plan = (tmp_path / "study.toml").read_text()
    (tmp_path / "study.toml").write_text(plan.replace("session_rpe", "hard_sets"))
    row = found(read(tmp_path)).loc["load_never_known"]
    assert row["what"].endswith("no row of sessions has sets")
    assert 'write measure = "session_rpe" under [load]' in row["mend"]
    assert "sets = 1 under [tables.sessions.constant]" in row["mend"]


def test_ranges_come_with_what_reading_them_would_bring_back(tmp_path):
    ranges = lambda i, t: "7-8" if t == 3 and i < 4 else str((i + t) % 4 + 5)  # noqa: E731
    one = caseload(tmp_path, effort=ranges)
    panel = build_panel(one)
    assert panel.frame["partly_recorded"].sum() == 4
    assert (
        check_record.aside_sentence(one, "rest_used")
        == "4 cells of rows that are used set aside; the rest is used."
    )
    assert check_record.lost_sentences(one, panel)[0].startswith(
        "In 4 of 72 weeks the person trained and the load (session_rpe)"
    )
    row = panel_check(one, panel).set_index("code").loc["ranges"]
    assert (row["count"], row["table"]) == (4, "sessions")
    assert row["mend"].endswith("write ranges = true under [repair] to have their middle read.")
    (need,) = checked(tmp_path).needs
    assert need.brings == "Read with it: 4 values of effort more and 4 weeks with known load more."
    other = caseload(tmp_path, effort=ranges, repair="[repair]\nranges = true\n")
    assert build_panel(other).frame["load"].notna().all()
    assert found(other).empty


def test_rows_that_belong_to_no_known_step_are_told(tmp_path):
    one = caseload(tmp_path, extra="a1,spring,7,30\na1,summer,7,30\na2,,7,30\n,2024-01-01,7,30\n")
    sentences = check_record.lost_sentences(one, build_panel(one))
    assert sentences[0].startswith("The date of 3 rows of 2 people cannot be read")
    assert sentences[1].startswith("1 row does not say whose it is")
    assert check_record.aside_sentence(one, "rest_used") == "4 rows set aside; the rest is used."


@pytest.mark.parametrize(
    ("values", "scale"),
    [
        (range(1, 6), "1-5"), (range(5), "0-4"), (range(1, 8), "1-7"), ((0.25, 0.5, 1), "0-1"),
        (range(11), ""), (range(7), "")],
)  # fmt: skip
def test_ratings_of_a_narrower_scale_are_a_question(tmp_path, values, scale):
    values = list(values)
    one = caseload(tmp_path, stress=lambda i, t: values[(i * 12 + t) % len(values)])
    asked = [finding.mend for finding in narrow_scales(one) if finding.where == "stress"]
    assert len(asked) == bool(scale)
    assert not scale or f'write stress = "{scale}" under [tables.checkins.units]' in asked[0]


def test_the_first_line_says_whether_a_report_is_possible_and_what_of(tmp_path):
    caseload(tmp_path)
    found = checked(tmp_path)
    first, *_ = first_blocks(found.reading, found.panel, found.waits)
    assert first.spans[0].text.startswith("A report is possible for the main question")
    assert found.clean
    (tmp_path / "sessions.csv").unlink()
    found = checked(tmp_path)
    first, *_ = first_blocks(found.reading, found.panel, found.waits)
    assert "possible without the main question: about stress, in " in first.spans[0].text
    assert lacks(found.panel, found.reading.caseload).startswith("No training load is known.")
    (tmp_path / "checkins.csv").write_text(
        "Code,date,pain\n" + "".join(f"a{i},{d},3\n" for i in (1, 2) for d in DAYS)
    )
    found = checked(tmp_path)
    first, then, *_ = first_blocks(found.reading, found.panel, found.waits)
    assert first.spans[0].text == "No report yet: 1 thing below must be mended first."
    assert then.spans[0].text.startswith(
        "With the edits proposed here, a report is possible as a description only"
    )
    (need,) = found.needs
    assert need.edits[0].keys == {"person": "Code"}
    assert need.brings == "It would bring 24 rows of checkins: 24 weeks of 2 people."


def test_a_draft_is_told_with_its_marked_lines_and_the_line_that_ends_it(tmp_path):
    caseload(tmp_path)
    plan = tmp_path / "study.toml"
    plan.write_text(
        "reviewed = false\n" + plan.read_text() + "[repair]\nranges = true # look at this: a guess\n"
    )
    found = checked(tmp_path)
    told = str([*first_blocks(found.reading, found.panel, found.waits), *draft_blocks(found.reading)])
    assert "study.toml is a draft (reviewed = false in line 1)" in told
    assert "write reviewed = true in line 1" in told
    assert "look at this: a guess" in told
    assert not found.clean


def test_what_an_edit_would_change_is_told_by_reading_anew(tmp_path):
    caseload(tmp_path)
    log = tmp_path / "checkins.csv"
    log.write_text(log.read_text().replace("stress", "Stress level", 1))
    (need,) = checked(tmp_path).needs
    assert need.edits[0].keys == {"stress": "Stress level"}
    assert need.brings == "Read with it: 72 values of stress more."
    assert not need.stops


def test_a_cell_of_a_form_is_placed_by_its_day(tmp_path):
    form = "person,date,Mon,Tue\n" + "".join(f"a{i},{d},3,4\n" for i in range(3) for d in DAYS)
    form = form.replace(f"a1,{DAYS[2]},3,4", f"a1,{DAYS[2]},3,13")
    plan = 'title = "x"\n[tables.checkins.wide.pain]\nMon = 0\nTue = 1\n'
    (tmp_path / "study.toml").write_text(plan)
    (tmp_path / "checkins.csv").write_text(form)
    reasons = check_parts.set_aside(checked(tmp_path).reading.caseload.quarantine)
    assert reasons["first places"].tolist() == ["row 16, Tue: '13'"]

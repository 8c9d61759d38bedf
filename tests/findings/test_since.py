"""What changed since an earlier report: whose move is more than new data explain, who came and left, what was edited."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import writeup_inputs as made
from two_reports import WHOLE, fitted, old, part, put

from lagwise.core.errors import WriteUpError
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.findings import Findings
from lagwise.findings.look_back import digest, findings_at, look_back
from lagwise.findings.moves import chance_of_looks, spread
from lagwise.planning.assumptions import Assumptions
from lagwise.planning.simulate import Task, answers_of, panel_of_many

ESTIMATE, ERROR, LOW, HIGH = range(4)


def primary(new: Findings, before: Findings):
    return next(m for m in look_back(new, before).moves if m.kind == "primary")


def beyond(found: np.ndarray, before: np.ndarray, n: np.ndarray, n_before: np.ndarray) -> float:
    """Share of pairs of estimates that move by more than new data explain, of those that can be weighed."""
    told = []
    for a, b, steps, earlier in zip(found, before, n, n_before, strict=True):
        sd = spread(b[ERROR], a[ERROR], earlier, steps)
        if sd is not None and np.isfinite(a[ESTIMATE] - b[ESTIMATE]):
            wide = max((one[HIGH] - one[LOW]) / 2 / one[ERROR] for one in (a, b))
            told.append(abs(a[ESTIMATE] - b[ESTIMATE]) > wide * sd)
    assert len(told) > len(found) / 2
    return float(np.mean(told))


def test_a_move_by_new_data_alone_is_told_for_more_in_1_of_20_and_one_by_edited_ratings_in_most():
    study = Study("Simulated")
    task = Task(20, 26, 0.5, 60, np.random.SeedSequence(3))
    panel = panel_of_many(study, Assumptions(), task)
    asked = study.outcome.column

    def answers(one: Panel):
        coverage = one.frame[["jump", "usual", study.outcome.name, asked]].notna().all(axis=1)
        person = one.frame["person"].astype(str).str[1:].astype(int)
        return answers_of(study, one, task), np.bincount(person[coverage] // 20, minlength=60)

    new, before = answers(panel), answers(part(panel, steps=20))
    assert beyond(new[0], before[0], new[1], before[1]) < 0.05 + 2 * np.sqrt(0.05 * 0.95 / 60)
    edited = panel.frame.copy()
    heavy = (edited["step"] < 19) & (edited["jump"] > 0.2)
    edited.loc[heavy, asked] = (edited.loc[heavy, asked] + 1.5).clip(0, 10)
    after = answers(replace(panel, frame=edited))
    assert beyond(after[0], before[0], after[1], before[1]) > 0.8


def test_the_spread_allows_for_records_that_were_taken_out_and_is_unknown_where_nothing_became_clearer():
    assert spread(0.2, 0.1, 100, 400) == pytest.approx(np.sqrt(0.04 - 0.01))
    assert spread(0.2, 0.2, 100, 400) is None
    assert spread(0.2, 0.19, 100, 400) > 0.3
    assert spread(0.2, 0.2, 100, 100, kept=0.5) == pytest.approx(0.2)
    assert spread(0.2, float("nan"), 100, 400) is None


def test_repeated_looks_leave_out_a_true_0_as_often_as_is_known():
    # Armitage, McPherson & Rowe 1969, table 2: looks at equal steps at a nominal 5 %.
    for looks, chance in ((1, 0.05), (2, 0.083), (3, 0.107), (4, 0.126), (5, 0.142), (10, 0.193)):
        assert chance_of_looks([100 * i for i in range(1, looks + 1)]) == pytest.approx(chance, abs=5e-4)
    assert chance_of_looks([100, 100]) == pytest.approx(0.05)
    assert chance_of_looks([0, 0]) == 0


@pytest.mark.parametrize(
    ("shift", "error", "verdict", "reason"),
    [
        (0.05, 0.1, "within", ""), (0.3, 0.1, "beyond", ""), (0.3, 0.13, "cannot_tell", "precision"),
        (0.001, 0.1, "within", "unmoved"),
    ],
)  # fmt: skip
def test_how_far_an_estimate_moved(shift, error, verdict, reason):
    found = primary(put(WHOLE, fitted(150, shift, error)), old())
    assert (found.verdict, found.reason) == (verdict, reason)
    assert found.difference == pytest.approx(shift)
    if found.reach is not None:
        assert (abs(found.difference) <= found.reach) == (verdict == "within")


def test_a_move_without_a_new_step_is_none_that_new_data_explain():
    found = primary(put(WHOLE, fitted(100, 0.1, 0.12)), old())
    assert (found.verdict, found.reason) == ("beyond", "no_data")


def test_people_who_come_and_leave_and_earlier_steps_that_read_otherwise_are_counted():
    found = look_back(put(part(without=("P03",)), fitted(150)), put(part(steps=12, without=("P01", "P14"))))
    assert (found.came, found.left, found.gone) == (2, 1, ("P03",))
    assert (found.edited_steps, "left" in found.cautions, "edited" in found.cautions) == (0, True, False)
    counts = {c.name: (c.old, c.new) for c in found.counts}
    assert counts["people"] == (12, 13)
    assert found.until[0] < found.until[1]
    frame = WHOLE.frame.copy()
    at = frame.index[(frame["person"] == "P02") & frame["pain"].notna()][:2]
    frame.loc[at, "pain"] = 10 - frame.loc[at, "pain"] + 0.5
    edited = look_back(put(replace(WHOLE, frame=frame)), put(part(steps=12)))
    assert (edited.edited_steps, edited.edited_people) == (2, 1)
    assert "edited" in edited.cautions


def test_records_from_before_the_first_step_shift_a_course_and_edit_nothing():
    late = WHOLE.frame[WHOLE.frame["step"] >= 3]
    found = look_back(put(WHOLE), put(replace(WHOLE, frame=late.assign(step=late["step"] - 3))))
    assert (found.edited_steps, found.left) == (0, 0)


def test_a_changed_plan_is_told_by_its_keys_and_leaves_the_move_untold_unless_it_names_a_margin_alone():
    def under(study: Study):
        return put(replace(WHOLE, study=study), fitted(150, 0.05), study=study)

    measured = look_back(under(replace(made.STUDY, load=replace(made.STUDY.load, usual_steps=6))), old())
    assert [(c.key, c.old, c.new) for c in measured.plan] == [("load.usual_steps", 4, 6)]
    assert "plan" in measured.cautions
    assert {m.reason for m in measured.moves} == {"analysis"}
    margin = replace(made.STUDY, analysis=replace(made.STUDY.analysis, practically_zero=0.3))
    assert primary(under(margin), old()).verdict == "within"


def test_each_report_counts_those_before_it():
    first = old()
    second = put(part(steps=14), fitted(120), since=first)
    third = put(WHOLE, fitted(150), since=second)
    assert [f.since.times for f in (second, third)] == [2, 3]
    assert [look.digest for look in third.since.looks] == [digest(first), digest(second)]
    assert third.since.chance == pytest.approx(chance_of_looks([100, 120, 150]))
    assert Findings.from_json(third.to_json()) == third
    assert look_back(third, first).times == 3
    same = look_back(third, third)
    assert (same.times, same.cautions[0]) == (3, "same")


def test_an_older_report_given_as_the_new_one_is_said_and_compared_in_the_order_given():
    first, last = old(), put(WHOLE, fitted(150, 0.1))
    dated = last.model_copy(
        update={"provenance": last.provenance.model_copy(update={"made_on": "2099-01-01"})}
    )
    found = look_back(first, dated)
    assert "order" in found.cautions
    assert primary(first, dated).reason == "precision"


def test_a_fresh_copy_with_new_codes_is_compared_without_following_people():
    names = {p: f"Q{i}" for i, p in enumerate(WHOLE.frame["person"].unique())}
    coded = replace(WHOLE, frame=WHOLE.frame.assign(person=WHOLE.frame["person"].map(names)))
    found = look_back(put(coded, fitted(150)), old())
    assert (found.came, found.left, found.cautions) == (None, None, ("codes",))
    assert {m.reason for m in found.moves} == {"codes"}


def test_people_of_reports_about_different_ratings_are_followed_by_their_loads():
    asked = [{"outcome": "pain", "primary": "jump"}]
    plan = replace(made.STUDY.with_(outcome="worry", primary="jump", also=asked), changed=())
    panel = made.panel(14, 16, study=plan)
    other = replace(panel, frame=panel.frame.assign(worry=10.5 - panel.frame["worry"]))
    found = look_back(put(other, study=plan), old())
    assert (found.edited_steps, found.cautions) == (0, ("plan",))


def test_what_cannot_be_compared_is_refused_in_one_line(tmp_path):
    other = replace(made.STUDY, title="Knees")
    strangers = made.panel(8, 10, study=other, seed=9, codes=[f"Z{i}" for i in range(8)])
    worry = made.STUDY.with_(outcome="worry", primary="jump")
    for new, why in (
        (put(strangers, study=other), "two studies"),
        (put(made.panel(study=worry), study=worry), "asks about pain and this one about worry"),
        (put(made.panel(study=made.OTHER["daily"]), study=made.OTHER["daily"]), "by 7 and by 1 days"),
    ):
        with pytest.raises(WriteUpError, match=why) as refused:
            look_back(new, old())
        assert "\n" not in str(refused.value)
    (tmp_path / "findings.json").write_text('{"schema_name": "another"}')
    for path, why in (
        (tmp_path, "not findings"), (tmp_path / "none", "nothing here"), (made.__file__, "not findings"),
    ):  # fmt: skip
        with pytest.raises(WriteUpError, match=why) as refused:
            findings_at(path)
        assert "\n" not in str(refused.value)

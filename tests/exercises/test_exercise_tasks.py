"""The nine tasks on caseloads with and without an association: keys, slips and hints."""

from __future__ import annotations

import math
import re
import shutil
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import lagwise as lw
from lagwise import describe
from lagwise.core.errors import LagwiseError
from lagwise.events.change import Change, effects
from lagwise.exercises import TASKS, check, given, hint, made, put_in, world
from lagwise.exercises.judge import judge, meets
from lagwise.exercises.judge_a_writeup import lines
from lagwise.exercises.world import World
from lagwise.say.exercises import CARRIED, IMPOSSIBLE, NOT_YET, PLANTED, RIGHT, UNANSWERED
from lagwise.synthetic import CLINIC, simulate
from lagwise.writeup.checker import check_text

DATA = Path(__file__).parents[2] / "data_synthetic"
KINDS = ("clinic", "no_effect")
"""A student's own clinic, in which load comes before pain, and a twin of the kept one in which it has no part."""
PARTS = [(task.number, part.name) for task in TASKS for part in task.parts]


@pytest.fixture(scope="module")
def own(tmp_path_factory):
    return lw.synthetic.own_clinic(12, tmp_path_factory.mktemp("own"))


@pytest.fixture(scope="module")
def worlds(own):
    return {"clinic": world(own), "no_effect": world(DATA / "no_effect")}


def part_of(number, name):
    return TASKS[number - 1].part(name)


def side(low, high):
    return "more" if low > 0 else "less" if high < 0 else "open"


def worked_out(here):
    """Answers from what the exercises show, on a way of their own: task -> part -> answer."""
    caseload, panel, fit = here.caseload, here.panel, here.fit
    frame, study = panel.frame, panel.study
    weeks, gap = given(1, caseload), given(2, caseload)
    at = weeks.index[weeks["asked"] != ""][0]
    usual = weeks["load"].loc[at - 4 : at - 1].mean()
    before = gap["load"].iloc[-5:-1]
    same, after, equal = describe.same_and_next(panel).itertuples()
    v = given(4, caseload)["value"]
    row = fit.primary().iloc[0]
    edge = study.analysis.practically_zero
    flare = given(6, caseload)
    over = flare["pain"] >= flare["line"]
    truth = given(7, caseload).query("kind == 'regression' and contrast == '+50 %' and adjustment == 'adjusted' and pain_adjusted == @row.pain_adjusted")["value"].item()  # fmt: skip
    stress = fit.effects.query("term == 'stress' and level == 'within' and adjustment == 'adjusted' and pain_adjusted == @row.pain_adjusted")  # fmt: skip
    answers = {
        1: {"usual": usual, "percent": round(100 * weeks["load"][at] / usual) - 100, "jump": math.log(weeks["load"][at] / usual), "pain_next": weeks["pain"][at + 1]},
        2: {"set_aside": caseload.counts["quarantined"].sum(), "unknown": int(frame["state"].eq("unknown").sum()), "load_is": "missing", "usual": before.dropna().sum() / before.notna().sum()},
        3: {"same": side(same.low, same.high), "following": side(equal.low, equal.high), "change": round(equal.slope - after.slope, 2), "reason": "b", "held": "same"},
        4: {"within": v[0] - v[1], "between": v[1] - v[2], "estimate": round(stress["estimate"].item(), 3)},
        5: {
            "estimate": round(row["estimate"], 2), "low": round(row["low"], 2), "high": round(row["high"], 2), "zero": row["low"] <= 0 <= row["high"],
            "size": "within" if max(-row["low"], row["high"]) <= edge else "across", "sentence": "c",
        },
        6: {"onset": int(flare.index[over][0]), "at_risk": int((~over & flare["line"].notna()).sum()), "onsets": frame["flare_next"].sum()},
        7: {
            "shuffled": "outside" if here.shuffled.verdict == "holds" and not row["low"] <= 0 <= row["high"] else "inside", "truth": truth,
            "covered": "yes" if row["low"] <= truth <= row["high"] else "no", "miss": round(row["estimate"], 2) - round(truth, 2), "survives": "b",
        },
        8: {"not_carried": {2, 4, 6, 7, 9}, "rewrite": f"Weeks of more load were followed by pain {abs(row['estimate']):.2f} points {'higher' if row['estimate'] > 0 else 'lower'} ({row['low']:+.2f} to {row['high']:+.2f}; {row['n_steps']} person-weeks)."},
    }  # fmt: skip
    if check(9, caseload, difference=1).results[0].state != IMPOSSIBLE:
        answers[9] = {"difference": round(here.found(mean_after)["risk_set"], 2)}
    with suppress(LagwiseError):
        risk = here.flares.table("risk")["probability"].round(4)
        answers[6] |= {"in_100": round(100 * risk[1], 1), "ratio": round(risk[1] / risk[0], 2)}
    return answers


def mean_after(here):
    """Engine -> its estimate of the mean of four steps after, the doubly robust one of risk_set."""
    change = Change(here.panel, "education", here.study.outcome.name, 4, 8, seed=1, quick=True)
    rows = effects(change).query("contrast == 'mean of steps 1-4 after' and model != 'outcome model alone'")
    return dict(zip(rows["engine"], rows["estimate"], strict=True))


def judged(answers, world):
    """The results of answers to every task, the caseload fitted once."""
    return [
        judge(part_of(n, name), answer, world)
        for n, parts in answers.items()
        for name, answer in parts.items()
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_right_answers_are_taken_on_every_caseload(worlds, kind):
    answers = worked_out(worlds[kind])
    assert [result for result in judged(answers, worlds[kind]) if result.state != RIGHT] == []
    assert {(n, name) for n, parts in answers.items() for name in parts} == set(PARTS)
    assert {judge(part_of(*at), ..., worlds[kind]).state for at in PARTS} == {UNANSWERED}


def test_an_answer_that_follows_from_an_own_wrong_number_is_told_so(worlds):
    clinic, own = worlds["clinic"].caseload, 30.0
    load = given(1, clinic).query("asked == 'this one'")["load"].item()
    found = check(
        1, clinic, usual=own, percent=100 * (load / own - 1), jump=math.log(load / own), pain_next=0
    )
    assert [one.state for one in found.results] == [NOT_YET, CARRIED, CARRIED, NOT_YET]
    assert found.results[1].says == "It follows from your usual; usual itself is not right yet."
    assert not found.passed
    alone = check(1, clinic, percent=100 * (load / own - 1)).results[0]
    assert alone.state == NOT_YET, "it cannot be told without the number before it"
    ends = check(5, clinic, low=-0.1, high=0.9, zero="yes", size="across")
    assert [one.state for one in ends.results[2:]] == [CARRIED, CARRIED]
    truth = check(7, clinic, truth=0.9, covered="no", miss=worlds["clinic"].primary()["estimate"] - 0.9)
    assert [one.state for one in truth.results[1:]] == [CARRIED, CARRIED]
    risks = check(
        6, clinic, in_100=8, ratio=0.08 / worlds["clinic"].flares.table("risk")["probability"].iloc[0]
    )
    assert risks.results[1].state == CARRIED


def test_weekly_sums_can_be_worked_on_and_too_few_flare_ups_are_said(tmp_path):
    lw.synthetic.write("weeks_only", tmp_path / "weeks", seed=1)
    here = world(tmp_path / "weeks")
    answers = worked_out(here)
    assert [result for result in judged(answers, here) if result.state != RIGHT] == []
    found = check(6, here.caseload, in_100=4)
    assert found.results[0].state == IMPOSSIBLE
    assert found.results[0].says.startswith("4 flare onsets in 4 informative people")


def test_without_training_tasks_are_asked_about_what_there_is_or_say_why_not(tmp_path):
    lw.synthetic.write("checkins_only", tmp_path / "ratings", seed=1)
    caseload = lw.read(tmp_path / "ratings")
    results = {
        (task.number, result.part): result
        for task in TASKS[:8]
        for result in check(task.number, caseload, **{part.name: ... for part in task.parts}).results
    }
    impossible = {key: result.says for key, result in results.items() if result.state == IMPOSSIBLE}
    of_load = {
        key for key, says in impossible.items() if says == "It records no training, and this asks about load."
    }
    assert of_load == {key for key in PARTS if key[0] == 1} | {(2, "unknown"), (2, "load_is"), (2, "usual")}
    assert impossible[3, "reason"] == "Its plan asks about stress, and the reasons given are of load."
    assert {key for key in impossible if key[0] not in (1, 2, 3, 7)} <= {(6, "in_100"), (6, "ratio")}
    v = given(4, caseload)["value"]
    assert check(4, caseload, within=v[0] - v[1], between=v[1] - v[2]).passed
    row = lw.fit_mixed(lw.build_panel(caseload)).primary().iloc[0]
    assert row["term"] == "stress"
    said = given(5, caseload).partition("(c) ")[2].partition("(d)")[0]
    assert said.startswith("Weeks with stress 2 points above the person's own average were followed by pain")
    own = {name: row[name] for name in ("estimate", "low", "high")}
    assert check(5, caseload, **own, sentence="c").passed
    assert check(8, caseload, not_carried=set(PLANTED), rewrite=said).passed
    assert "load" not in f"{given(5, caseload)} {given(8, caseload)}"
    with pytest.raises(
        LagwiseError, match="task 1 is not possible with this caseload: it records no training"
    ):
        given(1, caseload)


@pytest.mark.parametrize("name", ["first_export", "second_export", "summed_weeks"])
def test_no_folder_makes_a_check_fail(name):
    """Small and untidy folders: every part is judged or says why it cannot be, whatever is handed in."""
    world = World(lw.read(DATA / "messy" / name))
    for task in TASKS:
        for part in task.parts:
            for answer in (..., 3, "b"):
                result = judge(part, answer, world)
                assert result.state in (RIGHT, NOT_YET, IMPOSSIBLE, UNANSWERED)
                assert result.state != IMPOSSIBLE or re.fullmatch(r"[A-Z0-9][^\n]+\.", result.says)
        try:
            assert len(task.given(world))
        except LagwiseError as error:
            assert error.what


def test_few_people_are_described_and_the_task_says_so(tmp_path):
    lw.synthetic.write("tiny", tmp_path / "few", seed=1)
    found = check(5, tmp_path / "few", estimate=0.3)
    assert found.results[0].says.startswith("4 people have enough recorded for the main question; below 5")


def test_one_person_or_no_rating_gives_no_slope():
    for alone in (simulate(replace(CLINIC, n_people=1, n_steps=8), 5), _unrated(simulate(replace(CLINIC, n_people=6, n_steps=12), 3))):  # fmt: skip
        for result in check(3, alone, same="more", following="more", change=0.2).results:
            assert result.state == IMPOSSIBLE
            assert result.says.startswith("A slope with an interval takes two people or more")


def _unrated(caseload):
    return replace(caseload, checkins=caseload.checkins.iloc[:0])


def test_a_truth_is_only_found_beside_an_invented_caseload_and_must_be_readable(tmp_path):
    folder = shutil.copytree(DATA / "clinic", tmp_path / "clinic")
    (folder / "truth.json").write_text('{"values": 3}', encoding="utf-8")
    with pytest.raises(LagwiseError, match="the truth beside it cannot be read"):
        _ = World(lw.read(folder)).truth
    (folder / "truth.json").unlink()
    with pytest.raises(LagwiseError, match="no truth lies beside it"):
        _ = World(lw.read(folder)).truth


@pytest.mark.parametrize(("number", "name"), PARTS)
def test_each_known_slip_is_recognised_by_its_sentence(worlds, number, name):
    part = part_of(number, name)
    reached = set()
    sentences = set()
    for here in worlds.values():
        key = part.key(here)
        sentences |= {slip.says for slip in key.slips}
        for at, slip in enumerate(key.slips):
            missing = isinstance(slip.value, float) and math.isnan(slip.value)
            if missing or meets(slip.value, key.value, key.tolerance):
                continue
            if any(meets(slip.value, other.value, 0) for other in key.slips[:at]):
                continue
            found = judge(part, slip.value, here)
            assert (found.state, found.says) == (NOT_YET, slip.says)
            reached.add(slip.says)
    assert part.kind == "text" or reached
    assert not {s for s in sentences - reached if s not in elsewhere(number, name)}, (
        "a slip that no caseload tells apart"
    )


def elsewhere(number, name):
    """Sentences of slips that can only be told apart on an untidy folder."""
    if (number, name) != (2, "set_aside"):
        return ()
    key = part_of(2, "set_aside").key(World(lw.read(DATA / "messy" / "first_export")))
    return {slip.says for slip in key.slips if not meets(slip.value, key.value, 0)}


def slips_by_hand(world):
    """(task, part, answer, words of the sentence it must meet), worked out here by public calls and apart from the keys."""
    panel, caseload = world.panel, world.caseload
    frame = panel.frame
    weeks, gap = given(1, caseload), given(2, caseload)
    at = weeks.index[weeks["asked"] != ""][0]
    record = frame[frame["person"].eq(_person(world, weeks))].set_index("step")["load"].loc[:at]
    load, before = record.iloc[-1], record.iloc[:-1]
    usual = before.tail(4).mean()
    holes, states = gap["load"].iloc[:-1], frame["state"].value_counts()
    same, after, equal = describe.same_and_next(panel)["slope"]
    v = given(4, caseload)["value"]
    effects = world.fit.effects
    jump = effects.query("term == 'jump' and level == 'whole'").set_index(
        ["contrast", "adjustment", "pain_adjusted"]
    )
    stress = effects.query("term == 'stress'").set_index(["level", "adjustment", "pain_adjusted"])["estimate"]
    planned = jump.loc[("+50 %", "adjusted", "during")]
    flare = given(6, caseload)
    over = frame["pain"] >= frame["usual_pain"] + 2 - 1e-9
    risk = world.flares.table("risk").set_index("what")["probability"]
    odds = world.flares.effects.query("engine == 'flare' and term == 'jump' and contrast == '+50 %' and scale == 'odds_ratio' and adjustment == 'adjusted' and pain_adjusted == 'during'")["estimate"].item()  # fmt: skip
    truth = given(7, caseload).set_index(["kind", "outcome", "contrast", "adjustment", "pain_adjusted"])[
        "value"
    ]
    own = truth[("regression", "pain_next", "+50 %", "adjusted", "during")]
    begins = flare.index[flare["pain"] >= flare["line"]][0]
    followed = world.found(mean_after)
    return [
        (1, "usual", record.tail(5).mean(), "a mean with the week itself in it"),
        (1, "usual", before.mean(), "all earlier weeks"),
        (1, "usual", before.tail(4).sum(), "a sum"),
        (1, "usual", before.iloc[-1], "the week before alone"),
        (1, "usual", load, "the load of the week itself"),
        (1, "percent", 100 * load / usual, "in percent of the usual load"),
        (1, "percent", load / usual - 1, "a share of 1"),
        (1, "percent", 100 * (load - usual) / load, "divided by the week's own load"),
        (1, "percent", 100 * (load / before.mean() - 1), "It follows from a usual load that looks like the mean of all earlier weeks"),
        (1, "percent", 100 * (usual / load - 1) * -1, "divided by the week's own load"),
        (1, "percent", -100 * (load / usual - 1), "the sign is turned"),
        (1, "jump", math.log2(load / usual), "base 2"),
        (1, "jump", math.log10(load / usual), "base 10"),
        (1, "jump", load / usual, "before the logarithm"),
        (1, "jump", load / usual - 1, "the share above or below"),
        (1, "pain_next", weeks["pain"][at], "the marked week itself"),
        (1, "pain_next", weeks["pain"][at - 1], "the week before"),
        (2, "unknown", states["unknown"] + states["rest"], "added up"),
        (2, "unknown", states["rest"], "the weeks of rest"),
        (2, "unknown", frame["jump"].isna().sum(), "without a jump"),
        (2, "load_is", "zero", "counted as zero"),
        (2, "usual", holes.tail(4).fillna(0).mean(), "counted as zero"),
        (2, "usual", holes.dropna().tail(4).mean(), "reached further back"),
        (3, "change", equal - same, "the slope of the same week"),
        (3, "change", after - same, "the way from the same week"),
        (3, "change", after - equal, "the sign is turned"),
        (4, "within", v[1] - v[2], "the between part"),
        (4, "within", v[0] - v[2], "set against everybody"),
        (4, "between", v[0] - v[1], "the within part"),
        (4, "between", v[1] - v[3], "Every week was counted once"),
        (4, "estimate", stress[("between", "adjusted", "during")], "compares people with each other"),
        (4, "estimate", stress[("within", "crude", "during")], "crude"),
        (4, "estimate", stress[("within", "adjusted", "before")], "another pain is held equal"),
        (5, "estimate", jump["estimate"][("per unit", "adjusted", "during")], "per unit"),
        (5, "estimate", jump["estimate"][("+50 %", "crude", "during")], "crude"),
        (5, "estimate", jump["estimate"][("+50 %", "adjusted", "before")], "another pain"),
        (5, "low", planned["estimate"] - planned["std_error"], "one standard error"),
        (5, "low", planned["high"], "the upper end"),
        (5, "high", planned["low"], "the lower end"),
        (5, "high", planned["estimate"], "the middle"),
        (6, "onset", begins - 1, "the last week at risk"),
        (6, "at_risk", len(flare), "all rows shown"),
        (6, "onsets", over.sum(), "all weeks over the line"),
        (6, "onsets", frame["flare_reported"].sum(), "in their own word"),
        (6, "onsets", frame.loc[frame["flare_next"].eq(1), "person"].nunique(), "These are the people"),
        (6, "in_100", 100 * risk["reference"], "at the usual load"),
        (6, "in_100", risk["contrast"], "a share of 1"),
        (6, "in_100", risk["contrast"] / risk["reference"], "a ratio"),
        (6, "ratio", odds, "an odds ratio"),
        (6, "ratio", risk["reference"] / risk["contrast"], "the other way round"),
        (7, "truth", truth[("intervention", "pain_next", "+50 %", "none", "none")], "if the load itself were set"),
        (7, "truth", truth[("regression", "pain_next", "per unit", "adjusted", "during")], "per unit"),
        (7, "truth", truth[("regression", "pain_next", "+50 %", "adjusted", "before")], "another pain"),
        (7, "miss", own - planned["estimate"], "the sign is turned"),
        (7, "miss", planned["estimate"], "the estimate itself"),
        (8, "not_carried", {1, 3, 5, 8}, "the ones the findings do carry"),
        (8, "not_carried", {2, 6, 7, 9}, "has wrong numbers"),
        (8, "not_carried", set(range(1, 10)), "All of them are marked"),
        (9, "difference", followed["before_after"], "the ordinary return"),
        (9, "difference", followed["did"], "the difference in differences"),
        (8, "rewrite", "The load caused 0.3 points of pain.", "say more than the findings do"),
    ]  # fmt: skip


def test_what_followed_in_an_invented_caseload_is_judged_by_the_way_of_comparing():
    caseload = made(2)
    (kind,) = given(9, caseload)["kind"].unique()
    found = lw.follow(lw.build_panel(caseload), kind, quick=True).effects
    mean = found[found["contrast"] == "mean of steps 1-4 after"].set_index("model")["estimate"].round(2)
    assert check(9, caseload, difference=mean["doubly robust"]).passed
    for model, words in (("before and after", "the ordinary return"), ("difference in differences", "no bad stretch to return from"), ("outcome model alone", "outcome model alone")):  # fmt: skip
        (result,) = check(9, caseload, difference=mean[model]).results
        assert result.state == NOT_YET and words in result.says
    (nonsense,) = check(9, caseload, difference=77).results
    assert nonsense.says.startswith("This does not follow")


def test_the_seed_chooses_the_kind_and_whether_anything_follows():
    drawn = {(made(seed).events["kind"].isin(["education"]).any(), put_in(seed)) for seed in (1, 2)}
    assert {added for _, added in drawn} == {0.0, -0.6} and {kind for kind, _ in drawn} == {True, False}
    pd.testing.assert_frame_equal(made(3).checkins, made(3).checkins)


def test_a_caseload_without_such_an_event_is_told_so():
    (result,) = check(9, DATA / "messy" / "first_export", difference=-0.3).results
    assert result.state == IMPOSSIBLE
    assert result.says.startswith("It records neither education nor a change of technique")


def test_slips_worked_out_by_hand_are_recognised(worlds):
    """Some meet the answer or each other within the tolerance (two ratios near 1, a miss as large as the truth), none in both."""
    unseen = []
    for here in worlds.values():
        rows = slips_by_hand(here)
        found = [judge(part_of(number, name), answer, here) for number, name, answer, _ in rows]
        unseen.append({
            (row[0], row[1], row[3]) for row, one in zip(rows, found, strict=True)
            if one.state == RIGHT or row[3] not in one.says
        })  # fmt: skip
        assert len(unseen[-1]) < len(rows) / 6
    assert unseen[0] & unseen[1] == set()


def _person(world, weeks):
    starts = world.frame[world.frame["step_start"].isin(weeks["step_start"])]
    same = starts.merge(
        weeks.reset_index()[["step", "step_start", "load"]], on=["step", "step_start", "load"]
    )
    return same["person"].value_counts().index[0]


@pytest.mark.parametrize(("number", "name"), [(n, p) for n, p in PARTS if part_of(n, p).kind == "number"])
@pytest.mark.parametrize("kind", KINDS)
def test_near_misses_outside_the_tolerance_are_refused(worlds, kind, number, name):
    part, world = part_of(number, name), worlds[kind]
    key = part.key(world)
    for sign in (-1, 1):
        assert judge(part, key.value + sign * 0.99 * key.tolerance, world).state == RIGHT
        assert judge(part, key.value + sign * 1.05 * key.tolerance, world).state == NOT_YET


@pytest.mark.parametrize(("number", "name"), PARTS)
@pytest.mark.parametrize("kind", KINDS)
def test_neither_hints_nor_slips_nor_closeness_give_the_answer_away(worlds, kind, number, name):
    part, task = part_of(number, name), TASKS[number - 1]
    key = part.key(worlds[kind])
    spoken = [*task.hints, *(slip.says for slip in key.slips)]
    if part.kind in ("number", "count") and key.value:
        numbers = {float(n) for text in spoken for n in re.findall(r"\d+(?:\.\d+)?", text)}
        assert not [n for n in numbers if n and meets(n, abs(key.value), key.tolerance)]
    if part.kind == "choice" and len(key.value) == 1:
        assert not any(f"({key.value})" in text for text in spoken)
    if part.kind == "sentences":
        assert not any(str(n) in slip.says for slip in key.slips for n in key.value)


def test_hints_say_more_and_more():
    for task in TASKS:
        assert len({hint(task.number, level) for level in (1, 2, 3)}) == 3
        assert all(len(text) > 60 for text in task.hints)
        assert re.search("[Oo]ther|another", task.hints[2]), "the third works through other numbers"
    assert hint(1) == hint(1, 1)


def test_the_planted_sentences_are_those_that_say_too_much(worlds):
    """Of what can be seen in words, the wording checker finds the planted ones and leaves the others alone."""
    for here in worlds.values():
        spoken = lines(here)
        found = {n for n, line in enumerate(spoken, 1) if any(r.rule not in ("denominator", "relative") for r in check_text(line))}  # fmt: skip
        assert found <= set(PLANTED)
        assert {2, 6, 7} <= found


def test_what_is_asked_wrongly_is_said():
    clinic = DATA / "clinic"
    with pytest.raises(LagwiseError, match=r"there is no task 10\. There are 1 to 9\."):
        hint(10)
    with pytest.raises(LagwiseError, match="there is no hint 4"):
        hint(1, 4)
    with pytest.raises(
        LagwiseError, match=r"task 1: it has no part called 'ususal'\. Its parts are usual, percent"
    ):
        check(1, clinic, ususal=3)
    with pytest.raises(LagwiseError, match="no answer was handed in"):
        check(1, clinic)
    with pytest.raises(LagwiseError, match="nowhere"):
        given(1, "nowhere")


def test_nothing_that_is_given_holds_the_answer_in_full(worlds):
    world = worlds["clinic"]
    assert "usual" not in TASKS[0].given(world).columns
    assert "jump" not in TASKS[0].given(world).columns
    assert isinstance(TASKS[4].given(world), str)
    assert isinstance(TASKS[5].given(world), pd.DataFrame)


def test_a_caseload_in_memory_does_as_well_as_a_folder(worlds, own):
    caseload = worlds["clinic"].caseload
    before = caseload.sessions.copy()
    assert str(check(2, caseload, unknown=51)) == str(check(2, own, unknown=51))
    assert world(own) is world(lw.synthetic.own_clinic(12, own.parent))
    first = part_of(1, "usual")
    assert first.key(worlds["clinic"]).value != first.key(World(lw.read(DATA / "clinic"))).value
    pd.testing.assert_frame_equal(caseload.sessions, before)


def test_a_caseload_that_changed_is_looked_at_anew(tmp_path):
    """What is fitted is kept from one check to the next, for the same bytes and plan and for nothing else."""
    folder = shutil.copytree(DATA / "messy" / "summed_weeks", tmp_path / "mine")
    was = int(lw.read(folder).counts["quarantined"].sum())
    assert check(2, folder, set_aside=was).passed
    file = folder / "weeks.csv"
    rows = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join(rows[:3]) + "\n", encoding="utf-8")
    now = int(lw.read(folder).counts["quarantined"].sum())
    assert now < was
    assert check(2, folder, set_aside=now).passed
    caseload = lw.read(DATA / "clinic")
    assert check(2, caseload, load_is="missing").passed
    declared = replace(caseload, study=replace(caseload.study, load=replace(caseload.study.load, no_sessions_means="rest")))  # fmt: skip
    assert check(2, declared, load_is="zero").passed

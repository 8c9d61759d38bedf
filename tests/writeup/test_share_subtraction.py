"""Versions to share as somebody reads them who subtracts two, divides one number by another, or knows how they are rounded."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from test_share_attack import texts

from lagwise.caseload import read
from lagwise.core.errors import WriteUpError
from lagwise.core.question import Outcome
from lagwise.core.results import Caseload, Panel
from lagwise.core.variable import VARIABLES
from lagwise.findings import Findings
from lagwise.models import fit_mixed
from lagwise.panel import build_panel
from lagwise.say.challenge import challenge
from lagwise.say.report.shown import small_at
from lagwise.say.report.wording import kind_of, rules_out
from lagwise.writeup.collect import collect
from lagwise.writeup.share import shared
from lagwise.writeup.share_fits import RULES, Size, effects_said
from lagwise.writeup.share_precision import (
    chance_said,
    counted,
    estimate_said,
    interval_unit,
    nice,
    outwards,
    p_at_most,
    part,
    to_unit,
)
from lagwise.writeup.share_record import checked, record, register
from lagwise.writeup.write import write_up

CLINIC = Path(__file__).parents[2] / "data_synthetic" / "clinic"
EVERYBODY = sorted(pd.read_csv(CLINIC / "people.csv", dtype=str)["person"])


def folder(
    at: Path, people: list[str], change: Callable[[str, pd.DataFrame], pd.DataFrame] = lambda n, t: t
) -> Path:
    """A copy of the synthetic clinic with some of its people, each table put through `change`."""
    shutil.copytree(CLINIC, at)
    for path in at.glob("*.csv"):
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        change(path.stem, table[table["person"].isin(people)]).to_csv(path, index=False)
    return at


Given = Callable[..., tuple[Caseload, Panel]]


@pytest.fixture(scope="module")
def given(tmp_path_factory) -> Given:
    """The caseload and panel of some people of the clinic, the first `cut` of them without their last records."""
    root = tmp_path_factory.mktemp("caseloads")

    @cache
    def made(people: tuple[str, ...], cut: int = 0, day: str = "2024-06-01") -> tuple[Caseload, Panel]:
        caseload = read(folder(root / f"{len(list(root.iterdir()))}", list(people), later(cut, day)))
        return caseload, build_panel(caseload)

    return made


@pytest.fixture(scope="module")
def private(given) -> Callable[..., Findings]:
    """Private findings of some people, with or without models."""

    @cache
    def found(people: tuple[str, ...], *, fitted: bool = False) -> Findings:
        caseload, panel = given(people)
        if not fitted:
            return collect(caseload, panel, [], None)
        mixed = fit_mixed(panel)
        tried = ["same_week_answer", "does_pain_drive_load", "leave_one_person_out", "regression_to_the_mean"]
        return collect(caseload, panel, [mixed], challenge(panel, mixed, seed=1, only=tried, quick=True))

    return found


# Somebody who has the program: which exact values would have been published as the same version?


def with_value(findings: Findings, path: tuple[Any, ...], value: float) -> Findings:
    """The findings with one number exchanged; a path is ('numbers', name, field), ('tables', name, row, column), or ('effects', row, field)."""
    if path[0] == "numbers":
        number = findings.numbers[path[1]].model_copy(update={path[2]: value})
        return findings.model_copy(update={"numbers": {**findings.numbers, path[1]: number}})
    if path[0] == "effects":
        fit = findings.fits[0]
        rows = [
            r.model_copy(update={path[2]: value}) if i == path[1] else r for i, r in enumerate(fit.effects)
        ]
        return findings.model_copy(
            update={"fits": (fit.model_copy(update={"effects": tuple(rows)}), *findings.fits[1:])}
        )
    table = findings.tables[path[1]]
    at = table.columns.index(path[3])
    rows = [
        tuple(value if (i, k) == (path[2], at) else v for k, v in enumerate(row))
        for i, row in enumerate(table.rows)
    ]
    return findings.model_copy(
        update={"tables": {**findings.tables, path[1]: table.model_copy(update={"rows": tuple(rows)})}}
    )


def room(findings: Findings, path: tuple[Any, ...], exact: float, step: float, most: int = 64) -> float:
    """How wide the range of values is, in units of `step`, that give the very same version; all files are made of it alone."""
    told = shared(findings).to_json()

    def same(k: int) -> bool:
        return shared(with_value(findings, path, exact + k * step)).to_json() == told

    reach = 0
    for way in (-1, 1):
        k = 1
        while k <= most and same(way * k):
            reach = reach + (k - k // 2)
            k *= 2
    return reach


def counts(findings: Findings) -> Iterator[tuple[tuple[Any, ...], int]]:
    """Where counts of steps, ratings, rows and events stand, and what they are."""
    for name, number in findings.numbers.items():
        if name == "steps" or (number.of.startswith("person-steps") and number.value):
            yield ("numbers", name, "value"), int(number.value or 0)
    for name, column in (
        ("counts", "quarantined"),
        ("counts", "read"),
        ("ratings", "n"),
        ("events", "n_events"),
        ("missing", "n_known"),
    ):
        for i, r in enumerate(findings.tables[name].records()):
            if r[column] and r.get("table") != "people":
                yield ("tables", name, i, column), r[column]


def test_no_count_is_known_within_half_a_unit_to_who_knows_the_rounding(private):
    findings = private(tuple(EVERYBODY[:30]))
    rooms = {path: room(findings, path, value, 1, most=4) for path, value in list(counts(findings))[::3]}
    assert len(rooms) > 20
    assert {path: width for path, width in rooms.items() if width < 3} == {}


def test_no_mean_or_spread_tells_what_one_person_adds_to_it(private):
    """A person's own value is n times the change of a mean: it must stay open over more than the spread between people."""
    findings = private(tuple(EVERYBODY[:30]))
    tried = 0
    for i, r in enumerate(findings.tables["cohort"].records()):
        if r["level"] != "person" or not r["sd"]:
            continue
        for column in ("mean", "median"):
            step = r["sd"] / r["n_people"]  # what somebody one SD off moves the mean by
            width = room(findings, ("tables", "cohort", i, column), r[column], step, most=4)
            assert width >= 3, (r["variable"], column, width)
            tried += 1
    assert tried > 20


def test_no_estimate_tells_what_one_person_adds_to_it(private):
    findings = private(tuple(EVERYBODY[:12]), fitted=True)
    rows = [
        (i, e)
        for i, e in enumerate(findings.fits[0].effects)
        if e.adjustment == "adjusted" and e.pain_adjusted == "during" and (e.term != "jump" or e.primary)
    ][::2]
    assert any(e.primary for _, e in rows)
    widths = []
    for i, e in rows:
        step = e.std_error / e.n_people**0.5  # what somebody one SD of slopes off moves it by
        widths += [
            room(findings, ("effects", i, field), getattr(e, field), step, most=2)
            for field in ("estimate", "low", "high")
        ]
    assert len(widths) > 10
    # One value may lie at an edge of its rounding on one side and of its unit on the other: the second can be used
    # by nobody who knows the interval's other end only as it is told.
    assert sum(width < 1 for width in widths) <= 1
    assert sorted(widths)[len(widths) // 2] >= 3


# Somebody who has two versions, one person apart: what does the difference of two numbers say?


def leaves(part: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], float]]:
    """Every number of JSON data with its place; rows of tables are placed by their words."""
    if isinstance(part, dict) and {"columns", "rows"} <= set(part):
        for row in part["rows"]:
            key = tuple(v for v in row if isinstance(v, str)) or (row[0],)
            # the values of a scale are names of rows, too
            key = (*key, row[1]) if "neighbours_share" in part["columns"] else key
            yield from (
                ((*at, *key, c), float(v))
                for c, v in zip(part["columns"], row, strict=True)
                if isinstance(v, int | float) and not isinstance(v, bool)
            )
    elif isinstance(part, dict):
        for name, inner in part.items():
            yield from leaves(inner, (*at, name))
    elif isinstance(part, list):
        for i, inner in enumerate(part):
            name = (
                tuple(
                    inner.get(k)
                    for k in ("term", "level", "adjustment", "pain_adjusted", "contrast", "scale")
                )
                if isinstance(inner, dict) and "term" in inner
                else (i,)
            )
            yield from leaves(inner, (*at, *name))
    elif isinstance(part, int | float) and not isinstance(part, bool):
        yield at, float(part)


def numbers_of(findings: Findings) -> dict[tuple[Any, ...], float]:
    data = findings.model_dump(mode="json")
    for name in ("provenance", "study", "challenges"):
        data.pop(name)
    return dict(leaves(data))


@pytest.mark.parametrize(("n", "tried"), [(12, 3), (30, 2)])
def test_two_versions_one_person_apart_do_not_subtract_to_that_person(private, n, tried):
    """Differences that are the person's own count, among all where the person has two or more, and that give their mean to a tenth of an SD."""
    everybody = EVERYBODY[:n]
    whole = private(tuple(everybody))
    exact, told = numbers_of(whole), numbers_of(shared(whole))
    cells = hits = means = near = 0
    for who in everybody[:: n // tried][:tried]:
        rest = private(tuple(p for p in everybody if p != who))
        without, said = numbers_of(rest), numbers_of(shared(rest))
        for at in exact.keys() & without.keys():
            own = exact[at] - without[at]
            of_people = at[-1] in (
                "n_people",
                "n_people_any",
                "n_people_only",
                "n_compared",
            ) or "people" in str(at[1:2])
            if (
                at[0] in ("people", "gate")
                or of_people
                or not float(exact[at]).is_integer()
                or not float(without[at]).is_integer()
                or abs(own) < 2
            ):
                continue
            cells += 1
            hits += at in told and at in said and abs(told[at] - said[at] - own) <= 0.5
        for r, s in zip(whole.tables["cohort"].records(), rest.tables["cohort"].records(), strict=True):
            at = ("tables", "cohort", r["variable"], r["label"], r["unit"], r["level"], "mean")
            if (
                r["level"] == "person"
                and r["sd"]
                and r["n_people"] == s["n_people"] + 1
                and at in told
                and at in said
            ):
                own = r["mean"] * r["n_people"] - s["mean"] * s["n_people"]
                means += 1
                near += (
                    told[at] != said[at]
                    and abs(told[at] * r["n_people"] - said[at] * s["n_people"] - own) <= r["sd"] / 10
                )
    assert cells > 60
    assert means > 10
    print(f"{n} people: {hits} of {cells} counts, {near} of {means} means")
    assert hits <= 0.02 * cells
    assert near <= 0.05 * means


def test_two_versions_of_which_the_second_holds_one_more_week_of_one_person_do_not_tell_that_week(
    given, private
):
    """The record refuses the second; here it was made all the same."""
    who, people = EVERYBODY[0], tuple(EVERYBODY[:12])
    first, second = collect(*given(people, 1, "2024-06-24"), [], None), private(people)
    (exact, told), (more, said) = ((numbers_of(f), numbers_of(shared(f))) for f in (first, second))
    own = [
        at
        for at in exact.keys() & more.keys()
        if at[0] in ("numbers", "tables") and more[at] != exact[at] and at[2:3] != (who,)
    ]
    assert second.count("steps") > first.count("steps")
    assert len(own) > 50
    shown = [at for at in own if at in told and at in said]
    assert len(shown) > 20
    assert [
        at
        for at in shown
        if abs((said[at] - told[at]) - (more[at] - exact[at])) < 1e-6 * max(1, abs(more[at] - exact[at]))
    ] == []


def test_totals_do_not_follow_from_means(private):
    findings = private(tuple(EVERYBODY[:30]))
    said = shared(findings)
    steps = next(r for r in said.tables["cohort"].records() if r["variable"] == "steps")
    true = findings.count("steps")
    people = findings.count("people")
    mean = next(r for r in findings.tables["cohort"].records() if r["variable"] == "steps")["mean"]
    assert mean * people == pytest.approx(true)
    assert abs(steps["mean"] * people - true) > 2
    assert abs(said.count("steps") / steps["mean"] - people) > 0.2


# What stays out altogether.


def test_levels_that_may_not_be_shown_files_and_raw_data_are_named_in_no_file(tmp_path):
    """A site of one person, a kind of event of three, a group of exercises, the names of files and columns, the hash of the raw data."""

    def rare(name: str, table: pd.DataFrame) -> pd.DataFrame:
        if name == "people":
            table = table.assign(site=table["site"].where(table["person"] != EVERYBODY[3], "Quarry annexe"))
        return table.rename(columns={"pain": "Schmerz_Anna"})

    at = folder(tmp_path / "case", EVERYBODY[:16], rare)
    (at / "checkins.csv").rename(at / "ward7-anna.csv")
    plan = at / "study.toml"
    told = '\n[tables.checkins]\nfile = "ward7-anna.csv"\n[tables.checkins.columns]\npain = "Schmerz_Anna"\n[groups]\nlarch_group = ["Larch press"]\n'
    plan.write_text(plan.read_text("utf-8").partition("[groups")[0] + told, "utf-8")
    caseload = read(at)
    private = collect(caseload, build_panel(caseload), [], None)
    words = ["Quarry annexe", "injury_elsewhere", "injury elsewhere", "ward7", "Schmerz", "larch press"]
    words.append(private.provenance.data_hash)
    held = private.to_json()
    assert [w for w in words if w not in held] == ["injury elsewhere", "Schmerz"]
    assert (
        next(r["n_people"] for r in private.tables["events"].records() if r["kind"] == "injury_elsewhere") < 5
    )
    out = write_up(private, tmp_path / "out", private=False)
    for path in (p for p in out.rglob("*") if p.is_file() and p.suffix != ".png"):
        text = texts(path).lower()
        assert not [w for w in words if w.lower() in text], path.name


def test_what_a_challenge_says_is_said_of_its_rounded_numbers(private):
    findings = private(tuple(EVERYBODY[:12]), fitted=True)
    said = shared(findings)
    for before, after in zip(findings.challenges, said.challenges, strict=True):
        assert before.sentence not in said.to_json()
        assert after.problem or after.sentence
        exact = {r["quantity"]: r["value"] for r in before.numbers.records()}
        assert all(
            r["value"] != exact[r["quantity"]] or float(r["value"]).is_integer()
            for r in after.numbers.records()
        )
    alone = next(c for c in said.challenges if c.name == "leave_one_person_out")
    assert [r["quantity"] for r in alone.numbers.records()] == ["estimate with everybody"]
    assert alone.picture is None


# The record of what was shared.


@pytest.fixture
def state(tmp_path, monkeypatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return register()


def share(caseload: Caseload, panel: Panel) -> Path:
    return record(checked(caseload, panel), title="t", made_on="2026-01-01", out=Path("out"))


def later(n: int, day: str = "2024-06-01") -> Callable[[str, pd.DataFrame], pd.DataFrame]:
    """Without the records of the first n people from a day on."""

    def cut(name: str, table: pd.DataFrame) -> pd.DataFrame:
        return (
            table[~table["person"].isin(EVERYBODY[:n]) | (table["date"] < day)] if "date" in table else table
        )

    return cut


def test_a_version_is_recorded_for_its_owner_alone_and_can_be_shared_again(given, tmp_path, state):
    caseload, panel = given(tuple(EVERYBODY[:12]))
    assert share(caseload, panel) == state
    text = state.read_text("utf-8")
    assert not [p for p in EVERYBODY if p in text]
    assert state.stat().st_mode & 0o777 == 0o600
    assert state.parent.stat().st_mode & 0o777 == 0o700
    again = read(folder(tmp_path / "elsewhere", EVERYBODY[:12]))
    share(again, build_panel(again))
    assert state.read_text("utf-8") == text


@pytest.mark.parametrize(
    ("people", "refused"), [(11, "1 person has joined or left"), (8, "4 people have joined or left"), (7, "")]
)
def test_a_version_of_nearly_the_same_people_is_refused(given, state, people, refused):
    share(*given(tuple(EVERYBODY[:12])))
    held = state.read_bytes()
    second = given(tuple(EVERYBODY[:people]))
    if refused:
        with pytest.raises(WriteUpError, match=refused) as error:
            share(*second)
        assert "same people as that version" in error.value.mend
        assert state.read_bytes() == held
    else:
        share(*second)


@pytest.mark.parametrize(("cut", "refused"), [(1, True), (4, True), (5, False), (12, False)])
def test_the_same_people_with_more_records_of_a_few_are_refused_and_of_everybody_allowed(
    given, state, cut, refused
):
    share(*given(tuple(EVERYBODY[:12]), cut))
    second = given(tuple(EVERYBODY[:12]))
    if refused:
        with pytest.raises(WriteUpError, match="other records than"):
            share(*second)
    else:
        share(*second)


def test_other_people_under_the_same_codes_are_another_caseload(given, tmp_path, state):
    codes = dict(zip(EVERYBODY[12:23], EVERYBODY[:11], strict=True))
    share(*given(tuple(EVERYBODY[:12])))
    other = read(
        folder(tmp_path / "b", EVERYBODY[12:23], lambda _, t: t.assign(person=t["person"].map(codes)))
    )
    share(other, build_panel(other))


def test_a_damaged_record_stops_the_next_version(given, state):
    share(*given(tuple(EVERYBODY[:12])))
    state.write_text("{", "utf-8")
    with pytest.raises(WriteUpError, match="cannot be used"):
        share(*given(tuple(EVERYBODY[:12])))


# Words: what a version to share says of 0 and of the plan's margins is what the private one says.


def test_intervals_read_as_the_exact_ones_whatever_their_unit():
    rng = np.random.default_rng(1)
    ends = np.sort(rng.normal(0, 0.6, (3000, 2)) * rng.choice([0.2, 1, 3], (3000, 1)), axis=1)
    ends[:900, 0] = rng.choice([-1, -0.5, 0, 0.5, 1], 900) + rng.normal(0, 0.02, 900)  # hard by a margin
    margin, moved = Outcome(VARIABLES["pain"]), 0
    for (low, high), people in zip(np.sort(ends, axis=1), rng.integers(5, 80, len(ends)), strict=True):
        told = estimate_said((low + high) / 2, low, high, people, margins=(margin.zero, margin.important))
        assert told[1] <= low < high <= told[2] and told[1] <= told[0] <= told[2]
        exact, said = (told_of(*one, margin) for one in ((low, high), told[1:]))
        assert said == exact, (low, high, people, told)
        moved += told_of(*outwards(low, high, interval_unit(low, high, people)), margin) != exact
    assert moved > 50, "by rounding outwards alone some read otherwise"


def test_practically_none_from_usual_low_to_usual_high_is_told_where_half_a_unit_allows(private):
    row = private(tuple(EVERYBODY[:12]), fitted=True).fits[0].effects[0]
    row = row.model_copy(
        update={"term": "stress", "scale": "points", "contrast": "per unit", "contrast_size": 1.0}
    )
    row = row.model_copy(update={"estimate": 0.05, "low": -0.04, "high": 0.13, "n_people": 14})
    sizes = (Size(14, 26, 0.5, usual={"stress": usual}) for usual in (0.0, 3.0, 3.5))
    assert [effects_said((row,), size)[0].high for size in sizes] == [0.2, 0.15, 0.2]
    findings = private(tuple(EVERYBODY[:12]), fitted=True)
    both = [
        {(r.term, r.level, r.adjustment, r.pain_adjusted, r.contrast): bool(small_at(of, r, 0.5))
         for r in of.fits[0].effects if r.scale == "points"}
        for of in (findings, shared(findings))
    ]  # fmt: skip
    assert sum(both[0][key] == small for key, small in both[1].items()) == len(both[1]) - 1


def told_of(low, high, margin):
    row = SimpleNamespace(low=low, high=high)
    return kind_of(low, high, margin.zero), rules_out(row, margin)


def test_a_count_of_steps_stands_alike_wherever_it_stands(private):
    findings = private(tuple(EVERYBODY[:12]), fitted=True)
    rated = findings.numbers["pain_steps"]
    fit = findings.fits[0].model_copy(update={"n_steps": rated.value})
    said = shared(findings.model_copy(update={"fits": (fit,)}))
    assert counted(rated.value, 12, findings.count("longest")) != said.count("pain_steps"), (
        "else it shows nothing"
    )
    assert said.fits[0].n_steps == said.count("pain_steps")


# The rule itself.


def test_rounding():
    assert [nice(v) for v in (0, 0.7, 1, 1.2, 2.1, 5.1)] == [0, 1, 1, 2, 5, 10]
    assert [to_unit(v, 5) for v in (-7.5, 2.4, 2.5, 0)] == [-10, 0, 5, 0]
    assert outwards(0.11, 0.39, 0.1) == (0.1, 0.4)
    assert outwards(0.1, 0.4, 0.1) == (0.1, 0.4)
    assert [counted(v, 40, 26) for v in (0, 1, 12, 953)] == [0, 5, 10, 960]
    assert part(950, 953, 40, 26) == (955, 960)
    assert [chance_said(v) for v in (0, 0.049, 0.5, 1)] == [0.05, 0.05, 0.55, 0.95]
    assert [p_at_most(v) for v in (0.001, 0.03, 0.6)] == [0.01, 0.05, 1.0]


def test_what_the_priors_make_is_rounded_too():
    row = {"mean": 3.0919327288, "low": 1.8771404704, "high": 4.6502701147, "observed": 1.0123456}
    said = RULES["prior_predictive"](row | {"check": "change_sd"}, 40, Size(40, 26, 0.5))
    assert said == {"check": "change_sd", "mean": 3.0, "low": 2.0, "high": 5.0, "observed": 1.0}


def test_priors_that_were_chosen_are_told_and_those_that_hang_on_the_records_are_rounded():
    row = {"prior": "load", "per": "SD", "sd": 0.35, "scale": "odds_ratio", "low": 0.5036, "high": 1.9858}
    size = Size(40, 26, 0.5)
    assert RULES["priors"](row, 40, size) == row
    twice = row | {"per": "twice the load", "sd": 0.5512, "low": 0.33951, "high": 2.9454}
    assert RULES["priors"](twice, 40, size) == twice | {"sd": None, "low": 0.35, "high": 3.0}
    points = row | {"scale": "points", "low": -0.4461, "high": 0.4461}
    assert RULES["priors"](points, 40, size) == points | {"sd": None, "low": -0.4, "high": 0.4}

"""For every challenge a caseload on which it must hold and one on which it must not; `python tests/challenges/proof.py` writes docs/challenges-proof.md."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pandas as pd
from challenge_panels import STEADY, clinic, drawn, fitted, light_fit, mixed_leads, no_effect, value
from proof_caseloads import (
    after_bad_weeks,
    beside_stress,
    half_a_point,
    hidden_weeks,
    load_itself,
    one_person_steep,
    one_person_varies,
    planned_on_last_week,
    rated_against_the_last,
    rated_effort,
    short_records,
    small_study,
    two_measures,
    two_regions,
)
from rated_worlds import World, simulate

from lagwise.challenges.registry import REGISTRY
from lagwise.core.results import Challenge
from lagwise.core.study import Study
from lagwise.say.challenge import challenge, text, words_of
from lagwise.say.phrases import fixed, places
from lagwise.say.voice import Voice
from lagwise.synthetic import NO_EFFECT, Spec

PAGE = Path(__file__).parents[2] / "docs" / "challenges-proof.md"
CLINIC_WORDS = (
    "The synthetic clinic: 40 people x 26 weeks, load is followed by pain in nearly everybody, pain cuts load"
)
TABLE = re.compile(r"(?<=\|---\|\n)(\| .*\n)+")
"""Its rows; all else of the page is written by hand."""


@dataclass(frozen=True)
class Row:
    """One caseload of one challenge: what was built in, how it is made, the verdict it must get and the quantity shown."""

    name: str
    words: str
    make: Callable[[], dict]
    must: str
    figure: str


def _plain(made) -> dict:
    return {"panel": made[0], "fit": made[1]}


def _spec(spec: Spec) -> dict:
    return {"panel": drawn(spec), "fit": fitted(spec)}


def _clinic() -> dict:
    return _plain(clinic())


def _regions(own: float, other: float) -> dict:
    made, people = two_regions(own, other)
    return _plain(made) | {"people": people}


def _world(world: World) -> dict:
    panel = simulate(world, 1)
    return {"panel": panel, "fit": light_fit(panel)}


def _bayes(made) -> dict:
    both, bayes = made
    return _plain(both) | {"bayes": bayes}


def _against_the_last() -> dict:
    panel = rated_against_the_last()
    return {"panel": panel, "fit": light_fit(panel)}


ROWS = (
    Row("same_week_answer", "Load has no part in later pain; pain cuts load by 18 % a point", lambda: _spec(NO_EFFECT), "informative", "same week"),
    Row("same_week_answer", "Load raises pain in the same and the next week; pain leaves load alone", lambda: _spec(replace(STEADY, same_week=1.0)), "holds", "same week"),
    Row("does_pain_drive_load", "120 people whose pain cuts load by 18 % a point", lambda: _spec(replace(NO_EFFECT, n_people=120)), "informative", "per point of the pain that lasts"),
    Row("does_pain_drive_load", "80 people whose pain and stress leave load alone", lambda: _spec(replace(STEADY, n_people=80)), "holds", "per point of the pain that lasts"),
    Row("rating_error", "Load has no part in pain; 60 people cut it by 25 % a point of felt pain, which is rated inexactly once a week", lambda: _world(World(60, 40)), "does_not_hold", "joint model at its own estimate"),
    Row("rating_error", CLINIC_WORDS, _clinic, "holds", "joint model at its own estimate"),
    Row("pre_exposure_outcome", "Load is planned on the pain of the week before, by 25 % a point", lambda: _plain(planned_on_last_week(0.25)), "does_not_hold", "week before (must be 0)"),
    Row("pre_exposure_outcome", CLINIC_WORDS, _clinic, "holds", "week before (must be 0)"),
    Row("shuffled_load", "Load swings slowly, pain follows it a little, and a rating too high makes the next too low: errors cancel, which the interval does not know and so includes 0", _against_the_last, "does_not_hold", "p, two-sided"),
    Row("shuffled_load", CLINIC_WORDS, _clinic, "holds", "p, two-sided"),
    Row("random_usual_load", "Pain follows the load of the week whatever the usual load", lambda: _plain(load_itself()), "does_not_hold", "better fit with own usual load than with a constant"),
    Row("random_usual_load", CLINIC_WORDS, _clinic, "holds", "better fit with own usual load than with a constant"),
    Row("unrelated_load", "Pain follows the load of the region that does not hurt", lambda: _regions(0.0, 0.8), "does_not_hold", "own region less other regions"),
    Row("unrelated_load", "Pain follows the load of the region that hurts", lambda: _regions(0.8, 0.0), "holds", "own region less other regions"),
    Row("leave_one_person_out", "12 people of whom only one varies the load enough to say anything", lambda: _plain(one_person_varies()), "does_not_hold", "largest share of the information that one person brings"),
    Row("leave_one_person_out", "In one of 12 people pain follows load steeply, in the others not at all; the interval includes 0", lambda: _plain(one_person_steep(8.0)), "cannot_tell", "p of the person who stands farthest apart"),
    Row("leave_one_person_out", CLINIC_WORDS, _clinic, "holds", "p of the person who stands farthest apart"),
    Row("missing_steps", "After heavy weeks pain goes unrecorded where it is about to be high", lambda: _plain(hidden_weeks(1)), "does_not_hold", "missing filled in"),
    Row("missing_steps", CLINIC_WORDS, _clinic, "holds", "missing filled in"),
    Row("prior", "16 people x 12 weeks with a difference of 3.3 standard errors", lambda: _bayes(small_study()), "does_not_hold", "difference: priors half as wide"),
    Row("prior", "The synthetic clinic with a difference of 0.5 points per log unit of load", lambda: _bayes(half_a_point()), "holds", "difference: priors half as wide"),
    Row("unmeasured_confounding", "A small difference beside stress that moves load and pain strongly", lambda: _plain(beside_stress(0.6, 0.4)), "does_not_hold", "share of what is left of exposure and pain that would change the reading"),
    Row("unmeasured_confounding", "A large difference beside stress that moves pain a little", lambda: _plain(beside_stress(0.1, 1.5)), "informative", "share of what is left of exposure and pain that would change the reading"),
    Row("other_reasonable_choices", "Pain follows the load in sets, and not that in any other measure", lambda: _plain(two_measures(1.2, 0.0)), "does_not_hold", "variance that goes with: load measure"),
    Row("other_reasonable_choices", CLINIC_WORDS, _clinic, "holds", "joint p"),
    Row("known_truth_at_your_size", "Records of 6 weeks whose pain cuts load by 60 % a point", lambda: _plain(short_records()), "does_not_hold", "coverage: pain first, true 0.00"),
    Row("known_truth_at_your_size", "Pain cuts load by 18 % a point and is rated inexactly: the mixed model, which the plan lets lead, leaves part of that unadjusted for", lambda: _plain(mixed_leads(no_effect())), "does_not_hold", "coverage: pain first, true 0.00"),
    Row("known_truth_at_your_size", "The same records under a plan that lets the joint model lead", lambda: _plain(no_effect()), "holds", "coverage: joint model, pain first, true 0.00"),
    Row("regression_to_the_mean", "Weeks after bad ones stand 1.2 points lower than ups and downs bring", lambda: _plain(after_bad_weeks(-1.2)), "does_not_hold", "observed minus expected from the way in"),
    Row("regression_to_the_mean", "Ordinary ups and downs", lambda: _plain(after_bad_weeks(0.0)), "holds", "observed minus expected from the way in"),
    Row("measurement", "Load goes with effort, which pain follows, and effort is rated with error", lambda: _plain(rated_effort(0.8, 0.0, 0.25, 0.51)), "does_not_hold", "estimate at an error SD of 0.51 points"),
    Row("measurement", "Load does not go with effort, which is rated with error", lambda: _plain(rated_effort(0.3, 0.8, 0.0, 0.5)), "holds", "estimate at an error SD of 0.51 points"),
)  # fmt: skip


@cache
def outcome(row: Row) -> Challenge:
    """What the challenge says of a row's caseload; run once in a process."""
    options = row.make()
    panel, fit = options.pop("panel"), options.pop("fit")
    return challenge(panel, fit, only=[row.name], quick=True, **options)[row.name]


def proved(name: str, must: str) -> Challenge:
    """The outcome of a challenge on the first caseload that must get this verdict."""
    return outcome(next(r for r in ROWS if (r.name, r.must) == (name, must)))


def line(row: Row) -> str:
    """A row of the page's table."""
    found = outcome(row)
    title = next(text(words_of(e), "title", Voice.of(Study(""))) for e in REGISTRY if row.name == e.NAME)
    words = {
        "does_not_hold": "not hold",
        "cannot_tell": "say that it cannot tell",
        "informative": "be informative",
        "holds": "hold",
    }
    return f"| {title} | {row.words} | {words[row.must]} | {found.verdict.replace('_', ' ')} | {_figure(found, row.figure)} |"


def _figure(found: Challenge, quantity: str) -> str:
    record = found.numbers.set_index("quantity").loc[quantity]
    unit = record["unit"] if record["unit"] in ("points", "%") else ""
    if pd.isna(record["low"]):
        shown = value(found, quantity)
        return f"{quantity}: {fixed(shown, 3 if abs(shown) < 1 else 1)} {unit}".strip()
    decimals = min(3, places(record["low"], record["high"]))
    shown = [fixed(record[k], decimals) for k in ("value", "low", "high")]
    return f"{quantity}: {shown[0]} {unit} ({shown[1]} to {shown[2]})".replace("  (", " (")


def page() -> str:
    """The page with every row anew."""
    return TABLE.sub(lambda _: "".join(f"{line(r)}\n" for r in ROWS), PAGE.read_text(encoding="utf-8"))


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")

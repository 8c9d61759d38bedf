"""What a plan assumed, and what daily instead of weekly ratings would change; nothing here says what anybody
should do.
"""

from __future__ import annotations

from typing import Any

from lagwise.core.study import Study
from lagwise.models.rated_data import LEAST_STEPS
from lagwise.planning.assumptions import RAISES, STRUCTURAL, Assumptions
from lagwise.planning.grid import Plan
from lagwise.planning.ratings import FEWEST, RHYTHMS, why_not
from lagwise.say.phrases import fixed, plural
from lagwise.say.voice import Voice
from lagwise.synthetic.spec import Spec

FEW = 50
"""Caseloads below which counts are not put as of 100."""
WHY_NOT = {
    "not_load": "the study does not ask about load",
    "few_people": "rating error is allowed for from 10 people on, and the largest record planned has "
    "{people}",
    "few_weeks": "rating error is allowed for from {steps} weeks on, and the largest record planned has "
    "{weeks}",
}
_PARTS = {"effort": "effort", "stress": "stress", "sleep_hours": "sleep", "worry": "worry"}
_RATES = {
    "mixed": "Of 100 people 40 rate daily, 30 on three days and 30 once a week",
    "daily": "Everybody rates daily",
    "some_days": "Everybody rates on three days of the week",
    "weekly": "Everybody rates once, at the end of the week",
}


def assumed(study: Study, a: Assumptions) -> tuple[str, ...]:
    """The assumptions behind the simulated records, one sentence each, the ones that move the answer most
    first.
    """
    spec, out = Spec(), []
    out.append(
        f"Pain: people's own levels lie around {a.pain_level:g} of 10 (SD {spec.pain_level_sd:g} between "
        f"people); a week carries {spec.carry_over:g} of what the week before stood above that level, and "
        f"moves by {a.pain_sd:g} points (SD) for no recorded reason. In {100 * spec.burst_chance:g} of 100 "
        f"weeks it stands {spec.burst_size:g} points higher without any."
    )
    out.append(
        f"Load: differs by {a.load_sd:g} (SD on the log scale, near {100 * a.load_sd:.0f} %) from week to "
        f"week around a plan of four to six weeks that ends in an easy one; {100 * spec.holiday:g} of 100 "
        "weeks are rest."
    )
    if a.feedback == 0:
        out.append("Load does not answer pain.")
    else:
        which = "lower" if a.feedback > 0 else "higher"
        out.append(
            f"Load answers pain: it is {abs(100 * a.feedback):g} % {which} per point of pain above the "
            "person's own level."
        )
    often = ", more often when it hurts more" if a.missing_weeks else ""
    out.append(
        f"Gaps: in {100 * a.missing_weeks:g} of 100 weeks neither ratings nor training are written "
        f"down{often}; of those who are still there, {100 * a.leaving:g} of 100 leave in each week from the "
        "seventh on. A week that is written down is written down whole."
    )
    out.append(
        f"Ratings: {_RATES[a.ratings]}, in whole points that gather at 0, 5 and 10. Before rounding, a "
        f"rating for the whole week strays from its pain by {a.weekly_rating_sd:g} points (SD), a day's "
        f"rating by {a.daily_rating_sd:g}."
    )
    if study.variables[study.analysis.primary].whole:
        out.append(
            f"People differ: the difference asked about varies by {a.effect_sd:g} points (SD) between "
            "people, around the one of the grid."
        )
    others = [t for t in study.analysis.exposures if t in _PARTS and t != study.analysis.primary]
    if others:
        said = ", ".join(
            f"{_PARTS[t]} {getattr(spec, STRUCTURAL[t]):+g}".replace("-", "\u2212") for t in others
        )
        out.append(
            f"Other exposures have small parts of their own in {Voice.of(study).then_asked}, in points per "
            f"unit: {said}."
        )
    cause = "Nothing that was not recorded moves load and pain at once. In a real record something may"
    if a.unrecorded:
        way = "higher" if a.unrecorded > 0 else "lower"
        cause = (
            f"Something that nobody wrote down moves load and pain at once: one SD of it raises load by "
            f"{100 * RAISES:g} % and is followed by pain {abs(a.unrecorded):g} points {way}"
        )
    out.append(f"{cause}, and no number of people or weeks would take that away.")
    return tuple(out)


def rhythm(plan: Plan) -> tuple[str, ...]:
    """The sentences, widths first, with Monte Carlo errors; one sentence where rhythms were not compared."""
    if not len(plan.ratings):
        return (_absent(plan),)
    rows = {(r["ratings"], r["model"]): r for r in plan.ratings.to_dict("records")}
    weekly, daily = rows["weekly", "joint"], rows["daily", "joint"]
    size = f"{plural(int(weekly['people']), 'person', 'people')} and {plural(int(weekly['weeks']), 'week')}"
    if not (weekly["fitted"] and daily["fitted"]):
        return (
            f"With {size}, weekly and daily ratings could not be compared: no interval came out with rating "
            "error allowed for.",
        )
    places = plan.study.outcome.variable.places
    mixed, both = [[rows[how, model] for how in RHYTHMS] for model in ("mixed", "both")]
    return (
        f"With {size}, {_widths(weekly, daily, places)}, rating error allowed for.",
        f"Where the true difference is 0, {_seen(weekly)} rated weekly and {_seen(daily)} rated daily would "
        f"still show one (Monte Carlo error {_error(weekly, daily)}).",
        f"{_answer(plan.assumptions)}, ratings as they are would show one in {_seen(mixed[0])} rated weekly "
        f"and {_seen(mixed[1])} daily (Monte Carlo error {_error(*mixed)}).",
        f"Both readings at once would show one in {_seen(both[0])} rated weekly and {_seen(both[1])} rated "
        f"daily (Monte Carlo error {_error(*both)}). A report stays undecided where they read differently.",
    )


def _absent(plan: Plan) -> str:
    sizes = zip(plan.table["people"], plan.table["weeks"], strict=True)
    people, weeks = max(sizes, key=lambda size: (size[0] * size[1], size))
    why = why_not(plan.study, int(people), int(weeks))
    if why:
        told = WHY_NOT[why].format(steps=LEAST_STEPS, people=people, weeks=weeks)
        return f"Weekly and daily ratings were not compared: {told}."
    return (
        f"Weekly and daily ratings were not compared in this run; that takes {FEWEST} caseloads or more "
        "(--rating-caseloads)."
    )


def _widths(weekly: dict[Any, Any], daily: dict[Any, Any], places: int) -> str:
    wide = [fixed(found["width"], places) for found in (daily, weekly)]
    gain, hair = float(wide[1]) - float(wide[0]), 10**-places / 2
    off = (weekly["width_error"] ** 2 + daily["width_error"] ** 2) ** 0.5
    error = fixed(off, places) if off >= hair else f"below {fixed(2 * hair, places)}"
    told = f"It would be {wide[0]} points wide with daily ratings and {wide[1]} with weekly ones"
    if abs(gain) < hair:
        return (
            "a typical interval would be as wide with daily as with weekly ratings (Monte Carlo error "
            f"{error}). {told}"
        )
    way = "narrower" if gain > 0 else "wider"
    return (
        f"daily instead of weekly ratings would make a typical interval {fixed(abs(gain), places)} points "
        f"{way} (Monte Carlo error {error}). {told}"
    )


def _answer(a: Assumptions) -> str:
    if a.feedback == 0:
        return "With load that does not answer pain"
    return (
        f"With load {abs(100 * a.feedback):g} % {'lower' if a.feedback > 0 else 'higher'} per point of pain"
    )


def _seen(row: dict[Any, Any]) -> str:
    """How many show a difference: of 100, and of those simulated where they are few."""
    n = row["caseloads"] if row["caseloads"] < FEW else 100
    return f"{n * row['p_excludes_zero']:.0f} of {n}"


def _error(*rows: dict[Any, Any]) -> str:
    return f"{100 * max(r['p_excludes_zero_error'] for r in rows):.0f} of 100"

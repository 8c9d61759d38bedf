"""What daily instead of weekly ratings would change, in sentences; nothing here says how often anybody should
rate.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from lagwise.core.numbers import count, fixed
from lagwise.planning.assumptions import Assumptions
from lagwise.planning.ratings import FEWEST, RHYTHMS, why_not

if TYPE_CHECKING:
    from lagwise.planning.grid import Plan

FEW = 50
"""Caseloads below which counts are not put as of 100."""


def rhythm(plan: Plan) -> tuple[str, ...]:
    """The sentences, widths first, with Monte Carlo errors; one sentence where rhythms were not compared."""
    if not len(plan.ratings):
        return (_absent(plan),)
    rows = {(r["ratings"], r["model"]): r for r in plan.ratings.to_dict("records")}
    weekly, daily = rows["weekly", "joint"], rows["daily", "joint"]
    size = f"{count(int(weekly['people']), 'person', 'people')} and {count(int(weekly['weeks']), 'week')}"
    if not (weekly["fitted"] and daily["fitted"]):
        return (f"With {size}, weekly and daily ratings could not be compared: no interval came out with rating error allowed for.",)  # fmt: skip
    mixed, both = [[rows[how, model] for how in RHYTHMS] for model in ("mixed", "both")]
    return (
        f"With {size}, {_widths(weekly, daily)}, rating error allowed for.",
        f"Where the true difference is 0, {_seen(weekly)} rated weekly and {_seen(daily)} rated daily would still show one (Monte Carlo error {_error(weekly, daily)}).",
        f"{_answer(plan.assumptions)}, ratings as they are would show one in {_seen(mixed[0])} rated weekly and {_seen(mixed[1])} daily (Monte Carlo error {_error(*mixed)}).",
        f"Both readings at once would show one in {_seen(both[0])} rated weekly and {_seen(both[1])} rated daily (Monte Carlo error {_error(*both)}). A report stays undecided where they read differently.",
    )


def _absent(plan: Plan) -> str:
    people, weeks = max(((n, t) for n, t in zip(plan.table["people"], plan.table["weeks"], strict=True)), key=lambda s: (s[0] * s[1], s))  # fmt: skip
    why = why_not(plan.study, int(people), int(weeks))
    if why:
        return f"Weekly and daily ratings were not compared: {why}."
    return f"Weekly and daily ratings were not compared in this run; that takes {FEWEST} caseloads or more (--rating-caseloads, `rating_caseloads`)."


def _widths(weekly: dict[Any, Any], daily: dict[Any, Any]) -> str:
    gain = float(fixed(weekly["width"], 2)) - float(fixed(daily["width"], 2))
    off = (weekly["width_error"] ** 2 + daily["width_error"] ** 2) ** 0.5
    error = f"{off:.2f}" if off >= 0.005 else "below 0.01"
    told = f"It would be {fixed(daily['width'], 2)} points wide with daily ratings and {fixed(weekly['width'], 2)} with weekly ones"
    if abs(gain) < 0.005:
        return (
            f"a typical interval would be as wide with daily as with weekly ratings (Monte Carlo error {error}). {told}"
        )
    way = "narrower" if gain > 0 else "wider"
    return f"daily instead of weekly ratings would make a typical interval {fixed(abs(gain), 2)} points {way} (Monte Carlo error {error}). {told}"


def _answer(a: Assumptions) -> str:
    if a.feedback == 0:
        return "With load that does not answer pain"
    return f"With load {abs(100 * a.feedback):g} % {'lower' if a.feedback > 0 else 'higher'} per point of pain"


def _seen(row: dict[Any, Any]) -> str:
    """How many show a difference: of 100, and of those simulated where they are few."""
    n = row["caseloads"] if row["caseloads"] < FEW else 100
    return f"{n * row['p_excludes_zero']:.0f} of {n}"


def _error(*rows: dict[Any, Any]) -> str:
    return f"{100 * max(r['p_excludes_zero_error'] for r in rows):.0f} of 100"

"""What a caseload teaches about flare-ups, plans and events beside its report, in sentences for notebooks:
each from the caseload's own numbers, in its own steps and variables.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from lagwise.core.effects import PER_UNIT
from lagwise.core.errors import LagwiseError
from lagwise.core.followed import Followed
from lagwise.core.numbers import decimals, fixed, people_said, per_hundred, plural, signed, span
from lagwise.core.results import Caseload, Fit, Panel
from lagwise.core.study import INTERVAL
from lagwise.core.words import PAIN_ADJUSTED, capital
from lagwise.document.markdown import Answer
from lagwise.planning.grid import Plan
from lagwise.say.changes.kinds import event
from lagwise.say.phrases import difference, interval_of, listed
from lagwise.say.voice import Voice

REAL = "Whether the interval holds the truth cannot be looked up"
ESTIMATORS = {"flare": "the onset model", "clogit": "each person against themselves"}


def chances(panel: Panel, flares: Fit) -> pd.DataFrame:
    """How probable an onset is after the steps of the planned contrast and after those they are set against,
    each row named in words: probability, low and high.
    """
    v, risk = Voice.of(panel.study), flares.required().table("risk")
    usual = f"{v.steps} with {v.exposure} at the person's own average"
    against = v.steps_against(v.term) if v.primary.whole else usual
    words = {"reference": against, "contrast": v.planned, "difference": "difference"}
    return risk.assign(after=risk["what"].map(words))[["after", "probability", "low", "high"]]


def ratios(panel: Panel, flares: Fit) -> pd.DataFrame:
    """The adjusted odds ratios of the planned contrast by model and by what is held equal, in words, with
    interval and size.
    """
    v, rows = Voice.of(panel.study), _ratios(Voice.of(panel.study), flares)
    held = {name: text.format(outcome=v.asked, step=v.step) for name, text in PAIN_ADJUSTED.items()}
    told = rows.assign(model=rows["engine"].map(ESTIMATORS), held_equal=rows["pain_adjusted"].map(held))
    return told[["model", "held_equal", "estimate", "low", "high", "n_people", "n_steps"]]


def _ratios(v: Voice, flares: Fit) -> pd.DataFrame:
    rows = flares.required().effects
    rows = rows[(rows["term"] == v.term) & (rows["scale"] == "odds_ratio") & (rows["contrast"] != PER_UNIT)]
    return rows[(rows["adjustment"] == "adjusted") & rows["estimate"].notna()]


def odds(panel: Panel, flares: Fit) -> Answer:
    """The odds ratios of the primary exposure by either model, and whether their intervals include 1."""
    v = Voice.of(panel.study)
    rows = _ratios(v, flares).drop_duplicates("engine")
    if rows.empty:
        return Answer(f"Neither model gives an odds ratio for {v.planned}.")
    lines = []
    for r in rows.to_dict("records"):
        places = max(1, min(2, decimals(r["low"], r["high"])))
        lines.append(
            f"- By {ESTIMATORS[r['engine']]} the odds ratio is {fixed(r['estimate'], places)} "
            f"(95 % interval {span(r['low'], r['high'], places)}; {_behind(r, v)})."
        )
    open_ = rows["low"].le(1) & rows["high"].ge(1)
    whose, s = ("Both intervals", "") if len(open_) > 1 else ("The interval", "s")
    ending = f"{whose} include{s} 1: more {v.turns}, fewer and as many all fit."
    if not open_.any():
        ending = f"{whose} leave{s} out 1."
    elif not open_.all():
        ending = "One interval includes 1 and the other does not: it hangs on the comparison."
    head = f"{capital(v.planned)}, against {v.steps_against(v.term)}:"
    return Answer("\n\n".join([head, "\n".join(lines), ending]))


def _behind(row: Any, v: Voice) -> str:
    return f"{people_said(row['n_people'])}, {plural(row['n_steps'], f'person-{v.step}')}"


def foreseen(panel: Panel, flares: Fit) -> Answer:
    """Whether the flare model foresees better than the base rate, and whether the exposure adds to it."""
    v, table = Voice.of(panel.study), flares.required().table("prediction")
    rows = {r["predictor"]: r for r in table.to_dict("records")}
    model, plain, without = rows["model"], rows["base rate"], rows.get("model without load")
    better = plain["brier_more_low"] > 0
    than = f"giving every {v.step} the same chance"
    verdict = f"So the model foresees better than {than}." if better else ""
    if not better:
        worse = plain["brier_more_high"] < 0
        verdict = f"So {than} foresees better." if worse else f"So it is not shown to be better than {than}."
    said = [
        f"For people whom the model has not seen, its Brier score is {fixed(model['brier'], 4)} "
        f"({_behind(model, v)}). That of the base rate is {_more(plain)}. {verdict}"
    ]
    if without is not None and without["brier_more_low"] == without["brier_more_low"]:
        adds = "adds" if without["brier_more_low"] > 0 else "is not shown to add"
        said.append(f"Without {v.exposure} it is {_more(without)}: {v.exposure} {adds} to the guess.")
    return Answer(" ".join(said))


def _more(row: Any) -> str:
    """'0.0008 less (95 % interval 0.0019 less to 0.0004 more)'."""
    value, low, high = (_side(row[name]) for name in ("brier_more", "brier_more_low", "brier_more_high"))
    return f"{value} (95 % interval {low} to {high})"


def _side(value: float) -> str:
    size = fixed(abs(value), 4)
    return f"{size} {'more' if value >= 0 else 'less'}" if float(size) else "0"


def alarms(flares: Fit) -> Answer:
    """How often intervals leave out an odds ratio of 1, by the truth of the simulated caseloads.

    Raises
    ------
    LagwiseError
        When none were simulated, as without loads.
    """
    if "bias_at_this_size" not in flares.required().tables:
        raise LagwiseError("no caseloads of this size were simulated, for want of loads")
    table = flares.table("bias_at_this_size").dropna(subset=["excludes_zero"])
    table = table.assign(error=(table["excludes_zero"] * (1 - table["excludes_zero"]) / table["runs"]) ** 0.5)
    lines = [
        f"- {capital(str(estimator))}: {' and '.join(_of_truth(r) for r in rows.to_dict('records'))}."
        for estimator, rows in table.groupby("estimator", sort=False)
    ]
    head = (
        "Intervals that leave out an odds ratio of 1, of 100 simulated caseloads (\u00b1 Monte Carlo error):"
    )
    ending = (
        f"With no association these are false alarms, and {100 * (1 - INTERVAL):.0f} of 100 are to be "
        "expected. With the one estimated they are the chance to see it at this size."
    )
    return Answer("\n\n".join([head, "\n".join(lines), ending]))


def _of_truth(row: Any) -> str:
    which = "no association" if row["truth"] == "no association" else "the one estimated"
    return f"with {which} {per_hundred(row['excludes_zero'])} (\u00b1 {per_hundred(row['error'])})"


def put_in(caseload: Caseload, found: Fit | pd.DataFrame) -> Answer:
    """What part load was given in an invented caseload, and whether intervals hold it; else that nobody can
    know.

    `found` is the flare model's fit, or a frame with low and high of load's part in points per log unit, one
    row for each way of estimating it.
    """
    from lagwise.synthetic import truth_beside

    v = Voice.of(caseload.study)
    try:
        part = float(truth_beside(caseload)["structural"]["jump"])
    except (LagwiseError, KeyError) as error:
        return Answer(f"{REAL}: {error}.")
    half = signed(part * math.log(1.5), 2)
    size = f"{half} points for 50 % more load ({signed(part, 1)} per log unit)" if part else "none"
    told = _turns(part, found, v) if isinstance(found, Fit) else _held(part, found)
    return Answer(
        "This caseload is invented, and its truth lies beside it (`truth.json`). "
        f"The part that load was given in next week's pain: {size}. {told}"
    )


def _held(part: float, found: pd.DataFrame) -> str:
    holds = found["low"].le(part) & found["high"].ge(part)
    names = [f"`{name}`" for name in found.index]
    if holds.all():
        return f"The interval holds it by {listed(names)}."
    if not holds.any():
        return f"The interval does not hold it by {listed(names)}, as happens to 5 of 100."
    return f"The interval holds it by {listed([n for n, h in zip(names, holds, strict=True) if h])} alone."


def _turns(part: float, flares: Fit, v: Voice) -> str:
    gap = flares.required().table("risk").set_index("what").loc["difference"]
    includes = "includes" if gap["low"] <= 0 <= gap["high"] else "leaves out"
    if not part:
        return f"So in truth load brings no {v.turn} nearer; the interval {includes} 0."
    few = f": so few {v.turns} do not tell it from none" if includes == "includes" else ""
    return f"So in truth there is a difference in {v.turns}. The interval {includes} 0{few}."


def short_records(plan: Plan) -> Answer:
    """What the smallest record of a plan leaves open, whatever the truth."""
    people, weeks = min(zip(plan.table["people"], plan.table["weeks"], strict=True))
    rows = plan.table[(plan.table["people"] == people) & (plan.table["weeks"] == weeks)]
    shares = [per_hundred(share) for share in rows["p_open"] + rows["p_partly"]]
    low, high = min(shares, key=float), max(shares, key=float)
    open_, most = low if low == high else f"{low} to {high}", per_hundred(0.5 / plan.caseloads**0.5)
    return Answer(
        f"With {_size(rows.iloc[0])}, {open_} of 100 intervals leave the size open, by the true difference "
        f"(Monte Carlo error at most {most} of 100)."
    )


def shortfall(plan: Plan) -> Answer:
    """How far estimates miss the largest true difference with most people; how often intervals hold it."""
    table, v = plan.table, Voice.of(plan.study)
    places = v.outcome.places
    far = max(table["effect"], key=abs)
    rows = table[(table["effect"] == far) & (table["people"] == table["people"].max())]
    lines = []
    for r in rows.sort_values("weeks").to_dict("records"):
        way = "short of it" if r["bias"] * far < 0 else "beyond it"
        lines.append(
            f"- With {_size(r)}, estimates lie {fixed(abs(r['bias']), places)} {v.unit} {way} "
            f"(\u00b1 {fixed(r['bias_error'], places + 1)}). Intervals are {fixed(r['width'], places)} wide, "
            f"and {per_hundred(r['coverage'])} of 100 (\u00b1 {per_hundred(r['coverage_error'])}) hold it."
        )
    head = f"A true difference of {v.amount(far)}, on average (\u00b1 Monte Carlo error):"
    return Answer("\n\n".join([head, "\n".join(lines), _longer(rows.sort_values("weeks"))]).strip())


def _longer(rows: pd.DataFrame) -> str:
    """What the longer record does to coverage, where it is told from chance."""
    if len(rows) < 2:
        return ""
    first, last = rows.iloc[0], rows.iloc[-1]
    gap = last["coverage"] - first["coverage"]
    told = abs(gap) > 2 * (first["coverage_error"] ** 2 + last["coverage_error"] ** 2) ** 0.5
    often = ("less often" if gap < 0 else "more often") if told else "about as often"
    return f"In the longer record the narrower intervals hold it {often}."


def gaps(plan: Plan, other: Plan) -> Answer:
    """What more missing weeks do to a size and a true difference that two plans share."""
    there = other.table.iloc[0]
    key = ["people", "weeks", "effect"]
    here = plan.table[(plan.table[key] == there[key]).all(axis=1)].iloc[0]
    v = Voice.of(plan.study)
    lines = [
        f"- {per_hundred(p.assumptions.missing_weeks)} of 100 weeks missing: of "
        f"{r['people'] * r['weeks']:.0f} person-weeks {r['person_weeks']:.0f} can be used. A typical "
        f"interval is {fixed(r['width'], v.outcome.places)} {v.unit} wide "
        f"(\u00b1 {fixed(r['width_error'], v.outcome.places + 1)})."
        for p, r in ((plan, here), (other, there))
    ]
    return Answer("\n\n".join([f"With {_size(there)} (\u00b1 Monte Carlo error):", "\n".join(lines)]))


def _size(row: Any) -> str:
    return f"{plural(int(row['people']), 'person', 'people')} and {plural(int(row['weeks']), 'week')}"


def beside_truth(caseload: Caseload, found: Sequence[Followed]) -> Answer:
    """What followed events beside the truth of an invented caseload, and whether the intervals hold it."""
    from lagwise.synthetic import changes_beside

    try:
        rows = changes_beside(caseload)
    except LagwiseError as error:
        return Answer(f"{REAL}: {error}.")
    head = "This caseload is invented, and its truth lies beside it (`truth.json`)."
    told = [
        _beside(one, rows[(rows["event"] == one.kind) & (rows["rating"] == one.outcome.name)])
        for one in found
    ]
    return Answer("\n\n".join([head, "\n".join(f"- {text}" for text in told)]))


def _beside(found: Followed, rows: pd.DataFrame) -> str:
    what, unit = found.outcome.label, f"{found.outcome.unit}s"
    if rows.empty:
        return f"{capital(what)} after {event(found.kind)}: it holds no truth of that."
    true = float(rows["true difference"].iloc[0])
    size = difference(true, 1, unit) if round(true, 1) else "as without it"
    said = f"In truth, {what} after {event(found.kind)} is {size}."
    means = found.effects[found.effects["contrast"].astype(str).str.startswith("mean")]
    for name in ("doubly robust", "before and after"):
        own = means[means["model"] == name].dropna(subset=["low", "high"])
        if len(own):
            low, high = (float(own[end].iloc[0]) for end in ("low", "high"))
            holds = "holds" if low <= true <= high else "does not hold"
            said += f" The {interval_of(low, high, None, unit)} of `{name}` {holds} that."
    return said

"""What a simulated record and those like it tell, in words and as pictures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import pandas as pd

from lagwise.core.claim import Measured
from lagwise.core.numbers import MINUS, plural, signed
from lagwise.core.results import Challenges, Picture
from lagwise.core.study import INTERVAL
from lagwise.core.words import capital
from lagwise.models.mixed import fit_mixed
from lagwise.planning.summary import share
from lagwise.planning.what_if import STUDY, Settings, WhatIf
from lagwise.say.challenge import challenge
from lagwise.say.phrases import fixed, said, sample
from lagwise.say.plan import number, question
from lagwise.say.report.closest import ENDED
from lagwise.say.report.wording import kind_of

ATTEMPTS = ("same_week_answer", "rating_error", "shuffled_load")
READINGS = {"same_week_answer": "same", "rating_error": "joint"}
"""Numbers of the attempts that are estimates of another kind, and are drawn beside the first."""
SHOWN = 50
"""Records drawn; counted are all."""
LABELS: Mapping[str, str] = {
    "people": "People",
    "weeks": "Weeks",
    "missing_weeks": "Missing weeks (share)",
    "difference": "True difference (points)",
    "feedback": "Feedback (share)",
    "rating_error": "Rating error (SD, points)",
    "unrecorded": "Unrecorded cause (points)",
    "together": "Weeks, with feedback {feedback:g} and rating error {rating_error:g}",
}
BUTTON = "Another record"
UNRUN = "The sliders appear when the cell is run."
WAITS = "The attempts to break it are being worked out."
NOTHING = "Nothing is estimated from so few weeks."
READS = {
    "higher": "higher",
    "lower": "lower",
    "small_higher": "higher, by less than {zero}",
    "small_lower": "lower, by less than {zero}",
    "practically_none": "practically none",
    "undecided": "undecided",
}
KEYS = {
    "own": "this record",
    "same": "same week",
    "joint": "rating error allowed for",
    "held": "record like it",
    "missed": "one that misses the true difference",
    "truth": "true difference",
    "typical": "mean estimate and typical interval",
}


def attempts(found: WhatIf) -> Challenges | None:
    """Attempts to break this record's result, None where there is no result."""
    if math.isnan(found.estimate):
        return None
    fit = fit_mixed(found.panel)
    return challenge(found.panel, fit, only=ATTEMPTS, quick=True) if fit.usable else None


def told(found: WhatIf, records: pd.DataFrame, tried: Challenges | None) -> Iterator[str]:
    """What this record says, how often the records drawn so far hold the truth and leave out 0, and how the
    attempts ended.
    """
    if math.isnan(found.estimate):
        yield NOTHING
        return
    outcome = STUDY.outcome
    own = Measured(found.estimate, f"{outcome.variable.unit}s", found.low, found.high)
    kind = kind_of(found.low, found.high, outcome.zero)
    behind = sample(Measured(0, "", people=found.people, steps=found.steps), STUDY.step)
    yield (
        f"This record ({behind}): {said(own)}; put in: {number(found.truth)}. It reads "
        f"{READS[kind].format(zero=outcome.amount(outcome.zero))}."
    )
    known = records.dropna(subset=["estimate"])
    holds, leaves = _shares(known, found.truth)
    holding = plural(_of(holds, len(known)), "interval holds", "intervals hold")
    yield (
        f"Of {plural(len(known), 'such record')} so far {holding} what was put in, and "
        f"{plural(_of(leaves, len(known)), 'leaves', 'leave')} out 0: {100 * leaves['p']:.0f} of 100, with a "
        f"Monte Carlo error of {100 * leaves['p_error']:.0f}."
    )
    for one in tried or ():
        yield f"{one.title}, {ENDED[one.verdict]}. {one.sentence}" + (
            f" {capital(one.problem)}" if one.problem else ""
        )


def _shares(known: pd.DataFrame, truth: float) -> tuple[dict[str, float], dict[str, float]]:
    holds = (known["low"] <= truth) & (known["high"] >= truth)
    return share("p", holds), share("p", (known["low"] > 0) | (known["high"] < 0))


def _of(found: dict[str, float], n: int) -> int:
    return round(found["p"] * n)


def picture(found: WhatIf, records: pd.DataFrame, tried: Challenges | None) -> Picture:
    """Kind 'what_if': this record's readings (rows with a label), then the last records like it."""
    rows = [{"label": KEYS["own"], **_ends(found.estimate, found.low, found.high)}]
    for one in tried or ():
        key = READINGS.get(one.name)
        if key and one.claim is not None and key in one.claim.measured:
            n = one.claim[key]
            rows.append({"label": KEYS[key], **_ends(n.value, n.low, n.high)})
    last = records.dropna(subset=["estimate"]).tail(SHOWN)
    drawn = pd.DataFrame(
        rows + [{"label": "", **r} for r in last[["estimate", "low", "high"]].to_dict("records")]
    )
    s = found.settings
    each = "; ".join(f"{r['label']}: {_interval(r)}" for r in rows)
    size = f"{plural(s.people, 'person', 'people')} followed for {plural(s.weeks, STUDY.step)}"
    return Picture(
        "what_if", f"{size}: {_interval(rows[0])}", drawn, "", f"difference, {STUDY.outcome.variable.unit}s",
        f"{capital(each)}. True difference {number(found.truth)}. Beside it "
        f"{plural(len(last), 'interval')} of records like it.",
        {
            "subtitle": f"{question(STUDY)}; lines: {100 * INTERVAL:g} % intervals; grey: practically zero",
            "truth": found.truth, "zero": STUDY.outcome.zero, "keys": dict(KEYS),
        },
    )  # fmt: skip


def _ends(estimate: float, low: float, high: float) -> dict[str, float]:
    return {"estimate": estimate, "low": low, "high": high}


def _interval(row: dict) -> str:
    if any(math.isnan(row[k]) for k in ("estimate", "low", "high")):
        return "nothing estimated"
    estimate, low, high = (signed(float(row[k]), 2) for k in ("estimate", "low", "high"))
    return f"{estimate} ({low} to {high})"


def grid_picture(grid: pd.DataFrame) -> Picture:
    """Kind 'what_if_grid': a panel for each setting that is moved, mean estimate and typical interval at each
    of its values, and of 100 intervals those that leave out 0.
    """
    rows = []
    for moved, own in grid.groupby("moved", sort=False):
        first = own.iloc[0]
        value = "weeks" if moved == "together" else str(moved)
        heading = LABELS[str(moved)].format_map(first)
        for r in own.to_dict("records"):
            rows.append({
                "group": heading, "label": f"{r[value]:g}".replace("-", MINUS), "estimate": r["mean"],
                "low": r["mean"] - r["width"] / 2, "high": r["mean"] + r["width"] / 2,
                "truth": r["difference"], "share": 100 * r["p_excludes_zero"],
            })  # fmt: skip
    data = pd.DataFrame(rows)
    base, caseloads = Settings(), int(grid["caseloads"].iloc[0])
    error = 100 * grid["p_excludes_zero_error"].max()
    told = "; ".join(
        f"{heading}: "
        + ", ".join(
            f"{r['label']}: {_interval(r)}, {r['share']:.0f} of 100 leave out 0"
            for r in own.to_dict("records")
        )
        for heading, own in data.groupby("group", sort=False)
    )
    return Picture(
        "what_if_grid", "What moves the estimate, and what only narrows its interval", data, "",
        f"difference, {STUDY.outcome.variable.unit}s",
        f"Mean estimate and typical interval of simulated records. {told}.",
        {
            "subtitle": f"{caseloads} simulated records at each value, the others at {base.people} people, "
            f"{base.weeks} weeks, {100 * base.missing_weeks:g} of 100 weeks missing, a true difference of "
            f"{number(base.difference)}, no feedback, a rating error of {fixed(base.rating_error, 1)} and no "
            "unrecorded cause; numbers above: of 100 intervals those that leave out 0 (Monte Carlo error at "
            f"most {error:.0f})",
            "keys": dict(KEYS),
        },
    )  # fmt: skip

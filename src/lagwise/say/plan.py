"""A plan in words: the public `plan`, its figure, and how its chances are to be read."""

from __future__ import annotations

from functools import wraps
from typing import Any

import pandas as pd

from lagwise.core.effects import contrast_label
from lagwise.core.results import Picture
from lagwise.core.study import INTERVAL, Study
from lagwise.planning import grid
from lagwise.say.phrases import MINUS, fixed, plural
from lagwise.say.plan_assumed import assumed, rhythm
from lagwise.say.voice import Voice

LIMITS = (
    "These are chances in simulated weeks. They hold as far as the assumptions do, say nothing about any "
    "real person, and are no advice on how many people or weeks to record."
)
COLUMNS = (
    "people",
    "weeks",
    "effect",
    "width",
    "p_beyond",
    "p_partly",
    "p_open",
    "p_within",
    "p_no_interval",
)
PAGE = {
    "title": "{title}: what a record could tell",
    "lead": "Simulated records for the question: {question}.",
    "answers": "What the intervals say",
    "records": "What is recorded",
    "rhythm": "Weekly or daily ratings",
    "reading": "How to read this",
    "assumed": "What was assumed",
    "end": "Seed {seed}, {caseloads} caseloads per cell; every number with its Monte Carlo error is in "
    "plan.csv.",
}
"""Headings and standing sentences of a plan's page."""
CAPTIONS = {
    "intervals": "What the interval says, of 100 simulated caseloads; truth, width and bias in points",
    "recorded": "What is recorded: usable person-weeks; weeks before a flare-up, in brackets the middle 80 "
    "of 100 caseloads, and people with one; of 100, how often there is enough for a flare model; "
    "the gate that most reach, in brackets how many of 100 where not all",
    "ratings": "Weekly and daily ratings of the same simulated weeks, true difference 0; width in points; "
    "not 0 and its Monte Carlo error of 100 caseloads",
}
READ_AS = {
    "mixed": "ratings as they are (mixed model)",
    "joint": "rating error allowed for (joint model)",
    "both": "both, on the same side of 0",
}


class Plan(grid.Plan):
    """What `plan` found, as `lagwise.planning.Plan`, with its words."""

    @property
    def picture(self) -> Picture:
        """The grid as a figure's plain data; `lagwise.figure(plan)` draws it."""
        return grid_picture(self)

    @property
    def assumed(self) -> tuple[str, ...]:
        """What was assumed, in sentences."""
        return assumed(self.study, self.assumptions)

    @property
    def rhythm(self) -> tuple[str, ...]:
        """What daily instead of weekly ratings would change at the largest size, in sentences; or why that is
        not known.
        """
        return rhythm(self)

    @property
    def notes(self) -> tuple[str, ...]:
        """How to read the chances, with what this grid cannot show."""
        return notes(self)


@wraps(grid.plan)
def plan(*args: Any, **given: Any) -> Plan:
    """As `lagwise.planning.plan`, with words."""
    return Plan(**vars(grid.plan(*args, **given)))


def question(study: Study) -> str:
    """The difference asked about, in the middle of a sentence."""
    plan, v = study.analysis, Voice.of(study)
    label = contrast_label(plan.primary, plan.primary_contrast)
    if study.variables[plan.primary].whole:
        which = "below" if plan.primary_contrast < 0 else "above"
        how = f"{label.lstrip('+-')} {which} the usual load"
        return f"{v.then_asked} after {v.steps} trained {how}, against {v.steps} at it"
    exposure = study.variables[plan.primary]
    plural = "" if abs(plan.primary_contrast) == 1 else "s"
    return (
        f"{v.then_asked} after {v.steps} with {exposure.label} {label} {exposure.unit}{plural} from the "
        "person's own average, against that average"
    )


def notes(plan: grid.Plan) -> tuple[str, ...]:
    """How the columns are to be read, on this grid."""
    zero, table, unit = plan.study.outcome.zero, plan.table, Voice.of(plan.study).unit
    width = f"{100 * INTERVAL:g} %"
    out = [
        f"Each cell: {plan.caseloads} simulated caseloads, each analysed by the mixed model of a report, "
        f"ratings taken as they are; the interval is its {width} interval for {question(plan.study)}, in "
        f"{unit}.",
        f"Practically zero is {zero:g} {unit} either way. 'Beyond' means that the whole interval lies "
        "outside that range, 'within' that the whole interval lies inside it.",
    ]
    edge = [e for e in dict.fromkeys(table["effect"]) if 0 < abs(e) <= zero]
    if edge:
        those = " and ".join(f"{e:g}".replace("-", "\u2212") for e in edge)
        out.append(
            f"A true difference of {those} lies inside that range or on its edge, so that intervals are "
            "hardly ever beyond it, however many people there are; 'not 0' says how often they leave out 0 "
            "itself."
        )
    worst = (
        100
        * table[["p_beyond_error", "p_within_error", "p_excludes_zero_error", "coverage_error"]].max().max()
    )
    error = table["bias_error"].max()
    out.append(
        "Monte Carlo error, how far a figure typically lies from what endless caseloads would give (one "
        f"standard error): at most {worst:.1f} of 100 for chances"
        + (f" and {error:.3f} {unit} for the bias." if error == error else ".")
        + " Bias is the mean estimate minus the difference put in; ratings in whole points, the ends of the "
        "scale, short records and load that answers pain all take part in it."
    )
    out.append(
        "Gates: describe (fewer than 5 people with enough weeks), nothing is estimated; exploratory (5 to "
        "9), within people only; small (10 to 29), no claim between people; full (30 and more)."
    )
    if (table["p_no_interval"] > 0.005).any():
        out.append(
            "Where fewer than 5 people have enough weeks, or the weeks are too few for the model, nothing "
            "is estimated; the other chances count such records as well."
        )
    if further := plan.study.further:
        also = "; ".join(Voice.of(study).asks for study in further)
        out.append(f"Asked as well by the plan, and not simulated here: {also}.")
    out.append(LIMITS)
    return tuple(out)


def grid_picture(plan: grid.Plan) -> Picture:
    """Kind 'grid': one bar per cell that splits 100 simulated caseloads by what their interval says, with the
    typical width of the interval above it.
    """
    table, study, v = plan.table, plan.study.analysis, Voice.of(plan.study)
    zero = f"{plan.study.outcome.zero:g}"
    known = (
        table.dropna(subset=["width"]).sort_values("width", ascending=False, kind="stable").to_dict("records")
    )
    if not known:
        title = "No cell of this grid gives an interval"
    else:
        first, last = known[0], known[-1]
        title = f"A typical interval is {_wide(first['width'], v)} wide with {_size(first)}"
        if first["width"] > last["width"]:
            title += f", {_wide(last['width'], v)} with {_size(last)}"
    return Picture(
        "grid",
        title,
        pd.DataFrame(table[list(COLUMNS)]),
        f"{v.steps} that each may be followed",
        "people",
        f"Grid of simulated records, {plural(len(table), 'cell')}. "
        + " ".join(_cell_text(r, v) for r in table.to_dict("records")),
        {
            "subtitle": f"{plan.caseloads} simulated caseloads per cell; differences in {v.then_asked} in "
            f"{v.unit} per {contrast_label(study.primary, study.primary_contrast)}; a bar is 100 caseloads "
            "by what their interval says, the figure above it the interval's typical width",
            "labels": {
                "p_beyond": f"wholly beyond {zero} {v.unit}",
                "p_partly": "leaves out 0, size open",
                "p_open": "includes 0, size open",
                "p_within": f"wholly within {zero} {v.unit}",
                "p_no_interval": "no interval",
            },
        },
    )


def number(value: float) -> str:
    """A number with its sign, without needless zeros; 0 has none."""
    return f"{value:+g}".replace("-", MINUS) if value else "0"


def _wide(width: float, v: Voice) -> str:
    return (
        f"{fixed(width, 1 if width >= 10 else v.outcome.places)} points"
        if width < 100
        else "more than 100 points"
    )


def _size(row: dict) -> str:
    return f"{plural(int(row['people']), 'person', 'people')} and {plural(int(row['weeks']), 'week')}"


def _cell_text(r: dict, v: Voice) -> str:
    people, weeks = plural(r["people"], "person", "people"), plural(r["weeks"], "week")
    size = f"{people}, {weeks}, true difference {number(r['effect'])}"
    if r["p_no_interval"] > 0.995:
        return f"{size}: nothing is estimated."
    share = {k: f"{100 * r[k]:.0f}" for k in ("p_beyond", "p_partly", "p_open", "p_within")}
    return (
        f"{size}: interval {_wide(r['width'], v)} wide; of 100, {share['p_beyond']} beyond practically zero, "
        f"{share['p_partly']} leaving out 0 but of open size, {share['p_open']} including 0 and open, "
        f"{share['p_within']} within practically zero."
    )

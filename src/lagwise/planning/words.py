"""What planning assumed and how its chances are to be read, in sentences; nothing here says what anybody
should do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from lagwise.core.effects import contrast_label
from lagwise.core.study import INTERVAL, Study
from lagwise.core.terms import EXPOSURES
from lagwise.planning.assumptions import STRUCTURAL, Assumptions
from lagwise.synthetic.spec import Spec

if TYPE_CHECKING:
    from lagwise.planning.grid import Plan

LIMITS = (
    "These are chances in simulated weeks. They hold as far as the assumptions do, say nothing about any real person, and are no advice on how "
    "many people or weeks to record."
)
_PARTS = {"effort": "effort", "stress": "stress", "sleep_hours": "sleep", "worry": "worry"}
_RATES = {
    "mixed": "Of 100 people 40 rate daily, 30 on three days and 30 once a week",
    "daily": "Everybody rates daily",
    "some_days": "Everybody rates on three days of the week",
    "weekly": "Everybody rates once, at the end of the week",
}


def question(study: Study) -> str:
    """The difference asked about, in the middle of a sentence."""
    plan = study.analysis
    label = contrast_label(plan.primary, plan.primary_contrast)
    if study.variables[plan.primary].whole:
        which = "below" if plan.primary_contrast < 0 else "above"
        return f"next week's pain after weeks trained {label.lstrip('+-')} {which} the usual load, against weeks at it"
    exposure = EXPOSURES[plan.primary]
    plural = "" if abs(plan.primary_contrast) == 1 else "s"
    return f"next week's pain after weeks with {exposure.label} {label} {exposure.unit}{plural} from the person's own average, against that average"


def assumed(study: Study, a: Assumptions) -> tuple[str, ...]:
    """The assumptions behind the simulated records, one sentence each, the ones that move the answer most
    first.
    """
    spec, out = Spec(), []
    out.append(
        f"Pain: people's own levels lie around {a.pain_level:g} of 10 (SD {spec.pain_level_sd:g} between people); a week carries {spec.carry_over:g} of what the week before stood "
        f"above that level, and moves by {a.pain_sd:g} points (SD) for no recorded reason. In {100 * spec.burst_chance:g} of 100 weeks it stands {spec.burst_size:g} points higher without any."
    )
    out.append(
        f"Load: differs by {a.load_sd:g} (SD on the log scale, near {100 * a.load_sd:.0f} %) from week to week around a plan of four to six weeks that ends in an easy one; "
        f"{100 * spec.holiday:g} of 100 weeks are rest."
    )
    if a.feedback == 0:
        out.append("Load does not answer pain.")
    else:
        which = "lower" if a.feedback > 0 else "higher"
        out.append(
            f"Load answers pain: it is {abs(100 * a.feedback):g} % {which} per point of pain above the person's own level."
        )
    often = ", more often when it hurts more" if a.missing_weeks else ""
    out.append(
        f"Gaps: in {100 * a.missing_weeks:g} of 100 weeks neither ratings nor training are written down{often}; of those who are still there, {100 * a.leaving:g} of 100 leave in each week from the seventh on. A week that is written down is written down whole."
    )
    out.append(
        f"Ratings: {_RATES[a.ratings]}, in whole points that gather at 0, 5 and 10. Before rounding, a rating for the whole week strays from its pain by {a.weekly_rating_sd:g} points (SD), a day's rating by {a.daily_rating_sd:g}."
    )
    if study.variables[study.analysis.primary].whole:
        out.append(f"People differ: the difference asked about varies by {a.effect_sd:g} points (SD) between people, around the one of the grid.")  # fmt: skip
    others = [t for t in study.analysis.exposures if t in _PARTS and t != study.analysis.primary]
    if others:
        said = ", ".join(f"{_PARTS[t]} {getattr(spec, STRUCTURAL[t]):+g}".replace("-", "\u2212") for t in others)
        out.append(f"Other exposures have small parts of their own in next week's pain, in points per unit: {said}.")
    out.append("Nothing that was not recorded moves load and pain at once. In a real record something may, and no number of people or weeks would take that away.")  # fmt: skip
    return tuple(out)


def notes(plan: Plan) -> tuple[str, ...]:
    """How the columns are to be read, on this grid."""
    zero, table = plan.study.outcome.zero, plan.table
    width = f"{100 * INTERVAL:g} %"
    out = [
        f"Each cell: {plan.caseloads} simulated caseloads, each analysed by the mixed model of a report, ratings taken as they are; the interval is its {width} interval for {question(plan.study)}, in points.",
        f"Practically zero is {zero:g} points either way. 'Beyond' means that the whole interval lies outside that range, 'within' that the whole interval lies inside it.",
    ]
    edge = [e for e in dict.fromkeys(table["effect"]) if 0 < abs(e) <= zero]
    if edge:
        those = " and ".join(f"{e:g}".replace("-", "\u2212") for e in edge)
        out.append(
            f"A true difference of {those} lies inside that range or on its edge, so that intervals are hardly ever beyond it, however many people there are; 'not 0' says how often they leave out 0 itself."
        )
    worst = 100 * table[["p_beyond_error", "p_within_error", "p_excludes_zero_error", "coverage_error"]].max().max()
    error = table["bias_error"].max()
    out.append(
        f"Monte Carlo error, how far a figure typically lies from what endless caseloads would give (one standard error): at most {worst:.1f} of 100 for chances"
        + (f" and {error:.3f} points for the bias." if error == error else ".")
        + " Bias is the mean estimate minus the difference put in; ratings in whole points, the ends of the scale, short records and load that answers pain all take part in it."
    )
    out.append(
        "Gates: describe (fewer than 5 people with enough weeks), nothing is estimated; exploratory (5 to 9), within people only; small (10 to 29), no claim between people; full (30 and more)."
    )
    if (table["p_no_interval"] > 0.005).any():
        out.append("Where fewer than 5 people have enough weeks, or the weeks are too few for the model, nothing is estimated; the other chances count such records as well.")  # fmt: skip
    out.append(LIMITS)
    return tuple(out)

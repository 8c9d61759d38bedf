"""Names that tables, figures and write-up share: a calendar step, engines, exposures, contrasts, verdicts."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from lagwise.core.variable import JUMP, PAIN, VARIABLES, WEEK, Variable

Spelling = Literal["british", "american"]

PER_SD, PER_UNIT, LOW_TO_HIGH = "per SD", "per unit", "usual low to usual high"
"""Contrasts beside the plan's: one within-person SD, one unit, two SDs around the usual."""

PAIN_ADJUSTED = {
    "before": "A: {outcome} rated before",
    "during": "B: {outcome} of the same {step}",
    "latent": "{outcome} behind the ratings of that {step}",
    "none": "no adjustment for {outcome}",
}
"""Which earlier value of what is asked about is held equal."""
VERDICT = {
    "holds": "Held",
    "does_not_hold": "Did not hold",
    "cannot_tell": "Cannot tell",
    "informative": "Informative",
}
NOT_RUN = {True: "Could not be run", False: "Not applicable"}
"""In the place of a verdict, by whether the challenge applies to the study at all."""


def ways(unit: str) -> tuple[str, str]:
    """Which way a quantity of that unit, in the plural, can differ: higher or lower, of hours longer or
    shorter.
    """
    return ("longer", "shorter") if unit == "hours" else ("higher", "lower")


def turns(variable: Variable) -> tuple[str, str]:
    """A turn for the worse of the plan's size, one and several: a flare-up of pain, else a rise or fall in
    what is rated.
    """
    if variable.flares:
        return "flare-up", "flare-ups"
    way = "fall" if variable.worse == "low" else "rise"
    return f"{way} in {variable.label}", f"{way}s in {variable.label}"


def on(step: str) -> str:
    """What stands before such a step: 'in' the next week, 'on' the next day."""
    return "on" if step == "day" else "in"


def outcome_label(column: str, variable: Variable | None = None, step: str = "step") -> str:
    """A column that a model explains, in words; `variable` is what is asked about, else the rating that the
    column is of."""
    asked = rated_in([column]) if variable is None else variable
    name, label, none = asked.name, asked.label, "no" if asked.flares else "the least"
    later, same, by = (
        f"{on(step)} the next {step}",
        f"{on(step)} the same {step}",
        label if asked.flares else "rating",
    )
    return {
        name: f"{label} {same}",
        f"{name}_next": f"{label} {later}",
        f"{name}_zero": f"{none} {label} {same}",
        f"{name}_zero_next": f"{none} {label} {later}",
        "flare_next": f"a {turns(asked)[0]} beginning {later}, by {by}",
        "flare_reported_next": f"a flare-up {later}, by the person's own word",
    }.get(column, column.replace("_", " "))


def rated_in(columns: Iterable[str], variables: Mapping[str, Variable] = VARIABLES) -> Variable:
    """The rating that columns of outcomes are of: the first that names one, pain where none does, as
    flare-ups alone.
    """
    for column in columns:
        name = column.removesuffix("_next").removesuffix("_zero")
        if name in variables or not column.startswith("flare_"):
            return variables.get(name) or Variable(name, name.replace("_", " "), "point", rated=True)
    return variables[PAIN]


def capital(text: str) -> str:
    """A text with its first letter in upper case."""
    return text[:1].upper() + text[1:]


def step_name(step_days: int) -> str:
    """What one calendar step is called: day, week, or step of so many days."""
    return {1: "day", 7: WEEK}.get(step_days, f"{step_days}-day step")


def exposure_label(term: str, variables: Mapping[str, Variable] = VARIABLES) -> str:
    """An exposure's plain name in the middle of a sentence."""
    if term == "log_usual":
        return "usual load"
    return variables[term].label if term in variables else term.replace("_", " ")


def slope_unit(term: str, variables: Mapping[str, Variable] = VARIABLES) -> tuple[float, str]:
    """The change of an exposure by which a reader is told a slope, on the model's scale and in words: twice
    the load over the usual, else one of its own units."""
    return (math.log(2), "for twice the load") if term == JUMP else (1.0, f"per {variables[term].unit}")


def column_label(name: str, variables: Mapping[str, Variable] = VARIABLES) -> str:
    """A model column's plain name: 'load jump', 'stress within people', 'usual load'."""
    for part in ("within", "between"):
        if name.endswith(f"_{part}"):
            return f"{exposure_label(name.removesuffix(f'_{part}'), variables)} {part} people"
    return exposure_label(name, variables)


def plain(column: str, variables: Mapping[str, Variable]) -> str:
    """A column's name without the suffix of its within part, 'sleep hours' for sleep_hours_within; of a
    rating of the study's own its label."""
    own = variables.get(name := column.removesuffix("_within"))
    return own.label if own is not None and own.own else name.replace("_", " ")


def exposure_unit(term: str, amount: float = 1, variables: Mapping[str, Variable] = VARIABLES) -> str:
    """A variable's own unit, in the plural unless the amount is 1."""
    if term == "near_failure_share":
        return ""
    unit = variables[term].unit if term in variables else "point"
    return unit if abs(amount) == 1 else unit + "s"


def in_percent(term: str, contrast: str) -> bool:
    """Whether a contrast is said as a percentage of the usual: a planned one of the load jump."""
    return term == JUMP and contrast not in (PER_SD, PER_UNIT, LOW_TO_HIGH)


def contrast_amount(
    term: str, contrast: str, size: float | None, variables: Mapping[str, Variable] = VARIABLES
) -> tuple[str, str]:
    """A contrast of that size on the model's scale as an amount with unit, and its side: ('1 point',
    'above'), ('50 %', 'above').
    """
    if contrast == PER_SD:
        return "one within-person standard deviation", "above"
    if contrast == LOW_TO_HIGH or size is None:
        return contrast, "above"
    percent = in_percent(term, contrast)
    value, unit = (100 * math.expm1(size), "%") if percent else (size, exposure_unit(term, size, variables))
    return f"{abs(value):g} {unit}".strip(), "below" if size < 0 else "above"


def steps_with(
    step: str, term: str, contrast: str, size: float | None, variables: Mapping[str, Variable] = VARIABLES
) -> str:
    """How the steps of a contrast are described: 'weeks trained 50 % above the usual load'."""
    amount, side = contrast_amount(term, contrast, size, variables)
    if term not in variables or not variables[term].whole:
        label = variables[term].label if term in variables else exposure_label(term)
        return f"{step}s with {label} {amount} {side} the person's own average"
    amount = "one log unit (e-fold)" if contrast == PER_UNIT else amount
    return f"{step}s trained {amount} {side} the usual load"


def steps_against(step: str, term: str, variables: Mapping[str, Variable] = VARIABLES) -> str:
    """What such steps are set against: 'weeks at the usual load', 'weeks at that average'."""
    whole = term in variables and variables[term].whole
    return f"{step}s at the usual load" if whole else f"{step}s at that average"


def short_contrast(
    term: str, contrast: str, size: float | None, variables: Mapping[str, Variable] = VARIABLES
) -> str:
    """A contrast in a table cell or on an axis: '+50 %', '+1 point', '+1 SD'."""
    if contrast == PER_SD:
        return "+1 SD"
    if contrast == LOW_TO_HIGH or size is None:
        return contrast
    amount, side = contrast_amount(term, contrast, size, variables)
    return ("+" if side == "above" else "\u2212") + amount


def clearness(term: str, contrast: str) -> int:
    """Place of a contrast where one of several is shown: a percentage first, then one SD, then the others."""
    return 0 if in_percent(term, contrast) else 1 if contrast == PER_SD else 2


def listed(items: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return "".join(items) if len(items) < 2 else f"{', '.join(items[:-1])} and {items[-1]}"

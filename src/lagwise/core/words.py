"""Names that tables, figures and write-up share: a calendar step, engines, exposures, contrasts, verdicts."""

from __future__ import annotations

import math

from lagwise.core.variable import VARIABLES

PER_SD, PER_UNIT, LOW_TO_HIGH = "per SD", "per unit", "usual low to usual high"
"""Contrasts beside the plan's: one within-person SD, one unit, two SDs around the usual."""

ENGINES = {
    "mixed": "mixed model",
    "within": "within-person model",
    "rated": "joint model",
    "ordinal": "ordinal model",
    "metric": "metric model",
    "flare": "flare model",
    "clogit": "self-controlled model",
}
PAIN_ADJUSTED = {
    "before": "A: pain rated before",
    "during": "B: pain of the same {step}",
    "latent": "pain behind the ratings of that {step}",
    "none": "no adjustment for pain",
}
VERDICT = {
    "holds": "Held",
    "does_not_hold": "Did not hold",
    "cannot_tell": "Cannot tell",
    "informative": "Informative",
}
NOT_RUN = {True: "Could not be run", False: "Not applicable"}
"""In the place of a verdict, by whether the challenge applies to the study at all."""
OUTCOME = {
    "pain_next": "pain in the next {step}",
    "flare_next": "a flare-up beginning in the next {step}, by pain",
    "flare_reported_next": "a flare-up in the next {step}, by the person's own word",
}


def step_name(step_days: int) -> str:
    """What one calendar step is called: day, week, or step of so many days."""
    return {1: "day", 7: "week"}.get(step_days, f"{step_days}-day step")


def exposure_label(term: str) -> str:
    """An exposure's plain name in the middle of a sentence."""
    if term == "log_usual":
        return "usual load"
    return VARIABLES[term].label if term in VARIABLES else term.replace("_", " ")


def column_label(name: str) -> str:
    """A model column's plain name: 'load jump', 'stress within people', 'usual load'."""
    for part in ("within", "between"):
        if name.endswith(f"_{part}"):
            return f"{exposure_label(name.removesuffix(f'_{part}'))} {part} people"
    return exposure_label(name)


def exposure_unit(term: str, amount: float = 1) -> str:
    """The exposure's own unit, in the plural unless the amount is 1."""
    if term == "near_failure_share":
        return ""
    unit = VARIABLES[term].unit if term in VARIABLES else "point"
    return unit if abs(amount) == 1 else unit + "s"


def in_percent(term: str, contrast: str) -> bool:
    """Whether a contrast is said as a percentage of the usual: a planned one of the load jump."""
    return term == "jump" and contrast not in (PER_SD, PER_UNIT, LOW_TO_HIGH)


def contrast_amount(term: str, contrast: str, size: float | None) -> tuple[str, str]:
    """A contrast of that size on the model's scale as an amount with unit, and its side: ('1 point', 'above'), ('50 %', 'above')."""
    if contrast == PER_SD:
        return "one within-person standard deviation", "above"
    if contrast == LOW_TO_HIGH or size is None:
        return contrast, "above"
    percent = in_percent(term, contrast)
    value, unit = (100 * math.expm1(size), "%") if percent else (size, exposure_unit(term, size))
    return f"{abs(value):g} {unit}".strip(), "below" if size < 0 else "above"


def short_contrast(term: str, contrast: str, size: float | None) -> str:
    """A contrast in a table cell or on an axis: '+50 %', '+1 point', '+1 SD'."""
    if contrast == PER_SD:
        return "+1 SD"
    if contrast == LOW_TO_HIGH or size is None:
        return contrast
    amount, side = contrast_amount(term, contrast, size)
    return ("+" if side == "above" else "\u2212") + amount


def clearness(term: str, contrast: str) -> int:
    """Place of a contrast where one of several is shown: a percentage first, then one SD, then anything else."""
    return 0 if in_percent(term, contrast) else 1 if contrast == PER_SD else 2

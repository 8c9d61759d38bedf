"""Names that tables, figures and write-up share: a calendar step, engines, exposures, contrasts, verdicts."""

from __future__ import annotations

from lagwise.core.variable import VARIABLES

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


def contrast_amount(term: str, contrast: str) -> tuple[str, str]:
    """A contrast as an amount with unit and the side it lies on: ('1 point', 'above')."""
    if contrast == "per unit":
        value = 1.0
    elif contrast.endswith("SD"):
        return "one within-person standard deviation", "above"
    else:
        try:
            value = float(contrast.replace("\u2212", "-"))
        except ValueError:
            return contrast, "above"
    side = "below" if value < 0 else "above"
    return f"{abs(value):g} {exposure_unit(term, value)}".strip(), side


def short_contrast(term: str, contrast: str) -> str:
    """A contrast in a table cell or on an axis: '+50 %', '+1 point', '+1 SD'."""
    if contrast == "per unit":
        return f"+1 {exposure_unit(term)}".strip()
    if contrast.endswith("SD"):
        return "+1 SD"
    if contrast.endswith("%"):
        return contrast.replace("-", "\u2212")
    amount, side = contrast_amount(term, contrast)
    return ("+" if side == "above" else "\u2212") + amount

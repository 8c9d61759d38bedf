"""Words and rounded numbers of the challenges' sentences: sequence, not cause; units and denominators always."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lagwise.challenges.context import Context, Primary
from lagwise.challenges.estimate import Answer
from lagwise.core import numbers
from lagwise.core.errors import ModelError
from lagwise.core.study import INTERVAL, Study
from lagwise.core.terms import EXPOSURES

MINUS = "\u2212"


def step_word(study: Study) -> str:
    """What one calendar step is called: day, week, or step of so many days."""
    return study.step


def fill(text: str, step: str, exposure: str = "load") -> str:
    """Put a study's step word and primary exposure into a text with {step}, {steps} and {exposure}."""
    return text.replace("{steps}", step + "s").replace("{step}", step).replace("{exposure}", exposure)


def places(low: float, high: float) -> int:
    """Decimals that show an interval's width to 2 significant digits, between 0 and what a 0-10 rating can
    carry."""
    return numbers.decimals(low, high)


def fixed(value: float, decimals: int) -> str:
    """A number with so many decimals and a true minus sign.

    Raises
    ------
    ModelError
        When there is no number: a challenge that could not compute one says so instead of printing it.
    """
    if not math.isfinite(value):
        raise ModelError("one of its figures could not be computed")
    return f"{round(float(value), decimals) + 0.0:.{decimals}f}".replace("-", MINUS)


def p_text(p: float) -> str:
    """A p-value: 'p = 0.031', 'p < 0.001' below that."""
    if p < 0.001:
        return "p < 0.001"
    return f"p = {p:.3f}" if p < 0.1 else f"p = {p:.2f}"


def count(n: int, one: str, many: str = "") -> str:
    """'1 person', '2 people': a count with its noun."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def _sized(value: float, decimals: int, unit: str) -> str:
    return numbers.with_unit(fixed(abs(value), decimals), unit)


def difference(value: float, decimals: int, unit: str = "points") -> str:
    """'0.42 points higher', '0.42 points lower', '0.00 points higher or lower'."""
    way = "higher or lower" if float(fixed(abs(value), decimals)) == 0 else "higher" if value > 0 else "lower"
    return f"{_sized(value, decimals, unit)} {way}"


def span(low: float, high: float, decimals: int, unit: str = "points") -> str:
    """'0.31 points lower to 0.41 points higher': an interval with its directions in words."""
    if low >= 0:
        return f"{fixed(low, decimals)} to {fixed(high, decimals)} {unit} higher"
    if high <= 0:
        return f"{fixed(-low, decimals)} to {fixed(-high, decimals)} {unit} lower"
    return f"{_sized(low, decimals, unit)} lower to {_sized(high, decimals, unit)} higher"


def interval(low: float, high: float, decimals: int | None = None, unit: str = "points") -> str:
    """'95 % interval 0.31 points lower to 0.41 points higher'."""
    decimals = places(low, high) if decimals is None else decimals
    return f"{100 * INTERVAL:g} % interval {span(low, high, decimals, unit)}"


def said(found: Answer, unit: str = "points") -> str:
    """'0.32 points higher (95 % interval 0.18 to 0.45 points higher)'."""
    decimals = places(found.low, found.high)
    size = difference(found.estimate, decimals, unit)
    around = interval(found.low, found.high, decimals, unit)
    return f"{size[:-1]}; {around})" if size.endswith(")") else f"{size} ({around})"


def sample(found: Answer, step: str) -> str:
    """The denominators: '38 people, 712 person-weeks'."""
    return f"{count(found.n_people, 'person', 'people')}, {count(found.n_steps, f'person-{step}')}"


def more(primary: Primary, step: str) -> str:
    """How the steps of the primary contrast are described: 'weeks trained 50 % above the usual load'."""
    if primary.term == "jump":
        amount = primary.label.lstrip("+-")
        return f"{step}s trained {amount} {'below' if primary.label.startswith('-') else 'above'} the usual load"
    exposure, size = EXPOSURES[primary.term], abs(primary.size)
    unit = "" if exposure.unit.startswith("share") else f" {exposure.unit}{'' if size == 1 else 's'}"
    return f"{step}s with {exposure.label} {size:g}{unit} {'above' if primary.size > 0 else 'below'} the person's own average"


def reference(primary: Primary, step: str) -> str:
    """What the primary contrast is set against: 'weeks at the usual load'."""
    return f"{step}s at the usual load" if primary.term == "jump" else f"{step}s at that average"


def exposure_name(primary: Primary) -> str:
    """The primary exposure in the middle of a sentence: 'load', 'stress'."""
    return "load" if primary.term == "jump" else EXPOSURES[primary.term].label


def result(context: Context) -> str:
    """The primary result as a clause: 'weeks trained 50 % above ... were followed by pain 0.32 points higher
    (...)'."""
    p, step = context.primary, step_word(context.panel.study)
    return f"{more(p, step)} were followed by pain {said(p.answer)}"


def stays(side: int) -> str:
    """What 'holds' means of a primary interval that includes 0 (`side` 0), to stand after a reading; empty
    for one that does not."""
    return "" if side else " What held is that the interval includes 0, which is no confirmation."


def listed(items: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return "".join(items) if len(items) < 2 else f"{', '.join(items[:-1])} and {items[-1]}"


def capital(text: str) -> str:
    """A sentence with its first letter in upper case."""
    return text[:1].upper() + text[1:]

"""How numbers are printed everywhere: rounding by what the interval supports, signs and plurals, and what
versions to share give of counts of people.
"""

from __future__ import annotations

import math
from typing import Any

from lagwise.core.traced import bare

UNKNOWN = "\u2013"
MINUS = "\u2212"
SPACE = "\u00a0"
MOST = 2
"""Decimals that numbers of a tenth and more are printed with at most: a hundredth of a point of a 0-10 rating
is below what anybody rates.
"""
FINEST = 4
"""Decimals that smaller ones are printed with at most."""
FEWEST_SHOWN = 5
"""Counts of people are rounded down to a multiple of this; fewer are not given."""
FEW = f"fewer than {FEWEST_SHOWN}"


def decimals(low: float | None, high: float | None, *, most: int | None = None) -> int:
    """Decimals that show the interval's width to 2 significant digits, at most `most`: `MOST`, and as many
    more as both its ends are smaller than a tenth, as on a scale of 0-1.
    """
    if low is None or high is None or not math.isfinite(high - low) or high <= low:
        return MOST
    if most is None:
        most = min(FINEST, max(MOST, _two_digits(max(abs(low), abs(high)))))
    return min(most, max(0, _two_digits(high - low)))


def _two_digits(size: float) -> int:
    """Decimals that show a number to 2 significant digits, negative where it has more before the point."""
    return 1 - math.floor(math.log10(size))


def fixed(value: float | None, places: int, *, plus: bool = False) -> str:
    """A number with so many decimals and a true minus sign, with `plus` a plus sign on positive values; an
    en dash when it is unknown.
    """
    if value is None:
        return UNKNOWN
    rounded = round(value, places) + 0.0
    return f"{rounded:{'+' if plus and rounded > 0 else ''}.{places}f}".replace("-", MINUS)


def with_unit(text: str, unit: str) -> str:
    """A printed number with its unit: '0.42 points', '1 point'."""
    return f"{text} {unit.removesuffix('s') if bare(text) == '1' else unit}"


def signed(value: float | None, places: int) -> str:
    """As `fixed`, with a plus sign on positive values."""
    return fixed(value, places, plus=True)


def significant(value: float | None, digits: int = 3) -> str:
    """A number to so many significant digits, written out in full; whole numbers stay whole."""
    if value is None:
        return UNKNOWN
    if isinstance(value, int) or float(value).is_integer():
        return f"{round(value):,}".replace(",", SPACE).replace("-", MINUS)
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return fixed(value, min(places, 6)) if places else significant(round(value))


def whole(value: float | None) -> str:
    """A count, thousands set apart by a thin gap; an en dash when unknown."""
    return UNKNOWN if value is None else significant(round(value))


def megabytes(size: float) -> str:
    """A size in bytes, in whole megabytes."""
    return f"{whole(size / 1e6)} MB"


def span(low: float | None, high: float | None, places: int) -> str:
    """An interval as 'low to high' with true minus signs."""
    return f"{fixed(low, places)} to {fixed(high, places)}"


def limits_text(
    estimate: float | None,
    low: float | None,
    high: float | None,
    places: int | None = None,
    gap: str = " ",
) -> str:
    """'+0.12 (−0.31 to +0.55)': an estimate with its interval, signs shown, by default to `decimals`; `gap`
    stands inside the interval, `SPACE` where no line may break in it.
    """
    places = decimals(low, high) if places is None else places
    return f"{signed(estimate, places)} ({signed(low, places)}{gap}to{gap}{signed(high, places)})"


def plural(count: float | None, one: str, many: str = "") -> str:
    """'1 person', '2 people': a count with its noun."""
    return f"{whole(count)} {one if count == 1 else many or one + 's'}"


def size(value: float) -> str:
    """A planned quantity such as a contrast, without needless zeros and without sign."""
    return f"{abs(value):g}"


def chance(probability: float) -> str:
    """A probability as so many in 100, 'less than 1 in 100' and 'more than 99 in 100' at the ends."""
    if probability < 0.005:
        return "less than 1 in 100"
    if probability > 0.995:
        return "more than 99 in 100"
    return f"{round(100 * probability)} in 100"


def known(value: Any) -> float | None:
    """A number, or None where it is missing or not finite."""
    try:
        return value + 0.0 if math.isfinite(value) else None
    except TypeError:  # None and pandas' own missing value
        return None


def side(low: float | None, high: float | None) -> int:
    """1 when an interval lies above 0, -1 when below; 0 when it includes 0 or there is none.

    An end at 0 itself does not include it: the one of an exact interval never lies there, and one that was
    rounded outwards to it lay beyond.
    """
    if low is None or high is None:
        return 0
    return 1 if low >= 0 and high > 0 else -1 if high <= 0 and low < 0 else 0


def number(value: Any, low: Any = None, high: Any = None) -> str:
    """A number rounded by its interval, or to 3 significant digits without one; an en dash where it is
    missing.
    """
    value, low, high = known(value), known(low), known(high)
    if value is None:
        return UNKNOWN
    if low is None or high is None:
        return "0" if value == 0 else significant(value)
    return fixed(value, decimals(low, high))


def change(value: Any, low: Any, high: Any) -> tuple[str, str]:
    """A difference with its sign, and its interval as 'low to high', both rounded by the interval."""
    value, low, high = known(value), known(low), known(high)
    places = decimals(low, high)
    between = UNKNOWN if low is None or high is None else f"{signed(low, places)} to {signed(high, places)}"
    return signed(value, places), between


def interval(low: Any, high: Any) -> str:
    """An interval as 'low to high'; an en dash where there is none."""
    low, high = known(low), known(high)
    return UNKNOWN if low is None or high is None else span(low, high, decimals(low, high))


def is_few(count: float | None) -> bool:
    """Whether a count of people is known and one of 1 to 4."""
    return count is not None and 0 < count < FEWEST_SHOWN


def floored(count: float | None) -> int | None:
    """A count of people rounded down to a multiple of `FEWEST_SHOWN`; None for 1 to 4 and for an unknown
    count.
    """
    return None if count is None or is_few(count) else int(count) // FEWEST_SHOWN * FEWEST_SHOWN


def people_said(count: float | None) -> str:
    """'1 person', '38 people'; people who are not counted, being few, are 'fewer than 5 people'."""
    return f"{FEW} people" if count is None else plural(count, "person", "people")


def per_hundred(share: float | None, places: int = 0) -> str:
    """A proportion as so many of 100."""
    return UNKNOWN if share is None else fixed(100 * share, places)

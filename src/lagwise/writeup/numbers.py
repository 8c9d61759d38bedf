"""How the write-up prints numbers: as every room does, shares and chances in natural frequencies, and counts
of people as a version to share gives them.
"""

from __future__ import annotations

from lagwise.core.numbers import MINUS as MINUS
from lagwise.core.numbers import SPACE as SPACE
from lagwise.core.numbers import chance as chance
from lagwise.core.numbers import decimals as decimals
from lagwise.core.numbers import fixed as fixed
from lagwise.core.numbers import limits_text as limits_text
from lagwise.core.numbers import plural as plural
from lagwise.core.numbers import signed as signed
from lagwise.core.numbers import significant as significant
from lagwise.core.numbers import size as size
from lagwise.core.numbers import span as span
from lagwise.core.numbers import whole as whole
from lagwise.core.numbers import with_unit as with_unit

FEWEST_SHOWN = 5
"""Counts of people are rounded down to a multiple of this; fewer are not given."""
FEW = f"fewer than {FEWEST_SHOWN}"


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
    return "\u2013" if share is None else fixed(100 * share, places)

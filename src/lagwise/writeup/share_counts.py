"""Counts of people as a version to share gives them."""

from __future__ import annotations

FEWEST_SHOWN = 5
"""Counts of people are rounded down to a multiple of this; fewer are not given."""
FEW = f"fewer than {FEWEST_SHOWN}"


def is_few(count: float | None) -> bool:
    """Whether a count of people is known and one of 1 to 4."""
    return count is not None and 0 < count < FEWEST_SHOWN


def floored(count: float | None) -> int | None:
    """A count of people rounded down to a multiple of `FEWEST_SHOWN`; None for 1 to 4 and for an unknown count."""
    return None if count is None or is_few(count) else int(count) // FEWEST_SHOWN * FEWEST_SHOWN

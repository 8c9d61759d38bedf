"""Ratings on other scales: those declared as a unit are turned into 0-10, undeclared ones are asked about."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.caseload.check_edits import Edit, whole
from lagwise.caseload.convert import Converted
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, remark
from lagwise.core.claim import coded, said
from lagwise.core.columns import RATINGS, Column
from lagwise.core.errors import CaseloadError
from lagwise.core.legal import Illegal

HIGH = 10.0
FEW = 5
"""So many ratings outside the scale are mistyped cells; more of them, and more than `FEW_SHARE` of all,
are a question."""
FEW_SHARE = 0.02
MOST_OUTSIDE = 3
"""So many are enough where they are half of all ratings or more."""
_SCALE = re.compile(r"(-?\d{1,4}(?:\.\d)?)\s*(?:-|to)\s*(-?\d{1,4}(?:\.\d)?)")
_CODES = re.compile(r"-[789]+|-1|7{2,}|8{2,}|9{2,}")


def ends(scale: str) -> tuple[float, float] | None:
    """The ends of a scale written as '0-100', '1-5' or '-5 to 5'; None where it is none."""
    found = _SCALE.fullmatch(scale.strip())
    if not found or not float(found[1]) < float(found[2]):
        return None
    return float(found[1]), float(found[2])


def scale(text: object) -> str:
    """The rule of a scale declared as a unit."""
    if not isinstance(text, str) or ends(text) is None:
        raise Illegal(said("what.scale"))
    return text.strip()


def on_scale(column: Column, scale: str) -> Column:
    """The column with the ends of a declared scale as its legal range."""
    found = ends(scale)
    return column if found is None else replace(column, low=found[0], high=found[1])


def to_ten(converted: Converted, column: Column) -> Converted:
    """Ratings between the ends of `column`'s scale as points from 0 to 10."""
    low, high = column.low or 0.0, column.high or HIGH
    return replace(converted, values=(converted.values - low) * (HIGH / (high - low)))


def declared_remark(table: str, column: Column, given: int) -> Remark:
    """That ratings on another scale were read as points from 0 to 10."""
    low, high = column.low or 0.0, column.high or HIGH
    numbers: dict[str, Any] = {"low": low, "high": high, "times": HIGH / (high - low)}
    return remark("declared_scale", table, column.name, given, **numbers)


def scale_edits(table: str, name: str, scale: str) -> tuple[Edit, ...]:
    """What to write where ratings are on another scale: read as points from 0 to 10, or as they are."""
    unit = Edit(("tables", table, "units"), {name: scale or "LOW-HIGH"})
    low, high = map(whole, ends(scale) or (0, 0))
    return (unit, Edit(("ratings", name), {"low": low, "high": high})) if name in RATINGS else (unit,)


def ask_scale(place: Place, column: Column, converted: Converted, declared: bool) -> None:
    """Raise CaseloadError when more than a few ratings lie outside their scale:
    then it is the scale that is in question.

    Codes for 'not recorded' (-9, 99, 999) are none of these. `declared` tells that the plan names the
    scale in `[ratings]`.
    """
    outside = [i for i, (code, _) in enumerate(converted.problems) if code == "out_of_range"]
    at = np.isin(converted.problem, outside)
    if not at.any():
        return
    text = converted.raw[at].astype("str").str.strip().str.replace(place.decimal, ".", regex=False)
    found = pd.to_numeric(text, errors="coerce").dropna()
    marks = text[found.index].str.replace(r"\.0+$", "", regex=True).str.fullmatch(_CODES.pattern)
    if marks.all():
        return
    beyond = (
        found[~marks] if marks.sum() and found[marks].nunique() <= 2 and found[~marks].max() < 70 else found
    )
    inside = converted.values.dropna()
    n, given = len(beyond), len(beyond) + len(inside)
    if n <= FEW * (given > 2 * n) or n < MOST_OUTSIDE or n <= FEW_SHARE * given:
        return
    low, high = min(beyond.min(), inside.min() if len(inside) else np.inf), beyond.max()
    scale = "" if declared else _looks_like(low, high, column.name)
    name = column.name
    if declared:
        mend = said("mend.limits", name=name, table=place.table)
    else:
        ways = scale_edits(place.table, name, scale)
        mend = said("mend.scale", scale=scale, table=place.table, ways=ways)
    of = "s for" if name in place.source.wide else ""
    top = max(high, inside.max() if declared else HIGH) if len(inside) else high
    raise CaseloadError(
        f"{n} of {given} ratings lie outside {column.low:g} to {column.high:g}; "
        f"they run from {low:g} to {top:g}"
        + (
            scale and f", which looks like a scale of {scale if ' ' in scale else scale.replace('-', ' to ')}"
        ),
        where=coded(f"{place.shown}, column{of} {name}", column=name),
        mend=mend,
    )


def _looks_like(low: float, high: float, name: str) -> str:
    """The usual scale that values from `low` to `high` look like; empty where there is none."""
    if low < 0:
        return next((f"-{n} to {n}" for n in (5, 10, 50, 100) if max(-low, high) <= n), "")
    if name == "effort" and low >= 6 and high <= 20:
        return "6-20"
    return next((f"0-{n}" for n in (20, 100, 1000) if high <= n), "")


OFTEN = 0.1
"""Share of ratings at the top of a narrower scale from which it may be that scale."""


def narrow_scale(given: pd.Series) -> str:
    """The narrower scale that ratings look like; empty where they use 0-10 or leave points of the
    narrower one out."""
    if given.max() <= 1 and (given % 1 != 0).any():
        return "0-1"
    if (given % 1 != 0).any():
        return ""
    seen = set(given.astype("int64"))
    for low, high in ((1, 5), (0, 4), (1, 7)):
        # Who has little pain never leaves the lower half of 0 to 10, but hardly ever gives its top number.
        if seen == set(range(low, high + 1)) and (given == high).mean() >= OFTEN:
            return f"{low}-{high}"
    return ""

"""Ratings that never leave a part of the 0-10 scale: they may have been given on another one."""

from __future__ import annotations

import pandas as pd

from lagwise.caseload.finding import Finding
from lagwise.caseload.scales import both_ways
from lagwise.core.columns import TABLES
from lagwise.core.results import Caseload

ENOUGH = 30
"""Ratings from which a column may be asked about."""
OFTEN = 0.1
"""Share of ratings at the top of a narrower scale from which it may be that scale."""


def narrow_scales(caseload: Caseload) -> list[Finding]:
    """Columns of 0-10 ratings whose every value fits a scale of 0-1, 1-5, 0-4 or 1-7, every point of it used."""
    out = []
    for table in ("sessions", "checkins", "weeks"):
        source = caseload.study.tables.get(table)
        declared = source.units if source else {}
        for column in TABLES[table]:
            if not column.rated or column.name in declared or column.name in caseload.study.ratings:
                continue
            given = getattr(caseload, table)[column.name].dropna()
            scale = narrow_scale(given) if len(given) >= ENOUGH else ""
            if (column.name, scale) == ("pain", "1-7"):
                continue  # no pain scale in use runs from 1 to 7; ratings of 0 to 10 often do
            if scale:
                out.append(
                    Finding(
                        "scale_question", table, f"No rating of {column.name} lies outside {scale.replace('-', ' to ')}",
                        column.name, len(given),
                        "On another scale than 0 to 10 a point is another distance, and effects and margins in points would mislead",
                        f"Nothing, if the scale is 0-10. If it is {scale}, {both_ways(table, column.name, scale)}",
                    )
                )  # fmt: skip
    return out


def narrow_scale(given: pd.Series) -> str:
    """The narrower scale that ratings look like; empty where they use 0-10 or leave points of the narrower one out."""
    if given.max() <= 1 and (given % 1 != 0).any():
        return "0-1"
    if (given % 1 != 0).any():
        return ""
    seen = set(given.astype("int64"))
    for low, high in ((1, 5), (0, 4), (1, 7)):
        # Who has little pain never leaves the lower half of 0 to 10 either, but hardly ever gives its highest number.
        if seen == set(range(low, high + 1)) and (given == high).mean() >= OFTEN:
            return f"{low}-{high}"
    return ""

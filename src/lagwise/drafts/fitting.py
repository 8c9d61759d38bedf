"""Whether the values of a column are of the kind that its header speaks of."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from lagwise.caseload.identifiers import codes_that_identify, header_words
from lagwise.caseload.places import Place
from lagwise.core.claim import said
from lagwise.core.columns import CHECKINS, EVENTS, PEOPLE, SESSIONS, WEEKS, Column
from lagwise.drafts.cells import Numbers, numbers
from lagwise.drafts.dates import Dates, dates
from lagwise.drafts.scales import told_scale

COLUMNS: Mapping[str, Column] = {
    c.name: c for table in (WEEKS, EVENTS, PEOPLE, CHECKINS, SESSIONS) for c in table
}
RATED = tuple(c.name for c in CHECKINS if c.kind in ("number", "yesno"))
LOADS = ("exercise", "sets", "reps", "load_kg", "effort", "reps_in_reserve", "minutes", "load")
ABOUT = tuple(c.name for c in PEOPLE if not c.required)


def fit(name: str, header: str, values: pd.Series, place: Place) -> tuple[float, Numbers, Dates | None]:
    """The share of cells that are of the column's kind."""
    column = COLUMNS[name]
    filled = values.dropna()
    if column.kind in ("number", "count"):
        seen = numbers(values, column, high=(told_scale(header) or (0, None))[1])
        far = (
            column.high is not None
            and not column.rated
            and seen.high > 2 * column.high
            and name != "sleep_hours"
        )
        return (0.0 if far else seen.share), seen, None
    if column.kind == "date":
        when = dates(values, place, frozenset(header_words(header)))
        return when.share, Numbers(), when
    if column.kind == "code":
        bad = bool(codes_that_identify("", filled)) or filled.str.len().mean() > 40 or _decimal(filled)
        return (0.0 if bad or dates(values, place, frozenset()).share > 0.6 else 1.0), Numbers(), None
    if column.kind == "yesno":
        return (
            float(
                filled.str.fullmatch(r"(?i)y(es)?|n(o|ein)?|j(a)?|true|false|[01x]|oui|non|s[ií]|✓").mean()
            ),
            Numbers(),
            None,
        )
    if column.kind == "time":
        return float(filled.str.fullmatch(r"\d{1,2}[:.h]\d\d.*").mean()), Numbers(), None
    if column.kind == "choice":
        return (
            float(not filled.str.fullmatch(r"[\d.,]+").any() and filled.str.len().mean() <= 40),
            Numbers(),
            None,
        )
    if name == "age_band":
        ages = numbers(values)
        fits = ages.share > 0.9 and ages.low >= 5 and ages.high <= 110
        return (
            float(fits or filled.str.fullmatch(r"\d{1,2}\s*(-|–|to|bis)\s*\d{1,3}|[<>≥≤]\s*\d+").mean()),
            ages,
            None,
        )
    few = name == "exercise" or filled.nunique() <= max(12, 0.2 * len(filled))
    return float(few and not filled.str.fullmatch(r"[\d.,]+").mean() > 0.5), Numbers(), None


def borne_out(name: str, share: float, seen: Numbers, values: pd.Series) -> str:
    """Why a column is taken for one of ours, after its header: what its values are."""
    column = COLUMNS[name]
    if seen.count:
        return said("draft.fits", low=seen.low, high=seen.high, share=share)
    if column.kind == "date":
        return said("draft.fits_dates", share=share)
    if column.kind == "code":
        return said("draft.fits_codes", codes=values.nunique())
    return said("draft.fits_words", answers=values.str.lower().str.strip().nunique())


def _decimal(filled: pd.Series) -> bool:
    return bool(filled.str.fullmatch(r"-?\d+[.,]\d+").mean() > 0.1)


def numbers_sets(values: pd.Series) -> bool:
    """Whether whole numbers count 1, 2, 3, ... and begin again."""
    read = pd.to_numeric(values, errors="coerce")
    if read.notna().mean() < 0.9 or read.max() < 2:
        return False
    step = read.diff().iloc[1:]
    return bool(((step == 1) | (read.iloc[1:] == 1)).mean() >= 0.95 and (read == 1).mean() < 0.7)

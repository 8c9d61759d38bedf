"""Cells -> values, column by column: what is read, what was repaired, and what cannot be read and why.

Each distinct text is looked at once, so a column of ten million cells costs as much as its
different spellings.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from pandas.api import types

from lagwise.caseload.cells import DECLARED_MISSING, NUMERAL, Reading
from lagwise.caseload.remarks import shown as settled
from lagwise.core.columns import Column
from lagwise.core.errors import CaseloadError

MOST_PEOPLE = 100_000
MOST_DIFFERENT = 1_000_000
MOST_UNREAD = 20_000
"""Different texts that cannot be read, in one column; more of them are a question about the column."""


@dataclass(frozen=True)
class Converted:
    """A converted column of n cells.

    `values` (n,) with missing where empty or bad; `problem` (n,) index into `problems`, -1 where there is
    none; `filled` (n,) is False where the cell is empty; `problems` lists (code, mend); `repairs` maps a
    repair's name to the positions it touched; `raw` (n,) as found;
    `extra` holds values of a second column that the cell also gave ('3x8': repetitions; a date with a clock:
    the time).
    """

    values: pd.Series
    problem: np.ndarray
    problems: tuple[tuple[str, str], ...]
    raw: pd.Series
    filled: np.ndarray
    repairs: Mapping[str, np.ndarray] = field(default_factory=dict)
    extra: pd.Series | None = None


DTYPES = {
    "code": "str", "text": "str", "choice": "str", "time": "str", "date": "datetime64[us]",
    "yesno": "boolean",
    "number": "float64", "count": "float64",
}  # fmt: skip


EXTRA = {"date": "str"}
"""Type of what a cell of a kind may say for another column; numbers where not named."""


def convert(column: Column, raw: pd.Series, read: Callable[[str], Reading], shown: str = "") -> Converted:
    """Convert a column of text with `read`, which turns one stripped, non-empty text into a `Reading`.

    Raises CaseloadError, with `shown` as the place, when there are more different texts,
    or more of them that cannot be read, than a column of this kind can have.
    """
    codes, uniques = pd.factorize(raw)
    refuse_different(column, len(uniques), shown)
    texts = [_text(value) for value in uniques]
    readings, unread = [], 0
    for text in texts:
        readings.append(reading := read(text) if text else Reading())
        unread += bool(reading.code)
        if unread > MOST_UNREAD:
            raise CaseloadError(
                f"more than {MOST_UNREAD:,} different texts cannot be read, such as '{settled(text, 40)}'",
                where=f"{shown}, column {column.name}",
                mend=f"{reading.mend} Or is {column.name} in another column?",
            )
    missing = codes < 0
    filled = _take([bool(text) for text in texts], codes, missing, False, bool)
    problems = tuple(dict.fromkeys((r.code, r.mend) for r in readings if r.code))
    order = {p: i for i, p in enumerate(problems)}
    problem = _take(
        [order[(r.code, r.mend)] if r.code else -1 for r in readings], codes, missing, -1, np.int64
    )
    values = _values([r.value for r in readings], codes, DTYPES[column.kind], raw.index)
    touched: dict[str, np.ndarray] = {}
    for name in dict.fromkeys(n for r in readings for n in r.repairs):
        hit = _take([name in r.repairs and not r.code for r in readings], codes, missing, False, bool)
        touched[name] = np.flatnonzero(hit)
    extra = None
    if any(r.extra is not None for r in readings):
        extra = _values([r.extra for r in readings], codes, EXTRA.get(column.kind, "float64"), raw.index)
    return Converted(values, problem, problems, raw, filled, touched, extra)


def refuse_different(column: Column, different: int, shown: str) -> None:
    """Raise when a column has more different texts than are read; a code of a person is one person each."""
    person = column.name == "person"
    most = MOST_PEOPLE if person else MOST_DIFFERENT
    if different > most:
        raise CaseloadError(
            f"has {different:,} different {'codes of people' if person else 'texts'}; at most {most:,} are read",
            where=f"{shown}, column {column.name}",
            mend="Is it the number of the row? Name the column that says who it is."
            if person
            else "Keep the people or years needed.",
        )


def convert_numbers(column: Column, raw: pd.Series, factor: float, marks: Sequence[str] = ()) -> Converted:
    """Convert a column that the file stores as numbers; those among `marks` stand for 'not recorded'."""
    values = raw.astype("float64")
    absent = values.isin([float(mark) for mark in marks if NUMERAL.fullmatch(mark)])
    values = values.mask(absent) * factor
    found = values.to_numpy()
    given = ~np.isnan(found)
    low = -math.inf if column.low is None else column.low
    high = math.inf if column.high is None else column.high
    problem = np.full(len(values), -1)
    problems = (
        ("out_of_range", range_mend(column)),
        ("not_whole", "Give a whole number."),
        ("bad_number", "Give a number."),
    )
    if column.kind == "count":
        with np.errstate(invalid="ignore"):
            problem[given & (found != np.floor(found))] = 1
    problem[given & ((found < low) | (found > high))] = 0
    problem[np.isinf(found)] = 2
    touched = {DECLARED_MISSING: np.flatnonzero(absent)} if absent.any() else {}
    return Converted(values.mask(problem >= 0), problem, problems, raw, raw.notna().to_numpy(), touched)


def as_text(raw: pd.Series, column: Column) -> pd.Series:
    """A typed column (Parquet) as text, so that every kind of column is read by the same rules."""
    if types.is_bool_dtype(raw.dtype):
        return raw.map({True: "yes", False: "no"}).astype("str").where(raw.notna())
    if types.is_datetime64_any_dtype(raw.dtype):
        plain = raw.dt.tz_localize(None) if raw.dt.tz is not None else raw
        text = plain.dt.strftime("%Y-%m-%d").astype("str")
        timed = plain.notna() & (plain != plain.dt.normalize())
        if timed.any():
            text = text.mask(timed, plain.dt.strftime("%Y-%m-%d %H:%M:%S"))
        return text.where(raw.notna())
    if types.is_float_dtype(raw.dtype):
        codes, uniques = pd.factorize(raw)
        words = [str(int(v)) if float(v).is_integer() and abs(v) < 1e15 else repr(float(v)) for v in uniques]
        return _values(words, codes, "str", raw.index)
    return raw.astype("str").where(raw.notna())


def range_mend(column: Column) -> str:
    """What a value outside the legal range needs."""
    unit = f" {column.unit}" if column.unit else ""
    if column.high is None:
        return f"Give a number of at least {column.low:g}."
    return f"Give a number from {column.low:g} to {column.high:g}{unit}."


def _text(value: Any) -> str:
    return str(value).strip().strip("\ufeff\u200b").strip()


def _take(values: list, codes: np.ndarray, missing: np.ndarray, fill: Any, dtype: Any) -> np.ndarray:
    if not values:
        return np.full(len(codes), fill, dtype=dtype)
    out = np.asarray(values, dtype=dtype)[codes]
    out[missing] = fill
    return out


def _values(values: list, codes: np.ndarray, dtype: str, index: pd.Index) -> pd.Series:
    known = pd.Series([*values, None], dtype="object" if dtype == "float64" else dtype)
    if dtype == "float64":
        known = known.astype("float64")
    taken = known.take(codes)
    taken.index = index
    return taken

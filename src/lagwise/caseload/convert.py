"""Cells -> values, column by column: what is read, what was repaired, and what cannot be read and why.

Each distinct text is looked at once, so a column of ten million cells costs as much as its
different spellings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from pandas.api import types

from lagwise.caseload.cells import DECLARED_MISSING, NUMERAL, Reading, ends, range_mend
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import shown
from lagwise.core.claim import said
from lagwise.core.columns import Column, tables
from lagwise.core.errors import CaseloadError
from lagwise.core.numbers import whole
from lagwise.core.study import Study

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
    **dict.fromkeys(("code", "text", "choice", "time"), "str"),
    **dict.fromkeys(("number", "count"), "float64"),
    "date": "datetime64[us]",
    "yesno": "boolean",
}


def validate(table: str, frame: pd.DataFrame, study: Study) -> None:
    """Raise CaseloadError when a table that was read breaks the contract: its columns in order, their types,
    what is required, legal ranges and words."""
    own = tables(study)[table]
    wrong = [c.name for c in own if c.name not in frame or not _legal(frame[c.name], c)]
    if [*frame.columns] != [*(c.name for c in own), "row"] or frame["row"].dtype != "int64":
        wrong.append("columns")
    if wrong:
        raise CaseloadError(
            f"the checked table does not satisfy its schema ({', '.join(wrong)})",
            where=table,
            mend="This is a fault of lagwise, not of the file; please report it.",
        )


def _legal(values: pd.Series, column: Column) -> bool:
    if values.dtype != DTYPES[column.kind] or (column.required and values.isna().any()):
        return False
    low, high = column.low, column.high
    beyond = (low is not None and (values < low).any()) or (high is not None and (values > high).any())
    return not beyond and (not column.choices or bool(values.dropna().isin(column.choices).all()))


def convert(column: Column, raw: pd.Series, read: Callable[[str], Reading], place: Place) -> Converted:
    """Convert a column of text with `read`, which turns one stripped, non-empty text into a `Reading`.

    Raises CaseloadError when there are more different texts, or more of them that cannot be read, than a
    column of this kind can have.
    """
    codes, uniques = pd.factorize(raw)
    _refuse_different(column, len(uniques), place)
    texts = [_text(value) for value in uniques]
    readings, unread = [], 0
    for text in texts:
        readings.append(reading := read(text) if text else Reading())
        unread += bool(reading.code)
        if unread > MOST_UNREAD:
            raise place.error(
                f"more than {whole(MOST_UNREAD)} different texts cannot be read, such as '{shown(text, 40)}'",
                f"{reading.mend} Or is {column.name} in another column?",
                column.name,
            )
    filled = _take([bool(text) for text in texts], codes, False)
    problems = tuple(dict.fromkeys((r.code, r.mend) for r in readings if r.code))
    order = {p: i for i, p in enumerate(problems)}
    problem = np.broadcast_to(-1, len(codes))
    if problems:
        problem = _take([order[(r.code, r.mend)] if r.code else -1 for r in readings], codes, -1)
    values = _values([r.value for r in readings], codes, DTYPES[column.kind], raw.index)
    touched: dict[str, np.ndarray] = {}
    for name in dict.fromkeys(n for r in readings for n in r.repairs):
        touched[name] = np.flatnonzero(
            _take([name in r.repairs and not r.code for r in readings], codes, False)
        )
    extra = None
    if any(r.extra is not None for r in readings):
        extra = _values(
            [r.extra for r in readings], codes, "str" if column.kind == "date" else "float64", raw.index
        )
    return Converted(values, problem, problems, raw, filled, touched, extra)


def _refuse_different(column: Column, different: int, place: Place) -> None:
    """Raise when a column has more different texts than are read; a code of a person is one person each."""
    person = column.name == "person"
    most, what = (MOST_PEOPLE, "codes of people") if person else (MOST_DIFFERENT, "texts")
    if different > most:
        mend = said("mend.different", person=person)
        raise place.error(
            f"has {whole(different)} different {what}; at most {whole(most)} are read", mend, column.name
        )


def convert_numbers(column: Column, raw: pd.Series, factor: float, marks: Sequence[str] = ()) -> Converted:
    """Convert a column that the file stores as numbers; those among `marks` stand for 'not recorded'."""
    values = raw.astype("float64")
    absent = values.isin([float(mark) for mark in marks if NUMERAL.fullmatch(mark)])
    values = values.mask(absent) * factor
    found = values.to_numpy()
    given = ~np.isnan(found)
    low, high = ends(column)
    problem = np.full(len(values), -1)
    problems = (
        ("out_of_range", range_mend(column)),
        ("not_whole", said("mend.whole")),
        ("bad_number", said("mend.number")),
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


def _text(value: Any) -> str:
    return str(value).strip().strip("\ufeff\u200b").strip()


def _take(values: list, codes: np.ndarray, missing: bool | int) -> np.ndarray:
    """(n,) what is said of each text, `missing` where there is none."""
    return np.asarray([*values, missing])[codes]


def _values(values: list, codes: np.ndarray, dtype: str, index: pd.Index) -> pd.Series:
    known: pd.Series = pd.Series([*values, None], dtype="object" if dtype == "float64" else dtype)
    return known.astype(dtype).take(codes).set_axis(index)  # type: ignore[call-overload]

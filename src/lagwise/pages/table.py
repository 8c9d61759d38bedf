"""Any table in a notebook, whole: cells wrap and none is cut, in the page's own colours, light or dark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import pandas as pd

from lagwise.core.errors import WriteUpError
from lagwise.core.numbers import UNKNOWN, fixed
from lagwise.document.card import card, card_html
from lagwise.document.terminal import table_text
from lagwise.document.tree import Grid, grid, walk
from lagwise.findings import Findings
from lagwise.pages.display import not_there
from lagwise.say.report.document import document
from lagwise.say.show_results import NO_ROWS

MOST = 200
"""Rows shown; a longer table says how many it has."""
WIDTH = 100
"""Characters of a line at a prompt."""


@dataclass(frozen=True, repr=False)
class Shown:
    """A table that shows itself where it is the last line of a notebook cell, or as text at a prompt."""

    grid: Grid

    def __repr__(self) -> str:
        return table_text(self.grid, WIDTH)

    def _repr_html_(self) -> str:
        return card_html(card("", (), (self.grid,)))


def table(
    shown: Any,
    name: str = "",
    *,
    decimals: int | Mapping[str, int] = 2,
    errors: Mapping[str, str] = MappingProxyType({}),
    title: str = "",
) -> Shown:
    """A table shown whole.

    Parameters
    ----------
    shown : DataFrame, Series, mapping or Findings
        A Series and a mapping have one row for each name. A named index becomes the first columns. Of
        findings, a table of the write-up.
    name : str
        Which table of the write-up: effects-table, agreement, odds, ratings-table ...
    decimals : int or mapping of column -> int
        Of numbers that are no whole numbers; 2 for columns that a mapping leaves out.
    errors : mapping of column -> column
        A column and that of its Monte Carlo error, which is shown in the same cell: 0.95 \u00b1 0.02.
    title : str
        Stands over it.

    Returns
    -------
    Shown
        Missing values are dashes. Beyond 200 rows the first are shown, and a line says how many there are.

    Raises
    ------
    WriteUpError
        For anything that is no table, and for a name that these findings have no table of (the message lists
        those they have).

    Examples
    --------
    >>> import lagwise as lw
    >>> lw.table(findings, "rows")  # doctest: +ELLIPSIS
    Rows read, used and set aside
     Table       Read    Used   Set aside
     ...
    For every table, rows read are rows used plus rows set aside.
    """
    if isinstance(shown, Findings):
        return Shown(_of_the_write_up(shown, name))
    frame = _frame(shown)
    places = dict.fromkeys(frame, decimals) if isinstance(decimals, int) else dict(decimals)
    columns = [_column(frame.iloc[:, i], places.get(frame.columns[i], 2)) for i in range(frame.shape[1])]
    for of, error in errors.items():
        own, off = columns[list(frame).index(of)], columns[list(frame).index(error)]
        columns[list(frame).index(of)] = [f"{a} \u00b1 {b}" for a, b in zip(own, off, strict=True)]
    kept = [i for i, column in enumerate(frame) if column not in errors.values()]
    numeric = [at for at, i in enumerate(kept) if _counts(frame.iloc[:, i])]
    columns, names = [columns[i] for i in kept], [_named(frame.columns[i]) for i in kept]
    rows = list(zip(*columns, strict=True))[:MOST]
    note = f"The first {MOST} of {len(frame)} rows." if len(frame) > MOST else "" if rows else NO_ROWS
    return Shown(grid("", title, names, rows, numeric=numeric, note=note))


def _of_the_write_up(findings: Findings, name: str) -> Grid:
    there = {block.id: block for block in walk(document(findings).blocks) if isinstance(block, Grid)}
    if name not in there:
        raise not_there(findings, "table", name, there)
    return there[name]


def _frame(shown: Any) -> pd.DataFrame:
    if isinstance(shown, Mapping):
        shown = pd.Series(dict(shown), name="value", dtype="object").rename_axis("name")
    if isinstance(shown, pd.Series):
        names = list(shown.index.names) if any(shown.index.names) else ["name"]
        shown = shown.to_frame(shown.name or "value").reset_index(names=names)
    if not isinstance(shown, pd.DataFrame):
        raise WriteUpError(
            f"{type(shown).__name__} is no table",
            where="table",
            mend="Give a DataFrame, a Series or a mapping.",
        )
    named = any(name is not None for name in shown.index.names)
    return shown.reset_index() if named else shown


def _named(column: Any) -> str:
    return " ".join(str(part) for part in column if part) if isinstance(column, tuple) else str(column)


def _counts(column: pd.Series) -> bool:
    kinds = pd.api.types
    return kinds.is_numeric_dtype(column) and not kinds.is_bool_dtype(column)


def _column(column: pd.Series, places: int) -> list[str]:
    values = column.tolist()
    known = [v for v in values if isinstance(v, float) and not pd.isna(v)]
    places = 0 if all(v == round(v) for v in known if abs(v) < float("inf")) else places
    return [_cell(v, places) for v in values]


def _cell(value: Any, places: int) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple | list | dict | set):
        return str(value)
    if pd.isna(value):
        return UNKNOWN
    if isinstance(value, float):
        return fixed(value, places)
    if isinstance(value, pd.Timestamp) and value == value.normalize():
        return value.date().isoformat()
    return str(value)

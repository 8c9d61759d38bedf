"""Checks on numbers that many exports write for 'not recorded' and that lie inside a column's legal range."""

from __future__ import annotations

import pandas as pd
from pandas.api import types

from lagwise.caseload.remarks import Finding, places
from lagwise.core import columns
from lagwise.core.results import Caseload

CODES = (66, 77, 88, 99, 666, 777, 888, 999, 6666, 7777, 8888, 9999, 99999)
WORDS = ("-1", "-7", "-8", "-9", "-77", "-88", "-99", "-999", "7", "8", "9", *map(str, CODES))
BEYOND = 1.5
_NEVER = ("person", "row", "date", "week", "exercise", "time", "kind", "trained")


def missing_codes(caseload: Caseload) -> list[Finding]:
    """Numbers such as 99 and 999 far above all others of their column,
    and such numbers among words or a few codes."""
    return [found for table in columns.TABLES for found in _in_table(table, getattr(caseload, table))]


def _in_table(table: str, frame: pd.DataFrame) -> list[Finding]:
    hits = []
    for name in frame.columns if len(frame) else ():
        if name not in _NEVER:
            values = frame[name]
            hit = frame[_far(values) if types.is_float_dtype(values.dtype) else _word(values)]
            hits.append(hit[["person", "row"]].assign(column=name, mark=[_said(v) for v in hit[name]]))
    found = pd.concat(hits) if hits else pd.DataFrame()
    if found.empty:
        return []
    names = list(found["column"].unique())
    marks = {
        name: ", ".join(f'"{m}"' for m in found.loc[found["column"] == name, "mark"].unique())
        for name in names
    }
    declared = ", ".join(f"{name} = [{text}]" for name, text in marks.items())
    return [
        Finding(
            "missing_code", table, f"{', '.join(names)}: numbers that many exports write for 'not recorded'",
            places(found.assign(said=found["column"] + " " + found["mark"]), "said"), len(found),
            "Taken for values they move every mean, and can make a group of their own",
            f"If they stand for that, write missing = {{ {declared} }} under [tables.{table}] in study.toml.",
        )
    ]  # fmt: skip


def _far(values: pd.Series) -> pd.Series:
    """Where a number is one of the codes and more than 1.5 times the largest number that is none."""
    coded = values.isin(CODES)
    if not coded.any():
        return coded
    others = values[~coded].max()
    return coded & (values > BEYOND * others) if pd.notna(others) and others > 0 else coded & False


def _word(values: pd.Series) -> pd.Series:
    """Where a text is such a number, among texts that are none or that are smaller whole
    numbers of one digit."""
    if values.dtype != "str":
        return pd.Series(False, index=values.index)
    coded = values.isin(WORDS)
    others = values[~coded].dropna()
    if others.empty:
        return coded & False
    if not others.str.fullmatch(r"-?\d+").any():
        return coded & values.str.len().gt(1)
    return coded if others.isin(["0", "1", "2", "3", "4", "5"]).all() else coded & False


def _said(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)

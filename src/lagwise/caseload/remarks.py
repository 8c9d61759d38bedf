"""Things noticed but kept (remarks of reading, findings of a check), one row each,
and how places are named."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

import pandas as pd

from lagwise.core.claim import said

EXAMPLES = 5
PART = 10_000_000
"""Rows of the first part of a table are numbered as in its file, those of the second from here on."""
_UNSHOWN = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""Characters that steer a terminal or turn the direction of text, and halves of characters,
which no file can hold."""


@dataclass(frozen=True)
class Remark:
    """Something noticed in a table: how often, up to five examples, what it means for the result,
    what would mend it."""

    code: str
    table: str
    column: str = ""
    count: int = 1
    examples: str = ""
    meaning: str = ""
    mend: str = ""


def remark(
    code: str, table: str, column: str = "", count: int = 1, examples: str = "", of: str = "", **numbers: Any
) -> Remark:
    """A remark by its code, in the words of the room `say` for `of`, the code itself where none is given."""
    numbers |= {"table": table, "column": column}
    meaning, mend = (said(f"read.{of or code}.{part}", **numbers) for part in ("meaning", "mend"))
    return Remark(code, table, column, count, examples, meaning, mend)


def remarks_frame(remarks: Iterable[Remark]) -> pd.DataFrame:
    """Remarks as a frame with the columns code, table, column, count, examples, meaning, mend."""
    return _frame(Remark, remarks)


def findings_frame(findings: Iterable[Finding]) -> pd.DataFrame:
    """Findings as a frame with the columns code, table, what, where, count, why, mend."""
    return _frame(Finding, findings)


def _frame(kind: type, items: Iterable[Remark | Finding]) -> pd.DataFrame:
    """One row each; `meaning` and `mend` keep what their texts carry."""
    rows = list(items)
    kinds = {"count": "int64", "meaning": "object", "mend": "object"}
    return pd.DataFrame({
        f.name: pd.Series([getattr(one, f.name) for one in rows], dtype=kinds.get(f.name, "str"))
        for f in fields(kind)
    })  # fmt: skip


def texts(told: Iterable[str], index: pd.Index | None = None) -> pd.Series:
    """Texts as a column that keeps what they carry."""
    return pd.Series(list(told), index=index, dtype=object)


def shown(value: object, limit: int = 60) -> str:
    """A value as shown to people: one line, at most `limit` characters."""
    text = _UNSHOWN.sub("\ufffd", " ".join(str(value).split()))
    return text if len(text) <= limit else text[: limit - 3] + "..."


def at_row(row: int, parts: Sequence[str] = ()) -> str:
    """A row as its owner finds it: its number, and where a table lies in several files or sheets whose."""
    part, number = divmod(int(row), PART)
    if parts:
        return f"{shown(parts[part])}, row {number}"
    return f"row {number}" + (f" of part {part + 1}" if part else "")


def at_rows(rows: Sequence[int], values: Sequence[object] | None = None, parts: Sequence[str] = ()) -> str:
    """The first five places: "row 3: '82,5 kg'; row 9: '80 kg'", or "row 3, 9" without values."""
    first = list(rows[:EXAMPLES])
    if values is not None:
        both = zip(first, values, strict=False)
        return "; ".join(f"{at_row(row, parts)}: '{shown(value)}'" for row, value in both)
    if parts or any(row >= PART for row in first):
        return "; ".join(at_row(row, parts) for row in first)
    return ("row " + ", ".join(str(r) for r in first)) if first else ""


@dataclass(frozen=True)
class Finding:
    """Something odd: a code, the table, what in words, where (up to five examples), how often,
    why it matters, the mend."""

    code: str
    table: str
    what: str
    where: str
    count: int
    why: str
    mend: str


def found(rows: pd.DataFrame, code: str, table: str, beside: str = "", **numbers: Any) -> list[Finding]:
    """One finding on some rows, with what the column `beside` holds beside each; none without rows."""
    return [finding(code, table, places(rows, beside), len(rows), **numbers)] if len(rows) else []


def finding(code: str, table: str, where: str, count: int, **numbers: Any) -> Finding:
    """A finding by its code, in the words of the room `say`, which `numbers` go into."""
    numbers["table"] = table
    what, why, mend = (said(f"found.{code}.{part}", **numbers) for part in ("what", "why", "mend"))
    return Finding(code, table, what, where, count, why, mend)


def places(frame: pd.DataFrame, value: str = "") -> str:
    """Up to five rows as "a1, row 3 (82.5)"; names of several files or sheets are in the frame's `attrs`."""
    first, parts = frame.head(EXAMPLES), frame.attrs.get("parts", ())
    values = first[value] if value else [""] * len(first)
    return "; ".join(
        f"{shown(person)}, {at_row(row, parts)}"
        + (f" ({v:%Y-%m-%d})" if isinstance(v, datetime) else f" ({shown(v)})" if value else "")
        for person, row, v in zip(first["person"], first["row"], values, strict=True)
    )


def joined(named: Sequence[str], between: str = ", ") -> str:
    """The first five, and how many more."""
    more = f" and {len(named) - EXAMPLES} more" if len(named) > EXAMPLES else ""
    return between.join(named[:EXAMPLES]) + more


def listed(names: Iterable[object]) -> str:
    """The first five names, and how many more."""
    return joined([shown(name, 120) for name in names])

"""The shape of a finding, and helpers that word where it was found."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from lagwise.caseload.remarks import EXAMPLES, shown


@dataclass(frozen=True)
class Finding:
    """Something odd: a code, the table, what in words, where (up to five examples), how often, why it matters, the mend."""

    code: str
    table: str
    what: str
    where: str
    count: int
    why: str
    mend: str


def places(frame: pd.DataFrame, value: str = "") -> str:
    """Up to five rows as "a1, row 3 (82.5)"."""
    first = frame.head(EXAMPLES)
    said = [f" ({shown(v)})" for v in first[value]] if value else [""] * len(first)
    return "; ".join(
        f"{shown(person)}, row {row}{more}"
        for person, row, more in zip(first["person"], first["row"], said, strict=True)
    )


def listed(names) -> str:
    """The first five names, and how many more."""
    names = list(names)
    more = f" and {len(names) - EXAMPLES} more" if len(names) > EXAMPLES else ""
    return ", ".join(shown(name, 120) for name in names[:EXAMPLES]) + more

"""Rows of one table -> used or quarantined: each row ends in exactly one of the two."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from lagwise.caseload.remarks import shown

NO_RECORD = ("header_again", "total_row")
"""Reasons that leave nothing further to mend in a row."""
COLUMNS = ("table", "row", "column", "value", "code", "mend")


@dataclass(frozen=True)
class Fault:
    """Why some rows cannot be used: positions (k,), the raw values there, one code and one mend."""

    positions: np.ndarray
    column: str
    values: list[str]
    code: str
    mend: str


@dataclass
class Faults:
    """Faults of one table in the order found; a row's first fault is its reason, later ones are named in its mend."""

    found: list[Fault] = field(default_factory=list)

    def add(self, positions: np.ndarray, column: str, raw: pd.Series | None, code: str, mend: str) -> None:
        """Note one fault at these row positions."""
        if len(positions):
            at = [] if raw is None else ["" if pd.isna(v) else shown(v, 80) for v in raw.iloc[positions]]
            self.found.append(Fault(np.asarray(positions), column, at or [""] * len(positions), code, mend))

    def bad(self, count: int) -> np.ndarray:
        """(count,) True where a row has any fault."""
        out = np.zeros(count, dtype=bool)
        for fault in self.found:
            out[fault.positions] = True
        return out


def quarantine_frame(table: str, rows: np.ndarray, faults: Faults) -> pd.DataFrame:
    """One row per faulty input row: table, row, column, value, code, mend, in file order."""
    if not faults.found:
        return empty_quarantine()
    long = pd.concat(
        [
            pd.DataFrame({"at": f.positions, "column": f.column, "value": f.values, "code": f.code, "mend": f.mend})
            for f in faults.found
        ],
        ignore_index=True,
    )
    first = long.drop_duplicates("at")
    later = long.loc[~long.index.isin(first.index)]
    later = later[~later["at"].isin(first.loc[first["code"].isin(NO_RECORD), "at"])]
    first = first.set_index("at")
    if len(later):
        also = (later["column"] + " (" + later["code"] + ")").groupby(later["at"]).agg(", ".join)
        mend = first["mend"].copy()
        mend.loc[also.index] = mend.loc[also.index] + " Also: " + also + "."
        first = first.assign(mend=mend)
    first = first.sort_index()
    out = first.assign(table=table, row=rows[first.index.to_numpy()])[list(COLUMNS)].reset_index(drop=True)
    return out.astype({name: "int64" if name == "row" else "str" for name in COLUMNS})


def empty_quarantine() -> pd.DataFrame:
    """A quarantine frame without rows."""
    return pd.DataFrame({name: pd.Series(dtype="int64" if name == "row" else "str") for name in COLUMNS})

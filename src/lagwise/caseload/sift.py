"""Rows and cells of one table -> used or set aside: each filled row and cell ends in
exactly one of the two."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import pandas as pd

from lagwise.caseload.check_edits import edits_of, mending
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import shown, texts
from lagwise.core import numbers
from lagwise.core.claim import Said
from lagwise.core.columns import WHEN

NO_RECORD = ("header_again", "total_row")
"""Reasons that leave nothing further to mend in a row."""
NOTHING_LOST = (*NO_RECORD, "duplicate_row")
"""Reasons for setting a row aside that take nothing away from what was recorded."""
COLUMNS = ("table", "row", "column", "value", "code", "mend", "whole_row")
COUNTS = ("table", "file", "read", "used", "quarantined", "cells_read", "cells_used", "cells_quarantined")
"""Per table: its file; rows read, used and set aside; filled cells of the used rows read,
used and set aside."""
_DTYPES = {name: {"row": "int64", "whole_row": "bool", "mend": "object"}.get(name, "str") for name in COLUMNS}
LOST: Mapping[str, str] = {
    "table": "str", "row": "int64", "person": "str", "date": "datetime64[us]", "column": "str"
}  # fmt: skip
"""Columns and types of what was set aside: `column` is empty where it was the whole row;
person or date are missing where they could not be read."""


MOST_ASIDE = 1_000_000
"""Rows and cells with a fault in one table; more of them are a question about the table."""


@dataclass(frozen=True)
class Fault:
    """Why some cells, or the whole of some rows, cannot be used: positions (k,), the raw values there,
    code and mend."""

    positions: np.ndarray
    column: str
    values: list[str]
    code: str
    mend: str
    whole: bool


@dataclass
class Faults:
    """Faults of one table of `count` rows in the order found. `rows` (count,)
    is True where the row is set aside whole."""

    count: int
    place: Place
    found: list[Fault] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rows = np.zeros(self.count, dtype=bool)
        self.noted = 0

    def add(
        self,
        positions: np.ndarray | list[int],
        column: str,
        raw: pd.Series | None,
        code: str,
        mend: str,
        *,
        whole: bool = True,
    ) -> None:
        """Note one fault at these row positions, of the whole row or of the cell in `column` alone.

        Raises CaseloadError when there are more faults than are listed.
        """
        if not len(positions):
            return
        at = np.asarray(positions)
        self.noted += len(at)
        if self.noted > MOST_ASIDE:
            raise self.place.error(
                f"more than {numbers.whole(MOST_ASIDE)} rows and cells cannot be used, "
                f"the last for {code.replace('_', ' ')} in {column or 'whole rows'}",
                f"{mend} Else look whether the columns hold what study.toml says.",
            )
        cells = [""] * len(at) if raw is None else raw.iloc[at]
        values = ["" if pd.isna(value) else shown(value, 80) for value in cells]
        self.found.append(Fault(at, column, values, code, mend, whole))
        if whole:
            self.rows[at] = True

    def cells(self, column: str = "") -> np.ndarray:
        """(count,) True where a cell has a fault, in one column or in any."""
        out = np.zeros(self.count, dtype=bool)
        for fault in self.found:
            if not fault.whole and fault.column == (column or fault.column):
                out[fault.positions] = True
        return out

    def set_aside_silent(self, says: np.ndarray) -> None:
        """Set rows aside whole that have a faulty cell and, as `says` (count,) tells, nothing else to say."""
        self.rows |= self.cells() & ~says


def quarantine_frame(table: str, rows: np.ndarray, faults: Faults) -> pd.DataFrame:
    """One line per row set aside whole, with its further faults named in the mend,
    and one per cell set aside alone."""
    if not faults.found:
        return empty_quarantine()
    long = _long(faults)
    whole = long[faults.rows[long["at"]]].sort_values("whole", ascending=False, kind="stable")
    first = whole.drop_duplicates("at")
    later = whole.loc[~whole.index.isin(first.index)]
    later = later[~later["at"].isin(first.loc[first["code"].isin(NO_RECORD), "at"])]
    if len(later):
        also = (later["column"] + " (" + later["code"] + ")").groupby(later["at"]).agg(", ".join)
        said = zip(first["mend"], first["at"].map(also), strict=True)
        both = (mend if pd.isna(more) else _and_also(mend, more) for mend, more in said)
        first = first.assign(mend=texts(both, first.index))
    cells = long[~faults.rows[long["at"]]].drop_duplicates(["at", "column"])
    out = pd.concat([first, cells]).sort_index().sort_values("at", kind="stable")
    out = out.assign(table=table, row=rows[out["at"].to_numpy()], whole_row=faults.rows[out["at"].to_numpy()])
    return out[list(COLUMNS)].reset_index(drop=True).astype(_DTYPES)


def _and_also(mend: str, others: str) -> Said:
    """A mend with the other faults of the same row, which keeps it as `alone`."""
    return mending(f"{mend} Also: {others}.", *edits_of(mend), alone=mend)


def lost_frame(table: str, frame: pd.DataFrame, faults: Faults) -> pd.DataFrame:
    """What was set aside of a dated table: table, row, person, date, column (see `LOST`)."""
    when = next((name for name in WHEN.values() if name in frame), "")
    if not faults.found or not when:
        return empty_lost()
    long = _long(faults).sort_values("whole", ascending=False, kind="stable")
    long["row_lost"] = faults.rows[long["at"]]
    long = long[~long["row_lost"] | ~long.duplicated("at")]
    long = long[~(long["row_lost"] & long["code"].isin(NOTHING_LOST))].sort_values("at", kind="stable")
    at = frame.iloc[long["at"]]
    out = pd.DataFrame(
        {
            "table": table,
            "row": at["row"].to_numpy(),
            "person": at["person"].array,
            "date": at[when].array,
            "column": long["column"].mask(long["row_lost"], "").array,
        }
    )
    return out.astype(dict(LOST))


def empty_quarantine() -> pd.DataFrame:
    """A quarantine frame without rows."""
    return _empty(*_DTYPES.items()).copy()


def empty_lost() -> pd.DataFrame:
    """A frame of what was set aside, without rows."""
    return _empty(*LOST.items()).copy()


@cache
def _empty(*kinds: tuple[str, str]) -> pd.DataFrame:
    return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in kinds})


def _long(faults: Faults) -> pd.DataFrame:
    """One row per position and fault, in the order found."""
    return pd.concat(
        [
            pd.DataFrame({"at": f.positions, "value": f.values}).assign(
                column=f.column, code=f.code, mend=texts([f.mend] * len(f.values)), whole=f.whole
            )
            for f in faults.found
        ],
        ignore_index=True,
    )

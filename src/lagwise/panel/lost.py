"""What was set aside of a table while reading: where it is missing from a step's sums."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Caseload


def lost_of(caseload: Caseload, table: str, used: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Whole rows, and single cells of used rows, that were set aside of a table: row, person, date, column.

    Only what can be placed is given: rows without a readable person or date, and people of whom nothing else
    in `used` (any frame with their codes in `person`) is known, are left out.
    """
    lost = caseload.lost
    if not len(lost):
        lost = pd.DataFrame({name: pd.Series(dtype="object") for name in ("row", "person", "date", "column")})
    else:
        lost = lost[
            (lost["table"] == table) & lost["date"].notna() & lost["person"].isin(used["person"].unique())
        ]
    whole = (lost["column"] == "").to_numpy(dtype=bool)
    return lost[whole], lost[~whole]


def marks(table: pd.DataFrame, cells: pd.DataFrame, when: str = "date") -> np.ndarray:
    """(n,) True for the rows of a table that any of these cells was set aside from; rows are known by row and
    date."""
    if not len(cells):
        return np.zeros(len(table), dtype=bool)
    # A form with one column per day gives several records of one file row, so the row number alone is not
    # enough.
    held = pd.MultiIndex.from_frame(table[["row", when]].set_axis(["row", "date"], axis=1))
    return held.isin(pd.MultiIndex.from_frame(cells[["row", "date"]]))

"""Forms with one column per day -> one row per day, as study.toml declares them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.caseload.grid import Grid, missing_column
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import remark


def unfold(grid: Grid, place: Place) -> tuple[Grid, np.ndarray]:
    """One row per file row and declared day on which anything is recorded, and the days to add to its date.

    Two columns of one measure and day (morning and evening) are two rows of that day, in the columns' order.
    A file row with no recorded day stays as one row without measures, so that no row is lost. Every new row
    keeps the row number of the file. Raises CaseloadError when a declared header is not there.
    """
    wide = {
        ours: {" ".join(header.split()): n for header, n in days.items()}
        for ours, days in place.source.wide.items()
    }
    headers = [str(h) for h in grid.frame.columns]
    for ours, days in wide.items():
        for header in days:
            if header not in headers:
                raise missing_column(place, ours, header, headers)
    moved = {header for days in wide.values() for header in days} | set(wide)
    plain = grid.frame[[h for h in headers if h not in moved]]
    offsets = sorted({n for days in wide.values() for n in days.values()})
    parts: list[pd.DataFrame] = []
    none = pd.Series([None] * len(plain), dtype="str")
    for offset in offsets:
        there = {ours: [header for header, n in days.items() if n == offset] for ours, days in wide.items()}
        for nth in range(max(map(len, there.values()))):
            measures = {
                ours: grid.frame[headers[nth]] if nth < len(headers) else none
                for ours, headers in there.items()
            }
            parts.append(
                pd.DataFrame(measures).assign(_at=np.arange(len(plain)), _days=offset, _first=not parts)
            )
    long = pd.concat(parts, ignore_index=True)
    recorded = long[list(wide)].notna().any(axis=1)
    silent = ~long["_at"].isin(long.loc[recorded, "_at"]) & long["_first"]
    long = long.loc[recorded | silent].sort_values(["_at", "_days"], kind="stable")
    at, days_on = long["_at"].to_numpy(), long["_days"].to_numpy()
    frame = pd.concat(
        [plain.iloc[at].reset_index(drop=True), long[list(wide)].reset_index(drop=True)], axis=1
    )
    told = remark("wide_layout", place.table, ", ".join(wide), len(frame), rows=len(plain), days=len(frame))
    ragged = {int(i): grid.ragged[a] for i, a in enumerate(at) if a in grid.ragged}
    long_grid = replace(grid, frame=frame, rows=grid.rows[at], remarks=(*grid.remarks, told), ragged=ragged)
    return long_grid, days_on

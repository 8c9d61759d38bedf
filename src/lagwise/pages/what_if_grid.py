"""The grid that stands where nothing can be moved: read, and written again by `python -m
lagwise.pages.what_if_grid`.
"""

from __future__ import annotations

from importlib.resources import as_file, files

import pandas as pd

from lagwise.planning.what_if import cell, cells

FILE = files("lagwise.pages") / "what_if.csv"


def read_grid() -> pd.DataFrame:
    """One row per cell of `lagwise.planning.what_if.cells`, as `cell` gives it."""
    with as_file(FILE) as path:
        return pd.read_csv(path)


def made() -> pd.DataFrame:
    """The grid, simulated anew."""
    found = {settings: cell(settings) for settings in {settings for _, settings in cells()}}
    return pd.DataFrame([{"moved": moved, **found[settings]} for moved, settings in cells()])


if __name__ == "__main__":
    with as_file(FILE) as path:
        made().to_csv(path, index=False, lineterminator="\n")

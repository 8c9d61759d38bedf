"""How people use the scales of ratings: the floor, the ceiling and favoured numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Caseload, Panel
from lagwise.core.study import Study
from lagwise.core.variable import PAIN, VARIABLES, Variable

MOST = 30
"""Whole numbers a scale may have for each to be counted."""


def scales(study: Study) -> tuple[Variable, ...]:
    """The ratings whose whole numbers can be counted one by one, pain first: on scales of up to 30 points."""
    rated = [v for v in study.variables.values() if v.rated and v.unit == "point" and v.width <= MOST]
    return tuple(sorted(rated, key=lambda v: not v.flares))


def floor_and_heaping(panel: Panel, caseload: Caseload | None = None) -> pd.DataFrame:
    """How often each whole number of a rating's scale is used, and by how many people.

    Parameters
    ----------
    panel : Panel
    caseload : Caseload, optional
        Given, single ratings of its check-ins (or weeks) are counted as they were made; without it, the
        panel's step values, which are means of several ratings where people rate often and then hide heaping.

    Returns
    -------
    DataFrame
        variable, value (0-10, or the whole numbers of its own scale; values between are rounded half up),
        counted ('ratings' or 'steps'), n, share, n_people (who used it), n_people_only (who used nothing
        else), neighbours_share (mean share of the two next values; missing at the ends). A share far above
        that of its neighbours speaks of heaping; a large share at 0 of a floor, where relief cannot show.
        Variables that are never rated are left out, and scales of more than 30 whole numbers.
    """
    table, counted = panel.frame, "steps"
    if caseload is not None:
        table, counted = (caseload.weeks if len(caseload.weeks) else caseload.checkins), "ratings"
    every = scales(panel.study)
    out = [_used(table, v, counted) for v in every if v.name in table and table[v.name].notna().any()]
    if not out:
        return _used(panel.frame, VARIABLES[PAIN], counted).iloc[:0]
    return pd.concat(out, ignore_index=True)


def _used(table: pd.DataFrame, variable: Variable, counted: str) -> pd.DataFrame:
    name, low, high = variable.name, int(variable.low or 0), int(variable.high or 0)
    known = table.loc[table[name].notna(), ["person", name]]
    value = np.floor(known[name].to_numpy(dtype=float) + 0.5).astype("int64")
    uses = pd.DataFrame({"person": known["person"].to_numpy(), "value": value})
    pairs = uses.drop_duplicates()
    lone = pairs.loc[~pairs["person"].duplicated(keep=False)]
    many = max([high, *value]) - low + 1
    n = np.bincount(value - low, minlength=many)
    share = n / max(len(value), 1)
    beside = np.full(many, np.nan)
    beside[1:-1] = (share[:-2] + share[2:]) / 2
    of, only = (np.bincount(one["value"] - low, minlength=many) for one in (pairs, lone))
    return pd.DataFrame({
        "variable": name, "value": low + np.arange(many), "counted": counted, "n": n, "share": share,
        "n_people": of, "n_people_only": only, "neighbours_share": beside,
    })  # fmt: skip

"""How people use the 0-10 scale: the floor, the ceiling and favoured numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Caseload, Panel

SCALES = ("pain", "stress", "sleep_quality", "worry", "confidence")


def floor_and_heaping(panel: Panel, caseload: Caseload | None = None) -> pd.DataFrame:
    """How often each whole number of a 0-10 rating is used, and by how many people.

    Parameters
    ----------
    panel : Panel
    caseload : Caseload, optional
        Given, single ratings of its check-ins (or weeks) are counted as they were made; without it, the panel's step
        values, which are means of several ratings where people rate often and then hide heaping.

    Returns
    -------
    DataFrame
        variable, value (0-10; values between are rounded half up), counted ('ratings' or 'steps'), n, share, n_people
        (who used it), n_people_only (who used nothing else), neighbours_share (mean share of the two next values;
        missing at 0 and 10). A share far above that of its neighbours speaks of heaping; a large share at 0 of a floor,
        where relief cannot show. Variables that are never rated are left out.
    """
    table, counted = panel.frame, "steps"
    if caseload is not None:
        table, counted = (caseload.weeks if len(caseload.weeks) else caseload.checkins), "ratings"
    out = [_used(table, name, counted) for name in SCALES if table[name].notna().any()]
    return pd.concat(out, ignore_index=True) if out else _used(table, SCALES[0], counted).iloc[:0]


def _used(table: pd.DataFrame, name: str, counted: str) -> pd.DataFrame:
    known = table.loc[table[name].notna(), ["person", name]]
    value = np.floor(known[name].to_numpy(dtype=float) + 0.5).astype("int64")
    uses = pd.DataFrame({"person": known["person"].to_numpy(), "value": value})
    pairs = uses.drop_duplicates()
    lone = pairs.loc[~pairs["person"].duplicated(keep=False)]
    n = np.bincount(value, minlength=11)
    share = n / max(len(value), 1)
    beside = np.full(11, np.nan)
    beside[1:-1] = (share[:-2] + share[2:]) / 2
    return pd.DataFrame(
        {
            "variable": name,
            "value": np.arange(11),
            "counted": counted,
            "n": n,
            "share": share,
            "n_people": np.bincount(pairs["value"], minlength=11),
            "n_people_only": np.bincount(lone["value"], minlength=11),
            "neighbours_share": beside,
        }
    )

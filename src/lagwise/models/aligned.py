"""Load jumps around flare onsets, beside the same people's steps that were not followed by one."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL

OFFSETS = tuple(range(-4, 3))
DRAWS = 1000
COLUMNS = ("offset", "onset_mean", "matched_mean", "difference", "low", "high", "n_onsets", "n_people")


def aligned(panel: Panel, outcome: str, seed: int = 0) -> pd.DataFrame:
    """Mean jump at steps -4 to +2 around onsets against matched at-risk steps of the same person.

    Offset 0 is the step in which the flare-up is seen; -1 the step before it, whose jump the onset model
    uses. Each onset is matched with all of the same person's at-risk steps that were not followed by an
    onset; its difference is its jump minus their mean at the same offset. Onsets count once each. The band is
    a percentile bootstrap over people.

    Parameters
    ----------
    panel : Panel
        With `outcome` known on at-risk steps only.
    outcome : str
        Panel column: 1 where the next step is an onset.
    seed : int

    Returns
    -------
    DataFrame
        Columns `COLUMNS`, jumps in log units; an offset at which nothing is known has missing numbers.
        Offsets after 0 show what flare-ups do to load, not what came before them.
    """
    frame = panel.frame.sort_values(["person", "step"], kind="stable")
    people, code = np.unique(frame["person"].astype(str), return_inverse=True)
    jump, y = frame["jump"].to_numpy(dtype=float), frame[outcome].to_numpy(dtype=float)
    rng = np.random.default_rng(seed)
    weights = rng.multinomial(len(people), np.full(len(people), 1 / len(people)), size=DRAWS)
    rows = []
    for offset in OFFSETS:
        seen = _shifted(jump, code, offset + 1)
        onset, other = (y == 1) & ~np.isnan(seen), (y == 0) & ~np.isnan(seen)
        n = np.bincount(code[onset], minlength=len(people))
        sums = np.bincount(code[onset], weights=seen[onset], minlength=len(people))
        m = np.bincount(code[other], minlength=len(people))
        means = np.bincount(code[other], weights=seen[other], minlength=len(people)) / np.maximum(m, 1)
        use = (n > 0) & (m > 0)
        n, sums, matched = np.where(use, n, 0), np.where(use, sums, 0.0), np.where(use, n * means, 0.0)
        total = n.sum()
        if total == 0:
            rows.append((offset, *(np.nan,) * 5, 0, 0))
            continue
        drawn = weights @ n
        kept = drawn > 0
        band = (weights @ (sums - matched))[kept] / drawn[kept]
        low, high = (
            np.quantile(band, [0.5 - INTERVAL / 2, 0.5 + INTERVAL / 2]) if use.sum() > 1 else (np.nan, np.nan)
        )
        a, b = sums.sum() / total, matched.sum() / total
        rows.append((offset, a, b, a - b, low, high, int(total), int(use.sum())))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _shifted(values: np.ndarray, code: np.ndarray, by: int) -> np.ndarray:
    """values[t + by] within the same person; missing beyond the record. Rows are calendar-complete."""
    out = np.full(len(values), np.nan)
    if abs(by) >= len(values):
        return out
    here, there = (
        (slice(0, len(values) - by), slice(by, None)) if by >= 0 else (slice(-by, None), slice(0, by))
    )
    same = code[here] == code[there]
    out[here] = np.where(same, values[there], np.nan)
    return out

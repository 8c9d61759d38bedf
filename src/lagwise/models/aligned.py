"""Load jumps around flare onsets, beside the same people's steps that were not followed by one."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.core.variable import JUMP
from lagwise.panel.arrays import people_of

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
    people, code = people_of(frame)
    y, jumps = frame[outcome].to_numpy(dtype=float), frame[JUMP].astype(float).groupby(code)
    m = len(people)
    weights = np.random.default_rng(seed).multinomial(m, np.full(m, 1 / m), size=DRAWS)
    rows = []
    for offset in OFFSETS:
        seen = jumps.shift(-offset - 1).to_numpy()  # rows are calendar-complete
        known = ~np.isnan(seen)
        (n, sums), (others, other_sums) = (
            (np.bincount(code[at], minlength=m), np.bincount(code[at], weights=seen[at], minlength=m))
            for at in ((y == 1) & known, (y == 0) & known)
        )
        use = (n > 0) & (others > 0)
        matched = np.where(use, n * (other_sums / np.maximum(others, 1)), 0.0)
        n, sums = np.where(use, n, 0), np.where(use, sums, 0.0)
        total = n.sum()
        if total == 0:
            rows.append((offset, *(np.nan,) * 5, 0, 0))
            continue
        drawn = weights @ n
        band = (weights @ (sums - matched))[drawn > 0] / drawn[drawn > 0]
        ends = [0.5 - INTERVAL / 2, 0.5 + INTERVAL / 2]
        low, high = np.quantile(band, ends) if use.sum() > 1 else (np.nan, np.nan)
        a, b = sums.sum() / total, matched.sum() / total
        rows.append((offset, a, b, a - b, low, high, int(total), int(use.sum())))
    return pd.DataFrame(rows, columns=list(COLUMNS))

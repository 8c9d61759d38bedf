"""How far one person's phases overlap, as description: no errors or tests, which would take steps for
independent."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lagwise.events.single import phases
from lagwise.models.estimable import ROUNDING


def overlap(step: Sequence[int], value: Sequence[float], starts: Sequence[int]) -> pd.DataFrame:
    """Overlap of each phase with the one before it: one row per phase after the first.

    Of all pairs of an earlier value a and a later value b, higher - lower is S. Where lower is better, the
    signs turn, and `nap` becomes 1 - nap.

    Returns
    -------
    pandas.DataFrame
        phase, start : 1, 2, ...; its first step.
        pairs : values before times values after.
        nap : share of pairs with b > a, ties half; non-overlap of all pairs (Parker & Vannest 2009,
        doi:10.1016/j.beth.2008.10.006).
        tau : S / pairs = 2 nap - 1.
        tau_u : (S - S of the earlier phase over its own time) / pairs; may pass 1 (Parker et al. 2011,
        doi:10.1016/j.beth.2010.08.006).
        slope : median of the slopes between pairs of the earlier phase, per step (Theil-Sen).
        tau_corrected : tau after that slope is taken from both phases (Tarlow 2017,
        doi:10.1177/0145445516659306).

    Differences of the order of rounding are ties.

    Raises
    ------
    ModelError
        As for `lagwise.events.single.phases`.
    """
    p = phases(step, value, starts)
    near = ROUNDING * np.abs(p.value).max()
    rows = []
    for later, start in enumerate(p.starts, 1):
        before, after = p.phase == later - 1, p.phase == later
        a, b, times = p.value[before], p.value[after], p.step[before]
        i, j = np.triu_indices(len(a), 1)
        rise, slope = a[j] - a[i], float(np.median((a[j] - a[i]) / (times[j] - times[i])))
        s, own, pairs = _score(b[:, None] - a, near), _score(rise, near), len(a) * len(b)
        flat = p.value - slope * (p.step - p.step[0])
        reach = near + ROUNDING * abs(slope) * np.ptp(p.step)
        corrected = _score(flat[after][:, None] - flat[before], reach) / pairs
        tau = s / pairs
        rows.append((later, start, pairs, (1 + tau) / 2, tau, (s - own) / pairs, slope, corrected))
    columns = ["phase", "start", "pairs", "nap", "tau", "tau_u", "slope", "tau_corrected"]
    return pd.DataFrame(rows, columns=columns)


def _score(difference: np.ndarray, near: float) -> int:
    """Differences above `near` minus those below -`near`."""
    return int((difference > near).sum() - (difference < -near).sum())

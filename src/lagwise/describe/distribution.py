"""How the values of each variable are spread over person-steps: counts between edges."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.describe.numbers import label_of, ratings_of, unit_of

MOST = 24
"""Stretches that values are counted in at most."""


def distribution_table(panel: Panel) -> pd.DataFrame:
    """How many person-steps have a value between two edges, for load, effort and every rating that is known.

    Returns
    -------
    DataFrame
        variable, label, unit, low, high (edges; a value at the upper edge counts above it), n (person-steps),
        n_people (who had such a step). Ratings are counted around each whole number, or in twentieths of long
        scales; load in at most 24 stretches of a round width. Every stretch between the lowest and the
        highest value is there.
    """
    frame, study = panel.frame, panel.study
    first, *others = ratings_of(study)
    names = [name for name in dict.fromkeys(("load", first, *others)) if name in frame]
    rows = []
    for name in names:
        known = frame.loc[frame[name].notna(), ["person", name]]
        if known.empty:
            continue
        edges = _edges(known[name].to_numpy(dtype=float), rated=name != "load")
        at = np.clip(np.searchsorted(edges, known[name], side="right") - 1, 0, len(edges) - 2)
        common = {"variable": name, "label": label_of(name, study), "unit": unit_of(name, study)}
        for i, (low, high) in enumerate(pairwise(edges)):
            who = known["person"].to_numpy()[at == i]
            rows.append(common | {"low": low, "high": high, "n": len(who), "n_people": len(set(who))})
    return pd.DataFrame(rows, columns=["variable", "label", "unit", "low", "high", "n", "n_people"])


def _edges(values: np.ndarray, *, rated: bool) -> np.ndarray:
    """Round edges around all values: of ratings halfway between the multiples of their width."""
    low, high = float(values.min()), float(values.max())
    reach, most = high - low, float(np.clip(2 * np.sqrt(len(values)), 6, MOST))
    finest = 1.0 if (values % 1 == 0).all() or (rated and reach > 2) else 0.1 if rated else 0.0
    widths = (step * 10.0**power for power in range(-3, 9) for step in (1, 2, 5))
    width = next(w for w in widths if w >= finest and reach / w < (MOST if rated else most))
    shift = width / 2 if rated else 0.0
    first, last = (np.floor((end + shift) / width + 1e-9) for end in (low, high))
    return np.arange(first, last + 2) * width - shift

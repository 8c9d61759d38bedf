"""Predictive checks: does the model make ratings that look like these?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.study import INTERVAL
from lagwise.models.gcomp import Levels

PLAIN = Levels()


def checks(levels: Levels = PLAIN) -> dict[str, str]:
    """Statistics compared, each with what it is."""
    low, many = levels.values[0], levels.values[_many(levels)]
    return {
        f"share_at_{low:g}": said("check.lowest", rating=low),
        f"share_at_{many:g}_or_more": said("check.many", rating=many),
        **{name: said(f"check.{name}") for name in ("heaping", "change_sd", "person_mean_sd")},
    }


def _many(levels: Levels) -> int:
    """Place of the first level in the upper three tenths of the scale."""
    return -(-7 * (levels.count - 1) // 10)


def statistics(y: np.ndarray, now: np.ndarray, person: np.ndarray, levels: Levels = PLAIN) -> np.ndarray:
    """The checks of (..., n) places of ratings among the levels as (..., 5), in the order of `checks`.

    `now` (n,) is the place of the last rating before these, NaN where unknown; `person` (n,) codes.
    """
    y = np.asarray(y)
    flat = y.reshape(-1, y.shape[-1]).astype(np.int64)
    shares = np.stack([(flat == k).mean(axis=1) for k in range(levels.count)], axis=1)
    heap = (shares[:, 1:-1] - (shares[:, :-2] + shares[:, 2:]) / 2).max(axis=1)
    known = ~np.isnan(now)
    change = (flat[:, known] - now[known]).std(axis=1) if known.any() else np.full(len(flat), np.nan)
    count = np.bincount(person)
    onto = np.zeros((len(person), len(count)))
    onto[np.arange(len(person)), person] = 1.0 / count[person]
    means = (flat @ onto).std(axis=1)
    many = shares[:, _many(levels) :].sum(axis=1)
    out = np.stack([shares[:, 0], many, heap, levels.step * change, levels.step * means], axis=1)
    return out.reshape(*y.shape[:-1], 5)


def draw_ratings(eta: np.ndarray, cutpoints: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Ratings (draws, n) of cumulative-logit linear predictors (draws, n) and cutpoints (draws, K - 1), as
    int8."""
    latent = eta + rng.logistic(size=eta.shape)
    out = np.zeros(eta.shape, dtype=np.int8)
    for k in range(cutpoints.shape[1]):
        out += latent > cutpoints[:, k : k + 1]
    return out


def check_table(observed: np.ndarray, predicted: np.ndarray, levels: Levels = PLAIN) -> pd.DataFrame:
    """One row per check: check, meaning, observed, predicted (mean), low, high, within.

    `observed` (5,) and `predicted` (draws, 5) come from `statistics`; low and high span the project's
    interval of the predicted values and `within` says whether the observed one lies in it.
    """
    tail = (1 - INTERVAL) / 2
    low, high = np.quantile(predicted, [tail, 1 - tail], axis=0)
    return pd.DataFrame(
        {
            "check": list(checks(levels)),
            "meaning": list(checks(levels).values()),
            "observed": observed,
            "predicted": predicted.mean(axis=0),
            "low": low,
            "high": high,
            "within": (observed >= low) & (observed <= high),
        }
    )

"""Run the challenges: each timed, none able to stop the others."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from types import ModuleType

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context
from lagwise.challenges.registry import REGISTRY
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.results import Challenge, Challenges, Fit, Panel


def challenge(
    panel: Panel,
    fit: Fit,
    *,
    only: Sequence[str] | None = None,
    seed: int = 1,
    draws: int = 999,
    bayes: Fit | None = None,
    progress: Callable[[str, int, int], None] | None = None,
) -> Challenges:
    """Try to break the primary result.

    Parameters
    ----------
    panel : Panel
    fit : Fit
        The mixed fit whose primary row is challenged.
    only : names of challenges, optional
        All by default. A challenge gives the same numbers whether it is run alone or among others.
    seed : seed of everything random
    draws : shuffles or resamples of a challenge that needs them, at least 999
    bayes : a usable Bayesian fit, for challenges that need one
    progress : called with (name, index, number of challenges) before each one

    Returns
    -------
    Challenges
        In registry order. One that cannot be run has the verdict 'cannot_tell' and says why in `problem`.

    Raises
    ------
    ModelError
        When `only` names a challenge that does not exist or `draws` is below 999.
    """
    if draws < 999:
        raise ModelError(f"{draws} shuffles are too few", mend="Use at least 999.")
    chosen = _chosen(only)
    context = Context(panel, fit, seed=seed, draws=draws, bayes=bayes)
    results = []
    for i, one in enumerate(chosen):
        if progress is not None:
            progress(one.NAME, i, len(chosen))
        began = time.perf_counter()
        results.append(replace(_attempt(one, context), seconds=time.perf_counter() - began))
    return Challenges(tuple(results), seed=seed)


def _attempt(one: ModuleType, context: Context) -> Challenge:
    try:
        return one.run(context)
    except (LagwiseError, np.linalg.LinAlgError) as error:
        empty = pd.DataFrame(columns=["quantity", "value", "low", "high", "unit"])
        return Challenge(one.NAME, one.TITLE, one.QUESTION, "cannot_tell", empty, "", one.LIMITS, problem=str(error))


def _chosen(only: Sequence[str] | None) -> tuple[ModuleType, ...]:
    if only is None:
        return REGISTRY
    known = [one.NAME for one in REGISTRY]
    for name in only:
        if name not in known:
            raise ModelError(f"there is no challenge {name!r}", mend=f"Use one of {', '.join(known)}.")
    return tuple(one for one in REGISTRY if one.NAME in only)

"""Run the challenges one after the other; one that cannot be run says why and stops nothing."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers
from lagwise.challenges.phrases import fill, step_word
from lagwise.challenges.registry import REGISTRY, Entry, named
from lagwise.challenges.work import open_executor
from lagwise.core.errors import LagwiseError, ModelError, NotApplicable
from lagwise.core.results import Challenge, Challenges, Fit, Panel
from lagwise.core.terms import EXPOSURES

Progress = Callable[[str, int, int], None]
"""Called before each challenge with its name, its 0-based place and how many there are."""


def challenge(
    panel: Panel,
    fit: Fit,
    *,
    only: Iterable[str] | None = None,
    seed: int = 1,
    draws: int = 999,
    workers: int | None = None,
    cluster: str | None = None,
    quick: bool = False,
    bayes: Fit | None = None,
    people: pd.DataFrame | None = None,
    progress: Progress | None = None,
) -> Challenges:
    """Try to break the primary result of a fit.

    Parameters
    ----------
    panel : Panel
        The panel the fit was made from. It is not changed.
    fit : Fit
        From `fit_mixed`.
    only : names of challenges, optional
        All of the registry by default, in its order. A challenge's numbers do not depend on which others run.
    seed : int
        Each challenge draws from a stream of its own, made from this seed and its name.
    draws : int
        Shuffles or resamples of a challenge that needs them, at least 999.
    workers : local processes for independent tasks; None or 1 means this process. Numbers do not depend on it.
    cluster : address of a Dask scheduler, in place of local processes
    quick : fewer simulated caseloads, imputations and shuffled specifications
    bayes : Fit, optional
        From `fit_ordinal`; the challenge of the prior needs it.
    people : DataFrame, optional
        The caseload's people table; its `region` tells which exercise group bears on whose pain.
    progress : callable(name, i, n), optional

    Returns
    -------
    Challenges
        One `Challenge` each, with its seconds. One that cannot be run has the verdict cannot_tell and `problem` in words; `applies` is False where
        it is about something that the study does not ask or record.

    Raises
    ------
    LagwiseError
        When a name in `only` is not in the registry, or `draws` is below 999.
    """
    if draws < 999:
        raise ModelError(f"{draws} shuffles are too few", mend="Use at least 999.")
    entries = REGISTRY if only is None else named(only)
    results = []
    with open_executor(workers, cluster) as executor:
        context = Context(panel, fit, bayes, seed, draws, quick, executor, _regions(people))
        for i, entry in enumerate(entries):
            if progress is not None:
                progress(entry.NAME, i, len(entries))
            results.append(_timed(entry, context))
    return Challenges(tuple(results), seed)


def _regions(people: pd.DataFrame | None) -> dict[str, str] | None:
    if people is None or "region" not in people.columns:
        return None
    known = people.dropna(subset=["region"])
    return dict(zip(known["person"].astype(str), known["region"].astype(str), strict=True)) or None


def _timed(entry: Entry, context: Context) -> Challenge:
    began = time.perf_counter()
    try:
        result = entry.run(context)
    except LagwiseError as error:
        result = _could_not(entry, str(error), applies=not isinstance(error, NotApplicable))
    except np.linalg.LinAlgError as error:
        result = _could_not(entry, f"the numbers could not be worked out ({error})")
    study = context.panel.study
    words = step_word(study), "load" if study.analysis.primary == "jump" else EXPOSURES[study.analysis.primary].label
    return replace(
        result,
        title=fill(result.title, *words),
        question=fill(result.question, *words),
        limits=fill(result.limits, *words),
        seconds=time.perf_counter() - began,
    )


def _could_not(entry: Entry, problem: str, *, applies: bool = True) -> Challenge:
    return Challenge(
        entry.NAME, entry.TITLE, entry.QUESTION, "cannot_tell", numbers([]),
        "This challenge could not be run." if applies else "This challenge does not apply here.", entry.LIMITS,
        problem=problem, applies=applies,
    )  # fmt: skip

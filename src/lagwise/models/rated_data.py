"""From a panel to the arrays of the joint model of ratings, load and pain."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.errors import ModelError
from lagwise.core.numbers import plural
from lagwise.core.results import Panel
from lagwise.core.terms import whole
from lagwise.core.variable import JUMP
from lagwise.models.rating_noise import HELD, within_steps

ROWS = ("y", "noise", "x", "usual", "moved", "gone", "heavy", "Z", "W", "A", "G")
"""Fields of `RatedData` with one row a person-step."""
LEAST_PEOPLE = 5
LEAST_STEPS = 8
"""People with a load jump and ratings, and steps a person with the longest record, below which there is no
joint model."""


@dataclass(frozen=True)
class RatedData:
    """Arrays of n person-steps of m people, sorted by person and step; rows of `rated_filter.sums`.

    `y` (n,) ratings in units of `scale` points (1 of 0-10, 10 of 0-100), NaN where missing; `noise` (n,)
    error variance of the step's days; `x` (n,) jump on trained steps with a usual load, NaN elsewhere,
    `moved` the same with 0. `Z`, `W`, `A` with the names of their columns in `of_rating`, `of_load`,
    `of_pain`; the first of `of_pain` is jump. `day_sd` is NaN where no step holds two ratings. `left` lists
    (exposure, why) for those that could not enter.
    """

    people: tuple[str, ...]
    start: np.ndarray
    y: np.ndarray
    noise: np.ndarray
    x: np.ndarray
    usual: np.ndarray
    moved: np.ndarray
    gone: np.ndarray
    heavy: np.ndarray
    Z: np.ndarray
    W: np.ndarray
    A: np.ndarray
    G: np.ndarray
    gone_noise: float
    of_rating: tuple[str, ...]
    of_load: tuple[str, ...]
    of_pain: tuple[str, ...]
    day_sd: float
    left: tuple[tuple[str, str], ...] = ()
    scale: float = 1.0

    def take(self, people: np.ndarray) -> RatedData:
        """The data of some people, by position."""
        rows = np.concatenate([np.arange(self.start[i], self.start[i + 1]) for i in people])
        counts = np.diff(self.start)[people]
        cut = {name: getattr(self, name)[rows] for name in ROWS}
        return RatedData(
            **{
                **vars(self),
                **cut,
                "people": tuple(self.people[i] for i in people),
                "start": np.append(0, np.cumsum(counts)),
            }
        )

    def redrawn(self, y: np.ndarray, x: np.ndarray, usual: np.ndarray) -> RatedData:
        """The same records with other ratings, in points, log loads and log usual loads, (n,) each, known
        where these are."""
        y, x, usual = (
            np.where(np.isnan(was), np.nan, now)
            for was, now in ((self.y, y / self.scale), (self.x, x), (self.usual, usual))
        )
        moved = np.nan_to_num(x - usual)
        heavy = np.maximum(np.append(0.0, moved[:-1]), 0.0)
        heavy[self.start[:-1]] = 0.0
        A, G = self.A.copy(), self.G.copy()
        A[:, 0], G[:, :1] = moved, np.where(np.isnan(self.gone), 0.0, heavy)[:, None]
        return replace(self, y=y, x=x, usual=usual, moved=moved, heavy=heavy, A=A, G=G)


def rated_data(panel: Panel) -> RatedData:
    """The arrays of a panel, which is not changed; people without a rating or without a load jump stay out.

    Raises
    ------
    ModelError
        When load, ratings or steps are too few for the model, or the plan asks about the same step (lag 0),
        in words.
    """
    asked, called = panel.study.outcome, panel.study.step
    if not asked.lag:
        raise ModelError(
            f"the joint model is of what load does to {asked.variable.label} of the next {called}, and the "
            f"plan asks about the same {called}",
            mend="The mixed model answers it.",
        )
    frame = panel.frame.sort_values(["person", "step"], kind="stable")
    both = frame.groupby("person")[[asked.name, JUMP]].transform("count").min(axis=1) > 0
    frame = frame[both.to_numpy()].reset_index(drop=True)
    y = frame[asked.name].to_numpy(dtype=float) / asked.scale
    _require(frame, asked.name)
    person = frame["person"].to_numpy(dtype=object).astype(str)
    first = np.flatnonzero(np.append(True, person[1:] != person[:-1]))
    load, before = (frame[name].where(frame[name] > 0).to_numpy(dtype=float) for name in ("load", "usual"))
    x, usual = np.log(load), np.log(before)
    moved = np.where(np.isnan(x) | np.isnan(usual), 0.0, frame[JUMP].to_numpy(dtype=float))
    trained = ~np.isnan(x)
    step = frame["step"].to_numpy(dtype=float)
    tau = (step - step.mean()) / max(step.max(), 1.0)
    exposures = [t for t in panel.study.analysis.exposures if not whole(t)]
    parts = {term: frame[f"{term}_within"].fillna(0.0).to_numpy(dtype=float) for term in exposures}
    held = {t: v for t, v in parts.items() if v.any()}
    day = within_steps(panel)[0] / asked.scale
    counted = "n_ratings" if asked.variable.flares else "n_checkins"
    n = np.maximum(frame[counted].to_numpy(dtype=float), 1.0)
    single = 1.0 if asked.variable.flares and panel.study.pain.summary == "last" else n
    pain = {
        JUMP: moved, "rested": frame["rested"].eq(1).to_numpy(dtype=float),
        "restarted": frame["restarted"].eq(1).to_numpy(dtype=float),
        "unknown": frame[JUMP].isna().to_numpy(dtype=float), **held,
    }  # fmt: skip
    follows = (trained & ~np.isnan(usual)).astype(float)
    loads = {
        "intercept": np.ones(len(x)),
        "usual_known": follows,
        "step": tau,
        **{t: held[t] for t in HELD if t in held},
    }
    rating = {"intercept": np.ones(len(x)), "step": tau}
    gone, heavy, gone_noise = _missing(frame[asked.name], person, moved)
    told = ~np.isnan(gone)
    _, G = _columns({"heavy": np.where(told, heavy, 0.0)}, told)
    of_load, W = _columns(loads, trained)
    of_pain, A = _columns(pain, _answered(person, x, y))
    if JUMP not in of_pain:
        raise ModelError("load does not vary against the usual load")
    of_rating, Z = _columns(rating, ~np.isnan(y))
    return RatedData(
        people=tuple(person[first]),
        start=np.append(first, len(person)),
        y=y,
        noise=(0.0 if np.isnan(day) else day**2) / single * np.ones(len(x)),
        x=x,
        usual=usual,
        moved=moved,
        gone=gone,
        heavy=heavy,
        Z=Z,
        W=W,
        A=A,
        G=G,
        gone_noise=gone_noise,
        of_rating=of_rating,
        of_load=of_load,
        of_pain=of_pain,
        day_sd=day,
        scale=asked.scale,
        left=tuple(
            (t, said(f"column.{'not_recorded' if frame[t].isna().all() else 'still_within'}"))
            for t in exposures
            if t not in held
        ),
    )


def _missing(
    rating: pd.Series, person: np.ndarray, moved: np.ndarray
) -> tuple[np.ndarray, np.ndarray, float]:
    """Missing ratings, 1 or 0 less the person's own share, NaN where they cannot tell anything; how far the
    step before lay above usual; variance of the first."""
    miss = rating.isna().astype(float)
    inner = rating.notna()
    inside = (inner.groupby(person, sort=False).cumsum() > 0) & (
        inner[::-1].groupby(person[::-1], sort=False).cumsum()[::-1] > 0
    )
    miss = miss.where(inside)
    centred = (miss - miss.groupby(person, sort=False).transform("mean")).to_numpy()
    heavy = np.maximum(np.append(0.0, moved[:-1]), 0.0) * np.append(False, person[1:] == person[:-1])
    spread = float(np.nanvar(centred))
    if miss.sum() < 10:
        return np.full(len(miss), np.nan), heavy, 1.0
    return centred, heavy, spread


def _answered(person: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Steps that a rating or a load of the same person follows at some time: the others can tell nothing of
    what moves pain."""
    seen = pd.Series(np.isfinite(x) | np.isfinite(y)).groupby(person, sort=False)
    return (seen.transform("sum") - seen.cumsum() > 0).to_numpy()


def _require(frame: pd.DataFrame, name: str) -> None:
    people = frame["person"].nunique()
    if people < LEAST_PEOPLE:
        raise ModelError(
            f"{plural(people, 'person has', 'people have')} both ratings and a load against their usual one; "
            f"the joint model needs {LEAST_PEOPLE}"
        )
    longest = int(frame.groupby("person").size().max())
    if longest < LEAST_STEPS:
        raise ModelError(f"the longest record has {longest} steps; the joint model needs {LEAST_STEPS}")
    centred = frame[name] - frame.groupby("person")[name].transform("mean")
    if not (centred.abs() > 1e-9).any():
        raise ModelError("no rating differs from the person's others")


def _columns(columns: dict[str, np.ndarray], used: np.ndarray) -> tuple[tuple[str, ...], np.ndarray]:
    """Names and columns that are not a mixture of those before them on the rows used."""
    names: list[str] = []
    kept = np.empty((len(used), 0))
    for name, values in columns.items():
        wider = np.column_stack([kept, values])
        on = wider[used]
        size = np.linalg.norm(on, axis=0)
        if size[-1] > 0 and np.linalg.svd(on / np.maximum(size, 1e-300), compute_uv=False)[-1] > 1e-6:
            names.append(name)
            kept = wider
    return tuple(names), np.ascontiguousarray(kept)

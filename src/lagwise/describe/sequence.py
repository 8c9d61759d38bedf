"""The primary exposure beside the outcome of the same step and of the next, before anything is modelled."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.core.claim import said
from lagwise.core.numbers import plural, signed
from lagwise.core.results import Panel, Picture
from lagwise.core.study import INTERVAL
from lagwise.core.terms import whole
from lagwise.core.words import slope_unit
from lagwise.describe.numbers import label_of

DOUBLINGS = ((-2, "¼"), (-1, "½"), (0, "usual"), (1, "×2"), (2, "×4"))
"""Ticks of load over usual load in doublings, and how they are written."""


@dataclass(frozen=True)
class _View:
    """One comparison: its name, its person-steps, and their x and y less the person's own mean; x in
    doublings of load or the exposure's own units."""

    name: str
    person: np.ndarray
    x: np.ndarray
    y: np.ndarray


def same_and_next(panel: Panel) -> pd.DataFrame:
    """Slopes of the outcome on the primary exposure within people: same step, next step, and next step at the
    same rating.

    Outcome and exposure are taken less the person's own means over the steps compared, x and y; slope = sum
    xy / sum xx. At the same rating, the part that goes along with this step's rating is first taken out of
    both in the same way. The interval is that of a t distribution with people - 1 degrees of freedom and the
    cluster-robust variance sum_i (sum_t x e)^2 / (sum xx)^2 * m / (m - 1).

    Returns
    -------
    DataFrame
        comparison, slope, low, high (points of the outcome for twice the load over the usual, or per unit
        of another exposure), n_people, n_steps. Nothing else is held equal here, so this is a first look and
        no estimate of the planned comparison.
    """
    rows = []
    for view in _views(panel):
        slope, low, high = _slope(view)
        rows.append((view.name, slope, low, high, len(np.unique(view.person)), len(view.x)))
    return pd.DataFrame(rows, columns=["comparison", "slope", "low", "high", "n_people", "n_steps"])


def turned_back(panel: Panel) -> pd.DataFrame:
    """How often a rise of the outcome was followed by a fall, and a fall by a rise, whatever else was done.

    A rise is the plan's important change or more from one step to the next; it turned back where the rating
    of the step after is lower again. Ratings that vary by chance about a level turn back in two of three.

    Returns
    -------
    DataFrame
        change ('rise', 'fall'), n (with the step after rated), turned_back, n_people.
    """
    frame, asked = panel.frame, panel.study.outcome
    rated = frame[asked.name]
    change = rated - rated.groupby(frame["person"]).shift()
    after = frame[asked.later] - rated
    rows = []
    for name, way in (("rise", 1), ("fall", -1)):
        at = (way * change >= asked.important - 1e-9) & after.notna()
        back = int((way * after[at] < 0).sum())
        rows.append((name, int(at.sum()), back, frame.loc[at, "person"].nunique()))
    return pd.DataFrame(rows, columns=["change", "n", "turned_back", "n_people"])


def same_and_next_picture(panel: Panel) -> Picture:
    """Scatter of the outcome on the primary exposure, person-steps as dots and `same_and_next` as lines, one
    panel per comparison."""
    term = panel.study.analysis.primary
    table = same_and_next(panel)
    step, asked = panel.study.step, panel.study.outcome.variable
    rated, points = asked.label, f"{asked.unit}s"
    views = _views(panel)
    data = pd.concat([pd.DataFrame({"group": v.name, "x": v.x, "y": v.y}) for v in views], ignore_index=True)
    lines = table.to_dict("records")
    same, following = (table[table["comparison"] == v.name].iloc[0] for v in (views[0], views[2]))
    turns = same["high"] < 0 < following["low"] or following["high"] < 0 < same["low"]
    label, unit = label_of(term, panel.study), f"{points} {slope_unit(term, panel.study.variables)[1]}"
    first = "The sign turns" if turns else f"{rated[:1].upper()}{rated[1:]} and {label}"
    slopes = "; ".join(
        f"{r['comparison']}: {_said(r)}, {plural(int(r['n_steps']), f'person-{step}')}" for r in lines
    )
    people = plural(int(table["n_people"].max()), "person", "people")
    marks: dict[str, Any] = {
        "lines": lines,
        "unit": unit,
        "reference": 0,
        "subtitle": said("look.subtitle", people=people, step=step, unit=unit, interval=100 * INTERVAL),
    }
    own_mean = said("look.own_mean", label=label)
    if whole(term):
        own_mean = said("look.load", step=step)
        marks["ticks"] = [list(tick) for tick in DOUBLINGS]
    return Picture(
        "points",
        f"{first}: {rated} of the same {step} and of the {step} after",
        data,
        own_mean,
        said("look.less", label=rated, unit=points),
        said("look.alt", rated=rated, label=label, unit=unit, slopes=slopes),
        marks,
    )


def _said(line: dict[Hashable, Any]) -> str:
    """A slope with its interval, or that there is none, as with fewer than two people."""
    slope, low, high = (float(line[k]) for k in ("slope", "low", "high"))
    return f"{signed(slope, 2)} ({signed(low, 2)} to {signed(high, 2)})" if np.isfinite(slope) else "no slope"


def _views(panel: Panel) -> tuple[_View, _View, _View]:
    frame, term, step = panel.frame, panel.study.analysis.primary, panel.study.step
    asked = panel.study.outcome
    here, later = asked.name, asked.later
    table = frame[["person", term, here, later]].assign(
        **{term: frame[term] / slope_unit(term, panel.study.variables)[0]}
    )
    if whole(term):
        table = table[frame["rested"].ne(1) & frame["restarted"].ne(1)]
    names = [term, here], [term, later], [term, here, later]
    same, following, held = (_less_own_mean(table, list(columns)) for columns in names)
    now = held[here].to_numpy()
    x, y = (_less(held[name].to_numpy(), now) for name in (term, later))
    at_same = f"next {step}, at the same {asked.variable.label} now"
    return (
        _View(f"same {step}", same["person"].to_numpy(), same[term].to_numpy(), same[here].to_numpy()),
        _View(
            f"next {step}",
            following["person"].to_numpy(),
            following[term].to_numpy(),
            following[later].to_numpy(),
        ),
        _View(at_same, held["person"].to_numpy(), x, y),
    )


def _less_own_mean(table: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    known = table.dropna(subset=columns)
    return known[["person"]].join(known[columns] - known.groupby("person")[columns].transform("mean"))


def _less(values: np.ndarray, now: np.ndarray) -> np.ndarray:
    """What is left of values when the part that goes along with `now` is taken out."""
    square = now @ now
    return values - now * (values @ now) / square if square > 0 else values


def _slope(view: _View) -> tuple[float, float, float]:
    square = float(view.x @ view.x)
    m = len(np.unique(view.person))
    if square == 0 or m < 2:
        return np.nan, np.nan, np.nan
    slope = float(view.x @ view.y) / square
    own = pd.Series(view.x * (view.y - slope * view.x)).groupby(view.person).sum().to_numpy()
    error = np.sqrt(own @ own * m / (m - 1)) / square
    half = stdtrit(m - 1, 0.5 + INTERVAL / 2) * error
    return slope, slope - half, slope + half

"""The outcome against an exposure as a reader can see it: the records, their means by band of the exposure
within people, and the model's line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.core.engine import named
from lagwise.core.errors import ModelError
from lagwise.core.results import Fit, Panel
from lagwise.core.study import INTERVAL
from lagwise.core.terms import whole
from lagwise.models.design import Design, design
from lagwise.models.reach import shown_rows
from lagwise.models.rows import column_of

BANDS, PER_BAND = 9, 20
"""Bands of an exposure at most, and steps that each holds at least where there are more than `FEWEST` of
them."""
FEWEST = 4
STEPS_AT_MOST = 2000
"""Single steps beyond which they would be a cloud without holes."""
REACH = (0.05, 0.95)
"""Quantiles of an exposure between which a line is drawn."""
USUAL = {True: 100.0, False: 0.0}
"""Where a person's usual stands: load is told in percent of it, all else as the distance from it."""


def answer_tables(panel: Panel, fits: Sequence[Fit]) -> dict[str, pd.DataFrame]:
    """What the picture of the answer is drawn from, for every exposure of the model of ratings as they are.

    The value of a step is its outcome less what the model's other columns give it and less the mean of the
    person's own such values along the line, put back to the mean outcome of the steps shown. So the means of
    bands compare people with themselves, at the same earlier outcome and the same other exposures.

    Parameters
    ----------
    panel : Panel
    fits : sequence of Fit
        The first usable one of ratings as they are gives the coefficients, a usable dose-response curve the
        line of load.

    Returns
    -------
    dict of DataFrame
        `answer_levels`: per exposure (`term`) the outcome's `level` at a person's usual, the `spread` (SD)
        of people's means, n_people, n_steps. `answer_bands`: `x` (mean exposure: percent of the usual load,
        else the distance from the person's mean in the exposure's unit), `x_spread` (SD over people),
        `outcome` (mean value) with low and high (clustered on people), n_people, n_steps. `answer_curve`: x,
        outcome, low, high; the limits are those of the difference from the usual. `answer_steps`: x and
        outcome as rated, of the primary exposure alone, where they are at most `STEPS_AT_MOST`. Empty where
        no fit holds what it takes.
    """
    asked = panel.study.outcome
    plain = first_as_rated(fits, asked.column)
    if plain is None:
        return {}
    terms = tuple(plain.settings["exposures"])
    try:
        data = design(panel, exposures=terms, pain_adjusted=plain.settings["pain_adjusted"])
    except ModelError:
        return {}
    beta = plain.tables["coefficients"].set_index("name")
    if not set(beta.index) <= set(data.names):
        return {}
    dose = _first(fits, asked.column, "curve", name="dose")
    made: dict[str, list[pd.DataFrame]] = {}
    for term in sorted(terms, key=lambda t: t != panel.study.analysis.primary):
        column = column_of(term)
        if column in beta.index:
            first = term == panel.study.analysis.primary
            curve = dose.tables["curve"] if dose is not None and whole(term) else _line(data, column, beta)
            for name, table in _one(data, term, column, beta, curve, steps=first).items():
                made.setdefault(f"answer_{name}", []).append(table.assign(term=term))
    return {name: pd.concat(tables, ignore_index=True) for name, tables in made.items()}


def first_as_rated(fits: Sequence[Fit], outcome: str) -> Fit | None:
    """The first usable fit of ratings as they are that holds its coefficients; None where there is none."""
    found = _first(fits, outcome, "coefficients", as_rated=True)
    return found if found is not None and "exposures" in found.settings else None


def _first(fits: Sequence[Fit], outcome: str, table: str, **declared: object) -> Fit | None:
    usable = (f for f in fits if f.usable and f.outcome == outcome and table in f.tables)
    return next(
        (f for f in usable if all(getattr(named(f.engine), k) == v for k, v in declared.items())), None
    )


def _line(data: Design, column: str, beta: pd.DataFrame) -> pd.DataFrame:
    """A straight line through the usual: the exposure at its ends and at 0, with estimate, low and high."""
    low, high = np.quantile(data.X[shown_rows(data, column), data.names.index(column)], REACH)
    at = np.unique([low, high, *([0.0] if low < 0 < high else [])])
    slopes = beta.loc[column, ["estimate", "low", "high"]].to_numpy(dtype=float)
    ends = np.sort(at[:, None] * slopes[1:], axis=1)
    return pd.DataFrame({column: at, "estimate": at * slopes[0], "low": ends[:, 0], "high": ends[:, 1]})


def _one(
    data: Design, term: str, column: str, beta: pd.DataFrame, curve: pd.DataFrame, *, steps: bool
) -> dict[str, pd.DataFrame]:
    """The tables of one exposure."""
    rows, at = shown_rows(data, column), data.names.index(column)
    others = [n for n in beta.index if n not in (column, "intercept")]
    held = data.X[:, [data.names.index(n) for n in others]] @ beta.loc[others, "estimate"].to_numpy()
    own = data.y - held
    left = own - data.X[:, at] * float(beta["estimate"][column])
    own = own - (np.bincount(data.person, weights=left) / np.bincount(data.person))[data.person]
    x, person, rated = data.X[rows, at], data.person[rows], data.y[rows]
    value = own[rows] + rated.mean() - own[rows].mean()
    reach = curve[column].iloc[[0, -1]].to_numpy()
    inside = (reach[0] <= x) & (x <= reach[1])
    level = float((value - np.interp(x, curve[column], curve["estimate"]))[inside].mean())
    means = pd.Series(rated).groupby(person).mean()
    found = {
        "levels": pd.DataFrame(
            {"level": [level], "spread": means.std(), "n_people": len(means), "n_steps": len(rows)}
        ),
        "bands": _bands(term, x, value, person),
        "curve": pd.DataFrame(
            {"x": _told(term, curve[column].to_numpy()), "outcome": level + curve["estimate"]}
            | {k: level + curve[k] for k in ("low", "high")}
        ),
    }
    if steps and len(rows) <= STEPS_AT_MOST:
        found["steps"] = pd.DataFrame({"x": _told(term, x), "outcome": rated})
    return found


def _bands(term: str, x: np.ndarray, value: np.ndarray, person: np.ndarray) -> pd.DataFrame:
    """Means of values by quantile band of the exposure, with limits by people in it; equal values of the
    exposure stay together."""
    count = int(np.clip(len(x) // PER_BAND, FEWEST, BANDS))
    inner = np.unique(np.quantile(x, np.linspace(0, 1, count + 1)[1:-1]))
    band = np.searchsorted(inner, x)
    out: list[dict[str, float]] = []
    for one in np.unique(band):
        mine = band == one
        codes, at = np.unique(person[mine], return_inverse=True)
        people, mean = len(codes), float(value[mine].mean())
        sums = np.bincount(at, weights=value[mine] - mean)
        error = np.sqrt((sums**2).sum() * people / max(people - 1, 1)) / mine.sum()
        half = float(stdtrit(people - 1, 0.5 + INTERVAL / 2) * error) if people > 1 else np.nan
        each = _told(term, np.bincount(at, weights=x[mine]) / np.bincount(at))
        apart = float(each.std(ddof=1)) if people > 1 else np.nan
        of_x = {"x": float(_told(term, x[mine].mean())), "x_spread": apart}
        of_outcome = {"outcome": mean, "low": mean - half, "high": mean + half}
        out.append({**of_x, **of_outcome, "n_people": people, "n_steps": int(mine.sum())})
    return pd.DataFrame(out)


def _told(term: str, values: np.ndarray) -> np.ndarray:
    """An exposure as it is told: load in percent of the usual, all else as the distance from the person's
    own mean."""
    return USUAL[True] * np.exp(values) if whole(term) else np.asarray(values, dtype=float)

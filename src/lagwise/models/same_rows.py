"""Crude and adjusted estimates on the same person-steps, and what an exposure left out takes along."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.effects import PER_UNIT
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.models.design import Design, available, centred_on_people, design, exposure_columns
from lagwise.models.ladder import Rung, climb
from lagwise.models.rows import column_of, limits, planned_contrast
from lagwise.models.within import WithinFit, fit_within

COLUMNS = (
    "term", "contrast", "crude_all", "n_all", "crude", "crude_low", "crude_high", "adjusted", "low", "high",
    "n_people", "n_steps", "correlation", "own", "takes",
)  # fmt: skip


def crude_and_adjusted(panel: Panel, fit: Fit) -> pd.DataFrame:
    """Each exposure of a mixed model, crude and adjusted on the person-steps that know all of them.

    A crude model needs less to be known than the adjusted one, and so rests on more person-steps: two
    estimates may differ because of what is held equal, or because of the rows. Here the rows are the same.

    Parameters
    ----------
    panel : Panel
    fit : Fit
        From `fit_mixed` on that panel, usable.

    Returns
    -------
    DataFrame
        One row per exposure, the primary one first, within people: `contrast`, the plan's for the primary
        exposure and one unit for the others; `crude_all` and `n_all`, crude on all its own person-steps;
        `crude` and `adjusted` with their limits, on the same `n_steps`. For exposures beside the primary:
        `correlation` with it within people; `own`, their adjusted estimate per unit; and `takes`, the points
        by which leaving that exposure out moves the primary estimate. With A = X'V^-1 X of the adjusted
        model, c its columns in the crude one and k those of the exposure, that is the primary element of
        (A_cc)^-1 A_ck beta_k times the contrast; the sum over exposures is crude less adjusted at the same V.

    Raises
    ------
    ModelError
        When the fit is not usable or has no primary row.
    """
    rows = fit.required().effects
    study, held = panel.study, fit.settings["pain_adjusted"]
    (label, planned_size), primary = planned_contrast(study), study.analysis.primary
    lead = design(panel, exposures=available(panel, fit.settings["exposures"])[0], pain_adjusted=held)
    column = column_of(primary)
    if column not in lead.names:
        raise ModelError(
            f"the fit has no {primary} to set the others beside",
            mend="Name a recorded exposure as primary under [analysis].",
        )
    full = _fitted(lead, column)
    same = _only(panel, lead)
    out = []
    terms = sorted(fit.settings["exposures"], key=lambda term: term != primary)
    for term in terms:
        moves = column_of(term)
        if moves not in full.names:
            continue
        size, contrast = (planned_size, label) if term == primary else (1.0, PER_UNIT)
        alone = design(same, exposures=(term,), pain_adjusted=held, adjustment="crude")
        crude = _limited(_fitted(alone, column), moves, size)
        adjusted = _limited(full, moves, size)
        wide = rows[
            (rows["term"] == term) & (rows["adjustment"] == "crude") & (rows["pain_adjusted"] == held)
            & (rows["contrast"] == contrast) & (rows["level"] != "between")
        ]  # fmt: skip
        whole_record = (wide["estimate"].iloc[0], wide["n_steps"].iloc[0]) if len(wide) else (np.nan, 0)
        beside: tuple[float, ...] = (np.nan,) * 3
        if term != primary:
            takes = _taken(full, column, exposure_columns(term), exposure_columns(primary), terms)
            beside = (_together(lead, column, moves), adjusted[0], takes * planned_size)
        out.append((term, contrast, *whole_record, *crude, *adjusted, lead.n_people, lead.n_steps, *beside))
    return pd.DataFrame(out, columns=list(COLUMNS))


def _fitted(d: Design, slope: str) -> Rung | WithinFit:
    return fit_within(d) if gate_for(d.n_people).within_only else climb(d, slope if slope in d.names else "")


def _only(panel: Panel, lead: Design) -> Panel:
    """The panel with the outcome known in the rows of a design alone."""
    keys = pd.MultiIndex.from_frame(panel.frame[["person", "step"]])
    used = keys.isin(pd.MultiIndex.from_frame(lead.frame[["person", "step"]]))
    frame = panel.frame.assign(**{lead.outcome: panel.frame[lead.outcome].where(used)})
    return replace(panel, frame=frame)


def _limited(fitted: Rung | WithinFit, column: str, size: float) -> tuple[float, float, float]:
    if column not in fitted.names:
        return (np.nan,) * 3
    found = fitted.contrast(column, size)
    return (found[0], *limits(*found))


def _taken(
    full: Rung | WithinFit, column: str, left: tuple[str, ...], primary: tuple[str, ...], terms: list[str]
) -> float:
    """What the columns `left` out add to the coefficient of `column` when no exposure but `primary` stays."""
    if isinstance(full, Rung):
        A, beta = np.linalg.inv(full.estimates.cov[0]), full.estimates.beta[0]
    else:
        A, beta = full.moments()[0].sum(axis=0), full.beta
    names = list(full.names)
    others = {name for term in terms for name in exposure_columns(term)} - set(primary)
    kept = [i for i, name in enumerate(names) if name not in others]
    gone = [i for i, name in enumerate(names) if name in left]
    moved = np.linalg.solve(A[np.ix_(kept, kept)], A[np.ix_(kept, gone)] @ beta[gone])
    return float(moved[[names[i] for i in kept].index(column)])


def _together(d: Design, one: str, other: str) -> float:
    """Correlation within people over the rows of a design."""
    values = d.X[:, [d.names.index(name) for name in (one, other)]]
    x, y = centred_on_people(values, d.person).T
    size: Any = np.linalg.norm(x) * np.linalg.norm(y)
    return float(x @ y / size) if size > 0 else float("nan")

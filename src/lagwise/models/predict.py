"""Does load add to prediction? People left out and next steps, against 'same as last step' and 'own mean'."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from lagwise.core.errors import ModelError
from lagwise.core.question import Outcome
from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.core.terms import on_load_side, whole
from lagwise.core.variable import JUMP
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import MARKS, Design, design_from
from lagwise.models.kernel import fit
from lagwise.models.logistic import fit_logistic
from lagwise.models.onsets import at_risk_panel

LOAD = (JUMP, "log_load_usual", *MARKS)
DRAWS = 1000
FOLDS = 20
"""Groups of people left out in turn by the flare models, whose fits cost more, and where people are more than
`MANY`."""
MANY, LONG, AHEAD = 400, 5_000, 12
"""People up to whom each is left out; person-steps beyond which so many steps, evenly spread, are foreseen
from all before."""
MODEL, WITHOUT, LAST, OWN = "model", "model without load", "same as last step", "own mean"
COLUMNS = (
    *("scheme", "predictor"),
    *("mae", "mae_more", "mae_more_low", "mae_more_high"),
    *("log_score", "log_score_less", "log_score_less_low", "log_score_less_high"),
    *("n_steps", "n_people"),
)


class Predicted(NamedTuple):
    """A normal predictive distribution for each of some rows: their positions, mean and SD."""

    rows: np.ndarray
    mean: np.ndarray
    sd: np.ndarray


def predictive_value(panel: Panel, *, outcome: str | None = None, seed: int = 0) -> pd.DataFrame:
    """How well the outcome is foreseen with load, without it, and by two naive rules, on the same steps.

    Predictors use only what is known by the end of step t: the outcome's rating of t (at lag 0 the one
    before), the mean rating of earlier steps, the study's other exposures as rated, the step index and, with
    load, jump, the log of the usual load and the two indicators. The model is a linear mixed model with
    person intercepts (REML).

    Schemes: 'leave one person out' (all of a person's steps, from the others' coefficients, person intercept
    0; 'leave groups of people out', 20 of them, with more than 400 people) and 'next step'
    (at each step from the middle of the longest record on: fitted to all earlier steps of everybody, person
    intercept predicted from the person's own earlier steps).

    Parameters
    ----------
    panel : Panel
    outcome : str, optional
        Panel column; the plan's outcome by default.
    seed : int
        Of the bootstrap over people.

    Returns
    -------
    DataFrame
        Columns `COLUMNS`. `mae` is the mean absolute error in points; `log_score` the mean log density of
        what was observed under a normal predictive distribution (higher is better; the naive rules take their
        SD from the steps used for fitting). `mae_more` is the predictor's error minus the full model's and
        `log_score_less` the full model's score minus the predictor's: above 0 means that the full model is
        better. Limits are percentile bootstrap intervals over people of these paired differences. Load adds
        something only where the limits of 'model without load' lie above 0. Empty when the data cannot carry
        it.
    """
    try:
        rows = _all_schemes(_design(panel, panel.study.outcome.column if outcome is None else outcome), seed)
    except ModelError:
        rows = []
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _all_schemes(full: Design, seed: int) -> list[tuple]:
    keep = [i for i, n in enumerate(full.names) if n not in LOAD]
    loaded = len(keep) < len(full.names)
    rows = []
    many = full.n_people > MANY
    left = "leave groups of people out" if many else "leave one person out"
    left_out = _people_out(full, FOLDS if many else None)
    for scheme, parts in ((left, left_out), ("next step", _steps_ahead(full))):
        if not parts:
            continue
        predicted = {MODEL: _models(full, np.arange(len(full.names)), parts)}
        if loaded:
            predicted[WITHOUT] = _models(full, np.array(keep), parts)
        for name, column in zip((LAST, OWN), _own(full.asked), strict=True):
            naive = full.frame[column].to_numpy(dtype=float)
            error = full.y - naive
            sds = [max(float(np.sqrt(np.mean(error[train] ** 2))), 1e-3) for train, _ in parts]
            predicted[name] = [
                Predicted(test, naive[test], np.full(len(test), sd))
                for (_, test), sd in zip(parts, sds, strict=True)
            ]
        rows += _scores(full, scheme, predicted, seed)
    return rows


def _own(asked: Outcome) -> tuple[str, str]:
    """Panel columns of the last rating that is known before what is explained, and of the person's usual
    one."""
    return (asked.name if asked.lag else asked.before), asked.usual


def _design(panel: Panel, outcome: str) -> Design:
    f = panel.frame
    usual = np.log(f["usual"].where(f["usual"] > 0)).where(f["usual"] != 0, 0.0)
    frame = f.assign(log_load_usual=usual)
    columns = [*_own(panel.study.outcome)]
    for term in panel.study.analysis.exposures:
        if f[term].notna().any():
            columns += LOAD if whole(term) else (term,)
            if not whole(term) and on_load_side(term):
                mean = f[term].groupby(f["person"]).transform(lambda s: s.expanding().mean().ffill())
                frame[term] = f[term].where(f["rested"].ne(1), mean)
    d = design_from(frame, [*columns, "step"], outcome=outcome, study=panel.study)
    if d.n_people < 5 or d.n_steps < 3 * len(d.names):
        raise ModelError(f"too few people or {panel.study.step}s to judge predictions")
    return d


def _people_out(d: Design, folds: int | None = None) -> list[tuple[np.ndarray, np.ndarray]]:
    """Rows to fit and rows to predict: each person left out, or people in at most `folds` groups."""
    group = d.person % min(d.n_people, folds or d.n_people)
    return [(np.flatnonzero(group != i), np.flatnonzero(group == i)) for i in range(group.max() + 1)]


def _steps_ahead(d: Design) -> list[tuple[np.ndarray, np.ndarray]]:
    step = d.frame["step"].to_numpy()
    out = []
    ahead = np.arange(int(step.max() + 1) // 2, int(step.max()) + 1)
    if d.n_steps > LONG:
        ahead = np.unique(np.linspace(ahead[0], ahead[-1], AHEAD).astype(int))
    for t in ahead:
        train, test = np.flatnonzero(step < t), np.flatnonzero(step == t)
        if len(test) and len(train) > 2 * len(d.names) and len(np.unique(d.person[train])) >= 5:
            out.append((train, test))
    return out


def _models(d: Design, columns: np.ndarray, parts: list[tuple[np.ndarray, np.ndarray]]) -> list[Predicted]:
    """Predictions of every part; people left out one by one are fitted as one batch where each fold can tell
    the columns apart."""
    if len(parts) != d.n_people or any(len(np.unique(d.person[test])) > 1 for _, test in parts):
        return [_model(d, columns, train, test) for train, test in parts]
    X = d.X[:, columns]
    everyone = np.arange(d.n_people)
    others = np.stack([np.delete(everyone, i) for i in everyone])
    cross = CrossProducts.build(d.y, X, None, d.person)
    everybody = fit(cross)
    near = everybody.theta[0] if everybody.converged[0] else None
    e = fit(cross.with_people(others), near=near)
    out = []
    for i, (train, test) in enumerate(parts):
        if np.isfinite(e.deviance[i]):
            own = np.einsum("ni,ij,nj->n", X[test], e.cov[i], X[test])
            out.append(
                Predicted(
                    test, X[test] @ e.beta[i], np.sqrt(e.sigma[i] ** 2 * (1 + e.theta[i, 0] ** 2) + own)
                )
            )
        else:
            out.append(_model(d, columns, train, test))
    return out


def _model(d: Design, columns: np.ndarray, train: np.ndarray, test: np.ndarray) -> Predicted:
    """Normal predictive distributions of a person-intercept model; columns that the training rows cannot tell
    apart are left out."""
    X = d.X[:, columns]
    r = np.linalg.qr(X[train] / np.maximum(np.linalg.norm(X[train], axis=0), 1e-300), mode="r")
    X = X[:, np.abs(np.diag(r)) > 1e-5]
    e = fit(CrossProducts.build(d.y[train], X[train], None, d.person[train]))
    if not np.isfinite(e.deviance[0]):
        raise ModelError("a training part of the data cannot carry the model")
    ratio, s2 = float(e.theta[0, 0] ** 2), float(e.sigma[0] ** 2)
    n = np.bincount(d.person[train], minlength=d.n_people)
    sums = np.bincount(d.person[train], weights=d.y[train] - X[train] @ e.beta[0], minlength=d.n_people)
    share = ratio / (1 + ratio * n)
    mean = X[test] @ e.beta[0] + (share * sums)[d.person[test]]
    spread = s2 * (1 + share[d.person[test]]) + np.einsum("ni,ij,nj->n", X[test], e.cov[0], X[test])
    return Predicted(test, mean, np.sqrt(spread))


def _scores(d: Design, scheme: str, predicted: dict[str, list[Predicted]], seed: int) -> list[tuple]:
    at = np.concatenate([rows for rows, *_ in predicted[MODEL]])
    y, person = d.y[at], np.unique(d.person[at], return_inverse=True)[1]
    loss, score = {}, {}
    for name, parts in predicted.items():
        mean, sd = (np.concatenate([part[k] for part in parts]) for k in (1, 2))
        loss[name] = np.abs(y - mean)
        score[name] = -0.5 * np.log(2 * np.pi * sd**2) - (y - mean) ** 2 / (2 * sd**2)
    worse = [loss[name] - loss[MODEL] for name in predicted] + [
        score[MODEL] - score[name] for name in predicted
    ]
    more, less = np.split(paired(np.stack(worse), person, seed), 2)
    size = len(y), int(person.max() + 1)
    return [
        (scheme, name, loss[name].mean(), *more[i], score[name].mean(), *less[i], *size)
        for i, name in enumerate(predicted)
    ]


def paired(differences: np.ndarray, person: np.ndarray, seed: int = 0) -> np.ndarray:
    """(k, 3) means of per-step differences (k, n) and their percentile bootstrap limits over people, `person`
    (n,) coded 0..m-1."""
    m = int(person.max()) + 1
    weights = np.random.default_rng(seed).multinomial(m, np.full(m, 1 / m), size=DRAWS).astype(float)
    sums = np.stack([np.bincount(person, weights=one) for one in (*differences, np.ones(len(person)))])
    drawn = weights @ sums.T
    limits = np.quantile(drawn[:, :-1] / drawn[:, -1:], [0.5 - INTERVAL / 2, 0.5 + INTERVAL / 2], axis=0)
    return np.column_stack([differences.mean(axis=1), *limits])


def flare_prediction(panel: Panel, *, definition: str = "", seed: int = 0) -> pd.DataFrame:
    """Brier scores of flare onsets in people left out (each alone up to 20 people, else in 20 groups): with
    load, without it, and the others' base rate.

    The onset model is the log-F(2, 2) penalised one with the predictors of `predictive_value`; the left-out
    person's intercept is averaged over. Columns: predictor, brier (mean squared difference of probability and
    what happened), brier_more (the predictor's minus the full model's; above 0 means the full model is
    better), brier_more_low, brier_more_high (percentile bootstrap over people), n_steps, n_people, onsets.
    Empty when the data cannot carry it.
    """
    told = "predictor brier brier_more brier_more_low brier_more_high n_steps n_people onsets"
    names = told.split()
    try:
        d = _design(*at_risk_panel(panel, definition))
        keep = np.array([i for i, n in enumerate(d.names) if n not in LOAD])
        p = {name: np.empty(d.n_steps) for name in (MODEL, WITHOUT, "base rate")}
        for train, test in _people_out(d, FOLDS):
            p[MODEL][test] = _onset(d, np.arange(len(d.names)), train, test)
            p[WITHOUT][test] = _onset(d, keep, train, test)
            p["base rate"][test] = d.y[train].mean()
    except ModelError:
        return pd.DataFrame(columns=names)
    if len(keep) == len(d.names):
        del p[WITHOUT]
    loss = {name: (d.y - v) ** 2 for name, v in p.items()}
    size = d.n_steps, d.n_people, int(d.y.sum())
    more = paired(np.stack([v - loss[MODEL] for v in loss.values()]), d.person, seed)
    rows = [(name, v.mean(), *more[i], *size) for i, (name, v) in enumerate(loss.items())]
    return pd.DataFrame(rows, columns=names)


def _onset(d: Design, columns: np.ndarray, train: np.ndarray, test: np.ndarray) -> np.ndarray:
    X = d.X[:, columns]
    varies = np.append(True, X[train][:, 1:].std(axis=0) > 1e-9)
    code = np.unique(d.person[train], return_inverse=True)[1]
    e = fit_logistic(d.y[train], X[train][:, varies], code, penalty=2.0, nodes=7)
    x, w = np.polynomial.hermite_e.hermegauss(15)
    eta = (X[test][:, varies] @ e.beta)[:, None] + e.tau * x
    return (1 / (1 + np.exp(-eta))) @ (w / w.sum())

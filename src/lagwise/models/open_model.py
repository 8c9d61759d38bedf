"""The ordinal model as a PyMC model with named dimensions, to be looked at, extended and sampled by any
sampler."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from lagwise.core.results import Panel
from lagwise.models.design import design
from lagwise.models.ordinal_draws import OrdinalModel, ordinal_model
from lagwise.models.priors import DEFAULT, SLOPE_OF, Priors


def pymc_model(
    panel: Panel,
    *,
    exposures: Sequence[str] | None = None,
    pain_adjusted: str | None = None,
    priors: Priors = DEFAULT,
    rated: bool = True,
) -> Any:
    """The model that `fit_ordinal` samples, as a `pymc.Model`: same variables, names, dimensions and priors.

    `fit_ordinal` draws from a faster density of the same model; the two differ by a constant.

    Parameters
    ----------
    panel, exposures, pain_adjusted, priors : as in `lagwise.models.ordinal.fit_ordinal`
    rated : bool
        False leaves the line of the rating out, so that a term can be added before it: the model then holds
        the linear predictor `eta` and the observed levels `category`, both by step.

    Returns
    -------
    pymc.Model
        beta (coefficient; per within-person SD of the column, between people per SD between them), cutpoint
        (between; ordered), sd_intercept, person_intercept (person), and with load jump sd_slope and
        person_slope (person). The observed variable has the outcome's name and counts levels from 0; X and
        person_of_step are data of the model.

    Raises
    ------
    ModelError
        When no row is complete.

    Examples
    --------
    >>> model = lw.pymc_model(panel)
    >>> sorted(v.name for v in model.free_RVs)
    ['beta', 'cutpoint', 'sd_intercept', 'sd_slope', 'z_intercept', 'z_slope']
    >>> model.named_vars_to_dims["person_slope"]
    ('person',)
    """
    data = design(panel, exposures=exposures, pain_adjusted=pain_adjusted)
    return opened(ordinal_model(data, priors), rated=rated)


def opened(model: OrdinalModel, *, rated: bool = True) -> Any:
    """The PyMC model of an ordinal model as data."""
    import pymc as pm

    columns, priors = model.columns, model.priors
    start = model.layout.cutpoints(model.start())
    with pm.Model(coords=coordinates(model)) as out:
        X = pm.Data("X", columns.X, dims=("step", "coefficient"))
        person = pm.Data("person_of_step", model.design.person, dims="step")
        beta = pm.Normal("beta", 0.0, columns.prior_sd, dims="coefficient")
        cutpoint = pm.Logistic(
            "cutpoint",
            0.0,
            priors.cutpoints,
            dims="between",
            transform=pm.distributions.transforms.ordered,
            initval=start,
        )
        sd_intercept = pm.HalfNormal("sd_intercept", priors.intercept_sd)
        own = pm.Deterministic(
            "person_intercept", sd_intercept * pm.ZeroSumNormal("z_intercept", dims="person"), dims="person"
        )
        eta = pm.math.dot(X, beta) + own[person]
        if columns.slope is not None:
            slope = pm.Data("slope", columns.slope, dims="step")
            apart = pm.HalfNormal("sd_slope", priors.slope_sd) * pm.Normal("z_slope", dims="person")
            pm.Deterministic("person_slope", beta[columns.names.index(SLOPE_OF)] + apart, dims="person")
            eta = eta + apart[person] * slope
        if not rated:
            pm.Deterministic("eta", eta, dims="step")
            pm.Data("category", model.category, dims="step")
            return out
        pm.OrderedLogistic(
            model.design.outcome,
            eta=eta,
            cutpoints=cutpoint,
            observed=model.category,
            dims="step",
            compute_p=False,
        )
    return out


def coordinates(model: OrdinalModel) -> dict[str, Any]:
    """The names along the dimensions coefficient, between, person, step ('code:step') and rating."""
    frame, values = model.design.frame, model.levels.values
    return {
        "coefficient": list(model.columns.names),
        "between": [f"{low:g}|{high:g}" for low, high in pairwise(values)],
        "person": list(model.design.people),
        "step": [f"{p}:{int(s)}" for p, s in zip(frame["person"], frame["step"], strict=True)],
        "rating": np.asarray(values),
    }

"""Fixed-effects estimates: least squares after taking each person's mean from every column, also from load
jump."""

from __future__ import annotations

import numpy as np

from lagwise.core.errors import ModelError
from lagwise.models.cluster import fit_clustered
from lagwise.models.crossproducts import SINGULAR, CrossProducts
from lagwise.models.design import Design, estimable
from lagwise.models.estimates import Contrasts
from lagwise.models.ladder import require_spread
from lagwise.models.within import WithinFit, centred_on_people


def fit_fixed(design: Design) -> WithinFit:
    """The fixed-effects estimator of a design (person dummies absorbed), with CR2 variance clustered on
    people (`lagwise.models.cluster`).

    Centring load jump on a mean that holds later loads leaves a bias of order 1/T where pain feeds back on
    load; it is a comparator, no primary estimate.

    Raises
    ------
    ModelError
        When no column varies within people or no residual is left.
    """
    require_spread(design)
    counts = np.bincount(design.person)
    X, y = (
        centred_on_people(design.X, design.person),
        centred_on_people(design.y[:, None], design.person)[:, 0],
    )
    names = design.names[1:]
    small = np.linalg.norm(X[:, 1:], axis=0) <= 1e-9 * np.maximum(
        np.linalg.norm(design.X[:, 1:], axis=0), 1e-300
    )
    keep, reasons = estimable(np.where(small, 0.0, X[:, 1:]), names)
    if not keep:
        raise ModelError("no exposure varies within people", mend="Record more steps per person.")
    if design.n_steps - design.n_people - len(keep) < 1:
        raise ModelError(
            f"{design.n_steps} usable steps of {design.n_people} people cannot carry {len(keep)} within-person columns",
            mend="Name fewer exposures under [analysis] exposures, or record more steps.",
        )
    return WithinFit(
        design,
        tuple(names[i] for i in keep),
        fit_clustered(y, X[:, 1:][:, keep], design.person),
        (*design.dropped, *((name, "does not vary within people") for name, _ in reasons)),
        "each person against their own means (fixed effects), CR2 variance",
        tuple(np.split(y, np.cumsum(counts)[:-1])),
    )


def fixed_many(cross: CrossProducts, position: int) -> Contrasts:
    """The fixed-effects coefficient of one column for every variant of a batch, in closed form.

    Parameters
    ----------
    cross : CrossProducts
        With a constant 1 as first column of Z.
    position : column of X

    Returns
    -------
    Contrasts
        Estimate, classical standard error and residual degrees of freedom (n - people - columns), each (B,);
        NaN where the column does not vary within people.
    """
    p, k = cross.p, cross.p + 1
    sums = cross.ZtC[:, 0]
    inner = cross.CtC - np.swapaxes(sums / cross.ZtZ[:, 0, 0][..., None], 1, 2) @ sums
    total = cross.CtC[:, np.arange(k), np.arange(k)]
    share = inner[:, np.arange(k), np.arange(k)] / np.maximum(total, 1e-300)
    keep = np.flatnonzero((share[:, :p] > SINGULAR).any(axis=0))
    B = cross.batch
    nothing = Contrasts(*(np.full(B, np.nan) for _ in range(3)))
    if position not in keep:
        return nothing
    S, cross_y = inner[:, keep[:, None], keep], inner[:, keep, p]
    values = np.linalg.eigvalsh(S)
    ok = (values[:, 0] > SINGULAR * values[:, -1]) & cross.ok
    inverse = np.linalg.inv(np.where(ok[:, None, None], S, np.eye(len(keep))))
    beta = np.einsum("bij,bj->bi", inverse, cross_y)
    df = cross.rows - cross.people - len(keep)
    rss = inner[:, p, p] - np.einsum("bi,bi->b", beta, cross_y)
    at = int(np.flatnonzero(keep == position)[0])
    ratio = cross.scale[:, p] / cross.scale[:, position]
    with np.errstate(invalid="ignore", divide="ignore"):
        se = np.sqrt(np.maximum(rss, 0) / df * inverse[:, at, at]) * ratio
    blank = np.where(ok, 1.0, np.nan)
    return Contrasts(beta[:, at] * ratio * blank, se * blank, df * blank)

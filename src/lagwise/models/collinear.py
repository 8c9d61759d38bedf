"""How far exposures move together within people, and what that costs: correlations and variance inflation."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.question import held_column
from lagwise.core.words import exposure_label
from lagwise.models.design import Design, moving

NEAR = 0.7
"""Correlation within people from which two columns count as near-collinear (Dormann et al. 2013,
doi:10.1111/j.1600-0587.2012.07348.x)."""
COLUMNS = ("term", "column", "with_term", "correlation", "near", "vif", "error_times", "n_steps")


def collinearity(design: Design) -> pd.DataFrame:
    """One row per exposure that varies within people, the strongest correlation first.

    Columns of X are taken as differences from the person's mean over the rows of the model.

    Returns
    -------
    DataFrame
        Columns `COLUMNS`. `with_term`: the exposure, or the name of the outcome adjusted for, with which it
        goes most closely within people, and `correlation` with its sign; '' and 0 where there is no other;
        `near` where it is beyond `NEAR`. `vif`: variance inflation, 1 / (1 - R2) of the column on all others
        within people, infinite where they reproduce it. `error_times`: its root, by which the standard error
        exceeds that of an unrelated column with the same spread.
    """
    names = [name for name in design.names[1:] if not name.endswith("_between")]
    values = design.X[:, [design.names.index(name) for name in names]]
    counts = np.bincount(design.person)
    means = (
        np.stack([np.bincount(design.person, weights=v) for v in values.T], axis=1) / counts[:, None]
        if names
        else values
    )
    centred = values - means[design.person] if names else values
    size = np.linalg.norm(centred, axis=0)
    moves = [i for i in range(len(names)) if size[i] > 1e-9 * max(np.linalg.norm(values[:, i]), 1e-300)]
    terms = {i: _term(names[i], design) for i in moves}
    rows = []
    for i in moves:
        if not moving(names[i], design.asked):
            continue
        own = centred[:, i] / size[i]
        partners = {j: float(own @ centred[:, j] / size[j]) for j in moves if j != i and terms[j]}
        best = max(partners, key=lambda j: abs(partners[j]), default=None)
        others = centred[:, [j for j in moves if j != i]] / size[[j for j in moves if j != i]]
        rest = own - others @ np.linalg.lstsq(others, own, rcond=None)[0] if others.shape[1] else own
        left = float(rest @ rest)
        vif = 1 / left if left > 1e-12 else np.inf
        found = ("", 0.0) if best is None else (terms[best], partners[best])
        rows.append((terms[i], names[i], *found, abs(found[1]) > NEAR, vif, np.sqrt(vif), design.n_steps))
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return table.sort_values("correlation", key=np.abs, ascending=False, kind="stable", ignore_index=True)


def nearest_pair(design: Design) -> tuple[float, bool, str]:
    """The largest correlation within people between exposures, whether it is within `NEAR`, and the pair and
    what it costs in words."""
    table = collinearity(design)
    if table.empty or not table.loc[0, "with_term"]:
        return 0.0, True, "no two exposures vary within people"
    first = table.iloc[0]
    own = exposure_label(first["term"])
    meaning = f"largest correlation within people between exposures, of {own} and {_label(first['with_term'], design)}"
    if not first["near"]:
        return float(first["correlation"]), True, meaning
    cost = f"the standard error of {own} is {first['error_times']:.1f} times that of an exposure unrelated to the others"
    return (
        float(first["correlation"]),
        False,
        f"{meaning}: near-collinear, {cost}; one hardly ever changed while the other stayed",
    )


def _term(column: str, design: Design) -> str:
    """The exposure a column stands for, the outcome's name for the outcome adjusted for, '' for anything
    else."""
    if column == f"{held_column(design.asked, design.pain_adjusted)}_within":
        return design.asked.name
    return column.removesuffix("_within") if moving(column, design.asked) else ""


def _label(term: str, design: Design) -> str:
    return (
        f"the {design.asked.variable.label} adjusted for"
        if term == design.asked.name
        else exposure_label(term)
    )

"""How far exposures move together within people, and what that costs: correlations and variance inflation."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.question import held_column
from lagwise.core.words import exposure_label
from lagwise.models.design import Design, centred_on_people, moving
from lagwise.models.estimable import ROUNDING

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
    centred = centred_on_people(values, design.person)
    size = np.linalg.norm(centred, axis=0)
    moves = np.flatnonzero(size > ROUNDING * np.maximum(np.linalg.norm(values, axis=0), 1e-300))
    terms = [_term(name, design) for name in names]
    rows = []
    for i in moves:
        if not moving(names[i], design.asked):
            continue
        own, rivals = centred[:, i] / size[i], moves[moves != i]
        others = centred[:, rivals] / size[rivals]
        partners = {terms[j]: float(own @ centred[:, j] / size[j]) for j in rivals if terms[j]}
        found = max(partners.items(), key=lambda pair: abs(pair[1]), default=("", 0.0))
        rest = own - others @ np.linalg.lstsq(others, own, rcond=None)[0] if others.shape[1] else own
        left = float(rest @ rest)
        vif = 1 / left if left > 1e-12 else np.inf
        rows.append((terms[i], names[i], *found, abs(found[1]) > NEAR, vif, np.sqrt(vif), design.n_steps))
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return table.sort_values("correlation", key=np.abs, ascending=False, kind="stable", ignore_index=True)


def nearest_pair(design: Design) -> tuple[float, bool, str]:
    """The largest correlation within people between exposures, whether it is within `NEAR`, and the pair and
    what it costs in words."""
    table = collinearity(design)
    if table.empty or not table.loc[0, "with_term"]:
        return 0.0, True, said("gate.none_near")
    first = table.iloc[0]
    near, variables = bool(first["near"]), design.study.variables
    own, other = (exposure_label(first[name], variables) for name in ("term", "with_term"))
    beside = f"the {other} adjusted for" if first["with_term"] == design.asked.name else other
    meaning = said("gate.near", own=own, beside=beside, near=near, times=first["error_times"])
    return float(first["correlation"]), not near, meaning


def _term(column: str, design: Design) -> str:
    """The exposure a column stands for, the outcome's name for the outcome adjusted for, '' for anything
    else."""
    if column == f"{held_column(design.asked, design.pain_adjusted)}_within":
        return design.asked.name
    return column.removesuffix("_within") if moving(column, design.asked) else ""

"""From recorded to analysed: how many steps of how many people are left, and the reason for each loss."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lagwise.core.question import held_column
from lagwise.core.results import Fit, Panel
from lagwise.core.variable import JUMP
from lagwise.models.answer import first_as_rated
from lagwise.models.design import available, columns_for, exposure_columns, primary_adjustment, rest_filled

RECORDED = "recorded"
LOST = ("last", "outcome", "earlier", "load", "usual", "exposure", "others")
"""Reasons in the order in which steps are set aside, each from what is left."""


def flow_table(panel: Panel, fits: Sequence[Fit]) -> pd.DataFrame:
    """Steps and people from recorded to analysed, each step counted at the first reason that holds of it.

    The rows of the model of ratings as they are (`fit_mixed`), or, where none is usable, of the one that the
    plan asks for.

    Returns
    -------
    DataFrame
        reason, n_steps (set aside), n_people (with such a step), left_steps, left_people. The first row is
        'recorded', with nothing set aside; then, where any step is, 'last' (the last step of a record, which
        nothing follows), 'outcome' (not rated in the step asked about), 'earlier' (the earlier rating that is
        held equal), 'load' (not known), 'usual' (too few earlier loads for a usual one), 'exposure' (the
        primary one not recorded), 'others' (another exposure, or the usual load, not known). What is set
        aside and what is left add up.
    """
    study, frame = panel.study, rest_filled(panel.frame)
    asked, plain = study.outcome, first_as_rated(fits, study.outcome.column)
    settings = {} if plain is None else plain.settings
    wanted = settings.get("exposures") or available(panel, study.analysis.exposures)[0]
    pain = settings.get("pain_adjusted") or primary_adjustment(study, panel.frame)
    columns = [c for c in columns_for(panel, wanted, pain) if c in frame]
    held = held_column(asked, pain)
    primary = [c for c in exposure_columns(study.analysis.primary) if c in columns]
    earlier = [c for c in columns if held and c in (f"{held}_within", f"{held}_between")]

    def unknown(names: Sequence[str]) -> np.ndarray:
        return frame[list(names)].isna().any(axis=1).to_numpy()

    after, of_load = frame.groupby("person")["step"].shift(-1).isna().to_numpy(), JUMP in primary
    why = {
        "last": after & bool(asked.lag),
        "outcome": unknown([asked.column]),
        "earlier": unknown(earlier),
        "load": unknown(["load"]) & of_load,
        "usual": unknown(primary) & of_load,
        "exposure": unknown(primary),
        "others": unknown(columns),
    }
    left, people = np.ones(len(frame), dtype=bool), frame["person"].to_numpy()
    rows = [(RECORDED, 0, 0, len(frame), len(set(people)))]
    for reason in LOST:
        gone = left & why[reason]
        left &= ~gone
        if gone.any():
            lost, kept = people[gone], people[left]
            rows.append((reason, len(lost), len(set(lost)), len(kept), len(set(kept))))
    return pd.DataFrame(rows, columns=["reason", "n_steps", "n_people", "left_steps", "left_people"])

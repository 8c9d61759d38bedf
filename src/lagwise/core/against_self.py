"""People against themselves: the results that `lagwise.stretches` returns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import pandas as pd

from lagwise.core.results import Shown
from lagwise.core.study import Study
from lagwise.core.variable import Variable


@dataclass(frozen=True, repr=False)
class Stretches(Shown):
    """Every two stretches of the calendar that the plan names, each person against themselves.

    `table` has one row per pair and variable, what is asked about first: the mean `difference` (later minus
    earlier), the part of it that a straight `trend` within people would give and what is `beyond` it, each
    with 95 % limits, and why there is none (`reason`); columns as in `lagwise.events.stretches`. `people` has
    each person's two means and is personal data. `sentences` say what was found, and what of the season.
    """

    _shown: ClassVar = "changes.self_shown.stretches"

    study: Study
    outcome: Variable
    table: pd.DataFrame
    people: pd.DataFrame
    sentences: tuple[str, ...]

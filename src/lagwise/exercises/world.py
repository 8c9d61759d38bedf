"""A caseload and what the tasks need of it, each thing made once and only when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Any

import pandas as pd

from lagwise.core.effects import contrast_label
from lagwise.core.errors import LagwiseError
from lagwise.core.results import Caseload, Challenge, Fit, Panel
from lagwise.core.words import exposure_label
from lagwise.exercises.task import Found

SEED = 1
"""Of everything random in a task; the exercises name the same."""


class World:
    """What a task is asked of. Properties raise a LagwiseError in words where the caseload has nothing for
    them.
    """

    def __init__(self, caseload: Caseload) -> None:
        self.caseload = caseload
        self.study = caseload.study
        self.step = caseload.study.step
        self.term = caseload.study.analysis.primary
        self.load_term = next(v.name for v in caseload.study.variables.values() if v.whole)
        self._found: dict[Any, Found | LagwiseError] = {}

    def found(self, find: Callable[[World], Found]) -> Found:
        """What a part's function works out, once; an error it ends in stays the same, too."""
        if find not in self._found:
            try:
                self._found[find] = find(self)
            except LagwiseError as error:
                self._found[find] = error
        found = self._found[find]
        if isinstance(found, LagwiseError):
            raise found
        return found

    @cached_property
    def panel(self) -> Panel:
        """The panel of the caseload."""
        from lagwise.panel import build_panel

        return build_panel(self.caseload)

    @property
    def frame(self) -> pd.DataFrame:
        """The panel's frame."""
        return self.panel.frame

    @cached_property
    def loads(self) -> pd.DataFrame:
        """The panel's frame of a caseload that records training."""
        if not self.frame["load"].notna().any():
            raise LagwiseError("it records no training, and this asks about load")
        return self.frame

    @cached_property
    def compared(self) -> Panel:
        """The panel, where the exposure that the plan asks about was recorded."""
        if self.term == self.load_term and not self.loads[self.load_term].notna().any():
            raise LagwiseError(f"no {self.step} has both a load and a usual load")
        if not self.frame[self.term].notna().any():
            raise LagwiseError(f"its plan asks about {self.exposure}, which was not recorded")
        return self.panel

    @property
    def exposure(self) -> str:
        """What the exposure that the plan asks about is called."""
        return exposure_label(self.term, self.study.variables)

    @cached_property
    def fit(self) -> Fit:
        """The mixed model of the primary question, usable."""
        from lagwise.models import fit_mixed

        return fit_mixed(self.panel).required()

    @cached_property
    def flares(self) -> Fit:
        """The flare model, usable; without the simulation at the study's size, which no task reads."""
        from lagwise.models import fit_flares

        return fit_flares(self.compared, simulations=0, seed=SEED).required()

    @cached_property
    def shuffled(self) -> Challenge:
        """The challenge that slides load along in time."""
        from lagwise.say.challenge import challenge

        result = challenge(self.compared, self.fit, only=["shuffled_load"], seed=SEED)["shuffled_load"]
        if result.problem:
            raise LagwiseError(result.problem.rstrip("."))
        return result

    @cached_property
    def truth(self) -> dict[str, Any]:
        """The truth that an invented caseload carries in its folder."""
        from lagwise.synthetic import truth_beside

        return truth_beside(self.caseload)

    @property
    def contrast(self) -> str:
        """The planned contrast as tables write it: '+50 %'."""
        return contrast_label(self.study.analysis.primary, self.study.analysis.primary_contrast)

    def primary(self) -> dict[str, Any]:
        """The row of the answer to the plan's question."""
        self.compared  # noqa: B018 - says in words when nothing of it was recorded
        return {str(name): value for name, value in self.fit.primary().iloc[0].items()}

    def held(self, fit: Fit) -> tuple[str, str]:
        """Which pain a fit holds equal by the plan, and the other one."""
        held = fit.settings["pain_adjusted"]
        return held, "before" if held == "during" else "during"

    def estimate(self, fit: Fit, *, number: str = "estimate", **where: Any) -> float:
        """A number of the first row of the effect table with these values; missing where there is none."""
        rows = fit.effects[(fit.effects[list(where)] == pd.Series(where)).all(axis=1)]
        return float(rows[number].iloc[0]) if len(rows) else float("nan")

"""Two reports of one study, the earlier on the first steps of the later one's record, with fits made by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import writeup_inputs as made

from lagwise.core.effects import effects_frame
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.findings import Findings
from lagwise.writeup.collect import collect

WHOLE = made.panel(14, 16)


def part(panel: Panel = WHOLE, *, steps: int = 99, without: tuple[str, ...] = ()) -> Panel:
    """The panel's first steps; the rating after the last of them is not known yet."""
    f = panel.frame[(panel.frame["step"] < steps) & ~panel.frame["person"].isin(without)].copy()
    asked = panel.study.outcome.column
    f.loc[f["step"] == steps - 1, asked] = np.nan
    return replace(panel, frame=f.reset_index(drop=True))


def fitted(n_steps: int, shift: float = 0.0, error: float = 0.1, n_people: int = 14):
    """A mixed model whose estimates are moved by `shift`, with these standard errors."""
    fit = made.mixed()
    found = fit.effects
    rows = found.assign(
        estimate=found["estimate"] + shift, std_error=error, n_steps=n_steps, n_people=n_people,
        low=found["estimate"] + shift - 1.96 * error, high=found["estimate"] + shift + 1.96 * error,
    )  # fmt: skip
    return replace(fit, effects=effects_frame(rows.to_dict("records")), n_steps=n_steps)


def put(panel: Panel, *fits, study: Study = made.STUDY, **more) -> Findings:
    return collect(made.caseload(study), panel, list(fits), None, **more)


@cache
def old(**how) -> Findings:
    return put(part(steps=12), fitted(100, error=0.125, **how))

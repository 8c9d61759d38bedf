"""Process -> panel without rows of sessions and check-ins, for simulations of many caseloads."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.panel import panel_from_blocks
from lagwise.synthetic.observe import Records, observe
from lagwise.synthetic.process import Weeks, run
from lagwise.synthetic.spec import Spec

SETS_PER_ROW = 3.5
EFFORT_ROW_SD = 0.5
RATINGS = ("stress", "sleep_hours", "sleep_quality", "worry", "confidence", "pain")


def simulate_panel(
    spec: Spec, rng: np.random.Generator, *, n_people: int | None = None, study: Study | None = None
) -> Panel:
    """A panel of `n_people` people drawn from the process, with the gaps its records would have.

    The load measure is sets, whatever the study says; near_failure_share is left missing. Weeks of different
    people are counted from their own first week, as in a panel built from tables.
    """
    weeks = run(spec, rng, n_people)
    return panel_of(weeks, observe(weeks, spec, rng), rng, study)


def panel_of(weeks: Weeks, records: Records, rng: np.random.Generator, study: Study | None = None) -> Panel:
    """The panel of given weeks and records."""
    plan = Study("Synthetic caseload") if study is None else study
    return panel_from_blocks(blocks_of(weeks, records, rng, plan), plan)


def blocks_of(weeks: Weeks, records: Records, rng: np.random.Generator, study: Study) -> pd.DataFrame:
    """The panel's blocks from arrays; steps after a person's last record are left out."""
    n, T = weeks.pain.shape
    made = records.made
    n_made = made.sum(axis=2)
    trained = records.logged & (weeks.load > 0)
    rest = records.logged & (weeks.load == 0)
    rows = np.maximum(weeks.load / SETS_PER_ROW, 1)
    effort = np.clip(weeks.effort + rng.normal(0, EFFORT_ROW_SD, (n, T)) / np.sqrt(rows), 0, 10)
    means = {name: _mean(getattr(records, name), made) for name in RATINGS}
    pain_made = np.where(made, records.pain, np.nan)
    last_made = made.shape[2] - 1 - np.argmax(made[:, :, ::-1], axis=2)
    last_pain = np.where(
        n_made > 0, np.take_along_axis(records.pain, last_made[:, :, None], axis=2)[:, :, 0], np.nan
    )
    columns = {
        "recorded": np.where(trained, "trained", np.where(rest, "rest", "unknown")),
        "n_sessions": records.logged.astype("int64"),
        f"load_{study.load.measure}": np.where(trained, weeks.load, np.where(rest, 0.0, np.nan)),
        "effort": np.where(trained, effort, np.nan),
        "near_failure_share": np.full((n, T), np.nan),
        "n_checkins": n_made,
        "n_ratings": n_made,
        "pain_mean": means.pop("pain"),
        "pain_worst": np.where(n_made > 0, np.max(np.where(made, pain_made, -1.0), axis=2), np.nan),
        "pain_last": last_pain,
        "flare_reported": np.where(n_made > 0, (records.flare & made).any(axis=2), np.nan),
        "pain_before": np.column_stack([np.full(n, np.nan), last_pain[:, :-1]]),
    } | means
    something = records.logged | (n_made > 0)
    first = np.argmax(something, axis=1)
    last = T - 1 - np.argmax(something[:, ::-1], axis=1)
    step = np.arange(T)[None, :] - first[:, None]
    inside = something.any(axis=1)[:, None] & (step >= 0) & (np.arange(T)[None, :] <= last[:, None])
    person = np.char.add("S", np.char.zfill(np.arange(n).astype(str), len(str(n))))
    flat = {name: values[inside] for name, values in columns.items()}
    start = np.datetime64("2024-01-01", "us") + (np.arange(T) * 7).astype("timedelta64[D]")
    return pd.DataFrame(
        {
            "person": pd.Series(np.repeat(person, T).reshape(n, T)[inside], dtype="str"),
            "step": step[inside],
            "step_start": np.broadcast_to(start, (n, T))[inside],
            **flat,
            "source": "logs",
        }
    )


def _mean(values: np.ndarray, made: np.ndarray) -> np.ndarray:
    n = made.sum(axis=2)
    return np.divide((values * made).sum(axis=2), n, out=np.full(n.shape, np.nan), where=n > 0)

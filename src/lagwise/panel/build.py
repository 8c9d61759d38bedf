"""Checked tables -> panel, and a panel under another plan."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType

import numpy as np
import pandas as pd

from lagwise.core.columns import STATES
from lagwise.core.errors import PanelError
from lagwise.core.results import Caseload, Panel
from lagwise.core.study import Study
from lagwise.core.variable import PAIN
from lagwise.panel.arrays import lost_of, marks
from lagwise.panel.clock import lay_grid
from lagwise.panel.derive import panel_frame, silent
from lagwise.panel.events import COLUMNS, placed_events, replaced_events
from lagwise.panel.ratings import before_first, in_order, rating_steps, without_lost
from lagwise.panel.steps import TrainingSteps
from lagwise.panel.weeks import week_blocks


def build_panel(
    caseload: Caseload | str | Path, study: Study | None = None, *, checkins: pd.DataFrame | None = None
) -> Panel:
    """One row per person and calendar step, complete between each person's first and last record.

    Parameters
    ----------
    caseload : Caseload or path
        Checked tables: sessions and check-ins, or weeks. They are not changed. Or the path of a Parquet file
        of sessions too large to hold in memory, with the contract's columns and units (person text, date a
        date or timestamp, time HH:MM; columns that are not there count as not recorded).
    study : Study, optional
        The plan; the caseload's own by default. Needed with a path.
    checkins : DataFrame, optional
        Beside a path: check-in rows as in `Caseload.checkins`.

    Returns
    -------
    Panel
        `frame` has the columns of `lagwise.core.terms.panel_columns(study)`, each defined in
        `lagwise.say.columns.of_panel(study)`; numbers are float64 with NaN for not known, counts int64.
        `states` counts trained, rest and unknown steps, and `would_change_under_other_reading`: steps with
        check-ins but no session rows, whose state rests on `no_sessions_means`.

    Raises
    ------
    PanelError
        When no person has a row, or when weeks are given beside sessions or check-ins. Of a file, when it
        cannot be read, lacks person or date, or holds rows that `lagwise.read` would set aside.

    Examples
    --------
    >>> import lagwise as lw
    >>> panel = lw.build_panel(caseload)
    >>> list(panel.frame.columns[:5])
    ['person', 'step', 'step_start', 'state', 'load']
    >>> weekly = lw.build_panel(caseload, caseload.study.with_(usual_steps=6))
    >>> len(weekly.frame) == len(panel.frame)
    True
    """
    if not isinstance(caseload, Caseload):
        from lagwise.panel.parquet import panel_from_parquet

        if not isinstance(caseload, str | Path):
            raise PanelError(
                f"build_panel takes a caseload, and {type(caseload).__name__} is none",
                where="build_panel",
                mend="Make one: lw.read(folder), or lw.from_frames(checkins=frame, plan=study).",
            )
        if study is None:
            mend = "Give a study; of a caseload folder what lw.read gives."
            raise PanelError("a file of sessions has no plan", where=str(caseload), mend=mend)
        return panel_from_parquet(caseload, study, checkins)
    plan = caseload.study if study is None else study
    logs = len(caseload.sessions) + len(caseload.checkins)
    if len(caseload.weeks) and logs:
        raise PanelError(
            "weeks are given beside sessions or check-ins, so the same step would be told twice",
            where="caseload",
            mend="Keep either weeks, or sessions and check-ins.",
        )
    blocks, events = (week_blocks if len(caseload.weeks) else log_blocks)(caseload, plan)
    return panel_from_blocks(blocks, plan, events)


def rebuild(panel: Panel, study: Study) -> Panel:
    """The same steps under another plan, from `panel.blocks` alone.

    Load measure, usual-load window, `no_sessions_means`, outcome, lag, pain summary, rating time and flare
    rise may differ.

    Raises
    ------
    PanelError
        When the plans differ in something only the tables can answer: the clock, the efforts that count as
        hard or near failure, the exercise groups, a rating that was not known of when it was built, or the
        load measure of a weeks table.
    """
    was, now = _needs_tables(panel.study), _needs_tables(study)
    changed = [key for key in was if was[key] != now[key]]
    if changed:
        raise PanelError(
            f"a panel cannot be rebuilt under another {', '.join(changed)}",
            where="rebuild",
            mend="Build it from the caseload: build_panel(caseload, study).",
        )
    events = replaced_events(panel.events, study, str(panel.blocks["source"].iloc[0]))
    return panel_from_blocks(panel.blocks, study, events)


def log_blocks(caseload: Caseload, study: Study) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Blocks from sessions and check-ins, every load measure and pain summary per person-step; and the events
    on their calendar."""
    sessions, checkins = caseload.sessions, in_order(caseload.checkins)
    people = pd.DataFrame({"person": pd.concat([sessions["person"], checkins["person"]])})
    aside, cells = lost_of(caseload, "sessions", people)
    unrated, uncertain = lost_of(caseload, "checkins", people)
    unrated = pd.concat([unrated, uncertain[uncertain["column"].isin((PAIN, "flare"))]])
    lost = np.concatenate([marks(sessions, cells), np.ones(len(aside), dtype=bool)])
    if len(aside):
        sessions = pd.concat([sessions, aside[["person", "date"]]], ignore_index=True)
    placed = [(table["person"], table["date"]) for table in (sessions, checkins, unrated)]
    grid, (trained_at, rated_at, unrated_at) = lay_grid(study.clock, placed)
    training = TrainingSteps(grid, study)
    training.add(sessions, trained_at.person, trained_at.day, lost)
    columns = training.columns() | rating_steps(checkins, rated_at.row, grid.size, study)
    columns |= without_lost(columns, checkins, rated_at, unrated["column"], unrated_at, study)
    columns |= before_first(training.first_sessions(), checkins, rated_at, grid, study)
    source = "logs" if len(sessions) else "checkins"
    return grid.frame(columns, source), placed_events(caseload, study, grid, rated_at)


def panel_from_blocks(blocks: pd.DataFrame, study: Study, events: pd.DataFrame | None = None) -> Panel:
    """A panel from blocks and placed events (see `lagwise.core.results.Panel`), however they were made."""
    frame = panel_frame(blocks, study)
    counts = frame["state"].value_counts()
    states = {name: int(counts.get(name, 0)) for name in STATES}
    states["would_change_under_other_reading"] = int(silent(blocks).sum())
    placed = pd.DataFrame(columns=list(COLUMNS)) if events is None else events
    return Panel(frame, study, blocks, MappingProxyType(states), placed)


def _needs_tables(study: Study) -> dict[str, object]:
    return {
        "clock": study.clock,
        "hard_effort": study.load.hard_effort,
        "near_failure_effort": study.load.near_failure_effort,
        "exercise groups": {name: tuple(exercises) for name, exercises in study.groups.items()},
    }

"""The sections of a study plan, each a frozen value whose keys hold their own rules."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Annotated, Any

from lagwise.core import legal
from lagwise.core.columns import LOAD_MEASURES

INTERVAL = 0.95
"""Width of every interval the project reports."""


NO_TABLES: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Clock:
    """The calendar step: its length in days, the weekday it starts on, and when check-ins are made.

    `study_start` (YYYY-MM-DD) is the date of the day numbered `first_day` in tables that number their days
    (`date_format = "day"`); where it is empty nothing is known of the calendar, and `start` is some such
    weekday.
    """

    step_days: Annotated[int, legal.whole(1, 366)] = 7
    week_starts: Annotated[str, legal.one_of(*legal.WEEKDAYS)] = "monday"
    checkin_time: Annotated[str, legal.one_of("morning", "evening", "unknown")] = "unknown"
    study_start: Annotated[str, legal.day] = ""
    first_day: Annotated[int, legal.whole(0, 1)] = 1

    @property
    def start(self) -> date:
        """The date of the day numbered `first_day`: `study_start`, else the first `week_starts` of 2001."""
        if self.study_start:
            return date.fromisoformat(self.study_start)
        return date(2001, 1, 1 + legal.WEEKDAYS.index(self.week_starts))


LOAD_CONTRAST = 0.5
"""What a load jump is told at where the plan names nothing: 50 % above the usual load."""


@dataclass(frozen=True)
class LoadPlan:
    """How load is measured and what a person's usual load is.

    `measured` takes the column `load` of sessions as it was measured, in `unit`, and sums it over the step.
    """

    measure: Annotated[str, legal.one_of(*LOAD_MEASURES)] = "sets"
    usual_steps: Annotated[int, legal.whole(1, 52)] = 4
    usual_needs: Annotated[int, legal.whole(1, 52)] = 3
    no_sessions_means: Annotated[str, legal.one_of("rest", "unknown")] = "unknown"
    hard_effort: Annotated[float, legal.number(0, 10)] = 8.0
    near_failure_effort: Annotated[float, legal.number(0, 10)] = 9.0
    unit: Annotated[str, legal.filled] = ""


@dataclass(frozen=True)
class PainPlan:
    """How a step's pain is summarised, when it is rated, and which changes matter."""

    summary: Annotated[str, legal.one_of("mean", "worst", "last")] = "mean"
    rated: Annotated[str, legal.one_of("end", "start")] = "end"
    flare_rise: Annotated[float, legal.margin(0.1)] = 2.0
    important_change: Annotated[float, legal.margin(0.1)] = 1.0


@dataclass(frozen=True)
class AnalysisPlan:
    """What is asked: exposures, the primary one, its contrast and the range called practically zero.

    `primary_contrast` is a proportion of usual load for `jump` (0.5 = +50 %), else a number of the
    exposure's own units. `practically_zero` is in pain points, either way. `headline` is the estimate that
    leads where both can be made: 'joint' (`lagwise.fit_rated`: ratings measure pain with error, and load
    answers it) or 'mixed' (ratings taken as they are). `outcome` is the rating asked about, `lag` 1 for that
    of the next step or 0 for that of the same step, which needs `order` 'exposure_first': what is asked about
    comes after the exposures within a step (last night's sleep, then today's rating).
    """

    exposures: Annotated[tuple[str, ...], legal.exposures] = (
        "jump",
        "effort",
        "stress",
        "sleep_hours",
        "worry",
    )
    primary: Annotated[str, legal.filled] = "jump"
    primary_contrast: Annotated[float, legal.contrast] = 0.5
    practically_zero: Annotated[float, legal.margin(0)] = 0.5
    headline: Annotated[str, legal.one_of("joint", "mixed")] = "joint"
    outcome: Annotated[str, legal.filled] = "pain"
    lag: Annotated[int, legal.whole(0, 1)] = 1
    order: Annotated[str, legal.one_of("exposure_first", "unknown")] = "unknown"


@dataclass(frozen=True)
class RatingPlan:
    """A rating of the study's own, or one of the contract's on another scale (`[ratings.NAME]`).

    `low` and `high` are the ends of its scale, `worse` its worse end ('high', 'low', 'neither'; '' as the
    contract has it). Margins are on its own scale; None takes shares of its range: 10 % important,
    5 % practically zero, 20 % the rise of a flare-up.
    """

    low: Annotated[float, legal.number(-1e6, 1e6)] = 0.0
    high: Annotated[float, legal.number(-1e6, 1e6)] = 10.0
    label: Annotated[str, legal.filled] = ""
    worse: Annotated[str, legal.one_of("high", "low", "neither")] = ""
    important_change: Annotated[float | None, legal.number(1e-6, 1e6)] = None
    practically_zero: Annotated[float | None, legal.number(0, 1e6)] = None
    flare_rise: Annotated[float | None, legal.number(1e-6, 1e6)] = None


@dataclass(frozen=True)
class AlsoPlan:
    """A further question of the same record (`[[also]]`): what is asked about, and the exposure asked of.

    `contrast` is that exposure's, None for the plan's `primary_contrast` where it is the plan's primary one,
    else +50 % of load or 1 of its own units. `lag` is as in `[analysis]`, None as the main question has it.
    """

    outcome: Annotated[str, legal.filled] = ""
    primary: Annotated[str, legal.filled] = ""
    contrast: Annotated[float | None, legal.contrast] = None
    lag: Annotated[int | None, legal.whole(0, 1)] = None


@dataclass(frozen=True)
class EventsPlan:
    """Kinds of events of the study's own, beside the contract's (`[events]`); by kind (`[events.KIND]`) the
    ratings asked about after it (`outcomes`) and one that it could hardly change (`unmoved`)."""

    kinds: Annotated[tuple[str, ...], legal.kinds] = ()
    outcomes: Annotated[Mapping[str, tuple[str, ...]], legal.by_kind(legal.names)] = field(
        default_factory=lambda: NO_TABLES
    )
    unmoved: Annotated[Mapping[str, str], legal.by_kind(legal.filled)] = field(
        default_factory=lambda: NO_TABLES
    )

    @property
    def named(self) -> tuple[str, ...]:
        """Kinds that have a section of their own, in order."""
        return tuple(dict.fromkeys((*self.outcomes, *self.unmoved)))


@dataclass(frozen=True)
class TableSource:
    """Where a table is and how it is written (`[tables.NAME]`).

    `columns` maps our names to theirs; `units` names units other than the contract's (load_kg = "lb").
    `sheet` names a worksheet, `header_row` the 1-based row of the header as a person sees it in the file.
    `wide` declares a form with one column per day: our column name -> {their header: days after the row's
    date}. `units` of a rating may be its scale (pain = "0-100"), which is then read as points from 0 to 10.
    `constant` gives a column of ours one value for every row (sets = "1").
    `missing` lists what stands for 'not recorded' (999, leer): our column name -> marks, "" for every column.
    `files` are names or patterns of several files and `sheets` several sheets of a workbook ('*' all of
    them), pasted below each other; with `person_from` ('file', 'sheet') the code of the person stands in
    their names. `fill_down` names columns of ours that are written once, above the rows they hold for;
    `ignore` headers that are known and not wanted. `day_ends` (HH:MM): times up to then belong to the day
    before. `bands` is the width of bands that numbers are put into (age_band = 10).
    """

    file: Annotated[str, legal.filled] = ""
    files: Annotated[tuple[str, ...], legal.names] = ()
    sheet: Annotated[str, legal.filled] = ""
    sheets: Annotated[tuple[str, ...], legal.sheets] = ()
    person_from: Annotated[str, legal.one_of("file", "sheet")] = ""
    fill_down: Annotated[tuple[str, ...], legal.names] = ()
    ignore: Annotated[tuple[str, ...], legal.names] = ()
    day_ends: Annotated[str, legal.small_hour] = ""
    sep: Annotated[str, legal.separator] = ""
    decimal: Annotated[str, legal.decimal] = "."
    encoding: Annotated[str, legal.encoding] = ""
    date_format: Annotated[str, legal.date_format] = ""
    header_row: Annotated[int, legal.whole(1, 1000)] = 1
    columns: Mapping[str, str] = field(default_factory=lambda: NO_TABLES)
    units: Mapping[str, str] = field(default_factory=lambda: NO_TABLES)
    wide: Mapping[str, Mapping[str, int]] = field(default_factory=lambda: NO_TABLES)
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: NO_TABLES)
    constant: Mapping[str, str] = field(default_factory=lambda: NO_TABLES)
    bands: Mapping[str, int] = field(default_factory=lambda: NO_TABLES)

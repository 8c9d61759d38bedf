"""People against themselves: the results of `lagwise.stretches`, `phases` and `design_comparable`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import pandas as pd

from lagwise.core.results import Picture, Shown
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

    _shown: ClassVar = "changes.shown.stretches"

    study: Study
    outcome: Variable
    table: pd.DataFrame
    people: pd.DataFrame
    sentences: tuple[str, ...]


@dataclass(frozen=True, repr=False)
class PersonPhases(Shown):
    """One person's record cut at what changed: personal data, whatever the code.

    `table` has one row per change: kind, because, start (first step after it, from 0), why it is not compared
    (`reason`), rated steps and mean of the phase before and from it on, the difference with its 95 % limits,
    df and rho (autoregressive errors), and overlap as description (`lagwise.events.phased.CHANGES`). `phases`
    has first and last step, rated steps and mean of each part; `figure` draws it.
    """

    _shown: ClassVar = "changes.shown.phases"

    study: Study
    person: str
    outcome: Variable
    table: pd.DataFrame
    phases: pd.DataFrame
    figure: Picture
    sentences: tuple[str, ...]


@dataclass(frozen=True, repr=False)
class DesignComparable(Shown):
    """The difference before and after a kind of event over several people, in units of the spread between
    people.

    `table` has one row with the fields of `lagwise.events.several.Comparable`: `g` with its limits is the
    design-comparable size, `difference` what it is made of, in the outcome's units. `people` has each
    person's rated steps and means on both sides and is personal data.
    """

    _shown: ClassVar = "changes.shown.design_comparable"

    study: Study
    kind: str
    outcome: Variable
    table: pd.DataFrame
    people: pd.DataFrame
    sentences: tuple[str, ...]

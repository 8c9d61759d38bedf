"""Whole synthetic caseloads: the kinds there are, and how one is drawn."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
import pandas as pd

from lagwise.caseload.remarks import remarks_frame
from lagwise.caseload.repeats import empty_frame
from lagwise.caseload.sift import COUNTS, empty_lost, empty_quarantine
from lagwise.core import columns
from lagwise.core.claim import said
from lagwise.core.errors import CaseloadError
from lagwise.core.results import Caseload
from lagwise.core.study import AnalysisPlan, Study
from lagwise.synthetic import hall, tables
from lagwise.synthetic.changes import CHANGES, UNCHANGED, Change, events_table, recorded, set_off
from lagwise.synthetic.followed import true_changes
from lagwise.synthetic.observe import observe
from lagwise.synthetic.process import run
from lagwise.synthetic.spec import CHANGES_HALL, CLINIC, NO_EFFECT, Spec
from lagwise.synthetic.truth import true_values

Form = Literal["logs", "weeks", "checkins"]


@dataclass(frozen=True)
class Kind:
    """A kind of synthetic caseload: its name, the process behind it and the tables it comes as."""

    name: str
    spec: Spec
    form: Form = "logs"
    changes: tuple[Change, ...] = ()

    @property
    def title(self) -> str:
        """The title of its study."""
        return str(said(f"invented.{self.name}"))

    @property
    def meaning(self) -> str:
        """What it is for."""
        return str(said(f"meant.{self.name}"))


def _sized(people: int, weeks: int) -> Spec:
    return replace(CLINIC, n_people=people, n_steps=weeks)


_KINDS = (
    Kind("clinic", CLINIC),
    Kind("no_effect", NO_EFFECT),
    Kind("tiny", _sized(4, 10)),
    Kind("exploratory", _sized(7, 18)),
    Kind("weeks_only", _sized(16, 16), "weeks"),
    Kind("checkins_only", _sized(16, 16), "checkins"),
    Kind("changes", CHANGES_HALL, changes=CHANGES),
    Kind("changes_no_effect", CHANGES_HALL, changes=UNCHANGED),
)
KINDS: Mapping[str, Kind] = MappingProxyType({kind.name: kind for kind in _KINDS})
"""The kinds of synthetic caseload by name."""


def make(name: str, seed: int = 1, *, anew: bool = False) -> tuple[Caseload, dict[str, Any]]:
    """A caseload of a named kind and its truth: `lagwise.synthetic.truth.true_values`, or where changes are
    what it is about `lagwise.synthetic.followed.true_changes`. `anew` simulates the truth also where it lies
    stored.
    """
    if name not in KINDS:
        raise CaseloadError(
            f"there is no kind of synthetic caseload called {name!r}", mend=f"Use one of {', '.join(KINDS)}."
        )
    kind = KINDS[name]
    caseload = simulate(kind.spec, seed, study=study_of(kind), form=kind.form, changes=kind.changes)
    made_by = {"kind": name, "meaning": kind.meaning, "seed": seed}
    if kind.changes:
        return caseload, made_by | true_changes(kind.spec, kind.changes, caseload.events)
    return caseload, made_by | true_values(kind.spec, caseload.study, anew=anew)


def clinic(seed: int = 1) -> tuple[Caseload, dict[str, Any]]:
    """Caseload and truth: 40 people over 26 weeks; jumps in load are followed by pain, which cuts load."""
    return make("clinic", seed)


def no_effect(seed: int = 1) -> tuple[Caseload, dict[str, Any]]:
    """As `clinic`, but load has no part in next week's pain and pain cuts load harder."""
    return make("no_effect", seed)


def study_of(kind: Kind) -> Study:
    """The plan that a kind is read under."""
    plan = AnalysisPlan()
    if kind.form == "checkins":
        asked = ("stress", "sleep_hours", "worry")
        plan = replace(plan, exposures=asked, primary="stress", primary_contrast=2)
    return Study(
        kind.title,
        setting=str(said("invented.setting", weeks=kind.spec.n_steps)),
        analysis=plan,
        groups=hall.GROUPS if kind.form == "logs" else MappingProxyType({}),
        scores=MappingProxyType({hall.SCORE: hall.SCORE_RANGE}),
    )


def simulate(
    spec: Spec,
    seed: int,
    *,
    study: Study | None = None,
    form: Form = "logs",
    changes: tuple[Change, ...] = (),
) -> Caseload:
    """One caseload drawn from a process.

    Parameters
    ----------
    spec : Spec
    seed : int
        Fixes every row. Weeks, records and tables use streams of their own, so a change in how rows are laid
        out leaves what happened as it was.
    study : Study, optional
        The plan it carries; by default one with the hall's exercise groups.
    form : 'logs' (sessions and check-ins) | 'weeks' | 'checkins'
    changes : tuple of Change
        Events that add to the ratings after them, in place of the hall's; every person rates on the last day
        of the week (`spec.patterns` (0, 0, 1)).
    """
    plan = study_of(Kind("other", spec, form)) if study is None else study
    happened, written, laid_out, meant = (
        np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(4)
    )
    weeks = run(spec, happened)
    records = observe(weeks, spec, written)
    person, start = tables.codes(laid_out, spec.n_people), tables.first_days(laid_out, spec.n_people)
    found = {"people": hall.people_table(weeks, person, laid_out)}
    if changes:
        changed = set_off(weeks, records, changes, meant)
        weeks, records = recorded(weeks, records, changes, changed)
        found["events"] = events_table(weeks, records, changes, changed, person, start, meant)
    else:
        found["events"] = hall.events_table(weeks, records, person, start, laid_out)
    if form == "weeks":
        found["weeks"] = tables.weeks_table(weeks, records, person, start)
    else:
        found["checkins"] = tables.checkins_table(weeks, records, person, start, laid_out)
    if form == "logs":
        found["sessions"] = tables.sessions_table(weeks, records, person, start, laid_out)
    return assemble(found, plan)


def assemble(found: Mapping[str, pd.DataFrame], study: Study) -> Caseload:
    """Tables as a Caseload, equal to what reading the written folder gives (but for `folder`)."""
    frames: dict[str, Any] = {name: _typed(name, found.get(name), study) for name in columns.TABLES}
    there = [name for name in columns.TABLES if name in found and len(found[name])]
    digest = hashlib.sha256("".join(tables.csv_text(frames[name]) for name in sorted(there)).encode())
    counts = []
    for name in there:
        rows, cells = len(frames[name]), int(frames[name].drop(columns="row").notna().to_numpy().sum())
        counts.append((name, f"{name}.csv", rows, rows, 0, cells, cells, 0))
    return Caseload(
        study=study,
        **frames,
        quarantine=empty_quarantine(),
        counts=pd.DataFrame(counts, columns=list(COUNTS)),
        remarks=remarks_frame([]),
        read_hash=digest.hexdigest(),
        lost=empty_lost(),
    )


def _typed(name: str, frame: pd.DataFrame | None, study: Study) -> pd.DataFrame:
    empty = empty_frame(name, study)
    if frame is None:
        return empty
    rows = frame.reindex(columns=empty.columns).assign(row=np.arange(2, len(frame) + 2))
    return rows.astype(empty.dtypes.to_dict())

"""From panel to numbers: which rows and columns enter a model, and what became of the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.errors import ModelError, no_such
from lagwise.core.question import Outcome, held_column
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.core.terms import on_load_side, whole
from lagwise.core.variable import JUMP
from lagwise.core.words import column_label, exposure_label, on, outcome_label, turns
from lagwise.models.estimable import estimable, hardly_between, hardly_varies
from lagwise.panel.arrays import people_of
from lagwise.panel.derive import usual_within

ADJUSTED_FOR = {"start": "before", "end": "during"}
"""The primary adjustment at lag 1 by the study's `[pain] rated`: A (before) or B (during)."""
ADJUSTMENTS = {1: ("before", "during"), 0: ("before", "none")}
"""The adjustments for the earlier outcome that there are by lag: within one step it cannot be held equal to
itself."""
DEFAULT = Study(title="")
"""A plan that says nothing else."""
OF_TRAINING = ("effort", "near_failure_share")
"""Exposures that exist only on trained steps; a rested step takes the person's mean and `rested` speaks for
it."""
MARKS = ("rested", "restarted")
"""Marks of steps at which load falls to nothing or comes back from it."""

SPARE = 10
"""Complete steps beyond the people and columns of a model, from which its intervals are worth anything: with
hardly more steps than numbers to estimate, variances clustered on people come out far too small."""


@dataclass(frozen=True)
class Design:
    """The complete rows of one model.

    `study` is the plan; `outcome` the panel column explained, which may be another than the plan's (an onset
    of a flare-up). `y` is (n,), `X` (n, p) with the intercept first, `names` its p column names, `person`
    (n,) codes 0..m-1 into `people`. Rows are sorted by person and step. `frame` holds the panel rows in the
    same order. `dropped` lists (column, why) for columns left out because they were unknown, constant, hardly
    varied within people or were a mixture of others.
    """

    y: np.ndarray
    X: np.ndarray
    names: tuple[str, ...]
    person: np.ndarray
    people: tuple[str, ...]
    frame: pd.DataFrame
    outcome: str
    adjustment: str = "adjusted"
    pain_adjusted: str = "none"
    dropped: tuple[tuple[str, str], ...] = ()
    study: Study = DEFAULT

    @property
    def asked(self) -> Outcome:
        """The outcome in question."""
        return self.study.outcome

    @property
    def n_people(self) -> int:
        """People with at least one complete row."""
        return len(self.people)

    @property
    def n_steps(self) -> int:
        """Complete rows."""
        return len(self.y)

    @property
    def spare(self) -> int:
        """Complete rows less people less columns that vary within people."""
        moves = [name for name in self.names[1:] if not name.endswith("_between")]
        return self.n_steps - self.n_people - len(moves)

    def of(self, chosen: np.ndarray) -> Design:
        """The rows of the people at positions `chosen`, ascending."""
        keep = np.isin(self.person, chosen)
        return replace(
            self,
            y=self.y[keep],
            X=self.X[keep],
            person=np.searchsorted(chosen, self.person[keep]),
            people=tuple(self.people[i] for i in chosen),
            frame=self.frame[keep],
        )

    def light(self) -> Design:
        """The same without the panel columns of its rows but for `person` and `step`."""
        return replace(self, frame=self.frame[["person", "step"]])

    def index(self, name: str) -> int | None:
        """Position of a column in X, or None when it was left out."""
        return self.names.index(name) if name in self.names else None


def primary_adjustment(study: Study, frame: pd.DataFrame | None = None) -> str:
    """Which earlier outcome the primary analysis adjusts for.

    At lag 1 'during' (B) when rated at the end of a step, 'before' (A) at its start. At lag 0 'before', but
    'none' where a panel's `frame` is given and it is known in less than half of the steps whose outcome is.
    """
    asked = study.outcome
    if asked.lag:
        return ADJUSTED_FOR[study.pain.rated]
    if frame is None:
        return "before"
    rated = frame[asked.name].notna()
    return "before" if rated.any() and frame.loc[rated, asked.before].notna().mean() >= 0.5 else "none"


def adjustments(study: Study, first: str) -> tuple[str, ...]:
    """The adjustments that the effect table shows, the primary one first; ModelError when `first` is none."""
    legal = ADJUSTMENTS[study.outcome.lag]
    if first not in legal:
        raise no_such(first, f"{study.outcome.variable.label} adjustment", legal)
    return (first, *(a for a in legal if a != first))


def further(kept: tuple[str, ...], every: Sequence[str]) -> list[tuple[str, tuple[str, ...], str]]:
    """(earlier outcome held equal, exposures, 'adjusted' | 'crude') of every model beside that of all
    exposures under the first adjustment: of all under the others, and of each alone."""
    asked = [(kept, "adjusted"), *(((term,), "crude") for term in kept)]
    return [(held, *one) for held in every for one in asked][1:]


def moving(column: str, asked: Outcome) -> bool:
    """True for columns by which exposures enter within people; the earlier outcome is held equal and is
    none."""
    base = column.removesuffix("_within")
    return whole(column) or (base != column and base not in (asked.name, asked.before))


def exposure_columns(term: str) -> tuple[str, ...]:
    """Panel columns by which an exposure enters a model; jump brings the indicators of its own coding."""
    return (term, *MARKS) if whole(term) else (f"{term}_within", f"{term}_between")


def load_known(panel: Panel) -> bool:
    """True when any step has a load jump."""
    return bool(panel.frame[JUMP].notna().any())


def columns_for(panel: Panel, exposures: Sequence[str], pain_adjusted: str) -> tuple[str, ...]:
    """Columns of the linear predictor: exposures, log_usual, the parts of the adjusted-for outcome and the
    step index.

    log_usual stands in every model of a study that asks about load, and in none of one that does not: steps
    without a usual load, most days of a diary, would be lost for nothing. Within one step (lag 0) of the
    earlier rating the within-person part alone is held: its person means are those of the outcome itself, and
    would take what differs between people out of every between-person slope.
    """
    out = [column for term in exposures for column in exposure_columns(term)]
    asked = any(on_load_side(term) for term in (*exposures, *panel.study.analysis.exposures))
    if asked and load_known(panel):
        out.insert(1 if out and whole(out[0]) else len(out), "log_usual")
    held = held_column(panel.study.outcome, pain_adjusted)
    if held:
        out.extend((f"{held}_within", f"{held}_between") if panel.study.outcome.lag else (f"{held}_within",))
    return (*out, "step")


def asked_for(panel: Panel, exposures: Sequence[str] | None) -> tuple[str, ...]:
    """The exposures named, each once, one name being one; those of the plan where none is named."""
    named = panel.study.analysis.exposures if exposures is None else exposures
    return tuple(dict.fromkeys((named,) if isinstance(named, str) else named))


def available(panel: Panel, exposures: Sequence[str]) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Exposures the panel can show, and (exposure, why) for those it cannot; ModelError for other names."""
    asked = panel.study.outcome
    legal = [v for v in panel.study.variables if exposure_columns(v)[0] in panel.frame and v != asked.name]
    for term in exposures:
        if term not in legal:
            raise no_such(
                term, f"exposure of {outcome_label(asked.column, asked.variable, panel.study.step)}", legal
            )
    known = {term: panel.frame[exposure_columns(term)[0]].notna().any() for term in exposures}
    left = tuple((term, said("column.not_recorded")) for term in exposures if not known[term])
    return tuple(term for term in exposures if known[term]), left


def design(
    panel: Panel,
    *,
    exposures: Sequence[str] | None = None,
    pain_adjusted: str | None = None,
    outcome: str | None = None,
    adjustment: str = "adjusted",
) -> Design:
    """The rows and columns of a model of the outcome on the exposures, one step later or in the same step.

    Parameters
    ----------
    panel : Panel
    exposures : sequence of str, optional
        Names of `Study.variables`; the study's exposures by default. One term with
        adjustment='crude' gives the crude model of that exposure.
    pain_adjusted : 'before' | 'during' | 'none', optional
        The study's primary adjustment by default (statistics, section 2b).
    outcome : str, optional
        Panel column; the plan's outcome by default.
    adjustment : 'adjusted' | 'crude'
        A label carried into the effect table.

    Returns
    -------
    Design
        Complete rows only. On rested steps effort and near_failure_share take the person's own mean, since
        there was no training to rate; the `rested` column carries the difference.
    """
    kept, left = available(panel, asked_for(panel, exposures))
    pain = primary_adjustment(panel.study, panel.frame) if pain_adjusted is None else pain_adjusted
    asked = panel.study.outcome
    outcome = asked.column if outcome is None else outcome
    if outcome not in panel.frame:
        raise no_such(outcome, "column of the panel", map(str, panel.frame))
    return design_from(
        rest_filled(panel.frame),
        columns_for(panel, kept, pain),
        outcome=outcome,
        adjustment=adjustment,
        pain_adjusted=pain,
        dropped=left,
        study=panel.study,
    )


def left_out(dropped: Sequence[tuple[str, str]], study: Study) -> tuple[str, ...]:
    """Columns left out and why, in words; a mark of steps that do not occur is nothing that is missing."""
    told = [(column_label(name, study.variables), why) for name, why in dropped if name not in MARKS]
    return tuple(said("column.left_out", column=name, why=why) for name, why in told)


def _nothing_complete(frame: pd.DataFrame, outcome: str, columns: Sequence[str], study: Study) -> ModelError:
    """What is missing, in words: the outcome, or the exposure that is known least where the outcome is."""
    asked, step = study.outcome, study.step
    wanted = outcome_label(outcome, asked.variable, step)
    rated = frame[outcome].notna()
    if asked.name in frame and not frame[asked.name].notna().any():
        mend = (
            f"Record it in the column {asked.name} of checkins (or weeks), or name the column that holds it "
            f'under [tables.checkins.columns] in study.toml, as {asked.name} = "your column".'
        )
        return ModelError(said("never_known.nothing", label=asked.variable.label), mend=mend)
    if not rated.any():
        kind = "rating" if outcome == asked.later else outcome if outcome.startswith("flare_") else "outcome"
        told = {"label": asked.variable.label, "turn": turns(asked.variable)[0]}
        never = said(f"never_known.{kind}", outcome=wanted, step=step, **told)
        return ModelError(never, mend=f"It takes ratings {on(step)} {step}s that follow each other.")
    known = frame.loc[rated, list(columns)].notna().sum()
    rarest = str(known.idxmin())
    label = exposure_label(rarest.removesuffix("_within").removesuffix("_between"), study.variables)
    return ModelError(
        f"no {step} has {wanted} and everything that is held equal; of {rated.sum()} with the first, "
        f"{label} is known in {known[rarest]}",
        mend="Leave an exposure that is hardly recorded out of [analysis] exposures, or record more "
        f"{step}s.",
    )


def design_from(
    frame: pd.DataFrame,
    columns: Sequence[str],
    *,
    outcome: str,
    adjustment: str = "adjusted",
    pain_adjusted: str = "none",
    dropped: Sequence[tuple[str, str]] = (),
    study: Study = DEFAULT,
) -> Design:
    """A design from named columns of a frame with `person` and `step`; see `design` for what comes back.

    By what `study` asks about, columns that hold it equal are told from exposures.

    Raises
    ------
    ModelError
        When no row is complete.
    """
    known = frame[[outcome, *columns]].notna().to_numpy().all(axis=1)
    rows = frame[known].sort_values(["person", "step"], kind="stable", ignore_index=True)
    if rows.empty:
        raise _nothing_complete(frame, outcome, columns, study)
    full = rows[list(columns)].to_numpy(dtype=float)
    people, person = people_of(rows)
    scale = [_scale(rows, column) for column in columns]
    firsts = np.unique(person, return_index=True)[1]
    asked = study.outcome
    within = {c: i for i, c in enumerate(columns) if moving(c, asked)}
    between = {c: i for i, c in enumerate(columns) if c.endswith("_between")}
    still = {c: hardly_varies(full[:, i], person, scale[i], study.step) for c, i in within.items()}
    still |= {c: hardly_between(full[firsts, i], scale[i]) for c, i in between.items()}
    still = {c: why for c, why in still.items() if why}
    at = [i for i, column in enumerate(columns) if column not in still]
    chosen, reasons = estimable(full[:, at], [columns[i] for i in at], [scale[i] for i in at])
    keep = [at[i] for i in chosen]
    return Design(
        y=rows[outcome].to_numpy(dtype=float),
        X=np.column_stack([np.ones(len(rows)), full[:, keep]]),
        names=("intercept", *(columns[i] for i in keep)),
        person=person,
        people=tuple(people),
        frame=rows,
        outcome=outcome,
        adjustment=adjustment,
        pain_adjusted=pain_adjusted,
        dropped=(*dropped, *still.items(), *reasons),
        study=study,
    )


def _scale(rows: pd.DataFrame, column: str) -> float:
    """Size of the values a column was made from: those of the rating before centring, and 1 log unit for logs
    of load."""
    if whole(column) or column == "log_usual":
        return 1.0
    raw = column.removesuffix("_within").removesuffix("_between")
    seen = [rows[name].to_numpy(dtype=float) for name in {column, raw} if name in rows]
    return max((float(np.nanmax(np.abs(values), initial=0.0)) for values in seen), default=0.0)


def rest_filled(frame: pd.DataFrame) -> pd.DataFrame:
    """The panel's rows as models take them: on rested steps what exists only in training is the person's own
    mean, and the usual load is its within-person part."""
    rested = frame["rested"].eq(1)
    own = {f"{term}_within": frame[f"{term}_within"] for term in OF_TRAINING}
    return usual_held(frame.assign(**{c: v.mask(rested & v.isna(), 0.0) for c, v in own.items()}))


def centred_on_people(values: np.ndarray, person: np.ndarray) -> np.ndarray:
    """(n, k) columns less each person's mean, `person` codes 0..m-1."""
    if not values.shape[1]:
        return values
    sums = np.stack([np.bincount(person, weights=v) for v in values.T], axis=1)
    return values - (sums / np.bincount(person)[:, None])[person]


def usual_held(frame: pd.DataFrame) -> pd.DataFrame:
    """The panel's rows with `log_usual` as models hold it equal, its within-person part
    (`lagwise.panel.derive.usual_within`)."""
    person = people_of(frame)[1]
    order = np.argsort(person, kind="stable")
    values = np.empty(len(frame))
    log_usual, usual = (frame[name].to_numpy(dtype=float)[order] for name in ("log_usual", "usual"))
    values[order] = usual_within(log_usual, usual, person[order])
    return frame.assign(log_usual=values)

"""Several people before and after a kind of event, and the public `design_comparable`."""

from __future__ import annotations

from dataclasses import asdict, replace

import numpy as np
import pandas as pd

from lagwise.core.against_self import DesignComparable
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.results import Panel
from lagwise.core.words import capital
from lagwise.events import several
from lagwise.events.single import LEAST
from lagwise.findings.series import events_of
from lagwise.models.rows import limits
from lagwise.say.changes.kinds import event
from lagwise.say.changes.phases import degrees
from lagwise.say.changes.stretches import rated_name
from lagwise.say.phrases import difference, fixed, interval_of, places, plural
from lagwise.say.voice import Voice

COLUMNS = ("person", "start", "n_before", "n_after", "mean_before", "mean_after")
NAIVE = "This is before and after alone: it includes the ordinary return after a bad stretch."
SIZE = "Sizes in such units can stand beside those of group trials; the unit is this group's own spread."


def design_comparable(panel: Panel, kind: str, outcome: str | None = None) -> DesignComparable:
    """Before and after the first event of a kind over at least three people, in units of the spread between
    people: a design-comparable standardised difference (Pustejovsky, Hedges & Shadish 2014).

    Parameters
    ----------
    panel : Panel
        From `build_panel`, of a caseload with events. It is not changed.
    kind : str
        As in the events table. What lasts until a date is 'after' until then; later steps are left out.
    outcome : str, optional
        The rating asked about; the plan's outcome by default.

    Returns
    -------
    DesignComparable
        `.table`, `.people` (personal data), `.sentences`. It sets records of single people beside trials; it
        compares with nobody without the event, which `follow` does.

    Raises
    ------
    LagwiseError
        When no event of the kind is in the record, the rating is unknown, or fewer than three people have
        three rated steps before and after.

    Examples
    --------
    >>> found = lw.design_comparable(panel, "education")
    >>> found.table.columns[:4].tolist()
    ['g', 'std_error', 'low', 'high']
    """
    asked = rated_name(panel, outcome)
    voice = replace(Voice.of(panel.study), question=panel.study.outcome_of(asked))
    first = {p: [e for e in es if e.kind == kind] for p, es in events_of(panel).items()}
    first = {person: events for person, events in first.items() if events}
    if not first:
        there = sorted(panel.events["kind"].unique()) if len(panel.events) else []
        mend = f"Recorded are: {', '.join(there)}." if there else "The caseload has no events."
        raise LagwiseError(f"no event {kind!r} with a date is in the record", where="events", mend=mend)
    frame, people = _sides(panel, asked, first)
    enough = people[people[["n_before", "n_after"]].min(axis=1) >= LEAST]
    if len(enough) < several.PEOPLE:
        have = f"{plural(len(enough), 'person has', 'people have')}"
        raise LagwiseError(
            f"{have} {LEAST} {voice.steps} with {voice.asked} rated before and after {event(kind)}; "
            f"{several.PEOPLE} people are needed",
            where="design_comparable",
            mend="phases(panel, person) shows one person at a time.",
        )
    try:
        found = several.design_comparable(frame[frame["person"].isin(enough["person"])])
    except ModelError as error:
        raise LagwiseError(error.what, where="design_comparable", mend=error.mend) from error
    table = pd.DataFrame([asdict(found)])
    told = _sentences(found, voice, kind, len(people) - len(enough))
    return DesignComparable(panel.study, kind, voice.outcome, table, people, told)


def _sides(panel: Panel, asked: str, first: dict) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Person, step, value and changed of people with the event, and what each has on both sides of it."""
    own = panel.frame[panel.frame["person"].isin(list(first))].sort_values(["person", "step"])
    person = own["person"].astype("str")
    start = person.map({p: es[0].start for p, es in first.items()}).to_numpy(dtype=float)
    until = person.map({p: np.inf if es[0].until is None else es[0].until for p, es in first.items()})
    step = own["step"].to_numpy(dtype=float)
    frame = pd.DataFrame(
        {
            "person": person.to_numpy(),
            "step": own["step"].to_numpy(),
            "value": own[asked].where(step <= until.to_numpy(dtype=float)).to_numpy(dtype=float),
            "changed": (step >= start).astype(int),
        }
    )
    rows = []
    for code, one in frame.groupby("person"):
        sides = [one.loc[one["changed"] == k, "value"] for k in (0, 1)]
        means = [v.mean() for v in sides]
        rows.append((code, first[str(code)][0].start, *(v.notna().sum() for v in sides), *means))
    return frame, pd.DataFrame(rows, columns=list(COLUMNS))


def _sentences(found: several.Comparable, voice: Voice, kind: str, left: int) -> tuple[str, ...]:
    low, high = limits(found.difference, found.difference_error, found.difference_df)
    size = difference(found.difference, places(low, high), voice.unit)
    spread = fixed(float(np.sqrt(found.tau2 + found.sigma2)), 1)
    of = "standard deviations"
    told = [
        f"Over {plural(found.n_people, 'person', 'people')}, "
        f"{plural(found.n_steps, f'person-{voice.step}')}, {voice.asked} averaged {size} "
        f"after {event(kind)} than before.",
        f"The {interval_of(low, high, unit=voice.unit)} allows for {voice.steps} in a row being alike "
        f"(df {degrees(found.difference_df)}).",
        f"Divided by the spread of {spread} {voice.unit} that is "
        f"{difference(found.g, places(found.low, found.high), of)} "
        f"({interval_of(found.low, found.high, unit=of)}; df {degrees(found.df)}).",
        SIZE,
        NAIVE,
    ]
    if left:
        few = f"{plural(left, 'person has', 'people have')} fewer than {LEAST} rated {voice.steps}"
        told.append(f"{capital(few)} on a side and {'is' if left == 1 else 'are'} left out.")
    return tuple(told)

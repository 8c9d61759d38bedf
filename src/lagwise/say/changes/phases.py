"""One person's phases in words, and the public `phases`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from lagwise.core.against_self import PersonPhases
from lagwise.core.errors import LagwiseError
from lagwise.core.numbers import fixed, interval, number
from lagwise.core.results import Panel, Picture
from lagwise.core.words import capital
from lagwise.events.phased import changes
from lagwise.events.phased import phases as parts_of
from lagwise.events.single import LEAST
from lagwise.findings.codes import check_codes, shown
from lagwise.findings.series import person_series
from lagwise.say.changes.kinds import event, heading
from lagwise.say.changes.stretches import measured_in, rated_name, records
from lagwise.say.phrases import difference, interval_of, listed, places, plural
from lagwise.say.report.course import course_picture, events_of, facts_of, of_somebody
from lagwise.say.show_results import BETWEEN
from lagwise.say.voice import Voice

ONE = "This is one person: nothing here says what the event did."
RETURN = "Changes tend to come in a bad stretch, and ratings ease after one anyway."
OVERLAP = (
    "Pairs describe how far two parts overlap. They have no interval: {steps} in a row are alike, which the "
    "intervals of the differences allow for."
)
WHY = {
    "few": f"it has fewer than {LEAST} rated {{steps}} on a side",
    "flat": "the ratings do not vary on either side",
    "outside": "it lies outside the person's record",
}
"""Why a change is not compared."""


def phases(panel: Panel, person: str, kind: str | None = None, outcome: str | None = None) -> PersonPhases:
    """One person's ratings in calendar order, cut at what changed, and each change against the phase before.

    Parameters
    ----------
    panel : Panel
        From `build_panel`, of a caseload with events. It is not changed.
    person : str
        The code, as it stands in the data.
    kind : str, optional
        The one kind of event to cut at; by default every kind cuts.
    outcome : str, optional
        The rating asked about; the plan's outcome by default.

    Returns
    -------
    PersonPhases
        `.table`, `.phases`, `.figure`, `.sentences`. Personal data, and no estimate for anybody else: a
        change without three rated steps on either side is named and not compared.

    Raises
    ------
    LagwiseError
        For a code that nobody has, a person without an event (of that kind), or an unknown rating.

    Examples
    --------
    >>> one = lw.phases(panel, panel.events["person"].iloc[0])
    >>> one.sentences[-1]
    'This is one person: nothing here says what the event did.'
    """
    asked = rated_name(panel, outcome)
    everybody = sorted(panel.frame["person"].astype("str").unique())
    (code,) = check_codes([person], everybody, where="person")
    own = replace(
        panel,
        frame=panel.frame[panel.frame["person"] == code],
        events=panel.events[panel.events["person"] == code] if len(panel.events) else panel.events,
    )
    (one,) = person_series(own, asked)
    events = events_of(one, kind)
    if not events:
        there = sorted({e.kind for e in one.events})
        mend = f"Recorded are: {', '.join(there)}." if there else "Name somebody with an event."
        what = f"no event{f' {kind!r}' if kind else ''} with a date is in the record of {shown(code)!r}"
        raise LagwiseError(what, where="events", mend=mend)
    voice = replace(Voice.of(panel.study), question=panel.study.outcome_of(asked))
    table = changes(one.pain, events)
    measure = measured_in(panel.study.load.measure)
    drawn = course_picture(
        one, facts_of(one, asked), measure, voice.step, voice.question, of_somebody(shown(code)), kind
    )
    frame = (
        own.frame.iloc[:0].reindex(columns=[]).assign(**{c: drawn.data.column(c) for c in drawn.data.columns})
    )
    figure = Picture(drawn.kind, drawn.title, frame, drawn.x, drawn.y, drawn.alt, drawn.options)
    told = [line for row in records(table) for line in sentences(row, voice)]
    told += [voice.fill(OVERLAP), RETURN] if (table["reason"] == "compared").any() else []
    return PersonPhases(
        panel.study, code, voice.outcome, table, parts_of(one.pain, events), figure, (*told, ONE)
    )


def sentences(row: Mapping[str, Any], voice: Voice) -> tuple[str, ...]:
    """What is said of one change: the difference with its interval, and how far the two parts overlap."""
    name = kinds(row["kind"])
    compared = row["reason"] == "compared"
    where = f"{voice.step} {row['after' if compared else 'start'] + 1:.0f}"
    if not compared:
        why = voice.fill(WHY[row["reason"]])
        return (f"{capital(name)}, before {where}, is not compared: {why}.",)
    low, high = row["low"], row["high"]
    size = difference(row["estimate"], places(low, high), voice.unit)
    spread = interval_of(low, high, unit=voice.unit)
    sides = f"{plural(int(row['n_before']), voice.step)} before and {row['n_after']:.0f} from {where} on"
    return (
        f"After {name}, {voice.asked} averaged {size} than before.",
        f"The {spread} (df {degrees(row['df'])}) stands on {sides}.",
        f"In {fixed(100 * row['nap'], 0)} of 100 pairs of a {voice.step} before and one after, "
        f"{voice.asked} was higher after.",
    )


def kinds(joined: str) -> str:
    """What began at one step, in the middle of a sentence after 'after'."""
    return listed([event(kind) for kind in joined.split(" + ")])


def degrees(df: float) -> str:
    """Degrees of freedom as they are printed; beyond 1000 they are as good as without end."""
    return "over 1000" if df > 1000 else fixed(df, 0 if df >= 20 else 1)


def rows(table: Iterable[Mapping[str, Any]]) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heads and cells of a table of one person's changes, those compared; numbered as in the picture."""
    cells = []
    for at, row in enumerate(table, 1):
        if row["reason"] != "compared":
            continue
        sides = (f"{fixed(row[f'mean_{k}'], 1)} ({row[f'n_{k}']:.0f})" for k in ("before", "after"))
        low, high = row["low"], row["high"]
        told = (number(row["estimate"], low, high), interval(low, high), degrees(row["df"]))
        what = f"{at} {', '.join(heading(k) for k in row['kind'].split(' + '))}"
        cells.append((what, *sides, *told, fixed(100 * row["nap"], 0)))
    return ("change", "before", "after", "difference", BETWEEN, "df", "higher of 100"), cells

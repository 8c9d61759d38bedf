"""What a check says of the steps of a record: what is asked, what is known of them, and what is lost."""

from __future__ import annotations

from collections.abc import Iterator

from lagwise.core.numbers import plural, whole
from lagwise.core.results import Caseload, Panel, unplaced, whole_rows
from lagwise.core.study import Study
from lagwise.core.words import listed
from lagwise.events.asked import PICTURE, people_with
from lagwise.say.changes.kinds import heading
from lagwise.say.check_page import TEXTS
from lagwise.say.voice import Voice, called


def aside_sentence(caseload: Caseload, form: str) -> str:
    """How many rows, and how many cells of the rows used, were set aside, in a `form` of the page's texts."""
    whole = whole_rows(caseload.quarantine).to_numpy(dtype=bool)
    rows, cells = int(whole.sum()), int((~whole).sum())
    of = " of rows that are used" if cells else ""
    aside = f"{rows_and_cells(rows, cells)}{of} set aside"
    return TEXTS[form if rows or cells else "none_aside"].format(aside=aside)


def rows_and_cells(rows: int, cells: int) -> str:
    """'3 rows and 2 cells', without what there is none of."""
    return " and ".join(plural(n, word) for n, word in ((rows, "row"), (cells, "cell")) if n)


def questions_sentence(study: Study) -> str:
    """What the plan asks where it asks several questions, the primary one first; empty where it asks one."""
    if not study.also:
        return ""
    also = "; ".join(Voice.of(one).asks for one in study.further)
    return (
        f"The plan asks {plural(1 + len(study.also), 'question')}. Primary: {Voice.of(study).asks}. As "
        f"well: {also}."
    )


def states_sentence(panel: Panel) -> str:
    """The three training states and how many steps would change under the other reading, if any."""
    states, step = panel.states, panel.study.step
    other = "rest" if panel.study.load.no_sessions_means == "unknown" else "unknown"
    changed = states["would_change_under_other_reading"]
    told = (
        f"{plural(len(panel.frame), step)} of {plural(panel.frame['person'].nunique(), 'person', 'people')}: "
        f"{whole(states['trained'])} trained, {whole(states['rest'])} rest, {whole(states['unknown'])} "
        "unknown."
    )
    return (
        f'{told} With no_sessions_means = "{other}" {plural(changed, step)} would change.'
        if changed
        else told
    )


def known_sentence(panel: Panel) -> str:
    """How many steps have a rating of the outcome, known load, and all that the main question needs."""
    people, study = panel.coverage(), panel.study
    asked = called(study.variables[study.analysis.primary])
    complete = int(people["complete"].sum())
    have = "is" if complete == 1 else "are"
    return (
        f"{plural(int(people[study.outcome.name].sum()), study.step)} with {study.outcome.variable.label}, "
        f"{whole(people['load'].sum())} with known load; {whole(complete)} {have} complete for the "
        f"question about {asked} alone, in {plural(int((people['complete'] > 0).sum()), 'person', 'people')}."
    )


def lost_sentences(caseload: Caseload, panel: Panel) -> list[str]:
    """What cannot be told for want of a number: steps whose load is unknown although the person trained, and
    rows whose date or person cannot be read; empty where there is none.
    """
    out, step = [], panel.study.step
    partly = int(panel.frame["partly_recorded"].sum())
    if partly:
        out.append(
            f"In {partly} of {plural(len(panel.frame), step)} the person trained and the load "
            f"({panel.study.load.measure}) is left unknown, never smaller. A number that it needs was not "
            "recorded or was set aside."
        )
    undated, people, nobody = unplaced(caseload)
    if undated:
        out.append(
            f"The date of {plural(undated, 'row')} of {plural(people, 'person', 'people')} cannot be read. "
            f"Which {step} {'it belongs' if undated == 1 else 'they belong'} to is not known, and its load "
            "may be smaller than it was."
        )
    if nobody:
        whose = "does not say whose it is" if nobody == 1 else "do not say whose they are"
        out.append(f"{plural(nobody, 'row')} {whose}, so anybody's load may be smaller than it was.")
    return out


def sentences(caseload: Caseload, panel: Panel) -> Iterator[str]:
    """What is asked, where that is more than one question, and what is known of the steps; at least one."""
    yield from filter(None, (questions_sentence(panel.study),))
    yield from (states_sentence(panel), known_sentence(panel), *lost_sentences(caseload, panel))
    if told := events_sentence(panel):
        yield told


def events_sentence(panel: Panel) -> str:
    """Kinds of events with how many people have one inside their record, and kinds of the plan that nobody
    has; empty where there is neither."""
    found = people_with(panel)
    enough = [f"{heading(kind)} ({n})" for kind, n in found.items() if n >= PICTURE]
    few = [f"{heading(kind)} ({n})" for kind, n in found.items() if n < PICTURE]
    absent = [heading(kind) for kind in panel.study.events.named if kind not in found]
    told = [
        f"What followed an event can be asked. People with one: {listed(enough)}." if enough else "",
        f"Too few people for an estimate: {listed(few)}." if few else "",
        f"The plan asks what followed {listed(absent)}, and nobody has such an event in the record."
        if absent
        else "",
    ]
    return " ".join(filter(None, told))

"""Figures of single people: what is known of whom, their courses, and everybody's at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lagwise.core.numbers import people_said, plural, whole
from lagwise.core.words import capital
from lagwise.findings import Findings, PersonSeries, PictureFacts, Table, rows_of
from lagwise.findings.facts import PANELS_AT_MOST
from lagwise.say.report.words import Words

PER_PAGE = 48
"""People whose panels one figure holds."""


def coverage(findings: Findings, words: Words) -> PictureFacts:
    """A cell for every step of every person: trained, rest or unknown, and whether it was rated."""
    rows = []
    order = sorted(findings.people, key=lambda p: (-len(p), p.person))
    for one in order:
        rows += [
            (one.person, i, {"t": "trained", "r": "rest", "u": "unknown"}[s], n)
            for i, (s, n) in enumerate(zip(one.state, one.ratings, strict=True))
        ]
    people, steps = findings.count("people"), findings.count("steps")
    rated, load = findings.rated("steps"), findings.numbers["load_steps"]
    known = f"training is known in {whole(load.value)}" if load.value else "no load is known"
    rated_in = f"{whole(rated.value)} of {plural(steps, f'person-{words.step}')}"
    who = "one person" if people == 1 else f"each of {whole(people)} people"
    told = f"{words.asked} is rated in {whole(rated.value)}, and {known}"
    title = f"{capital(words.asked)} was rated in {rated_in}, and {known}"
    if not words.rated:
        told, title = known, f"{capital(known)} of {plural(steps, f'person-{words.step}')}"
    return PictureFacts(
        kind="coverage",
        title=title,
        data=Table(columns=("person", "step", "state", "ratings"), rows=tuple(rows), made_by="build_panel"),
        x=f"{words.step} of the person's own record",
        y="person",
        alt=(
            f"Grid with one row for {who} and one cell for each "
            f"{words.step} of their record, {whole(steps)} cells in all; {told}."
        ),
        options={
            "subtitle": f"{people_said(people)}, longest record first; each row starts at the "
            "person's first record",
            "rated": f"{words.asked} rated" if words.rated else "",
        },
    )


def panelled(findings: Findings) -> Sequence[PersonSeries]:
    """People who have a panel of their own."""
    people, n = findings.people, len(findings.people)
    return people if n <= PANELS_AT_MOST else [people[i * n // PANELS_AT_MOST] for i in range(PANELS_AT_MOST)]


def trajectories(findings: Findings, words: Words, among: Sequence[PersonSeries], start: int) -> PictureFacts:
    """A page of small panels, one for each person: the outcome over load."""
    shown = among[start : start + PER_PAGE]
    rows = []
    for one in shown:
        top = max((v for v in one.load if v is not None), default=0.0)
        for i in range(len(one)):
            load = one.load[i]
            share = None if load is None else load / top if top > 0 else 0.0
            told = one.reported[i] if words.of_pain else None  # of a flare-up of pain
            rows.append((one.person, i, one.pain[i], load, share, one.flare[i], told))
    onsets = sum(sum(p.flare) for p in shown)
    words_said = sum(sum(bool(v) for v in p.reported) for p in shown)
    bars, own = words.has_load, words.own_word
    n, of, (low, high) = len(shown), len(findings.people), words.axis
    if not words.rated:
        return _loads(words, rows, n, f"{start + 1} to {start + n} of {of}" if n < of else "")
    over = f" over bars of that {words.step}'s load as a share of the person's own highest" if bars else ""
    marked = f" and {whole(words_said)} by the person's own word" if own else ""
    marked += " are" if own or onsets != 1 else " is"
    which = "" if n == of else f" (people {start + 1} to {start + n} of {of})"
    if len(among) < of:
        which = f" ({n} of {of} people)"
    return PictureFacts(
        kind="trajectories",
        title=f"Each person's {words.asked}{' and load' if bars else ''}, {words.step} by "
        f"{words.step}{which}",
        data=Table(
            columns=("person", "step", "pain", "load", "load_share", "flare", "reported"),
            rows=tuple(rows),
            made_by="build_panel",
        ),
        x=f"{words.step} of the person's own record",
        y=f"{words.asked}, {words.unit} ({low:g}-{high:g})",
        alt=(
            f"Small panels for {people_said(n)}: {words.asked} from {low:g} to {high:g} as a "
            f"line{over}; {plural(onsets, words.turn, words.turns)} {words.by}{marked} marked."
        ),
        options={
            **words.drawn,
            "load": f"load, share of own highest {words.step}" if bars else "",
            "subtitle": f"{people_said(n)}; gaps in the line are {words.steps} without a "
            "rating" + ("; a sliver at the foot is rest, no bar at all is unknown" if bars else ""),
        },
    )


def _loads(words: Words, rows: Sequence[tuple[Any, ...]], people: int, which: str) -> PictureFacts:
    """Each person's load, where what is asked about was never rated."""
    who = people_said(people)
    return PictureFacts(
        kind="trajectories",
        title=f"Each person's load, {words.step} by {words.step}{f' (people {which})' if which else ''}",
        data=Table(
            columns=("person", "step", "pain", "load", "load_share", "flare", "reported"),
            rows=tuple(rows),
            made_by="build_panel",
        ),
        x=f"{words.step} of the person's own record",
        y="load, % of own highest",
        alt=(
            f"Small panels for {who}: bars of each {words.step}'s load as a share of the person's "
            "own highest."
        ),
        options={
            "asked": "",
            "low": 0.0,
            "high": 100.0,
            "unit": "%",
            "turn": "",
            "own_word": "",
            "load": f"load ({words.measure}), share of own highest {words.step}",
            "subtitle": f"{who}; a sliver at the foot is rest, no bar at all is unknown",
        },
    )


def pain_map(findings: Findings, words: Words) -> PictureFacts:
    """Everybody's ratings, people in the order of their mean where the findings hold it."""
    mean = {r["person"]: r.get(f"mean_{words.outcome.name}") for r in rows_of(findings, "people")}
    order = sorted(
        findings.people, key=lambda p: (mean.get(p.person) is None, mean.get(p.person) or 0.0, p.person)
    )
    ordered = "the one with the lowest mean first" if mean else "in the order of their codes"
    rows = tuple((p.person, i, p.pain[i], p.flare[i]) for p in order for i in range(len(p)))
    people, rated = findings.count("people"), findings.rated("steps").value
    onsets = sum(sum(p.flare) for p in order)
    return PictureFacts(
        kind="pain_map",
        title=f"Everybody's {words.asked}, {words.step} by {words.step}",
        data=Table(
            columns=("person", "step", "pain", "flare"),
            rows=rows,
            units={"pain": words.unit},
            made_by="build_panel",
        ),
        x=f"{words.step} of the person's own record",
        y="people",
        alt=(
            f"Grid with one row for each of {people_said(people)} and one cell for each of "
            f"{whole(rated)} rated person-{words.steps}, the darker the more {words.asked}; "
            f"{plural(onsets, words.turn, words.turns)} {words.by} {'is' if onsets == 1 else 'are'} marked."
        ),
        options={
            **words.drawn,
            "subtitle": f"{people_said(people)}, {ordered}; this ranks nobody",
        },
    )

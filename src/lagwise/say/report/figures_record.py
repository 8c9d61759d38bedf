"""Figures of the record: the flow from recorded to analysed, and what was recorded when."""

from __future__ import annotations

import datetime as dt
from typing import Any

from lagwise.core.numbers import people_said, plural, whole
from lagwise.core.words import capital, listed
from lagwise.findings import Findings, PictureFacts, Table, rows_of
from lagwise.say.changes.kinds import heading
from lagwise.say.report.words import Words

REASONS = {
    "last": "the last {step} of a record: nothing follows it",
    "outcome": "{outcome} {in} {then} not rated",
    "earlier": "earlier {outcome}, which is held equal, not rated",
    "load": "load not known",
    "usual": "too few earlier {steps} for a usual load",
    "exposure": "{exposure} not recorded",
    "others": "another exposure not known",
    "several": "other reasons",
}
"""Why steps are set aside."""
KINDS_UP_TO = 5
"""Kinds of events that have a mark of their own."""
BETWEEN, OTHER = "|", "*"
"""What stands between the events of one step, and for kinds without a mark of their own."""
MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]


def flow(findings: Findings, words: Words) -> PictureFacts | None:
    """From recorded to analysed, with the reason and the number at each loss."""
    records = rows_of(findings, "flow")
    if not records:
        return None
    first, last, step = records[0], records[-1], f"person-{words.step}"
    total, left = first["left_steps"], last["left_steps"]
    rows: list[tuple[Any, ...]] = [("recorded", "Recorded", None, total, first["left_people"])]
    for r in records[1:]:
        why = words.fill(REASONS[r["reason"]].replace("{then}", words.then))
        rows.append((r["reason"], why, r["n_steps"], r["left_steps"], r["left_people"]))
    rows.append(("left", "Left for the analysis", None, left, last["left_people"]))
    of = people_said(last["left_people"])
    told = [f"{plural(n, step)} for {why}" for _, why, n, *_ in rows if n is not None]
    aside = findings.number("rows_quarantined")
    before = (
        f"; {plural(aside, 'row')} of {whole(findings.number('rows_read'))} set aside on reading"
        if aside
        else ""
    )
    return PictureFacts(
        kind="flow",
        title=f"{whole(left)} of {plural(total, step)} of {of} carry the analysis",
        data=Table(
            columns=("stage", "label", "lost", "steps", "people"), rows=tuple(rows), made_by="models.flow"
        ),
        x="",
        y="",
        alt=f"From {plural(total, step)} of {people_said(first['left_people'])}, set aside: "
        f"{'; '.join(told) or 'none'}. Left for the analysis: {plural(left, step)} of {of}.",
        options={
            "subtitle": f"each {step} counts at the first reason that holds{before}",
            "step": step,
            "sizes": {
                "recorded": words.sizes(first["left_people"], total),
                "left": words.sizes(last["left_people"], left),
            },
            "losses": [plural(n, step) for _, _, n, *_ in rows if n is not None],
        },
    )  # fmt: skip


def timeline(findings: Findings, words: Words) -> PictureFacts | None:
    """When each person was recorded and rated and what changed, in dates; without single people what was
    recorded in each month.
    """
    return _of_people(findings, words) or _of_months(findings, words)


def _of_people(findings: Findings, words: Words) -> PictureFacts | None:
    dated = sorted((p for p in findings.people if p.began), key=lambda p: (p.began, -len(p), p.person))
    if not dated:
        return None
    days = int(findings.study.of("clock", "step_days"))
    many = sorted(rows_of(findings, "events"), key=lambda r: -(r["n_events"] or 0))
    kinds = [str(r["kind"]) for r in many]
    named = kinds if len(kinds) <= KINDS_UP_TO else kinds[: KINDS_UP_TO - 1]
    others = {OTHER: "other events"} if len(kinds) > len(named) else {}
    rows: list[tuple[Any, ...]] = []
    events = False
    for one in dated:
        began = dt.date.fromisoformat(one.began[:10])
        of: dict[int, list[str]] = {}
        for event in one.events:
            if 0 <= event.start < len(one):
                of.setdefault(event.start, []).append(event.kind if event.kind in named else OTHER)
                events = True
        for i, (state, rated) in enumerate(zip(one.state, one.ratings, strict=True)):
            date = (began + dt.timedelta(days=i * days)).isoformat()
            rows.append((one.person, date, _STATE[state], rated, BETWEEN.join(of.get(i, ()))))
    first, last = min(r[1] for r in rows), max(r[1] for r in rows)
    steps, some = plural(len(rows), f"person-{words.step}"), whole(findings.rated("steps").value)
    told = f"{capital(words.asked)} rated in {some} of {steps}" if words.rated else f"{steps} recorded"
    changed = ", with what changed" if events else ""
    shapes = f" and a shape where something changed ({listed([heading(k) for k in kinds])})" if events else ""
    return PictureFacts(
        kind="timeline",
        title=f"{told}, {_month(first)} to {_month(last)}{changed}",
        data=Table(
            columns=("person", "date", "state", "ratings", "events"), rows=tuple(rows), made_by="build_panel"
        ),
        x="calendar date",
        y="people",
        alt=f"One row for each of {people_said(len(dated))}, from {_month(first)} to {_month(last)}: a cell "
        f"for each {words.step}{', trained, rest or unknown' if words.has_load else ''}, with a mark where "
        f"{words.asked} is rated{shapes}.",
        options={
            "subtitle": f"{people_said(len(dated))}, by the date of the first record",
            "days": days,
            "rated": f"{words.asked} rated" if words.rated else "",
            "unknown": "" if words.has_load else f"a {words.step} of the record",
            "kinds": {k: heading(k) for k in named} | others,
        },
    )  # fmt: skip


_STATE = {"t": "trained", "r": "rest", "u": "unknown"}


def _of_months(findings: Findings, words: Words) -> PictureFacts | None:
    records = rows_of(findings, "calendar")
    if not records:
        return None
    rated = [r for r in records if r.get("rated") is not None]
    first, last = _month(records[0]["month"]), _month(records[-1]["month"])
    rows = tuple((r["month"], r["n_steps"], r.get("rated"), r["n_people"]) for r in records)
    told = "; ".join(f"{_month(r['month'])} {whole(r['rated'])}" for r in rated)
    return PictureFacts(
        kind="months",
        title=f"Recorded from {first} to {last}",
        data=Table(
            columns=("month", "steps", "rated", "people"), rows=rows, made_by="describe.calendar_table"
        ),
        x="calendar month",
        y=f"person-{words.steps}",
        alt=f"Person-{words.steps} by month from {first} to {last}; with {words.asked} rated: "
        f"{told or 'none'}.",
        options={
            "subtitle": "rounded; months that fewer than 5 people were recorded in are left out",
            "steps": f"person-{words.steps}",
            "rated": f"with {words.asked} rated",
        },
    )


def _month(date: str) -> str:
    """'March 2024'."""
    return f"{MONTHS[int(date[5:7]) - 1]} {date[:4]}"

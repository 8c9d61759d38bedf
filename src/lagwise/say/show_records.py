"""How a caseload and a panel show themselves: as a card in a notebook, as a few lines at a prompt."""

from __future__ import annotations

import pandas as pd

from lagwise.core.columns import LOAD_MEASURES, STATES
from lagwise.core.numbers import UNKNOWN, fixed, known, plural, whole
from lagwise.core.results import Caseload, Panel
from lagwise.core.study import Study
from lagwise.core.terms import panel_units
from lagwise.core.variable import JUMP, WEEK
from lagwise.core.words import exposure_label, on
from lagwise.document.card import card, quiet, table
from lagwise.document.tree import Document, Grid

MOST = 8
"""Rows of a list of reasons or remarks that a card shows."""
HEAD = 5
"""Rows of the panel that a card shows."""
_Five = tuple[str, str, str, str, str]


def study_text(study: Study) -> str:
    """A few lines: the step, the load, and what is asked."""
    a, load, pain, asked = study.analysis, study.load, study.pain, study.outcome
    when = f"{on(study.step)} the {'next' if asked.lag else 'same'} {study.step}"
    usual = asked.variable.flares and asked.lag == 1
    summed = f"pain as {pain.summary}, " if "pain" in (asked.name, *a.exposures) else ""
    of = "" if usual else f"{asked.variable.label} {when}, {asked.span}, after "
    also = [f"{s.outcome.variable.label} after {s.analysis.primary}" for s in study.further]
    lines = (
        f"Study: {study.title}",
        f"one step is a {study.step}; load in {load.measure}, "
        f"usual over {load.usual_steps} {study.step}s; {summed}rated at the {pain.rated}",
        f"asks about {of}{', '.join(a.exposures)}; primary {a.primary} at {a.primary_contrast:+g}",
        *([f"asks also about {'; '.join(also)}"] if also else []),
        ".plan() holds every choice",
    )
    return "\n  ".join(lines)


def caseload_card(caseload: Caseload) -> Document:
    """Rows read, used and set aside, why, and what was noticed; no cell's content."""
    names = ("read", "used", "quarantined", "cells_quarantined")
    rows = [
        (r["table"], r["file"] or UNKNOWN, *(whole(r.get(name, 0)) for name in names))
        for r in caseload.counts.to_dict("records")
    ]
    columns = ("table", "file", "read", "used", "set aside", "cells set aside")
    all_of_it = (
        "Every cell set aside with its place and mend: .quarantine; every remark with its places: .remarks"
    )
    return card(
        f"Caseload: {caseload.study.title}",
        _caseload_lines(caseload),
        table("Rows: read = used + set aside", columns, rows, right=columns[2:]),
        _listed("Set aside, by reason", _reasons(caseload.quarantine), "reason", "rows or cells"),
        _listed("Noticed and kept", _noticed(caseload.remarks), "what", "times"),
        quiet(all_of_it),
    )


def caseload_text(caseload: Caseload) -> str:
    """A few lines: who, when, rows."""
    used = ", ".join(f"{r['table']} {whole(r['used'])}" for r in caseload.counts.to_dict("records"))
    lines = (f"Caseload: {caseload.study.title}", *_caseload_lines(caseload))
    return "\n  ".join([*lines, f"rows used: {used or 'none'}"])


def panel_card(panel: Panel) -> Document:
    """What is known of each measure, and the first rows without the person's code."""
    step, frame, asked = panel.study.step, panel.frame, panel.study.outcome
    steps, label = len(frame), asked.variable.label
    columns = ("measure", "unit", f"known {step}s", "share", "people", "median", "middle half")
    wanted = (
        "load",
        "usual",
        JUMP,
        "effort",
        *panel.study.analysis.exposures,
        asked.name,
        asked.later,
        "flare_next",
    )
    measures = [_measure(panel, name) for name in dict.fromkeys(wanted) if name in frame.columns]
    known_of = f"What is known, of {whole(steps)} person-{step}s"
    jump = "Load jump: log of the load over the person's own usual load; 0 is the usual load, 0.41 is +50 %."
    first = (step, "state", "load", "usual load", "load jump", "effort", label, f"{label} next {step}")
    places = {"load": 1, "usual": 1, JUMP: 2, "effort": 1, asked.name: 1, asked.later: 1}
    rows = [
        (str(int(r["step"]) + 1), r["state"], *(fixed(known(r[n]), at) for n, at in places.items()))
        for r in frame.head(HEAD).to_dict("records")
    ]
    begin = f"The first {min(HEAD, steps)} of {whole(steps)} rows"
    rest = f"And {plural(max(steps - HEAD, 0), 'row')} more, {len(frame.columns)} columns"
    rest += ", with the person's code: .frame; each person's completeness: .coverage()"
    if step == WEEK:
        whose = f"{plural(frame['person'].nunique(), 'person', 'people')}, week by week,"
    else:
        whose = "single people"
    return card(
        f"Panel: {panel.study.title}",
        _panel_lines(panel),
        table(known_of, columns, measures, right=columns[2:], note=jump),
        table(begin, first, rows, right=(first[0], *first[2:]), note=rest),
        quiet(f"Courses of {whose} are personal data even under a code."),
    )


def panel_text(panel: Panel) -> str:
    """A few lines: size, states, how much is complete."""
    size = f"{whole(len(panel.frame))} rows x {len(panel.frame.columns)} columns"
    lines = (f"Panel: {panel.study.title}", *_panel_lines(panel))
    return "\n  ".join([*lines, f".frame is {size}; also .coverage()"])


def _caseload_lines(caseload: Caseload) -> list[str]:
    study, counts = caseload.study, caseload.counts
    filled = [t for t in (caseload.sessions, caseload.checkins, caseload.weeks) if "person" in t and len(t)]
    people = {person for t in filled for person in t["person"].dropna()}
    dated = [t[c].dropna() for t in filled for c in ("date", WEEK) if c in t]
    days = pd.concat(dated) if dated else pd.Series(dtype="datetime64[ns]")
    when = f"{days.min():%Y-%m-%d} to {days.max():%Y-%m-%d}" if len(days) else "no dated record"
    aside, cells = (int(counts[n].sum()) if n in counts else 0 for n in ("quarantined", "cells_quarantined"))
    of_rows = f" and {plural(cells, 'cell')}" if cells else ""
    return [
        f"{plural(len(people), 'person', 'people')} with records, {when}; one step is a {study.step}; "
        f"load in {LOAD_MEASURES.get(study.load.measure, study.load.measure)}",
        f"{plural(aside, 'row')}{of_rows} set aside, {plural(len(caseload.remarks), 'remark')}",
    ]


def _reasons(quarantine: pd.DataFrame) -> list[_Five]:
    keys = ["table", "column", "code"]
    found = quarantine.groupby(keys, sort=False)["mend"].agg(["size", "first"]).reset_index()
    return [
        (r["table"], r["column"], r["code"].replace("_", " "), whole(r["size"]), r["first"])
        for r in found.sort_values("size", ascending=False).to_dict("records")
    ]


def _noticed(remarks: pd.DataFrame) -> list[_Five]:
    return [
        (r["table"], r["column"], r["meaning"], whole(r["count"]), r["mend"])
        for r in remarks.to_dict("records")
    ]


def _listed(title: str, rows: list[_Five], what: str, count: str) -> tuple[Grid, ...]:
    more = f"And {plural(len(rows) - MOST, 'kind')} more." if len(rows) > MOST else ""
    return table(title, ("table", "column", what, count, "mend"), rows[:MOST], right=(count,), note=more)


def _panel_lines(panel: Panel) -> list[str]:
    frame, study, asked = panel.frame, panel.study, panel.study.outcome
    primary, label = study.analysis.primary, asked.variable.label
    complete = int(frame[[primary, asked.name, asked.column]].notna().all(axis=1).sum())
    states = ", ".join(f"{whole(panel.states[s])} {s}" for s in STATES if s in panel.states)
    people, steps = plural(frame["person"].nunique(), "person", "people"), f"person-{study.step}"
    size = f"{people}, {plural(len(frame), steps)}"
    exposure, later = (
        exposure_label(primary, study.variables),
        f"{label} {on(study.step)} the next {study.step}",
    )
    needed = f"{exposure}, {label} and {later}" if asked.lag else f"{exposure} and {label}"
    return [
        f"{size}: {states}" if states else size,
        f"{needed} all known in {whole(complete)} of {whole(len(frame))}",
    ]


def _measure(panel: Panel, name: str) -> tuple[str, ...]:
    values, people, study = panel.frame[name], panel.frame["person"], panel.study
    there, rating = values.dropna().astype(float), study.outcome.variable.label
    load = LOAD_MEASURES.get(study.load.measure, study.load.measure)
    unit = load if name in ("load", "usual") else panel_units(study).get(name, "")
    label = {
        "usual": "usual load",
        "flare_next": f"flare-up begins {on(study.step)} the next {study.step}, by {rating}",
        study.outcome.later: f"{rating} {on(study.step)} the next {study.step}",
    }.get(name, exposure_label(name, study.variables))
    share = fixed(100 * len(there) / len(values), 0) + " %" if len(values) else UNKNOWN
    counts = (whole(len(there)), share, whole(people[values.notna()].nunique()))
    if name == "flare_next":
        return (label, "yes or no", *counts, f"{whole(int(there.sum()))} begin", UNKNOWN)
    places = 2 if name in (JUMP, "near_failure_share") else 1
    low, middle, high = (fixed(known(v), places) for v in there.quantile([0.25, 0.5, 0.75]))
    return (label, unit, *counts, middle, f"{low} to {high}")

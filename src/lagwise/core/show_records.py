"""How a caseload and a panel show themselves: as a card in a notebook, as a few lines at a prompt."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import pandas as pd

from lagwise.core.columns import LOAD_MEASURES, STATES
from lagwise.core.numbers import fixed, plural, whole
from lagwise.core.question import Outcome
from lagwise.core.table_html import UNKNOWN, card, known, quiet, table
from lagwise.core.terms import panel_terms
from lagwise.core.words import exposure_label

if TYPE_CHECKING:
    from lagwise.core.results import Caseload, Panel

MOST = 8
"""Rows of a list of reasons or remarks that a card shows."""
HEAD = 5
"""Rows of the panel that a card shows."""


def caseload_html(caseload: Caseload) -> str:
    """Rows read, used and set aside, why, and what was noticed; no cell's content."""
    counts = caseload.counts
    rows = [
        (
            r["table"],
            r["file"] or UNKNOWN,
            whole(r["read"]),
            whole(r["used"]),
            whole(r["quarantined"]),
            whole(r.get("cells_quarantined", 0)),
        )
        for r in counts.to_dict("records")
    ]
    parts = [
        table(
            "Rows: read = used + set aside",
            ("table", "file", "read", "used", "set aside", "cells set aside"),
            rows,
            right=("read", "used", "set aside", "cells set aside"),
        ),
        _listed("Set aside, by reason", _reasons(caseload.quarantine), "reason", "rows or cells"),
        _listed("Noticed and kept", _noticed(caseload.remarks), "what", "times"),
        quiet(
            "Every cell set aside with its place and mend: .quarantine; every remark with its places: .remarks"
        ),
    ]
    return card(f"Caseload: {caseload.study.title}", _caseload_lines(caseload), *parts)


def caseload_text(caseload: Caseload) -> str:
    """A few lines: who, when, rows."""
    tables = (
        ", ".join(f"{r['table']} {whole(r['used'])}" for r in caseload.counts.to_dict("records")) or "none"
    )
    return "\n  ".join(
        [f"Caseload: {caseload.study.title}", *_caseload_lines(caseload), f"rows used: {tables}"]
    )


def panel_html(panel: Panel) -> str:
    """What is known of each measure, and the first rows without the person's code."""
    step, frame = panel.study.step, panel.frame
    people, steps = frame["person"].nunique(), len(frame)
    columns = ("measure", "unit", f"known {step}s", "share", "people", "median", "middle half")
    label = panel.study.outcome.variable.label
    first = (f"{step}", "state", "load", "usual load", "load jump", "effort", label, f"{label} next {step}")
    parts = [
        table(
            f"What is known, of {whole(steps)} person-{step}s",
            columns,
            [_measure(panel, name) for name in _measures(panel)],
            right=columns[2:],
            note="Load jump: log of the load over the person's own usual load; 0 is the usual load, 0.41 is +50 %.",
        ),
        table(
            f"The first {min(HEAD, steps)} of {whole(steps)} rows",
            first,
            [_row(r, panel.study.outcome) for r in frame.head(HEAD).to_dict("records")],
            right=(first[0], *first[2:]),
            note=f"And {plural(max(steps - HEAD, 0), 'row')} more, {len(frame.columns)} columns, with the person's code: .frame; "
            "each person's completeness: .coverage()",
        ),
        quiet(f"Courses of {plural(people, 'person', 'people')}, week by week, are personal data even under a code."
              if step == "week" else "Courses of single people are personal data even under a code."),
    ]  # fmt: skip
    return card(f"Panel: {panel.study.title}", _panel_lines(panel), *parts)


def panel_text(panel: Panel) -> str:
    """A few lines: size, states, how much is complete."""
    size = f"{whole(len(panel.frame))} rows x {len(panel.frame.columns)} columns"
    return "\n  ".join(
        [f"Panel: {panel.study.title}", *_panel_lines(panel), f".frame is {size}; also .coverage()"]
    )


def _caseload_lines(caseload: Caseload) -> list[str]:
    study, tables = caseload.study, (caseload.sessions, caseload.checkins, caseload.weeks)
    people = pd.concat(
        [t["person"] for t in tables if "person" in t.columns and len(t)] or [pd.Series(dtype=object)]
    )
    days = pd.concat([t[c] for t in tables for c in ("date", "week") if c in t.columns and len(t)] or [pd.Series(dtype="datetime64[ns]")])  # fmt: skip
    step = study.step
    when = f"{days.min():%Y-%m-%d} to {days.max():%Y-%m-%d}" if days.notna().any() else "no dated record"
    aside, cells = (
        int(caseload.counts[n].sum()) if n in caseload.counts else 0
        for n in ("quarantined", "cells_quarantined")
    )
    remarks = len(caseload.remarks)
    return [
        f"{plural(people.nunique(), 'person', 'people')} with records, {when}; one step is a {step}; "
        f"load in {LOAD_MEASURES.get(study.load.measure, study.load.measure)}",
        f"{plural(aside, 'row')}{f' and {plural(cells, "cell")}' if cells else ''} set aside, {plural(remarks, 'remark')}",
    ]


def _reasons(quarantine: pd.DataFrame) -> list[tuple[str, str, str, str, str]]:
    if quarantine.empty:
        return []
    groups = quarantine.groupby(["table", "column", "code"], sort=False).size().sort_values(ascending=False)
    first = quarantine.drop_duplicates(["table", "column", "code"]).set_index(["table", "column", "code"])[
        "mend"
    ]
    return [
        (str(key[0]), str(key[1]), str(key[2]).replace("_", " "), whole(n), str(first.loc[key]))
        for key, n in groups.items()
        if isinstance(key, tuple)
    ]


def _noticed(remarks: pd.DataFrame) -> list[tuple[str, str, str, str, str]]:
    return [
        (str(r["table"]), str(r["column"]), str(r["meaning"]), whole(r["count"]), str(r["mend"]))
        for r in remarks.to_dict("records")
    ]


def _listed(title: str, rows: list[tuple[str, str, str, str, str]], what: str, count: str) -> str:
    more = f"And {plural(len(rows) - MOST, 'kind')} more." if len(rows) > MOST else ""
    return table(title, ("table", "column", what, count, "mend"), rows[:MOST], right=(count,), note=more)


def _panel_lines(panel: Panel) -> list[str]:
    frame, step, primary = panel.frame, panel.study.step, panel.study.analysis.primary
    asked = panel.study.outcome
    complete = frame[[primary, asked.name, asked.column]].notna().all(axis=1).sum()
    known_states = ", ".join(f"{whole(panel.states[s])} {s}" for s in STATES if s in panel.states)
    return [
        f"{plural(frame['person'].nunique(), 'person', 'people')}, {plural(len(frame), f'person-{step}')}"
        + (f": {known_states}" if known_states else ""),
        f"{_asked_of(panel)} all known in {whole(int(complete))} of {whole(len(frame))}",
    ]


def _measures(panel: Panel) -> Iterable[str]:
    asked = panel.study.outcome
    wanted = (
        "load", "usual", "jump", "effort", *panel.study.analysis.exposures, asked.name, asked.later, "flare_next"
    )  # fmt: skip
    return [name for name in dict.fromkeys(wanted) if name in panel.frame.columns]


def _measure(panel: Panel, name: str) -> tuple[str, ...]:
    values, people = panel.frame[name], panel.frame["person"]
    there = values.dropna().astype(float)
    load = LOAD_MEASURES.get(panel.study.load.measure, panel.study.load.measure)
    unit = load if name in ("load", "usual") else panel_terms(panel.study).get(name, ("", ""))[0]
    label = {
        "usual": "usual load",
        "flare_next": f"flare-up begins in the next {panel.study.step}, by {panel.study.outcome.variable.label}",
        panel.study.outcome.later: f"{panel.study.outcome.variable.label} in the next {panel.study.step}",
    }.get(name, exposure_label(name))
    share = fixed(100 * len(there) / len(values), 0) + " %" if len(values) else UNKNOWN
    shared = (label, unit, whole(len(there)), share, whole(people[values.notna()].nunique()))
    if name == "flare_next":
        return (*shared[:1], "yes or no", *shared[2:], f"{whole(int(there.sum()))} begin", UNKNOWN)
    low, middle, high = there.quantile([0.25, 0.5, 0.75])
    places = 2 if name in ("jump", "near_failure_share") else 1
    return (*shared, _short(middle, places), f"{_short(low, places)} to {_short(high, places)}")


def _asked_of(panel: Panel) -> str:
    """The exposure, the outcome and, at lag 1, the outcome of the next step, in words."""
    asked, exposure = panel.study.outcome, exposure_label(panel.study.analysis.primary)
    label = asked.variable.label
    return (
        f"{exposure}, {label} and {label} in the next {panel.study.step}"
        if asked.lag
        else f"{exposure} and {label}"
    )


def _row(row: dict, asked: Outcome) -> tuple[str, ...]:
    names = ("load", "usual", "jump", "effort", asked.name, asked.later)
    return (
        str(int(row["step"]) + 1),
        str(row["state"]),
        *(_short(row[n], 2 if n == "jump" else 1) for n in names),
    )


def _short(value: object, places: int = 1) -> str:
    return fixed(known(value), places)

"""What the command line prints about a caseload: plain tables on standard output."""

from __future__ import annotations

import pandas as pd
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from lagwise.core.results import Caseload, Panel
from lagwise.writeup.checker import Remark
from lagwise.writeup.findings import Findings
from lagwise.writeup.summary import summary

EXAMPLES = 5
NUMERIC = {"read", "used", "quarantined", "rows", "row", "count"}


def print_check(caseload: Caseload, panel: Panel, noticed: pd.DataFrame) -> bool:
    """Print what was read, set aside and noticed; True when no row was set aside.

    `noticed` is what `lagwise.caseload.check` found in the rows that are used.
    """
    console = Console(highlight=False)
    console.print(f"\n[bold]{escape(caseload.study.title)}[/bold]")
    _table(console, caseload.counts, "Rows: read = used + set aside")
    if len(caseload.quarantine):
        _quarantine(console, caseload.quarantine)
    _steps(console, panel)
    for remark in caseload.remarks.to_dict("records"):
        _remark(console, remark, ("examples", "meaning", "mend"))
    for finding in noticed.to_dict("records"):
        _remark(console, finding, ("what", "where", "why", "mend"))
    clean = caseload.quarantine.empty
    console.print(
        "\nNo row was set aside." if clean else f"\n{_n(len(caseload.quarantine), 'row')} set aside; the rest is used."
    )
    return clean


def print_answer(findings: Findings) -> None:
    """Print the title and the opening paragraphs of a case series."""
    console = Console(highlight=False)
    console.print(f"\n[bold]{escape(findings.study.title)}[/bold]")
    for paragraph in summary(findings):
        console.print("\n" + escape("".join(span.text for span in paragraph.spans)))


def print_risk(risk: pd.DataFrame) -> None:
    """Print what could still be recognised in a de-identified caseload."""
    _table(Console(highlight=False), risk, "What could still be recognised")


def print_wording(remarks: list[Remark]) -> bool:
    """Print the remarks on a draft; True when there are none."""
    console = Console(highlight=False)
    for remark in remarks:
        console.print(f"\n[bold]{escape(remark.words)}[/bold]: {escape(remark.rule)}")
        console.print(f"  {escape(remark.sentence)}\n  {escape(remark.why)}", style="dim")
        if remark.rewrite:
            console.print(f"  Could be said: {escape(remark.rewrite)}")
    console.print(
        "Nothing found; the rules miss what is said in other words."
        if not remarks
        else f"\n{_n(len(remarks), 'remark')}."
    )
    return not remarks


def _table(console: Console, frame: pd.DataFrame, title: str) -> None:
    table = Table(title=title, title_justify="left", title_style="", box=SIMPLE_HEAD, pad_edge=False)
    for name in frame.columns:
        table.add_column(str(name).replace("_", " "), justify="right" if name in NUMERIC else "left", overflow="fold")
    for row in frame.itertuples(index=False):
        table.add_row(*(escape("" if pd.isna(value) else str(value)) for value in row))
    console.print(table)


def _quarantine(console: Console, quarantine: pd.DataFrame) -> None:
    grouped = quarantine.groupby(["table", "column", "code"], sort=False, dropna=False)
    rows = [
        {
            "table": table,
            "column": column,
            "reason": str(code).replace("_", " "),
            "rows": len(group),
            "first": ", ".join(f"row {r}: {str(v)[:24]!r}" for r, v in zip(group["row"][:EXAMPLES], group["value"][:EXAMPLES], strict=True)),
            "mend": group["mend"].iloc[0],
        }
        for (table, column, code), group in grouped
    ]  # fmt: skip
    _table(console, pd.DataFrame(rows), "Set aside, by reason")


def _steps(console: Console, panel: Panel) -> None:
    states, people = panel.states, panel.coverage()
    changed = states["would_change_under_other_reading"]
    console.print(
        f"Steps: {len(panel.frame)} of {_n(len(people), 'person', 'people')}: {states['trained']} trained, {states['rest']} rest, "
        f"{states['unknown']} unknown. {_n(changed, 'step')} would change under the other reading of no_sessions_means."
    )
    console.print(
        f"Steps with pain: {int(people['pain'].sum())}; with known load: {int(people['load'].sum())}; "
        f"complete for the question about load: {int(people['complete'].sum())} "
        f"in {_n(int((people['complete'] > 0).sum()), 'person', 'people')}."
    )


def _remark(console: Console, remark: dict, keys: tuple[str, ...]) -> None:
    place = " ".join(str(remark[k]) for k in ("table", "column") if _said(remark.get(k)))
    head = f"{place}: " if place else ""
    code = str(remark["code"]).replace("_", " ")
    console.print(f"\n- [bold]{escape(head)}{escape(code)}[/bold] ({_n(int(remark['count']), 'time')})")
    for key in keys:
        if _said(remark.get(key)):
            console.print(f"  {escape(str(remark[key]))}")


def _said(value: object) -> bool:
    return value is not None and not (isinstance(value, float) and pd.isna(value)) and str(value) != ""


def _n(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"

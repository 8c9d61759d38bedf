"""What the command line prints about a caseload: plain tables on standard output."""

from __future__ import annotations

from operator import gt

import pandas as pd
from rich import markup
from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console
from rich.padding import Padding
from rich.table import Table

from lagwise.caseload.risk import Risk, percent
from lagwise.caseload.risk_page import sentences as risk_sentences
from lagwise.core.numbers import count
from lagwise.core.results import Caseload, Panel
from lagwise.core.words import capital
from lagwise.document.settle import settle
from lagwise.pages import check_parts as parts
from lagwise.pages.plan_page import ANSWERS, RECORDS, RHYTHMS, TEXT, answers, records, rhythms
from lagwise.say.plan import Plan, question
from lagwise.suite import Suite
from lagwise.suite.index import STATES, said, took
from lagwise.writeup.checker import Remark
from lagwise.writeup.findings import Findings
from lagwise.writeup.summary import summary

NUMERIC = {
    "read",
    "used",
    "set aside",
    "repairs",
    "rows",
    "cells",
    "times",
    "count",
    "cells read",
    "cells used",
    "cells set aside",
}


def escape(text: str) -> str:
    """A text for the terminal: on one line, without control and direction marks, and nothing in it read as markup."""
    return markup.escape(settle(text))


def print_check(caseload: Caseload, panel: Panel, noticed: pd.DataFrame) -> bool:
    """Print what was read, repaired, set aside and noticed; True when no row and no cell was set aside.

    `noticed` is what `lagwise.caseload.check` found in the rows that are used.
    """
    console = Console(highlight=False)
    console.print(f"\n[bold]{escape(caseload.study.title)}[/bold]")
    counts = parts.row_counts(caseload).drop(columns=["cells read", "cells used"], errors="ignore")
    _table(console, counts, "Rows: read = used + set aside; cells set aside are of rows that are used")
    if len(caseload.quarantine):
        reasons = parts.set_aside(caseload.quarantine)
        _table(console, reasons.drop(columns="mend"), "Set aside, by reason")
        for (table, reason, mend), rows in reasons.groupby(["table", "reason", "mend"], sort=False):
            place = ", ".join(filter(None, (str(table), *rows["column"])))
            console.print(Padding(f"[bold]{escape(place)}: {escape(str(reason))}.[/bold] {escape(str(mend))}", (0, 0, 0, 2)))  # fmt: skip
        console.print()
    sentences = (
        parts.states_sentence(panel),
        parts.known_sentence(panel),
        *parts.lost_sentences(caseload, panel),
    )
    for sentence in filter(None, (*sentences, parts.ratings_sentence(panel))):
        console.print(escape(sentence))
    made = parts.repairs(caseload)
    if len(made):
        console.print()
        _table(
            console,
            made.drop(columns="done"),
            "Repairs; NAME = false under [repair] in study.toml sets such cells aside",
        )
    for matter in parts.matters(caseload, noticed):
        _matter(console, matter)
    aside = parts.aside_sentence(caseload)
    console.print(f"\n{aside}; the rest is used." if aside else "\nNo row and no cell was set aside.")
    return not aside


def print_answer(findings: Findings) -> None:
    """Print the title and the opening paragraphs of a case series."""
    console = Console(highlight=False)
    console.print(f"\n[bold]{escape(findings.study.title)}[/bold]")
    for paragraph in summary(findings):
        console.print("\n" + escape("".join(span.text for span in paragraph.spans)))


def print_pages(findings: Findings) -> None:
    """Print the pages made for single people, each with its reading grade."""
    from lagwise.writeup.person import grade, page, page_name

    codes = [p.person for p in findings.people]
    for code in findings.for_person:
        level = grade(page(findings, code))
        Console(highlight=False, soft_wrap=True).print(
            escape(
                f"Page for one person, private: {page_name(code, codes)}.html (reading grade {level:.1f}, Flesch-Kincaid)"
            )
        )


def print_risk(risk: Risk) -> None:
    """Print what tells most of a person in a de-identified caseload, and what lowers it."""
    console = Console(highlight=False)
    worst = risk.worst(3)
    console.print("[bold]What could still be recognised[/bold]")
    for text in risk_sentences(worst):
        console.print(Padding(escape(text), (0, 0, 0, 2)))
    rows = [(option or name, *map(percent, shares)) for name, option, shares in worst.copies()]
    short = [one.kind.short for one in worst.headlines()]
    _table(
        console,
        pd.DataFrame(rows, columns=["copy", *short]),
        "What lowers it: of 100 such cases, those that fit one person only",
    )


def print_plan(plan: Plan) -> None:
    """Print what a record of each size would be able to tell, how to read it, and what was assumed."""
    console = Console(highlight=False)
    console.print(f"\n[bold]{escape(plan.study.title)}[/bold]\n{escape(capital(question(plan.study)))}.\n")
    tables = [(answers(plan), ANSWERS), (records(plan), RECORDS)]
    for (head, rows), title in [*tables, (rhythms(plan), RHYTHMS)] if len(plan.ratings) else tables:
        shown = Table(title=title, title_justify="left", title_style="", box=SIMPLE_HEAD, pad_edge=False)
        for name in head:
            shown.add_column(
                name, justify="left" if name in TEXT else "right", no_wrap=name in ("gate", "flare-ups")
            )
        for row in rows:
            shown.add_row(*map(escape, row))
        console.print(shown)
    for heading, sentences in (
        ("Weekly or daily ratings", plan.rhythm),
        ("How to read this", plan.notes),
        ("What was assumed", plan.assumed),
    ):
        console.print(f"[bold]{heading}[/bold]")
        for sentence in sentences:
            console.print(Padding(escape(sentence), (0, 0, 0, 2)))
        console.print()


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
        else f"\n{count(len(remarks), 'remark')}."
    )
    return not remarks


def print_suite(suite: Suite) -> None:
    """Print how each notebook ended, and why where it did not end as it should."""
    console = Console(highlight=False)
    console.print(f"\n{said(suite.ran)}")
    for ran in suite.ran:
        console.print(
            f"\n[bold]{ran.source.name}[/bold] {STATES[ran.outcome.status].lower()}, {took(ran.seconds)}"
        )
        for text in (ran.outcome.why, *(f"Not shown: {why}" for why in ran.outcome.left_out)):
            if text:
                console.print(Padding(escape(text), (0, 0, 0, 2)))


def _table(console: Console, frame: pd.DataFrame, title: str) -> None:
    heads = [str(name).replace("_", " ") for name in frame.columns]
    rows = [[settle("" if pd.isna(v) else str(v)) for v in row] for row in frame.itertuples(index=False)]
    table = Table(title=escape(title), title_justify="left", title_style="", box=SIMPLE_HEAD, pad_edge=False)
    widths = _widths([heads, *rows], console.width - 3 * len(heads) + 1)
    for name, head, width in zip(frame.columns, heads, widths, strict=True):
        table.add_column(head, justify="right" if name in NUMERIC else "left", overflow="fold", width=width)
    for row in rows:
        table.add_row(*map(markup.escape, row))
    console.print(table)


def _widths(rows: list[list[str]], room: int) -> list[int]:
    """A width for each column, in all at most `room`: as wide as its longest word, the rest of the room to those that want more.

    Where even the longest words do not fit, the longest of them are broken.
    """
    columns = list(zip(*rows, strict=True))
    least = [
        max([cell_len(word) for cell in column for word in cell.split()], default=1) for column in columns
    ]
    while sum(least) > room and max(least) > 1:
        least[least.index(max(least))] -= 1
    wanted = [max(map(cell_len, column)) for column in columns]
    while sum(least) < room and any(map(gt, wanted, least)):
        narrow = min((i for i in range(len(least)) if wanted[i] > least[i]), key=lambda i: least[i])
        least[narrow] += 1
    return least


def _matter(console: Console, matter: parts.Matter) -> None:
    head = f"{escape(matter.place)}: " if matter.place else ""
    often = f" ({count(matter.count, 'time')})"
    console.print(f"\n[bold]{head}{escape(matter.what)}[/bold]{often}")
    for label, text in (("Where", matter.examples), ("Why it matters", matter.why), ("Mend", matter.mend)):
        if text:
            console.print(Padding(f"{label}: {escape(text)}", (0, 0, 0, 2)))

"""The first page of an executed suite: each notebook with its question, how it ended and how long it took."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from lagwise.suite.outcome import DONE, FAILED, FAULT, STOPPED, Outcome
from lagwise.suite.page import stylesheet
from lagwise.suite.sources import Source

STATES = {DONE: "Done", STOPPED: "Stopped where the data do not allow it", FAILED: "Failed"}
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


@dataclass(frozen=True)
class Ran:
    """One notebook of a run: what it is, how it ended, how long it took, and whether there is a page of it."""

    source: Source
    outcome: Outcome
    seconds: float
    shown: bool


def index_page(title: str, ran: Sequence[Ran], documents: Sequence[str]) -> str:
    """HTML of index.html.

    Parameters
    ----------
    title : str
        The caseload's own.
    ran : sequence of Ran
    documents : sequence of str
        Case series that notebooks wrote, as paths from the page.
    """
    heading = f"Notebooks: {title}"
    written = "".join(f'<li><a href="{escape(d, quote=True)}">{escape(d)}</a></li>' for d in documents)
    body = (
        f"<h1>{escape(heading)}</h1>\n"
        f'<p class="lead">{escape(said(ran))}</p>\n'
        '<p class="note">Private: the pages may show codes, courses and values of single people. Keep this folder with the data. '
        "They describe groups; they advise nobody and do not replace licensed care.</p>\n"
        f'<ol class="suite">\n{"".join(_entry(r) for r in ran)}</ol>\n'
        + (f"<h2>Written by the notebooks</h2>\n<ul>{written}</ul>\n" if written else "")
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n<title>{escape(heading)}</title>\n'
        f"<style>\n{stylesheet()}</style>\n</head>\n<body>\n"
        f'<a class="skip" href="#main">Skip to the text</a>\n<main id="main">\n{body}</main>\n</body>\n</html>\n'
    )


def said(ran: Sequence[Ran]) -> str:
    """How the notebooks ended, in a sentence or two."""
    count = {state: sum(r.outcome.status == state for r in ran) for state in STATES}
    words = f"{count[DONE]} of {len(ran)} notebooks ran to the end."
    if count[STOPPED]:
        words += f" {count[STOPPED]} stopped where the data do not allow it; each says why."
    if count[FAILED]:
        words += f" {count[FAILED]} failed."
    return words


def took(seconds: float) -> str:
    """A duration in words, to the second or the minute."""
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"


def _entry(ran: Ran) -> str:
    name, end = ran.source.name, ran.outcome
    number = name.partition("_")[0]
    title = f"{number} · {ran.source.title}"
    head = f'<a href="{name}.html">{escape(title)}</a>' if ran.shown else escape(title)
    files = f' · <a href="{name}.ipynb">notebook file</a>' if ran.shown else ""
    why = f"{end.why} {FAULT}" if end.status == FAILED else end.why
    parts = "".join(f"<li>{escape(text)}</li>" for text in end.left_out)
    return (
        f"<li><h2>{head}</h2>\n<p>{escape(ran.source.question)}</p>\n"
        f'<p class="state">{STATES[end.status]} · {took(ran.seconds)}{files}</p>\n'
        + (f'<p class="why">{escape(why)}</p>\n' if why else "")
        + (
            f'<p class="state">Not shown in it for this folder:</p>\n<ul class="state">{parts}</ul>\n'
            if parts
            else ""
        )
        + "</li>\n"
    )

"""The first page of an executed suite: each notebook with its question, how it ended and how long it took."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lagwise.core.words import capital
from lagwise.document.html import render_html
from lagwise.document.settle import settled
from lagwise.document.tree import Block, Box, Document, Heading, Span, bullets, inline, para, strong
from lagwise.say.notebooks import STATES, TEXTS, ended
from lagwise.suite.outcome import FAILED, Outcome
from lagwise.suite.sources import Source

POLICY = (
    '<meta http-equiv="Content-Security-Policy" '
    "content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">"
)


@dataclass(frozen=True)
class Ran:
    """One notebook of a run: what it is, how it ended, how long it took, whether there is a page of it."""

    source: Source
    outcome: Outcome
    seconds: float
    shown: bool


def index_page(title: str, ran: Sequence[Ran], documents: Sequence[str], note: str = "") -> str:
    """HTML of index.html.

    Parameters
    ----------
    title : str
        The caseload's own.
    ran : sequence of Ran
    documents : sequence of str
        Case series that notebooks wrote, as paths from the page.
    note : str
        What has to be read otherwise in the questions of the notebooks for this folder; may be empty.
    """
    heading = f"Notebooks: {title}"
    blocks: list[Block] = [
        Heading(1, heading, "title"),
        para(said(ran), role="lead"),
        para(TEXTS["private"], role="note"),
    ]
    blocks += [para(note)] if note else []
    blocks += [block for one in ran for block in _entry(one)]
    if documents:
        written = bullets(*(inline(Span(path, "file", path)) for path in documents))
        blocks += [Heading(2, TEXTS["written"], "written"), written]
    return render_html(settled(Document(heading, tuple(blocks))), {}, head=POLICY, numbered=False)


def _entry(ran: Ran) -> Iterator[Block]:
    name, end = ran.source.name, ran.outcome
    yield Heading(2, f"{name.partition('_')[0]} · {ran.source.title}", name)
    yield para(ran.source.question)
    state = f"{STATES[end.status]} · {took(ran.seconds)}"
    files = (f"{name}.html", f"{name}.ipynb") if ran.shown else ()
    links = [part for file in files for part in (" · ", Span(file, "file", file))]
    yield para(strong(state), *links)
    if end.why:
        why = f"{end.why} {TEXTS['fault']}" if end.status == FAILED else end.why
        yield Box("Why", (para(capital(why)),))
    if end.left_out:
        yield para(TEXTS["not_shown_in_it"], role="note")
        yield bullets(*map(capital, end.left_out))


def said(ran: Sequence[Ran]) -> str:
    """How the notebooks ended, in a sentence or two."""
    return ended({state: sum(r.outcome.status == state for r in ran) for state in STATES})


def took(seconds: float) -> str:
    """A duration in words, to the second or the minute."""
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"

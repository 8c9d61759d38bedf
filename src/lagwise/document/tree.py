"""The content tree: what a document says, before any file format."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal


@dataclass(frozen=True)
class Span:
    """A run of text; `blank` is for the author to fill, `link` points to the id of a heading or figure,
    `file` to a file beside the page. `source` says what a number was made by, on a page that can show it.
    """

    text: str
    kind: Literal["plain", "strong", "em", "code", "blank", "link", "file"] = "plain"
    target: str = ""
    source: str = ""


Paper = Literal["a4", "letter"]
Role = Literal["body", "lead", "finding", "note", "lines", "screen"]

Inline = tuple[Span, ...]


def inline(*parts: str | Span) -> Inline:
    """Strings and spans as one run of spans."""
    return tuple(Span(p) if isinstance(p, str) else p for p in parts)


def blank(prompt: str) -> Span:
    """A visible gap for what only the author can know."""
    return Span(prompt, "blank")


def strong(text: str) -> Span:
    """Emphasised text."""
    return Span(text, "strong")


def link(text: str, target: str) -> Span:
    """A link to an id inside the document."""
    return Span(text, "link", target)


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 is the title. A section's, of level 2, may leave its id to the list of sections."""

    level: int
    text: str
    id: str = ""


@dataclass(frozen=True)
class Para:
    """A paragraph; `role` lead is the summary, finding what a section found, note small print, lines text to
    copy, one span a line, and screen what only a page needs. A `source` says what its numbers were made by:
    it goes along when the sentence is copied.
    """

    spans: Inline
    role: Role = "body"
    source: str = ""


@dataclass(frozen=True)
class Bullets:
    """A list, numbered when the order carries meaning."""

    items: tuple[Inline, ...]


@dataclass(frozen=True)
class Grid:
    """A table: `head` names the columns, the first cell of a row is its header, `numeric` columns align
    right.

    `groups` gives each row a heading, which is shown over the first of several rows that share it. `sourced`
    is its caption and its note again as spans whose numbers have sources, on a page that can show them.
    """

    id: str
    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Inline, ...], ...]
    numeric: frozenset[int] = frozenset()
    note: str = ""
    groups: tuple[str, ...] = ()
    sourced: tuple[Inline, ...] = ()

    @property
    def headed(self) -> tuple[tuple[Inline, ...], ...]:
        """Its rows where a table has one head alone: each heading of `groups` is a row of its own."""
        out: list[tuple[Inline, ...]] = []
        for at, row in enumerate(self.rows):
            if self.groups and (not at or self.groups[at] != self.groups[at - 1]):
                out.append((inline(strong(self.groups[at])), *[inline("")] * (len(self.head) - 1)))
            out.append(row)
        return tuple(out)


@dataclass(frozen=True)
class Figure:
    """A figure by the name of its files under figures/. `stays` keeps it by the paragraph before it;
    `sourced` is as in `Grid`."""

    name: str
    caption: str
    alt: str
    stays: bool = False
    sourced: tuple[Inline, ...] = ()


@dataclass(frozen=True)
class Box:
    """Blocks set apart: `care` for when to seek licensed care, `note` for remarks, `fold` for what opens on a
    click (a heading of level 2 first makes a section of it), `front` for the first screen, `door` for one of
    the ways on from there. On paper folds stand in the appendix.
    """

    title: str
    blocks: tuple[Para | Bullets | Grid | Figure | Heading | Box, ...]
    kind: Literal["care", "note", "fold", "front", "door"] = "note"
    id: str = ""


Block = Heading | Para | Bullets | Grid | Figure | Box


def folded(blocks: Iterable[Block]) -> list[Block]:
    """Blocks with what stands under each heading of level 3 as a fold of that title; what comes before the
    first stays as it is.
    """
    out: list[Block] = []
    inside: list[Any] | None = None
    title = Heading(3, "", "")
    for block in (*blocks, None):
        if block is None or (isinstance(block, Heading) and block.level == 3):
            if inside is not None:
                out.append(Box(title.text, tuple(inside), "fold", title.id))
            title, inside = (block, []) if isinstance(block, Heading) else (title, None)
        elif inside is None:
            out.append(block)
        else:
            inside.append(block)
    return out


def walk(blocks: Iterable[Block]) -> Iterator[Block]:
    """Every block in the order it is read, those in boxes after their box."""
    for block in blocks:
        yield block
        if isinstance(block, Box):
            yield from walk(block.blocks)


def told(document: Document) -> dict[str, list[Para]]:
    """The id of each heading and box -> the paragraphs that stand under it and under no other."""
    out: dict[str, list[Para]] = {}
    _tell(document.blocks, "", out)
    return {place: paragraphs for place, paragraphs in out.items() if place}


def _tell(blocks: Iterable[Block], place: str, out: dict[str, list[Para]]) -> None:
    for block in blocks:
        match block:
            case Heading():
                place = block.id
            case Box():
                _tell(block.blocks, block.id, out)
            case Para(role="body" | "lead" | "finding" | "note"):
                out.setdefault(place, []).append(block)


@dataclass(frozen=True)
class Document:
    """A whole write-up: its title, blocks in order, language, who may see it (at the head of each page), its
    paper, and what heads its list of contents on a page (none without it).
    """

    title: str
    blocks: tuple[Block, ...]
    language: str = "en"
    mark: str = ""
    paper: Paper = "a4"
    contents: str = ""


def para(*parts: str | Span, role: Role = "body", source: str = "") -> Para:
    """A paragraph of strings and spans."""
    return Para(inline(*parts), role, source)


def bullets(*items: str | Inline) -> Bullets:
    """A list of strings or runs of spans."""
    return Bullets(tuple(inline(i) if isinstance(i, str) else i for i in items))


def grid(
    id: str,
    caption: str,
    head: Sequence[str],
    rows: Sequence[Sequence[str | Span | Inline]],
    *,
    numeric: Collection[int] = (),
    note: str = "",
    groups: Sequence[str] = (),
) -> Grid:
    """A table of strings, spans or runs of spans."""
    cells = tuple(tuple(c if isinstance(c, tuple) else inline(c) for c in row) for row in rows)
    return Grid(id, caption, tuple(head), cells, frozenset(numeric), note, tuple(groups))


def grids(
    id: str, caption: str, head: Sequence[str], rows: Sequence[Sequence[str | Span | Inline]], **more: Any
) -> list[Grid]:
    """A table, as `grid` makes it, where there is a row to show; else none."""
    return [grid(id, caption, head, rows, **more)] if rows else []

"""Markdown of an author -> blocks of the content tree; what has no block of its own is refused, never
dropped.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import count
from typing import TYPE_CHECKING

from lagwise.core.errors import WriteUpError
from lagwise.document.tree import Block, Bullets, Grid, Heading, Inline, Para, Span
from lagwise.say.report.document import OWN_TABLE

if TYPE_CHECKING:
    from markdown_it.token import Token

MARKS = {"strong_open": "strong", "em_open": "em"}


def blocks_of(text: str, section: str) -> list[Block]:
    """Headings, paragraphs, lists of one level and tables; HTML is taken as text.

    Raises
    ------
    WriteUpError
        For pictures, nested lists, quotes and rules, with the line.
    """
    from markdown_it import MarkdownIt

    tokens = (
        MarkdownIt("commonmark", {"html": False})
        .enable("table")
        .disable(["html_block", "html_inline"])
        .parse(text)
    )
    return list(_blocks(tokens, section))


def _blocks(tokens: Sequence[Token], section: str) -> Iterator[Block]:
    at, number = 0, count(1)
    while at < len(tokens):
        token = tokens[at]
        end = _end(tokens, at)
        inside = tokens[at + 1 : end]
        match token.type:
            case "heading_open":
                spans = _inline(inside[0], section)
                words = "".join(span.text for span in spans)
                yield Heading(int(token.tag[1]), words, f"own-{section}-{next(number)}")
            case "paragraph_open":
                yield Para(_inline(inside[0], section))
            case "bullet_list_open" | "ordered_list_open":
                yield Bullets(tuple(_items(inside, section)))
            case "table_open":
                yield _table(inside, section, next(number))
            case "fence" | "code_block":
                yield Para((Span(token.content.strip(), "code"),))
            case _:
                raise _cannot(token.type, token, section)
        at = end + 1


def _end(tokens: Sequence[Token], start: int) -> int:
    """Where the block that opens at `start` closes."""
    if tokens[start].nesting != 1:
        return start
    level = tokens[start].level
    return next(
        i for i in range(start + 1, len(tokens)) if tokens[i].level == level and tokens[i].nesting == -1
    )


def _items(tokens: Sequence[Token], section: str) -> Iterator[Inline]:
    at = 0
    while at < len(tokens):
        end = _end(tokens, at)
        found = [t for t in tokens[at + 1 : end] if t.type not in ("paragraph_open", "paragraph_close")]
        if any(t.type != "inline" for t in found):
            raise _cannot("a list inside a list", tokens[at], section)
        yield tuple(
            span for i, t in enumerate(found) for span in (*((Span(" "),) if i else ()), *_inline(t, section))
        )
        at = end + 1


def _table(tokens: Sequence[Token], section: str, number: int) -> Grid:
    rows: list[list[Inline]] = []
    for token in tokens:
        if token.type == "tr_open":
            rows.append([])
        elif token.type == "inline":
            rows[-1].append(_inline(token, section))
    head = tuple("".join(span.text for span in cell) for cell in rows[0])
    return Grid(f"own-{section}-{number}", OWN_TABLE, head, tuple(tuple(row) for row in rows[1:]))


def _inline(token: Token, section: str) -> Inline:
    spans: list[Span] = []
    kinds: list[str] = []
    target = outside = ""
    for child in token.children or ():
        match child.type:
            case "text" | "text_special":
                if target:
                    spans.append(Span(child.content, "link", target))
                else:
                    spans.append(Span(child.content, kinds[-1] if kinds else "plain"))  # type: ignore[arg-type]
            case "code_inline":
                spans.append(Span(child.content, "code"))
            case "softbreak" | "hardbreak":
                spans.append(Span(" "))
            case "strong_open" | "em_open":
                kinds.append(MARKS[child.type])
            case "strong_close" | "em_close":
                kinds.pop()
            case "link_open":
                href = str(child.attrGet("href") or "")
                target, outside = (href[1:], "") if href.startswith("#") else ("", href)
            case "link_close":
                if not target and outside:
                    spans.append(Span(f" ({outside})"))
                target = ""
            case _:
                raise _cannot(child.type, token, section)
    return tuple(spans)


def _cannot(what: str, token: Token, section: str) -> WriteUpError:
    return WriteUpError(
        f"{what.removesuffix('_open')} cannot stand in a section of every format",
        where=f"{section}.md" + (f", line {token.map[0] + 1} of the filled text" if token.map else ""),
        mend="Use headings, paragraphs, lists of one level and tables; {{ figures }} puts the section's "
        "figures.",
    )

"""Cards of a notebook as trees: a title, a few lines, tables and what opens on a click."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from lagwise.document.tree import Block, Box, Document, Grid, Para, grid, para


def card(title: str, lines: Iterable[str], *parts: Iterable[Block]) -> Document:
    """A card: its title, lines of plain text, then its parts; empty lines are left out."""
    said = tuple(para(line) for line in lines if line)
    return Document(title, (*said, *(block for part in parts for block in part)))


def card_html(card: Document) -> str:
    """A card as HTML; what renders it is loaded only now."""
    from lagwise.document.html import render_card

    return render_card(card)


def quiet(*texts: str) -> tuple[Para, ...]:
    """Lines of lesser weight."""
    return tuple(para(text, role="note") for text in texts if text)


def fold(summary: str, *parts: Iterable[Para | Grid]) -> tuple[Box]:
    """Parts that open on a click."""
    return (Box(summary, tuple(block for part in parts for block in part), "fold"),)


def table(
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    right: Collection[str] = (),
    groups: Sequence[str] = (),
    note: str = "",
) -> tuple[Grid, ...]:
    """Rows of text as a table, none where there are no rows.

    `right` names the columns of numbers; `groups` gives each row its heading, and brings rows of one heading
    together.
    """
    if not rows:
        return ()
    numeric = [i for i, name in enumerate(columns) if name in right]
    places = {heading: i for i, heading in enumerate(dict.fromkeys(groups))}
    order = sorted(range(len(rows)), key=lambda i: places[groups[i]]) if groups else range(len(rows))
    shown, headings = [tuple(map(str, rows[i])) for i in order], [groups[i] for i in order] if groups else ()
    return (grid("", title, columns, shown, numeric=numeric, note=note, groups=headings),)

"""The content tree as PDF, laid out by Typst from plain data (so no text is ever read as markup)."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

from lagwise.core.errors import WriteUpError
from lagwise.document.html import numbers
from lagwise.document.settle import settle
from lagwise.document.tree import Block, Box, Bullets, Document, Figure, Grid, Heading, Inline, Para, Span
from lagwise.output import temporary
from lagwise.say.report.document import OF, SIGNS
from lagwise.writeup.glyphs import Typefaces, sure, texts_of, typefaces, with_texts
from lagwise.writeup.raster import view
from lagwise.writeup.widths import NARROWEST, PHONE, TALLEST, TOGETHER, widths

Node = dict[str, Any]

FIGURE_WIDTH, FIGURE_HEIGHT = 162.0, 195.0
"""Millimetres that a figure may take, so that it stands on one page with its caption."""
FLOATS_FROM = 150.0
"""Millimetres of height from which a figure would leave much of a page empty."""
PAPER = {"a4": "a4", "letter": "us-letter"}
LONG_WORD = 22
ROW_MAY_BREAK = 1500
"""Characters in one cell beyond which a table row may run over two pages."""
_LONG = re.compile(rf"\S{{{LONG_WORD}}}(?=\S)")
_FONTS = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSans-Oblique.ttf")


def render_pdf(document: Document, figures: Mapping[str, Mapping[str, bytes]], *, made_on: str) -> bytes:
    """A tagged PDF (PDF/UA-1) with bookmarks, captions and alternative texts; the same bytes for the same
    document.

    Parameters
    ----------
    document : Document
    figures : mapping of figure name to its files; the SVG is used
    made_on : ISO date kept as the document's date

    Raises
    ------
    WriteUpError
        When Typst cannot lay the document out.
    """
    tree = _tree(document, figures)
    texts = texts_of(tree)
    try:
        return _compiled(tree, figures, typefaces(texts), made_on)
    except WriteUpError:
        if all(t.isascii() for t in texts):
            raise
        return _compiled(tree, figures, sure(texts), made_on)


def _compiled(
    tree: Node, figures: Mapping[str, Mapping[str, bytes]], faces: Typefaces, made_on: str
) -> bytes:
    import typst

    if faces.numbered:
        note = {"kind": "paragraph", "role": "note", "spans": _spans((Span(SIGNS),)), "sticky": False}
        tree = tree | {"blocks": [*tree["blocks"][:1], note, *tree["blocks"][1:]]}
    tree = with_texts(tree, faces.shown) | {"typefaces": [family for family, _ in faces.added]}
    sources: Any = {  # in memory: only typefaces touch the disk
        "main.typ": (files("lagwise.writeup") / "templates" / "case-series.typ").read_bytes(),
        "document.json": json.dumps(tree).encode("utf-8"),
    }
    for file in {b["file"] for b in tree["blocks"] if b["kind"] == "figure"}:
        sources[file] = figures[file.removesuffix(".svg")]["svg"]
    with temporary() as home:
        made = datetime.fromisoformat(made_on).replace(tzinfo=UTC)
        try:
            return typst.compile(
                sources,
                font_paths=_fonts(home, faces),
                ignore_system_fonts=True,
                pdf_standards="ua-1",
                timestamp=made,
            )
        except (RuntimeError, OSError) as error:
            raise WriteUpError(
                "typst could not lay out the PDF",
                where="case-series.pdf",
                mend=str(error) or "Install typst again.",
            ) from error


def _fonts(home: Path, faces: Typefaces) -> list[Path]:
    """A folder with the figures' typeface, for signs that Typst's own text face lacks, and those that this
    text needs beyond it.
    """
    import matplotlib

    shelf = home / "fonts"
    shelf.mkdir()
    for name in _FONTS:
        (shelf / name).write_bytes((Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name).read_bytes())
    for at, (_, file) in enumerate(faces.added):
        (shelf / f"{at}{file.suffix}").write_bytes(file.read_bytes())
    return [shelf]


def _tree(document: Document, figures: Mapping[str, Mapping[str, bytes]]) -> Node:
    numbered = numbers(document)
    title = _text(document.title)
    return {
        "title": title,
        "running": title if len(title) <= 80 else title[:79].rstrip() + "\u2026",
        "description": OF,
        "language": document.language.partition("-")[0],
        "region": document.language.partition("-")[2] or None,
        "mark": document.mark,
        "paper": PAPER[document.paper],
        "blocks": [
            _laid(b, before, after, numbered, figures)
            for before, b, after in zip(
                (None, *document.blocks), document.blocks, (*document.blocks[1:], None), strict=False
            )
        ],
    }


def _laid(
    block: Block,
    before: Block | None,
    after: Block | None,
    numbered: Mapping[str, int],
    figures: Mapping[str, Mapping[str, bytes]],
) -> Node:
    """A block; a tall figure that no heading introduces may stand at the next head or foot of a page, text
    taking its place. One that stays keeps the paragraph before it on its page, as a section keeps its second
    paragraph with the first.
    """
    node = _block(block, numbered, figures)
    if isinstance(block, Figure):
        node["floats"] = node["height"] > FLOATS_FROM and not (block.stays or isinstance(before, Heading))
    if node["kind"] == "paragraph":
        opens = isinstance(before, Heading) and isinstance(after, Para)
        node["sticky"] = opens or (isinstance(after, Figure) and after.stays)
    return node


def _text(text: str) -> str:
    """Settled text whose very long words may break, as lines have no other place to."""
    return _LONG.sub("\\g<0>\u200b", settle(text))


def _spans(run: Inline) -> list[Node]:
    return [{"kind": s.kind, "text": _text(s.text), "target": s.target} for s in run]


def _block(block: Block, numbered: Mapping[str, int], figures: Mapping[str, Mapping[str, bytes]]) -> Node:
    match block:
        case Heading(level=1):
            return {"kind": "title", "text": _text(block.text)}
        case Heading():
            return {"kind": "heading", "level": block.level - 1, "text": _text(block.text), "id": block.id}
        case Para():
            return {"kind": "paragraph", "role": block.role, "spans": _spans(block.spans)}
        case Bullets():
            return {"kind": "bullets", "items": [_spans(i) for i in block.items]}
        case Box():
            inner = [_block(b, numbered, figures) for b in block.blocks]
            return {"kind": "box", "box": block.kind, "title": _text(block.title), "blocks": inner}
        case Figure():
            width, height = _size(figures[block.name]["svg"])
            return {
                "kind": "figure",
                "id": block.name,
                "label": f"Figure {numbered[block.name]}.",
                "caption": _text(block.caption),
                "alt": settle(block.alt),
                "file": f"{block.name}.svg",
                "width": width,
                "height": height,
            }
        case Grid():
            return _grid(block, numbered)


def _grid(block: Grid, numbered: Mapping[str, int]) -> Node:
    longest = max((sum(len(s.text) for s in cell) for row in block.rows for cell in row), default=0)
    return {
        "kind": "grid",
        "id": block.id,
        "label": f"Table {numbered[block.id]}.",
        "caption": _text(block.caption),
        "head": [_text(h) for h in block.head],
        "rows": [[_spans(c) for c in row] for row in block.headed],
        "numeric": sorted(block.numeric),
        "widths": widths(block),
        "note": _text(block.note),
        "size": 8.5 if len(block.head) < 7 else 7.5,
        "breakable": longest > ROW_MAY_BREAK,
        "together": TOGETHER if longest <= ROW_MAY_BREAK else 0,
    }


def _size(svg: bytes) -> tuple[float, float]:
    """Millimetres across and high at which a figure fills the line, or as much of it as leaves room for
    others; one that is drawn for a phone stands at `PHONE` of its size."""
    across, high = view(svg)
    own = across * 25.4 / 72
    least = max(NARROWEST * FIGURE_WIDTH, 25.4 * TALLEST * across / high)
    width = min(FIGURE_WIDTH, FIGURE_HEIGHT * across / high, least if own > FIGURE_WIDTH else PHONE * own)
    return width, width * high / across

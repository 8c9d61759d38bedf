"""The content tree as one self-contained HTML file."""

from __future__ import annotations

import base64
import hashlib
import html
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from lagwise.document import svg
from lagwise.document.colours import BAND, FIRST, FOURTH, GRID, INK, MUTED, PALE, PAPER, SECOND, THIRD
from lagwise.document.settle import settled
from lagwise.document.tree import Box, Document, Figure, Grid, Heading, walk

_PRE = re.compile(r"(<pre\b.*?</pre>)", re.DOTALL)
"""Text to copy, in which every line counts."""
INLINE_SVG_UP_TO = 600_000
"""Bytes of SVG beyond which a figure goes in as PNG, so that a large caseload still opens quickly."""


# In dark mode only the greys turn round; the hues keep their meaning and a lightness that reads on both.
DARK = {
    INK: "#e6ebee", MUTED: "#a9b6be", GRID: "#39444b", PAPER: "#151b1f", BAND: "#262f35",
    FIRST: "#5fa8d6", SECOND: "#dfa04c", THIRD: "#b294cf", FOURTH: "#b5c0c6", PALE: "#2f5670",
}  # fmt: skip


def render_html(
    document: Document,
    figures: Mapping[str, Mapping[str, bytes] | str],
    *,
    head: str = "",
    css: str = "",
    numbered: bool | Mapping[str, int] = True,
) -> str:
    """HTML text of a document.

    Parameters
    ----------
    document : Document
    figures : mapping of figure name to its files, {'png': bytes, 'svg': bytes}, or to SVG text to stand as it
        is
    head, css : str
        Markup for the head and rules after those of the shared stylesheet, neither made of data.
    numbered : bool or mapping
        Whether captions of tables and figures begin with a running number, or the numbers by id.

    Returns
    -------
    str
        One file without outside references; every text from the findings is escaped.
    """
    alts = {b.name: b.alt for b in walk(document.blocks) if isinstance(b, Figure)}
    glyphs: dict[str, str] = {}
    images = {name: Markup(image(name, figures[name], alt, glyphs)) for name, alt in alts.items()}
    letters = Markup(svg.shared(glyphs))
    counted = numbered if isinstance(numbered, Mapping) else numbers(document) if numbered else {}
    css = stylesheet() + figure_colours() + css
    listed = [b for b in walk(document.blocks) if isinstance(b, Heading) and b.level == 2]
    return _filled(
        document=document,
        head=Markup(head),
        css=Markup(css),
        letters=letters,
        images=images,
        numbered=counted,
        headings=listed,
        sources=_sources(document),
        script=Markup(stylesheet("page.js").strip()) if document.contents else "",
    )


def render_card(card: Document) -> str:
    """A document without figures as a card of a notebook: its title in small, and colours that are the page's
    own.

    The class name stands three times in its rules, which outweighs the table rules of notebook pages.
    """
    card = settled(card)
    seen = hashlib.sha256(repr(card).encode("utf-8", "surrogatepass")).hexdigest()[:10]
    count = iter(range(10_000))

    def own(block: Any) -> Any:
        """Its tables with ids that no other card on the page has."""
        if isinstance(block, Grid):
            return replace(block, id=f"lw{seen}-{next(count)}")
        return replace(block, blocks=tuple(map(own, block.blocks))) if isinstance(block, Box) else block

    shown = replace(card, blocks=tuple(map(own, card.blocks)))
    css = Markup(stylesheet("card.css").strip())
    return _filled(document=shown, card=True, css=css, numbered={}, sources={})


def _sources(part: Any, found: dict[str, int] | None = None) -> dict[str, int]:
    """Every source in a tree, or a part of one, with its place in their order."""
    found = {} if found is None else found
    if isinstance(part, tuple):
        for inner in part:
            _sources(inner, found)
    elif is_dataclass(part):
        if source := getattr(part, "source", ""):
            found.setdefault(source, len(found))
        for one in fields(part):
            _sources(getattr(part, one.name), found)
    return found


def stylesheet(name: str = "page.css") -> str:
    """Rules that every page shares, or another file of this room."""
    return (files("lagwise.document") / name).read_text(encoding="utf-8")


@cache
def _template() -> Template:
    page = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return page.from_string(stylesheet("page.html.j2"))


def _filled(*, card: bool = False, **given: Any) -> str:
    parts = _PRE.split(_template().render(card=card, **given))
    return "\n".join(part if _PRE.fullmatch(part) else _tidy(part) for part in parts if part.strip()) + "\n"


def _tidy(text: str) -> str:
    return "\n".join(line.rstrip() for line in text.splitlines() if line.strip())


def numbers(document: Document) -> dict[str, int]:
    """Running numbers of tables and of figures by id."""
    out: dict[str, int] = {}
    tables = figures = 0
    for block in walk(document.blocks):
        if isinstance(block, Grid):
            tables += 1
            out[block.id] = tables
        elif isinstance(block, Figure):
            figures += 1
            out[block.name] = figures
    return out


def image(name: str, drawn: Mapping[str, bytes] | str, alt: str, glyphs: dict[str, str]) -> str:
    """A figure as HTML: its SVG inline, or its PNG where that is too large; ids carry the figure's name, and
    outlines of letters go to `glyphs`.
    """
    if isinstance(drawn, str):
        return drawn
    if len(drawn["svg"]) > INLINE_SVG_UP_TO:
        data = base64.b64encode(drawn["png"]).decode("ascii")
        kind = svg.narrow(drawn["svg"][:2000].decode("utf-8", "ignore"))
        return f'<img{kind} alt="{html.escape(alt, quote=True)}" src="data:image/png;base64,{data}">'
    return svg.inline(name, drawn["svg"].decode("utf-8"), alt, DARK, glyphs)


def figure_colours() -> str:
    """CSS that gives inline figures their colours on light and dark pages and in print."""
    light = " ".join(f"--f{c[1:]}: {c};" for c in DARK)
    dark = " ".join(f"--f{c[1:]}: {d};" for c, d in DARK.items())
    return (
        f":root {{ {light} }}\n@media (prefers-color-scheme: dark) {{ :root {{ {dark} }} "
        f"figure img {{ filter: brightness(.92); }} }}\n@media print {{ :root {{ {light} }} }}\n"
    )

"""The content tree as one self-contained HTML file."""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Mapping
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from lagwise.document.colours import BAND, FIRST, FOURTH, GRID, INK, MUTED, PALE, PAPER, SECOND, THIRD
from lagwise.document.tree import Document, Figure, Grid

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
    numbered: bool = True,
) -> str:
    """HTML text of a document.

    Parameters
    ----------
    document : Document
    figures : mapping of figure name to its files, {'png': bytes, 'svg': bytes}, or to SVG text to stand as it is
    head, css : str
        Markup for the head and rules after those of the shared stylesheet, neither made of data.
    numbered : bool
        Whether captions of tables and figures begin with a running number.

    Returns
    -------
    str
        One file without outside references; every text from the findings is escaped.
    """
    home = files("lagwise.document")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string((home / "page.html.j2").read_text(encoding="utf-8"))
    css = (home / "page.css").read_text(encoding="utf-8") + figure_colours() + css
    alts = {b.name: b.alt for b in document.blocks if isinstance(b, Figure)}
    images = {name: Markup(image(name, figures[name], alt)) for name, alt in alts.items()}
    given = {"head": Markup(head), "css": Markup(css), "images": images}
    text = template.render(document=document, numbered=numbers(document) if numbered else {}, **given)
    return "\n".join(line.rstrip() for line in text.splitlines() if line.strip()) + "\n"


def numbers(document: Document) -> dict[str, int]:
    """Running numbers of tables and of figures by id."""
    out: dict[str, int] = {}
    tables = figures = 0
    for block in document.blocks:
        if isinstance(block, Grid):
            tables += 1
            out[block.id] = tables
        elif isinstance(block, Figure):
            figures += 1
            out[block.name] = figures
    return out


def image(name: str, drawn: Mapping[str, bytes] | str, alt: str) -> str:
    """A figure as HTML: its SVG inline, or its PNG where that is too large; ids carry the figure's name."""
    if isinstance(drawn, str):
        return drawn
    if len(drawn["svg"]) > INLINE_SVG_UP_TO:
        data = base64.b64encode(drawn["png"]).decode("ascii")
        return f'<img alt="{html.escape(alt, quote=True)}" src="data:image/png;base64,{data}">'
    return _inline_svg(name, drawn["svg"].decode("utf-8"), alt)


def _inline_svg(name: str, svg: str, alt: str) -> str:
    """An SVG for use inside HTML: its own ids, an accessible name, and greys that follow the page."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", svg)
    svg = re.sub(r'xlink:href="#([^"]+)"', rf'href="#{name}-\1"', svg)
    for colour in DARK:
        svg = svg.replace(colour, f"var(--f{colour[1:]})")
    opening, rest = svg.split(">", 1)
    view = re.search(r'viewBox="[^"]+"', opening)
    box = view.group(0) if view else ""
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box} role="img" aria-label="{html.escape(alt, quote=True)}">{rest}'


def figure_colours() -> str:
    """CSS that gives inline figures their colours on light and dark pages and in print."""
    light = " ".join(f"--f{c[1:]}: {c};" for c in DARK)
    dark = " ".join(f"--f{c[1:]}: {d};" for c, d in DARK.items())
    return (
        f":root {{ {light} }}\n@media (prefers-color-scheme: dark) {{ :root {{ {dark} }} "
        f"figure img {{ filter: brightness(.92); }} }}\n@media print {{ :root {{ {light} }} }}\n"
    )

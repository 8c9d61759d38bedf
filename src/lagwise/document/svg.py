"""Figures inside a page: their SVG made small, with ids of their own and colours that follow the page."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable

NARROW_UP_TO = 400.0
"""Points of width up to which a figure is one for a phone too."""
_GLYPH = re.compile(r'<path id="([^"]+)" d="([^"]*)" transform="([^"]*)"/>')
_PATH = re.compile(r' (d|x|y)="([^"]*)"')
_LONG = re.compile(r"(\.\d\d)\d+")


def inline(name: str, svg: str, alt: str, colours: Iterable[str], glyphs: dict[str, str]) -> str:
    """An SVG for use inside HTML: an accessible name, ids that begin with the figure's, `colours` as
    variables of the page, coordinates to a hundredth. Outlines of letters go to `glyphs`, once for all.
    """
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->", "", svg, flags=re.DOTALL)

    def kept(found: re.Match[str]) -> str:
        glyphs[found[1]] = f'<path id="{found[1]}" d="{" ".join(found[2].split())}" transform="{found[3]}"/>'
        return ""

    svg = _GLYPH.sub(kept, svg)
    svg = _PATH.sub(lambda m: f' {m[1]}="{_LONG.sub(r"\1", " ".join(m[2].split()))}"', svg)
    svg = re.sub(r"<defs>\s*</defs>", "", re.sub(r">\s+<", "><", svg))
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", svg)
    svg = re.sub(r'xlink:href="#([^"]+)"', lambda m: f'href="#{_aim(m[1], name, glyphs)}"', svg)
    for colour in colours:
        svg = svg.replace(colour, f"var(--f{colour[1:]})")
    opening, rest = svg.split(">", 1)
    view = re.search(r'viewBox="[^"]+"', opening)
    box = view.group(0) if view else ""
    label = html.escape(alt, quote=True)
    kind = narrow(opening)
    return f'<svg{kind} xmlns="http://www.w3.org/2000/svg" {box} role="img" aria-label="{label}">{rest}'


def narrow(svg: str) -> str:
    """The class of a figure that is drawn for a phone: it is shown no wider than its text needs."""
    width = re.search(r'viewBox="[0-9.]+ [0-9.]+ ([0-9.]+) ', svg)
    return ' class="narrow"' if width and float(width.group(1)) <= NARROW_UP_TO else ""


def _aim(id: str, name: str, glyphs: dict[str, str]) -> str:
    return id if id in glyphs else f"{name}-{id}"


def shared(glyphs: dict[str, str]) -> str:
    """The outlines that figures of a page share, to stand in it once; nothing where there are none."""
    if not glyphs:
        return ""
    outlines = "".join(glyphs.values())
    return f'<svg width="0" height="0" class="letters" aria-hidden="true"><defs>{outlines}</defs></svg>'

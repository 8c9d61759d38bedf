"""An SVG figure as PNG: a figure is drawn once, and its pixels are made from that drawing."""

from __future__ import annotations

import re
from typing import Any

from lagwise.core.errors import WriteUpError

PIXELS_PER_INCH = 192
"""Twice the size at which a figure is shown."""


def rasterised(svg: bytes) -> bytes:
    """PNG of an SVG whose viewBox is in points, the same bytes every time.

    Raises
    ------
    WriteUpError
        When Typst cannot make the picture.
    """
    import typst

    wide, high = view(svg)
    size = f"width: {wide}pt, height: {high}pt, margin: 0pt"
    page = f'#page({size}, image("figure.svg", width: 100%))'
    sources: Any = {
        "main.typ": page.encode("utf-8"),
        "figure.svg": svg,
    }  # in memory: nothing of it touches the disk
    try:
        made: bytes = typst.compile(sources, format="png", ppi=PIXELS_PER_INCH, ignore_system_fonts=True)
    except (RuntimeError, OSError) as error:
        raise WriteUpError(
            "typst could not make a PNG figure", mend=str(error) or "Install typst again."
        ) from error
    return made


def view(svg: bytes) -> tuple[float, float]:
    """Width and height of an SVG's viewBox."""
    found = re.search(rb'viewBox="[\d.]+ [\d.]+ ([\d.]+) ([\d.]+)"', svg)
    return (float(found.group(1)), float(found.group(2))) if found else (1.0, 1.0)

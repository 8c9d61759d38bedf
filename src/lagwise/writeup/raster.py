"""SVG figures as PNG, all of them in one go: a figure is drawn once, and its pixels are made from that drawing."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

from lagwise.core.errors import WriteUpError

PIXELS_PER_INCH = 192
"""Twice the size at which a figure is shown."""


def rasterised(drawings: Mapping[str, bytes]) -> dict[str, bytes]:
    """PNG of each SVG by name, the same bytes every time.

    Parameters
    ----------
    drawings : mapping of name to SVG, whose viewBox is in points

    Raises
    ------
    WriteUpError
        When Typst cannot make the pictures.
    """
    import typst

    if not drawings:
        return {}
    with tempfile.TemporaryDirectory() as folder:
        home, pages = Path(folder), []
        for i, svg in enumerate(drawings.values()):
            (home / f"{i}.svg").write_bytes(svg)
            wide, high = view(svg)
            pages.append(f'#page(width: {wide}pt, height: {high}pt, margin: 0pt, image("{i}.svg", width: 100%))')
        (home / "main.typ").write_text("\n".join(pages), encoding="utf-8")
        try:
            made = typst.compile(home / "main.typ", format="png", ppi=PIXELS_PER_INCH, ignore_system_fonts=True)
        except (RuntimeError, OSError) as error:
            raise WriteUpError("typst could not make PNG figures", mend=str(error) or "Install typst again.") from error
    return dict(zip(drawings, made if isinstance(made, list) else [made], strict=True))


def view(svg: bytes) -> tuple[float, float]:
    """Width and height of an SVG's viewBox."""
    found = re.search(rb'viewBox="[\d.]+ [\d.]+ ([\d.]+) ([\d.]+)"', svg)
    return (float(found.group(1)), float(found.group(2))) if found else (1.0, 1.0)

"""Figures as files, drawn from the plain data that they are."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import cache

from lagwise.core.errors import WriteUpError
from lagwise.document.settle import settle
from lagwise.findings import PictureFacts
from lagwise.writeup.glyphs import Typefaces, typefaces, with_texts
from lagwise.writeup.raster import rasterised


def draw_all(pictures: Mapping[str, PictureFacts]) -> dict[str, dict[str, bytes]]:
    """Files of several figures by name, as `draw` makes them, in less time."""
    svgs, pngs = {}, {}
    with ThreadPoolExecutor(
        1
    ) as side:  # Typst works outside the interpreter lock while the next figure is drawn
        for name, picture in pictures.items():
            svgs[name] = draw_svg(picture)
            pngs[name] = side.submit(rasterised, svgs[name])
    return {name: {"png": pngs[name].result(), "svg": svg} for name, svg in svgs.items()}


def draw(picture: PictureFacts) -> dict[str, bytes]:
    """A figure's files: png (at twice the size shown) and svg, the same bytes every time.

    Raises
    ------
    WriteUpError
        For a kind of picture that has no drawer.
    """
    return draw_all({"figure": picture})["figure"]


def draw_svg(picture: PictureFacts) -> bytes:
    """A figure as SVG alone, which is the quicker part of `draw`."""
    from lagwise.writeup import (
        draw_answer,
        draw_arrows,
        draw_challenges,
        draw_choices,
        draw_courses,
        draw_grid,
        draw_map,
        draw_numbers,
        draw_person,
        draw_ratings,
        draw_record,
        draw_spread,
        draw_what_if,
    )
    from lagwise.writeup.style import styled

    people = (draw_courses, draw_record, draw_map, draw_person, draw_spread)
    sorts = (
        draw_answer,
        draw_challenges,
        *people,
        draw_numbers,
        draw_choices,
        draw_grid,
        draw_ratings,
        draw_arrows,
        draw_what_if,
    )
    drawers = {kind: drawer for sort in sorts for kind, drawer in sort.DRAWERS.items()}
    if picture.kind not in drawers:
        raise WriteUpError(
            f"no way to draw a picture of kind {picture.kind!r}", mend=f"Use one of {', '.join(drawers)}."
        )
    said = picture.model_dump_json()
    faces = typefaces([said])
    signs = "".join(set(said))
    plain = "\\" not in said and faces.shown(settle(signs)) == signs  # the usual case, and seen at once
    with styled([family for family, _ in faces.added]):
        return drawers[picture.kind](picture if plain else _drawable(picture, faces))


def _drawable(picture: PictureFacts, faces: Typefaces) -> PictureFacts:
    """A picture with its texts settled and its signs replaced that no typeface has; labels that differed
    still differ.
    """
    taken: dict[str, str] = {}

    @cache
    def change(text: str) -> str:
        said = faces.shown(settle(text))
        while taken.setdefault(said, text) != text:
            said += "\u2032"
        return said

    return with_texts(picture, change)

"""Everybody's ratings at once, for caseloads with more people than panels can be looked at."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.colors import LinearSegmentedColormap, to_hex
from matplotlib.patches import Patch

from lagwise.document.colours import FIRST, GRID, MUTED, PALE, PAPER, SECOND
from lagwise.findings import PictureFacts
from lagwise.writeup.draw_courses import Scale, bars, grouped, people_rows
from lagwise.writeup.style import canvas, finish, legend, mark, whole_steps

TALLEST = 6.0
"""Inches of all rows together."""
SHADES = [
    to_hex(LinearSegmentedColormap.from_list("", ["#e9f0f5", PALE, FIRST, "#0c2a3f"])(i / 4))
    for i in range(5)
]
"""From the lower to the upper end of the scale, a fifth of it each; darkness alone carries the number."""


def pain_map(picture: PictureFacts) -> bytes:
    """One row per person, one cell per step, the darker the higher the rating; a mark where a turn for the
    worse begins.
    """
    people, scale = list(grouped(picture).values()), Scale.of(picture)
    row = min(0.1, TALLEST / len(people))
    height = row * len(people) + 0.95
    figure, top, total = canvas(height, picture)
    bottom = 0.78 / total
    axes = figure.add_axes((0.04, bottom, 0.945, top - bottom - 0.01))
    cells: list[list[tuple[float, float, float]]] = [[] for _ in SHADES]
    begun: list[tuple[float, float]] = []
    for y, records in enumerate(people):
        for shade, first, last in _runs(records, scale):
            cells[shade].append((first + 0.5, last + 1.5, y))
        begun += [(step + 1, y) for _, step, _, flare in records if flare]
    for colour, spans in zip(SHADES, cells, strict=True):
        left, right, middle = np.array(spans, dtype=float).reshape(-1, 3).T
        bars(axes, left, right, middle - 0.5, middle + 0.5, facecolor=colour, rasterized=True)
    if begun:
        across, down = np.array(begun, dtype=float).T
        axes.scatter(across, down, marker="o", s=3.2, color=SECOND, linewidth=0, zorder=3, rasterized=True)
    axes.set_xlim(0.4, max(len(r) for r in people) + 0.6)
    people_rows(axes, picture, people, named=False)
    whole_steps(axes)
    legend(axes, _handles(bool(begun), scale), anchor=(0, -0.42 / total / (top - bottom)))
    return finish(figure)


def _runs(rows: list[tuple[Any, ...]], scale: Scale) -> list[tuple[int, int, int]]:
    """(shade, first step, last step) of neighbours of one shade; steps without a rating are left out."""
    out: list[tuple[int, int, int]] = []
    for _, step, rated, _ in rows:
        if rated is None:
            continue
        shade = min(len(SHADES) - 1, int(scale.tenths(rated) // 2))
        if out and out[-1][0] == shade and out[-1][2] == step - 1:
            out[-1] = (shade, out[-1][1], step)
        else:
            out.append((shade, step, step))
    return out


def _handles(begun: bool, scale: Scale) -> list[Any]:
    names = [
        f"{scale.at(2 * i)} to {scale.at(2 * i + 2)}{f' {scale.unit}' if i == 4 else ''}" for i in range(5)
    ]
    out: list[Any] = [
        Patch(facecolor=c, edgecolor=GRID, linewidth=0.4, label=n) for c, n in zip(SHADES, names, strict=True)
    ]
    out.append(Patch(facecolor=PAPER, edgecolor=MUTED, linewidth=0.4, label="no rating"))
    if begun:
        out.append(mark("o", 3.5, scale.turn, color=SECOND))
    return out


DRAWERS = {"pain_map": pain_map}

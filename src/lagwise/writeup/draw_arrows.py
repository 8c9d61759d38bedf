"""A directed graph: boxes with words, and numbered arrows between them."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.patches import FancyArrowPatch
from matplotlib.transforms import Bbox

from lagwise.document.colours import BAND, FIRST, MUTED, PAPER
from lagwise.findings import PictureFacts
from lagwise.writeup.style import SMALL, TEXT, canvas, finish

ACROSS, UP = 10.0, 5.2
"""The units in which places are given."""
HEIGHT = 3.9
BROAD = 20
"""Letters of a line in a box."""
STEPS = 101
ALONG = 42
"""Which of the steps of its way has an arrow's number, so that two do not meet where arrows cross."""
BENDS = (0.0, -0.1, 0.1, -0.2, 0.2, -0.3, 0.3)
"""How far an arrow may bend out of the way of boxes, as parts of its length, the least first."""
CLEAR = 0.06
"""Inches at least between an arrow and a box that is none of its ends."""


def arrows(picture: PictureFacts) -> bytes:
    """The arrow that is asked about is drawn heavier; those of what nobody recorded are dashed. An arrow
    whose straight way grazes a box bends round it."""
    figure, top, _ = canvas(HEIGHT, picture)
    axes = figure.add_axes((0.01, 0.02, 0.98, top - 0.02))
    axes.set_xlim(0, ACROSS)
    axes.set_ylim(-0.25, UP)
    axes.axis("off")
    boxes = {
        name: axes.text(
            x, y, "\n".join(textwrap.wrap(words, BROAD)), size=TEXT, ha="center", va="center", zorder=3,
            bbox={"boxstyle": "round,pad=0.45,rounding_size=0.2", "facecolor": BAND, "edgecolor": MUTED,
                  "linewidth": 0.8},
        )
        for name, (x, y, words) in picture.options["places"].items()
    }  # fmt: skip
    figure.canvas.draw()  # so that the boxes have their sizes, at which arrows end
    there = {name: np.asarray(axes.transData.transform(box.get_position())) for name, box in boxes.items()}
    patches = {name: box.get_bbox_patch() for name, box in boxes.items()}
    sizes = {name: patch.get_window_extent() for name, patch in patches.items() if patch is not None}
    for row in picture.data.records():
        a, b = str(row["source"]), str(row["target"])
        others = [size.padded(CLEAR * figure.dpi) for name, size in sizes.items() if name not in (a, b)]
        ways = {bend: way(there[a], there[b], bend) for bend in BENDS}
        bend = next((b for b, points in ways.items() if not any(crosses(points, o) for o in others)), 0.0)
        asked = (a, b) == (picture.options["asked"], "next")
        x, y = axes.transData.inverted().transform(ways[bend][ALONG])
        axes.add_patch(
            FancyArrowPatch(
                boxes[a].get_position(), boxes[b].get_position(), patchA=patches[a], patchB=patches[b],
                connectionstyle=f"arc3,rad={bend}",
                arrowstyle="-|>", mutation_scale=11, shrinkA=1, shrinkB=2, zorder=2,
                color=FIRST if asked else MUTED, linewidth=2.2 if asked else 1.1,
                linestyle=(0, (4, 3)) if row["dashed"] else "-",
            )
        )  # fmt: skip
        axes.text(
            x, y, str(row["arrow"]), size=SMALL, ha="center", va="center", zorder=4,
            bbox={"boxstyle": "circle,pad=0.18", "facecolor": PAPER, "edgecolor": "none"},
        )  # fmt: skip
    return finish(figure)


def way(start: np.ndarray, end: np.ndarray, bend: float) -> np.ndarray:
    """(STEPS, 2) points of an arrow as matplotlib's arc3 draws it: a quadratic curve whose middle is pulled
    aside by `bend` times its length."""
    across = (end - start)[::-1] * (1, -1)
    middle = (start + end) / 2 + bend * across
    t = np.linspace(0, 1, STEPS)[:, None]
    return np.asarray((1 - t) ** 2 * start + 2 * t * (1 - t) * middle + t**2 * end)


def crosses(points: np.ndarray, box: Bbox) -> bool:
    """Whether a point lies in the box."""
    return bool(np.any(np.all((points >= box.min) & (points <= box.max), axis=1)))


DRAWERS = {"arrows": arrows}

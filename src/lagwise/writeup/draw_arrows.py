"""A directed graph: boxes with words, and numbered arrows between them."""

from __future__ import annotations

import textwrap

from matplotlib.patches import FancyArrowPatch

from lagwise.document.colours import BAND, FIRST, MUTED, PAPER
from lagwise.findings import PictureFacts
from lagwise.writeup.draw_numbers import subtitle
from lagwise.writeup.style import SMALL, TEXT, canvas, finish

ACROSS, UP = 10.0, 5.2
"""The units in which places are given."""
HEIGHT = 3.9
BROAD = 20
"""Letters of a line in a box."""
ALONG = 0.42
"""Where on its way an arrow has its number, so that two do not meet where arrows cross."""


def arrows(picture: PictureFacts) -> bytes:
    """The arrow that is asked about is drawn heavier; those of what nobody recorded are dashed."""
    figure, top = canvas(HEIGHT, picture.title, subtitle(picture))
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
    for row in picture.data.records():
        a, b = boxes[row["source"]], boxes[row["target"]]
        (x0, y0), (x1, y1) = a.get_position(), b.get_position()
        asked = row["source"] == picture.options["asked"] and row["target"] == "next"
        axes.add_patch(
            FancyArrowPatch(
                (x0, y0), (x1, y1), patchA=a.get_bbox_patch(), patchB=b.get_bbox_patch(),
                arrowstyle="-|>", mutation_scale=11, shrinkA=1, shrinkB=2, zorder=2,
                color=FIRST if asked else MUTED, linewidth=2.2 if asked else 1.1,
                linestyle=(0, (4, 3)) if row["dashed"] else "-",
            )
        )  # fmt: skip
        x, y = x0 + ALONG * (x1 - x0), y0 + ALONG * (y1 - y0)
        axes.text(
            x, y, str(row["arrow"]), size=SMALL, ha="center", va="center", zorder=4,
            bbox={"boxstyle": "circle,pad=0.18", "facecolor": PAPER, "edgecolor": "none"},
        )  # fmt: skip
    return finish(figure)


DRAWERS = {"arrows": arrows}

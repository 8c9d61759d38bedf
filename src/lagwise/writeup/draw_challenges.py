"""One figure for all challenges: how each ended, by shape and word, and the estimate it left."""

from __future__ import annotations

import textwrap
from typing import Any

from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from lagwise.document.colours import BAND, FIRST, INK, MUTED, PALE, PAPER
from lagwise.findings import PictureFacts
from lagwise.writeup.draw_numbers import reference
from lagwise.writeup.style import SMALL, TEXT, canvas, finish, keys, quiet

WIDTH, NAMES, RIGHT = 4.8, 2.1, 0.2
"""Inches of the figure, of the names at its left and of the margin at its right."""
LINE, GAP = 0.155, 0.14
"""Inches of a line of text, and between challenges."""
SHAPES: dict[str, dict[str, Any]] = {
    "held": {"marker": "o", "markerfacecolor": FIRST},
    "could not tell": {"marker": "o", "markerfacecolor": PAPER},
    "did not hold": {"marker": "X", "markerfacecolor": INK, "markeredgecolor": INK},
    "no verdict": {"marker": "s", "markerfacecolor": PAPER},
}
"""The mark of each way to end; none of them is a colour alone."""


def challenges(picture: PictureFacts) -> bytes:
    """A row for each challenge, with its name and how it ended at the left."""
    records, o = picture.data.records(), picture.options
    names = [textwrap.wrap(str(r["label"]), 27) for r in records]
    reasons = [textwrap.wrap(str(r["reason"]), 31) if r["estimate"] is None else [] for r in records]
    rows = [LINE * max(len(n) + 1, len(w)) + GAP for n, w in zip(names, reasons, strict=True)]
    foot = 0.78
    figure, _, total = canvas(sum(rows) + foot, picture, WIDTH)
    axes = figure.add_axes((NAMES / WIDTH, foot / total, 1 - (NAMES + RIGHT) / WIDTH, sum(rows) / total))
    axes.set_ylim(sum(rows), 0)
    reference(axes, picture, vertical=True)
    if o["low"] is not None:
        axes.axvspan(o["low"], o["high"], color=PALE, alpha=0.45, linewidth=0, zorder=0.5)
    axes.axvline(o["estimate"], color=FIRST, linewidth=1, zorder=1.5)
    head = 0.0
    for r, name, why, high in zip(records, names, reasons, rows, strict=True):
        y, shape = head + (high - GAP) / 2 + GAP / 2, {"markeredgecolor": FIRST} | SHAPES[str(r["ended"])]
        mark: dict[str, Any] = {"markersize": 6.5, "markeredgewidth": 1.3, "linestyle": "", **shape}
        across = -NAMES / (WIDTH - NAMES - RIGHT)
        at = (head + GAP / 2 + LINE * i for i in range(9))
        place: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "clip_on": False}
        for line in name:
            axes.text(across * 0.965, next(at), line, size=TEXT, va="top", **place)
        below = next(at)
        axes.plot([across * 0.94], [below + LINE / 2], **mark, **place)
        axes.text(across * 0.885, below, r["ended"], size=TEXT, va="top", color=MUTED, **place)
        if r["estimate"] is None:
            behind = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.5}
            axes.text(
                0.03, y, "\n".join(why), size=SMALL, va="center", color=MUTED, linespacing=1.2, bbox=behind,
                zorder=4, **place,
            )  # fmt: skip
        else:
            if r["low"] is not None:
                axes.hlines(y, r["low"], r["high"], color=FIRST, linewidth=1.3, zorder=2)
            axes.plot([r["estimate"]], [y], zorder=3, **mark)
        head += high
        axes.axhline(head, color=BAND, linewidth=0.8, zorder=0.2)
    if "span" in o:
        axes.set_xlim(*o["span"])
    quiet(axes, grid="x")
    axes.set_yticks([])
    axes.tick_params(labelsize=TEXT)
    axes.set_xlabel("\n".join(textwrap.wrap(picture.x, 34)), size=TEXT)
    own = (Line2D([], [], color=FIRST, linewidth=1), Patch(facecolor=PALE, alpha=0.45))
    look = {"handlelength": 1.5, "borderpad": 0}
    keys(figure, [own], (0.02, 0.05 / total), labels=[o["estimate_label"]], **look)
    return finish(figure)


DRAWERS = {"challenges": challenges}

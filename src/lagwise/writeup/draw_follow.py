"""Figures of a rating by steps from an event, beside what was expected without it."""

from __future__ import annotations

import numpy as np
from matplotlib.lines import Line2D

from lagwise.document.colours import BAND, FIRST, INK, MUTED, SECOND
from lagwise.findings import PictureFacts
from lagwise.writeup.style import SMALL, canvas, finish, legend, quiet, whole_steps

HEIGHT = 2.55


def follow(picture: PictureFacts) -> bytes:
    """Means with intervals by steps from the event, the course expected without it, on the whole scale."""
    told = picture.options
    figure, top, total = canvas(HEIGHT, picture)
    foot = 0.78 / total
    axes = figure.add_axes((0.075, foot, 0.91, top - foot - 0.03))
    columns = ("x", "value", "low", "high", "expected")
    x, value, low, high, expected = (np.array(picture.data.column(c), dtype=float) for c in columns)
    axes.axvspan(0.5, float(told["first"]) + 0.5, color=BAND, linewidth=0, zorder=0)
    axes.axvline(0.5, color=INK, linewidth=1.0, zorder=1)
    axes.annotate(
        str(told["event"]), (0.5, 1.0), (3, -2), xycoords=("data", "axes fraction"),
        textcoords="offset points", size=SMALL, va="top", color=INK,
    )  # fmt: skip
    last = np.where(x == 0, value, expected)
    axes.plot(x[x >= 0], last[x >= 0], color=SECOND, linewidth=1.4, linestyle=(0, (4, 2)), zorder=2)
    after = x > 0
    axes.plot(
        x[after], expected[after], linestyle="", color=SECOND, marker="s", markersize=4,
        markerfacecolor="white", zorder=3,
    )  # fmt: skip
    axes.vlines(x, low, high, color=FIRST, linewidth=1.2, zorder=4)
    axes.plot(x, value, color=FIRST, linewidth=1.4, marker="o", markersize=4.5, zorder=5)
    ends = float(told["low"]), float(told["high"])
    axes.set_ylim(*ends)
    axes.set_xlim(x.min() - 0.5, x.max() + 0.5)
    axes.set_xlabel(picture.x)
    axes.set_ylabel(picture.y)
    quiet(axes, grid="y")
    axes.spines["bottom"].set_visible(True)
    axes.spines["bottom"].set_color(MUTED)
    whole_steps(axes, most=12)
    keys = [
        Line2D([], [], color=FIRST, marker="o", markersize=4.5, linewidth=1.4, label=str(told["observed"])),
        Line2D(
            [], [], color=SECOND, marker="s", markersize=4, markerfacecolor="white", linewidth=1.4,
            linestyle=(0, (4, 2)), label=str(told["expected"]),
        ),
    ]  # fmt: skip
    legend(axes, keys, anchor=(0, -0.46 / total / (top - foot - 0.03)))
    return finish(figure)


DRAWERS = {"follow": follow}

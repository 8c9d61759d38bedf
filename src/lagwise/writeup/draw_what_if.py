"""Figures of simulated records under moved settings: one and those like it, and a grid of settings."""

from __future__ import annotations

import textwrap
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from lagwise.document.colours import BAND, FIRST, INK, MUTED, PALE, PAPER, SECOND
from lagwise.findings import PictureFacts
from lagwise.writeup.style import DASHED, MARKERS, SMALL, TINY, WIDTH, canvas, finish, keys, quiet

HEIGHT, FOOT = 2.9, 0.6
READINGS, APART, LEFT = 2.35, 0.15, 0.6
"""Inches of the readings of one record, of the gap to the records like it, and of the axis at the left."""
REACH = 1.2
"""Points either way that are shown, so that settings can be compared; what lies further out is cut."""
HELD: dict[str, Any] = {
    "color": PALE, "linewidth": 2, "marker": "o", "markersize": 2.6, "markeredgecolor": FIRST,
    "markerfacecolor": FIRST,
}  # fmt: skip
MISSED: dict[str, Any] = {"color": INK, "linewidth": 1.6, "marker": "s", "markersize": 3.4}
PANEL, GAP, ACROSS = 1.55, 0.68, 4
"""Inches: height of a panel and of what stands between two rows of them; and panels in a row."""


def what_if(picture: PictureFacts) -> bytes:
    """At the left the readings of one record, at the right the intervals of records like it."""
    records, told = picture.data.records(), picture.options
    own, like = ([r for r in records if bool(r["label"]) == named] for named in (True, False))
    figure, top, total = canvas(HEIGHT, picture)
    high = top - FOOT / total - 0.02
    left, right = LEFT / WIDTH, (LEFT + READINGS + APART) / WIDTH
    first: Axes = figure.add_axes((left, FOOT / total, READINGS / WIDTH, high))
    rest: Axes = figure.add_axes((right, FOOT / total, 0.985 - right, high), sharey=first)
    for axes in (first, rest):
        axes.axhspan(-told["zero"], told["zero"], color=BAND, linewidth=0, zorder=0)
        axes.axhline(0, **DASHED)
        axes.axhline(told["truth"], color=SECOND, linewidth=1.6, zorder=1.5)
        quiet(axes, grid="y")
        axes.set_xticks([])
    for x, r in enumerate(own):
        _interval(first, x, r, 2.0, marker=MARKERS[x], markersize=7, filled=not x)
    first.set_xlim(-0.6, 2.6)
    first.set_xticks(range(len(own)), [textwrap.fill(str(r["label"]), 12) for r in own])
    first.tick_params(axis="x", labelsize=SMALL)
    first.set_ylabel(picture.y)
    first.set_ylim(-REACH, REACH)
    for x, r in enumerate(like):
        missed = not r["low"] <= told["truth"] <= r["high"]
        line = MISSED if missed else HELD
        rest.vlines(x, r["low"], r["high"], color=line["color"], linewidth=line["linewidth"])
        rest.plot(x, r["estimate"], **(line | {"linestyle": ""}))
    rest.set_xlim(-1, max(len(like), 10))
    rest.tick_params(labelleft=False)
    said = told["keys"]
    handles = [
        Line2D([], [], color=SECOND, linewidth=1.6, label=said["truth"]),
        Line2D([], [], **HELD, label=said["held"]),
        Line2D([], [], **MISSED, label=said["missed"]),
    ]
    look = {"fontsize": TINY, "handlelength": 1.6, "columnspacing": 1.1}
    keys(rest, handles, (1, -0.05), loc="upper right", ncols=3, **look)
    return finish(figure)


def _interval(axes: Axes, x: float, r: dict[str, Any], width: float, *, filled: bool, **mark: Any) -> None:
    if None in (r["estimate"], r["low"], r["high"]):
        return
    axes.vlines(x, r["low"], r["high"], color=FIRST, linewidth=width, zorder=2)
    face = FIRST if filled else PAPER
    axes.plot(x, r["estimate"], linestyle="", color=FIRST, markerfacecolor=face, zorder=3, **mark)


def grid(picture: PictureFacts) -> bytes:
    """A panel for each setting, all on one scale; a short line where the true difference is."""
    records = picture.data.records()
    groups = list(dict.fromkeys(str(r["group"]) for r in records))
    down = -(-len(groups) // ACROSS)
    height = down * (PANEL + GAP) + 0.35
    figure, top, total = canvas(height, picture)
    reach = 1.18 * max(abs(r[k]) for r in records for k in ("low", "high"))
    wide = (0.985 - LEFT / WIDTH) / ACROSS
    for i, group in enumerate(groups):
        y, x = divmod(i, ACROSS)
        bottom = top - ((y + 1) * (PANEL + GAP) - 0.25) / total
        axes: Axes = figure.add_axes((LEFT / WIDTH + x * wide, bottom, wide * 0.9, PANEL / total))
        axes.axhline(0, **DASHED)
        own = [r for r in records if str(r["group"]) == group]
        for at, r in enumerate(own):
            axes.hlines(r["truth"], at - 0.32, at + 0.32, color=SECOND, linewidth=2, zorder=1.5)
            _interval(axes, at, r, 1.6, filled=True, marker="o", markersize=4.5)
            axes.annotate(
                f"{r['share']:.0f}", (at, 1), (0, -2), xycoords=("data", "axes fraction"),
                textcoords="offset points", ha="center", va="top", size=TINY, color=MUTED,
            )  # fmt: skip
        axes.set_title("\n".join(textwrap.wrap(group, 27)), size=SMALL, loc="left", pad=4)
        axes.set_xlim(-0.6, len(own) - 0.4)
        axes.set_ylim(-reach, reach * 1.12)
        axes.set_xticks(range(len(own)), [str(r["label"]) for r in own])
        quiet(axes, grid="y")
        if x:
            axes.tick_params(labelleft=False)
        else:
            axes.set_ylabel(picture.y, size=SMALL)
    said = picture.options["keys"]
    handles = [
        Line2D([], [], color=FIRST, linewidth=1.6, marker="o", markersize=4.5, label=said["typical"]),
        Line2D([], [], color=SECOND, linewidth=2, label=said["truth"]),
    ]
    keys(figure, handles, (LEFT / WIDTH - 0.01, 0.06 / total), ncols=2)
    return finish(figure)


DRAWERS = {"what_if": what_if, "what_if_grid": grid}

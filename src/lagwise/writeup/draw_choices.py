"""The estimate under many plans, sorted, with the choices of each plan below it."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from lagwise.core.numbers import MOST, decimals, fixed
from lagwise.document.colours import FIRST, INK, MUTED, PALE, PAPER, SECOND
from lagwise.findings import PictureFacts
from lagwise.say.report.figures import KEYS as SAID
from lagwise.writeup.draw_numbers import floats
from lagwise.writeup.style import COLOURS, DASHED, SMALL, TINY, WIDTH, canvas, finish, keys, quiet

CURVE, ROW, APART, GAP = 2.3, 0.165, 0.29, 0.2
"""Inches: height of the curve, of one level of a choice, of one other question, and between the parts."""
LEFT, RIGHT = 0.29, 0.895
KEYS = 0.32
OPEN = "#d5dbdf"


def specifications(picture: PictureFacts) -> bytes:
    """Sorted estimates with intervals; below, a mark for every level of every choice that a plan takes, with
    the median estimate under that level; below that, other questions apart.

    Rows of the data with `x` are plans: x, estimate, low, high, primary and one column per name in the option
    `choices`. Rows without are other questions with a `label`. The option `heads` holds what is written
    beside the name of each choice.
    """
    records = picture.data.records()
    plans, apart = [r for r in records if r["x"] is not None], [r for r in records if r["x"] is None]
    levels = _levels(picture, plans)
    below = ROW * (len(levels) + len({choice for choice, _ in levels}))
    foot = 0.38 + (APART * len(apart) + 0.75 if apart else 0.12)
    height = KEYS + CURVE + GAP + below + foot
    figure, top, total = canvas(height, picture)

    def part(above: float, high: float) -> Axes:
        """Axes that begin so many inches below the heading."""
        axes: Axes = figure.add_axes((LEFT, top - (above + high) / total, RIGHT - LEFT, high / total))
        return axes

    curve, grid = part(KEYS, CURVE), part(KEYS + CURVE + GAP, below)
    _curve(curve, picture, plans)
    _grid(grid, picture, plans, levels)
    grid.set_xlim(curve.get_xlim())
    _keys(figure, top, any(r["primary"] for r in plans))
    if apart:
        _apart(part(KEYS + CURVE + GAP + below + 0.75, APART * len(apart)), picture, apart)
    return finish(figure)


def _levels(picture: PictureFacts, plans: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """(choice, level) in the order shown; choices that leave nothing to choose are left out."""
    found = [(c, list(dict.fromkeys(str(r[c]) for r in plans))) for c in picture.options["choices"]]
    return [(choice, level) for choice, names in found if len(names) > 1 for level in sorted(names)]


def _curve(axes: Axes, picture: PictureFacts, plans: list[dict[str, Any]]) -> None:
    x, mid, low, high = (floats(plans, c) for c in ("x", "estimate", "low", "high"))
    clear = (low > 0) | (high < 0)
    width = _width(len(x), 2.0)
    for rows, colour in ((~clear, OPEN), (clear, PALE)):
        axes.vlines(x[rows], low[rows], high[rows], color=colour, linewidth=width)
    axes.plot(x, mid, linestyle="", marker="o", markersize=max(1.4, 1.2 * width), color=INK)
    axes.axhline(0, **DASHED)
    for r in plans:
        if r["primary"]:
            axes.vlines(r["x"], r["low"], r["high"], color=SECOND, linewidth=2)
            axes.plot(r["x"], r["estimate"], marker="D", markersize=6, color=SECOND, markeredgecolor=PAPER)
    axes.set_ylabel(picture.y)
    axes.set_xticklabels([])
    axes.margins(x=0.015)
    quiet(axes, grid="y")


def _grid(
    axes: Axes, picture: PictureFacts, plans: list[dict[str, Any]], levels: list[tuple[str, str]]
) -> None:
    heads: dict[str, str] = picture.options["heads"]
    x, mid = floats(plans, "x"), floats(plans, "estimate")
    y, seen = 0, ""
    width = _width(len(x), 2.4)
    places = next((decimals(r["low"], r["high"]) for r in plans if r["primary"]), MOST)
    left = -LEFT / (RIGHT - LEFT) + 0.02
    for choice, level in levels:
        if choice != seen:
            _write(axes, choice, left, y, ha="left", weight="bold")
            _write(axes, heads.get(choice, ""), 0.006, y, ha="left", size=TINY, color=MUTED)
            y, seen = y + 1, choice
        here = np.array([str(r[choice]) == level for r in plans])
        axes.vlines(x[here], y - 0.36, y + 0.36, color=FIRST, linewidth=width)
        _write(axes, level, -0.008, y)
        _write(axes, fixed(float(np.median(mid[here])), places), 1.075, y)
        y += 1
    _write(axes, "median", 1.075, 0, size=TINY, color=MUTED)
    axes.set_ylim(y - 0.4, -0.6)
    axes.set_yticks([])
    axes.set_xlabel(picture.x)
    quiet(axes, grid="x")
    axes.grid(visible=False)


def _write(axes: Axes, text: str, x: float, y: float, **look: Any) -> None:
    """Text at a share of the axes' width and a row of the data."""
    placed: dict[str, Any] = {"ha": "right", "va": "center", "size": SMALL, "color": INK} | look
    axes.annotate(text, (x, y), xycoords=("axes fraction", "data"), **placed)


def _width(plans: int, most: float) -> float:
    """Line width in points at which neighbouring plans just touch."""
    return min(most, 1.05 * 72 * WIDTH * (RIGHT - LEFT) / max(1, plans))


def _apart(axes: Axes, picture: PictureFacts, apart: list[dict[str, Any]]) -> None:
    left = -LEFT / (RIGHT - LEFT) + 0.02
    axes.set_title(SAID["others"], loc="left", x=left, size=SMALL, weight="bold", color=INK, pad=6)
    for y, r in enumerate(apart):
        axes.hlines(y, r["low"], r["high"], color=COLOURS[3], linewidth=1.3)
        axes.plot(r["estimate"], y, marker="s", markersize=4.5, color=COLOURS[3], markerfacecolor=PAPER)
    axes.axvline(0, **DASHED)
    axes.set_ylim(len(apart) - 0.4, -0.6)
    axes.set_yticks(range(len(apart)), [textwrap.fill(str(r["label"]), 32) for r in apart])
    axes.set_xlabel(picture.y)
    quiet(axes, grid="x")


def _keys(figure: Figure, top: float, own: bool) -> None:
    handles = [
        Line2D([], [], color=PALE, linewidth=4, label="interval leaves out 0"),
        Line2D([], [], color=OPEN, linewidth=4, label="interval includes 0"),
    ]
    if own:
        handles.append(
            Line2D([], [], color=SECOND, marker="D", markersize=6, linewidth=2, label=SAID["plan"])
        )
    keys(figure, handles, (LEFT - 0.005, top), loc="upper left", ncols=3)


DRAWERS = {"specifications": specifications}

"""The picture of the answer: the outcome's whole scale against an exposure, to be read on a phone."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FixedLocator, MaxNLocator, NullLocator

from lagwise.document.colours import BAND, FIRST, INK, MUTED, PALE, PAPER
from lagwise.findings import PictureFacts
from lagwise.writeup.draw_numbers import floats
from lagwise.writeup.style import canvas, finish, keys, quiet

NARROW, SMALLEST = 4.8, 3.6
"""Inches across of the picture and of its smaller kind."""
PLOT = {False: 2.75, True: 1.9}
LOADS = (10, 15, 25, 35, 50, 70, 100, 140, 200, 300, 400, 600, 1000)
"""Percent of the usual load that may be named on the axis."""
GOLDEN = 0.6180339887
WRAP = 36
"""Characters of the outcome that stand in one line beside its axis."""


def answer(picture: PictureFacts) -> bytes:
    """Marks of single steps, means of bands with intervals, the model's line with its band, and the important
    change around the level at the usual.
    """
    o = picture.options
    of = {w: [r for r in picture.data.records() if r["what"] == w] for w in ("step", "band", "line")}
    small = bool(o["small"])
    width, size = (SMALLEST, 8.5) if small else (NARROW, 9.5)
    handles = _keys(o["labels"], of)
    across_it = textwrap.wrap(picture.x, 44 if small else 56) or [""]
    foot = 0.55 + 0.18 * len(handles) + 0.16 * (len(across_it) - 1)
    figure, top, total = canvas(PLOT[small] + foot, picture, width)
    left = (0.72 if small or len(picture.y) > WRAP else 0.6) / width
    axes = figure.add_axes((left, foot / total, 0.95 - left, top - foot / total))
    across = np.log if o["percent"] else np.asarray
    low, high, level, usual = (float(o[k]) for k in ("low", "high", "level", "usual"))
    span = _span(of, across)
    axes.axhspan(max(level - o["important"], low), min(level + o["important"], high), color=BAND, zorder=0)
    axes.axvline(float(across(usual)), color=MUTED, linewidth=0.8, linestyle=(0, (4, 2)), zorder=1)
    _steps(axes, across(floats(of["step"], "x")), floats(of["step"], "outcome"), (low, high))
    x, mid, lower, upper = (floats(of["line"], c) for c in ("x", "outcome", "low", "high"))
    axes.fill_between(across(x), lower, upper, color=FIRST, alpha=0.22, linewidth=0, zorder=3)
    axes.plot(across(x), mid, color=FIRST, linewidth=2, zorder=4)
    x, mid, lower, upper = (floats(of["band"], c) for c in ("x", "outcome", "low", "high"))
    axes.vlines(across(x), lower, upper, color=INK, linewidth=1.2, zorder=5)
    axes.plot(
        across(x), mid, "o", markersize=4.5 if small else 5.5, markerfacecolor=PAPER, markeredgecolor=INK,
        markeredgewidth=1.3, zorder=6,
    )  # fmt: skip
    room = 0.02 * (high - low)
    axes.set_ylim(low - room, high + room)
    axes.set_xlim(*span)
    quiet(axes, grid="y")
    axes.spines["bottom"].set_visible(True)
    axes.set_xlabel("\n".join(across_it), size=size)
    axes.set_ylabel(textwrap.fill(picture.y, 24 if small else WRAP), size=size)
    axes.tick_params(labelsize=size)
    axes.yaxis.set_major_locator(
        FixedLocator([low, (low + high) / 2, high]) if small else MaxNLocator(6, integer=high - low >= 4)
    )
    _name(axes, span, usual, bool(o["percent"]))
    look = {"fontsize": size - 0.5, "handlelength": 1.5, "labelspacing": 0.3, "borderpad": 0}
    keys(figure, handles, (0.02, 0.06 / total), **look)
    return finish(figure)


def _span(of: dict[str, list[dict[str, Any]]], across: Any) -> tuple[float, float]:
    """Ends of the axis: all bands and the line, and all but a hundredth of the steps at either end."""
    told = across(np.concatenate([floats(of["band"], "x"), floats(of["line"], "x")]))
    steps = across(floats(of["step"], "x"))
    ends = [*told, *(np.quantile(steps, [0.01, 0.99]) if len(steps) else ())]
    room = 0.04 * (max(ends) - min(ends)) or 1.0
    return min(ends) - room, max(ends) + room


def _steps(axes: Axes, x: np.ndarray, y: np.ndarray, scale: tuple[float, float]) -> None:
    """A light mark for each step, moved a little up or down so that equal ratings do not hide each other."""
    apart = (np.arange(len(y)) * GOLDEN % 1 - 0.5) * 0.03 * (scale[1] - scale[0])
    axes.plot(x, np.clip(y + apart, *scale), "o", markersize=2.4, color=PALE, markeredgewidth=0, zorder=2)


def _name(axes: Axes, span: tuple[float, float], usual: float, percent: bool) -> None:
    """Ticks of the exposure: percents of the usual load, else round distances, the usual itself in words."""
    if percent:
        at = [p for p in LOADS if span[0] <= np.log(p) <= span[1]]
        while len(at) > 7:
            at = [p for i, p in enumerate(at) if (i - at.index(100)) % 2 == 0]
        axes.xaxis.set_major_locator(FixedLocator([float(np.log(p)) for p in at]))
        axes.xaxis.set_minor_locator(NullLocator())
        axes.set_xticklabels([f"{p}" for p in at])
        return
    axes.xaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10], min_n_ticks=3))
    axes.xaxis.set_major_formatter(
        lambda v, _: "usual" if abs(v) < 1e-9 else f"{v:+g}".replace("-", "\u2212")
    )


def _keys(labels: dict[str, str], of: dict[str, list[dict[str, Any]]]) -> list[Any]:
    """What each mark is, where there is one."""
    made = {
        "step": {"linestyle": "", "marker": "o", "markersize": 3.5, "color": PALE},
        "band": {"color": INK, "marker": "o", "markersize": 5, "markerfacecolor": PAPER, "linewidth": 1.2},
        "line": {"color": FIRST, "linewidth": 2},
    }
    change = Patch(facecolor=BAND, edgecolor=MUTED, linewidth=0.4, label=labels["important"])
    return [*(Line2D([], [], label=labels[w], **look) for w, look in made.items() if of[w]), change]  # type: ignore[arg-type]


DRAWERS = {"answer": answer}

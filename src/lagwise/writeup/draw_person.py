"""The picture of one person's page: the rating asked about, load and effort on one time axis."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from lagwise.document.colours import BAND, FIRST, GRID, INK, MUTED, PALE, SECOND
from lagwise.findings import PictureFacts
from lagwise.writeup.draw_courses import LEVELS, Scale
from lagwise.writeup.style import HOLLOW, SMALL, TEXT, WIDTH, canvas, finish, keys, mark, quiet, whole_steps

PANELS = {"rating": 1.4, "load": 0.75, "effort": 0.62}
NARROW, NAME, FOOT, LEFT, ROW = 3.9, 0.36, 0.62, 0.34, 0.17
"""Inches: across where it is read on a phone, above a panel, below all, at their left, of a row of keys."""
KEYS = 4
"""Keys that stand in one row below a wide picture; of more, three do."""


def course(picture: PictureFacts) -> bytes:
    """Panels of one person's ratings, load and effort above each other; one without any value is left out."""
    steps, _, *values = (np.array(column) for column in list(zip(*picture.data.rows, strict=True))[:5])
    step = steps + 1.0
    series = dict(zip(PANELS, (v.astype(float) for v in values), strict=True))
    shown = [name for name in PANELS if name == "rating" or np.isfinite(series[name]).any()]
    handles = _handles(picture, shown)
    narrow = bool(picture.options.get("narrow"))
    width, across = (NARROW, 1) if narrow else (WIDTH, KEYS if len(handles) <= KEYS else 3)
    foot = FOOT + ROW * (math.ceil(len(handles) / across) - 1)
    height = sum(PANELS[name] + NAME for name in shown) + foot
    figure, _, total = canvas(height, picture, width)
    scale = Scale.of(picture)
    names = {
        "rating": f"{scale.asked[:1].upper()}{scale.asked[1:]} ({scale.at(0)} to {scale.at(10)})",
        "load": str(picture.options["load"]),
        "effort": "Effort (0 to 10)",
    }
    head = height
    for name in shown:
        head -= PANELS[name] + NAME
        axes = figure.add_axes(
            (LEFT / width, head / total, (width - LEFT - 0.12) / width, PANELS[name] / total),
            xlim=(0.4, len(step) + 0.6),
        )
        quiet(axes, grid="y")
        axes.spines["bottom"].set_visible(True)
        _DRAW[name](axes, picture, step, series[name])
        whole_steps(axes)
        axes.tick_params(labelbottom=name == shown[-1])
        figure.text(0.05 / width, (head + PANELS[name] + 0.22) / total, names[name], va="center", size=TEXT)
    axes.set_xlabel(picture.x, fontsize=SMALL)
    if handles:
        at = (0.05 / width, 0.02 / total)
        keys(figure, handles, at, ncols=across, handlelength=1.4, columnspacing=1.3)
    return finish(figure)


def _rating(axes: Axes, picture: PictureFacts, step: np.ndarray, rated: np.ndarray) -> None:
    scale = Scale.of(picture)
    tenths = scale.tenths(rated)
    axes.set(ylim=(-0.4, 11.6), yticks=LEVELS, yticklabels=[scale.at(v) for v in LEVELS])
    for start, number in picture.options.get("cuts", ()):
        axes.axvline(start + 0.5, color=MUTED, linewidth=0.9, linestyle=(0, (3, 2)), zorder=1)
        axes.annotate(
            number, (start + 0.5, 1.0), xytext=(0, 1.5), xycoords=("data", "axes fraction"),
            textcoords="offset points", ha="center", va="bottom", fontsize=SMALL, color=INK,
        )  # fmt: skip
    for first, last, mean in picture.options.get("means", ()):
        level = float(scale.tenths(np.array([mean]))[0])
        axes.plot([first + 0.6, last + 1.4], [level, level], color=FIRST, linewidth=2.2, alpha=0.8, zorder=2)
    axes.plot(step, tenths, color=INK, linewidth=1.3, marker="o", markersize=3.2, clip_on=False, zorder=3)
    begun, told = _marks(picture, "flare"), _marks(picture, "reported")
    axes.scatter(
        step[begun], np.full(begun.sum(), 11.1), marker="v", s=34, color=SECOND, zorder=4, linewidth=0
    )
    at = np.where(np.isfinite(tenths), tenths, 0.0)
    axes.scatter(
        step[told], at[told], marker="o", s=62, facecolor="none", edgecolor=SECOND, linewidth=1.3, zorder=5
    )


def _load(axes: Axes, picture: PictureFacts, step: np.ndarray, load: np.ndarray) -> None:
    top = float(np.nanmax([*load, *_usual(picture)])) or 1.0
    state = np.array(picture.data.column("state"))
    unknown = state == "unknown"
    axes.set_ylim(0, 1.08 * top)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=3, integer=top >= 3))
    axes.bar(
        step[unknown], np.full(unknown.sum(), 1.08 * top), width=1.0, color=BAND, linewidth=0, zorder=0.4
    )
    known = np.isfinite(load)
    axes.bar(step[known], np.maximum(load[known], 0.02 * top), width=0.8, color=PALE, linewidth=0, zorder=2)
    usual = _usual(picture)
    told = np.isfinite(usual)
    axes.plot(step[told], usual[told], color=INK, linewidth=1.1, zorder=3)


def _effort(axes: Axes, picture: PictureFacts, step: np.ndarray, effort: np.ndarray) -> None:
    axes.set(ylim=(-0.4, 10.6), yticks=(0, 5, 10))
    axes.plot(step, effort, color=FIRST, linewidth=1.1, marker="s", markersize=2.6, clip_on=False, zorder=3)


_DRAW = {"rating": _rating, "load": _load, "effort": _effort}


def _handles(picture: PictureFacts, shown: list[str]) -> list[Any]:
    out: list[Any] = []
    if _marks(picture, "flare").any():
        out.append(mark("v", 6, str(picture.options["begins"]), color=SECOND))
    if _marks(picture, "reported").any():
        out.append(mark("o", 7, str(picture.options["reported"]), **HOLLOW))
    if picture.options.get("cuts"):
        told = str(picture.options["changed"])
        out.append(Line2D([], [], color=MUTED, linewidth=0.9, linestyle=(0, (3, 2)), label=told))
    if picture.options.get("means"):
        out.append(Line2D([], [], color=FIRST, linewidth=2.2, alpha=0.8, label=str(picture.options["mean"])))
    states = set(picture.data.column("state"))
    if "load" in shown and "unknown" in states:
        out.append(
            Patch(facecolor=BAND, edgecolor=GRID, linewidth=0.5, label=str(picture.options["unknown"]))
        )
    if "load" in shown and np.isfinite(_usual(picture)).any():
        out.append(Line2D([], [], color=INK, linewidth=1.1, label=str(picture.options["usual"])))
    if "load" in shown and "rest" in states:
        out.append(Line2D([], [], color=PALE, linewidth=2, label="rest"))
    return out


def _usual(picture: PictureFacts) -> np.ndarray:
    """The usual load of each step, NaN where it is not known; older pictures hold none."""
    found = picture.data.column("usual") or [None] * len(picture.data)
    return np.array(found, dtype=float)


def _marks(picture: PictureFacts, name: str) -> np.ndarray:
    return np.array([bool(v) for v in picture.data.column(name)], dtype=bool)


DRAWERS = {"course": course}

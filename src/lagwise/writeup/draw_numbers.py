"""Figures of estimates and counts: intervals, histogram, curve, columns and points."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from lagwise.document.colours import BAND, FIRST, INK, MUTED, PALE, PAPER, SECOND
from lagwise.document.settle import squeezed
from lagwise.findings import PictureFacts
from lagwise.say.report.figures import KEYS
from lagwise.writeup.style import (
    COLOURS,
    DASHED,
    MARKERS,
    SMALL,
    TEXT,
    TINY,
    canvas,
    finish,
    keys,
    mark,
    quiet,
    whole_steps,
)  # fmt: skip

NAMES_UP_TO = 45
TALLEST = 6.4
"""Inches that rows of more people than can be named take together."""


def intervals(picture: PictureFacts) -> bytes:
    """Estimates with intervals, one row per label, one mark per group; the primary one is larger and bold."""
    records = picture.data.records()
    labels = list(dict.fromkeys(str(r["label"]) for r in records))
    groups = list(dict.fromkeys(str(r.get("group") or "") for r in records))
    named = len(labels) <= NAMES_UP_TO
    row = _row(len(labels), len(groups)) if named else min(0.1, TALLEST / len(labels))
    primary = {str(r["label"]) for r in records if r.get("primary")}
    handles = _interval_keys(picture, groups, bool(primary) and len(records) > 1)
    foot = room_below(handles)
    height = row * len(labels) + foot + 0.15
    figure, top, total = canvas(height, picture)
    wrapped = {label: _wrapped(label, len(labels)) for label in labels}
    longest = max(len(line) for text in wrapped.values() for line in text.splitlines()) if named else 4
    left, bottom = min(0.4, 0.03 + 0.0107 * longest), foot / total
    axes = figure.add_axes((left, bottom, 0.975 - left, top - bottom - 0.03 / total))
    reference(axes, picture, vertical=True)
    spread = 0.5 / max(1, len(groups))
    size = 5.0 if len(labels) <= 15 else 3.0 if named else 1.4
    for at, group in enumerate(groups):
        shift = (at - (len(groups) - 1) / 2) * spread
        own = [r for r in records if str(r.get("group") or "") == group]
        for lead in (False, True):
            some = [r for r in own if bool(r.get("primary")) == lead]
            ys = np.array([labels.index(str(r["label"])) + shift for r in some])
            width = 2.4 if lead else 1.3 if named else 0.7
            _interval(axes, some, ys, at, width=width, size=7.5 if lead and len(labels) <= 15 else size)
    axes.set_ylim(len(labels) - 0.45, -0.55)
    if "span" in picture.options:
        axes.set_xlim(*picture.options["span"])
    if "clip" in picture.options:
        _clip(axes, picture.options["clip"])
    axes.set_xlabel(picture.x)
    quiet(axes, grid="x")
    axes.set_yticks(range(len(labels)) if named else [])
    if named:
        for tick, label in zip(axes.set_yticklabels([wrapped[v] for v in labels]), labels, strict=True):
            tick.set_fontweight("bold" if label in primary else "normal")
            tick.set_fontsize(TINY if len(labels) > 15 else TEXT)
    else:
        axes.set_ylabel(picture.y)
    low_legend(figure, handles, total)
    return finish(figure)


def _row(labels: int, groups: int) -> float:
    """Inches per label: tighter when there are many."""
    return 0.22 + 0.13 * groups if labels <= 15 else 0.065 + 0.05 * groups


def _wrapped(label: str, labels: int) -> str:
    """A label over lines that fit beside a row, one line where there are many; long words, as codes can be,
    are squeezed.
    """
    if labels > 15:
        return squeezed(label, 34)
    return textwrap.fill(" ".join(squeezed(word, 24) for word in label.split(" ")), 34)


def _clip(axes: Axes, span: list[float]) -> None:
    """Show twice the width of `span`; intervals that reach further run off the edge."""
    low, high = span
    room = (high - low) / 2
    shown = axes.get_xlim()
    axes.set_xlim(max(shown[0], low - room), min(shown[1], high + room))


def _interval_keys(picture: PictureFacts, groups: list[str], primary: bool) -> list[Any]:
    handles: list[Any] = [key(i, name) for i, name in enumerate(groups)] if len(groups) > 1 else []
    if primary:
        handles.append(mark("o", 7.5, KEYS["primary"], color=FIRST))
    if "band" in picture.options:
        label = str(picture.options.get("band_label", "practically zero"))
        handles.append(Patch(facecolor=BAND, edgecolor=MUTED, linewidth=0.4, label=label))
    return handles


def room_below(handles: list[Any]) -> float:
    """Inches below the plot: axis label and, where there is one, the legend."""
    return 0.8 if handles else 0.5


def key(index: int, name: str) -> Line2D:
    """The legend's mark of the group at a place."""
    return Line2D(
        [], [], color=COLOURS[index % 4], marker=MARKERS[index % 4], markersize=5, linewidth=1.3,
        markerfacecolor=COLOURS[index % 4] if index % 2 == 0 else PAPER, label=name,
    )  # fmt: skip


def _interval(
    axes: Axes, records: list[dict[str, Any]], y: np.ndarray, at: int, *, width: float, size: float
) -> None:
    """Intervals as lines and estimates as marks, one row each; what is not known is not drawn."""
    colour = COLOURS[at % 4]
    mid, low, high = (floats(records, c) for c in ("estimate", "low", "high"))
    whole = np.isfinite(low) & np.isfinite(high)
    axes.hlines(y[whole], low[whole], high[whole], color=colour, linewidth=width)
    axes.plot(
        mid, y, marker=MARKERS[at % 4], markersize=size, color=colour, linestyle="",
        markerfacecolor=colour if at % 2 == 0 else PAPER, markeredgewidth=min(1.3, size / 2),
    )  # fmt: skip


def histogram(picture: PictureFacts) -> bytes:
    """A distribution of values with the study's own value marked."""
    values = np.array([v for v in picture.data.column("value") if v is not None], dtype=float)
    told = picture.options
    handles = [
        Patch(facecolor=PALE, label=str(told.get("values_label", f"{len(values)} values"))),
        Line2D([], [], color=SECOND, linewidth=2, label=str(told.get("mark_label", "this study"))),
    ]
    figure, axes, total = frame(picture, 2.5, handles)
    bins = int(np.clip(np.sqrt(len(values)) * 1.3, 8, 50)) if len(values) else 8
    axes.hist(values, bins=bins, color=PALE, edgecolor=PAPER, linewidth=0.5)
    axes.axvline(told["mark"], color=SECOND, linewidth=2)
    reference(axes, picture, vertical=True)
    quiet(axes, grid="y")
    low_legend(figure, handles, total)
    return finish(figure)


def curve(picture: PictureFacts) -> bytes:
    """A curve with its interval as a band; few points each with its own interval."""
    records = picture.data.records()
    figure, axes, _ = frame(picture, 2.9, [])
    reference(axes, picture, vertical=False)
    x, mid, low, high = (floats(records, c) for c in ("x", "estimate", "low", "high"))
    if len(records) <= 15:
        axes.vlines(x, low, high, color=FIRST, linewidth=1.3)
        axes.plot(x, mid, color=FIRST, marker="o", markersize=5, linewidth=0.9, linestyle=":")
        if np.all(x == np.round(x)):
            whole_steps(axes)
    else:
        axes.fill_between(x, low, high, color=FIRST, alpha=0.18, linewidth=0)
        axes.plot(x, mid, color=FIRST, linewidth=1.8)
    if "span" in picture.options:
        axes.set_ylim(*picture.options["span"])
    quiet(axes, grid="y")
    return finish(figure)


def follow(picture: PictureFacts) -> bytes:
    """Means with intervals by steps from an event, the course expected without it, on the whole scale."""
    told, records = picture.options, picture.data.records()
    handles = [key(0, str(told["observed"])), key(1, str(told["expected"]))]
    figure, axes, total = frame(picture, 1.8, handles)
    x, value, low, high, expected = (floats(records, c) for c in ("x", "value", "low", "high", "expected"))
    axes.axvspan(0.5, told["first"] + 0.5, color=BAND, linewidth=0, zorder=0)
    axes.axvline(0.5, color=INK, linewidth=1.0, zorder=1)
    axes.annotate(
        str(told["event"]), (0.5, 1.0), (3, -2), xycoords=("data", "axes fraction"),
        textcoords="offset points", size=SMALL, va="top", color=INK,
    )  # fmt: skip
    after, known = x >= 0, np.where(x == 0, value, expected)
    axes.plot(
        x[after], known[after], color=SECOND, linestyle=(0, (4, 2)), marker="s", markersize=4,
        markerfacecolor=PAPER, markevery=slice(1, None), zorder=2,
    )  # fmt: skip
    axes.vlines(x, low, high, color=FIRST, linewidth=1.2, zorder=3)
    axes.plot(x, value, color=FIRST, marker="o", markersize=4.5, zorder=4)
    axes.set(xlim=(x.min() - 0.5, x.max() + 0.5), ylim=(told["low"], told["high"]))
    whole_steps(axes, most=12)
    quiet(axes, grid="y")
    low_legend(figure, handles, total)
    return finish(figure)


def frame(picture: PictureFacts, plot: float, handles: list[Any]) -> tuple[Any, Axes, float]:
    """Figure, axes `plot` inches high with their labels, and the figure's height in inches."""
    foot = room_below(handles) + 0.03
    height = plot + foot
    figure, top, total = canvas(height, picture)
    axes = figure.add_axes((0.095, foot / total, 0.88, top - (foot + 0.03) / total))
    axes.set_xlabel(picture.x)
    axes.set_ylabel(picture.y)
    return figure, axes, total


def reference(axes: Axes, picture: PictureFacts, *, vertical: bool) -> None:
    """The band and reference line a picture asks for."""
    band, line = picture.options.get("band"), picture.options.get("reference")
    if band:
        (axes.axvspan if vertical else axes.axhspan)(band[0], band[1], color=BAND, zorder=0)
    if line is not None:
        (axes.axvline if vertical else axes.axhline)(line, **DASHED)


def low_legend(figure: Any, handles: list[Any], total: float) -> None:
    """A frameless legend at the foot of the figure."""
    if handles:
        size = SMALL if len(handles) < 5 else TINY
        keys(figure, handles, (0.012, 0.07 / total), ncols=min(4, len(handles)), fontsize=size)


def floats(records: list[dict[str, Any]], column: str) -> np.ndarray:
    """One column of records as floats, missing as NaN."""
    return np.array([np.nan if r.get(column) is None else r[column] for r in records], dtype=float)


DRAWERS = {"intervals": intervals, "histogram": histogram, "curve": curve, "follow": follow}

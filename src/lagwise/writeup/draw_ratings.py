"""Figures of person-steps, ratings and chains: scatters, shares of ratings beside what a model expects, and
draws.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from lagwise.document.colours import BAND, FIRST, INK, PALE, PAPER, SECOND
from lagwise.findings import PictureFacts
from lagwise.say.report.figures import KEYS
from lagwise.writeup.draw_numbers import floats, frame, key, low_legend, reference, room_below
from lagwise.writeup.style import COLOURS, SMALL, TINY, canvas, finish, quiet


def points(picture: PictureFacts) -> bytes:
    """Scatters of x and y, one panel per group on shared axes, with the line that options `lines` give it."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for record in picture.data.records():
        groups.setdefault(str(record["group"]), []).append(record)
    figure, top, total = canvas(3.75, picture)
    left, gap = 0.075, 0.03
    width = (0.985 - left - gap * (len(groups) - 1)) / len(groups)
    first: Axes | None = None
    lines = picture.options.get("lines") or [{}] * len(groups)
    for i, ((name, records), line) in enumerate(zip(groups.items(), lines, strict=True)):
        axes = figure.add_axes(
            (left + i * (width + gap), 0.62 / total, width, top - 1.18 / total), sharex=first, sharey=first
        )
        first = first or axes
        _scatter(axes, records)
        reference(axes, picture, vertical=False)
        slope = _line(axes, floats(records, "x"), line)
        axes.set_title(name[0].upper() + name[1:], loc="left", size=SMALL, weight="bold", color=INK, pad=17)
        axes.annotate(
            f"{slope}{len(records)} dots", (0, 1), xytext=(0, 5), xycoords="axes fraction",
            textcoords="offset points", size=TINY, color=INK,
        )  # fmt: skip
        quiet(axes, grid="y")
        if i:
            axes.tick_params(labelleft=False)
        else:
            axes.set_ylabel(picture.y)
        if "ticks" in picture.options:
            axes.set_xticks(
                [at for at, _ in picture.options["ticks"]], [said for _, said in picture.options["ticks"]]
            )
    figure.text((left + 0.985) / 2, 0.2 / total, picture.x, ha="center", size=9)
    return finish(figure)


def _scatter(axes: Axes, records: list[dict[str, Any]]) -> None:
    x, y = floats(records, "x"), floats(records, "y")
    axes.scatter(
        x, y, s=30 if len(x) < 60 else 14 if len(x) < 400 else 7, color=FIRST, alpha=0.45, linewidth=0
    )


def _line(axes: Axes, x: np.ndarray, line: dict[str, Any]) -> str:
    """The line through the middle with its interval, and its slope in words."""
    if line.get("slope") is None or not len(x):
        return ""
    across = np.linspace(x.min(), x.max(), 50)
    axes.fill_between(
        across, line["low"] * across, line["high"] * across, color=SECOND, alpha=0.22, linewidth=0
    )
    axes.plot(across, line["slope"] * across, color=SECOND, linewidth=2)
    said = f"slope {line['slope']:+.2f} ({line['low']:+.2f} to {line['high']:+.2f}); "
    return said.replace("-", "\u2212")


def shares(picture: PictureFacts) -> bytes:
    """Observed shares as bars, with what a model expects as marks and intervals."""
    records = picture.data.records()
    x, value = floats(records, "x"), floats(records, "value")
    handles = [
        Patch(facecolor=PALE, label=str(picture.options.get("values_label", "observed"))),
        key(1, str(picture.options.get("mark_label", "expected"))),
    ]
    figure, axes, total = frame(picture, 2.7, handles)
    axes.bar(x, value, color=PALE, width=0.72)
    axes.vlines(x, floats(records, "low"), floats(records, "high"), color=SECOND, linewidth=1.6)
    axes.plot(
        x, floats(records, "estimate"), linestyle="", marker="s", markersize=5, color=SECOND,
        markerfacecolor=PAPER, markeredgewidth=1.3,
    )  # fmt: skip
    axes.set_xticks(x)
    axes.set_ylim(bottom=0)
    quiet(axes, grid="y")
    low_legend(figure, handles, total)
    return finish(figure)


def chains(picture: PictureFacts) -> bytes:
    """Draws of one quantity, chain by chain: their course on the left, the histogram of their ranks on the
    right.
    """
    by_chain: dict[int, list[float]] = {}
    for record in picture.data.records():
        by_chain.setdefault(int(record["chain"]), []).append(float(record["value"]))
    draws = np.array(list(by_chain.values()))
    ranks = draws.ravel().argsort().argsort().reshape(draws.shape) / draws.size
    low, high = picture.options["expected"]
    handles = [
        Line2D([], [], color=COLOURS[i % 4], linewidth=2, label=f"chain {n + 1}")
        for i, n in enumerate(by_chain)
    ]
    under = room_below(handles) + 0.03
    figure, top, total = canvas(2.6 + under, picture)
    course = figure.add_axes((0.085, under / total, 0.5, top - (under + 0.08) / total))
    for i, values in enumerate(draws):
        course.plot(np.arange(1, len(values) + 1), values, color=COLOURS[i % 4], linewidth=0.5, alpha=0.75)
    course.set_xlabel("draw")
    course.set_ylabel(picture.y)
    rank = figure.add_axes((0.665, under / total, 0.315, top - (under + 0.08) / total))
    edges = np.linspace(0, 1, picture.options["bins"] + 1)
    rank.axhspan(low, high, color=BAND, zorder=0)
    for i, values in enumerate(ranks):
        rank.stairs(np.histogram(values, edges)[0], edges, baseline=None, color=COLOURS[i % 4], linewidth=1.2)
    rank.set_ylim(0, None)
    rank.set_xticks([0, 0.5, 1], ["lowest", "middle", "highest"])
    rank.set_xlabel(KEYS["rank"])
    rank.set_ylabel(KEYS["draws"])
    quiet(course, grid="y")
    quiet(rank, grid="y")
    low_legend(figure, handles, total)
    return finish(figure)


DRAWERS = {"points": points, "shares": shares, "chains": chains}

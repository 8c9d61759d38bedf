"""How figures look, in one place: sizes, type, and how a figure becomes a deterministic SVG."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Literal

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from lagwise.document.colours import FIRST, FOURTH, GRID, INK, MUTED, PAPER, SECOND, THIRD
from lagwise.findings import PictureFacts
from lagwise.writeup.glyphs import OWN

WIDTH = 7.4
DPI = 96
PIXELS = 2 * DPI
"""Pixels per inch of what is no vector in a figure: cells of many people."""
MARKERS = ("o", "s", "D", "^")
COLOURS = (FIRST, SECOND, THIRD, FOURTH)
TEXT, SMALL, TINY, TITLE = 9.0, 8.0, 7.0, 10.5
DASHED: dict[str, Any] = {"color": MUTED, "linewidth": 1, "linestyle": (0, (4, 2)), "zorder": 1}
"""A line to compare with."""
HOLLOW = {"markerfacecolor": "none", "markeredgecolor": SECOND}

_RC: Any = {
    "font.family": OWN,
    "font.size": TEXT,
    "text.color": INK,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "figure.facecolor": PAPER,
    "xtick.color": MUTED,
    "ytick.color": MUTED,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "svg.hashsalt": "lagwise",
    "svg.fonttype": "path",
    "text.parse_math": False,
}


@contextmanager
def styled(more: Sequence[str] = ()) -> Iterator[None]:
    """The shared style for the duration of a block, with `more` typefaces for signs that its own lacks; the
    caller's settings return afterwards.
    """
    with matplotlib.rc_context({**_RC, "font.family": [_RC["font.family"], *more]}):
        yield


def canvas(height: float, picture: PictureFacts, width: float = WIDTH) -> tuple[Figure, float, float]:
    """A figure, of the shared width where no other is given, with the picture's title and subtitle at the top
    left.

    Returns the figure, `height` inches of it for the plot, the share of the whole at which the plot ends, and
    inches of the whole.
    """
    lines = textwrap.wrap(picture.title, round(82 * width / WIDTH)) or [""]
    notes = textwrap.wrap(str(picture.options.get("subtitle", "")), round(112 * width / WIDTH))
    head = 0.12 + 0.2 * len(lines) + 0.17 * len(notes) + 0.1
    total = height + head
    figure = Figure(figsize=(width, total), dpi=DPI)
    FigureCanvasSVG(figure)
    left = 0.012 * WIDTH / width
    place: dict[str, Any] = {"va": "top", "ha": "left"}
    y = 1 - 0.1 / total
    figure.text(left, y, "\n".join(lines), size=TITLE, weight="bold", linespacing=1.25, **place)
    if notes:
        y = 1 - (0.14 + 0.2 * len(lines)) / total
        figure.text(left, y, "\n".join(notes), size=SMALL, color=MUTED, linespacing=1.35, **place)
    top = height / total
    return figure, top, height / top


def finish(figure: Figure) -> bytes:
    """A figure as SVG, free of dates and random ids, whose axis names end inside it; `lagwise.writeup.raster`
    makes its PNG.
    """
    for axes in figure.axes:
        label, edge = axes.xaxis.label, axes.get_window_extent().width
        beyond = label.get_window_extent().x1 - figure.bbox.x1 + 0.01 * figure.bbox.width
        if label.get_text() and beyond > 0:
            label.set_x(label.get_position()[0] - beyond / edge)
    svg = io.BytesIO()
    figure.savefig(svg, format="svg", dpi=PIXELS, metadata={"Date": None, "Creator": None})
    return svg.getvalue()


def quiet(axes: Axes, *, grid: Literal["x", "y"] = "x") -> None:
    """Light grid lines behind the data, no ticks on the other axis."""
    axes.set_axisbelow(True)
    axes.grid(axis=grid, color=GRID, linewidth=0.7)
    axes.tick_params(length=0)
    axes.spines["left" if grid == "x" else "bottom"].set_visible(grid != "x")


def mark(shape: str, size: float, label: str, **look: Any) -> Line2D:
    """The key of a mark without a line."""
    return Line2D([], [], linestyle="", marker=shape, markersize=size, label=label, **look)


def keys(where: Figure | Axes, handles: list[Any], at: tuple[float, float], **look: Any) -> None:
    """A frameless legend whose lower left corner lies at a place, unless `look` has another."""
    same: dict[str, Any] = {"loc": "lower left", "frameon": False, "fontsize": SMALL, "handlelength": 1.7}
    same |= {"columnspacing": 1.4, "borderaxespad": 0}
    where.legend(handles=handles, bbox_to_anchor=at, **(same | look))


def legend(axes: Axes, handles: list[Any], anchor: tuple[float, float]) -> None:
    """A frameless legend below the data."""
    ncols, apart = (4, 1.6) if len(handles) < 5 else (len(handles), 1.1)
    keys(axes, handles, anchor, loc="upper left", ncols=ncols, handlelength=1.6, columnspacing=apart)


def whole_steps(axes: Axes, most: int = 9) -> None:
    """Ticks of the x axis on whole numbers only."""
    axes.xaxis.set_major_locator(MaxNLocator(nbins=most, integer=True, min_n_ticks=2))

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
from matplotlib.ticker import MaxNLocator

from lagwise.document.colours import FIRST, FOURTH, GRID, INK, MUTED, PAPER, SECOND, THIRD
from lagwise.writeup.glyphs import OWN

WIDTH = 7.4
DPI = 96
PIXELS = 2 * DPI
"""Pixels per inch of what is no vector in a figure: cells of many people."""
MARKERS = ("o", "s", "D", "^")
COLOURS = (FIRST, SECOND, THIRD, FOURTH)
TEXT, SMALL, TINY, TITLE = 9.0, 8.0, 7.0, 10.5

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


def canvas(height: float, title: str, subtitle: str = "", width: float = WIDTH) -> tuple[Figure, float]:
    """A figure, of the shared width where no other is given, with its title and subtitle at the top left.

    Returns the figure, `height` inches of it for the plot, and the share of the whole at which the plot ends.
    """
    lines = textwrap.wrap(title, round(82 * width / WIDTH)) or [""]
    notes = textwrap.wrap(subtitle, round(112 * width / WIDTH)) if subtitle else []
    head = 0.12 + 0.2 * len(lines) + 0.17 * len(notes) + 0.1
    total = height + head
    figure = Figure(figsize=(width, total), dpi=DPI)
    FigureCanvasSVG(figure)
    figure.text(
        0.012 * WIDTH / width,
        1 - 0.1 / total,
        "\n".join(lines),
        va="top",
        ha="left",
        size=TITLE,
        weight="bold",
        linespacing=1.25,
    )
    if notes:
        y = 1 - (0.14 + 0.2 * len(lines)) / total
        figure.text(
            0.012 * WIDTH / width,
            y,
            "\n".join(notes),
            va="top",
            ha="left",
            size=SMALL,
            color=MUTED,
            linespacing=1.35,
        )
    return figure, height / total


def finish(figure: Figure) -> bytes:
    """A figure as SVG, free of dates and random ids; `lagwise.writeup.raster` makes its PNG."""
    svg = io.BytesIO()
    figure.savefig(svg, format="svg", dpi=PIXELS, metadata={"Date": None, "Creator": None})
    return svg.getvalue()


def quiet(axes: Axes, *, grid: Literal["x", "y"] = "x") -> None:
    """Light grid lines behind the data, no ticks on the other axis."""
    axes.set_axisbelow(True)
    axes.grid(axis=grid, color=GRID, linewidth=0.7)
    axes.tick_params(length=0)
    axes.spines["left" if grid == "x" else "bottom"].set_visible(grid != "x")


def legend(axes: Axes, handles: list[Any], anchor: tuple[float, float]) -> None:
    """A frameless legend below the data."""
    axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=anchor,
        ncols=4 if len(handles) < 5 else len(handles), frameon=False, fontsize=SMALL, handlelength=1.6,
        columnspacing=1.6 if len(handles) < 5 else 1.1, borderaxespad=0,
    )  # fmt: skip


def whole_steps(axes: Axes, most: int = 9) -> None:
    """Ticks of the x axis on whole numbers only."""
    axes.xaxis.set_major_locator(MaxNLocator(nbins=most, integer=True, min_n_ticks=2))

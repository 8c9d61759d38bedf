"""Everybody's ratings at once, for caseloads with more people than panels can be looked at."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.colors import LinearSegmentedColormap, ListedColormap, to_hex
from matplotlib.patches import Patch

from lagwise.document.colours import FIRST, GRID, MUTED, PALE, PAPER, SECOND
from lagwise.findings import PictureFacts
from lagwise.writeup.draw_courses import Scale
from lagwise.writeup.style import canvas, finish, legend, mark

TALLEST = 6.0
"""Inches of all rows together."""
SHADES = [
    to_hex(LinearSegmentedColormap.from_list("", ["#e9f0f5", PALE, FIRST, "#0c2a3f"])(i / 4))
    for i in range(5)
]
"""From the lower to the upper end of the scale, a fifth of it each; darkness alone carries the number."""


def pain_map(picture: PictureFacts) -> bytes:
    """One row per person, one cell per step, the darker the higher the rating; a mark where a turn for the
    worse begins.
    """
    import seaborn as sns

    scale = Scale.of(picture)
    rows = pd.DataFrame(picture.data.rows, columns=["person", "step", "rated", "begun"])
    step, begun = rows["step"].to_numpy(), rows["begun"].to_numpy(dtype=bool)
    y, people = pd.factorize(rows["person"])
    shown = np.full((len(people), steps := step.max() + 1), np.nan)
    shown[y, step] = rows["rated"]
    height = min(0.1, TALLEST / len(people)) * len(people) + 0.95
    figure, top, total = canvas(height, picture)
    bottom = 0.78 / total
    axes = figure.add_axes((0.04, bottom, 0.945, top - bottom - 0.01))
    sns.heatmap(
        pd.DataFrame(shown, columns=range(1, steps + 1)), ax=axes, cmap=ListedColormap(SHADES), cbar=False,
        vmin=scale.low, vmax=scale.high, xticklabels=max(1, round(steps / 12)), yticklabels=False,
        rasterized=True,
    )  # fmt: skip
    axes.scatter(
        step[begun] + 0.5, y[begun] + 0.5, marker="o", s=3.2, color=SECOND, linewidth=0, rasterized=True
    )
    axes.set(xlabel=picture.x, ylabel=picture.y)
    axes.tick_params(length=0, labelrotation=0)
    legend(axes, _handles(bool(begun.any()), scale), anchor=(0, -0.42 / total / (top - bottom)))
    return finish(figure)


def _handles(begun: bool, scale: Scale) -> list[Any]:
    names = [
        f"{scale.at(2 * i)} to {scale.at(2 * i + 2)}{f' {scale.unit}' if i == 4 else ''}" for i in range(5)
    ]
    out: list[Any] = [
        Patch(facecolor=c, edgecolor=GRID, linewidth=0.4, label=n) for c, n in zip(SHADES, names, strict=True)
    ]
    out.append(Patch(facecolor=PAPER, edgecolor=MUTED, linewidth=0.4, label="no rating"))
    if begun:
        out.append(mark("o", 3.5, scale.turn, color=SECOND))
    return out


DRAWERS = {"pain_map": pain_map}

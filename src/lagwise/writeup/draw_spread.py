"""Figures of how values are spread, by seaborn: counts of steps by value, bars of each person's values."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.ticker import MaxNLocator

from lagwise.document.colours import FIRST, INK, PALE
from lagwise.document.settle import squeezed
from lagwise.findings import PictureFacts
from lagwise.writeup.style import SMALL, TEXT, TINY, canvas, finish, quiet

ACROSS = 3
CELL = 1.75
"""Panels beside each other, and inches from one row of them to the next."""
LABEL = 10


def distributions(picture: PictureFacts) -> bytes:
    """One histogram per variable, each on its own axes."""
    import seaborn as sns

    by_label: dict[str, list[dict[str, Any]]] = {}
    for record in picture.data.records():
        by_label.setdefault(str(record["label"]), []).append(record)
    across = min(ACROSS, len(by_label))
    down = math.ceil(len(by_label) / across)
    figure, top, total = canvas(down * CELL + 0.1, picture)
    left, width = 0.075, (0.985 - 0.075) / across
    for i, (label, records) in enumerate(by_label.items()):
        foot = top - ((i // across + 1) * CELL - 0.48) / total
        axes = figure.add_axes((left + (i % across) * width, foot, 0.84 * width, (CELL - 0.8) / total))
        low, high = (np.array([r[k] for r in records], dtype=float) for k in ("low", "high"))
        edges = np.arange(low.min(), high.max() + (high - low).min() / 2, (high - low).min())
        sns.histplot(
            x=(low + high) / 2, weights=[r["n"] for r in records], bins=edges.tolist(), ax=axes, color=FIRST,
            alpha=1, edgecolor="white", linewidth=0.6,
        )  # fmt: skip
        axes.set_title(label[:1].upper() + label[1:], loc="left", size=TEXT, weight="bold", pad=6)
        axes.set_xlabel(str(records[0]["unit"]), size=SMALL)
        axes.set_ylabel(picture.y if i % across == 0 else "", size=SMALL)
        axes.yaxis.set_major_locator(MaxNLocator(4, integer=True))
        quiet(axes, grid="y")
    return finish(figure)


def each_spread(picture: PictureFacts) -> bytes:
    """One row per person: a bar over the middle half, a stroke at the median, and a dot for each step."""
    import seaborn as sns

    records = picture.data.records()
    people = list(dict.fromkeys(str(r["person"]) for r in records))
    data = {"value": [float(r["value"]) for r in records], "person": [str(r["person"]) for r in records]}
    row = 0.24 if len(people) <= 24 else 0.125
    figure, top, total = canvas(row * len(people) + 0.6, picture)
    left = 0.06 + 0.0105 * max(len(squeezed(p, LABEL)) for p in people)
    axes = figure.add_axes((left, 0.5 / total, 0.985 - left, top - 0.55 / total))
    wide = len(people) <= 24
    same: dict[str, Any] = {"x": "value", "y": "person", "order": people, "ax": axes}
    point = {"estimator": "median", "linestyle": "none"}
    bar = {"linewidth": 9 if wide else 5, "solid_capstyle": "butt"}
    sns.pointplot(data, **same, **point, color=PALE, errorbar=("pi", 50), marker="", err_kws=bar)
    sns.pointplot(
        data, **same, **point, color=INK, errorbar=None, marker="|", markersize=11 if wide else 6,
        markeredgewidth=1.8, zorder=3,
    )  # fmt: skip
    sns.stripplot(data, **same, color=FIRST, alpha=0.5, jitter=False, zorder=2.5, size=4 if wide else 2.5)
    axes.set_yticks(range(len(people)), [squeezed(p, LABEL) for p in people], size=SMALL if wide else TINY)
    axes.set_xlabel(picture.x)
    axes.set_ylabel("")
    quiet(axes, grid="x")
    return finish(figure)


DRAWERS = {"distributions": distributions, "each_spread": each_spread}

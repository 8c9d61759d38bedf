"""Figures of who was recorded when and of each person's course."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.collections import PatchCollection
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from lagwise.writeup.findings import PictureFacts
from lagwise.writeup.style import (
    BAND,
    FIRST,
    GRID,
    INK,
    MUTED,
    PALE,
    PAPER,
    SECOND,
    SMALL,
    TINY,
    Drawn,
    canvas,
    finish,
    legend,
    quiet,
    whole_steps,
)  # fmt: skip

NAMED_UP_TO = 60


def coverage(picture: PictureFacts) -> Drawn:
    """One row per person, one cell per step: trained, rest or unknown, with a mark where pain was rated."""
    by_person = _grouped(picture)
    people = list(by_person)
    row = 0.17 if len(people) <= NAMED_UP_TO else max(0.045, 9.0 / len(people))
    height = row * len(people) + 0.95
    figure, top = canvas(height, picture.title, str(picture.options.get("subtitle", "")))
    bottom = 0.78 / (height / top)
    left = 0.05 + 0.0095 * max((len(_short(p)) for p in people), default=1) if len(people) <= NAMED_UP_TO else 0.04
    axes = figure.add_axes((left, bottom, 0.985 - left, top - bottom - 0.01))
    cells: dict[str, list[Rectangle]] = {"trained": [], "rest": [], "unknown": []}
    dots: list[tuple[float, float]] = []
    for y, person in enumerate(people):
        for record in by_person[person]:
            x = int(record["step"])
            cells[record["state"]].append(Rectangle((x + 0.54, y - 0.4), 0.92, 0.8))
            if record["ratings"]:
                dots.append((x + 1, y))
    axes.add_collection(PatchCollection(cells["trained"], facecolor=FIRST, edgecolor="none"))
    axes.add_collection(PatchCollection(cells["rest"], facecolor=PALE, edgecolor="none"))
    axes.add_collection(PatchCollection(cells["unknown"], facecolor=PAPER, edgecolor=GRID, linewidth=0.6))
    if dots:
        x, y = np.array(dots).T
        axes.scatter(
            x, y, s=7 if len(people) <= NAMED_UP_TO else 2.5, color=PAPER, edgecolor=INK, linewidth=0.6, zorder=3
        )
    longest = max((len(v) for v in by_person.values()), default=1)
    axes.set_xlim(0.4, longest + 0.6)
    axes.set_ylim(len(people) - 0.4, -0.6)
    axes.set_xlabel(picture.x)
    axes.set_yticks(range(len(people)) if len(people) <= NAMED_UP_TO else [])
    if len(people) <= NAMED_UP_TO:
        axes.set_yticklabels([_short(p) for p in people], fontsize=TINY)
    else:
        axes.set_ylabel(picture.y)
    axes.tick_params(length=0)
    axes.spines[["left", "bottom"]].set_visible(False)
    whole_steps(axes)
    legend(
        axes,
        [
            Patch(facecolor=FIRST, label="trained"),
            Patch(facecolor=PALE, label="rest"),
            Patch(facecolor=PAPER, edgecolor=MUTED, label="training unknown"),
            Line2D(
                [],
                [],
                linestyle="",
                marker="o",
                markersize=4,
                markerfacecolor=PAPER,
                markeredgecolor=INK,
                label="pain rated",
            ),
        ],
        anchor=(0, -0.42 / (height / top) / (top - bottom)),
    )
    return finish(figure)


def trajectories(picture: PictureFacts) -> Drawn:
    """Small multiples: each person's pain as a line, load as quiet bars, flare-ups as marks."""
    by_person = _grouped(picture)
    people = list(by_person)
    columns = _columns(len(people))
    rows = math.ceil(len(people) / columns)
    cell = 1.0 if columns >= 5 else 1.35 if columns >= 3 else 1.9
    height = rows * cell + 0.75
    figure, top = canvas(height, picture.title, str(picture.options.get("subtitle", "")))
    total = height / top
    longest = max((len(v) for v in by_person.values()), default=1)
    grid = figure.add_gridspec(
        rows, columns, left=0.065, right=0.99, top=top - 0.16 / total, bottom=0.72 / total, hspace=0.38, wspace=0.1
    )
    for i, person in enumerate(people):
        axes = figure.add_subplot(grid[i // columns, i % columns])
        _course(axes, by_person[person], longest)
        axes.set_title(_short(person), loc="left", fontsize=SMALL, pad=2.5)
        last_in_column = i + columns >= len(people)
        axes.tick_params(labelbottom=last_in_column, labelleft=i % columns == 0, labelsize=TINY)
    figure.text(0.008, (top + 0.72 / total) / 2, picture.y, rotation=90, va="center", ha="left", size=SMALL)
    figure.text(0.53, 0.36 / total, picture.x, ha="center", va="bottom", size=SMALL)
    figure.legend(
        handles=[
            Line2D([], [], color=INK, marker="o", markersize=2.6, linewidth=1.1, label="pain, 0-10"),
            Patch(facecolor=PALE, label=str(picture.options.get("load", "load, share of own highest"))),
            Line2D([], [], linestyle="", marker="v", markersize=5, color=SECOND, label="flare-up begins, by pain"),
            Line2D([], [], linestyle="", marker="o", markersize=5, markerfacecolor="none", markeredgecolor=SECOND, label="person calls it a flare-up"),
        ],
        loc="lower left", bbox_to_anchor=(0.05, 0.06 / total), ncols=4, frameon=False, fontsize=SMALL, handlelength=1.5,
        columnspacing=1.4, borderaxespad=0,
    )  # fmt: skip
    return finish(figure)


def _course(axes: Any, records: Sequence[dict[str, Any]], longest: int) -> None:
    step = np.array([r["step"] + 1 for r in records], dtype=float)
    pain = np.array([np.nan if r["pain"] is None else r["pain"] for r in records], dtype=float)
    load = np.array([0.0 if r["load_share"] is None else r["load_share"] for r in records], dtype=float)
    known = np.array([r["load_share"] is not None for r in records])
    axes.bar(step[known], np.maximum(10 * load[known], 0.22), width=0.86, color=PALE, zorder=1)
    axes.plot(step, pain, color=INK, linewidth=1.1, marker="o", markersize=1.9, zorder=3, clip_on=False)
    onset = np.array([bool(r["flare"]) for r in records])
    told = np.array([bool(r["reported"]) for r in records])
    axes.scatter(
        step[onset], np.full(onset.sum(), 11.1), marker="v", s=17, color=SECOND, clip_on=False, zorder=4, linewidth=0
    )
    axes.scatter(
        step[told],
        np.where(np.isnan(pain[told]), 0, pain[told]),
        marker="o",
        s=26,
        facecolor="none",
        edgecolor=SECOND,
        linewidth=1,
        zorder=5,
        clip_on=False,
    )
    quiet(axes, grid="y")
    axes.set_facecolor(BAND if not np.isfinite(pain).any() else PAPER)
    axes.set_xlim(0.2, longest + 0.8)
    axes.set_ylim(0, 11.4)
    axes.set_yticks([0, 5, 10])
    whole_steps(axes, 4)
    axes.spines["bottom"].set_visible(True)
    axes.spines["left"].set_visible(False)


def _columns(people: int) -> int:
    return next(columns for most, columns in ((1, 1), (4, 2), (9, 3), (16, 4), (25, 5), (10**9, 6)) if people <= most)


def _grouped(picture: PictureFacts) -> dict[str, list[dict[str, Any]]]:
    out: dict[str, list[dict[str, Any]]] = {}
    for record in picture.data.records():
        out.setdefault(str(record["person"]), []).append(record)
    return out


def _short(code: str, most: int = 10) -> str:
    """A code that fits beside a small panel; control and direction characters are left out."""
    seen = "".join(c for c in code if c.isprintable())
    return seen if len(seen) <= most else seen[: most - 1] + "\u2026"


DRAWERS = {"coverage": coverage, "trajectories": trajectories}

"""Figures of who was recorded when and of each person's course."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator

from lagwise.document.colours import BAND, FIRST, GRID, INK, MUTED, PALE, PAPER, SECOND
from lagwise.document.settle import squeezed
from lagwise.findings import PictureFacts
from lagwise.writeup.style import HOLLOW, SMALL, TINY, WIDTH, canvas, finish, keys, legend, mark, whole_steps

NAMED_UP_TO = 60
STATES: dict[str, dict[str, Any]] = {
    "trained": {"facecolor": FIRST},
    "rest": {"facecolor": PALE},
    "unknown": {"facecolor": PAPER, "edgecolor": GRID, "linewidth": 0.6},
}
"""The cell of each state."""
LABEL = 10
"""Characters of a code beside a row or above a small panel."""


def coverage(picture: PictureFacts) -> bytes:
    """One row per person, one cell per step: trained, rest or unknown, marked where there is a rating."""
    by_person = grouped(picture)
    people, many = list(by_person), len(by_person) > NAMED_UP_TO
    figure, top, total = canvas(row_height(len(people)) * len(people) + 0.95, picture)
    bottom, left = 0.78 / total, names_room(people)
    axes = figure.add_axes((left, bottom, 0.985 - left, top - bottom - 0.01))
    cells: dict[str, list[tuple[float, float]]] = {state: [] for state in STATES}
    dots: list[tuple[float, float]] = []
    for y, person in enumerate(people):
        for _, step, state, ratings in by_person[person]:
            cells[state].append((step + 1, y))
            if ratings:
                dots.append((step + 1, y))
    for state, look in STATES.items():
        across, down = np.array(cells[state], dtype=float).reshape(-1, 2).T
        bars(axes, across - 0.46, across + 0.46, down - 0.4, down + 0.4, rasterized=many, **look)
    if dots:
        across, down = np.array(dots).T
        axes.scatter(
            across, down, s=7 if len(people) <= 24 else 0.8 if many else 4.5, color=PAPER, edgecolor=INK,
            linewidth=0.2 if many else 0.6, zorder=3, rasterized=many,
        )  # fmt: skip
    axes.set_xlim(0.4, max((len(v) for v in by_person.values()), default=1) + 0.6)
    people_rows(axes, picture, people, named=not many)
    whole_steps(axes)
    legend(axes, state_keys(picture), anchor=(0, -0.42 / total / (top - bottom)))
    return finish(figure)


def names_room(people: Sequence[str]) -> float:
    """The share of a figure that names of people take at its left; many are not named."""
    if len(people) > NAMED_UP_TO:
        return 0.04
    return 0.05 + 0.0095 * max((len(squeezed(p, LABEL)) for p in people), default=1)


def people_rows(axes: Axes, picture: PictureFacts, people: Sequence[Any], *, named: bool) -> None:
    """A row for each person from the top down, with their names or, in their place, what the rows are."""
    axes.set_ylim(len(people) - 0.4, -0.6)
    axes.set_xlabel(picture.x)
    axes.set_yticks(range(len(people)) if named else [])
    if named:
        axes.set_yticklabels([squeezed(p, LABEL) for p in people], fontsize=TINY)
    else:
        axes.set_ylabel(picture.y)
    axes.tick_params(length=0)
    axes.spines[["left", "bottom"]].set_visible(False)


def state_keys(picture: PictureFacts) -> list[Any]:
    """What the cells of the states that occur mean, and the dot of a rating."""
    seen, o = set(picture.data.column("state")), picture.options
    said = {"unknown": o.get("unknown") or "training unknown"}
    edge = {"unknown": {"edgecolor": MUTED}}
    out: list[Any] = [
        Patch(**(look | edge.get(state, {})), label=said.get(state, state))
        for state, look in STATES.items()
        if state in seen
    ]
    rated = str(o["rated"])
    return [*out, mark("o", 4, rated, markerfacecolor=PAPER, markeredgecolor=INK)] if rated else out


def row_height(people: int) -> float:
    """Inches of one person's row: tighter when there are many, together no taller than a page."""
    return 0.17 if people <= 24 else 0.125 if people <= NAMED_UP_TO else min(0.1, 6.4 / people)


def trajectories(picture: PictureFacts) -> bytes:
    """Small multiples: each person's ratings as a line, load as quiet bars, flare-ups as marks.

    All panels share one set of axes in inches, which is many times quicker than axes of their own.
    """
    by_person = grouped(picture)
    columns = _columns(len(by_person))
    rows = math.ceil(len(by_person) / columns)
    cell = 1.0 if columns >= 5 else 1.35 if columns >= 3 else 1.9
    height = rows * cell + 0.75
    figure, top, total = canvas(height, picture)
    longest = max((len(v) for v in by_person.values()), default=1)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, WIDTH), ylim=(0, total))
    axes.set_axis_off()
    left, right, foot, head = 0.065 * WIDTH, 0.99 * WIDTH, 0.72, height
    width, pitch = (right - left) / columns, (head - foot) / rows
    scale = Scale.of(picture)
    corners = ((left + i % columns * width, head - (i // columns + 1) * pitch) for i in range(len(by_person)))
    panels = [_Panel(*corner, 0.92 * width, 0.72 * pitch, longest) for corner in corners]
    _courses(axes, panels, list(by_person.values()), scale)
    ticks = [int(t) for t in MaxNLocator(4, integer=True).tick_values(1, longest) if 1 <= t <= longest]
    for i, (panel, person) in enumerate(zip(panels, by_person, strict=True)):
        name, above = squeezed(person, LABEL), panel.foot + panel.height + 0.03
        axes.text(panel.left, above, name, size=SMALL, va="bottom", ha="left", gid=f"panel-{i}")
        if i % columns == 0:
            for level in LEVELS:
                axes.text(
                    panel.left - 0.05, panel.y(level), scale.at(level), size=TINY, va="center", ha="right"
                )
        if i + columns >= len(by_person):
            for tick in ticks:
                axes.text(panel.x(tick), panel.foot - 0.05, f"{tick}", size=TINY, va="top", ha="center")
    figure.text(0.008, (top + 0.72 / total) / 2, picture.y, rotation=90, va="center", ha="left", size=SMALL)
    figure.text(0.53, 0.36 / total, picture.x, ha="center", va="bottom", size=SMALL)
    load, own_word = (str(picture.options[key]) for key in ("load", "own_word"))
    rated = f"{scale.asked}, {scale.at(0)}-{scale.at(10)}"
    every = {
        scale.asked: Line2D([], [], color=INK, marker="o", markersize=2.6, linewidth=1.1, label=rated),
        load: Patch(facecolor=PALE, label=load),
        scale.turn: mark("v", 5, scale.turn, color=SECOND),
        own_word: mark("o", 5, own_word, **HOLLOW),
    }
    handles = [handle for word, handle in every.items() if word]
    keys(figure, handles, (0.05, 0.06 / total), ncols=4, handlelength=1.5)
    return finish(figure)


LEVELS = (0, 5, 10)
"""Tenths of the scale that are named."""


@dataclass(frozen=True)
class Scale:
    """What a picture of courses is of, from its options: its name, the ends of its scale, its unit, and how a
    turn for the worse is called.
    """

    asked: str
    low: float
    high: float
    unit: str
    turn: str

    @classmethod
    def of(cls, picture: PictureFacts) -> Scale:
        """The scale of a picture; one of a single person names neither unit nor turn."""
        return cls(**{f.name: picture.options.get(f.name, "") for f in fields(cls)})

    def tenths(self, value: Any) -> Any:
        """Values on a scale from 0 to 10."""
        return (np.asarray(value, dtype=float) - self.low) * (10 / (self.high - self.low))

    def at(self, tenths: float) -> str:
        """What stands at so many tenths of the scale."""
        return f"{self.low + tenths * (self.high - self.low) / 10:g}"


@dataclass(frozen=True)
class _Panel:
    """Where one person's panel lies, in inches, and its scales: steps across, tenths of the rating's scale 0
    to 11.4 upwards.
    """

    left: float
    foot: float
    width: float
    height: float
    longest: int

    def x(self, step: Any) -> Any:
        return self.left + (np.asarray(step) - 0.2) / (self.longest + 0.6) * self.width

    def y(self, tenths: Any) -> Any:
        return self.foot + np.asarray(tenths) / 11.4 * self.height


def _courses(
    axes: Axes, panels: Sequence[_Panel], people: Sequence[Sequence[tuple[Any, ...]]], scale: Scale
) -> None:
    loads, lines, onsets, told = [], [], [], []
    for panel, records in zip(panels, people, strict=True):
        _, steps, ratings, _, shares, flares, words = zip(*records, strict=True)
        step, load = np.array(steps, dtype=float) + 1, np.array(shares, dtype=float)
        rated = scale.tenths(ratings)
        known = ~np.isnan(load)
        tall = panel.y(np.maximum(10 * load[known], 0.22))
        sides = panel.x(step[known] - 0.43), panel.x(step[known] + 0.43)
        loads.append(np.stack([*sides, np.full_like(tall, panel.foot), tall]))
        lines.append(np.column_stack([np.append(panel.x(step), np.nan), np.append(panel.y(rated), np.nan)]))
        onset, said = np.array(flares, dtype=bool), np.array(words, dtype=bool)
        onsets.append(np.column_stack([panel.x(step[onset]), np.full(onset.sum(), panel.y(11.1))]))
        told.append(np.column_stack([panel.x(step[said]), panel.y(np.nan_to_num(rated[said]))]))
        if scale.asked and not np.isfinite(rated).any():
            axes.add_patch(
                Rectangle((panel.left, panel.foot), panel.width, panel.height, color=BAND, zorder=0)
            )
    for level in LEVELS:
        across = [v for p in panels for v in (p.left, p.left + p.width, np.nan)]
        up = [v for p in panels for v in (p.y(level), p.y(level), np.nan)]
        axes.plot(across, up, color=GRID if level else MUTED, linewidth=0.7, zorder=0.5)
    bars(axes, *np.concatenate(loads, axis=1), facecolor=PALE, zorder=1)
    axes.plot(*np.concatenate(lines).T, color=INK, linewidth=1.1, marker="o", markersize=1.9, zorder=3)
    onset_x, onset_y = np.concatenate(onsets).T
    told_x, told_y = np.concatenate(told).T
    axes.scatter(onset_x, onset_y, marker="v", s=17, color=SECOND, zorder=4, linewidth=0)
    axes.scatter(told_x, told_y, marker="o", s=26, facecolor="none", edgecolor=SECOND, linewidth=1, zorder=5)


def bars(
    axes: Axes, left: np.ndarray, right: np.ndarray, low: np.ndarray, top: np.ndarray, **look: Any
) -> None:
    """Rectangles of one look, all as one path, which is many times quicker than one by one."""
    corners = np.array([[left, low], [left, top], [right, top], [right, low]], dtype=float)
    path = Path.make_compound_path_from_polys(corners.transpose(2, 0, 1))
    axes.add_artist(PathPatch(path, snap=True, **({"edgecolor": "none"} | look)))


def _columns(people: int) -> int:
    return next(
        columns for most, columns in ((1, 1), (4, 2), (9, 3), (16, 4), (25, 5), (10**9, 6)) if people <= most
    )


def grouped(picture: PictureFacts) -> dict[str, list[tuple[Any, ...]]]:
    """Rows of each person, by code, in the order of the data."""
    out: dict[str, list[tuple[Any, ...]]] = {}
    for row in picture.data.rows:
        out.setdefault(str(row[0]), []).append(row)
    return out


DRAWERS = {"coverage": coverage, "trajectories": trajectories}

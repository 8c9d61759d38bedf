"""Figures of the record: from recorded to analysed, and what was recorded when."""

from __future__ import annotations

import datetime as dt
import textwrap
from typing import Any

import numpy as np
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.patches import FancyBboxPatch, Patch

from lagwise.document.colours import BAND, FIRST, INK, MUTED, PALE, PAPER, SECOND
from lagwise.findings import PictureFacts
from lagwise.say.report.figures_record import BETWEEN, OTHER
from lagwise.writeup.draw_courses import (
    NAMED_UP_TO,
    STATES,
    bars,
    grouped,
    names_room,
    people_rows,
    row_height,
    state_keys,
)  # fmt: skip
from lagwise.writeup.draw_numbers import floats, frame, low_legend
from lagwise.writeup.style import TEXT, canvas, finish, keys, mark, quiet

NARROW = 4.8
BOX, LINE, GAP = 0.5, 0.165, 0.16
"""Inches of a box, of a line of text, and between losses."""
EVENTS = ("v", "D", "P", "s", "*")
"""Marks of kinds of events; `X` is all others."""


def flow(picture: PictureFacts) -> bytes:
    """A box at the top and one at the foot, and beside the line between them each loss with its reason."""
    sizes = picture.options["sizes"]
    losses = [r for r in picture.data.records() if r["lost"] is not None]
    counts = picture.options["losses"]
    why = [textwrap.wrap(str(r["label"]), 48) for r in losses]
    heights = [LINE * (1 + len(w)) + GAP for w in why]
    height = 2 * BOX + sum(heights) + 0.25
    figure, top, _ = canvas(height, picture, NARROW)
    axes = figure.add_axes((0, 0, 1, top))
    axes.set_xlim(0, NARROW)
    axes.set_ylim(height, 0)
    axes.axis("off")
    left, foot = 0.3, BOX + sum(heights) + 0.1
    axes.plot([left + 0.3, left + 0.3], [BOX, foot], color=MUTED, linewidth=1.1, zorder=1)
    head = BOX + 0.05
    for count, reason, tall in zip(counts, why, heights, strict=True):
        middle = head + GAP / 2 + LINE / 2
        axes.annotate(
            "", (left + 0.75, middle), (left + 0.3, middle),
            arrowprops={"arrowstyle": "-|>", "color": MUTED, "linewidth": 1.1, "shrinkA": 0, "shrinkB": 0},
        )  # fmt: skip
        axes.text(left + 0.85, head + GAP / 2, count, size=TEXT, weight="bold", va="top")
        axes.text(left + 0.85, head + GAP / 2 + LINE, "\n".join(reason), size=TEXT, va="top", linespacing=1.2)
        head += tall
    for y, stage in ((0.0, "recorded"), (foot, "left")):
        box = FancyBboxPatch(
            (0.08, y + 0.02), NARROW - 0.16, BOX - 0.04, boxstyle="round,pad=0,rounding_size=0.05",
            facecolor=BAND, edgecolor=MUTED, linewidth=0.8,
        )  # fmt: skip
        axes.add_patch(box)
        name = next(str(r["label"]) for r in picture.data.records() if r["stage"] == stage)
        axes.text(0.22, y + BOX / 2, f"{name}: {sizes[stage]}", size=TEXT + 0.5, va="center")
    return finish(figure)


def timeline(picture: PictureFacts) -> bytes:
    """One row per person and one cell per step at its date, as in the picture of coverage, with a shape where
    something changed.
    """
    by_person, o = grouped(picture), picture.options
    people, many = list(by_person), len(by_person) > NAMED_UP_TO
    kinds: dict[str, str] = o["kinds"]
    looks = {k: ("X" if k == OTHER else EVENTS[i % len(EVENTS)]) for i, k in enumerate(kinds)}
    handles = _timeline_keys(picture, looks)
    across = 4
    foot = 0.55 + 0.2 * -(-len(handles) // across)
    height = row_height(len(people)) * len(people) + foot
    figure, top, total = canvas(height, picture)
    left = names_room(people)
    axes = figure.add_axes((left, foot / total, 0.985 - left, top - (foot + 0.05) / total))
    days, rows = int(o["days"]), [(y, r) for y, p in enumerate(people) for r in by_person[p]]
    x = date2num([dt.date.fromisoformat(r[1]) for _, r in rows]) + days / 2
    y = np.array([y for y, _ in rows], dtype=float)
    for state, look in STATES.items():
        mine = np.array([r[2] == state for _, r in rows])
        sides = x[mine] - 0.46 * days, x[mine] + 0.46 * days
        bars(axes, *sides, y[mine] - 0.36, y[mine] + 0.36, rasterized=many, **look)
    rated = np.array([bool(r[3]) for _, r in rows])
    small = 6 if len(people) <= 24 else 4 if not many else 0.8
    axes.scatter(
        x[rated], y[rated], s=small, color=PAPER, edgecolor=INK, linewidth=0.2 if many else 0.6, zorder=3,
        rasterized=many,
    )  # fmt: skip
    for kind, shape in looks.items():
        at = np.array([kind in str(r[4]).split(BETWEEN) for _, r in rows])
        axes.scatter(
            x[at] - 0.5 * days, y[at], marker=shape, s=9 if many else 34, color=SECOND, edgecolor=PAPER,
            linewidth=0.3 if many else 0.7, zorder=4,
        )  # fmt: skip
    axes.set_xlim(x.min() - days, x.max() + days)
    where = AutoDateLocator(minticks=3, maxticks=9)
    axes.xaxis.set_major_locator(where)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(where, show_offset=False))
    people_rows(axes, picture, people, named=not many)
    keys(figure, handles, (0.012, 0.05 / total), ncols=across, handlelength=1.5)
    return finish(figure)


def _timeline_keys(picture: PictureFacts, looks: dict[str, str]) -> list[Any]:
    kinds = picture.options["kinds"]
    return [*state_keys(picture), *(mark(m, 6, kinds[kind], color=SECOND) for kind, m in looks.items())]


def months(picture: PictureFacts) -> bytes:
    """Two bars for each calendar month: what was recorded, and how much of it was rated."""
    records = picture.data.records()
    o = picture.options
    handles = [Patch(facecolor=PALE, label=o["steps"]), Patch(facecolor=FIRST, label=o["rated"])]
    figure, axes, total = frame(picture, 2.2, handles)
    first = min(str(r["month"]) for r in records)
    at = [12 * (int(r["month"][:4]) - int(first[:4])) + int(r["month"][5:7]) for r in records]
    axes.bar(at, floats(records, "steps"), width=0.8, color=PALE)
    axes.bar(at, np.nan_to_num(floats(records, "rated")), width=0.5, color=FIRST)
    every = -(-len(at) // 9)
    axes.set_xticks(
        at[::every], [dt.date.fromisoformat(f"{r['month']}-01").strftime("%b %Y") for r in records[::every]]
    )
    quiet(axes, grid="y")
    axes.spines["bottom"].set_visible(True)
    low_legend(figure, handles, total)
    return finish(figure)


DRAWERS = {"flow": flow, "timeline": timeline, "months": months}

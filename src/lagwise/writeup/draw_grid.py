"""Figure of a plan: a grid of people and weeks per true difference, each cell a bar of what intervals say."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Patch, Rectangle

from lagwise.core.numbers import MINUS, fixed
from lagwise.document.colours import FIRST, GRID, INK, MUTED, PALE, PAPER
from lagwise.findings import PictureFacts
from lagwise.writeup.style import SMALL, TEXT, TINY, WIDTH, canvas, finish, keys

LOOKS: dict[str, dict[str, Any]] = {
    "p_beyond": {"facecolor": FIRST, "edgecolor": FIRST},
    "p_partly": {"facecolor": PALE, "edgecolor": PALE},
    "p_open": {"facecolor": GRID, "edgecolor": GRID},
    "p_within": {"facecolor": PAPER, "edgecolor": FIRST},
    "p_no_interval": {"facecolor": PAPER, "edgecolor": MUTED, "hatch": "////"},
}
"""Filled, pale, grey, hollow and hatched: the order from left to right in every bar."""
ROW, HEAD = 0.44, 0.5
SHOWN_FROM = 0.3
"""Inches of a segment from which its number stands in it."""


def grid(picture: PictureFacts) -> bytes:
    """One block per true difference; rows are people, columns weeks; a bar of 100 caseloads and the
    interval's width in each cell.
    """
    records = picture.data.records()
    effects, people, weeks = (
        list(dict.fromkeys(r[k] for r in records)) for k in ("effect", "people", "weeks")
    )
    people, weeks = sorted(people), sorted(weeks)
    labels: dict[str, str] = picture.options["labels"]
    used = [k for k in LOOKS if any((r[k] or 0) > 0 for r in records)]
    block, foot = HEAD + ROW * len(people), 0.4 if len(used) <= 4 else 0.6
    figure, top, total = canvas(block * len(effects) + foot, picture)
    left = 0.115
    for i, effect in enumerate(effects):
        high = top - (i * block + HEAD) / total
        axes = figure.add_axes(
            (left, high - ROW * len(people) / total, 0.985 - left, ROW * len(people) / total)
        )
        axes.set_xlim(0, len(weeks))
        axes.set_ylim(len(people), 0)
        axes.axis("off")
        said = f"{effect:+g}".replace("-", MINUS) if effect else "0"
        head = f"True difference {said} {'point' if abs(effect) == 1 else 'points'}"
        figure.text(0.012, high + 0.27 / total, head, size=TEXT, weight="bold")
        beside: dict[str, Any] = {"textcoords": "offset points", "size": SMALL}
        for x, number in enumerate(weeks):
            axes.annotate(f"{number} weeks", (x + 0.03, 0), xytext=(0, 3), color=MUTED, **beside)
        for y, number in enumerate(people):
            name = f"{number} people" if number != 1 else "1 person"
            axes.annotate(name, (0, y + 0.6), xytext=(-6, 0), ha="right", va="center", **beside)
        for record in (r for r in records if r["effect"] == effect):
            x, y = weeks.index(record["weeks"]), people.index(record["people"])
            _cell(axes, record, x, y, len(weeks), left)
    handles = [Patch(**LOOKS[k], linewidth=0.9, label=labels[k]) for k in used]
    keys(figure, handles, (0.012, 0.06 / total), ncols=len(used) if len(used) <= 4 else 3)
    return finish(figure)


def _cell(axes: Axes, record: dict[str, Any], x: int, y: int, columns: int, left: float) -> None:
    start, room = x + 0.03, 0.92
    inches = WIDTH * (0.985 - left) / columns * room
    width = record["width"]
    said = (
        "no interval"
        if width is None
        else "> 100 points"
        if width >= 100
        else f"{fixed(width, 2 if width < 10 else 1)} points"
    )
    axes.text(start, y + 0.33, said, size=SMALL, color=INK, va="center")
    for key, look in LOOKS.items():
        share = record[key] or 0.0
        if share <= 0:
            continue
        axes.add_patch(Rectangle((start, y + 0.48), room * share, 0.36, linewidth=0.9, **look))
        if share * inches >= SHOWN_FROM and key != "p_no_interval":
            colour = PAPER if key == "p_beyond" else INK
            middle, count = start + room * share / 2, f"{100 * share:.0f}"
            axes.text(middle, y + 0.665, count, size=TINY, color=colour, ha="center", va="center")
        start += room * share


DRAWERS = {"grid": grid}

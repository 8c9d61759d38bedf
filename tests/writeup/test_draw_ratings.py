"""Scatters, shares and chains are drawn with their numbers in them."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from lagwise.document.colours import SECOND
from lagwise.findings import PictureFacts, Table
from lagwise.writeup.draw import draw


def facts(kind, columns, rows, **options):
    data = Table(columns=columns, rows=tuple(rows))
    return PictureFacts(kind=kind, title="t", data=data, x="x", y="y", alt="a", options=options)


def image(picture):
    return np.asarray(Image.open(io.BytesIO(draw(picture)["png"])).convert("RGB")).astype(int)


def rows_of(picture, below=120):
    """Rows, from `below`, that hold pixels of the second colour."""
    return np.flatnonzero(coloured(image(picture))[below:].any(axis=1))


DOTS = [(g, x, 0.5 * x) for g in ("same week", "next week") for x in (-1.0, 0.0, 1.0)]


def test_each_group_has_a_panel_with_its_line():
    line = {"slope": 0.5, "low": 0.4, "high": 0.6}
    with_lines = coloured(image(facts("points", ("group", "x", "y"), DOTS, lines=[line, line])))
    without = coloured(image(facts("points", ("group", "x", "y"), DOTS)))
    third = with_lines.shape[1] // 3
    assert with_lines[:, :third].any() and with_lines[:, 2 * third :].any()
    assert not without.any()


def test_a_line_without_a_slope_is_left_out():
    unknown = {"slope": None, "low": None, "high": None}
    assert (image(facts("points", ("group", "x", "y"), DOTS, lines=[unknown, unknown]))
            == image(facts("points", ("group", "x", "y"), DOTS))).all()  # fmt: skip


@pytest.mark.parametrize("high", [20.0, 40.0])
def test_intervals_of_shares_reach_as_far_as_they_say(high):
    rows = [(0, 10.0, 12.0, 5.0, high), (1, 50.0, 45.0, 40.0, 50.0)]
    seen = rows_of(facts("shares", ("x", "value", "estimate", "low", "high"), rows))
    assert len(seen)
    low = rows_of(
        facts("shares", ("x", "value", "estimate", "low", "high"), [(0, 10.0, 12.0, 5.0, 12.0), rows[1]])
    )
    assert set(low) < set(seen)


def test_chains_are_told_apart():
    draws = [(c, d, float(d % 7) + c) for c in (0, 1) for d in range(40)]
    picture = facts("chains", ("chain", "draw", "value"), draws, expected=[1, 4], bins=5)
    alone = facts("chains", ("chain", "draw", "value"), draws[:40], expected=[1, 4], bins=5)
    assert course(picture).any() and not course(alone).any()


def course(picture):
    """Pixels of the second colour where the draws' course is, above the legend and left of the ranks."""
    seen = coloured(image(picture))
    height, width = seen.shape
    return seen[: int(0.8 * height), : int(0.55 * width)]


def coloured(seen, colour=SECOND):
    """Pixels near a colour."""
    wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return np.abs(seen - wanted).max(axis=2) < 70

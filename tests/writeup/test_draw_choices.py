"""The figure of sorted plans: one mark per plan and level, other questions apart."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from lagwise.findings import PictureFacts, Table
from lagwise.writeup.draw import draw
from lagwise.writeup.draw_choices import _levels

COLUMNS = ("x", "label", "estimate", "low", "high", "primary", "measure", "window", "alone")


def _picture(apart: int = 0, plans: int = 40) -> PictureFacts:
    rows = [
        (
            float(i + 1),
            "",
            i / plans,
            i / plans - 0.3,
            i / plans + 0.3,
            i == 3,
            "ab"[i % 2],
            "cd"[i // (plans // 2)],
            "e",
        )
        for i in range(plans)
    ]
    rows += [(None, f"another question {i}", 0.1, -0.1, 0.3, False, "", "", "") for i in range(apart)]
    return PictureFacts(
        kind="specifications", title="Plans", data=Table(columns=COLUMNS, rows=tuple(rows)), x="plans", y="points",
        alt="a", options={"choices": ["measure", "window", "alone"], "heads": {"measure": "10 % of the variance"}},
    )  # fmt: skip


def _pixels(picture: PictureFacts) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(draw(picture)["png"])).convert("L"))


def test_a_choice_with_one_level_is_left_out():
    picture = _picture()
    levels = _levels(picture, picture.data.records())
    assert levels == [("measure", "a"), ("measure", "b"), ("window", "c"), ("window", "d")]


def test_it_draws_at_the_shared_width_and_grows_with_other_questions():
    plain, more = _pixels(_picture()), _pixels(_picture(apart=3))
    assert plain.shape[1] == more.shape[1] == pytest.approx(2 * 7.4 * 96, abs=2)
    assert more.shape[0] > plain.shape[0] + 100
    assert (plain < 128).mean() > 0.005


def test_many_plans_keep_to_the_same_size():
    assert _pixels(_picture(plans=400)).shape == _pixels(_picture(plans=40)).shape

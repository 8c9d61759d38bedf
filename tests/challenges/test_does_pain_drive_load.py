"""The reverse path: its size, and what is made of it."""

from __future__ import annotations

import numpy as np
import pytest
from challenge_panels import CLINIC, drawn, plain_panel, tried_on, value
from proof import proved

from lagwise.challenges.does_pain_drive_load import Lasting
from lagwise.core.claim import Claim
from lagwise.models.rating_noise import Span, rating_noise
from lagwise.say.challenges.does_pain_drive_load import lasting
from lagwise.say.voice import Voice

NAME = "does_pain_drive_load"


def test_a_reverse_path_is_told_with_its_size_however_small():
    result = proved(NAME, "informative")
    assert result.numbers.iloc[0]["high"] < 0
    assert "two pain adjustments" in result.sentence


@pytest.mark.parametrize(("cut", "rests"), [(0.12, 0.9), (-0.12, 0.0)])
def test_the_size_of_the_path_is_recovered(cut, rests):
    """Load of a week is exp(-cut x pain of the week before): the percent per point is 100 (exp(-cut) - 1), also where a share `rests` of weeks after more pain is no training at all."""
    rng = np.random.default_rng(1)
    pain = np.clip(5 + rng.normal(0, 1.2, (50, 26)), 0, 10)
    before = np.column_stack([pain[:, :1], pain[:, :-1]])
    load = np.exp(3 - cut * (before - 5) + rng.normal(0, 0.1, pain.shape))
    load[(before > 5.5) & (rng.random(pain.shape) < rests)] = 0
    result = tried_on(NAME, plain_panel(pain, load))
    found = result.numbers.iloc[0]
    truth = 100 * np.expm1(-cut)
    assert found["low"] < truth < found["high"]
    assert value(result, "per point of pain before") == pytest.approx(truth, abs=1.0)
    assert ("lower" if cut > 0 else "higher") in result.sentence


@pytest.mark.parametrize("cut", [0.12, 0.0])
def test_what_ratings_shrink_is_given_back(cut):
    """Load answers the pain of its own week by `cut`; ratings of it in whole points carry error, and the rating before also lacks what has passed since."""
    rng = np.random.default_rng(1)
    felt = np.empty((120, 40))
    felt[:, 0] = rng.normal(0, 0.9, 120)
    for t in range(39):
        felt[:, t + 1] = 0.5 * felt[:, t] + rng.normal(0, 0.78, 120)
    load = np.exp(3 - cut * felt + rng.normal(0, 0.2, felt.shape))
    result = tried_on(
        NAME, plain_panel(np.clip(np.rint(5 + felt + rng.normal(0, 0.5, felt.shape)), 0, 10), load)
    )
    truth, found = 100 * np.expm1(-cut), result.numbers.set_index("quantity")
    raw, lasting, other = (
        found.loc[q]
        for q in (
            "per point of pain before",
            "per point of the pain that lasts",
            "the same, by the rating before as instrument",
        )
    )
    assert lasting["low"] < truth < lasting["high"] and other["low"] < truth < other["high"]
    assert lasting["high"] - lasting["low"] < 7
    if cut:
        assert raw["low"] > truth / 2
        assert "with load and ratings in one model" in result.sentence
    else:
        assert result.verdict == "holds"


def test_too_little_left_of_pain_before_is_said():
    noise = rating_noise(drawn(CLINIC))
    wide = Lasting(Span(-10.0, -15.0, -5.0), Span(-20.0, -np.inf, np.inf), noise)
    said = {why: lasting(Claim(NAME, numbers=found.numbers("points")), Voice.of(drawn(CLINIC).study)) for why, found in {"": wide, "few": Lasting(why="few people")}.items()}  # fmt: skip
    assert "By the rating before it is not known" in said[""]
    assert "20" not in said[""]
    assert "not known (few people)" in said["few"]

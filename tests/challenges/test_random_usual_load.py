from __future__ import annotations

import numpy as np
import pytest
from challenge_panels import clinic, no_effect, one, value
from proof import proved

from lagwise.challenges.random_usual_load import judged, strangers


def test_own_usual_load_matters_in_the_clinic():
    found = one("random_usual_load", clinic())
    assert found.verdict == "holds"
    assert value(found, "p") < 0.01


def test_nothing_is_claimed_where_load_has_no_part():
    assert one("random_usual_load", no_effect()).verdict == "cannot_tell"


def test_does_not_hold_where_the_load_itself_is_what_matters():
    found = proved("random_usual_load", "does_not_hold")
    assert value(found, "better fit with own usual load than with load alone") < 0


def test_strangers_are_never_oneself_and_keep_their_order():
    person = np.repeat([0, 1, 2], [3, 2, 4])
    usual = np.arange(9.0)
    drawn = strangers(usual, person, 500, np.random.default_rng(1))
    assert (person[drawn.astype(int)] != person).all()
    assert {tuple(r) for r in drawn[:, :3]} == {(3.0, 4.0, 3.0), (5.0, 6.0, 7.0)}


@pytest.mark.parametrize(
    ("own", "p", "gain", "verdict"),
    [(1, 0.01, 5.0, "holds"), (0, 0.01, 5.0, "holds"), (1, 0.01, -1.0, "does_not_hold"), (0, 0.01, -1.0, "cannot_tell"),
     (-1, 0.6, 1.0, "does_not_hold"), (1, 0.3, 1.0, "cannot_tell"), (0, 0.6, 1.0, "cannot_tell")],
)  # fmt: skip
def test_the_rule_of_placebos(own, p, gain, verdict):
    assert judged(own, p, gain) == verdict

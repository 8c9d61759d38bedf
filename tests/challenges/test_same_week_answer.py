"""The same-week answer: alike where load does not answer pain, misleading where it does."""

from dataclasses import replace

from challenge_panels import STEADY, tried

NAME = "same_week_answer"


def test_stays_open_where_the_intervals_overlap():
    result = tried(NAME, replace(STEADY, n_people=10, n_steps=14, of_jump=0.0, same_week=0.9))
    assert result.verdict == "cannot_tell"

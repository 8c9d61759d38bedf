"""The same-week answer: alike where load does not answer pain, misleading where it does."""

from __future__ import annotations

from dataclasses import replace

from challenge_panels import NO_EFFECT, STEADY, tried

NAME = "same_week_answer"


def test_reads_alike_where_load_raises_pain_in_both_weeks_and_does_not_answer_it():
    result = tried(NAME, replace(STEADY, same_week=1.0))
    assert result.verdict == "holds"
    assert (result.numbers["low"].iloc[:2] > 0).all()


def test_misleads_where_pain_cuts_load():
    result = tried(NAME, NO_EFFECT)
    assert result.verdict == "informative"
    same, lagged = result.numbers.iloc[0], result.numbers.iloc[1]
    assert same["high"] < 0
    assert lagged["low"] < 0 < lagged["high"]
    assert "points lower" in result.sentence


def test_stays_open_where_the_intervals_overlap():
    result = tried(NAME, replace(STEADY, n_people=10, n_steps=14, of_jump=0.0, same_week=0.9))
    assert result.verdict == "cannot_tell"

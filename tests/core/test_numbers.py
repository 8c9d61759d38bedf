import math

import numpy as np

from lagwise.core.claim import Measured
from lagwise.core.numbers import (
    chance,
    decimals,
    fixed,
    limits_text,
    per_hundred,
    plural,
    side,
    signed,
    significant,
)
from lagwise.core.variable import Variable
from lagwise.say.phrases import told


def test_two_significant_digits_of_the_width():
    wide = [
        (0.1, 0.74),
        (-0.35, 0.75),
        (0.101, 0.165),
        (-12, 11),
        (0, 0.0001),
        (1, 1),
        (None, 2),
        (0, 9.99),
        (-0.001, 0.004),
    ]
    assert [decimals(*limits) for limits in wide] == [2, 1, 2, 0, 4, 2, 2, 1, 4]
    assert decimals(-0.012, 0.047) == 3 and decimals(-0.012, 0.047, most=2) == 2
    scales = [Variable("x", "x", "point", low=0, high=high) for high in (100, 10, 5, 1, 0.5, None)]
    assert [scale.places for scale in scales] == [2, 2, 2, 3, 3, 2]


def test_minus_is_a_minus_and_zero_has_no_sign():
    assert fixed(-0.314, 2) == "\u22120.31"
    assert fixed(-0.004, 2) == "0.00"
    assert signed(-0.004, 2) == "0.00"
    assert signed(0.5, 1) == "+0.5"
    assert fixed(None, 2) == "\u2013"
    assert limits_text(0.12, -0.31, 0.55, 2) == "+0.12 (\u22120.31 to +0.55)"


def test_counts_and_shares():
    assert plural(1, "person", "people") == "1 person"
    assert plural(1040, "person-week") == plural(np.int64(1040), "person-week") == "1\u00a0040 person-weeks"
    assert per_hundred(0.123) == "12"
    assert significant(0.00234567) == "0.00235"
    assert significant(3.0) == "3"
    assert significant(-1234567.0) == "\u22121\u00a0234\u00a0567"
    assert significant(2286.4) == "2\u00a0286" and significant(134.28, 2) == "134"


def test_thousands_stand_apart_in_what_challenges_say():
    found = Measured(0.13, "points", 0.05, 0.21, people=40, steps=1763)
    assert told(found, "day").endswith("; 40 people, 1\u00a0763 person-days)")


def test_an_end_at_0_lies_beyond_it():
    assert [side(*v) for v in ((0.1, 1), (0, 1), (-1, 0), (-1, 1), (0, 0), (None, 1), (math.nan, 1))] == [
        1, 1, -1, 0, 0, 0, 0,
    ]  # fmt: skip


def test_chances_never_say_never():
    assert chance(0.0) == "less than 1 in 100"
    assert chance(1.0) == "more than 99 in 100"
    assert chance(0.305) == "30 in 100"

"""Numbers that carry their place into the text that prints them."""

import math
import pickle
import re

import pytest

from lagwise.core.numbers import (
    chance,
    change,
    decimals,
    fixed,
    limits_text,
    people_said,
    plural,
    signed,
    whole,
)
from lagwise.core.traced import bare, pieces, traced
from lagwise.say.phrases import difference, span

PRINTED = [
    lambda v: fixed(v, 2), lambda v: signed(v, 1), lambda v: signed(-v, 1), lambda v: limits_text(v, v - 1, v + 1), lambda v: f"{100 * v:g} %",
    lambda v: whole(abs(round(v))), lambda v: plural(math.trunc(v), "week"), lambda v: people_said(round(v)), lambda v: str(v / 2),
    lambda v: difference(v, 2), lambda v: difference(v / 1000, 2), lambda v: span(-v, 2 * v, 1), lambda v: chance(v / 2000 + 0.2), lambda v: change(v, v, v + 1)[0],
]  # fmt: skip


@pytest.mark.parametrize("printed", PRINTED)
@pytest.mark.parametrize("value", [1, 3, 1.0, 2.345, 17.5, 1234.0])
def test_it_prints_what_the_number_prints_and_knows_its_place(printed, value):
    text, plain = printed(traced(value, 7)), printed(value)
    assert bare(text) == plain
    assert any(at == 7 for _, at in pieces(text)) or not re.search(r"\d", plain)
    assert "".join(t for t, _ in pieces(text)) == plain


def test_sums_keep_the_first_place_and_comparisons_are_of_numbers():
    one, other = traced(2, 0), traced(3, 1)
    assert list(pieces(f"{one + other} of {sum([other, one])}")) == [("5", 0), (" of ", None), ("5", 1)]
    assert one == 2 and {2: "two"}[one] == "two" and traced(True, 1) is True and traced("a", 1) == "a"
    assert decimals(traced(0.1, 0), traced(0.4, 0)) == decimals(0.1, 0.4)
    assert list(pieces(f"{pickle.loads(pickle.dumps(one))}")) == [("2", 0)]

from __future__ import annotations

import pytest

from lagwise.writeup.share_counts import in_words


@pytest.mark.parametrize(
    ("said", "shared"),
    [
        ("38 people rated", "35 people rated"),
        ("of 13 other people", "of 10 other people"),
        ("3 recorded people have", "fewer than 5 recorded people have"),
        ("12 of 38 informative people", "10 of 35 informative people"),
        ("2 points above the person's own usual", "2 points above the person's own usual"),
        ("2 points above the person’s own usual", "2 points above the person’s own usual"),
        ("12 person-weeks", "12 person-weeks"),
    ],
)
def test_counts_of_people_in_sentences(said, shared):
    assert in_words(said) == shared

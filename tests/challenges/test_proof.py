"""The proof of the challenges: every row comes out as it must, every challenge has both, and the page says what was found."""

import re

import pytest
from proof import PAGE, ROWS, TABLE, line, outcome

from lagwise.challenges.registry import REGISTRY
from lagwise.writeup.checker import check_text

NUMBER = re.compile("\u2212?\\d+\\.?\\d*")


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r.name}-{r.must}")
def test_the_row_comes_out_as_it_must_and_as_the_page_says(row):
    found = outcome(row)
    assert found.verdict == row.must, found.problem or found.sentence
    words = [
        found.title, found.question, found.sentence, found.limits, found.picture.title, found.picture.alt,
    ]  # fmt: skip
    assert [remark for text in words for remark in check_text(text)] == []
    title = line(row).split("|")[1:3]
    kept = [text for text in PAGE.read_text(encoding="utf-8").splitlines() if text.split("|")[1:3] == title]
    assert len(kept) == 1
    assert same(kept[0], line(row)), line(row)


def same(a: str, b: str) -> bool:
    """The same words, and numbers that differ by no more than another processor's rounding can make them."""
    numbers = [[float(n.replace("\u2212", "-")) for n in NUMBER.findall(text)] for text in (a, b)]
    alike = len(numbers[0]) == len(numbers[1]) and all(
        abs(x - y) <= 0.02 + 0.02 * abs(x) for x, y in zip(*numbers, strict=True)
    )
    return alike and NUMBER.sub("#", a) == NUMBER.sub("#", b)


def test_words_and_figures_that_changed_are_stale():
    assert same("| p 0.30 |", "| p 0.31 |")
    assert not same("| p 0.30 |", "| p 0.40 |")
    assert not same("| p 0.30 | holds |", "| p 0.30 | held |")


def test_every_challenge_has_a_caseload_for_either_side_and_the_page_no_row_more():
    for entry in REGISTRY:
        verdicts = {r.must for r in ROWS if r.name == entry.NAME}
        good = {"informative"} if entry.NAME == "unmeasured_confounding" else {"holds"}
        assert good <= verdicts and verdicts - good, entry.NAME
    assert len({(r.name, r.words) for r in ROWS}) == len(ROWS)
    assert len(TABLE.search(PAGE.read_text(encoding="utf-8"))[0].splitlines()) == len(ROWS)

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from lagwise.document.settle import TURNING, settle, settled, shortened, squeezed
from lagwise.document.tree import Box, Document, Grid, Heading, inline, para


@given(st.text())
def test_what_is_left_is_one_line_that_turns_nothing_round(text):
    left = settle(text)
    assert not [
        c for c in left if c in TURNING or unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn", "Zl", "Zp")
    ]
    assert settle(left) == left
    assert [c for c in text if c.isalnum()] == [c for c in left if c.isalnum()]


def test_what_can_be_seen_stays():
    seen = "=cmd|'/C_calc'!A0 {{7*7}} <b> \u05db\u05ea\u05e3 \u0627\u0644\u0643\u062a\u0641 \u2264 \u22120.3 \U0001f469\u200d\u2695\ufe0f"
    for text in seen.split():
        assert settle(text) == text
    assert settle("one\r\ntwo\x00 \u202ethree\u202c") == "one  two three"


def test_a_whole_tree_is_settled():
    bad = "a\u202eb\x07"
    tree = Document(
        bad,
        (
            Heading(1, bad, "title"), para(bad),
            Grid("t", bad, (bad,), ((inline(bad),),), frozenset({0}), bad), Box(bad, (para(bad),))), mark=bad,
    )  # fmt: skip
    assert (
        "\u202e" not in repr(settled(tree))
        and "\\u202e" not in repr(settled(tree))
        and "\\x07" not in repr(settled(tree))
    )
    assert repr(settled(tree)) == repr(tree).replace("\\u202e", "").replace("\\x07", "")


def test_a_code_keeps_both_its_ends():
    assert squeezed("P-0001", 10) == "P-0001"
    assert squeezed("hall-of-the-north-0001", 10) == "hall-…0001"
    assert squeezed("hall-of-the-north-0001", 10) != squeezed("hall-of-the-north-0002", 10)


def test_a_byte_order_mark_goes():
    assert settle("a\ufeffb") == "ab"


def test_a_long_text_is_cut_with_an_ellipsis():
    assert shortened("abc", 3) == "abc"
    assert shortened("abcdef gh", 4) == "abc…"
    assert shortened("abc efgh", 5) == "abc…"

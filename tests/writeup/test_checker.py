import io
import math
import pathlib
import re
import zipfile

import pytest
import writeup_inputs as made

from lagwise.core.errors import WriteUpError
from lagwise.writeup.checker import check_file, check_text, sentences

pytestmark = pytest.mark.xdist_group("every kind of write-up")  # which are put together once
LABELLED = pathlib.Path(__file__).parent / "labelled_sentences.tsv"
ROOT = pathlib.Path(__file__).parents[2]


def labelled(half):
    """(label, sentence) of one part: looked at or built on while rules were written, or held out from it.

    A label is a rule's name, or 'slip' where any rule will do, or 'clean'.
    """
    rows = [line.split("\t") for line in LABELLED.read_text(encoding="utf-8").splitlines()]
    return [(label, sentence) for which, label, sentence in rows if which == half]


@pytest.mark.parametrize(
    ("half", "sensitivity", "specificity"),
    [
        ("looked_at", 0.95, 0.93),
        ("built_on", 0.95, 0.93),
        ("held_out", 0.95, 0.93),
        ("many_voices", 0.95, 0.93),
        ("fresh", 20 / 30, 26 / 30),
        ("unseen", 28 / 30, 28 / 30),
        ("later", 27 / 30, 25 / 30),
    ],  # the last three: what it came to once; the rules were never tuned on them
)
def test_slips_are_found_and_the_rest_left_alone(half, sensitivity, specificity, capsys):
    found = [(label, {r.rule for r in check_text(text)}) for label, text in labelled(half)]
    slips = [bool(rules) for label, rules in found if label != "clean"]
    clean = [not rules for label, rules in found if label == "clean"]
    named = [label in rules for label, rules in found if label not in ("clean", "slip") and rules]
    shares = {"sensitivity": share(slips), "specificity": share(clean)}
    shares |= {"right rule": share(named)} if named else {}
    with capsys.disabled():
        print(f"\nwording checker, {half.replace('_', ' ')}, {len(found)} sentences:", end=" ")
        print(", ".join(f"{name} {part:.3f} (SE {error:.3f})" for name, (part, error) in shares.items()))
    assert shares["sensitivity"][0] >= sensitivity and shares["specificity"][0] >= specificity


def share(of):
    part = sum(of) / len(of)
    return part, math.sqrt(part * (1 - part) / len(of))


def test_a_remark_has_line_sentence_rule_reason_advice_and_rewrite():
    text = "Load was recorded.\nHeavy weeks lead to pain (see Fig. 2). The rest is calm."
    [remark] = check_text(text)
    assert remark.sentence == "Heavy weeks lead to pain (see Fig. 2)."
    assert (remark.line, remark.rule, remark.words) == (2, "cause", "lead to")
    assert remark.rewrite == "Heavy weeks came before pain (see Fig. 2)."
    assert "does not show" in remark.why and remark.advice.startswith("Say the sequence")


SAID = {
    "Sleep reduced worry.": "Sleep came before a fall in worry.",
    "Lighter weeks eased his elbow pain.": "Lighter weeks came before a fall in his elbow pain.",
    "Longer nights improve confidence.": "Longer nights came before a change for the better in confidence.",
    "Heavy pressing aggravates the knee.": "Heavy pressing came before a change for the worse in the knee.",
    "Stress affects pain.": "Stress came before a change in pain.",
    "Poor sleep increased pain by 0.3 points (0.1 to 0.5; 22 people).": "Poor sleep came before a rise in pain of 0.3 points (0.1 to 0.5; 22 people).",
    "High stress is a risk factor for shoulder pain.": "High stress came before shoulder pain.",
    "In nine people, stress triggers pain.": "In nine people, stress came before pain.",
    "Pain was mainly caused by heavy weeks.": "Pain mainly came after heavy weeks.",
    "Her pain is down to poor sleep.": "Her pain came after poor sleep.",
    "Because of two hard weeks, his pain went from 2 to 5.": "After two hard weeks, his pain went from 2 to 5.",
    "The effect of effort on pain was 0.1 points (0.2 lower to 0.4 higher; 30 people).": "The association of effort with pain was 0.1 points (0.2 lower to 0.4 higher; 30 people).",
    "There was no effect of stress (-1.0 to 1.2).": "The interval for the association with stress ran from -1.0 to 1.2.",
    "There is no difference between hard and easy weeks (95 % interval 0.4 lower to 0.3 higher; 31 people).": "The 95 % interval for the difference between hard and easy weeks ran from 0.4 lower to 0.3 higher (31 people).",
}


@pytest.mark.parametrize("slip", SAID)
def test_a_verb_a_preposition_or_a_noun_gives_way_to_its_like(slip):
    assert {r.rewrite for r in check_text(slip)} == {SAID[slip]}


@pytest.mark.parametrize(
    "slip",
    [
        "Heavy weeks may lead to pain.",  # possible, denied, wanted: other words would say another thing
        "Heavy weeks do not cause pain.",
        "Longer nights helped reduce pain.",
        "Exercises to reduce pain were many.",
        "Worry drives pain more than load does.",
        "Heavy weeks caused people to stop.",  # no thing follows
        "The common trigger has been load.",  # a noun
        "Common triggers remain load and stress.",
        "He brought on pain by squatting.",  # a person does not come before pain
        "Load drives pain up.",  # something would be left over
        "Squatting eased worry and improved mood.",
        "Stress eases pain sometimes, and raises it at others.",
        "Because of the way he trains, pain rose.",
        "The influence of stress on pain and of pain on stress was looked at.",
        "Poor sleep makes hip pain worse.",
        "Keeping load steady prevents pain.",
        'Load causes pain, "as ever".',
        "Stress obviously drives pain.",  # the other slip would stay
        "Lifters should rest after hard weeks.",
        "There was no effect of load on pain.",  # no interval to say instead
    ],
)
def test_no_rewrite_where_it_might_say_something_else(slip):
    assert {r.rewrite for r in check_text(slip)} == {""}


SWAPPED = re.compile(
    "came|before|after|a|fall|rise|change|for|the|better|worse|in|of|with|associations?|interval|ran|from|to"
)


def test_every_rewrite_is_a_sentence_with_the_same_numbers_and_no_slip():
    said = {r.sentence: r.rewrite for half in ("looked_at", "built_on") for _, text in labelled(half) for r in check_text(text) if r.rewrite}  # fmt: skip
    assert len(said) >= 40
    for slip, other in said.items():
        assert re.fullmatch(r"[A-Z0-9].*[^.]\.", other) and len(list(sentences(other))) == 1, other
        assert not re.search(r"\b(\w+) \1\b", other, re.IGNORECASE), other
        assert not re.search(r"\b(is|are|was|were|be|been|has|have|had|do|does|did|to|came|ran) (came|ran|was|were|is|are)\b", other), other  # fmt: skip
        assert set(re.findall(r"\b(?:in|of|with|before|after|for|the|a) (?:in|of|with|before|after|for|by|on|is|are|was|were|and)\b", other)) <= {pair for pair in ("after by",) if pair in slip}, other  # fmt: skip
        assert sorted(numbers(other)) == sorted(numbers(slip)), other
        new = set(re.findall(r"[\w'-]+", other.lower())) - set(re.findall(r"[\w'-]+", slip.lower()))
        assert all(SWAPPED.fullmatch(word) for word in new), other
        assert check_text(other) == [], other


def numbers(text):
    return re.findall(r"[-\u2212]?\d+(?:\.\d+)?", text)


@pytest.mark.parametrize(
    "text",
    [
        "This does not show that load causes pain.",
        'A coach wrote "heavy weeks cause pain" in the log.',
        "Whether load triggers flare-ups is left open.",
        "## What it would take to read this causally\n\nThat load causes pain would need more.\n\n### Also\n\nLoad drives pain if so.",
    ],
)
def test_denial_quotation_and_the_causal_section_are_left_alone(text):
    assert check_text(text) == []


@pytest.mark.parametrize(
    ("text", "rules"),
    [
        ("The log does not show that load came first, but poor sleep caused the flare.", ["cause"]),
        ("Poor sleep caused the flare, but the log does not show that load came first.", ["cause"]),
        ("He thought that the shoes caused the pain.", []),
        ("It would take a trial to know if the taping helped.", []),
        ("What settled the knee was rest, because rest reduces pain.", ["cause"]),  # once for each rule
        ("The missing weeks are due to a lost phone.", []),
        ("Her knee pain is due to a lost week.", ["cause"]),
        ("There was no effect of load (interval -0.8 to 1.1).", ["no_effect"]),
        ("The interval includes zero, so stress is unrelated to pain.", ["no_effect"]),
    ],
)
def test_a_denial_a_report_and_a_matter_of_records_reach_as_far_as_their_clause(text, rules):
    assert [r.rule for r in check_text(text)] == rules


def test_the_exemption_ends_with_its_section():
    text = "## A causal reading\n\nLoad causes pain.\n\n## Results\n\nLoad causes pain."
    assert [r.sentence for r in check_text(text)] == ["Load causes pain."]


def test_a_direct_denial_of_cause_is_a_claim_too():
    assert [r.rule for r in check_text("Heavy load does not cause pain.")] == ["cause"]


def test_no_difference_needs_its_interval():
    assert [r.rule for r in check_text("There was no difference between weeks.")] == ["no_effect"]
    assert (
        check_text("There was no difference between weeks beyond the interval, 0.3 lower to 0.2 higher.")
        == []
    )


def test_sentences_end_where_they_end():
    assert [said for _, said in sentences("It was 0.3 points (e.g. in Fig. 2). Then 5 weeks. \u201cSo.\u201d Yes?")] == [
        "It was 0.3 points (e.g. in Fig. 2).", "Then 5 weeks.", "\u201cSo.\u201d", "Yes?",
    ]  # fmt: skip


def test_the_same_remarks_from_every_kind_of_draft(tmp_path):
    import docx

    draft = "Heavy weeks cause pain."
    (tmp_path / "a.md").write_text(
        f"# T\n\n- {draft}\n\n`code causes pain`\n\n| a |\n|---|\n| plain words here |\n"
    )
    (tmp_path / "a.html").write_text(
        f"<h1>T</h1><script>x causes pain</script><p>Heavy <b>weeks</b> cause pain.</p><img alt='{draft}'>"
    )
    word = docx.Document()
    word.add_heading("T", 0)
    word.add_heading("Causal reading", 1)
    word.add_paragraph("Load causes pain.")
    word.add_heading("Results", 1)
    word.add_paragraph(draft)
    word.save(tmp_path / "a.docx")
    assert [(r.line, r.sentence) for r in check_file(tmp_path / "a.md")] == [(3, draft)]
    assert [(r.line, r.sentence) for r in check_file(tmp_path / "a.html")] == [(1, draft)] * 2
    assert [(r.line, r.sentence) for r in check_file(tmp_path / "a.docx")] == [(5, draft)]


MARKDOWN = """# Title

Load was recorded. It
was high. Stress
drives pain.

- an item of a list
- sleep reduced worry
  and so on

| a | b |
|---|---|
| plain words here | stress drives pain |

<p>Some
words.

Stress <b>drives</b>
pain.</p>

> Quoted words, and
> stress drives pain.
"""


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_the_line_is_the_files_own(tmp_path, ending):
    (tmp_path / "a.md").write_bytes(MARKDOWN.replace("\n", ending).encode())
    assert [r.line for r in check_file(tmp_path / "a.md")] == [4, 8, 13, 18, 21]
    page = "<html>\n<head><title>t</title>\n</head><body\n class='x'>\n<p>Plain.\n\nHeavy <b\n>weeks</b>\ncause pain.<br>Sleep\nreduced worry.</p>"
    (tmp_path / "a.html").write_bytes(page.replace("\n", ending).encode())
    assert [(r.line, r.sentence) for r in check_file(tmp_path / "a.html")] == [(7, "Heavy weeks cause pain."), (9, "Sleep reduced worry.")]  # fmt: skip


def test_a_draft_that_cannot_be_read_says_so(tmp_path):
    (tmp_path / "a.pdf").write_bytes(b"%PDF")
    (tmp_path / "a.docx").write_bytes(b"not a zip")
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("other.xml", "<a/>")
    (tmp_path / "b.docx").write_bytes(buffer.getvalue())
    for name, said in (
        ("a.pdf", "not a kind"),
        ("a.docx", "cannot be read"),
        ("b.docx", "cannot be read"),
        ("none.md", "cannot be read"),
    ):
        with pytest.raises(WriteUpError, match=said):
            check_file(tmp_path / name)


def test_every_kind_of_write_up_and_all_kept_texts_pass_the_checker():
    """A sentence or cell that several of them share is read once; no heading leaves those under it alone."""
    kept = [path.read_text("utf-8") for path in (ROOT / "tests" / "say" / "golden").glob("*.md")]
    lines = dict.fromkeys(line for text in (*made.rendered().values(), *kept) for line in text.splitlines())
    cells = (cell for line in lines for cell in line.strip("#>|- ").split(" | "))
    said = dict.fromkeys(one for cell in cells for _, one in sentences(cell))
    assert len(said) > 2000 and check_text("\n\n".join(said)) == []


MANUALS = [
    p for p in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))) if p.stem != "challenges-proof"
]


@pytest.mark.parametrize("page", MANUALS, ids=lambda p: p.stem)
def test_the_manual_claims_no_cause_and_frightens_nobody(page):
    """It tells users of the software what to do, and speaks of worlds built to have no effect, or one (the proof)."""
    assert [r for r in check_file(page) if r.rule in ("cause", "frighten")] == []


def test_the_checker_sees_a_slip_in_a_write_up():
    text = list(made.rendered().values())[5].replace("were followed by pain", "caused pain", 1)
    assert [r.rule for r in check_text(text)] == ["cause"]


def test_tails_of_a_distribution_are_no_shares():
    assert check_text("The smallest number of draws for the 5 % and 95 % tails.") == []
    assert [r.rule for r in check_text("Of the weeks 5 % were tailed.")] == ["denominator"]

import io
import pathlib
import zipfile

import pytest
import writeup_inputs as made

from lagwise.core.errors import WriteUpError
from lagwise.document.markdown import render_md
from lagwise.say.report.document import document
from lagwise.writeup.checker import check_file, check_text, sentences
from lagwise.writeup.checker_read import from_markdown

pytestmark = pytest.mark.xdist_group("every kind of write-up")  # which are put together once
LABELLED = pathlib.Path(__file__).parent / "labelled_sentences.tsv"


def labelled(half):
    """(label, sentence) of one half: the sentences looked at while the rules were written, or those held out."""
    rows = [line.split("\t") for line in LABELLED.read_text(encoding="utf-8").splitlines()]
    return [(label, sentence) for which, label, sentence in rows if which == half]


@pytest.mark.parametrize("half", ["looked_at", "held_out"])
def test_precision_and_recall(half, capsys):
    rows = labelled(half)
    flagged = [(label, {r.rule for r in check_text(text)}) for label, text in rows]
    hits = sum(label != "clean" and bool(rules) for label, rules in flagged)
    alarms = sum(label == "clean" and bool(rules) for label, rules in flagged)
    misses = sum(label != "clean" and not rules for label, rules in flagged)
    named = sum(label in rules for label, rules in flagged if label != "clean")
    precision, recall = hits / (hits + alarms), hits / (hits + misses)
    with capsys.disabled():
        print(
            f"\nwording checker, {half.replace('_', ' ')}, {len(rows)} sentences: precision {precision:.3f}, recall {recall:.3f}, right rule {named / hits:.3f}"
        )
    assert precision >= 0.9 and recall >= 0.9


def test_a_remark_has_sentence_rule_reason_and_rewrite():
    text = "Load was recorded. Heavy weeks lead to pain (see Fig. 2). The rest is calm."
    [remark] = check_text(text)
    assert remark.sentence == "Heavy weeks lead to pain (see Fig. 2)."
    assert (remark.rule, remark.words) == ("cause", "lead to")
    assert remark.rewrite == "Heavy weeks were followed by pain (see Fig. 2)."
    assert "does not show" in remark.why


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
    assert sentences("It was 0.3 points (e.g. in Fig. 2). Then 5 weeks. \u201cSo.\u201d Yes?") == [
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
    assert [r.sentence for r in check_file(tmp_path / "a.md")] == [draft]
    assert [r.sentence for r in check_file(tmp_path / "a.html")] == [draft] * 2
    assert [r.sentence for r in check_file(tmp_path / "a.docx")] == [draft]


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


def test_every_kind_of_write_up_passes_the_checker():
    """Sections that several write-ups share are read once."""
    sections = {}
    for name, found in made.combinations():
        for section in from_markdown(render_md(document(found))).split("\n\n## "):
            sections.setdefault(f"## {section}", name)
    assert {name: r for text, name in sections.items() for r in check_text(text)} == {}


def test_the_checker_sees_a_slip_in_a_write_up():
    found = made.combinations()[5][1]
    text = render_md(document(found)).replace("were followed by pain", "caused pain", 1)
    assert [r.rule for r in check_text(from_markdown(text))] == ["cause"]


def test_tails_of_a_distribution_are_no_shares():
    assert check_text("The smallest number of draws for the 5 % and 95 % tails.") == []
    assert [r.rule for r in check_text("Of the weeks 5 % were tailed.")] == ["denominator"]

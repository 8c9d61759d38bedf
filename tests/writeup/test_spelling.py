"""British and American spelling: every rendering in one of them, names of the data as they were given, numbers untouched."""

import ast
import io
import pathlib
import re
import zipfile
from dataclasses import replace

import pytest
import writeup_inputs as made

import lagwise.writeup
from lagwise.document.html import render_html
from lagwise.document.markdown import render_md
from lagwise.writeup import Findings, collect
from lagwise.writeup.csvs import challenges_csv
from lagwise.writeup.document import document
from lagwise.writeup.figures import figures
from lagwise.writeup.person import page, with_pages
from lagwise.writeup.render_docx import render_docx
from lagwise.writeup.render_person import render_person
from lagwise.writeup.spelling import AMERICAN, american, given

pytestmark = pytest.mark.xdist_group("every kind of write-up")  # which are put together once
BRITISH = re.compile(rf"\b({'|'.join(AMERICAN)})\b", re.IGNORECASE)
ONLY_AMERICAN = sorted(
    set(AMERICAN.values())
    - {"program", "programs", "license", "aging", "while", "labor", "rumor", "meter", "meters"}
    - set(AMERICAN)
)
US = re.compile(rf"\b({'|'.join(ONLY_AMERICAN)})\b", re.IGNORECASE)
NUMBER = re.compile(r"\d[\d\u00a0.]*")
EMPTY = {"png": b"", "svg": b'<svg viewBox="0 0 1 1"></svg>'}
ROOM = pathlib.Path(lagwise.writeup.__file__).parent


def spoken(findings, *, every=True):
    """Renderings that hold words, by name; the drawings are told by their words. Without `every`, of the same words the quickest."""
    tree = document(findings)
    out = {"md": render_md(tree)}
    if not every:
        return out
    drawn = figures(findings)
    out |= {
        "html": without_style(render_html(tree, dict.fromkeys(drawn, EMPTY))),
        "csv": challenges_csv(findings),
    }
    out["figures"] = "\n".join(p.model_dump_json() for p in drawn.values())
    if findings.people:
        tree = page(findings, findings.people[0].person)
        out["person"] = without_style(render_person(tree, EMPTY, made=""))
    return out


def without_style(html):
    return re.sub(r"<style>.*?</style>|<meta[^>]*>", "", html, flags=re.DOTALL)


def in_american(findings):
    return findings.model_copy(update={"spelling": "american"})


def test_no_word_of_the_other_spelling_and_every_number_the_same():
    """Lines that several write-ups share are read once."""
    read: set[tuple[str, str]] = set()
    for i, (name, found) in enumerate(made.combinations()):
        british, us = (spoken(f, every=i % 7 == 0) for f in (found, in_american(found)))
        assert british.keys() == us.keys()
        for kind, text in british.items():
            pairs = zip(text.split("\n"), us[kind].split("\n"), strict=True)
            for ours, theirs in set(pairs) - read:
                assert US.findall(ours) == BRITISH.findall(theirs) == [], (name, kind)
                assert NUMBER.findall(ours) == NUMBER.findall(theirs), (name, kind)
                read.add((ours, theirs))
    words = {w.lower() for ours, _ in read for w in BRITISH.findall(ours)}
    assert {"programme", "recognised"} <= words


def test_the_language_is_that_of_the_spelling():
    found = collect(made.caseload(), made.panel(3, 8), [], None)
    empty = dict.fromkeys(figures(found), EMPTY)
    assert '<html lang="en-GB">' in render_html(document(found), empty)
    assert '<html lang="en-US">' in render_html(document(in_american(found)), empty)


def test_word_documents_are_spelled_too():
    found = in_american(collect(made.caseload(), made.panel(3, 8), [], None))
    from lagwise.writeup.figures import draw

    data = render_docx(document(found), {n: draw(p) for n, p in figures(found).items()}, made_on="2026-01-01")
    text = zipfile.ZipFile(io.BytesIO(data)).read("word/document.xml").decode()
    assert BRITISH.findall(re.sub(r"<[^>]+>", " ", text)) == []
    assert "program" in text


def test_what_came_with_the_data_stays():
    title, code = "Colour-coded programme, centre A", "grey-1"
    study = replace(
        made.STUDY, title=title, setting="A labelled rack in the centre", ethics="Judgement of 3 May"
    )
    codes = [code, "Programme 2", "c3"]
    found = in_american(collect(made.caseload(study), made.panel(3, 8, study=study, codes=codes), [], None))
    assert {title, code, "Programme 2", study.setting, study.ethics} <= set(given(found))
    said = spoken(found)
    for kind in ("md", "html"):
        for theirs in (title, code, "Programme 2", study.setting, study.ethics):
            assert theirs in said[kind].replace("\\", ""), (kind, theirs)
        assert "a new program)" in said[kind]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Programmes, modelled; a PROGRAMME.", "Programs, modeled; a PROGRAM."),
        ("He wrote \u201cmy colour\u201d and \"a centre\".", "He wrote \u201cmy colour\u201d and \"a centre\"."),
        ("See https://example.org/behaviour and doi:10.1/behaviour.", "See https://example.org/behaviour and doi:10.1/behaviour."),
        ("Raise the otherwise wise exercise, likewise.", "Raise the otherwise wise exercise, likewise."),
        ("It was 1.50 (\u22120.2 to 3.1), n = 1\u00a0200.", "It was 1.50 (\u22120.2 to 3.1), n = 1\u00a0200."),
        ("neighbours, neighbouring, neighbourhood", "neighbors, neighboring, neighborhood"),
        ("standardised by centre; analysed, penalised optimiser", "standardized by center; analyzed, penalized optimizer"),
    ],
)  # fmt: skip
def test_words_are_swapped_whole(text, said):
    assert american(text) == said
    assert american(said) == said


def test_a_name_of_the_data_is_left_alone_inside_a_sentence():
    assert american("The Centre group at the centre B.", ("centre b",)) == "The Center group at the centre B."


def test_the_spelling_is_kept_in_the_findings():
    found = in_american(collect(made.caseload(), made.panel(3, 8), [], None))
    assert document(Findings.from_json(found.to_json())) == document(found)


@pytest.mark.parametrize("path", sorted(ROOM.glob("draw_*.py")), ids=lambda p: p.name)
def test_words_drawn_into_figures_are_the_same_in_both(path):
    """Labels written in the drawing code reach no speller."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documented = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
    texts = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and id(n) not in documented]
    texts = [t for t in texts if isinstance(t, str)]
    assert [t for t in texts if BRITISH.search(t)] == []


def test_people_asked_for_get_american_pages():
    found = with_pages(in_american(collect(made.caseload(), made.panel(3, 8), [], None)), ["P02"])
    from lagwise.writeup.render_person import person_files

    html = person_files(found)["person-P02.html"].decode()
    assert '<html lang="en-US">' in html and "can be recognized even under a code" in html

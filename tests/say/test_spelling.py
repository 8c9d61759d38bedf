"""British and American spelling: every rendering in one of them, names of the data as they were given, numbers untouched."""

import ast
import pathlib
import re
from dataclasses import replace

import pytest
import writeup_inputs as made

import lagwise
from lagwise.document.html import render_html
from lagwise.document.markdown import render_md
from lagwise.say.report.document import document, on_a_screen, on_sheets
from lagwise.say.report.figures import figures
from lagwise.say.report.person import page
from lagwise.say.voice import AMERICAN as OURS
from lagwise.writeup.collect import collect
from lagwise.writeup.csvs import tables_csv
from lagwise.writeup.render_person import render_person

pytestmark = pytest.mark.xdist_group("every kind of write-up")  # which are put together once
ROOT = pathlib.Path(lagwise.__file__).parent
_OUR = "behaviour colour favour favourite harbour honour labour neighbour neighbourhood rumour tumour vigour"
_RE = "centre fibre litre metre kilometre theatre"
_ISE = (
    "categor character emphas general hospital item local maxim minim normal optim organ penal priorit random rational real "
    "recogn special stabil standard summar symbol synthes util visual"
)
_LL = "cancel counsel label level model signal total travel"
_SINGLE = (
    "ageing artefact artefacts catalogue defence enrol fulfil grey greys judgement judgements learnt licence orthopaedic "
    "paediatric programme programmes sceptical whilst centred centring uncentred"
)


def _british():
    """Words of British spelling that such a text may hold."""
    yield from _SINGLE.split()
    yield from (word + end for word in _OUR.split() for end in ("", "s", "ed", "ing", "able", "al", "hood"))
    yield from (word + end for word in _RE.split() for end in ("", "s"))
    ends = ("e", "ed", "es", "er", "ers", "ing", "ation", "ations", "able")
    yield from (f"{stem}is{end}" for stem in _ISE.split() for end in ends)
    yield from (
        f"{stem}ys{end}" for stem in ("anal", "paral", "catal") for end in ("e", "ed", "er", "ers", "ing")
    )
    yield from (f"{word}l{end}" for word in _LL.split() for end in ("ed", "ing", "er", "ers"))


BRITISH = re.compile(rf"\b({'|'.join(_british())})\b", re.IGNORECASE)
US = re.compile(r"\b(modeled|recognized)\b", re.IGNORECASE)  # a program also runs on a computer
NUMBER = re.compile(r"\d[\d\u00a0.]*")
EMPTY = {"png": b"", "svg": b'<svg viewBox="0 0 1 1"></svg>'}


def spoken(findings, *, every=True):
    """Renderings that hold words, by name; the drawings are told by their words. Without `every`, of the same words the quickest."""
    tree = document(findings)
    out = {"md": render_md(on_sheets(tree))}
    if not every:
        return out
    drawn = figures(findings)
    out |= {
        "html": without_style(render_html(on_a_screen(tree), dict.fromkeys(drawn, EMPTY))),
        "csv": tables_csv(findings)["challenges.csv"],
    }
    out["figures"] = "\n".join(p.model_dump_json() for p in drawn.values())
    if findings.people:
        tree = page(findings, findings.people[0].person)
        out["person"] = without_style(render_person(tree, EMPTY, made=""))
    return out


def without_style(html):
    return re.sub(r"<(style|script)>.*?</\1>|<meta[^>]*>", "", html, flags=re.DOTALL)


def in_american(findings):
    return findings.model_copy(update={"spelling": "american"})


def test_no_word_of_the_other_spelling_and_every_number_the_same():
    """Of every fifth write-up, and all renderings of a third of those; lines that several share are read once."""
    read: set[tuple[str, str]] = set()
    for i, (name, found) in enumerate(made.combinations()[::5]):
        every = i % 3 == 0
        british = spoken(found) if every else {"md": made.rendered()[name]}
        us = spoken(in_american(found), every=every)
        assert british.keys() == us.keys()
        for kind, text in british.items():
            pairs = zip(text.split("\n"), us[kind].split("\n"), strict=True)
            for ours, theirs in set(pairs) - read:
                assert US.findall(ours) == BRITISH.findall(theirs) == [], (name, kind)
                assert NUMBER.findall(ours) == NUMBER.findall(theirs), (name, kind)
                read.add((ours, theirs))
    words = {w.lower() for ours, _ in read for w in BRITISH.findall(ours)}
    assert words == set(OURS)


def test_the_language_is_that_of_the_spelling():
    found = collect(made.caseload(), made.panel(3, 8), [], None)
    empty = dict.fromkeys(figures(found), EMPTY)
    assert '<html lang="en-GB">' in render_html(document(found), empty)
    assert '<html lang="en-US">' in render_html(document(in_american(found)), empty)


def test_what_came_with_the_data_stays():
    title, codes = "Colour-coded programme in the day, centre A", ["grey-1", "Programme 2", "c3"]
    study = replace(made.OTHER["daily"], title=title, setting="A labelled rack", ethics="Judgement of 3 May")
    panel, fits = made.panel(3, 8, study=study, codes=codes), [made.mixed(study=study)]
    found = in_american(collect(made.caseload(study), panel, fits, None))
    said = spoken(found)
    for kind in ("md", "html"):
        for theirs in (title, *codes[:2], study.setting, study.ethics):
            assert theirs in said[kind].replace("\\", ""), (kind, theirs)
        assert "a new program)" in said[kind]


def test_texts_that_findings_keep_are_spelled_alike_in_both():
    """Sentences of challenges, gates and fits, and what drawings say, are not said anew in another spelling."""
    rooms = ("challenges", "core", "describe", "models", "panel", "say/challenges", "writeup/draw_*")
    for path in (
        path for room in rooms for path in ROOT.glob(f"{room}.py" if "*" in room else f"{room}/*.py")
    ):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        silent = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
        texts = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and id(n) not in silent]
        found = [t for t in texts if isinstance(t, str) and " " in t and BRITISH.search(t)]
        assert found == [], path

"""Sentences that can be read aloud: under 30 words, one thing each, and no number that says nothing."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import test_reports as reports
import writeup_inputs as made

from lagwise.document.tree import Block, Box, Bullets, Document, Figure, Grid, Heading, Inline, Para, walk
from lagwise.findings import ChallengeFacts, FollowedFacts
from lagwise.findings.plain import claim_of
from lagwise.say.challenge import known_words, text
from lagwise.say.changes.attempts import WORDS, drawn
from lagwise.say.changes.followed import sentences as after
from lagwise.say.report.document import document, on_sheets
from lagwise.say.voice import Voice
from lagwise.writeup.share import shared

pytestmark = pytest.mark.xdist_group("reports")  # which are made once
FEWER_THAN = 30
SHARE = 0.95
END = re.compile(r"(?<=[.?!])[\"')\]]*\s+(?=[A-Z0-9(\[\"'])")
EMPTY = re.compile(
    r"[-\u2212]0\.0+\b(?!\d)|\b0\.0+ (points|hours|%) (higher|lower|longer|shorter|more|less)|quarantined|fewer than 1 in"
)
CASES = {
    "every part": lambda: reports.found("with all"),
    "several questions": made.several,
    "the clinic": lambda: reports.found("the clinic"),
    "undecided": lambda: reports.put(made.mixed("undecided"), made.ordinal("undecided"), tried=made.challenges()),
    "a null twin": lambda: reports.put(made.mixed("practically_none"), made.ordinal("practically_none")),
    "six people": lambda: reports.put(made.mixed("undecided", engine="within"), people=6),
    "days": lambda: reports.found("days"),
    "a diary alone": lambda: reports.found("a diary alone"),
    "load is not recorded": lambda: reports.found("load is not recorded"),
    "pain alone": lambda: reports.found("pain alone"),
    "few people": lambda: reports.found("few people"),
    "flare-ups": lambda: reports.found("flare-ups by two definitions"),
    "very many people": lambda: reports.put(made.mixed("small_higher"), people=100),
}  # fmt: skip


def words(sentence: str) -> int:
    return sum(bool(re.search(r"[^\W_]", token)) for token in sentence.split())


def sentences(blocks: Iterable[Block]) -> Iterator[str]:
    """Sentences of paragraphs, lists, captions, notes and cells; equations and lists of places apart."""
    for block in walk(blocks):
        for told in filter(None, map(str.strip, texts(block))):
            yield from (s for s in END.split(" ".join(told.split())) if " = " not in s)


def texts(block: Block) -> Iterator[str]:
    match block:
        case Para() if sum(s.kind == "link" for s in block.spans) < 2:
            yield line(block.spans)
        case Bullets():
            yield from map(line, block.items)
        case Grid():
            yield from (block.caption, block.note, *(line(cell) for row in block.rows for cell in row))
        case Figure():
            yield block.caption
        case Box():
            yield block.title


def line(run: Inline) -> str:
    return "".join(f"[{s.text}]" if s.kind == "blank" else s.text for s in run)


def body(tree: Document) -> list[Block]:
    """What stands before the appendix."""
    ends = (i for i, b in enumerate(tree.blocks) if isinstance(b, Heading) and b.id == "appendix-pages")
    return list(tree.blocks[: next(ends, len(tree.blocks))])


@cache
def trees(name: str) -> list[Document]:
    """The write-up of a case for its owner and, of five people and more, to share."""
    findings = CASES[name]()
    versions = [findings, *([shared(findings)] if findings.count("people") >= 5 else [])]
    return [document(one) for one in versions]


@pytest.mark.parametrize("name", CASES)
def test_sentences_are_short_enough_to_be_read_aloud(name):
    for tree in map(on_sheets, trees(name)):
        assert [s for s in sentences(body(tree)) if words(s) >= FEWER_THAN] == []
        every = {s for s in sentences(tree.blocks) if s.endswith((".", "?"))}
        long = sorted((s for s in every if words(s) >= FEWER_THAN), key=words, reverse=True)
        assert len(long) <= (1 - SHARE) * len(every), "\n".join(f"{words(s)}: {s}" for s in long)


@pytest.mark.parametrize("name", CASES)
def test_no_number_that_says_nothing_and_one_word_for_one_thing(name):
    for tree in trees(name):
        assert [s for s in sentences(tree.blocks) if EMPTY.search(s)] == []


CLAIMS = json.loads((Path(__file__).parent / "claims.json").read_text("utf-8"))
"""What quick reports on invented records claimed: their plans, challenges and what followed, without words."""
OTHERS = {"weeks": {}, "days": {"clock": {"step_days": 1}}}


def of_claims(case: dict[str, Any], more: dict[str, Any]) -> Iterator[str]:
    """What is asked, said and left open of every challenge, event and attempt."""
    plan = case["plan"] | more
    voice = Voice.of_plan(plan, "british")
    for facts in case["challenges"]:
        own = known_words(facts["name"])
        assert own is not None
        yield own.sentence(claim_of(ChallengeFacts.model_construct(**facts)), voice)
        yield from (text(own, name, voice) for name in ("question", "limits"))
    for facts in case["followed"]:
        voice = Voice.asking(plan, facts["outcome"], "british")
        yield from after(claim_of(FollowedFacts.model_construct(**facts)), voice)
        for tried in facts["attempts"]:
            words_, claim = WORDS[tried["name"]], claim_of(ChallengeFacts.model_construct(**tried))
            yield words_.sentence(claim, voice) + drawn(claim)
            yield from (voice.fill(part) for part in (words_.QUESTION, words_.LIMITS))


@pytest.mark.parametrize("step", OTHERS)
@pytest.mark.parametrize("name", CLAIMS)
def test_challenges_and_what_followed_are_said_in_short_sentences(name, step):
    every = [s for told in of_claims(CLAIMS[name], OTHERS[step]) for s in END.split(told)]
    assert len(every) > 50
    assert [s for s in every if words(s) >= FEWER_THAN or EMPTY.search(s)] == []
    assert [s for s in every if len(re.findall(r"\d % interval", s)) > 1] == []


def test_a_known_truth_that_intervals_miss_is_named_though_the_analysis_holds():
    """A third of 15 intervals held a true 1.00, and 'finds what was put in' stood alone beside it."""
    facts = next(f for f in CLAIMS["clinic"]["challenges"] if f["name"] == "known_truth_at_your_size")
    claim, words_of = claim_of(ChallengeFacts.model_construct(**facts)), known_words(facts["name"])
    voice, said = Voice.of_plan(CLAIMS["clinic"]["plan"], "british"), []
    for covered in (0.33, 0.95):
        held = {"5/coverage": replace(claim.numbers["5/coverage"], value=covered)}
        held["5/coverage_error"] = replace(claim.numbers["5/coverage_error"], value=0.05)
        said.append(
            words_of.sentence(replace(claim, verdict="holds", numbers={**claim.numbers, **held}), voice)
        )
    assert said[0].endswith("finds what was put in. Of a true 1.00 it shows less than there is.")
    assert said[1].endswith("finds what was put in.")
    assert "covered in 33 of 100" in said[0]  # of few caseloads, without decimals

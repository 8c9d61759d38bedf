"""What a comparison of two reports says: kept as text, in short sentences that claim no more than a sequence."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import golden
import writeup_inputs as made
from two_reports import WHOLE, fitted, old, part, put

from lagwise.document.markdown import render_md
from lagwise.document.tree import Bullets, Document, Para
from lagwise.findings.look_back import look_back
from lagwise.say.report.since import picture, since
from lagwise.say.report.words import Words
from lagwise.writeup.checker import check_text, sentences

GOLDEN = Path(__file__).parent / "golden" / "since.md"
PLAN = replace(made.STUDY, analysis=replace(made.STUDY.analysis, primary_contrast=0.3, practically_zero=0.3))
TRIED = made.challenges()


def ended(findings, name: str, verdict: str):
    """The findings with another verdict of one challenge."""
    found = [c.model_copy(update={"verdict": verdict}) if c.name == name else c for c in findings.challenges]
    return findings.model_copy(update={"challenges": tuple(found)})


def edited():
    frame = WHOLE.frame.copy()
    at = frame.index[(frame["person"] == "P02") & frame["pain"].notna()][:2]
    frame.loc[at, "pain"] += 0.5
    return replace(WHOLE, frame=frame)


@cache
def pairs():
    return tuple(_pairs())


def _pairs():
    """(what is special, later report, earlier report)."""
    tried = made.collect(
        made.caseload(), WHOLE, [fitted(150, 0.05)], TRIED, settings={"quick": False, "seed": 2}
    )
    before = made.collect(
        made.caseload(),
        part(steps=12),
        [fitted(100, error=0.125)],
        TRIED,
        settings={"quick": True, "seed": 1},
    )
    yield (
        "new data alone, and one challenge ended otherwise",
        tried,
        ended(before, "shuffled_load", "does_not_hold"),
    )
    yield (
        "more than new data explain, and an earlier rating that was changed",
        put(edited(), fitted(150, 0.3)),
        old(),
    )
    without = put(part(without=("P03", "P04")), fitted(150, 0.05, n_people=12))
    yield (
        "the third look, two people gone",
        without,
        put(part(steps=12), fitted(100, error=0.125), since=put(part(steps=10), fitted(70))),
    )
    yield "the plan changed", put(replace(WHOLE, study=PLAN), fitted(150, 0.05), study=PLAN), old()
    yield "the same", old(), old()
    yield "no estimate yet", put(WHOLE), old()


def section(new, before) -> Document:
    found = new.model_copy(update={"since": look_back(new, before)})
    words = Words(found)
    return Document("", since(found, words, picture(found, words)))


def test_comparisons_are_as_kept():
    text = [f"# {name}\n\n{render_md(section(*both))}" for name, *both in pairs()]
    today = put(WHOLE).provenance.made_on
    golden.kept(GOLDEN, "\n".join(text).replace(today, "TODAY"))


def test_every_sentence_is_short_and_claims_no_more_than_a_sequence():
    for name, *both in pairs():
        blocks = section(*both).blocks
        runs = [b.spans for b in blocks if isinstance(b, Para)]
        runs += [item for b in blocks if isinstance(b, Bullets) for item in b.items]
        for text in ("".join(span.text for span in run) for run in runs):
            assert not [told for _, told in sentences(text) if len(told.split()) >= 30], name
            assert not check_text(text), name

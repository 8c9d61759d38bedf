"""A page for one person: their own course in plain words, for a conversation, with what it cannot say."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import Any

from lagwise.core.numbers import decimals, fixed, people_said, plural, whole
from lagwise.document.settle import settled
from lagwise.document.tree import Block, Box, Bullets, Document, Figure, Heading, Para, bullets, para
from lagwise.findings import EffectRow, Findings, PersonSeries, PictureFacts
from lagwise.findings.codes import check_codes, page_name, shown
from lagwise.say.phrases import difference
from lagwise.say.report.course import YOURS, course_picture
from lagwise.say.report.fitted import Why
from lagwise.say.report.person_changes import changed, key
from lagwise.say.report.reasons import FEW, no_answer
from lagwise.say.report.wording import limits, read_apart
from lagwise.say.report.words import Words


def page(findings: Findings, code: str) -> Document:
    """The page of one person as a content tree, a pure function of the findings."""
    words = Words(findings)
    one, facts = _series(findings, code), _facts(findings, code)
    name = page_name(code, (p.person for p in findings.people))
    blocks: list[Block] = [
        Heading(1, "Your own record", "title"),
        para(f"Code {shown(code)}. This page is private. It shows one person.", role="note"),
        para(
            f"Here is what was written down in your log over {plural(len(one), words.step)}. The page "
            "looks back. It is meant "
            f"for a talk with someone who knows you and your log.",
            role="lead",
        ),
        Heading(2, "What you wrote down", "record"),
        para(*_told(one, facts, words)),
        Figure(name, _caption(one, words), course(findings, code).alt),
        *changed(one, words),
        Heading(2, "What was seen in the whole group", "group"),
        para(group(findings, words)),
        Heading(2, "What this page cannot say", "limits"),
        _cannot(words),
        Heading(2, "For the talk", "talk"),
        para(
            "You know things that no log holds. What stands out to you? What was going on in those "
            f"{words.steps}? What is missing here?"
        ),
        _care(),
    ]
    return settled(Document(f"Record of {shown(code)}", tuple(blocks), words.language))


def grade(document: Document) -> float:
    """Reading grade of all running text of a page: paragraphs, lists and captions (`reading_grade`)."""
    return reading_grade("\n".join(_texts(document.blocks)))


def _texts(blocks: Iterable[Block]) -> list[str]:
    out: list[str] = []
    for block in blocks:
        if isinstance(block, Para):
            out.append("".join(s.text for s in block.spans))
        elif isinstance(block, Bullets):
            out += ["".join(s.text for s in item) for item in block.items]
        elif isinstance(block, Figure):
            out.append(block.caption)
        elif isinstance(block, Box):
            out += _texts(block.blocks)
    return out


def _series(findings: Findings, code: str) -> PersonSeries:
    check_codes([code], (p.person for p in findings.people))
    return next(p for p in findings.people if p.person == code)


def _facts(findings: Findings, code: str) -> dict[str, Any]:
    return next((r for r in findings.tables["people"].records() if str(r["person"]) == code), {})


def _told(one: PersonSeries, facts: dict[str, Any], words: Words) -> list[str]:
    """Sentences on ratings, training and turns for the worse; what was never recorded is said to be so."""
    step, total = words.step, len(one)
    name = words.outcome.name
    rated = int(facts.get(f"{name}_steps") or 0)
    if rated:
        low, mean, high = (
            fixed(facts[f"{k}_{name}"], words.outcome.places - 1) for k in ("lowest", "mean", "highest")
        )
        spread = (
            f"The rating was {mean}"
            if rated == 1
            else f"The ratings went from {low} to {high}, with an average of {mean}"
        )
        said = [
            f"You rated your {words.asked} in {rated} of {plural(total, step)}. {spread}, on a scale "
            f"from {_ends(words)}. "
        ]
    else:
        said = [
            f"No rating of {words.asked} was written down in {'this' if total == 1 else 'these'} "
            f"{plural(total, step)}. "
        ]
    trained, rest, unknown = (int(facts.get(k) or 0) for k in ("trained", "rest", "unknown"))
    if trained or rest:
        said.append(
            f"You trained in {plural(trained, step)}{f' and took a rest in {whole(rest)}' if rest else ''}. "
        )
        if unknown:
            said.append(f"For {plural(unknown, step)} the log does not say if you trained. ")
    begun, own = sum(one.flare), facts.get("flares_reported") if words.of_pain else None
    if rated:
        said.append(
            "Going by the ratings alone, "
            f"{plural(begun, words.turn, words.turns) if begun else f'no {words.turn}'} began. By that "
            f"we mean {words.asked} "
            f"at least {words.amount(words.question.rise)} {words.after} your own average until then. "
        )
    if own is not None:
        said.append(f"You yourself called {plural(own, step) if own else f'no {step}'} a flare-up. ")
        if rated and own != begun:
            said.append("The two need not agree, since only you know how it felt. ")
    return [*said[:-1], said[-1].rstrip()]


def _ends(words: Words) -> str:
    """The ends of the scale: '0 (none) to 10' of pain, else the numbers alone."""
    low, high = words.ends
    return f"{low:g}{' (none)' if words.of_pain and low == 0 else ''} to {high:g}"


def _caption(one: PersonSeries, words: Words) -> str:
    gaps = any(v is None for v in one.pain) or "u" in one.state
    empty = " Gaps are fine. They just stay empty." if gaps else ""
    return f"Your {words.steps}, from the first to the last.{empty}{key(one, words)}"


def group(findings: Findings, words: Words) -> str:
    """The pooled result in plain words: the same sentences whatever it is, and what an average is not."""
    row = findings.primary
    if row is None or row.estimate is None or row.low is None or row.high is None:
        return (
            "There is no result for the whole group. " + _why_none(findings) + "That says nothing about you."
        )
    return " ".join([*_average(row, findings, words), *_mind(findings)])


def _why_none(findings: Findings) -> str:
    """Why there is no result for the group, in the page's own words."""
    why = no_answer(findings).why
    if why in FEW:
        return "So few people kept a log that none was worked out. "
    if why in (Why.NOT_RECORDED, Why.OFF_SCALE, Why.OTHER_MEASURE):
        return "What it asks about could not be read from the logs. "
    return "None could be worked out with care. "


def _average(row: EffectRow, findings: Findings, words: Words) -> list[str]:
    places = min(1, decimals(row.low, row.high))
    reading = difference(row.estimate or 0.0, places, words.unit)
    more = words.steps_of(row)
    likely = limits(row.low, row.high, places, words.unit)
    return [
        f"The logs of {people_said(row.n_people)} could be used for this.",
        f"On average, {more} were followed by {words.asked} {reading} than {words.steps_against(row.term)}.",
        f"That is not exact: the logs fit with anything from {likely}.",
        *(
            ["There are two ways to work this out. They do not agree, so it is not settled."]
            if read_apart(findings)
            else []
        ),
    ]


def _mind(findings: Findings) -> list[str]:
    said = ["This is the average of a group, and it may not fit you."]
    if findings.gate.name == "exploratory":
        said.insert(0, "With so few people it is only a first look.")
    said.append("It says what came after what, and not what brought it about.")
    return said


def _cannot(words: Words) -> Bullets:
    items = [
        f"Why your {words.asked} changed. {'Pain' if words.of_pain else 'It'} goes up and down for "
        "many reasons, and most of them are not in a log.",
        f"What the next {words.step} will be like.",
        "How you are doing next to other people. People differ, and nobody is ranked here.",
        "What is going on in your body. This is no "
        f"diagnosis{', and hurt is not the same as harm' if words.of_pain else ''}.",
        "What to do next. That stays with you and those who care for you.",
    ]
    return bullets(*items)


def _care() -> Box:
    return Box(
        "When to see a licensed clinician",
        (
            para(
                "Pain is real and common, and it changes for many reasons. A few signs do need medical "
                "care now. They are weakness that is new or grows, numb skin around the seat and groin, "
                "loss of bladder or bowel control, and fever. So are weight loss that nobody can explain, "
                "pain after a bad fall or crash, and night pain that never eases. Local guidance decides."
            ),
        ),
        kind="care",
    )


def foot(findings: Findings) -> str:
    """The small print of a page."""
    known = Words(findings).spelled("recognised")
    return (
        f"Made on {findings.provenance.made_on}. A record like this can be {known} even under a code; share "
        "it only as you like."
    )


def course(findings: Findings, code: str) -> PictureFacts:
    """One person's load, effort, ratings and turns for the worse on one time axis, as a picture."""
    words, one, facts = Words(findings), _series(findings, code), _facts(findings, code)
    return course_picture(one, facts, words.measure, words.step, words.question, YOURS)


_WORD = re.compile(r"[A-Za-z]+(?:['\u2019-][A-Za-z]+)*")
_SENTENCE_END = re.compile(r"[.!?]+(?:\s|$)|\n+")
_VOWELS = re.compile(r"[aeiouy]+")


def reading_grade(text: str) -> float:
    """Flesch-Kincaid grade of an English text: 0.39 words / sentences + 11.8 syllables / words - 15.59.

    A grade of 8 is read with ease by most people of about fourteen. Figures are not counted as words; a
    sentence ends at a full stop, question mark, exclamation mark or line break. Syllables are the larger of
    pyphen's hyphenation and the groups of vowels, since hyphenation leaves out breaks that no printer would
    make ('about' counts as one).

    Raises
    ------
    ValueError
        For a text without words.

    Source: Kincaid, Fishburne, Rogers and Chissom 1975, Naval Technical Training Command, Research Branch
    Report 8-75.
    """
    parts = [words for part in _SENTENCE_END.split(text) if (words := _WORD.findall(part))]
    words = [word for part in parts for word in part]
    if not words:
        raise ValueError("a text without words has no reading grade")
    return 0.39 * len(words) / len(parts) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59


def syllables(word: str) -> int:
    """Syllables of an English word: the larger of its hyphenation and its groups of vowels, a silent e at the
    end left out.
    """
    flat = "".join(c for c in word.lower() if c.isalpha())
    vowels = len(_VOWELS.findall(flat))
    if vowels > 1 and re.search(r"[^aeiouyl]e$|[^aeiouytd]ed$|[^aeiouyszxcg]es$", flat):
        vowels -= 1
    return max(1, vowels, len(_hyphens().inserted(word.lower()).split("-")))


@cache
def _hyphens():
    from pyphen import Pyphen

    return Pyphen(lang="en_US")

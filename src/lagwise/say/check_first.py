"""The first lines of a check: whether a report is possible, of what, and what is missing for the rest."""

from __future__ import annotations

import re
from collections.abc import Iterator

from lagwise.caseload.check_edits import line_of
from lagwise.caseload.check_reading import Reading
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload, Panel
from lagwise.core.words import capital, listed
from lagwise.document.tree import Block, bullets, para
from lagwise.models.askable import askable
from lagwise.say.askable import lacking, needed, question
from lagwise.say.voice import Voice

DRAFT = (
    "`lagwise start NEWFOLDER --from FILE ...` looks at the files as they are and writes a draft of "
    "study.toml, with every guess a line to strike."
)
MARKED = "look at this"
"""By which a draft marks a line that its owner should look at."""


def first_blocks(reading: Reading, panel: Panel | None, waits: int) -> Iterator[Block]:
    """Whether a report is possible and what of, and what stands between.

    `panel` is that of the caseload as far as it can be read, None where there is none; `waits` how many
    things must be mended before a report.
    """
    draft = not reading.plan.study.reviewed
    possible = _possible(panel, reading.caseload)
    if waits or draft:
        first = [f"{plural(waits, 'thing')} below must be mended first"] if waits else []
        first += [_draft_line(reading.plan.text)] if draft else []
        yield para(f"No report yet: {'; and '.join(first)}.", role="lead")
        with_ = "With the edits proposed here" if reading.assumes else "As far as it can be read"
        yield para(f"{with_}, {possible}")
        if panel is None:
            yield para(DRAFT)
    else:
        yield para(capital(possible), role="lead")


def _possible(panel: Panel | None, caseload: Caseload | None) -> str:
    """What a report could be of."""
    if panel is None or caseload is None:
        return "nothing can be told yet, because no table with people and dates can be read."
    found, voice = askable(panel, caseload), Voice.of(panel.study)
    size = f"{plural(found.steps, panel.study.step)} of {plural(found.people, 'person', 'people')}"
    if found.level == "main":
        return f"a report is possible for the main question: {size}. It asks {question(voice)}."
    if found.level == "psychosocial":
        terms = listed([voice.label(term) for term in found.terms])
        return f"a report is possible without the main question: about {terms}, in {size}."
    if found.level == "description":
        return "a report is possible as a description only; no question can be asked of these data."
    return f"nothing is known of any {panel.study.step}, and no report is possible."


def lacks(panel: Panel, caseload: Caseload) -> str:
    """What is missing for more than a report can be of; empty where nothing is."""
    found, voice = askable(panel, caseload), Voice.of(panel.study)
    if found.level == "main":
        return ""
    return " ".join((*lacking(found.missing, voice)[:2], *needed(found.missing, voice)[:1]))


def _draft_line(text: str) -> str:
    at = line_of(("reviewed",), text)
    return f"study.toml is a draft (reviewed = false in line {at}), and nothing is analysed on a guess"


def draft_blocks(reading: Reading) -> Iterator[Block]:
    """The lines of a draft that its owner should look at, and the one that ends it; nothing of a plan that
    is none."""
    text = reading.plan.text
    if reading.plan.study.reviewed:
        return
    at = line_of(("reviewed",), text)
    marked = [
        f"line {number}: {' '.join(line.split())[:200]}"
        for number, line in enumerate(text.split("\n"), 1)
        if re.search(MARKED, line, re.IGNORECASE) and number != at
    ]
    yield para(
        "The draft: look through study.toml, strike or change what is wrong, then write reviewed = true in "
        f"line {at}." + (f" Marked '{MARKED}' there:" if marked else f" No line of it is marked '{MARKED}'.")
    )
    if marked:
        yield bullets(*marked)

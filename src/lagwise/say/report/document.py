"""From findings to the content tree of the whole write-up."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from lagwise.document.layout import on_paper, on_screen
from lagwise.document.settle import settled
from lagwise.document.tree import Block, Box, Document, Heading, Paper, Para, bullets, para
from lagwise.findings import Findings, PictureFacts
from lagwise.say.report.appendix import appendix, ethics, reporting, to_fill_in
from lagwise.say.report.challenges import challenges, limits
from lagwise.say.report.changed import changed
from lagwise.say.report.described import opening, spread
from lagwise.say.report.figures import figures
from lagwise.say.report.figures_answer import answer_figure
from lagwise.say.report.happened import happened
from lagwise.say.report.methods import methods
from lagwise.say.report.record import recorded
from lagwise.say.report.results import results
from lagwise.say.report.since import since
from lagwise.say.report.sources import Sources
from lagwise.say.report.stretches import stretched
from lagwise.say.report.summary import doors, summary
from lagwise.say.report.words import Words

Section = Callable[[Findings, Words, Mapping[str, PictureFacts]], tuple[Block, ...]]
"""A part of the write-up, its heading first: from the findings, their words and what there is to draw."""

SECTIONS: Mapping[str, Section] = {
    "since": since, "recorded": recorded, "results": results, "changed": changed, "stretches": stretched,
    "happened": happened, "spread": spread, "challenges": challenges, "limits": limits,
}  # fmt: skip
"""Between the answer and the back, by the ids of their headings."""
DESCRIBED = ("since", "recorded", "happened", "stretches", "spread", "limits")
"""Those of a record that nothing can be asked of, in their order."""
ASKED = tuple(name for name in SECTIONS if name != "spread")
FRONT = "summary"
"""The section that is the first screen."""
CONTENTS, APPENDIX, SEE = "Contents", "Appendix", "In the appendix"
"""What heads the list of contents, and on paper what was folded; and what names its place there."""
OF = "Case series of a coded training log, written by lagwise from its findings"
"""What a file says of itself."""
SIGNS = (
    "Some signs have no typeface on the machine that made this PDF; in it and in the figures they stand as "
    "their Unicode numbers in brackets. The HTML, Word and Markdown versions hold the signs themselves."
)
"""What a PDF says where signs stand as numbers."""
BACK: Mapping[str, Section] = {
    "author": to_fill_in, "ethics": ethics, "methods": methods, "checklist": reporting, "made": appendix,
}  # fmt: skip
IDS = (FRONT, *(name for name in SECTIONS if name != "stretches"), *BACK)
"""Ids of sections, which an author may write anew; stretches of the calendar are a part of another."""
FOLDED = ("methods", "checklist", "made")
"""Sections that open on a click, and on paper stand in the appendix."""


def document(
    findings: Findings,
    *,
    paper: Paper = "a4",
    also: Sequence[Section] = (),
    pictures: Mapping[str, PictureFacts] | None = None,
) -> Document:
    """The write-up as a content tree, a pure function of the findings; `also` are sections from elsewhere,
    `pictures` those of `figures(findings)` where they are there already.
    """
    return settled(_made(findings, paper, also, figures(findings) if pictures is None else pictures))


def with_sources(findings: Findings, *, also: Sequence[Section] = ()) -> Document:
    """As `document`, each number with its source."""
    known = Sources(findings)
    return settled(known.document(_made(known.findings, "a4", also, figures(known.findings))))


def _made(
    findings: Findings, paper: Paper, also: Sequence[Section], pictures: Mapping[str, PictureFacts]
) -> Document:
    words = Words(findings)
    title = findings.study.title.strip() or "Case series"
    blocks: list[Block] = [Heading(1, title, "title")]
    if findings.study.setting.strip():
        blocks.append(para(findings.study.setting.strip(), role="note"))
    blocks += [Heading(2, opening(findings), FRONT), *summary(findings)]
    if "answer" in pictures:
        blocks.append(answer_figure("answer", words, pictures))
    blocks += doors(findings, pictured="answer" in pictures)
    if findings.study.changes:
        changed = para(
            "The analysis differs from the recorded plan: ", "; ".join(findings.study.changes), "."
        )
        blocks.append(Box("Changed after the plan", (changed,)))
    for name in DESCRIBED if findings.described else ASKED:
        blocks += _named(name, SECTIONS[name](findings, words, pictures))
    for section in also:
        blocks += section(findings, words, pictures)
    blocks.append(care())
    for name, section in BACK.items():
        blocks += _named(name, section(findings, words, pictures))
    if findings.gate.name == "exploratory" and not findings.described:
        blocks = [replace(b, text=f"{b.text} (exploratory)") if isinstance(b, Heading) else b for b in blocks]
    return Document(title, tuple(blocks), words.language, mark(findings), paper, CONTENTS)


def _named(name: str, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """A section whose heading has the id of its place in the list."""
    head, *rest = blocks or (None,)
    return (replace(head, id=name), *rest) if isinstance(head, Heading) and not head.id else blocks


def on_a_screen(document: Document) -> Document:
    """The write-up as a page: the answer first, what is long folded."""
    return on_screen(document, front=FRONT, folded=FOLDED)


def on_sheets(document: Document) -> Document:
    """The write-up as a paper: a body, and an appendix of what a page folds."""
    return on_paper(document, folded=FOLDED, appendix=APPENDIX, see=SEE)


OWN_TABLE = "The author's own table"


def own_words(sections: Sequence[str]) -> Para:
    """Which sections are the author's own."""
    return para(f"The author's own text stands in these sections: {', '.join(sections)}.", role="note")


def mark(findings: Findings) -> str:
    """Who may see this version, for the head of each page."""
    if not findings.people:
        return "Version without single people"
    if findings.study.consent_single_person_plots:
        return "Shows single people, by the consent the plan attests"
    return "Private: shows single people"


def care() -> Box:
    """The static box on when licensed care is needed."""
    return Box(
        "When to see a licensed clinician",
        (
            para(
                "Pain is real and common, changes for many reasons, and hurt is not the same as harm. "
                "Some signs do need licensed medical care now:"
            ),
            bullets(
                "new or progressive weakness",
                "numbness around the saddle area, or loss of bladder or bowel control",
                "fever, or weight loss without an explanation",
                "pain after major trauma",
                "night pain that never eases",
            ),
            para(
                "Local guidance decides. This document describes a group after the fact; it screens "
                "nobody and advises nobody."
            ),
        ),
        kind="care",
    )

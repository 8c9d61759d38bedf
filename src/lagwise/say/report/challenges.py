"""What was tried to break the result, and what the study cannot tell."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby

from lagwise.core.numbers import decimals, fixed, plural, with_unit
from lagwise.core.traced import bare
from lagwise.core.words import NOT_RUN, VERDICT, listed
from lagwise.document.tree import Block, Box, Figure, Heading, bullets, inline, para, strong
from lagwise.findings import ChallengeFacts, Findings, PictureFacts
from lagwise.say.report.caveats import caveats, general
from lagwise.say.report.caveats_record import Caveat
from lagwise.say.report.wording import answer_kind
from lagwise.say.report.words import Words


def challenges(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """How the attempts ended, in a sentence and in one figure; then each, folded: what it asks, what was
    seen, its figure and what it cannot show.
    """
    blocks: list[Block] = [Heading(2, "What we tried to break it with")]
    if not findings.challenges:
        return (*blocks, para("No challenge was run: there is no result to try to break."))
    if said := challenged(findings):
        blocks.append(para(said, role="finding"))
    run = [c for c in findings.challenges if not c.problem or findings.primary is not None]
    idle = [c.title for c in findings.challenges if c not in run]
    if idle:
        named = listed([t[0].lower() + t[1:] for t in idle])
        blocks.append(para(f"Not run, since there is no result to try to break: {named}."))
    if "all-challenges" in pictures:
        row = findings.as_rated
        whose = "study" if row is None or row is findings.primary else row.by.label
        tested = "" if whose == "study" else f" Challenges are put to the {whose}."
        caption = (
            "Every challenge on one line: how it ended, and the estimate that it left where it has one. "
            f"The blue band is the {whose}'s own interval, the other one practically zero.{tested}"
        )
        blocks.append(Figure("all-challenges", caption, pictures["all-challenges"].alt))
    return (*blocks, *(_one(c, pictures) for c in run))


def _one(challenge: ChallengeFacts, pictures: Mapping[str, PictureFacts]) -> Box:
    name = figure_name(challenge)
    told: list[Block] = [para(strong("Asks. "), challenge.question), para(strong("Seen. "), _said(challenge))]
    limits = f"What it cannot show: {challenge.limits}"
    told.append(Figure(name, limits, pictures[name].alt) if name in pictures else para(limits, role="note"))
    title = f"{challenge.title}{':' if challenge.title[-1].isalnum() else ''} {_ended(challenge).lower()}"
    return Box(title, tuple(told), "fold", f"about-{name}")  # type: ignore[arg-type]


KEPT = {
    "undecided": ("change the reading", "left it undecided", "stayed undecided"),
    "practically_none": ("change the reading", "left it as it was", "stayed as it was"),
}
"""What attempts aim at, and how those that hold and all that hold are told, of an interval that includes 0.
"""


def challenged(findings: Findings) -> str:
    """How many challenges held, did not hold or could not tell, and that none sees an unrecorded cause.
    Empty without a result.

    A result whose interval includes 0 is said to have stayed as it was, undecided where it is, and not to
    have stood.
    """
    row = findings.primary
    if row is None:
        return ""
    aim, kept, stayed = KEPT.get(answer_kind(findings), ("break the result", "left it standing", "stood"))
    tried = findings.count("challenges_tried")
    if not tried:
        return "No challenge was run."
    unseen = "None of them can see what was not recorded."
    if tried == 1:
        unseen = "It cannot see what was not recorded."
    names = [c.title.lower() for c in findings.challenges if c.verdict == "does_not_hold"]
    which = f" ({', '.join(names)})" if names else ""
    held, fell, open_ = (findings.count(f"challenges_{v}") for v in ("holds", "does_not_hold", "cannot_tell"))
    if held == tried:
        told = f"it {stayed}" if tried == 1 else f"it {stayed} each time"
        return f"In {plural(tried, 'attempt')} to {aim} {told}. {unseen}"
    ended = [(held, kept), (fell, f"did not{which}"), (open_, "could not tell")]
    said = f"Of {plural(tried, 'attempt')} to {aim}, {listed([f'{n} {how}' for n, how in ended if n])}"
    return f"{said}. {unseen}"


def figure_name(challenge: ChallengeFacts) -> str:
    """Name of a challenge's figure files."""
    return f"challenge-{challenge.name.replace('_', '-')}"


def _ended(challenge: ChallengeFacts) -> str:
    return NOT_RUN[challenge.applies] if challenge.problem else VERDICT[challenge.verdict]


def _said(challenge: ChallengeFacts) -> str:
    return (
        challenge.problem[:1].upper() + challenge.problem[1:].rstrip(".") + "."
        if challenge.problem
        else challenge.sentence
    )


LINES = 5
"""Caveats that are told in short; all are told in full in a fold."""


def limits(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Caveats with this study's own figures, weightiest first, in short; then, folded, in full, and those
    that hold for every such log.
    """
    own = caveats(findings)
    blocks: list[Block] = [Heading(2, "What this cannot tell")]
    if own and findings.primary is not None:
        blocks.append(para(f"Weightiest here: {own[0].title[0].lower()}{own[0].title[1:]}.", role="finding"))
        blocks += _weighed(own[:LINES], words)
    full: list[Block] = [bullets(*(inline(strong(f"{c.title}. "), c.text) for c in own))] if own else []
    if full and findings.primary is not None:
        full.insert(0, para(words.fill(ORDER)))
    every = bullets(*general(findings))
    told = (
        ("In this study, in full", "limits-full", full),
        ("In every log of this kind", "limits-every", [every]),
    )
    return (*blocks, *(Box(title, tuple(inner), "fold", id) for title, id, inner in told if inner))  # type: ignore[arg-type]


ORDER = (
    "The weightiest first: what could overturn the reading, then by how far each could move the estimate in "
    "{points}. Unknown {steps} are taken to differ by the smallest difference that matters."
)


UNKNOWN = "by how much is not known"
"""What is said of a caveat whose shift nobody can work out."""


def _weighed(own: Sequence[Caveat], words: Words) -> list[Block]:
    """Each caveat with what it could do to the estimate; what several could do is said once, over them."""
    blocks: list[Block] = []
    for could, found in groupby(own, lambda c: _could(c, words)):
        alike = [c.title for c in found]
        if len(alike) == 1:
            blocks.append(para(strong(f"{alike[0]}: "), f"{could}."))
        else:
            each = "Each of these" if could != UNKNOWN else "Each of these could move the estimate;"
            blocks += [para(f"{each} {could}:"), bullets(*alike)]
    return blocks


def _could(caveat: Caveat, words: Words) -> str:
    """What a caveat could do to the estimate."""
    important, zero = words.question.important, words.question.zero
    if math.isinf(caveat.shift):
        return "could overturn the reading"
    if not caveat.shift:
        return UNKNOWN
    if caveat.shift >= important:
        return f"could move the estimate by {words.amount(important)} or more, which the plan calls important"
    if caveat.shift > zero:
        return f"could move the estimate by more than {words.amount(zero)}"
    return (
        f"could move the estimate{_if_small(words)} by at most {words.amount(zero)}, which the plan calls "
        "practically zero"
    )


def _if_small(words: Words) -> str:
    """' of 0.25 points' where the estimate is itself no larger than what is practically zero; else empty."""
    row = words.findings.primary
    if row is None or row.estimate is None or abs(row.estimate) > words.question.zero:
        return ""
    said = fixed(row.estimate, decimals(row.low, row.high))
    return f" of {with_unit(said, words.unit)}" if bare(said).strip("0.") else ""

"""What was tried to break the result, and what the study cannot tell."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.writeup.caveats import GENERAL, caveats
from lagwise.writeup.content import Block, Figure, Heading, bullets, grid, inline, link, para, strong
from lagwise.writeup.findings import ChallengeFacts, Findings, PictureFacts
from lagwise.writeup.words import VERDICT, Words


def challenges(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """The table of challenges with how each ended, then each one's figure."""
    blocks: list[Block] = [Heading(2, "What we tried to break it with", "challenges")]
    if not findings.challenges:
        return (*blocks, para("No challenge was run: there is no result to try to break."))
    rows = [(_linked(c, pictures), c.question, VERDICT[c.verdict], _said(c)) for c in findings.challenges]
    blocks.append(
        grid(
            "challenges-table",
            "Challenges and how the result came through",
            ("Challenge", "Asks", "Outcome", "What was seen"),
            rows,
        )
    )
    for challenge in findings.challenges:
        name = figure_name(challenge)
        if name in pictures:
            blocks.append(Heading(3, challenge.title, f"about-{name}"))
            blocks.append(Figure(name, f"What it cannot show: {challenge.limits}", pictures[name].alt))
    return tuple(blocks)


def figure_name(challenge: ChallengeFacts) -> str:
    """Name of a challenge's figure files."""
    return f"challenge-{challenge.name.replace('_', '-')}"


def _linked(challenge: ChallengeFacts, pictures: Mapping[str, PictureFacts]):
    name = figure_name(challenge)
    return inline(link(challenge.title, f"about-{name}") if name in pictures else challenge.title)


def _said(challenge: ChallengeFacts) -> str:
    return f"Could not be run: {challenge.problem}" if challenge.problem else challenge.sentence


def limits(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Caveats with this study's own figures, weightiest first, then those that hold for every such log."""
    own = caveats(findings)
    blocks: list[Block] = [Heading(2, "What this cannot tell", "limits")]
    if own:
        blocks.append(para("In this study, what could change the answer most comes first."))
        blocks.append(bullets(*(inline(strong(f"{c.title}. "), c.text) for c in own)))
    blocks.append(para("In every log of this kind:"))
    blocks.append(bullets(*GENERAL))
    return tuple(blocks)

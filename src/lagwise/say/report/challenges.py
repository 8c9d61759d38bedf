"""What was tried to break the result, and what the study cannot tell."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.words import NOT_RUN, VERDICT, listed
from lagwise.document.tree import Block, Figure, Heading, bullets, grid, inline, link, para, strong
from lagwise.findings import ChallengeFacts, Findings, PictureFacts
from lagwise.say.report.caveats import caveats, general
from lagwise.say.report.words import Words


def challenges(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """The table of challenges with how each ended, then each one's figure."""
    blocks: list[Block] = [Heading(2, "What we tried to break it with", "challenges")]
    if not findings.challenges:
        return (*blocks, para("No challenge was run: there is no result to try to break."))
    run = [c for c in findings.challenges if not c.problem or findings.primary is not None]
    idle = [c.title for c in findings.challenges if c not in run]
    if idle:
        named = listed([t[0].lower() + t[1:] for t in idle])
        blocks.append(para(f"Not run, since there is no result to try to break: {named}."))
    if "challenges" in pictures:
        caption = (
            "Every challenge on one line: how it ended, and the estimate that it left where it has one. "
            "The blue band is the study's own interval, the grey one practically zero."
        )
        blocks.append(Figure("challenges", caption, pictures["challenges"].alt))
    if run:
        rows = [(_linked(c, pictures), c.question, _ended(c), _said(c)) for c in run]
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


def _ended(challenge: ChallengeFacts) -> str:
    return NOT_RUN[challenge.applies] if challenge.problem else VERDICT[challenge.verdict]


def _said(challenge: ChallengeFacts) -> str:
    return (
        challenge.problem[:1].upper() + challenge.problem[1:].rstrip(".") + "."
        if challenge.problem
        else challenge.sentence
    )


def limits(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Caveats with this study's own figures, weightiest first, then those that hold for every such log."""
    own = caveats(findings)
    blocks: list[Block] = [Heading(2, "What this cannot tell", "limits")]
    if own:
        blocks.append(
            para(
                "In this study, the weightiest first: what could overturn the reading, then by how far each "
                f"could move the estimate in {words.unit}, unknown {words.steps} being taken to differ "
                "by the "
                "smallest difference that matters."
                if findings.primary is not None
                else "In this study:"
            )
        )
        blocks.append(bullets(*(inline(strong(f"{c.title}. "), c.text) for c in own)))
    blocks.append(para("In every log of this kind:"))
    blocks.append(bullets(*general(findings)))
    return tuple(blocks)

"""What changed, and what followed: kinds of events against steps of the same history without one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lagwise.core.claim import Claim, Measured
from lagwise.core.numbers import SPACE, fixed, limits_text, plural, whole
from lagwise.core.study import INTERVAL
from lagwise.core.words import capital, listed
from lagwise.document.tree import (
    Block,
    Figure,
    Grid,
    Heading,
    Para,
    bullets,
    folded,
    grids,
    inline,
    para,
    strong,
)
from lagwise.events.asked import MOST
from lagwise.findings import ChallengeFacts, Findings, FollowedFacts, PictureFacts
from lagwise.findings.plain import claim_of
from lagwise.say.changes.followed import ALLOWS, BECAUSE, FIRST_OF_ALL, hidden_trigger, sentences
from lagwise.say.changes.kinds import event, heading
from lagwise.say.report.words import Words
from lagwise.say.voice import Voice

DASH = "\u2013"
NAMED = 3
"""Comparisons that the opening names one by one."""
WAYS = {
    "risk_set": "Same history (doubly robust)",
    "before_after": "Before and after",
    "return": "Of that, ordinary return",
    "did": "Difference in differences",
    "regression": "Outcome model alone",
}
"""Columns of the table of differences."""
VERDICT = {"holds": "Held", "cannot_tell": "Could not tell", "does_not_hold": "Did not hold"}


@dataclass(frozen=True)
class _Told:
    """A kind and a rating with its claim and the voice that asks about that rating."""

    at: int
    facts: FollowedFacts
    claim: Claim
    voice: Voice

    @property
    def compared(self) -> bool:
        return "risk_set" in self.claim.numbers

    @property
    def name(self) -> str:
        return f"{capital(heading(self.facts.kind))}: {self.voice.asked}"


def followed_of(findings: Findings, words: Words) -> list[_Told]:
    """What followed each kind, in order, with its words."""
    plan = findings.study.plan
    told = ((at, one, claim_of(one)) for at, one in enumerate(findings.followed, 1))
    return [
        _Told(at, one, claim, Voice.asking(plan, one.outcome, words.spelling))
        for at, one, claim in told
        if claim is not None
    ]


def changed(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """The finding in a sentence, how it was compared, the differences, each kind with its picture, why events
    were made, what was tried, and what no comparison removes. Nothing where no kind is followed.
    """
    every = followed_of(findings, words)
    if not every:
        return ()
    compared = [one for one in every if one.compared]
    blocks: list[Block] = [
        Heading(2, "What changed, and what followed"),
        replace(_opening(compared, words), role="finding"),
    ]
    more: list[Block] = []
    if compared:
        blocks += [*_differences(compared, words), para(unrated(compared))]
        more = [Heading(3, "How events were compared", "changed-how"), *_how(compared, words)]
    for kind in dict.fromkeys(one.facts.kind for one in every):
        more += _kind([one for one in every if one.facts.kind == kind], pictures)
    if reasons := _reasons(findings, every, words):
        more += [Heading(3, "Why they were made", "changed-why"), *reasons]
    if compared and (tried := _attempts(compared)):
        more += [Heading(3, "What was tried against each comparison", "changed-tried"), *tried]
    return (*blocks, *_not_told(findings), *folded(more))


def _opening(compared: Sequence[_Told], words: Words) -> Para:
    if not compared:
        return para(
            "Too few people have any one kind of event for a comparison. What stands here are counts and "
            "pictures, and nothing is estimated."
        )
    apart = [one for one in compared if one.claim["risk_set"].side]
    said = [
        f"{one.voice.asked} was {one.voice.ways_of(one.claim['risk_set'].side)} after {event(one.facts.kind)}"
        for one in apart
    ]
    n = len(compared)
    rest = capital(_including(n - len(apart), "other " if apart else "")) if n > len(apart) else ""
    if len(apart) > NAMED:
        said = [f"{whole(len(apart))} ratings were apart from what was expected"]
    found = f"Against {words.steps} of the same history, {listed(said)}. " if apart else ""
    doubted = [
        f"{one.voice.asked} after {event(one.facts.kind)}"
        for one in apart
        if any(_against(a) for a in one.facts.attempts)
    ]
    doubt = f" Not every attempt to break it held: see {listed(doubted)} below." if doubted else ""
    many = (
        f" Had nothing followed any of them, at least one of {n} such intervals would leave out 0 in about "
        f"{fixed(100 * (1 - INTERVAL**n), 0)} of 100 such records."
    )
    return para(strong(f"{found}{rest}".strip()), doubt, many if n > 1 else "")


def _against(attempt: ChallengeFacts) -> bool:
    return attempt.verdict in ("cannot_tell", "does_not_hold") and not attempt.problem


def _including(n: int, other: str) -> str:
    return f"the {other}interval includes 0." if n == 1 else f"the {other}{whole(n)} intervals include 0."


def _how(compared: Sequence[_Told], words: Words) -> list[Block]:
    """What is set against what, and every way of comparing in a table."""
    first = compared[0].claim["first"]
    told = para(
        "Changes mostly come in a bad stretch, and a bad stretch mostly passes, whatever was changed. So "
        f"each first event is set against {words.steps} of people who had not had it yet and did not have it "
        f"then. Those {words.steps} have the same last three ratings, average so far, load and time of year, "
        "as far as these were recorded. Whoever has fewer than three ratings before cannot be compared. "
        f"Compared is the mean of the first {first} {words.steps} after. It stays a sequence in time, and "
        "who had an event was not drawn by lot."
    )
    ways = ("did", "regression")
    rows = [(one.name, *(_cell(one.claim.get(way)) for way in ways)) for one in compared]
    table = grids(
        "changed-ways",
        "The same by other ways of comparing",
        ("Event: rating", *(WAYS[way] for way in ways)),
        rows,
        numeric=(1, 2),
        note=f"Difference in differences takes off the change of {words.steps} without an event, whatever "
        "their history.",
    )
    return [told, *table]


SHOWN = ("risk_set", "before_after", "return")


def _differences(compared: Sequence[_Told], words: Words) -> list[Grid]:
    rows = [(one.name, *(_cell(one.claim.get(way)) for way in SHOWN)) for one in compared]
    first = compared[0].claim["first"]
    return grids(
        "changed-table",
        f"Mean of the first {first} {words.steps} after an event, against what was expected without it",
        ("Event: rating", *(WAYS[way] for way in SHOWN)),
        rows,
        numeric=range(1, 1 + len(SHOWN)),
        note="In units of each rating, with 95 % intervals. Before and after includes the ordinary return "
        "after a bad stretch; the column beside it is the size of that return at the same history.",
    )


def _cell(found: Measured | None) -> str:
    if found is None:
        return DASH
    low, high = (found.low, found.high) if found.known else (None, None)
    return limits_text(found.value, low, high, gap=SPACE)


def _kind(own: Sequence[_Told], pictures: Mapping[str, PictureFacts]) -> list[Block]:
    """What followed one kind, each rating with its picture."""
    kind = own[0].facts.kind
    blocks: list[Block] = [Heading(3, f"After {event(kind)}", f"after-{own[0].at}")]
    for at, one in enumerate(own):
        told = sentences(one.claim, one.voice, reasons=False, left=at == 0)
        blocks.append(para(" ".join(told)))
        if (name := f"followed-{one.at}") in pictures:
            picture = pictures[name]
            blocks.append(Figure(name, f"{picture.title}.", picture.alt, stays=True))
    return blocks


def _reasons(findings: Findings, every: Sequence[_Told], words: Words) -> list[Block]:
    """How many events there are and have comparable steps, why they were made, and what that allows."""
    rows, allows = [], dict[str, list[str]]()
    for kind in dict.fromkeys(one.facts.kind for one in every):
        claim = next(one.claim for one in every if one.facts.kind == kind)
        compared, alone, mixed = (claim.get(k) for k in ("compared", "alone", "mixed_up"))
        counts = {k: m.value for k in BECAUSE if (m := claim.get(f"because_{k}"))}
        if compared is None:
            continue
        at_risk = [] if findings.shared else [whole(compared.value + (alone.value if alone else 0))]
        why = [whole(counts.get(k, 0)) if counts else DASH for k in BECAUSE]
        other = DASH if mixed is None else whole(mixed.value)
        rows.append((capital(heading(kind)), *at_risk, whole(compared.value), other, *why))
        least = next((k for k in FIRST_OF_ALL if k in counts), FIRST_OF_ALL[0])
        allows.setdefault(least, []).append(heading(kind))
    if not rows:
        return []
    first = every[0].claim["first"]
    at_risk = [] if findings.shared else ["First events"]
    named = [
        inline(strong(f"{capital(listed(kinds))}. "), words.fill(ALLOWS[k])) for k, kinds in allows.items()
    ]
    return [
        *grids(
            "because",
            "Events, how many of them can be compared, and why they were made",
            (
                "Event",
                *at_risk,
                f"With comparable {words.steps}",
                f"With another kind within {first} {words.steps}",
                *(capital(text) for text in BECAUSE.values()),
            ),
            rows,
            numeric=range(1, 7 + len(at_risk)),
        ),
        para(
            "What the reason allows. Where events of a kind differ in it, the one that allows least counts:"
        ),
        bullets(*named),
    ]


def _attempts(compared: Sequence[_Told]) -> list[Block]:
    """How each comparison came through, and what was seen where it did not."""
    rows, seen = [], []
    for one in compared:
        tried = [a for a in one.facts.attempts if a.verdict != "informative"]
        ended = [[a.title for a in tried if a.verdict == v and not a.problem] for v in VERDICT]
        held, *others = ended
        if tried:
            named = (capital("; ".join(titles).lower()) or DASH for titles in others)
            rows.append((one.name, f"{len(held)} of {sum(map(len, ended))}", *named))
        seen += [inline(strong(f"{one.name}, {a.title.lower()}. "), a.sentence) for a in tried if _against(a)]
    table = grids(
        "attempts-table",
        "What was tried against each comparison, and how it ended",
        ("Event: rating", *VERDICT.values()),
        rows,
        numeric=(1,),
        note="Every attempt, with what it asks and saw, is in attempts.csv.",
    )
    return [*table, *([bullets(*seen)] if seen else [])]


def unrated(compared: Sequence[_Told]) -> str:
    """What an unrated trigger could give, after the event and on the rating where it could give most."""
    found = [
        (truth["unlogged_0"], one)
        for one in compared
        for a in one.facts.attempts
        if (truth := claim_of(a)) is not None and "unlogged_0" in truth.numbers
    ]
    if not found:
        return "No comparison removes what set an event off and was never rated."
    most, one = max(found, key=lambda pair: abs(pair[0].value))
    return hidden_trigger(most, one.claim, one.voice)


def _not_told(findings: Findings) -> list[Block]:
    """Kinds that are recorded, or named by the plan, and not followed here."""
    if findings.shared:
        return [para("Kinds of events that few people could be compared for are left out.", role="note")]
    said, left = [], findings.count("kinds_left")
    if left:
        kinds = plural(left, "further kind of event is", "further kinds of events are")
        said.append(
            f"{kinds} recorded and not followed here. At most {MOST} kinds are followed, those of most "
            "people first, unless the plan names more."
        )
    there = (
        {str(kind) for kind in findings.tables["events"].column("kind")}
        if "events" in findings.tables
        else set()
    )
    plan = findings.study.plan.get("events", {})
    named = dict.fromkeys((*plan.get("outcomes", ()), *plan.get("unmoved", ())))
    absent = [heading(k) for k in named if k not in there]
    if absent:
        said.append(f"The plan asks what follows {listed(absent)}, and no such event is in the record.")
    return [para(" ".join(said), role="note")] if said else []

"""Since the last report: the section, its tables and its picture."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from lagwise.core.engine import named
from lagwise.core.numbers import UNKNOWN, fixed, interval, limits_text, number, plural, signed, whole
from lagwise.core.study import INTERVAL
from lagwise.core.words import VERDICT, capital, short_contrast
from lagwise.document.tree import Block, Figure, Heading, grid, grids, para
from lagwise.findings import Findings, PictureFacts, Table
from lagwise.findings.since import Limits, Move, Since
from lagwise.say.changes.kinds import heading as kind_heading
from lagwise.say.report.since_said import (
    KEYS_NAMED,
    SAID,
    WHY,
    cautions,
    known,
    named_settings,
    opening,
    value_said,
)
from lagwise.say.report.words import Words
from lagwise.say.voice import Voice

TITLE = "Since the last report"
PICTURE, CAPTION = "since", "Each estimate in the earlier report and in this one, with its interval."
MORE = {"within": "No", "beyond": "Yes", "new": "New", "gone": "No longer estimated"}
"""Whether an estimate moved by more than new data explain, in a table."""
REMARK = {"unmoved": "hardly moved", "no_data": "no step was added"}
KINDS = {
    "primary": "What was asked",
    "exposure": "Exposures",
    "onset": "Odds ratios of {turns}",
    "event": "What followed events",
}
COUNTED = {
    "people": "People",
    "steps": "Person-{steps}",
    "main_steps": "Person-{steps} with all that the main question needs",
    "rated_steps": "Person-{steps} with {asked} rated",
    "sessions": "Rows of sessions",
    "checkins": "Rows of check-ins",
    "weeks": "Rows of weekly totals",
    "events": "Events",
    "flare_onsets": "{turns} begun",
    "flare_people": "People with {turns}",
}
NESTED = (
    "The earlier records are part of the new ones. So an estimate of the same model moves, by new data "
    "alone, with the variance of the earlier estimate less that of the new one.",
    "Where the person-{steps} make that larger, they decide: two variances that are nearly equal tell "
    "little. 'New data alone' holds 95 of 100 such moves.",
    "A move within it is no confirmation. A move beyond it can come from an earlier value that was changed, "
    "from people who differ, or from a time that differs.",
)


def since(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """The section of a report that was told of an earlier one; else nothing."""
    if findings.since is None:
        return ()
    drawn = [Figure(PICTURE, CAPTION, pictures[PICTURE].alt)] if PICTURE in pictures else []
    told: list[Block] = [*opening(findings), *cautions(findings), *drawn]
    return (Heading(2, TITLE), *told, *parts(findings, level=3))


def picture(findings: Findings, words: Words) -> dict[str, PictureFacts]:
    """The estimates of the main question then and now, one under the other; nothing where no pair is."""
    found = findings.since
    asked = [m for m in found.moves if m.kind in ("primary", "exposure") and not m.question] if found else []
    both = [(m, m.old, m.new) for m in asked if m.old is not None and m.new is not None]
    if not both:
        return {}
    rows, told, places = [], [], words.outcome.places
    for move, old, new in both:
        label = _name(move, findings, words)
        for at, when in ((old, "earlier"), (new, "now")):
            lead = move.kind == "primary"
            rows.append((label, at.estimate, at.low, at.high, when, lead, at.n_people, at.n_steps))
        told.append(f"{label} {_limits(old, False, places)}, now {_limits(new, False, places)}")
    columns = ("label", "estimate", "low", "high", "group", "primary", "n_people", "n_steps")
    made = PictureFacts(
        kind="intervals",
        title=f"Then and now: {_title(found)}",
        data=Table(columns=columns, rows=tuple(rows), units=dict.fromkeys(columns[1:4], words.unit)),
        x=f"difference in {words.asked_then}, {words.unit}",
        y="",
        alt=f"{'; '.join(told)}; in {words.unit}.",
        options={"reference": 0},
    )
    return {PICTURE: made}


def _title(found: Since | None) -> str:
    move = next((m for m in found.moves if m.kind == "primary" and not m.question), None) if found else None
    if move is None:
        return "every exposure"
    told = "hardly moved" if move.reason == "unmoved" else f"moved {SAID.get(move.verdict, '')}".strip()
    return f"the main estimate {told}"


def parts(findings: Findings, *, level: int) -> Iterator[Block]:
    """Records, plan, estimates and challenges, each under a heading of that level."""
    found, words = known(findings), Words(findings)
    rows = [_count(one.name, one.old, one.new, words) for one in found.counts]
    if rows:
        yield Heading(level, "What came in", "since-records")
        head = ("Counted", "Earlier", "Now", "Change")
        yield grid("since-counts", "The record, then and now", head, rows, numeric=(1, 2, 3))
    yield Heading(level, "The plan and the analysis", "since-plan")
    yield para(_plan(found))
    changed = [
        (c.key, value_said(c.old), value_said(c.new)) for c in (*found.plan, *named_settings(found.settings))
    ]
    yield from grids("since-choices", "What was chosen otherwise", ("Choice", "Earlier", "Now"), changed)
    if found.moves:
        yield Heading(level, "How the estimates moved", "since-estimates")
        yield para(_estimates(found))
        yield _moves(findings, found, words)
        yield from map(para, (words.fill(text) for text in NESTED))
    if found.verdicts:
        yield Heading(level, "How the challenges ended", "since-challenges")
        ended = [(e.title, _verdict(e.old), _verdict(e.new)) for e in found.verdicts]
        yield grid("since-verdicts", "Challenges, then and now", ("Challenge", "Earlier", "Now"), ended)


def _plan(found: Since) -> str:
    if not found.plan:
        changed = "plan" in found.cautions
        return "The plan was changed." if changed else "The plan is the same as before, by its hash."
    keys = [c.key for c in found.plan]
    more = f" and {len(keys) - KEYS_NAMED} more" if len(keys) > KEYS_NAMED else ""
    return f"The plan was changed after earlier data had been seen: {', '.join(keys[:KEYS_NAMED])}{more}."


def _count(name: str, old: int | None, new: int | None, words: Words) -> tuple[str, ...]:
    named = COUNTED[name].format(steps=words.steps, asked=words.asked, turns=words.turns)
    change = UNKNOWN if old is None or new is None else f"{'+' if new > old else ''}{whole(new - old)}"
    return capital(named), whole(old), whole(new), change


def _verdict(verdict: str) -> str:
    return VERDICT[verdict] if verdict else "Not run"


def _estimates(found: Since) -> str:
    """How many estimates moved by more than new data explain, and how many would by chance."""
    weighed = [m for m in found.moves if m.verdict in ("within", "beyond")]
    beyond = sum(m.verdict == "beyond" for m in weighed)
    if not weighed:
        return "Of no estimate can it be told whether it moved by more than new data explain."
    told = (
        f"Of {plural(len(weighed), 'estimate')} that can be weighed, {beyond or 'none'} moved by more than "
        "new data explain."
    )
    if len(weighed) == 1:
        return told
    by_chance = fixed((1 - INTERVAL) * len(weighed), 1)
    return f"{told} About {by_chance} of so many would by chance alone."


def _moves(findings: Findings, found: Since, words: Words) -> Block:
    shown = [_move(m, findings, words) for m in found.moves]
    head = ("Estimate", "Earlier", "Now", "Moved by", "New data alone", "More than new data explain?")
    turns = words.turns
    return grid(
        "since-moves",
        f"Estimates with {fixed(100 * INTERVAL, 0)} % intervals, then and now",
        head,
        shown,
        numeric=(1, 2, 3, 4),
        groups=[capital(KINDS[m.kind].format(turns=turns)) for m in found.moves],
        note=f"In {words.unit} of each rating; odds ratios as factors.",
    )


def _move(move: Move, findings: Findings, words: Words) -> tuple[str, ...]:
    ratio = move.scale == "odds_ratio"
    moved, alone, places = UNKNOWN, UNKNOWN, words.outcome.places
    if move.difference is not None:
        moved = f"\u00d7 {fixed(math.exp(move.difference), 2)}" if ratio else signed(move.difference, places)
    if move.reach is not None:
        limits = [math.exp(side * move.reach) for side in (-1, 1)]
        alone = (
            f"\u00d7 {fixed(limits[0], 2)} to {fixed(limits[1], 2)}"
            if ratio
            else f"\u00b1{fixed(move.reach, places)}"
        )
    how = MORE.get(move.verdict) or f"Cannot tell: {WHY[move.reason]}"
    how = f"{how}: {REMARK[move.reason]}" if move.reason in REMARK else how
    both = (_limits(move.old, ratio, places), _limits(move.new, ratio, places))
    return _name(move, findings, words), *both, moved, alone, how


def _limits(at: Limits | None, ratio: bool, places: int) -> str:
    if at is None:
        return UNKNOWN
    if not ratio:
        return (
            limits_text(at.estimate, at.low, at.high) if at.low is not None else signed(at.estimate, places)
        )
    return f"{number(at.estimate, at.low, at.high)} ({interval(at.low, at.high)})"


def _name(move: Move, findings: Findings, words: Words) -> str:
    if move.kind == "event":
        rating = move.outcome.removesuffix("_after")
        return f"{capital(kind_heading(move.subject))}: {Voice.asking(findings.study.plan, rating).asked}"
    model = "" if move.kind == "onset" else f" ({named(move.engine).label})"
    if move.kind == "primary" and move.question:
        return capital(Words(findings.asking(findings.also[move.question - 1])).asks) + model
    at = short_contrast(move.subject, move.contrast, move.contrast_size, words.variables)
    return f"{capital(words.label(move.subject))}, {at}{model}"

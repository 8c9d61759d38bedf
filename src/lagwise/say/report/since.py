"""Since the last report: what came in, what changed, how estimates and verdicts moved, how often it was
asked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from lagwise.core.engine import named
from lagwise.core.numbers import (
    UNKNOWN,
    decimals,
    fixed,
    interval,
    limits_text,
    number,
    plural,
    signed,
    whole,
)
from lagwise.core.study import INTERVAL
from lagwise.core.words import VERDICT, capital, listed, short_contrast
from lagwise.document.tree import Block, Bullets, Figure, Heading, Para, bullets, grid, grids, para, strong
from lagwise.findings import Findings, PictureFacts, Table
from lagwise.findings.since import Choice, Limits, Move, Since
from lagwise.say.changes.kinds import heading as kind_heading
from lagwise.say.phrases import difference, interval_of
from lagwise.say.report.words import Words
from lagwise.say.voice import Voice

TITLE = "Since the last report"
PICTURE, CAPTION = "since", "Each estimate in the earlier report and in this one, with its interval."
SAID = {
    "within": "by no more than new data explain",
    "beyond": "by more than new data explain",
    "cannot_tell": "cannot tell",
    "new": "new",
    "gone": "no longer estimated",
}
WHY = {
    "unmoved": "hardly moved",
    "no_data": "by more than new data explain: no step was added",
    "precision": "cannot tell: no more precise than before",
    "analysis": "cannot tell: the model is another one",
    "codes": "cannot tell: whose records were there before is not known",
    "shared": "cannot tell: numbers to share are rounded",
    "interval": "cannot tell: an estimate has no interval",
}
"""How a move is told in a table, by its reason, else by its verdict."""
KINDS = {
    "primary": "What was asked",
    "exposure": "Exposures",
    "onset": "Odds ratios of {turns}",
    "event": "What followed events",
}
COUNTED = {
    "people": "People",
    "steps": "Person-{steps}",
    "main_steps": "Person-{steps} that the main question can use",
    "rated_steps": "Person-{steps} with {asked} rated",
    "sessions": "Rows of sessions",
    "checkins": "Rows of check-ins",
    "weeks": "Rows of weekly totals",
    "events": "Events",
    "flare_onsets": "{turns} begun",
    "flare_people": "People with {turns}",
}
SETTING = {
    "quick": "quick",
    "draws": "draws",
    "chains": "chains",
    "seed": "seed",
    "version": "lagwise version",
}
KEYS_NAMED = 4
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
    return (Heading(2, TITLE, "since"), *opening(findings), *drawn, *parts(findings, level=3))


def picture(findings: Findings, words: Words) -> dict[str, PictureFacts]:
    """The estimates of the main question then and now, one under the other; nothing where no pair is."""
    found = findings.since
    asked = [m for m in found.moves if m.kind in ("primary", "exposure") and not m.question] if found else []
    both = [(m, m.old, m.new) for m in asked if m.old is not None and m.new is not None]
    if not both:
        return {}
    rows, told = [], []
    for move, old, new in both:
        label = f"{_name(move, findings, words)} ({named(move.engine).label})"
        for at, when in ((old, "earlier"), (new, "now")):
            lead = move.kind == "primary"
            rows.append((label, at.estimate, at.low, at.high, when, lead, at.n_people, at.n_steps))
        told.append(f"{label} {_limits(old, False)}, now {_limits(new, False)}")
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
    return WHY.get(move.reason) or f"moved {SAID[move.verdict]}"


def opening(findings: Findings) -> tuple[Para, ...]:
    """What came in, how the main estimate moved, and how often the question has been asked."""
    found, words = known(findings), Words(findings)
    told = (
        ("Came in.", _came_in(found, words)),
        ("Moved.", _moved(found, words)),
        ("Challenges.", _ended(found)),
        ("Asked.", _asked(found)),
    )
    return tuple(para(strong(label), f" {text}", role="lead") for label, text in told if text)


def cautions(findings: Findings) -> tuple[Bullets, ...]:
    """What weakens the comparison, the weightiest first."""
    found, words = known(findings), Words(findings)
    said = [text for code in found.cautions if (text := _caution(code, found, words, findings))]
    return (bullets(*said),) if said else ()


def parts(findings: Findings, *, level: int) -> Iterator[Block]:
    """Cautions, then records, plan, estimates and challenges, each under a heading of that level."""
    found, words = known(findings), Words(findings)
    yield from cautions(findings)
    rows = [_count(one.name, one.old, one.new, words) for one in found.counts]
    if rows:
        yield Heading(level, "What came in", "since-records")
        head = ("Counted", "Earlier", "Now", "Change")
        yield grid("since-counts", "The record, then and now", head, rows, numeric=(1, 2, 3))
    yield Heading(level, "Plan and analysis", "since-plan")
    yield para(_plan(found))
    changed = [(c.key, _value(c.old), _value(c.new)) for c in (*found.plan, *_named(found.settings))]
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


def known(findings: Findings) -> Since:
    """What changed, of findings that know of an earlier report."""
    if findings.since is None:
        raise ValueError("these findings know of no earlier report")
    return findings.since


def _made_on(found: Since) -> str:
    return found.looks[-1].made_on if found.looks else ""


def _count_of(found: Since, name: str) -> tuple[int | None, int | None]:
    return next(((c.old, c.new) for c in found.counts if c.name == name), (None, None))


def _came_in(found: Since, words: Words) -> str:
    if "same" in found.cautions:
        return ""
    was, now = _count_of(found, "steps")
    day = f"the report of {_made_on(found)}"
    if was is None or now is None:
        return f"The earlier one is {day}."
    if now == was:
        told = f"No person-{words.step} came in since {day}."
    else:
        more = plural(abs(now - was), f"person-{words.step}")
        told = f"Since {day}, {more} {'came in' if now > was else 'were taken out'}."
    return " ".join([told, *_people(found)])


def _people(found: Since) -> Iterator[str]:
    """How many people came and left, and until when the record reaches."""
    if found.came is not None and found.left is not None:
        came = plural(found.came, "person", "people") if found.came else "Nobody"
        left = plural(found.left, "person is", "people are") if found.left else "nobody is"
        named = f": {listed(found.gone)}" if 0 < len(found.gone) <= KEYS_NAMED else ""
        yield f"{came} joined, and {left} no longer there{named}."
    if found.until[1]:
        before = f", and reached {found.until[0]} before" if found.until[0] else ""
        yield f"The record reaches {found.until[1]}{before}."


def _moved(found: Since, words: Words) -> str:
    """What the main estimate is of, is now and was, and how far it moved; empty where there is none."""
    move = next((m for m in found.moves if m.kind == "primary" and m.question == 0), None)
    if move is None or move.new is None:
        return ""
    told = f"{capital(words.asks)}. It is now {_in_words(move.new, words)}."
    if move.old is None:
        return f"{told} The earlier report had no such estimate."
    return f"{told} It was {_in_words(move.old, words)}. {_how_far(move, words)}"


def _in_words(at: Limits, words: Words) -> str:
    if at.low is None or at.high is None:
        return difference(at.estimate, 2, words.unit)
    places = decimals(at.low, at.high)
    return (
        f"{difference(at.estimate, places, words.unit)} ({interval_of(at.low, at.high, places, words.unit)})"
    )


def _how_far(move: Move, words: Words) -> str:
    if move.reason == "unmoved":
        return "It hardly moved."
    if move.verdict == "cannot_tell":
        why = WHY.get(move.reason, "").partition(": ")[2]
        return f"Whether new data alone explain the move cannot be told: {why}."
    size = fixed(abs(move.difference or 0.0), 2)
    none = ": no step was added" if move.reason == "no_data" else ""
    around = none if move.reach is None else f" (within {fixed(move.reach, 2)})"
    return f"It moved by {size} {words.unit}, {SAID[move.verdict]}{around}."


def _ended(found: Since) -> str:
    """How many challenges ended otherwise than before, and which."""
    both = [e for e in found.verdicts if e.old and e.new]
    other = [e.title.lower() for e in both if e.old != e.new]
    if not both:
        return ""
    if not other:
        return f"All {len(both)} challenges that both reports ran ended as before."
    some = f"{listed(other[:KEYS_NAMED])}{' and others' if len(other) > KEYS_NAMED else ''}"
    return f"Of {plural(len(both), 'challenge')} that both reports ran, {len(other)} ended otherwise: {some}."


def _asked(found: Since) -> str:
    """How often the question has been asked, and what that does to its intervals."""
    if "same" in found.cautions:
        return ""
    times = found.times
    told = (
        f"This is the {_ordinal(times)} report that asks this of the record, as far as reports name the one "
        "before."
    )
    if not found.chance:
        return told
    return (
        f"{told} Were there nothing to find, at least one of {times} such intervals would leave out 0 in "
        f"about {fixed(100 * found.chance, 0)} of 100 such records."
    )


def _ordinal(times: int) -> str:
    words = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth"}
    ends = {1: "st", 2: "nd", 3: "rd"}
    teen = times % 100 in (11, 12, 13)
    return words.get(times) or f"{times}{'th' if teen else ends.get(times % 10, 'th')}"


def _caution(code: str, found: Since, words: Words, findings: Findings) -> str:
    if code == "edited":
        earlier = plural(found.edited_steps, f"earlier person-{words.step}")
        whose = plural(found.edited_people, "person", "people")
        return f"{earlier} of {whose} now read otherwise. What comes of that is no new data."
    if code == "version":
        both = next(c for c in found.settings if c.key == "version")
        return f"The two were made by different versions of lagwise: {both.old}, and now {both.new}."
    if code == "settings":
        told = [f"{SETTING[c.key]} {_value(c.old)}, now {_value(c.new)}" for c in _named(found.settings)]
        return f"The settings differ: {'; '.join(told)}." if told else ""
    if code == "order":
        made = findings.provenance.made_on
        return (
            f"The report given as new was made on {made}, before the other one, {_made_on(found)}. "
            "They are compared in the order given."
        )
    return {
        "same": "These are the same findings: nothing came in and nothing changed.",
        "plan": "The plan was changed after earlier data had been seen. What the changed plan finds was not "
        "planned beforehand.",
        "codes": "Nobody of the earlier report is found here with the same records. So nobody can be "
        "followed from one to the other.",
        "left": "People of the earlier report are no longer there. The spread of a move allows for that.",
        "shared": "At least one of the two is a version to share. Its numbers are rounded, so moves are not "
        "weighed.",
        "withheld": "What the earlier report said is not shown here: too few people set the two apart.",
    }.get(code, "")


def _plan(found: Since) -> str:
    if not found.plan:
        changed = "plan" in found.cautions
        return "The plan was changed." if changed else "The plan is the same, by its hash."
    keys = [c.key for c in found.plan]
    more = f" and {len(keys) - KEYS_NAMED} more" if len(keys) > KEYS_NAMED else ""
    return f"The plan was changed after earlier data had been seen: {', '.join(keys[:KEYS_NAMED])}{more}."


def _named(settings: Iterable[Choice]) -> list[Choice]:
    return [c for c in settings if c.key != "version"]


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return UNKNOWN if value in (None, "") else str(value)


def _count(name: str, old: int | None, new: int | None, words: Words) -> tuple[str, ...]:
    named = COUNTED[name].format(steps=words.steps, asked=words.asked, turns=words.turns)
    change = UNKNOWN if old is None or new is None else signed(new - old, 0)
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
    head = ("Estimate", "Model", "Earlier", "Now", "Moved by", "New data alone", "It moved")
    turns = words.turns
    return grid(
        "since-moves",
        f"Estimates with {fixed(100 * INTERVAL, 0)} % intervals, then and now",
        head,
        shown,
        numeric=(2, 3, 4, 5),
        groups=[capital(KINDS[m.kind].format(turns=turns)) for m in found.moves],
        note=f"In {words.unit} of each rating; odds ratios as factors.",
    )


def _move(move: Move, findings: Findings, words: Words) -> tuple[str, ...]:
    ratio = move.scale == "odds_ratio"
    moved, alone = UNKNOWN, UNKNOWN
    if move.difference is not None:
        moved = f"\u00d7 {fixed(math.exp(move.difference), 2)}" if ratio else signed(move.difference, 2)
    if move.reach is not None:
        limits = [math.exp(side * move.reach) for side in (-1, 1)]
        alone = (
            f"\u00d7 {fixed(limits[0], 2)} to {fixed(limits[1], 2)}"
            if ratio
            else f"\u00b1{fixed(move.reach, 2)}"
        )
    how = WHY.get(move.reason) or SAID[move.verdict]
    both = (_limits(move.old, ratio), _limits(move.new, ratio))
    return _name(move, findings, words), named(move.engine).label, *both, moved, alone, how


def _limits(at: Limits | None, ratio: bool) -> str:
    if at is None:
        return UNKNOWN
    if not ratio:
        return limits_text(at.estimate, at.low, at.high) if at.low is not None else signed(at.estimate, 2)
    return f"{number(at.estimate, at.low, at.high)} ({interval(at.low, at.high)})"


def _name(move: Move, findings: Findings, words: Words) -> str:
    if move.kind == "event":
        rating = move.outcome.removesuffix("_after")
        return f"{capital(kind_heading(move.subject))}: {Voice.asking(findings.study.plan, rating).asked}"
    if move.kind == "primary" and move.question:
        return capital(Words(findings.asking(findings.also[move.question - 1])).asks)
    at = short_contrast(move.subject, move.contrast, move.contrast_size, words.variables)
    return f"{capital(words.label(move.subject))}, {at}"

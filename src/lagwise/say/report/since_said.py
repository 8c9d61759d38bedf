"""Since the last report, in sentences: what came in, how far the main estimate moved, how often it was asked,
and what weakens the comparison."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lagwise.core.numbers import UNKNOWN, decimals, fixed, plural
from lagwise.core.words import capital, listed
from lagwise.document.tree import Bullets, Para, bullets, para, strong
from lagwise.findings import Findings
from lagwise.findings.since import Choice, Limits, Move, Since
from lagwise.say.phrases import difference, interval_of
from lagwise.say.report.words import Words

SAID = {"within": "by no more than new data explain", "beyond": "by more than new data explain"}
WHY = {
    "precision": "it is no more precise than before",
    "analysis": "the model is another one",
    "codes": "whose records were there before is not known",
    "shared": "numbers to share are rounded",
    "interval": "an estimate has no interval",
}
"""Why it cannot be told whether new data explain a move."""
SETTING = {
    "quick": "quick",
    "draws": "draws",
    "chains": "chains",
    "seed": "seed",
    "version": "lagwise version",
}
KEYS_NAMED = 4


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
        came = f"{plural(found.came, 'person', 'people') if found.came else 'Nobody'} joined"
        left = plural(found.left, "person is", "people are")
        named = f": {listed(found.gone)}" if 0 < len(found.gone) <= KEYS_NAMED else ""
        nobody = f"{came} and nobody left." if found.came else "Nobody joined or left."
        yield f"{came}, and {left} no longer there{named}." if found.left else nobody
    was, now = found.until
    if now:
        before = f", and reached {was} before" if was not in ("", now) else ""
        yield f"The record reaches {now}{before}."


def _moved(found: Since, words: Words) -> str:
    """What the main estimate is of, is now and was, and how far it moved; empty where there is none."""
    move = next((m for m in found.moves if m.kind == "primary" and m.question == 0), None)
    if move is None or "same" in found.cautions:
        return ""
    if move.new is None:
        return "The main question has no estimate any more; the earlier report had one."
    told = f"{capital(words.asks)}. It is now {_in_words(move.new, words)}."
    if move.old is None:
        return f"{told} The earlier report had no such estimate."
    return f"{told} It was {_in_words(move.old, words)}. {_how_far(move, words)}"


def _in_words(at: Limits, words: Words) -> str:
    if at.low is None or at.high is None:
        return difference(at.estimate, words.outcome.places, words.unit)
    places = decimals(at.low, at.high)
    return (
        f"{difference(at.estimate, places, words.unit)} ({interval_of(at.low, at.high, places, words.unit)})"
    )


def _how_far(move: Move, words: Words) -> str:
    if move.reason == "unmoved":
        return "It hardly moved."
    if move.verdict == "cannot_tell":
        return f"Whether new data alone explain the move cannot be told: {WHY[move.reason]}."
    size = fixed(abs(move.difference or 0.0), words.outcome.places)
    none = ": no step was added" if move.reason == "no_data" else ""
    around = none if move.reach is None else f" (within {fixed(move.reach, words.outcome.places)})"
    return f"It moved by {size} {words.unit}, {SAID[move.verdict]}{around}."


def _ended(found: Since) -> str:
    """How many challenges ended otherwise than before, and which."""
    both = [e for e in found.verdicts if e.old and e.new]
    other = [e.title.lower() for e in both if e.old != e.new]
    if not both:
        return ""
    if not other:
        every = f"All {len(both)} challenges" if len(both) > 1 else "The one challenge"
        return f"{every} that both reports ran ended as before."
    some = f"{listed(other[:KEYS_NAMED])}{' and others' if len(other) > KEYS_NAMED else ''}"
    of = f"Of {plural(len(both), 'challenge')} that both reports ran"
    return f"{of}, {len(other)} ended otherwise ({some})."


def _asked(found: Since) -> str:
    """How often the question has been asked, and what that does to its intervals."""
    if "same" in found.cautions:
        return ""
    asked = f"This is the {_ordinal(found.times)} report that asks this of the record"
    told = f"{asked}, as far as reports name the one before."
    if found.intervals < 2 or found.chance is None:
        return told
    so_often = f"in about {fixed(100 * found.chance, 0)} of 100 such records"
    return (
        f"{told} Were there nothing to find, at least one of {found.intervals} such intervals would leave "
        f"out 0 {so_often}."
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
        return f"Changed meanwhile: {earlier} of {whose}. What comes of that is no new data."
    if code == "version":
        both = next(c for c in found.settings if c.key == "version")
        return f"The two were made by different versions of lagwise: {both.old}, and now {both.new}."
    if code == "settings":
        told = [
            f"{SETTING[c.key]} {value_said(c.old)}, now {value_said(c.new)}"
            for c in named_settings(found.settings)
        ]
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


def named_settings(settings: Iterable[Choice]) -> list[Choice]:
    """Settings other than the version."""
    return [c for c in settings if c.key != "version"]


def value_said(value: object) -> str:
    """A choice as it is shown."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return UNKNOWN if value in (None, "") else str(value)

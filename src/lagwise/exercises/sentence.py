"""A student's sentence on the planned comparison, judged by its parts: what it has and what it lacks."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from lagwise.core.study import INTERVAL
from lagwise.exercises.numbers_said import Number, numbers_in, plain
from lagwise.say import sentence_words as words
from lagwise.say.exercises import LACKS, TEXTS
from lagwise.say.voice import Voice

OF_A_TEXTBOOK = ("relative", "denominator")
"""Rules of the wording check that say what the parts of the answer here say in their own words."""
FEWEST_WORDS = 5
Pair = tuple[Number, Number]


@dataclass(frozen=True)
class Wanted:
    """What a sentence has to say: the difference with both ends of its interval, in the outcome's unit, and
    who was counted; in whose words stands in `voice`.
    """

    estimate: float
    low: float
    high: float
    n_people: int
    n_steps: int
    voice: Voice

    def near(self, said: float, step: float, value: float) -> bool:
        """Whether a number is this value as somebody may round it: to the second decimal, or as coarsely as
        its interval is wide.
        """
        fine = step < 0.05
        return (fine or step <= self.high - self.low) and abs(said - value) <= (
            1 if fine else 0.55
        ) * step + 1e-9


def lacking(text: str, wanted: Wanted) -> str:
    """What a sentence on the planned comparison still lacks, in one sentence that never names the value; ''
    when nothing.
    """
    from lagwise.writeup.checker import check_text

    slips = [slip for slip in check_text(text) if slip.rule not in OF_A_TEXTBOOK]
    if slips:
        return TEXTS["too_much"].format(words=slips[0].words, why=slips[0].why)
    lacks = next(_lacks(plain(text), wanted), "")
    return wanted.voice.fill(LACKS[lacks]) if lacks else ""


def _lacks(text: str, wanted: Wanted) -> Iterator[str]:
    """What is lacking, by the names of `LACKS`, in the order in which it is said."""
    voice = wanted.voice
    said = {"claims": words.CLAIMS, "advice": words.ADVICE, "others": words.OTHERS}
    yield from (name for name, pattern in said.items() if pattern.search(text))
    if len(re.findall(r"[a-z]{3,}", text)) < FEWEST_WORDS:
        yield "words"
    step = words.STEPS.get(voice.step, words.STEPS[""])
    if not re.search(rf"\b{step}\b", text):
        yield "step"
    compared, rest = _compared(text, voice, step)
    if not compared:
        yield "compared"
    amounts = [n for n in numbers_in(text) if not n.percent]
    ends = next((p for p in pairwise(amounts) if _apart(text, *p) and _are_ends(p, wanted)), None)
    around = ends or ()
    size = next(
        (n for n in amounts if n not in around and wanted.near(n.size, n.step, abs(wanted.estimate))), None
    )
    if not _of_the_outcome(rest, size, voice):
        yield "outcome"
    yield from _in_time(text, voice, step)
    planned = 100 * abs(voice.contrast)
    if any(n.percent and n.size not in (100 * INTERVAL, planned, 100 + planned) for n in numbers_in(text)):
        yield "percent"
    if size is None:
        yield "size"
        return
    if not re.search(
        rf"(?<![a-z]){words.UNITS.get(voice.outcome.unit, voice.outcome.unit)}\b|\bscale\b", text
    ):
        yield "unit"
    way = _way(rest, size, ends, voice)
    turn = compared * (1 if voice.contrast > 0 else -1)
    if round(wanted.estimate, voice.outcome.places) and size.size:
        if not way:
            yield "way"
        if way * turn * wanted.estimate < 0 or _denied(rest, size):
            yield "turned"
    if ends is None:
        yield "limits"
        return
    low, high = sorted(turn * value for value in _signed(ends, text, way or turn))
    step_size = max(n.step for n in ends)
    if not (wanted.near(low, step_size, wanted.low) and wanted.near(high, step_size, wanted.high)):
        yield "sides"
    yield from _counted(text, wanted, step)


def _compared(text: str, voice: Voice, step: str) -> tuple[int, str]:
    """Which way the steps that the sentence is about differ in the exposure (1 above the usual, -1 below, 0
    not said), and the text with those words blanked out.

    Words behind 'than weeks' say what the steps are set against, and count the other way round.
    """
    done = words.named("load" if voice.primary.whole else voice.exposure)
    of_outcome = re.compile(
        rf"\b(?:{words.named(voice.asked)}{words.VERBS}|{words.either(words.IN_UNITS)}) $"
    )
    of_exposure = re.compile(rf"\b{done} [\d.]+ [a-z]+ $")  # 'stress 2 points', above or below its average
    sides, rest = [], text
    for side, pattern in words.compared(done, step, f"{100 * abs(voice.contrast):g}"):
        for found in re.finditer(pattern, rest):
            before = rest[: found.start()]
            if of_outcome.search(before) and not of_exposure.search(before):
                continue  # 'points higher than usual' is of what was rated
            against = re.search(rf"\bthan (?:\w+ ){{0,2}}{step}\b[^,;.]{{0,25}}$", rest[: found.start()])
            sides.append((bool(against), found.start(), -side if against else side))
            rest = rest[: found.start()] + " " * len(found[0]) + rest[found.end() :]
    return (min(sides)[2] if sides and re.search(rf"\b{done}\b|usual|average", text) else 0), rest


def _apart(text: str, one: Number, other: Number) -> bool:
    """Whether nothing but 'to' and the like stands between two numbers."""
    between = _tokens(text[one.end : other.start])
    allowed = words.BETWEEN | words.BESIDE | words.UP | words.DOWN | words.IN_UNITS
    return set(between) <= allowed and bool(words.BETWEEN.intersection(between))


def _tokens(text: str) -> list[str]:
    return re.findall(r"[a-z]+|\.\.+|[^\sa-z]", text)


def _are_ends(pair: Pair, wanted: Wanted) -> bool:
    low, high = abs(wanted.low), abs(wanted.high)
    return any(
        all(wanted.near(n.size, n.step, value) for n, value in zip(pair, order, strict=True))
        for order in ((low, high), (high, low))
    )


def _of_the_outcome(rest: str, size: Number | None, voice: Voice) -> bool:
    """Whether of all that is rated, the outcome is what the difference stands beside."""
    own = set(voice.asked.split())
    others = [
        v.label for v in voice.variables.values() if v.name != voice.term and not own & set(v.label.split())
    ]
    at = size.start if size else 0

    def away(label: str) -> float:
        found = re.finditer(rf"\b{words.named(label)}\b", rest)
        return min((min(abs(m.start() - at), abs(m.end() - at)) for m in found), default=float("inf"))

    mine = away(voice.asked)
    return mine < float("inf") and (size is None or all(mine < away(label) for label in others))


def _in_time(text: str, voice: Voice, step: str) -> Iterator[str]:
    same = re.search(words.SAME.format(step=step), text)
    later = words.LATER.search(words.NOT_LATER.sub(" ", text))
    if not voice.question.lag:
        yield from ["not_later"] if later else []
    elif same and not words.HELD.search(text[max(0, same.start() - 30) : same.end() + 30]):
        yield "same"
    elif not later:
        yield "later"


def _way(rest: str, size: Number, ends: Pair | None, voice: Voice) -> int:
    """Whether the sentence says higher (1) or lower (-1): by the nearest such word, else by the sign."""
    if ends:
        tail = re.match(
            r"(?:\s*(?:points?|hours?|higher|lower|longer|shorter|more|less)\b)*", rest[ends[1].end :]
        )
        shut = ends[1].end + (tail.end() if tail and ends[1].start > size.end else 0)
        inside = rest[ends[0].start : shut]
        if not rest[shut:].lstrip(" )]").startswith(tuple(words.UP | words.DOWN)):
            rest = rest[: ends[0].start] + " " * len(inside) + rest[shut:]
    found = [
        (min(abs(m.start() - size.end), abs(size.start - m.end())), side)
        for m in re.finditer(r"[a-z]+", rest)
        if (side := _side(m[0], voice))
    ]
    if size.sign and (not found or min(found)[0] > 25):
        return -1 if size.sign == "-" else 1
    return min(found)[1] if found else 0


def _side(word: str, voice: Voice | None = None) -> int:
    bad = -1 if voice and voice.outcome.worse == "low" else 1
    if voice and word in words.WORSE | words.BETTER:
        return bad if word in words.WORSE else -bad
    return (word in words.UP) - (word in words.DOWN)


def _denied(rest: str, size: Number) -> bool:
    return bool(re.search(r"\b(?:not|never|no|n't)(?: \w+){0,2} $", rest[: size.start]))


def _signed(ends: Pair, text: str, way: int) -> list[float]:
    """Both ends with their signs: as written, or by a word beside them, else as the difference itself."""
    one, other = ends
    first = next((s for w in _tokens(text[one.end : other.start]) if (s := _side(w))), 0)
    beside = re.match(
        r"(?:\s*(?:of|an?|points?|hours?|hrs?|h|pts?|[a-z]+er|more|less)\b)*", text[other.end :]
    )
    last = next((s for w in _tokens(beside[0] if beside else "") if (s := _side(w))), 0)
    signs = [{"-": -1, "+": 1}.get(n.sign, by) for n, by in zip(ends, (first, last), strict=True)]
    if not any(signs):
        signs = [way, way]
    elif not signs[0]:
        signs[0] = signs[1] if not other.sign else 1
    elif not signs[1]:
        signs[1] = 1
    return [sign * n.size for sign, n in zip(signs, ends, strict=True)]


def _counted(text: str, wanted: Wanted, step: str) -> Iterator[str]:
    people = [int(m[1]) for m in words.PEOPLE.finditer(text)]
    rows = rf"(?:(?:(?:person|people|patient|participant)s?[- ])?{step}|observations|rows)\b"
    steps = [int(m[1]) for m in re.finditer(words.COUNTED + rows, text)]
    either = [int(n) for n in re.findall(r"\bn ?(?:=|of) ?(\d+)", text)]
    if any(n != wanted.n_people for n in people):
        yield "counts"
    enough = wanted.n_people in people + either or any(
        abs(n - wanted.n_steps) <= wanted.n_steps / 100 for n in steps + either
    )
    if not enough:
        yield "people"

"""What followed events for a version to share: kinds that enough people had, with rounded numbers, said and
drawn anew from these."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from lagwise.core.claim import Claim, Measured
from lagwise.core.numbers import floored, is_few
from lagwise.findings import ChallengeFacts, Findings, FollowedFacts, PictureFacts
from lagwise.findings.plain import claim_facts, claim_of, table
from lagwise.say.changes.attempts import WORDS
from lagwise.say.changes.follow import attempt_numbers
from lagwise.say.changes.followed import BECAUSE, captioned
from lagwise.say.report.reasons import NOT_RUN, UNTOLD
from lagwise.say.voice import Voice
from lagwise.writeup.share_challenges import rounded
from lagwise.writeup.share_fits import effects_said
from lagwise.writeup.share_precision import estimate_said, interval_unit, nice, plain_unit, to_unit
from lagwise.writeup.share_tables import Record, Size, limits_said, with_records

PEOPLE = ("compared", "enough", "others")
"""Numbers that count people: an event is the first of its person."""
WAYS = ("risk_set", "regression", "did", "before_after", "return")
ASKED = ("kind", "outcome", "first", "rating", "important")


def followed_said(findings: Findings, size: Size) -> tuple[FollowedFacts, ...]:
    """Kinds of events that enough people had for a comparison, as others may know them."""
    found = (_one(one, findings, size) for one in findings.followed)
    return tuple(one for one in found if one is not None)


def _one(one: FollowedFacts, findings: Findings, size: Size) -> FollowedFacts | None:
    exact = claim_of(one)
    if exact is None or "risk_set" not in exact.numbers or is_few(exact["risk_set"].people):
        return None
    voice = Voice.asking(findings.study.plan, one.outcome)
    claim = _claim(exact)
    own = exact["risk_set"]
    least = interval_unit(own.low, own.high, own.people) if own.known else 0.0
    return one.model_copy(
        update={
            "claim": claim_facts(claim),
            "effects": effects_said(one.effects, replace(size, zero=math.inf, important=math.inf)),
            "attempts": tuple(_attempt(a, own.people, least, voice) for a in one.attempts),
            "picture": None if one.picture is None else _picture(one.picture, claim, voice),
        }
    )


def _claim(exact: Claim) -> Claim:
    """The claim with counts of people floored and estimates to their units; why events were made where each
    reason is that of enough people or of nobody."""
    kept: dict[str, Any] = {name: exact[name] for name in ASKED if name in exact.numbers}
    kept |= {name: _people(exact[name]) for name in PEOPLE} | {name: _estimate(exact[name]) for name in WAYS}
    counts = {k: m for k in BECAUSE if (m := exact.get(f"because_{k}"))}
    if not any(is_few(m.value) for m in counts.values()):
        kept |= {f"because_{k}": _people(m) for k, m in counts.items()}
    mixed = exact.get("mixed_up")
    if mixed and not any(is_few(n) for n in (mixed.value, exact["compared"].value - mixed.value) if n):
        kept["mixed_up"] = _people(mixed)
    reason = exact.reason.partition(".")[0]
    return replace(exact, reason=reason, numbers=kept)


def _people(found: Measured) -> Measured:
    return replace(found, value=float(floored(found.value) or 0))


def _estimate(found: Measured) -> Measured:
    people = found.people or 0
    low, high = (found.low, found.high) if found.known else (None, None)
    value, low, high = (math.nan if v is None else v for v in estimate_said(found.value, low, high, people))
    return replace(found, value=value, low=low, high=high, people=floored(people), steps=None)


def _attempt(attempt: ChallengeFacts, people: int, least: float, voice: Voice) -> ChallengeFacts:
    """An attempt said from its rounded numbers, where none of those that its sentence needs is left out."""
    exact = claim_of(attempt)
    sentence, made = UNTOLD, with_records(attempt.numbers, [])
    if exact is not None and not attempt.problem:
        claim = rounded(exact, people, least, voice)
        made = table(attempt_numbers(claim, voice), made_by=attempt.numbers.made_by)
        if set(claim.numbers) == {k for k in exact.numbers if k not in ("drawn", "left", "moved")}:
            sentence = WORDS[attempt.name].sentence(claim, voice)
    problem = NOT_RUN if attempt.problem else ""
    return attempt.model_copy(
        update={"numbers": made, "sentence": sentence, "problem": problem, "picture": None, "claim": None}
    )


def _picture(picture: PictureFacts, claim: Claim, voice: Voice) -> PictureFacts:
    """The course at steps that enough people are known at."""
    kept: list[Record] = []
    for r in picture.data.records():
        if r["value"] is None or is_few(r["n"]):
            continue
        n = r["n"]
        known = r["low"] is not None
        unit = interval_unit(r["low"], r["high"], n) if known else plain_unit(r["value"], n)
        expected = None if r["expected"] is None else to_unit(r["expected"], nice(unit))
        limits = limits_said(r, ("value", "low", "high"), n)
        kept.append({**r, **limits, "expected": expected, "n": floored(n)})
    told = captioned(claim, kept, voice)
    return picture.model_copy(update={**told, "data": with_records(picture.data, kept)})

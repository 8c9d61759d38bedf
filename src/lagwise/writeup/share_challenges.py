"""Challenges for a version to share: said and drawn anew from their rounded numbers, so that no finished
sentence or picture is passed on."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from lagwise.core.claim import Claim, Measured
from lagwise.core.numbers import FEWEST_SHOWN, MINUS, SPACE
from lagwise.core.terms import EXPOSURES
from lagwise.findings import ChallengeFacts, PictureFacts, Table
from lagwise.findings.plain import claim_of, table
from lagwise.say.challenge import known_words
from lagwise.say.challenge import table as rows
from lagwise.say.report.reasons import NOT_RUN, UNTOLD
from lagwise.say.voice import Voice
from lagwise.writeup.share_precision import estimate_said, nice, p_at_most
from lagwise.writeup.share_tables import Record, with_records

AMOUNTS = {"points", "%", "SD", "times", "risk ratio", "-2 log likelihood", "share"}
AMOUNTS |= {f"{e.unit}s" for e in EXPOSURES.values()}
"""Units of estimates. Counts are left out: their units hold the exact total."""
SETTINGS = {"caseloads", "plans", "shuffles", "contrast", "draws"}
"""Units of what was chosen, not found."""
NAMES = ("term", "contrast", "kind", "outcome", "first", "rating")
"""What a claim says of what was asked."""
FLOOR = {"SD": FEWEST_SHOWN / 2, "share": FEWEST_SHOWN / 2, "per unit": FEWEST_SHOWN / 2}
"""Units times n of amounts on a scale of 1; 'per unit' is the outcome per its own unit."""
UNIT_SAID = {"%": f"{SPACE}%", "risk ratio": "", "-2 log likelihood": f" in {MINUS}2 log likelihood"}
"""Units that are said otherwise than written in a table; a ratio has none."""


def challenge_said(challenge: ChallengeFacts, people: int, least: float, voice: Voice) -> ChallengeFacts:
    """A challenge with its numbers to the precision of `people` people, those of the outcome no finer than
    `least`, and its words and picture from these."""
    exact, words = claim_of(challenge), known_words(challenge.name)
    sentence, made = challenge.sentence if challenge.problem else UNTOLD, with_records(challenge.numbers, [])
    if not challenge.problem and exact is not None:
        claim = rounded(exact, people, least, voice)
        if words is not None:
            sentence = words.sentence(claim, voice)
            made = table(rows(words, claim, voice), made_by=made.made_by)
        else:
            made = with_records(challenge.numbers, _kept(challenge, claim))
            sentence = " ".join(map(_said, made.records())) or UNTOLD
    return challenge.model_copy(
        update={
            "numbers": made,
            "sentence": sentence,
            "problem": NOT_RUN if challenge.problem else "",
            "picture": None if challenge.picture is None else _picture(challenge, made.records(), voice),
            "claim": None,
        }
    )


def _kept(challenge: ChallengeFacts, claim: Claim) -> list[Record]:
    """The rows of a challenge from outside whose numbers may be shared, rounded, under its own labels."""
    return [
        r | {k: None if math.isnan(v := getattr(claim[r["key"]], k)) else v for k in ("value", "low", "high")}
        for r in challenge.numbers.records()
        if claim.get(r["key"]) is not None
    ]


def rounded(claim: Claim, people: int, least: float, voice: Voice) -> Claim:
    """A claim as others may know it: numbers rounded, and without those of single people, counts,
    denominators and free text.

    The code of its reading is left out where single people stand behind some of its numbers.
    """
    kept: dict[str, Any] = {}
    for name, value in claim.numbers.items():
        if isinstance(value, Measured):
            found = None if value.alone else _measured(value, people, least, voice)
            kept |= {} if found is None else {name: found}
        elif isinstance(value, bool) or name in NAMES:
            kept[name] = value
    alone = any(found.alone for found in claim.measured.values())
    return replace(claim, reason="" if alone else claim.reason, numbers=kept)


def _measured(found: Measured, people: int, least: float, voice: Voice) -> Measured | None:
    if found.unit in SETTINGS:
        return found
    slope = found.unit == f"{voice.unit} per {voice.outcome.unit}"
    if not slope and found.unit not in {"probability", voice.unit, *AMOUNTS}:
        return None
    if not math.isfinite(found.value):
        return replace(found, low=math.nan, high=math.nan, people=None, steps=None)
    if found.unit == "probability":
        return replace(found, value=p_at_most(found.value), low=math.nan, high=math.nan, at_most=True)
    floor = (
        least
        if found.unit == voice.unit
        else nice(FLOOR.get("per unit" if slope else found.unit, 0.0) / max(people, 1))
    )
    low, high = (found.low, found.high) if found.known else (None, None)
    said = estimate_said(found.value, low, high, people, least=floor)
    value, low, high = (math.nan if v is None else v for v in said)
    return replace(found, value=value, low=low, high=high, people=None, steps=None)


def _said(r: Record) -> str:
    name = f"{r['quantity'][:1].upper()}{r['quantity'][1:]}"
    if r["unit"] == "probability":
        return f"{name}: at most {_given(r['value'])}."
    scale, unit = (
        (100, " of 100 parts") if r["unit"] == "share" else (1, UNIT_SAID.get(r["unit"], f" {r['unit']}"))
    )
    interval = "" if r["low"] is None else f" ({_given(scale * r['low'])} to {_given(scale * r['high'])})"
    return f"{name}: {_given(scale * r['value'])}{unit}{interval}."


def _given(value: float) -> str:
    return f"{value:.6g}".replace("-", MINUS)


def _picture(challenge: ChallengeFacts, numbers: list[Record], voice: Voice) -> PictureFacts | None:
    """Those of the numbers that have intervals in the same unit, as intervals."""
    known = [r for r in numbers if r["low"] is not None]
    shown = [r for r in known if r["unit"] == known[0]["unit"]]
    if len(shown) < 2:
        return None
    unit = str(shown[0]["unit"])
    drawn = tuple((r["quantity"], r["value"], r["low"], r["high"], "", False) for r in shown)
    return PictureFacts(
        kind="intervals",
        title=challenge.title,
        data=Table(
            columns=("label", "estimate", "low", "high", "group", "primary"),
            rows=drawn,
            made_by=challenge.numbers.made_by,
        ),
        x=f"difference in {voice.asked}, {unit}" if unit == voice.unit else unit,
        y="",
        alt=" ".join(_said(r) for r in shown),
        options={"reference": 0} if unit in (voice.unit, "%", "SD") else {},
    )

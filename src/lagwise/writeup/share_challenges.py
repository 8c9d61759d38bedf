"""Challenges for a version to share: said and drawn anew from their rounded numbers, so that no finished
sentence or picture is passed on."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from lagwise.core.claim import Claim, Measured
from lagwise.core.terms import EXPOSURES
from lagwise.say import Voice
from lagwise.say.challenge import table as label_table
from lagwise.say.challenge import words_of
from lagwise.writeup.findings import ChallengeFacts, PictureFacts, Table
from lagwise.writeup.numbers import MINUS, SPACE
from lagwise.writeup.plain import claim_of, table
from lagwise.writeup.share_counts import FEWEST_SHOWN
from lagwise.writeup.share_precision import estimate_said, nice, p_at_most
from lagwise.writeup.share_tables import Record, with_records

NOT_RUN = "it cannot be run on these records"
AMOUNTS = {"points", "%", "SD", "points per point", "times", "risk ratio", "-2 log likelihood", "share"}
AMOUNTS |= {f"{e.unit}s" for e in EXPOSURES.values()}
"""Units of estimates. Counts are left out: their units hold the exact total."""
SETTINGS = {"caseloads", "plans", "shuffles", "contrast"}
"""Units of what was chosen, not found."""
FLOOR = {"SD": FEWEST_SHOWN / 2, "share": FEWEST_SHOWN / 2, "points per point": FEWEST_SHOWN / 2}
"""Units times n of amounts on a scale of 1."""
ONLY = {
    "known_truth_at_your_size": {
        "error SD of a rating",
        "carry-over of the pain that lasts",
        "simulated caseloads in each setting",
        "simulated caseloads the joint model was put to at a true 0",
    },
}
"""What is told of challenges whose other numbers are single people's, of exercise groups that few may train,
or labelled with estimates."""
NEVER = {"missing_steps": {"last recorded pain of people who left early, from their own mean"}}
"""What few people may stand behind."""
UNIT_SAID = {"%": f"{SPACE}%", "risk ratio": "", "-2 log likelihood": f" in {MINUS}2 log likelihood"}
"""Units that are said otherwise than written in a table; a ratio has none."""
SAID = 4
"""Numbers that a sentence gives; all of them are in findings.json."""


def challenge_said(challenge: ChallengeFacts, people: int, least: float, voice: Voice) -> ChallengeFacts:
    """A challenge with its numbers to the precision of `people` people, those of the outcome no finer than
    `least`, and its words and picture from these."""
    sentence, numbers, made = challenge.sentence, [], challenge.numbers
    exact = claim_of(challenge)
    if not challenge.problem and exact is not None:
        claim, words = rounded(exact, people, least, voice), words_of(challenge.name)
        sentence, made = words.sentence(claim, voice), table(label_table(words, claim, voice), made_by=made.made_by)
        numbers = made.records()
    elif not challenge.problem:
        told = (_number(r, people, least) for r in made.records() if _told(challenge.name, r))
        numbers = [r for r in told if r is not None]
        sentence = " ".join(_said(r) for r in [r for r in numbers if r["value"] is not None][:SAID])
    return challenge.model_copy(
        update={
            "numbers": with_records(made, numbers),
            "sentence": sentence,
            "problem": NOT_RUN if challenge.problem else "",
            "picture": None if challenge.picture is None else _picture(challenge, numbers),
            "claim": None,
        }
    )


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
        elif isinstance(value, bool) or name in ("term", "contrast"):
            kept[name] = value
    alone = any(found.alone for found in claim.measured.values())
    return replace(claim, reason="" if alone else claim.reason, numbers=kept)


def _measured(found: Measured, people: int, least: float, voice: Voice) -> Measured | None:
    if found.unit in SETTINGS:
        return found
    if not math.isfinite(found.value) or found.unit not in {"probability", voice.unit, *AMOUNTS}:
        return None
    if found.unit == "probability":
        return replace(found, value=p_at_most(found.value), low=math.nan, high=math.nan, at_most=True)
    floor = least if found.unit == voice.unit else nice(FLOOR.get(found.unit, 0.0) / max(people, 1))
    low, high = (found.low, found.high) if found.known else (None, None)
    said = estimate_said(found.value, low, high, people, least=floor)
    value, low, high = (math.nan if v is None else v for v in said)
    return replace(found, value=value, low=low, high=high, people=None, steps=None)


def _told(name: str, record: Record) -> bool:
    quantity = record["quantity"]
    return (name not in ONLY or quantity in ONLY[name]) and quantity not in NEVER.get(name, ())


def _number(record: Record, people: int, least: float) -> Record | None:
    unit, value = record["unit"], record["value"]
    if unit in SETTINGS:
        return record
    if value is None:
        return record if record.get("key") else None
    if unit == "probability":
        return {**record, "value": p_at_most(value), "low": None, "high": None}
    if unit not in AMOUNTS:
        return {**record, "value": None, "low": None, "high": None} if record.get("key") else None
    floor = least if unit == "points" else nice(FLOOR.get(unit, 0.0) / max(people, 1))
    found = estimate_said(value, record["low"], record["high"], people, least=floor)
    return record | dict(zip(("value", "low", "high"), found, strict=True))


def _said(r: Record) -> str:
    name = f"{r['quantity'][:1].upper()}{r['quantity'][1:]}"
    if r["unit"] == "probability":
        return f"{name}: at most {_given(r['value'])}."
    scale, unit = (100, " of 100 parts") if r["unit"] == "share" else (1, UNIT_SAID.get(r["unit"], f" {r['unit']}"))
    interval = "" if r["low"] is None else f" ({_given(scale * r['low'])} to {_given(scale * r['high'])})"
    return f"{name}: {_given(scale * r['value'])}{unit}{interval}."


def _given(value: float) -> str:
    return f"{value:.6g}".replace("-", MINUS)


def _picture(challenge: ChallengeFacts, numbers: list[Record]) -> PictureFacts | None:
    """Those of the numbers that have intervals in the same unit, as intervals."""
    known = [r for r in numbers if r["low"] is not None]
    shown = [r for r in known if r["unit"] == known[0]["unit"]]
    if len(shown) < 2:
        return None
    unit = str(shown[0]["unit"])
    rows = tuple((r["quantity"], r["value"], r["low"], r["high"], "", False) for r in shown)
    return PictureFacts(
        kind="intervals",
        title=challenge.title,
        data=Table(
            columns=("label", "estimate", "low", "high", "group", "primary"),
            rows=rows,
            made_by=challenge.numbers.made_by,
        ),
        x="difference in pain, points" if unit == "points" else unit,
        y="",
        alt=" ".join(_said(r) for r in shown),
        options={"reference": 0} if unit in ("points", "%", "SD") else {},
    )

"""Challenges for a version to share: said and drawn anew from their rounded numbers, so that no finished sentence or picture is passed on."""

from __future__ import annotations

from lagwise.core.terms import EXPOSURES
from lagwise.writeup.findings import ChallengeFacts, PictureFacts, Table
from lagwise.writeup.numbers import MINUS, SPACE
from lagwise.writeup.share_counts import FEWEST_SHOWN
from lagwise.writeup.share_precision import estimate_said, nice, p_at_most
from lagwise.writeup.share_tables import Record, with_records

NOT_RUN = "it cannot be run on these records"
AMOUNTS = {"points", "%", "SD", "points per point", "times", "risk ratio", "-2 log likelihood", "share"}
AMOUNTS |= {f"{e.unit}s" for e in EXPOSURES.values()}
"""Units of estimates. Counts are left out: their units hold the exact total."""
SETTINGS = {"caseloads", "plans", "shuffles"}
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
    "leave_one_person_out": {"estimate with everybody"},
    "unrelated_load": {"all exercises (primary)", "own region", "other regions", "own region less other regions"},
}
"""What is told of challenges whose other numbers are single people's, of exercise groups that few may train, or labelled with estimates."""
NEVER = {"missing_steps": {"last recorded pain of people who left early, from their own mean"}}
"""What few people may stand behind."""
UNIT_SAID = {"%": f"{SPACE}%", "risk ratio": "", "-2 log likelihood": f" in {MINUS}2 log likelihood"}
"""Units that are said otherwise than written in a table; a ratio has none."""
SAID = 4
"""Numbers that a sentence gives; all of them are in findings.json."""


def challenge_said(challenge: ChallengeFacts, people: int, least: float) -> ChallengeFacts:
    """A challenge with its numbers to the precision of `people` people, in points no finer than `least`, and its words and picture from these."""
    numbers = [
        r
        for r in (_number(r, people, least) for r in challenge.numbers.records() if _told(challenge.name, r))
        if r is not None
    ]
    sentence = " ".join(_said(r) for r in [r for r in numbers if r["value"] is not None][:SAID])
    return challenge.model_copy(
        update={
            "numbers": with_records(challenge.numbers, numbers),
            "sentence": challenge.sentence if challenge.problem else sentence,
            "problem": NOT_RUN if challenge.problem else "",
            "picture": None if challenge.picture is None else _picture(challenge, numbers),
        }
    )


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

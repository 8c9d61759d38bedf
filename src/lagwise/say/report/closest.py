"""All challenges on one page: how each ended, how far it moved the estimate, and which came closest to
overturning the reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lagwise.core.numbers import limits_text, plural, signed
from lagwise.findings import ABOUT_THE_BASE, ChallengeFacts, Findings, PictureFacts, Table
from lagwise.say.challenge import known_words
from lagwise.say.report.words import Words

ENDED = {
    "does_not_hold": "did not hold",
    "cannot_tell": "could not tell",
    "informative": "no verdict",
    "holds": "held",
}
"""Verdicts as they are said of one challenge, those that came closest to overturning the reading first."""
ELSEWHERE = "elsewhere"
SHIFT, RANGE = "shift_yardstick", "without"
"""Numbers that are a shift of the estimate either way, and a range of estimates, and no estimate."""
PLAIN = {
    "does_not_hold": "the reading did not come through",
    "cannot_tell": "whether the reading comes through stays open",
    "informative": "it tells something, and judges nothing",
    "holds": "the reading came through",
}
"""What is said of a challenge that has no short words of its own."""


@dataclass(frozen=True)
class Ended:
    """How one challenge ended: the words of its verdict, a reason of at most 12 words and, where it has such
    a number, the estimate that it left (`value`, `low`, `high`) of the one `before`, in the outcome's unit.
    """

    name: str
    title: str
    verdict: str
    reason: str
    elsewhere: bool = False
    before: float | None = None
    value: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def ended(self) -> str:
        """'held', 'could not tell', 'did not hold', 'no verdict'."""
        return ENDED[self.verdict]

    @property
    def moved(self) -> float:
        """Size of the change; 0 where there is no such number."""
        return 0.0 if self.value is None or self.before is None else abs(self.value - self.before)

    @property
    def nearness(self) -> tuple[int, float]:
        """What sorts challenges: those that did not hold, those that point elsewhere, those that could not
        tell, those without a verdict, those that held; the larger change first."""
        of_base = self.name in ABOUT_THE_BASE and self.verdict == "does_not_hold"
        order = list(ENDED).index("cannot_tell" if of_base else self.verdict)
        return (0 if order == 0 else 1 if self.elsewhere else order + 1, -self.moved)


def closest(findings: Findings) -> Ended | None:
    """The challenge that came closest to overturning the reading; None where none was tried."""
    return next(iter(ended(findings)), None)


def ended(findings: Findings) -> list[Ended]:
    """Every challenge that was tried, what came closest to overturning the reading first."""
    words = Words(findings)
    tried = (c for c in findings.challenges if not c.problem)
    return sorted((_ended(c, findings, words) for c in tried), key=lambda e: e.nearness)


def _ended(challenge: ChallengeFacts, findings: Findings, words: Words) -> Ended:
    own = known_words(challenge.name)
    rows = {str(r["key"]): r for r in challenge.numbers.records() if r.get("key")}
    away = getattr(own, "elsewhere", None)
    elsewhere = challenge.verdict != "holds" and away is not None and bool(away(rows))
    short: Mapping[str, str] = getattr(own, "SHORT", PLAIN)
    key = ELSEWHERE if elsewhere and challenge.verdict != "does_not_hold" else challenge.verdict
    if apart := getattr(own, "beside", None):
        key = apart(challenge.verdict, rows) or key
    return Ended(
        challenge.name,
        challenge.title,
        challenge.verdict,
        words.fill(short.get(key, PLAIN[challenge.verdict])),
        elsewhere,
        **_moved(rows, getattr(own, "MOVES", ()), findings, words),
    )


def _moved(
    rows: Mapping[str, dict[str, Any]], moves: tuple[str, ...], findings: Findings, words: Words
) -> dict[str, float | None]:
    """The estimate before and the farthest from it that the challenge left; of a possible shift either way
    the one towards 0."""
    row = findings.as_rated
    if not moves or row is None:
        return {}
    first, *after = moves
    before = rows[first]["value"] if first in rows else row.estimate if not first else None
    left = [r for k, r in rows.items() if k.startswith(tuple(after)) and r["unit"] == words.unit]
    if before is None or not left:
        return {}
    if after == [SHIFT]:
        by = -left[0]["value"] if before > 0 else left[0]["value"]
        return {"before": before, "value": before + by}
    if after == [RANGE]:
        ends = [left[0][k] for k in ("low", "high") if left[0][k] is not None]
        return {"before": before, "value": max(ends, key=lambda v: abs(v - before))} if ends else {}
    found = max(left, key=lambda r: abs(r["value"] - before))
    return {"before": before, **{k: found[k] for k in ("value", "low", "high")}}


def challenges_picture(findings: Findings, words: Words) -> PictureFacts | None:
    """One line for each challenge: how it ended and the estimate it left, beside that of the study."""
    every, row = ended(findings), findings.as_rated
    if not every or row is None:
        return None
    idle = len(findings.challenges) - len(every)
    columns = ("label", "ended", "reason", "before", "estimate", "low", "high")
    data = tuple((e.title, e.ended, e.reason, e.before, e.value, e.low, e.high) for e in every)
    tried = f"{plural(len(every), 'attempt')}, the nearest to changing it first"
    first, zero = every[0], findings.study.outcome.zero
    whose = "this study's" if row is findings.primary else f"the {row.by.label}'s"
    return PictureFacts(
        kind="challenges",
        title=f"What came closest to changing the reading: {first.title[0].lower()}{first.title[1:]}",
        data=Table(columns=columns, rows=data, made_by="challenge"),
        x=f"difference in {words.asked_then}, {words.unit}",
        y="",
        alt=f"{whose.capitalize()} estimate {limits_text(row.estimate, row.low, row.high)} {words.unit}. "
        + " ".join(_said(e, words) for e in every),
        options={
            "reference": 0,
            "band": [-zero, zero],
            "estimate": row.estimate,
            "low": row.low,
            "high": row.high,
            "estimate_label": f"{whose} estimate and interval",
            "subtitle": f"{tried}; {idle} not run or not applicable" if idle else tried,
        },
    )


def _said(e: Ended, words: Words) -> str:
    size = "" if e.value is None else f", {limits_text(e.value, e.low, e.high)} {words.unit}"
    if e.value is not None and e.low is None:
        size = f", {signed(e.value, words.outcome.places)} {words.unit}"
    return f"{e.title}: {e.ended}, {e.reason}{size}."

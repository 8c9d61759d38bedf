"""What changed since an earlier report, for a version to share: nothing by which the two subtract to a few
people."""

from __future__ import annotations

from lagwise.core.numbers import floored, is_few
from lagwise.core.study import MODELLED
from lagwise.findings import EffectRow, Findings
from lagwise.findings.moves import key_of
from lagwise.findings.since import CAUTIONS, Choice, Counted, Limits, Move, Since
from lagwise.writeup.share_precision import counted, estimate_said

COUNTS = ("people", "steps")
"""Counts that are told, as the findings give them."""


def since_said(since: Since, shared: Findings) -> Since:
    """What may be told of an earlier report beside the findings `shared`, which are rounded already.

    An earlier report may never have been shared itself, so that its numbers count as a further version: where
    1 to 4 people joined, left or have other records, or where that is not known, none of them is told. Else
    they are rounded like the findings' own, which stand in for the new ones, and flare-ups and events, which
    fewer people had, are left out. Codes, fingerprints and days are never told.
    """
    told = {
        "looks": tuple(look.model_copy(update={"digest": "", "steps": 0}) for look in since.looks),
        "chance": None if since.chance is None else round(since.chance, 2),
        "came": floored(since.came),
        "left": floored(since.left),
        "gone": (),
        "edited_steps": None,
        "edited_people": None,
        "renewed": None,
        "until": ("", ""),
        "plan": tuple(dict.fromkeys(map(_choice, since.plan))),
    }
    apart = (since.came, since.left, since.edited_people, since.renewed)
    if any(n is None or is_few(n) for n in apart):
        kept = {*since.cautions, "withheld"} - {"edited", "left"}
        nothing = {"came": None, "left": None, "counts": (), "moves": (), "verdicts": ()}
        cautions = tuple(c for c in CAUTIONS if c in kept)
        return since.model_copy(update={**told, **nothing, "cautions": cautions})
    rows = {key_of(row): row for row in shared.effects}
    moves = (_move(m, rows) for m in since.moves if m.kind in ("primary", "exposure"))
    return since.model_copy(
        update={
            **told,
            "cautions": tuple(c for c in since.cautions if c != "edited"),
            "counts": tuple(_count(c, since, shared) for c in since.counts if c.name in COUNTS),
            "moves": tuple(m for m in moves if m is not None),
        }
    )


def _choice(one: Choice) -> Choice:
    """A choice, or its section where that can name exercises and quote the data."""
    section = one.key.split(".")[0]
    return one if section in MODELLED else Choice(key=section, old=None, new=None)


def _count(one: Counted, since: Since, shared: Findings) -> Counted:
    """A count as it was, to the precision of its own people, beside what the findings give."""
    now = shared.number(one.name)
    people = next((c.old for c in since.counts if c.name == "people"), None)
    if one.name == "people":
        was = floored(one.old)
    else:
        was = None if one.old is None or not people else counted(one.old, people)
    return Counted(name=one.name, old=was if now is not None else None, new=None if now is None else int(now))


def _move(move: Move, rows: dict[tuple, EffectRow]) -> Move | None:
    """A move whose new estimate the findings still give, between two rounded estimates."""
    row = rows.get(key_of(move))
    if row is None or row.estimate is None or move.old is None or is_few(move.old.n_people):
        return None
    estimate, low, high = estimate_said(move.old.estimate, move.old.low, move.old.high, move.old.n_people)
    if estimate is None:
        return None
    was = Limits(estimate=estimate, low=low, high=high, n_people=floored(move.old.n_people) or 0, n_steps=0)
    now = Limits(
        estimate=row.estimate, low=row.low, high=row.high, n_people=row.n_people, n_steps=row.n_steps
    )
    apart = float(f"{now.estimate - was.estimate:.6g}")
    return move.model_copy(update={"old": was, "new": now, "difference": apart, "reach": None})

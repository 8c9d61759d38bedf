"""What is left in a de-identified caseload by which somebody could still be recognised."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.caseload.coarsen import smallest_cell
from lagwise.caseload.knowledge import KINDS, Frames, Kind, known, rated
from lagwise.caseload.lessen import coarser_loads, dropped, rounded_ratings
from lagwise.caseload.singled_out import Share
from lagwise.core.claim import said
from lagwise.core.study import Study


@dataclass(frozen=True)
class Told:
    """How many are singled out by one kind of knowledge, for each number of known points,
    before and after."""

    kind: Kind
    before: tuple[Share, ...]
    after: tuple[Share, ...]

    @property
    def now(self) -> Share:
        """The share in the copy, for the number of points that is spoken of first."""
        return self.after[self.kind.counts.index(self.kind.headline)]


@dataclass(frozen=True)
class Lowered:
    """What would lower it: in words, how it is asked for, and the shares after it,
    one for each headline kind."""

    words: str
    option: str
    shares: tuple[Share, ...]


@dataclass(frozen=True)
class Risk:
    """All that the risk page says: people, kinds of knowledge, what lowers it, and single facts (what, value,
    meaning)."""

    people: int
    told: tuple[Told, ...]
    lowered: tuple[Lowered, ...]
    facts: tuple[tuple[str, object, str], ...]

    def headlines(self) -> list[Told]:
        """The kinds of knowledge that are spoken of first."""
        return [t for t in self.told if t.kind.headline]

    def worst(self, n: int) -> Risk:
        """The same of the n kinds of knowledge, among those spoken of first,
        by which most are singled out in the copy."""
        spoken = self.headlines()
        by = sorted(range(len(spoken)), key=lambda i: -np.nan_to_num(spoken[i].now.mean))[:n]
        lowered = tuple(replace(m, shares=tuple(m.shares[i] for i in by)) for m in self.lowered)
        return replace(self, told=tuple(spoken[i] for i in by), lowered=lowered)

    def copies(self) -> list[tuple[str, str, tuple[Share, ...]]]:
        """This copy and those with further measures: words, option,
        and the share of each kind that is spoken of first."""
        now = tuple(t.now for t in self.headlines())
        return [("this copy", "", now), *((m.words, m.option, m.shares) for m in self.lowered)]

    def frame(self) -> pd.DataFrame:
        """One row per kind of knowledge, measure and fact: what, value, meaning, all as text."""
        rows: list[tuple[str, object, str]] = [
            _fact(
                "singled_out",
                f"{percents(one.before)} before, {percents(one.after)} after",
                counts=" / ".join(map(str, one.kind.counts)),
                words=one.kind.words,
            )
            for one in self.told
        ]
        short = [t.kind.short for t in self.headlines()]
        for m in self.lowered:
            told = [f"{n} {percent(s)} %" for n, s in zip(short, m.shares, strict=True) if s.people]
            rows.append((f"with {m.words}", ", ".join(told), m.option))
        return pd.DataFrame([*rows, *self.facts], columns=["what", "value", "meaning"]).astype("str")


def assess(
    before: Frames,
    after: Frames,
    study: Study,
    *,
    k: int,
    emptied: int,
    events_dropped: int,
    taken: Sequence[str] = (),
    also: Mapping[str, Frames] | None = None,
) -> Risk:
    """What somebody who knows a little could recognise, in the tables as they were and as they are written.

    `taken` names the measures that were asked for already. `also` gives further copies to compare with:
    how it is asked for -> its tables.
    """
    told = []
    for kind in (one.about(study) for one in KINDS):
        was = tuple(known(kind, before, study, moved=False))
        if any(s.people for s in was):
            told.append(Told(kind, was, tuple(known(kind, after, study, moved=True))))
    open_to = [measure for measure in MEASURES if measure[0] not in taken]
    copies: dict[str, Frames] = {option: lessen(after, study) for option, lessen in open_to}
    if len(open_to) > 1:
        everything: Frames = after
        for _, lessen in open_to:
            everything = lessen(everything, study)
        copies["all"] = everything
    lowered = []
    for option, frames in {**copies, **(also or {})}.items():
        kinds = [t.kind for t in told if t.kind.headline]
        shares = (known(kind, frames, study, moved=True, counts=(kind.headline,))[0] for kind in kinds)
        words, asked = (said(f"risk.{option}.{part}") for part in ("words", "option"))
        lowered.append(Lowered(words, asked, tuple(shares)))
    people = len(set().union(*(set(f["person"]) for f in after.values())))
    facts = _facts(after, study, people, k, emptied, events_dropped)
    return Risk(people, tuple(told), tuple(lowered), tuple(facts))


Lessen = Callable[[Frames, Study], dict[str, pd.DataFrame]]
MEASURES: tuple[tuple[str, Lessen], ...] = (
    ("--coarser-loads", lambda frames, study: coarser_loads(frames)),
    ("--rounded-ratings", rounded_ratings),
    ("--drop load_kg", lambda frames, study: dropped(frames, ["load_kg"])),
)
"""What lowers it: the option that asks for it, and what it does to the tables of a copy."""


def percents(shares: Sequence[Share]) -> str:
    """'40 / 90 / >99 %': the means one after the other; '-' where nobody has so many points."""
    return " / ".join(map(percent, shares)) + " %"


def percent(share: Share) -> str:
    """A mean share in whole percent; '>99' and '<1' where rounding would say all or nobody."""
    value = 100 * share.mean
    if math.isnan(value):
        return "-"
    if 0 < value < 0.5:
        return "<1"
    return ">99" if 99.5 <= value < 100 else f"{value:.0f}"


def _facts(
    after: Frames, study: Study, everyone: int, k: int, emptied: int, events_dropped: int
) -> list[tuple[str, object, str]]:
    checkins, sessions, outcome = rated(after), after["sessions"], study.outcome
    heaviest = sessions.dropna(subset=["load_kg"]).groupby("person")["load_kg"].max()
    rows = [
        _fact("people", everyone),
        _fact("smallest", smallest_cell(after["people"]), k=k),
        _fact("emptied", emptied),
        _fact("left_out", events_dropped, k=k),
        _fact("course", _alone(_course(checkins, outcome.name)), outcome=outcome.variable.label),
        _fact("counts", _alone(_counts(checkins, sessions))),
        _fact("heaviest", _alone(heaviest)),
    ]
    if any("time" in f and f["time"].notna().any() for f in after.values()):
        rows.append(_fact("times", "kept"))
    return [*rows, _fact("intervals", "kept")]


def _fact(code: str, value: object, **numbers: Any) -> tuple[str, object, str]:
    return said(f"risk.{code}.what", **numbers), value, said(f"risk.{code}.meaning", **numbers)


def _alone(values: pd.Series) -> int:
    """How many people share their value with nobody."""
    return int((values.map(values.value_counts()) == 1).sum()) if len(values) else 0


def _course(checkins: pd.DataFrame, name: str) -> pd.Series:
    told = checkins.dropna(subset=[name]).sort_values(["person", "date"], kind="stable")
    gap = told.groupby("person")["date"].diff().dt.days.fillna(0).astype(int)
    return (gap.astype("str") + ":" + told[name].astype("str")).groupby(told["person"]).agg(" ".join)


def _counts(checkins: pd.DataFrame, sessions: pd.DataFrame) -> pd.Series:
    both = pd.concat(
        [checkins[["person", "date"]].assign(of="c"), sessions[["person", "date"]].assign(of="s")]
    )
    by = both.groupby("person")
    span = (by["date"].max() - by["date"].min()).dt.days
    return span.astype("str") + " " + by["of"].agg(lambda of: f"{(of == 'c').sum()} {(of == 's').sum()}")

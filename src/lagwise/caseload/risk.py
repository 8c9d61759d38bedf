"""What is left in a de-identified caseload by which somebody could still be recognised."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.caseload.coarsen import smallest_cell
from lagwise.caseload.knowledge import KINDS, Frames, Kind, known, rated
from lagwise.caseload.lessen import coarser_loads, dropped, rounded_ratings
from lagwise.caseload.singled_out import Share
from lagwise.core.study import Study

NOT_ANONYMOUS = (
    "These data are coded, not anonymous. A course of ratings and loads can single a person out for anybody "
    "who knows part of it, so the tables remain personal data. Local law and the data-protection officer "
    "decide what may be done with them."
)


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
            (
                f"singled out by {' / '.join(map(str, one.kind.counts))} of: {one.kind.words}",
                f"{percents(one.before)} before, {percents(one.after)} after",
                "On average over what may be known",
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
    also: Mapping[str, tuple[str, Frames]] | None = None,
) -> Risk:
    """What somebody who knows a little could recognise, in the tables as they were and as they are written.

    `taken` names the measures that were asked for already. `also` gives further copies to compare with:
    words -> how it is asked for, its tables.
    """
    told = []
    for kind in (one.about(study) for one in KINDS):
        was = tuple(known(kind, before, study, moved=False))
        if any(s.people for s in was):
            told.append(Told(kind, was, tuple(known(kind, after, study, moved=True))))
    open_to = [measure for measure in MEASURES if measure[1] not in taken]
    copies = {words: (option, lessen(after, study)) for words, option, lessen in open_to}
    if len(open_to) > 1:
        everything: Frames = after
        for *_, lessen in open_to:
            everything = lessen(everything, study)
        copies["all of these"] = ("all these options together", dict(everything))
    lowered = []
    for words, (option, frames) in {**copies, **(also or {})}.items():
        kinds = [t.kind for t in told if t.kind.headline]
        shares = (known(kind, frames, study, moved=True, counts=(kind.headline,))[0] for kind in kinds)
        lowered.append(Lowered(words, option, tuple(shares)))
    people = len(set().union(*(set(f["person"]) for f in after.values())))
    facts = _facts(after, study, people, k, emptied, events_dropped)
    return Risk(people, tuple(told), tuple(lowered), tuple(facts))


Lessen = Callable[[Frames, Study], dict[str, pd.DataFrame]]
MEASURES: tuple[tuple[str, str, Lessen], ...] = (
    ("weights to the nearest 10 kg", "--coarser-loads", lambda frames, study: coarser_loads(frames)),
    ("ratings in steps of 2 points", "--rounded-ratings", rounded_ratings),
    ("no weights at all", "--drop load_kg", lambda frames, study: dropped(frames, ["load_kg"])),
)
"""What lowers it: words, the option that asks for it, and what it does to the tables of a copy."""


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
    checkins, sessions = rated(after), after["sessions"]
    rows: list[tuple[str, object, str]] = [
        ("people", everyone, "The fewer people, the easier one is recognised"),
        ("smallest cell of the people table", smallest_cell(after["people"]),
        f"At least {k} is aimed at; 0 without the table"),
        ("cells of the people table merged or emptied", emptied,
        "Rare values went into 'other' or were left out"),
        ("events left out", events_dropped, f"Kinds of event noted for fewer than {k} people"),
        (f"people with a {study.outcome.variable.label} course of their own",
        _alone(_course(checkins, study.outcome.name)),
         "Somebody who knows all of a person's ratings could find that person"),
        ("people with a count of records of their own", _alone(_counts(checkins, sessions)),
         "Numbers of sessions and check-ins and the length of the record, taken together"),
        ("people alone with their heaviest load",
         _alone(sessions.dropna(subset=["load_kg"]).groupby("person")["load_kg"].max()),
        "An unusual load is known in a gym"),
    ]  # fmt: skip
    if any("time" in f and f["time"].notna().any() for f in after.values()):
        meaning = "They order sessions and ratings; habits can be recognised by them"
        rows.append(("times of day", "kept", meaning))
    rows.append(("intervals between dates and weekdays", "kept", "Holidays and gaps can still be recognised"))
    return rows


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

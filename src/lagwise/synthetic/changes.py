"""Events with a documented truth: what sets each kind off, and what it adds to the ratings that follow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

import numpy as np
import pandas as pd

from lagwise.synthetic.observe import DAYS, Records
from lagwise.synthetic.process import Weeks

FIRST = 4
"""Weeks before the first in which an event can come."""
STEPS = 4
"""Ratings after an event that its truth is about; every event has so many weeks left, its own included."""
MIDDLE = 5
"""Points of pain and of worry at which the log odds of an event are as its kind says."""
MOST, APART = 2, 9
"""Events of one kind that a person has at most, and weeks from one to the next at least."""
RAISED = {"worry": 2.0, "confidence": -2.0}
"""Points by which these people rate otherwise than those of the clinic, so that what is added finds room."""


@dataclass(frozen=True)
class Change:
    """A kind of event with a documented truth.

    Its log odds in a week are `odds` + `of_pain` x (pain - 5) + `of_worry` x (worry - 5) of the week before.
    `set_off` 'rated': by the ratings that stand on the last day of that week; an unrated week sets nothing
    off. 'felt': by pain as it was felt, less the person's own level in place of 5, rated or not. 'planned':
    by nothing. `pain`, `worry` and `confidence` are the points added to every later rating to the end of the
    record, also when load is back; what is felt and carried on stays as it was. `because` stands in a share
    `said` of the rows. Load stands at `load` times what it was for a number of weeks from `weeks` (least,
    most), the last of which is the event's `until`; (0, 0) does not last.
    """

    kind: str
    set_off: Literal["rated", "felt", "planned"]
    odds: float
    of_pain: float = 0.0
    of_worry: float = 0.0
    pain: float = 0.0
    worry: float = 0.0
    confidence: float = 0.0
    because: str = ""
    said: float = 1.0
    weeks: tuple[int, int] = (0, 0)
    load: float = 1.0

    def plain(self) -> dict[str, Any]:
        """What sets it off, as JSON-able values; what it adds is left out."""
        return {k: v for k, v in asdict(self).items() if k not in ("kind", *ADDED)} | {
            "weeks": list(self.weeks)
        }


ADDED = ("pain", "worry", "confidence")
"""The ratings that a change can add to."""
CHANGES = (
    Change("education", "rated", -4.62, 0.7, 0.4, worry=-1.0, confidence=0.8, because="pain", said=0.75),
    Change("technique_change", "felt", -4.6, 1.2, pain=-0.6, because="other", said=0.6),
    Change("load_reduced", "planned", -3.85, pain=-0.5, because="planned", weeks=(3, 6), load=0.65),
)
UNCHANGED = tuple(replace(change, pain=0.0, worry=0.0, confidence=0.0) for change in CHANGES)
"""The same events, after which nothing is otherwise than it would have been."""


@dataclass(frozen=True)
class Ratings:
    """Ratings on the last day of each week by name, each (n, T): whole points `without` what events add, the
    points `added`, and a uniform `chance` for rounding."""

    without: Mapping[str, np.ndarray]
    added: Mapping[str, np.ndarray]
    chance: Mapping[str, np.ndarray]

    def whole(self, name: str, weeks: slice = slice(None)) -> np.ndarray:
        """(n, weeks) whole 0-10 ratings with what was added: the number below or above, by chance, so that
        they are `mean` on average.
        """
        without, added, chance = (v[name][:, weeks] for v in (self.without, self.added, self.chance))
        return np.clip(np.floor(without + added + chance), 0, 10)

    def mean(self, name: str, less: float = 0.0) -> np.ndarray:
        """(n, T) ratings with what was added but for `less` of it, before rounding, held to 0-10."""
        return np.clip(self.without[name] + self.added[name] - less, 0, 10)


@dataclass(frozen=True)
class Changed:
    """Events: `kind` (m,) index into the changes, `person`, `week` and `day` of the week, `lasts` in weeks;
    and the `ratings` of everybody with what they add."""

    kind: np.ndarray
    person: np.ndarray
    week: np.ndarray
    day: np.ndarray
    lasts: np.ndarray
    ratings: Ratings


def set_off(weeks: Weeks, records: Records, changes: tuple[Change, ...], rng: np.random.Generator) -> Changed:
    """Events week by week, and the ratings of people who rate on the last day of each week.

    What an event adds stands in the ratings from its own week's on, and so in what sets later events off.
    """
    n, T = weeks.pain.shape
    shape = (len(changes), T, n)
    luck, day = rng.random(shape), rng.integers(0, 5, shape)
    lasts = np.stack([rng.integers(low, high + 1, shape[1:]) for low, high in (c.weeks for c in changes)])
    ratings = Ratings(
        {name: np.clip(getattr(records, name)[:, :, -1] + RAISED.get(name, 0), 0, 10) for name in ADDED},
        {name: np.zeros((n, T)) for name in ADDED},
        {name: rng.random((n, T)) for name in ADDED},
    )
    made, felt = records.made[:, :, -1], weeks.pain - weeks.level[:, None]
    count, last = np.zeros((len(changes), n), dtype=int), np.full((len(changes), n), -APART)
    rows = []
    for t in range(FIRST, T - STEPS + 1):
        pain, worry = (ratings.whole(name, slice(t - 1, t))[:, 0] - MIDDLE for name in ("pain", "worry"))
        for k, change in enumerate(changes):
            ache = felt[:, t - 1] if change.set_off == "felt" else pain
            odds = change.odds + change.of_pain * ache + change.of_worry * worry
            free = (count[k] < MOST) & (t - last[k] >= APART) & records.present[:, t]
            if change.set_off == "rated":
                free &= made[:, t - 1]
            now = np.flatnonzero(free & (luck[k, t] < 1 / (1 + np.exp(-odds))))
            count[k, now] += 1
            last[k, now] = t
            for name in ADDED:
                ratings.added[name][now, t:] += getattr(change, name)
            on = day[k, t, now] if change.weeks == (0, 0) else np.zeros(len(now), dtype=int)
            rows.append(np.stack([np.full(len(now), k), now, np.full(len(now), t), on,
                                  lasts[k, t, now]]))  # fmt: skip
    kind, person, week, on, lasting = np.concatenate(rows, axis=1)
    return Changed(kind, person, week, on, lasting, ratings)


def recorded(
    weeks: Weeks, records: Records, changes: tuple[Change, ...], changed: Changed
) -> tuple[Weeks, Records]:
    """Weeks and records with what the events did to load and ratings."""
    load = weeks.load.copy()
    for k, i, t, lasts in zip(changed.kind, changed.person, changed.week, changed.lasts, strict=True):
        part = load[i, t : t + lasts]
        load[i, t : t + lasts] = np.where(part > 0, np.maximum(np.rint(part * changes[k].load), 1), 0)
    daily = {name: np.repeat(changed.ratings.whole(name)[:, :, None], DAYS, axis=2) for name in ADDED}
    high = daily["pain"] >= np.rint(weeks.level[:, None, None] + 1)
    return replace(weeks, load=load), replace(records, **daily, flare=records.flare & high)


def events_table(
    weeks: Weeks,
    records: Records,
    changes: tuple[Change, ...],
    changed: Changed,
    person: np.ndarray,
    start: np.ndarray,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """One row per event; illness and breaks, which come by chance, beside the changes."""
    kinds = np.array([change.kind for change in changes], dtype=object)[changed.kind]
    because = np.array([change.because for change in changes], dtype=object)[changed.kind]
    because[rng.random(len(because)) >= np.array([change.said for change in changes])[changed.kind]] = None
    monday = start[changed.person] + 7 * changed.week
    until = np.where(changed.lasts > 0, monday + (7 * changed.lasts - 1), np.datetime64("NaT", "D"))
    rows = [_rows(person[changed.person], monday + changed.day, kinds, until, because)]
    for kind, when in {"illness": weeks.ill, "break": weeks.load == 0}.items():
        i, t = np.nonzero(when & records.present)
        late, lasts = ((0, 3), (1, 4)) if kind == "illness" else ((0, 1), (6, 7))
        date = start[i] + (7 * t + rng.integers(*late, len(i)))
        rows.append(_rows(person[i], date, kind, date + rng.integers(*lasts, len(i)), None))
    by = ["person", "date", "kind"]
    return pd.concat(rows, ignore_index=True).sort_values(by, kind="stable", ignore_index=True)


def _rows(person: Any, date: Any, kind: Any, until: Any, because: Any) -> pd.DataFrame:
    return pd.DataFrame({"person": person, "date": date, "kind": kind, "until": until, "because": because})

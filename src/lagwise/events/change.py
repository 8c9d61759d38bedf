"""One kind of event and one outcome: the estimates, the events behind them, and what they came to."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.core.claim import Claim, Measured
from lagwise.core.claim import told as reading
from lagwise.core.effects import EffectTable, effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.core.variable import Variable
from lagwise.events.asked import ESTIMATE, PICTURE
from lagwise.events.compare import FEWER, GROUPS, NAMES, Compared, compare
from lagwise.events.history import EARLIER, HORIZON, Steps, steps_at_risk

ENOUGH, QUICK, PEOPLE = 12_000, 4_000, 100
"""Steps at risk (quick, fewer), and people, that an attempt to break a comparison draws of larger records."""
SHOWN = ("risk_set", "regression", "did", "before_after")


@dataclass(frozen=True)
class Change:
    """A kind of event, and the rating asked about after it: the mean of the first `first` steps.

    `horizon` is how many steps after are looked at, `ratings` how many earlier ratings belong to the history,
    `alone` leaves out events with one of another kind within the first steps, `within` takes the rating of an
    event's own step for one before it even where it is dated after. `groups` of people at most are left out
    in turn by the jackknife.
    """

    panel: Panel
    kind: str
    outcome: str
    first: int = 4
    horizon: int = HORIZON
    ratings: int = EARLIER
    alone: bool = False
    within: bool = False
    seed: int = 1
    quick: bool = False
    groups: int = GROUPS

    @property
    def variable(self) -> Variable:
        """The rating asked about."""
        return self.panel.study.variables[self.outcome]

    @property
    def unit(self) -> str:
        """Its unit, in the plural."""
        return f"{self.variable.unit}s"

    @cached_property
    def steps(self) -> Steps:
        """Person-steps at risk. ModelError where there are none."""
        panel = self.panel
        if self.within:
            own = panel.events["after"].where(panel.events["step"] < 0, panel.events["step"])
            panel = replace(panel, events=panel.events.assign(after=own))
        found = steps_at_risk(panel, self.kind, self.outcome, horizon=self.horizon, ratings=self.ratings)
        return (
            found.take(~(found.had & (found.other > 0) & (found.other <= self.first)))
            if self.alone
            else found
        )

    @cached_property
    def compared(self) -> Compared:
        """The estimates and their jackknife. ModelError where events cannot be compared."""
        return compare(self.steps, self.first, groups=self.groups)

    @cached_property
    def enough(self) -> int:
        """People with the event compared and at least three ratings either side of it."""
        rated = np.isfinite(self.steps.Y).sum(axis=1) >= EARLIER
        return int((self.compared.events & rated).sum())

    def measured(self, estimator: str = "risk_set", at: int = -1, **more: Any) -> Measured:
        """An estimate with its 95 % interval (t, events - 1 df, at most groups left out - 1), its events as
        people and its comparable steps."""
        c, place = self.compared, NAMES.index(estimator)
        value, n = float(c.values[at, place]), int(c.n[at])
        df = min(n, len(c.left_out)) - 1
        error = float(c.std_error[at, place]) if len(c.left_out) else np.nan
        reach = float(stdtrit(df, (1 + INTERVAL) / 2)) * error if df > 0 else np.nan
        return Measured(
            value, self.unit, value - reach, value + reach, n, int((~self.steps.had).sum()), **more
        )

    def other(self, **changes: Any) -> Change:
        """The same question with something changed, over no more steps after than its mean needs."""
        return replace(self, **({"horizon": changes.get("first", self.first)} | changes))

    @cached_property
    def some(self) -> Change:
        """The same question of people drawn at random, about `ENOUGH` steps at risk of them; itself where
        there are no more. Quick, of fewer steps and with fewer groups in the jackknife."""
        rows, everybody = len(self.steps.had), self.steps.people
        enough = QUICK if self.quick else ENOUGH
        if rows <= enough or len(everybody) <= PEOPLE:
            return self
        n = max(PEOPLE, len(everybody) * enough // rows)
        drawn = self.rng("some").choice(len(everybody), n, replace=False)
        kept = {everybody[i] for i in drawn}
        frame, events = (t[t["person"].isin(kept)] for t in (self.panel.frame, self.panel.events))
        panel = replace(self.panel, frame=frame.reset_index(drop=True), events=events)
        return replace(self, panel=panel, groups=FEWER if self.quick else GROUPS)

    def rng(self, name: str) -> np.random.Generator:
        """A generator of its own for what is called `name`."""
        return np.random.default_rng([self.seed, zlib.crc32(f"{self.kind} {self.outcome} {name}".encode())])


def because(change: Change) -> Mapping[str, int]:
    """Events compared by why they were made: planned, pain, other, '' (not said)."""
    said = people(change).loc[lambda t: t["compared"], "because"].value_counts()
    return {str(word): int(n) for word, n in said.items()}


def people(change: Change) -> pd.DataFrame:
    """One row per event at risk, of single people: person, step (the last one rated before it), date,
    because, before (mean of the last three ratings), after (mean of the first steps), expected (without the
    event, from the same history), difference, other (ratings until an event of another kind, 0 for none) and
    compared."""
    s, events = change.steps, change.panel.events
    rows = np.flatnonzero(s.had)
    own = events[events["kind"] == change.kind].drop_duplicates(["person", "after"])
    keys = pd.DataFrame(
        {"person": np.array(s.people, dtype=object)[s.person[rows]], "after": s.step[rows].astype(float)}
    )
    told = keys.merge(own, on=["person", "after"], how="left", validate="one_to_one")
    Y, F = s.Y[rows, : change.first], change.compared.expected[rows, : change.first]
    n = np.isfinite(Y).sum(axis=1)
    known = np.where(2 * n >= change.first, n, np.nan)
    after, expected = (np.where(np.isfinite(Y), v, 0.0).sum(axis=1) / known for v in (Y, F))
    return pd.DataFrame(
        {
            "person": keys["person"],
            "step": s.step[rows],
            "date": told["date"],
            "because": told["because"],
            "before": s.before[rows],
            "after": after,
            "expected": expected,
            "difference": after - expected,
            "other": s.other[rows],
            "compared": change.compared.events[rows],
        }
    )


def effects(change: Change) -> EffectTable:
    """The effect table: every horizon and the mean of the first steps, by each estimator."""
    rows, label = [], change.first
    for at in (-1, *range(change.horizon)):
        contrast = f"mean of steps 1-{label} after" if at < 0 else f"step {at + 1} after"
        for name in SHOWN:
            found = change.measured(name, at)
            if np.isfinite(found.value):
                rows.append(_row(change, name, contrast, found, at))
    return effects_frame(rows)


def _row(change: Change, name: str, contrast: str, found: Measured, at: int) -> dict[str, Any]:
    adjusted = name in ("risk_set", "regression")
    c = change.compared
    return {
        "engine": "risk_set" if adjusted else name,
        "model": _MODELS[name],
        "outcome": f"{change.outcome}_after",
        "term": change.kind,
        "level": "whole",
        "adjustment": "adjusted" if adjusted else "crude",
        "pain_adjusted": "before" if adjusted else "none",
        "primary": False,
        "contrast": contrast,
        "contrast_size": 1.0,
        "scale": "points",
        "estimate": found.value,
        "std_error": float(c.std_error[at, NAMES.index(name)]),
        "low": found.low,
        "high": found.high,
        "df": float(min(int(c.n[at]), len(c.left_out)) - 1),
        "interval": INTERVAL,
        "n_people": found.people,
        "n_steps": found.steps,
    }


_MODELS = {
    "risk_set": "doubly robust",
    "regression": "outcome model alone",
    "did": "difference in differences",
    "before_after": "before and after",
}


def claim(change: Change) -> Claim:
    """What the comparison came to.

    verdict: '' (nothing is judged). reason: 'none' (no event can be compared: `why`), 'picture' (fewer than 5
    people with the event and three ratings either side), 'exploratory' (5 to 14) or 'estimate', followed by
    '.lower', '.higher' or '.undecided' for the side of 0 of the doubly robust interval.
    """
    study = change.panel.study
    told: dict[str, Any] = {"kind": change.kind, "outcome": change.outcome, "first": change.first}
    told |= {"events": Measured(float((change.panel.events["kind"] == change.kind).sum()), "events")}
    try:
        steps = change.steps
        told |= {f"left_{k}": Measured(float(n), "events") for k, n in steps.left.items()}
        compared = change.compared
    except ModelError as error:
        return Claim("followed", "", "none", told | {"why": reading(error.what).reason or str(error)})
    told |= {f"because_{k or 'unsaid'}": Measured(float(n), "events") for k, n in because(change).items()}
    told |= {
        "left_thin": Measured(float(compared.events.sum() - compared.n[-1]), "events"),
        "compared": Measured(float(compared.events.sum()), "events"),
        "alone": Measured(float(steps.had.sum() - compared.events.sum()), "events"),
        "enough": Measured(float(change.enough), "people"),
        "without": Measured(float((~steps.had).sum()), "steps"),
        "others": Measured(float(len(np.unique(steps.person[~steps.had]))), "people"),
        "mixed_up": Measured(
            float((compared.events & (steps.other > 0) & (steps.other <= change.first)).sum()), "events"
        ),
        "important": Measured(study.outcome_of(change.outcome).important, change.unit),
    }
    if change.enough < PICTURE:
        return Claim("followed", "", "picture", told)
    told |= {name: change.measured(name) for name in SHOWN} | {"return": change.measured("return")}
    side = ("undecided", "higher", "lower")[told["risk_set"].side]
    return Claim("followed", "", f"{'estimate' if change.enough >= ESTIMATE else 'exploratory'}.{side}", told)


def course(change: Change) -> pd.DataFrame:
    """Mean rating by steps from the event, over the events compared: x (0 the last rating before it), value,
    low, high (95 %, t over events), expected (without the event, from the same history; NaN up to 0), n."""
    s, c = change.steps, change.compared
    rows = np.flatnonzero(c.events)
    frame = change.panel.frame
    code = pd.Index(s.people).get_indexer(pd.Index(frame["person"]))
    of = {(p, k): v for p, k, v in zip(code, frame["step"], frame[change.outcome], strict=True)}
    out = []
    for x in range(1 - EARLIER, change.horizon + 1):
        every = np.array([of.get((s.person[r], s.step[r] + x), np.nan) for r in rows], dtype=float)
        known = np.isfinite(every)
        n, expected = int(known.sum()), np.nan
        if x > 0 and n:
            expected = float(c.expected[rows, x - 1][known].mean())
        mean = float(every[known].mean()) if n else np.nan
        reach = (
            float(stdtrit(n - 1, (1 + INTERVAL) / 2) * every[known].std(ddof=1) / np.sqrt(n))
            if n > 1
            else np.nan
        )
        out.append((x, mean, mean - reach, mean + reach, expected, n))
    return pd.DataFrame(out, columns=["x", "value", "low", "high", "expected", "n"])

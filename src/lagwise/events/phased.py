"""One person's record cut at what changed: the phases, and each change against the phase before it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from lagwise.core.errors import ModelError
from lagwise.events.overlap import overlap
from lagwise.events.single import LEAST, phase_changes

PHASES = ("first", "last", "n", "mean")
CHANGES = (
    "kind", "because", "start", "after", "reason", "n_before", "n_after", "mean_before", "mean_after",
    "estimate", "low", "high", "df", "rho", "pairs", "nap", "tau", "tau_u", "tau_corrected",
)  # fmt: skip


class Event(NamedTuple):
    """Something that changed: its kind, the first step whose rating is after it, the last step that it lasts
    to (None where it has no end), and why it was made ('' where not said)."""

    kind: str
    start: int
    until: int | None = None
    because: str = ""


class Cut(NamedTuple):
    """Events between two phases, and the phases as (first step, where it stops); None where there is none."""

    events: tuple[Event, ...]
    before: tuple[int, int] | None
    after: tuple[int, int] | None

    @property
    def starts(self) -> list[int]:
        """The steps at which they began, each once."""
        return sorted({e.start for e in self.events})


def cut(value: Sequence[float | None], events: Sequence[Event]) -> tuple[list[tuple[int, int]], list[Cut]]:
    """Phases of one person's record, and what began between them.

    A record is cut where an event begins and after the last step of one that ends. Parts of fewer than
    `LEAST` rated steps are no phases: what began on their two sides cannot be told apart and is one change,
    between the phases around it. An event before the second step or after the last is a change by itself,
    without phases.

    Parameters
    ----------
    value : the outcome in steps 0, 1, ...; None where it is not rated
    events : in any order
    """
    y = _values(value)
    ends = {e.until + 1 for e in events if e.until is not None}
    bounds = [0, *sorted(c for c in {e.start for e in events} | ends if 0 < c < len(y)), len(y)]
    phases = [(a, b) for a, b in pairwise(bounds) if _rated(y[a:b]) >= LEAST]
    around = [None, *phases, None]
    cuts = []
    inside = [e for e in events if 0 < e.start < len(y)]
    for before, after in pairwise(around):
        low, high = (0 if before is None else before[0]), (len(y) if after is None else after[0])
        begun = [e for e in inside if low < e.start <= high]
        if begun:
            cuts.append(Cut(tuple(begun), before, after))
    cuts += [Cut((e,), None, None) for e in events if e not in inside]
    return phases, sorted(cuts, key=lambda c: c.starts)


def phases(value: Sequence[float | None], events: Sequence[Event]) -> pd.DataFrame:
    """The phases of `cut`, by `PHASES`: first and last step, rated steps, and their mean."""
    y = _values(value)
    found = [(a, b - 1, _rated(y[a:b]), float(np.nanmean(y[a:b]))) for a, b in cut(value, events)[0]]
    return pd.DataFrame(found, columns=list(PHASES))


def changes(value: Sequence[float | None], events: Sequence[Event]) -> pd.DataFrame:
    """Each change of `cut`, the phase after it against the phase before, by `CHANGES`.

    kinds and reasons are joined by ' + '; `start` is the first step after the change, `after` that of the
    later phase. `reason`: 'compared'; 'few' (no phase on a side); 'flat' (no variance within phases);
    'outside' (of the record). `estimate` to `rho` as in `lagwise.events.single`, `pairs` to `tau_corrected`
    as in `lagwise.events.overlap`.
    """
    y = _values(value)
    rows = []
    for events_of, before, after in cut(value, events)[1]:
        told: dict[str, Any] = {
            "kind": " + ".join(dict.fromkeys(e.kind for e in events_of)),
            "because": " + ".join(dict.fromkeys(e.because for e in events_of if e.because)),
            "start": min(e.start for e in events_of),
        }
        if before is None or after is None:
            told["reason"] = "few" if 0 < told["start"] < len(y) else "outside"
        else:
            sides = {"before": y[slice(*before)], "after": y[slice(*after)]}
            told |= {f"n_{k}": _rated(v) for k, v in sides.items()}
            told |= {f"mean_{k}": float(np.nanmean(v)) for k, v in sides.items()}
            told |= {"after": after[0]} | _compared(y, before, after)
        rows.append(told)
    return pd.DataFrame(rows, columns=list(CHANGES))


def _compared(y: np.ndarray, before: tuple[int, int], after: tuple[int, int]) -> dict[str, Any]:
    step = [*range(*before), *range(*after)]
    value, start = y[step].tolist(), after[0]
    try:
        found = phase_changes(step, value, [start])
        beside = overlap(step, value, [start]).iloc[0]
    except ModelError:
        return {"reason": "flat"}
    row = found.rows.iloc[0]
    told = {name: float(row[name]) for name in ("estimate", "low", "high", "df")}
    shares = {name: float(beside[name]) for name in ("pairs", "nap", "tau", "tau_u", "tau_corrected")}
    return {"reason": "compared", "rho": found.rho} | told | shares


def _values(value: Sequence[float | None]) -> np.ndarray:
    return np.array([np.nan if v is None else v for v in value], dtype=float)


def _rated(y: np.ndarray) -> int:
    return int(np.isfinite(y).sum())

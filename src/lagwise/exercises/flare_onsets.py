"""Task 6: where a flare-up begins, which steps are at risk, and what a ratio of odds is not."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.core.question import Outcome
from lagwise.exercises.task import Found
from lagwise.exercises.world import World

BEFORE, AFTER = 4, 3


def _stretch(world: World) -> tuple[pd.DataFrame, int]:
    """Steps of one person around an onset, and the step in which it begins.

    A flare-up that goes on into the next step is taken where there is one, and a person with few gaps around
    it.
    """
    frame = world.frame
    person, by_person = frame["person"], frame.groupby("person")
    lasts, goes_on = (by_person["at_risk"].shift(-k).eq(0).astype(int) for k in (1, 2))
    known = (frame[world.study.outcome.name].notna() & frame["at_risk"].notna()).groupby(person)
    around = sum(known.shift(k, fill_value=False).astype(int) for k in range(-AFTER - 1, BEFORE))
    found = frame["flare_next"].eq(1)
    if not found.any():
        raise LagwiseError("no flare-up by pain begins in it")
    row = frame.iloc[int(np.argmax(np.where(found, 40 * (lasts + goes_on) + around, -1)))]
    begins = int(row["step"]) + 1
    near = frame["step"].between(begins - BEFORE, begins + AFTER)
    return frame[person.eq(row["person"]) & near], begins


def _line(rows: pd.DataFrame, asked: Outcome) -> pd.Series:
    return rows[asked.usual] + (-asked.rise if asked.variable.worse == "low" else asked.rise)


def given(world: World) -> pd.DataFrame:
    """Pain of one person around an onset, with the usual pain so far and the line above which a flare-up
    begins.
    """
    rows, _ = _stretch(world)
    asked = world.study.outcome
    shown = rows[["step", asked.name, asked.usual]].assign(line=_line(rows, asked))
    return shown.round(asked.variable.places).set_index("step")


def onset(world: World) -> Found:
    """The step in which the flare-up begins."""
    rows, begins = _stretch(world)
    highest = int(rows["step"].to_numpy()[int(np.nanargmax(rows[world.study.outcome.name].to_numpy()))])
    later = [int(step) for step in rows["step"][rows["step"] > begins]]
    return Found(begins, {"before": begins - 1, "highest": highest, "later": later})


def at_risk(world: World) -> Found:
    """Steps at risk among those shown."""
    rows, _ = _stretch(world)
    n = int(rows["at_risk"].eq(1).sum())
    return Found(n, {"all": len(rows), "over": int(rows["at_risk"].eq(0).sum()), "short": n - 1})


def onsets(world: World) -> Found:
    """Onsets by pain in the whole caseload."""
    frame = world.frame
    if not frame["flare_next"].notna().any():
        raise LagwiseError(f"in no {world.step} can it be told whether a flare-up by pain follows")
    asked, follows = world.study.outcome, frame["flare_next"].eq(1)
    slips = {
        "over": int((frame[asked.name] >= _line(frame, asked) - 1e-9).sum()),
        "reported": [int(frame[name].eq(1).sum()) for name in ("flare_reported", "flare_reported_next")],
        "people": int(frame["person"][follows].nunique()),
        "at_risk": [int(frame["flare_next"].notna().sum()), int(frame["at_risk"].eq(1).sum())],
    }
    return Found(int(follows.sum()), slips)


def _risks(world: World) -> tuple[float, float]:
    risk = world.flares.table("risk").set_index("what")["probability"]
    return float(risk["reference"]), float(risk["contrast"])


def in_100(world: World) -> Found:
    """Of 100 steps at the planned contrast, how many are followed by an onset."""
    usual, above = _risks(world)
    slips = {
        "usual": 100 * usual,
        "difference": 100 * (above - usual),
        "share": above,
        "ratio": above / usual,
    }
    return Found(100 * above, slips)


def ratio(world: World) -> Found:
    """The ratio of the two risks."""
    usual, above = _risks(world)
    held, other = world.held(world.flares)

    def odds(engine: str, pain: str) -> float:
        where = {
            "term": world.term,
            "contrast": world.contrast,
            "scale": "odds_ratio",
            "adjustment": "adjusted",
        }
        return world.estimate(world.flares, **where, engine=engine, pain_adjusted=pain)

    slips = {
        "odds": odds("flare", held),
        "matched": odds("clogit", held),
        "other": odds("flare", other),
        "of_odds": above * (1 - usual) / (usual * (1 - above)),
        "turned": usual / above,
        "difference": above - usual,
        "share": above / usual - 1,
    }
    return Found(above / usual, slips, builds_on=("in_100",), rework=lambda n: n / 100 / usual)

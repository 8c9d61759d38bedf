"""Task 6: where a flare-up begins, which steps are at risk, and what a ratio of odds is not."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Key, Part, Slip, Task
from lagwise.exercises.world import World, first

BEFORE, AFTER = 4, 3


def _stretch(world: World) -> tuple[pd.DataFrame, int]:
    """Steps of one person around an onset, and the step in which it begins.

    A flare-up that goes on into the next step is taken where there is one, and a person with few gaps around it.
    """
    frame = world.frame
    person = frame["person"]
    goes_on = frame.groupby("person")["at_risk"].shift(-2).eq(0).astype(int)
    lasts = frame.groupby("person")["at_risk"].shift(-1).eq(0).astype(int)
    known = frame["pain"].notna() & frame["at_risk"].notna()
    around = sum(
        known.groupby(person).shift(k, fill_value=False).astype(int) for k in range(-AFTER - 1, BEFORE)
    )
    rank = (4 * lasts + 4 * goes_on) * 10 + around
    found = frame["flare_next"].eq(1)
    if not found.any():
        raise LagwiseError("no flare-up by pain begins in it")
    at = int(np.argmax(np.where(found, rank, -1)))
    row = frame.iloc[at]
    begins = int(row["step"]) + 1
    rows = frame[person.eq(row["person"]) & frame["step"].between(begins - BEFORE, begins + AFTER)]
    return rows, begins


def table(world: World) -> pd.DataFrame:
    """Pain of one person around an onset, with the usual pain so far and the line above which a flare-up begins."""
    rows, _ = _stretch(world)
    line = rows["usual_pain"] + world.study.pain.flare_rise
    return rows[["step", "pain", "usual_pain"]].assign(line=line).round(2).set_index("step")


def onset(world: World) -> Key:
    """The step in which the flare-up begins."""
    rows, begins = _stretch(world)
    step = world.step
    highest = int(rows["step"].to_numpy()[int(np.nanargmax(rows["pain"].to_numpy()))])
    slips = [
        Slip(begins - 1, f"This is the last {step} at risk. The flare-up begins in the {step} after it."),
        Slip(highest, f"This is the {step} with the highest pain, which need not be the first over the line."),
        *(
            Slip(int(later), "The flare-up had already begun by then. One that goes on, or comes back before pain was under the line, does not begin again.")
            for later in rows["step"][rows["step"] > begins]
        ),
    ]  # fmt: skip
    return Key(begins, f"Pain was under the line in the {step} before and reached it here.", tuple(slips))


def at_risk(world: World) -> Key:
    """Steps at risk among those shown."""
    rows, _ = _stretch(world)
    step = world.step
    n, over = int(rows["at_risk"].eq(1).sum()), int(rows["at_risk"].eq(0).sum())
    slips = (
        Slip(len(rows), f"These are all rows shown. A {step} in which pain is at or over the line cannot see a flare-up begin."),
        Slip(over, f"These are the {step}s over the line, which are not at risk."),
        Slip(n - 1, f"One {step} short. The last {step} before the flare-up is at risk: it is the one the flare-up follows."),
    )  # fmt: skip
    return Key(
        n,
        f"In so many of these {step}s pain was under the line, so that a flare-up could begin in the {step} after.",
        slips,
    )


def onsets(world: World) -> Key:
    """Onsets by pain in the whole caseload."""
    frame, step = world.frame, world.step
    line = frame["usual_pain"] + world.study.pain.flare_rise
    n = int(frame["flare_next"].eq(1).sum())
    if not frame["flare_next"].notna().any():
        raise LagwiseError(f"in no {step} can it be told whether a flare-up by pain follows")
    slips = (
        Slip(int((frame["pain"] >= line - 1e-9).sum()), f"These are all {step}s over the line, those in which a flare-up went on too."),
        Slip(int(frame["flare_reported"].eq(1).sum()), f"These are {step}s that people called a flare-up in their own word. The two definitions are kept apart."),
        Slip(int(frame["flare_reported_next"].eq(1).sum()), f"These are {step}s that people called a flare-up in their own word. The two definitions are kept apart."),
        Slip(int(frame["person"][frame["flare_next"].eq(1)].nunique()), "These are the people. One person can have more than one onset."),
        Slip(int(frame["flare_next"].notna().sum()), f"These are the {step}s at risk, with and without an onset after them."),
        Slip(int(frame["at_risk"].eq(1).sum()), f"These are the {step}s at risk, with and without an onset after them."),
    )  # fmt: skip
    return Key(n, "So many flare-ups by pain begin. All that is said about them rests on this number.", slips)


def _risks(world: World) -> tuple[float, float]:
    risk = world.flares.table("risk").set_index("what")["probability"]
    return float(risk["reference"]), float(risk["contrast"])


def in_100(world: World) -> Key:
    """Of 100 steps at the planned contrast, how many are followed by an onset; within 0.06."""
    usual, above = _risks(world)
    step = world.step
    slips = (
        Slip(100 * usual, f"This is for {step}s at the usual load."),
        Slip(100 * (above - usual), "This is the difference between the two. Said first is each of them."),
        Slip(above, f"This is a share of 1. Of 100 {step}s it is a hundred times as many."),
        Slip(above / usual, "This is a ratio, which says nothing about how often."),
    )
    return Key(
        100 * above,
        f"Out of 100 such {step}s. A small number stays small, whatever it is divided by.",
        slips,
        0.06,
    )


def ratio(world: World) -> Key:
    """The ratio of the two risks; within 0.02."""
    usual, above = _risks(world)
    flares = world.flares
    where = {"term": "jump", "contrast": world.contrast, "scale": "odds_ratio", "adjustment": "adjusted"}
    held = flares.settings["pain_adjusted"]
    other = "before" if held == "during" else "during"
    odds = "Odds are not risks: with the same two risks, the odds ratio lies further from 1 than their ratio, and it is easily read as more than it is."
    models = (
        ("flare", held, f"This is an odds ratio. {odds}"),
        (
            "clogit",
            held,
            f"This is the odds ratio of the model that sets each person against themselves. {odds}",
        ),
        (
            "flare",
            other,
            f"This is an odds ratio, with another pain held equal than the plan asks for. {odds}",
        ),
    )
    found = [
        (first(flares.effects, where | {"engine": e, "pain_adjusted": pain}), says)
        for e, pain, says in models
    ]
    slips = (
        *(Slip(float(row["estimate"]), says) for row, says in found if row is not None),
        Slip(above * (1 - usual) / (usual * (1 - above)), f"This is a ratio of odds. {odds}"),
        Slip(usual / above, "The two were divided the other way round."),
        Slip(above - usual, "This is the difference of the two."),
        Slip(above / usual - 1, "This is by how much more, as a share. The ratio counts the whole."),
    )
    return Key(
        above / usual,
        "The ratio of two risks. Beside it belong both risks and how few onsets they rest on.",
        slips,
        0.02,
    )


TASK = Task(
    6,
    "Where a flare-up begins",
    table,
    (
        Part("onset", "count", onset), Part("at_risk", "count", at_risk), Part("onsets", "count", onsets), Part("in_100", "number", in_100),
        Part("ratio", "number", ratio),
    ),
    (
        "Go down the rows and ask of each: is pain under the line? A flare-up can only begin after a week in which it is.",
        "The onset is the first week at or over the line after a week under it. Weeks in which pain stays up are part of the same flare-up. "
        "To count weeks at risk, count those under the line, also the last one before the flare-up.",
        "Other numbers. Pain 2, 3, 7.5, 8, 3 with the line at 5 all along: the flare-up begins in the third week, the fourth belongs to it, and weeks one, two and five are at risk. "
        "Risks of 0.10 and 0.15 are 10 and 15 of 100, and their ratio is 0.15 / 0.10.",
    ),
)  # fmt: skip

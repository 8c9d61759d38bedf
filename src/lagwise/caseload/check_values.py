"""Checks on what was written down: units, copies, favourite numbers, contradictions,
and how often people rate."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.caseload import repeats
from lagwise.caseload.remarks import Finding, listed, places
from lagwise.core.columns import ratings, scales_of_ten
from lagwise.core.legal import WEEKDAYS
from lagwise.core.results import Caseload

POUNDS_PER_KG = 2.2046
TOLERANCE = 0.1
STEADY = 0.15
EARLIER = 5
FROZEN = 8
NEARLY = 0.9
"""A person gives one number nearly always where it is more than this share of their ratings:
that is no use of a scale in steps."""


def repeated_rows(caseload: Caseload) -> list[Finding]:
    """Days whose every session row is there twice or more: likely an export pasted twice."""
    s = caseload.sessions
    if s.empty:
        return []
    told = [c for c in s.columns if c != "row"]
    times = s.groupby(told, dropna=False, sort=False)["row"].transform("size")
    day = times.groupby([s["person"], s["date"]])
    twice = s[(day.transform("min") > 1) & (day.transform("size") > 2)]
    twice = twice[repeats.further(s)[twice.index] & twice.duplicated(told)]
    if twice.empty:
        return []
    return [
        Finding(
            "repeated_rows", "sessions", "Days on which every session row is there at least twice",
            places(twice),
            len(twice), "The day's load is counted twice, which looks like a jump",
            f"Nothing, if they were done as written. If an export was pasted twice, export it again: "
            f"{len(twice)} rows of "
            f"{len(twice.drop_duplicates(['person', 'date']))} days would go.",
        )
    ]  # fmt: skip


def pound_jumps(caseload: Caseload) -> list[Finding]:
    """Load 2.2 times, or 1/2.2 of, what the person used in the exercise's last five sessions,
    which hardly varied."""
    s = caseload.sessions
    s = s[(s["load_kg"] > 0) & s["exercise"].notna()]
    if s.empty:
        return []
    top = (
        s.groupby(["person", "exercise", "date"], sort=True)
        .agg(load=("load_kg", "max"), row=("row", "min"))
        .reset_index()
    )
    log = np.log(top["load"])
    keys = [top["person"], top["exercise"]]
    earlier = log.groupby(keys).shift(1)
    rolled = earlier.groupby(keys).rolling(EARLIER, min_periods=4)
    usual = rolled.median().reset_index(level=[0, 1], drop=True).reindex(top.index)
    spread = (rolled.max() - rolled.min()).reset_index(level=[0, 1], drop=True).reindex(top.index)
    ratio = log - usual
    size = np.log(POUNDS_PER_KG)
    odd = top[((ratio.abs() - size).abs() < TOLERANCE) & (spread < STEADY)]
    if odd.empty:
        return []
    said = [
        f"{e}: {x:g} kg, usually {np.exp(u):.0f}"
        for e, x, u in zip(odd["exercise"], odd["load"], usual[odd.index], strict=True)
    ]
    return [
        Finding(
            "pound_jump", "sessions", "Loads 2.2 times (or 1/2.2 of) the person's usual in that exercise",
            places(odd.assign(said=said), "said"), len(odd),
            "Pounds among kilograms look like a load jump of 120 %",
            "If these rows alone are in pounds, write 'lb' behind their numbers; nothing, "
            "if the load did change.",
        )
    ]  # fmt: skip


def frozen_ratings(caseload: Caseload) -> list[Finding]:
    """The same check-in, not all zero, at least eight times in a row over at least two rated columns."""
    c = caseload.checkins.sort_values(["person", "date", "row"], kind="stable")
    told = [name for name in ratings(caseload.study) if c[name].notna().any()]
    if len(told) < 2 or c.empty:
        return []
    values = c[told]
    rated = (values.notna().sum(axis=1) >= 2) & values.fillna(0).ne(0).any(axis=1)
    before = values.shift(1)
    same = ((values == before) | (values.isna() & before.isna())).all(axis=1) & c["person"].eq(
        c["person"].shift(1)
    )
    run = (~same).cumsum()
    length = run.groupby(run).transform("size")
    long = c[(length >= FROZEN) & rated]
    starts = long[~same.loc[long.index]]
    if starts.empty:
        return []
    return [
        Finding(
            "frozen_ratings", "checkins", f"The same check-in at least {FROZEN} times in a row",
            places(starts),
            len(starts), "Ratings copied forward hide change and make the next step look predictable",
            "Ask how these were filled in; nothing, if the person did answer so.",
        )
    ]  # fmt: skip


def heaped_ratings(caseload: Caseload) -> list[Finding]:
    """Scales of 0-10 where more than half of at least 30 ratings above 0 are 5 or 10,
    of people who do not give one number nearly always."""
    out = []
    for name in scales_of_ten(caseload.study):
        told = caseload.checkins.dropna(subset=[name])
        same = told.groupby(["person", name])[name].transform("size").groupby(told["person"]).transform("max")
        moving = same <= NEARLY * told.groupby("person")[name].transform("size")
        given = told.loc[moving & (told[name] > 0), name]
        heaped = given.isin([5, 10])
        if len(given) >= 30 and heaped.mean() > 0.5:
            out.append(
                Finding(
                    "heaped_ratings", "checkins",
                    f"{name}: {heaped.mean():.0%} of the ratings above 0 are 5 or 10",
                    name, int(heaped.sum()),
                    "Small changes cannot show on a scale that is used in steps of 5",
                    "Nothing to correct; mention it where results are read.",
                )
            )  # fmt: skip
    return out


def effort_contradictions(caseload: Caseload) -> list[Finding]:
    """Effort and reps in reserve further than 1 apart."""
    s = caseload.sessions
    apart = s[(s["effort"] - (10 - s["reps_in_reserve"]).clip(lower=0)).abs() > 1]
    if apart.empty:
        return []
    said = [
        f"effort {e:g}, {r:g} in reserve"
        for e, r in zip(apart["effort"], apart["reps_in_reserve"], strict=True)
    ]
    return [
        Finding(
            "effort_contradiction", "sessions", "Effort and reps in reserve are further than 1 apart",
            places(apart.assign(said=said), "said"), len(apart),
            "Effort was used; if it is the wrong one of the two, effort's results are off",
            "Correct one of the two from the source; nothing, if effort is the one to trust.",
        )
    ]  # fmt: skip


def unlikely_sleep(caseload: Caseload) -> list[Finding]:
    """Hours of sleep of 16 and more: often minutes, a sum over nights, or a shifted column."""
    out = []
    for table in ("checkins", "weeks"):
        long = getattr(caseload, table)
        long = long[long["sleep_hours"] >= 16]
        if len(long):
            out.append(
                Finding(
                    "unlikely_sleep", table, "16 hours of sleep per night or more",
                    places(long, "sleep_hours"), len(long),
                    "A few such values can carry the whole result for sleep",
                    "Check the unit and the column.",
                )
            )  # fmt: skip
    return out


def ratings_per_step(caseload: Caseload) -> list[Finding]:
    """How many pain ratings a person gives per step, when more than a tenth of rated steps differ from
    the usual number."""
    c = caseload.checkins.dropna(subset=["pain"])
    if c.empty:
        return []
    clock = caseload.study.clock
    day = (c["date"] - pd.Timestamp(1970, 1, 1 + (WEEKDAYS.index(clock.week_starts) - 3) % 7)).dt.days
    if clock.step_days % 7:
        day = (c["date"] - c["person"].map(c.groupby("person")["date"].min())).dt.days
    step = day // clock.step_days
    count = step.groupby([c["person"], step]).size()
    usual = int(count.mode().iloc[0])
    varies = float((count != usual).mean())
    if varies <= 0.1:
        return []
    spread = count.value_counts().sort_index()
    worst = caseload.study.pain.summary == "worst"
    return [
        Finding(
            "ratings_per_step_vary", "checkins",
            f"{varies:.0%} of rated steps have another number of pain ratings than {usual}",
            listed(f"{n} ratings: {k} steps" if n != 1 else f"1 rating: {k} steps"
            for n, k in spread.items()),
            int((count != usual).sum()),
            "The worst of many ratings is higher than the worst of few; this study's pain summary is 'worst'"
            if worst
            else "Steps with few ratings are less precise, and a 'worst' summary would "
            "depend on their number",
            'Use summary = "mean" under [pain].' if worst else 'Nothing, '
            'as long as the summary is not "worst".',
        )
    ]  # fmt: skip

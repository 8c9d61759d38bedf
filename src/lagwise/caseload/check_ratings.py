"""Checks on ratings: sent twice, copied forward, favourite numbers, other scales, how often people rate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pandas as pd

from lagwise.caseload.check_edits import Edit
from lagwise.caseload.remarks import Finding, finding, found, listed
from lagwise.caseload.repeats import step_of
from lagwise.caseload.scales import narrow_scale, scale_edits
from lagwise.caseload.words import LISTS
from lagwise.core.columns import RATINGS, TABLES, ratings, scales_of_ten
from lagwise.core.consistent import SECTIONS
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload

FEW = 0.05
RARE_DAYS = 5
SOON = pd.Timedelta(minutes=10)
FROZEN = 8
NEARLY = 0.9
"""A person gives one number nearly always where it is more than this share of their ratings:
that is no use of a scale in steps."""
SUMMARISED = tuple(name for name in RATINGS if name in SECTIONS)
"""Ratings that have a section of the plan, which says how several of a step are summarised."""
ENOUGH = 30
"""Ratings from which a column may be asked about."""


def second_ratings(caseload: Caseload) -> list[Finding]:
    """A second check-in of one person within ten minutes, or on one day without times,
    that says something else."""
    again, same = _soon_again(_filled_in(caseload), ratings(caseload.study))
    odd = again[~same]
    few = len(odd) <= FEW * len(caseload.checkins)
    return found(odd if few else odd[:0], "second_ratings", "checkins", "date")


def sent_twice(caseload: Caseload) -> list[Finding]:
    """The same check-in again within ten minutes, or the next day where a person rates every five
    days or less often."""
    rated = ratings(caseload.study)
    forms = _filled_in(caseload)
    again, same = _soon_again(forms, rated)
    odd = pd.concat([again[same], _next_day(forms, rated)]).sort_values("row")
    return found(odd, "sent_twice", "checkins", "date")


def _filled_in(caseload: Caseload) -> pd.DataFrame:
    """Check-ins; of a form with one column per day the first day, for its others were not sent again."""
    return caseload.checkins.drop_duplicates(["person", "row"])


def straight_lines(caseload: Caseload) -> list[Finding]:
    """People of whose check-ins at least half, and four, give one number other than 0 on every one of
    three or more scales."""
    c = caseload.checkins
    given = c[scales_of_ten(caseload.study)]
    rated = given.notna().sum(axis=1) >= 3
    flat = rated & (given.max(axis=1) == given.min(axis=1)) & (given.max(axis=1) > 0)
    n_flat, n_rated = (which.groupby(c["person"]).transform("sum") for which in (flat, rated))
    odd = c[flat & (n_flat >= 4) & (n_flat >= 0.5 * n_rated)]
    told = found(odd.drop_duplicates("person"), "straight_lines", "checkins")
    return [replace(one, count=len(odd)) for one in told]


def frozen_ratings(caseload: Caseload) -> list[Finding]:
    """The same check-in, not all zero, at least eight times in a row over at least two rated columns."""
    c = caseload.checkins.sort_values(["person", "date", "row"], kind="stable")
    told = [name for name in ratings(caseload.study) if c[name].notna().any()]
    if len(told) < 2:
        return []
    values, before = c[told], c[told].shift(1)
    rated = (values.notna().sum(axis=1) >= 2) & values.fillna(0).ne(0).any(axis=1)
    same = ((values == before) | (values.isna() & before.isna())).all(axis=1)
    same &= c["person"].eq(c["person"].shift(1))
    run = (~same).cumsum()
    long = c[(run.groupby(run).transform("size") >= FROZEN) & rated]
    return found(long[~same[long.index]], "frozen_ratings", "checkins", times=FROZEN)


def heaped_ratings(caseload: Caseload) -> list[Finding]:
    """Scales of 0-10 where more than half of at least 30 ratings above 0 are 5 or 10,
    of people who do not give one number nearly always."""
    out = []
    for name in scales_of_ten(caseload.study):
        told = caseload.checkins.dropna(subset=[name])
        if len(told) < ENOUGH:
            continue
        same = told.groupby(["person", name])[name].transform("size").groupby(told["person"]).transform("max")
        moving = same <= NEARLY * told.groupby("person")[name].transform("size")
        given = told.loc[moving & (told[name] > 0), name]
        heaped = given.isin([5, 10])
        if len(given) >= ENOUGH and heaped.mean() > 0.5:
            numbers = {"name": name, "share": heaped.mean()}
            out.append(finding("heaped_ratings", "checkins", name, int(heaped.sum()), **numbers))
    return out


def narrow_scales(caseload: Caseload) -> list[Finding]:
    """Columns of 0-10 ratings whose every value fits a scale of 0-1, 1-5, 0-4 or 1-7,
    every point of it used."""
    out = []
    for table in ("sessions", "checkins", "weeks"):
        source = caseload.study.tables.get(table)
        declared = {*(source.units if source else ()), *caseload.study.ratings}
        for name in (column.name for column in TABLES[table] if column.rated):
            given = getattr(caseload, table)[name].dropna()
            scale = narrow_scale(given) if name not in declared and len(given) >= ENOUGH else ""
            if scale and scale not in LISTS["no_scale"].get(name, ()):
                numbers = {"scale": scale, "edits": scale_edits(table, name, scale)}
                out.append(finding("scale_question", table, name, len(given), name=name, **numbers))
    return out


def ratings_per_step(caseload: Caseload) -> list[Finding]:
    """How many of the ratings that the plan summarises a person gives per step, when more than a tenth of
    rated steps differ from the usual number."""
    return [one for name in SUMMARISED for one in _per_step(caseload, name)]


def _per_step(caseload: Caseload, name: str) -> list[Finding]:
    c = caseload.checkins.dropna(subset=[name])
    if c.empty:
        return []
    step = step_of(c["person"], c["date"], caseload.study.clock)
    count = step.groupby([c["person"], step]).size()
    usual = int(count.mode().iloc[0])
    other = count[count != usual]
    if len(other) <= 0.1 * len(count):
        return []
    spread = count.value_counts().sort_index()
    called = caseload.study.step
    where = listed(
        f"{plural(n, 'rating')}: {plural(k, called)}" for n, k in zip(spread.index, spread, strict=True)
    )
    worst = getattr(caseload.study, name).summary == "worst"
    numbers: dict[str, Any] = {"name": name, "step": called, "share": len(other) / len(count), "usual": usual}
    numbers["edits"] = (Edit((name,), {"summary": "mean"}),) if worst else ()
    return [finding("ratings_per_step_vary", "checkins", where, len(other), **numbers)]


def _soon_again(checkins: pd.DataFrame, rated: Sequence[str]) -> tuple[pd.DataFrame, pd.Series]:
    """Check-ins within ten minutes of the person's last one, or of the same day without times."""
    c = checkins.dropna(subset=list(rated), how="all")
    if not c.duplicated(["person", "date"]).any():
        return c[:0], pd.Series(False, index=c.index[:0])
    c = c.sort_values(["person", "date", "time", "row"], kind="stable")
    clock = pd.to_timedelta(c["time"] + ":00")
    before = c.shift()
    beside = c["person"].eq(before["person"]) & c["date"].eq(before["date"])
    soon = beside & ((clock - clock.shift() <= SOON) | (clock.isna() & clock.shift().isna()))
    return c[soon], _alike(c, before, rated)[soon]


def _next_day(checkins: pd.DataFrame, rated: Sequence[str]) -> pd.DataFrame:
    """Check-ins of at least three ratings that say the same as the day before, of people who rate seldom."""
    c = checkins.sort_values(["person", "date", "row"], kind="stable")
    gap = c.groupby("person")["date"].diff().dt.days
    if not gap.eq(1).any():
        return c[:0]
    usual = gap.where(gap > 1).groupby(c["person"]).transform("median")
    given = c[list(rated)]
    told = given.notna().sum(axis=1).ge(3) & given.fillna(0).gt(0).any(axis=1)
    return c[gap.eq(1) & told & _alike(c, c.shift(), rated) & (usual >= RARE_DAYS)]


def _alike(one: pd.DataFrame, other: pd.DataFrame, rated: Sequence[str]) -> pd.Series:
    """Where two frames say the same in every rating."""
    told = [*rated, "flare"]
    same = (one[told] == other[told]).fillna(False).astype(bool)
    return (same | (one[told].isna() & other[told].isna())).all(axis=1)

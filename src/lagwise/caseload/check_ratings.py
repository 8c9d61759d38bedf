"""Checks on ratings: sent twice, copied forward, favourite numbers, other scales, how often people rate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from lagwise.caseload.check_edits import Edit, mending, no_need, written
from lagwise.caseload.remarks import Finding, found, listed
from lagwise.caseload.repeats import step_of
from lagwise.caseload.scales import both_ways, narrow_scale
from lagwise.core.columns import TABLES, ratings, scales_of_ten
from lagwise.core.results import Caseload

FEW = 0.05
RARE_DAYS = 5
SOON = pd.Timedelta(minutes=10)
FROZEN = 8
NEARLY = 0.9
"""A person gives one number nearly always where it is more than this share of their ratings:
that is no use of a scale in steps."""
_ASK = "Ask how these were filled in; nothing, if the person did answer so."
ENOUGH = 30
"""Ratings from which a column may be asked about."""


def second_ratings(caseload: Caseload) -> list[Finding]:
    """A second check-in of one person within ten minutes, or on one day without times,
    that says something else."""
    again, same = _soon_again(_filled_in(caseload), ratings(caseload.study))
    odd = again[~same]
    return found(
        odd if len(odd) <= FEW * len(caseload.checkins) else odd[:0], "second_ratings", "checkins",
        "A second check-in at the same moment says something else",
        "Both count, as two ratings; if one corrects the other, "
        "the step's mean lies between right and wrong",
        "Nothing, if both count. If one corrects the other, "
        "leave the corrected one out of a copy of the file.", "date",
    )  # fmt: skip


def sent_twice(caseload: Caseload) -> list[Finding]:
    """The same check-in again within ten minutes, or the next day where a person rates every five
    days or less often."""
    rated = ratings(caseload.study)
    forms = _filled_in(caseload)
    again, same = _soon_again(forms, rated)
    return found(
        pd.concat([again[same], _next_day(forms, rated)]).sort_values("row"),
        "sent_twice", "checkins", "The same check-in once more, minutes later or on the next day",
        "One answer counts twice, and a step seems to have more ratings than were given",
        "Nothing, if the person did answer twice. If it was sent twice, "
        "leave the second one out of a copy of the file.", "date",
    )  # fmt: skip


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
    told = found(
        odd.drop_duplicates("person"), "straight_lines", "checkins",
        "One number on every scale, in most check-ins of a person",
        "Filled in without reading, they tie pain to stress and worry where nothing ties them", _ASK,
    )  # fmt: skip
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
    return found(
        long[~same[long.index]], "frozen_ratings", "checkins",
        f"The same check-in at least {FROZEN} times in a row",
        "Ratings copied forward hide change and make the next step look predictable", _ASK,
    )  # fmt: skip


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
        if len(given) >= ENOUGH and heaped.mean() > 0.5:
            out.append(Finding(
                "heaped_ratings", "checkins",
                f"{name}: {heaped.mean():.0%} of the ratings above 0 are 5 or 10", name, int(heaped.sum()),
                "Small changes cannot show on a scale that is used in steps of 5",
                "Nothing to correct; mention it where results are read.",
            ))  # fmt: skip
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
            # No pain scale in use runs from 1 to 7; ratings of 0 to 10 often do.
            if scale and (name, scale) != ("pain", "1-7"):
                out.append(Finding(
                    "scale_question", table, f"No rating of {name} lies outside {scale.replace('-', ' to ')}",
                    name, len(given),
                    "On another scale than 0 to 10 a point is another distance, "
                    "and effects and margins in points would mislead",
                    no_need(both_ways(table, name, scale, f", if the scale is 0-10. If it is {scale}, ")),
                ))  # fmt: skip
    return out


def ratings_per_step(caseload: Caseload) -> list[Finding]:
    """How many pain ratings a person gives per step, when more than a tenth of rated steps differ from
    the usual number."""
    c = caseload.checkins.dropna(subset=["pain"])
    if c.empty:
        return []
    step = step_of(c["person"], c["date"], caseload.study.clock)
    count = step.groupby([c["person"], step]).size()
    usual = int(count.mode().iloc[0])
    other = count[count != usual]
    if len(other) <= 0.1 * len(count):
        return []
    spread = count.value_counts().sort_index()
    worst, mean = caseload.study.pain.summary == "worst", Edit(("pain",), {"summary": "mean"})
    return [Finding(
        "ratings_per_step_vary", "checkins",
        f"{len(other) / len(count):.0%} of rated steps have another number of pain ratings than {usual}",
        listed(f"{n} rating{'' if n == 1 else 's'}: {k} steps" for n, k in spread.items()), len(other),
        "The worst of many ratings is higher than the worst of few; this study's pain summary is 'worst'"
        if worst else
        "Steps with few ratings are less precise, and a 'worst' summary would depend on their number",
        mending(f"Use {written(mean)}.", mean) if worst
        else 'Nothing, as long as the summary is not "worst".',
    )]  # fmt: skip


def _soon_again(checkins: pd.DataFrame, rated: Sequence[str]) -> tuple[pd.DataFrame, pd.Series]:
    """Check-ins within ten minutes of the person's last one, or of the same day without times."""
    c = checkins.dropna(subset=list(rated), how="all")
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
    usual = gap.where(gap > 1).groupby(c["person"]).transform("median")
    given = c[list(rated)]
    told = given.notna().sum(axis=1).ge(3) & given.fillna(0).gt(0).any(axis=1)
    return c[gap.eq(1) & told & _alike(c, c.shift(), rated) & (usual >= RARE_DAYS)]


def _alike(one: pd.DataFrame, other: pd.DataFrame, rated: Sequence[str]) -> pd.Series:
    """Where two frames say the same in every rating."""
    told = [*rated, "flare"]
    same = (one[told] == other[told]).fillna(False).astype(bool)
    return (same | (one[told].isna() & other[told].isna())).all(axis=1)

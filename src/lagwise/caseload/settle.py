"""Values of a table that are settled together: hours after midnight, exact ages, spellings of exercises and
levels, sets without a number, what is written once for a session."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from lagwise.caseload.cells import END_OF_DAY
from lagwise.caseload.check_edits import Edit
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, at_rows, remark
from lagwise.caseload.repairs import on
from lagwise.caseload.repeats import EXERCISES
from lagwise.caseload.shapes import when
from lagwise.core import columns
from lagwise.core.consistent import exercise
from lagwise.core.legal import DAY
from lagwise.core.study import Study

BAND = 10
"""Years of a band of ages where none is declared."""
NEARLY_ALL = 0.9
_AGE = r"\d{1,3}(?:[.,]0+)?"


@dataclass
class Settled:
    """A table whose values are settled in place; `given` are the columns that the file holds."""

    frame: pd.DataFrame
    given: Collection[str]
    place: Place
    study: Study
    remarks: list[Remark] = field(default_factory=list)

    def told(
        self, code: str, column: str, at: np.ndarray, said: pd.Series, *edits: Edit, **numbers: Any
    ) -> None:
        """A remark on some rows, with what stood there."""
        if at.any():
            where = at_rows(self.frame["row"][at].tolist(), said[at].tolist(), self.place.named)
            numbers = {"edits": edits, **numbers}
            self.remarks.append(remark(code, self.place.table, column, int(at.sum()), where, **numbers))

    def repaired(self, name: str, column: str, at: np.ndarray, said: pd.Series) -> None:
        """A remark on rows that a repair touched."""
        self.told(f"repair_{name}", column, at, said, Edit(("repair",), {name: False}))


def settle(frame: pd.DataFrame, given: Collection[str], place: Place, study: Study) -> Settled:
    """The values of a table settled, as study.toml declares and as repairs; `frame` is changed."""
    table = Settled(frame, given, place, study)
    if place.source.day_ends:
        _evening_before(table)
    if place.table == "people":
        _bands(table)
        _levels(table)
    if place.source.date_format == DAY and study.clock.first_day:
        _day_zero(table)
    if place.table == "sessions":
        _spellings(table)
        _row_per_set(table)
        _once_per_session(table)
    return table


def _day_zero(table: Settled) -> None:
    """A question about days that count from 0 where the study says that they count from 1."""
    date, clock = when(table.place.table).name, table.study.clock
    days = clock.step_days if table.place.table == "weeks" else 1
    zero = (table.frame[date] == pd.Timestamp(clock.start) - pd.Timedelta(days=days)).to_numpy(dtype=bool)
    count = Edit(("clock",), {"first_day": 0})
    table.told("day_zero", date, zero, pd.Series("0", index=table.frame.index), count)


def _evening_before(table: Settled) -> None:
    frame, ends, date = table.frame, table.place.source.day_ends, when(table.place.table).name
    late = (frame["time"].notna() & (frame["time"] <= ends)).to_numpy(dtype=bool)
    said = frame["time"].copy()
    frame[date] = frame[date].where(~late, frame[date] - pd.Timedelta(days=1))
    frame["time"] = frame["time"].mask(late, END_OF_DAY)
    table.told("evening_before", "time", late, said, ends=ends)


def _bands(table: Settled) -> None:
    """Exact ages as bands: no output needs to tell how old somebody is to the year."""
    ages = table.frame["age_band"]
    exact = ages.str.fullmatch(_AGE).fillna(False).to_numpy(dtype=bool)
    if not exact.any():
        return
    width = table.place.source.bands.get("age_band", BAND)
    low = ages[exact].str.replace(r"[.,].*", "", regex=True).astype("int64") // width * width
    said = ages.copy()
    table.frame.loc[exact, "age_band"] = [f"{a}-{a + width - 1}" for a in low]
    other = Edit(("tables", table.place.table, "bands"), {"age_band": 5})
    banded = said.mask(exact, table.frame["age_band"])
    table.told("banded_ages", "age_band", exact, banded, other, width=width)


def _levels(table: Settled) -> None:
    """Levels that differ in case or spaces only, in the spelling that most rows have."""
    if not on(table.study.repair, "level_case"):
        return
    for name in (c.name for c in columns.TABLES["people"] if c.kind == "text" and c.name in table.given):
        values = table.frame[name]
        counts = values.value_counts()
        usual: dict[str, str] = {}
        for level in counts.index:
            usual.setdefault(exercise(level), level)
        whole = values.map({level: usual[exercise(level)] for level in counts.index}).astype("str")
        other = (values.notna() & (values != whole)).to_numpy(dtype=bool)
        table.repaired("level_case", name, other, values.copy())
        table.frame[name] = values.where(~other, whole)


def _spellings(table: Settled) -> None:
    same = {other: name for name, others in table.study.exercises.items() for other in (*others, name)}
    if not same or "exercise" not in table.given:
        return
    own = table.frame["exercise"]
    named = {text: same.get(exercise(text), text) for text in own.dropna().unique()}
    new = own.map(named).astype("str").where(own.notna())
    other = (own.notna() & (own != new)).to_numpy(dtype=bool)
    table.told("declared_spellings", "exercise", other, own.copy())
    table.frame["exercise"] = new


def _row_per_set(table: Settled) -> None:
    """One set for every row of a log without a column of sets that names exercises several times a day."""
    frame = table.frame
    if "sets" in table.given or "sets" in table.place.source.constant or "exercise" not in table.given:
        return
    work = [name for name in ("reps", "load_kg", "effort") if name in table.given]
    if "reps" not in work or not on(table.study.repair, "row_per_set"):
        return
    rows = frame[frame[["person", "date", "exercise"]].notna().all(axis=1)]
    size = rows.groupby(["person", "date", "exercise"], sort=False).size()
    if (size > 1).sum() < EXERCISES or (size > 1).mean() < 0.5:
        return
    done = frame[work].notna().any(axis=1).to_numpy(dtype=bool) & frame["sets"].isna().to_numpy()
    frame["sets"] = frame["sets"].mask(done, 1.0)
    table.repaired("row_per_set", "sets", done, frame["reps"].map("{:g} repetitions".format))


def _once_per_session(table: Settled) -> None:
    """Effort that is written on one row of each session speaks for its other rows, minutes are shared."""
    frame = table.frame
    if not on(table.study.repair, "once_per_session") or not {"effort", "minutes"} & {*table.given}:
        return
    placed = frame[["person", "date"]].notna().all(axis=1)
    rows = frame.loc[placed, ["person", "date", "row", "effort", "minutes"]]
    session = rows.groupby(["person", "date"], sort=False)
    size = session["row"].transform("size")
    for name in ("effort", "minutes"):
        if name not in table.given or not _written_once(rows, name, size):
            continue
        one = session[name].transform("count").eq(1) & (size > 1)
        value = session[name].transform("max")
        new = one & rows[name].isna()
        if name == "minutes":
            frame.loc[one.index[one], name] = (value / size)[one]
        else:
            frame.loc[new.index[new], name] = value[new]
        at = new.reindex(frame.index, fill_value=False).to_numpy(dtype=bool)
        said = value.reindex(frame.index).map("{:g}".format)
        table.repaired("once_per_session", name, at, said)


def _written_once(rows: pd.DataFrame, name: str, size: pd.Series) -> bool:
    """Whether nearly all sessions of several rows have it once, at one end of them."""
    several = rows.assign(given=rows[name].notna())[size > 1]
    by = several.groupby(["person", "date"], sort=False)["given"]
    each = pd.DataFrame({"times": by.sum(), "first": by.first(), "last": by.last()})
    each = each[each["times"] > 0]
    if len(each) < EXERCISES or (each["times"] == 1).mean() < NEARLY_ALL:
        return False
    return bool(max(each["first"].mean(), each["last"].mean()) >= NEARLY_ALL)

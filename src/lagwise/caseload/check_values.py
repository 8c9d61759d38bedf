"""Checks on what was written down: copies, units, contradictions, and codes for 'not recorded'."""

from __future__ import annotations

import numpy as np
import pandas as pd
from pandas.api import types

from lagwise.caseload import repeats
from lagwise.caseload.check_edits import Edit
from lagwise.caseload.remarks import Finding, found
from lagwise.core import columns
from lagwise.core.results import Caseload

POUNDS_PER_KG = 2.2046
TOLERANCE = 0.1
STEADY = 0.15
EARLIER = 5
CODES = (66, 77, 88, 99, 666, 777, 888, 999, 6666, 7777, 8888, 9999, 99999)
WORDS = ("-1", "-7", "-8", "-9", "-77", "-88", "-99", "-999", "7", "8", "9", *map(str, CODES))
BEYOND = 1.5
_NEVER = (*columns.PLACING, "row", "exercise", "kind", "trained")


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
    days = len(twice.drop_duplicates(["person", "date"]))
    return found(twice, "repeated_rows", "sessions", copies=len(twice), days=days)


def pound_jumps(caseload: Caseload) -> list[Finding]:
    """Load 2.2 times, or 1/2.2 of, what the person used in the exercise's last five sessions,
    which hardly varied."""
    s = caseload.sessions
    s = s[(s["load_kg"] > 0) & s["exercise"].notna()]
    if s.empty:
        return []
    days = s.groupby(["person", "exercise", "date"], sort=True)
    top = days.agg(load=("load_kg", "max"), row=("row", "min")).reset_index()
    log, keys = np.log(top["load"]), [top["person"], top["exercise"]]
    rolled = log.groupby(keys).shift(1).groupby(keys).rolling(EARLIER, min_periods=4)
    usual, high, low = (
        each.reset_index(level=[0, 1], drop=True).reindex(top.index)
        for each in (rolled.median(), rolled.max(), rolled.min())
    )
    away = ((log - usual).abs() - np.log(POUNDS_PER_KG)).abs()
    odd = top.assign(usual=np.exp(usual))[(away < TOLERANCE) & (high - low < STEADY)]
    odd.attrs = s.attrs  # the names of its files or sheets
    said = [f"{o.exercise}: {o.load:g} kg, usually {o.usual:.0f}" for o in odd.itertuples()]
    return found(odd.assign(said=said), "pound_jump", "sessions", "said")


def effort_contradictions(caseload: Caseload) -> list[Finding]:
    """Effort and reps in reserve further than 1 apart."""
    return found(repeats.contradicting(caseload.sessions), "effort_contradiction", "sessions", "said")


def ended_first(caseload: Caseload) -> list[Finding]:
    """Events that end before they begin."""
    events = caseload.events
    return found(events[events["until"] < events["date"]], "ended_first", "events", "until")


def unlikely_sleep(caseload: Caseload) -> list[Finding]:
    """Hours of sleep of 16 and more: often minutes, a sum over nights, or a shifted column."""
    out = []
    for table, frame in (("checkins", caseload.checkins), ("weeks", caseload.weeks)):
        out += found(frame[frame["sleep_hours"] >= 16], "unlikely_sleep", table, "sleep_hours")
    return out


def missing_codes(caseload: Caseload) -> list[Finding]:
    """Numbers such as 99 and 999 far above all others of their column,
    and such numbers among words or a few codes."""
    return [one for table in columns.TABLES for one in _coded(table, getattr(caseload, table))]


def _coded(table: str, frame: pd.DataFrame) -> list[Finding]:
    hits = []
    for name in frame.columns if len(frame) else ():
        if name not in _NEVER:
            number = types.is_float_dtype(frame[name].dtype)
            hit = frame[_far(frame[name]) if number else _word(frame[name])]
            marks = [f"{v:g}" if number else str(v) for v in hit[name]]
            hits += [hit[["person", "row"]].assign(column=name, mark=marks)] if marks else []
    odd = pd.concat(hits) if hits else pd.DataFrame()
    if odd.empty:
        return []
    by = odd.groupby("column", sort=False)["mark"]
    marked = {str(name): marks.unique().tolist() for name, marks in by}
    edits = (Edit(("tables", table), {"missing": marked}),)
    odd = odd.assign(said=odd["column"] + " " + odd["mark"])
    return found(odd, "missing_code", table, "said", columns=", ".join(marked), edits=edits)


def _far(values: pd.Series) -> pd.Series:
    """Where a number is one of the codes and more than 1.5 times the largest number that is none."""
    coded = values.isin(CODES)
    others = values[~coded].max() if coded.any() else 0
    return coded & (values > BEYOND * others) if pd.notna(others) and others > 0 else coded & False


def _word(values: pd.Series) -> pd.Series:
    """Where a text is such a number, among texts that are none or smaller whole numbers of one digit."""
    if values.dtype != "str":
        return pd.Series(False, index=values.index)
    coded = values.isin(WORDS)
    others = values[~coded].dropna()
    if len(others) and not others.str.fullmatch(r"-?\d+").any():
        return coded & values.str.len().gt(1)
    return coded if len(others) and others.isin([*"012345"]).all() else coded & False

"""Sheets -> Draft: which sheet is which table, and what the study can ask of them."""

from __future__ import annotations

import re
from collections.abc import Mapping

import pandas as pd

from lagwise.caseload.suggest import meanings
from lagwise.core.claim import said
from lagwise.core.study import AnalysisPlan
from lagwise.drafts import tables, vocabulary
from lagwise.drafts.dates import PLACE
from lagwise.drafts.fitting import RATED
from lagwise.drafts.group import Group, grouped
from lagwise.drafts.guess import Draft, Guess, LeftOut, Section, look, sure, unused
from lagwise.drafts.looking import Seen
from lagwise.drafts.meaning import Meaning, meaning
from lagwise.drafts.tables import Held

_CODE = re.compile(r"[A-Za-z]{1,4}[-_ ]?\d{1,4}")
ORDER = ("sessions", "checkins", "people", "events", "weeks")


def drafted(seen: Seen, title: str) -> Draft:
    """The draft of a plan for what was found in some files."""
    groups = grouped(seen.sheets)
    first = [meaning(group.sheet, PLACE) for group in groups]
    people = frozenset().union(*(_people(g.sheet.frame, m) for g, m in zip(groups, first, strict=True)))
    meant = [
        m if {"person", "date"} <= {*m.roles} else meaning(g.sheet, PLACE, people)
        for g, m in zip(groups, first, strict=True)
    ]
    found = [tables.held(group, m) for group, m in zip(groups, meant, strict=True)]
    chosen, lines = _chosen([one for each in found for one in each])
    lines += [_without(g, m) for g, m, each in zip(groups, meant, found, strict=True) if not each]
    files = list(seen.copies)
    parts = [s for table in ORDER if table in chosen for s in tables.sections(chosen[table], files)]
    parts = [*_plan(chosen, title), *_ratings(chosen), *_more(chosen), *parts]
    left = tuple(left for m, each in zip(meant, found, strict=True) if each for left in m.left_out)
    hidden = tuple(left for m, each in zip(meant, found, strict=True) if not each for left in m.left_out)
    left += tuple(one for one in hidden if one.identifying)
    return Draft(tuple(s for s in parts if s.guesses), _once(left), (*seen.not_read, *lines), seen.copies)


def _without(group: Group, m: Meaning) -> str:
    """Why a group of sheets holds no table."""
    where = ", ".join(one.where for one in group.members[:3])
    measures = [name.replace("_", " ") for name in m.roles if name not in ("person", "date", "time")]
    if measures:
        return said("draft.undated", where=where, measures=", ".join(measures))
    codes = [one for one in group.sheet.headers if _CODE.fullmatch(one)]
    if "date" in m.roles and len(codes) >= 3:
        return said("draft.transposed", where=where, codes=f"{codes[0]}, {codes[1]}, ...")
    for header in group.sheet.headers:
        named = group.sheet.frame[header].dropna().unique()
        rated = [text for text in named if any(n in RATED for n, *_ in meanings(text))]
        if 2 <= len(named) <= 40 and len(rated) >= max(2, 0.5 * len(named)):
            told = ", ".join(f"'{text}'" for text in rated[:2])
            return said("draft.long", where=where, measures=told, header=header)
    return said("draft.no_table", where=where)


def _people(frame: pd.DataFrame, m: Meaning) -> set[str]:
    role = m.roles.get("person")
    return set() if role is None else {*frame[role.header].dropna().str.strip()}


def _once(left: tuple[LeftOut, ...]) -> tuple[LeftOut, ...]:
    return tuple(dict.fromkeys(left))


def _chosen(found: list[Held]) -> tuple[dict[str, Held], list[str]]:
    """For each table the group of sheets that holds most of it, and a line for each that is left out."""
    out: dict[str, Held] = {}
    lines: list[str] = []
    for one in sorted(found, key=lambda h: -h.size):
        if one.table not in out:
            out[one.table] = one
            continue
        has = ", ".join(name for name in one.roles if name not in ("person", "date"))
        where, other = one.group.sheet.where, out[one.table].group.sheet.where
        lines.append(said("draft.also", where=where, table=one.table, has=has, other=other))
    return out, lines


def _plan(chosen: Mapping[str, Held], title: str) -> list[Section]:
    top = (look("title", title, said("draft.title")), look("reviewed", False, said("draft.reviewed")))
    return [Section("", top), *_clock(chosen), *_load(chosen), *_asked(chosen)]


def _clock(chosen: Mapping[str, Held]) -> list[Section]:
    gaps = {table: _gap(one) for table, one in chosen.items() if table in ("sessions", "checkins")}
    rated, trained = gaps.get("checkins"), gaps.get("sessions")
    step, why = 7, "weeks"
    numbered = any(one.meaning.dates.weeks for one in chosen.values())
    if rated == 1 and numbered:
        step, why = 1, said("draft.step_numbered")
    elif rated == 1 and trained in (None, 1):
        step, why = 1, said("draft.step_daily")
    elif rated == 1:
        why = said("draft.step_averaged")
    elif rated:
        step, why = 7 * max(1, round(rated / 7)), said("draft.step_rated", days=rated)
    out: list[Guess] = [
        look("step_days", step, why) if step != 7 or rated == 1 else sure("step_days", step, why)
    ]
    starts = [r.run.start for one in chosen.values() for r in one.roles.values() if r.run and r.run.start]
    if starts:
        out.append(sure("study_start", str(min(starts)), said("draft.start_known")))
    elif (days := [one for one in chosen.values() if one.meaning.dates.numbered]) or _undated(chosen):
        out.append(look("study_start", "2025-09-01", said("draft.start"), on=False))
        if days and min(one.meaning.dates.first for one in days) == 0:
            out.append(sure("first_day", 0, said("draft.from_zero")))
    return [Section("clock", tuple(out))]


def _undated(chosen: Mapping[str, Held]) -> bool:
    return any("date" not in one.roles and one.table == "checkins" for one in chosen.values())


def _gap(one: Held) -> float | None:
    """The usual number of days from one date of a person to the next."""
    runs = [role.run for role in one.roles.values() if role.run]
    if runs:
        offsets = sorted(runs[0].days.values())
        return float(pd.Series(offsets).diff().median())
    if "date" not in one.roles or not one.has(
        *RATED, *(r.name for r in one.meaning.own), "sets", "load", "minutes", "reps"
    ):
        return None
    frame, days = one.frame, one.days
    who = frame[one.roles["person"].header].ffill() if "person" in one.roles else (days.diff() < 0).cumsum()
    measured = [r.header for n, r in one.roles.items() if n not in ("person", "date", "time")]
    there = frame[measured].notna().any(axis=1) & days.notna()
    at = (
        pd.DataFrame({"who": who[there], "day": days[there].astype(float)})
        .drop_duplicates()
        .sort_values(["who", "day"])
    )
    gap = at.groupby("who")["day"].diff().median()
    return None if pd.isna(gap) else float(gap)


def _load(chosen: Mapping[str, Held]) -> list[Section]:
    one = chosen.get("sessions")
    if one is None:
        if "weeks" in chosen:
            return []
        return [Section("load", (unused(said("draft.no_load")),))]
    constant = any(g.key == "constant" and g.on for s in tables.sections(one, []) for g in s.guesses)
    if one.has("sets") or constant:
        tonnage = one.has("reps") and one.has("load_kg")
        measure, why = "sets", said("draft.sets_counted", tonnage=tonnage)
    elif one.has("load"):
        measure, why = "measured", said("draft.measured", header=one.roles["load"].header)
    elif one.has("minutes") and one.has("effort"):
        measure, why = "session_rpe", said("draft.effort_times_minutes")
    else:
        return [Section("load", (unused(said("draft.load_uncounted")),))]
    return [Section("load", (sure("measure", measure, why),))]


def _asked(chosen: Mapping[str, Held]) -> list[Section]:
    rated = [n for t in ("checkins", "weeks") if t in chosen for n in chosen[t].roles]
    own = [role.name for t in ("checkins",) if t in chosen for role in chosen[t].meaning.own]
    train = chosen.get("sessions") or chosen.get("weeks")
    there = {*rated} | ({"effort"} if train and train.has("effort", "reps_in_reserve") else set())
    there |= {"jump"} if "weeks" in chosen or any(g.on for s in _load(chosen) for g in s.guesses) else set()
    asked = [n for n in AnalysisPlan.exposures if n in there]
    usable = [n for n in rated if n in (*RATED, *own) and n != "flare"]
    first = ("pain", "worry", *own, "stress", "confidence", "sleep_quality", "sleep_hours")
    outcome = next((n for n in first if n in usable), "")
    if not usable or (outcome == "pain" and asked == list(AnalysisPlan.exposures)):
        return []
    out = [] if outcome == "pain" else [look("outcome", outcome, said("draft.no_pain"))]
    asked = [n for n in asked if n != outcome] or [n for n in usable if n != outcome][:5]
    if not asked:
        return [Section("analysis", tuple(out))]
    out.append(sure("exposures", asked, said("draft.exposures")))
    if asked[0] != "jump":
        out.append(look("primary", asked[0], said("draft.primary")))
        out.append(look("primary_contrast", 1, said("draft.contrast")))
    return [Section("analysis", tuple(out))]


def _ratings(chosen: Mapping[str, Held]) -> list[Section]:
    return [s for t in ("checkins", "weeks") if t in chosen for s in vocabulary.ratings(chosen[t])]


def _more(chosen: Mapping[str, Held]) -> list[Section]:
    out: list[Section] = []
    ranges = sum(role.numbers.ranges[0] for t in chosen for role in chosen[t].roles.values())
    if ranges:
        why = said("draft.ranges", cells=ranges)
        out.append(Section("repair", (look("ranges", True, why, on=False),)))
    if "events" in chosen:
        out += vocabulary.kinds(chosen["events"])
    if "sessions" in chosen and chosen["sessions"].has("exercise"):
        out += vocabulary.spellings(chosen["sessions"])
    return out

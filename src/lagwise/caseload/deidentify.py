"""A caseload that can be handed to a colleague: new codes, moved dates, coarse people. Coded,
never anonymous."""

from __future__ import annotations

import math
import os
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pandas as pd

from lagwise.caseload.coarsen import OTHER, coarse_people
from lagwise.caseload.dates import FIRST
from lagwise.caseload.lessen import dropped
from lagwise.caseload.reading import read
from lagwise.caseload.risk import MEASURES, Lessen, Risk, assess
from lagwise.caseload.study_text import study_text
from lagwise.core import columns
from lagwise.core.claim import words
from lagwise.core.errors import CaseloadError
from lagwise.core.results import Caseload
from lagwise.core.spreadsheet import starts_formula
from lagwise.core.study import EventsPlan, Study
from lagwise.output import check_folder, free_name, refuse_caseload, whole_file, whole_folder

LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
TELLING = 4
"""Characters from which a former code that stands inside a new one would be taken for the person."""
LONGEST_SHIFT = 728
COMMON_START = pd.Timestamp(2000, 1, 3)
TITLE = "De-identified caseload"


@dataclass(frozen=True)
class _Key:
    """Per person: the new code and the days by which every date moves."""

    code: Mapping[str, str]
    days: Mapping[str, int]


def deidentify(
    caseload: Caseload,
    out: str | Path,
    *,
    seed: int | None = None,
    mapping: str | Path | None = None,
    k: int = 5,
    dates: Literal["shift", "relative"] = "shift",
    title: str = TITLE,
    coarser_loads: bool = False,
    rounded_ratings: bool = False,
    drop: Sequence[str] = (),
    weekly: Caseload | None = None,
    weekly_sums: bool = False,
    tell: Callable[[Risk], None] | None = None,
) -> pd.DataFrame:
    """Write a de-identified copy of a caseload into a new folder.

    Every person gets a random code, and all of a person's dates move by the same whole multiple of
    lcm(7, step_days) days, so that weekdays, intervals and steps stay as they are. The people table is made
    coarse until each combination in it is shared by at least `k` people; exercises become their groups
    (without declared groups, exercises done by fewer than `k` people become 'other'); kinds of event noted
    for fewer than `k` people are left out. Setting, ethics and title of the study are not carried over.
    Quarantined rows and columns outside the contract are never written.

    Parameters
    ----------
    caseload : Caseload
    out : path
        A new or empty folder outside the caseload's own. It gets study.toml, CSV tables and risk.html,
        all or nothing.
    seed : int, optional
        For tests and teaching only: with a seed, codes and shifts can be found again by anybody who knows it.
        Without, they come from the operating system's random source.
    mapping : path, optional
        A new file outside `out` for old code, new code and shift; readable by its owner only.
        Without it nobody can go back.
    k : int
        The fewest people who share a combination.
    dates : 'shift' | 'relative'
        'shift' moves each person's dates back by up to two years;
        'relative' lets everybody start in the same week.
    title : str
        The title in the new study.toml.
    coarser_loads : bool
        Weights to the nearest 10 kg (under 10 kg: 5), loads of weeks to two figures.
    rounded_ratings : bool
        Ratings from 0 to 10 in steps of 2, on other scales in fifths of the scale or steps of 2;
        hours of sleep and efforts to whole numbers.
    drop : sequence of str
        Columns left out of the copy, as COLUMN or TABLE.COLUMN.
    weekly : Caseload, optional
        The same caseload as sums and means of weeks (`lagwise.pages.weekly.weekly`),
        to compare with on the risk page.
    weekly_sums : bool
        Write `weekly` instead of sessions and check-ins.
    tell : callable, optional
        Called with the whole risk, as numbers, once the copy is written.

    Returns
    -------
    DataFrame
        What could still be recognised: what, value, meaning; how many are singled out by a few known points,
        before and after, and after further measures. The result remains personal data.

    Raises
    ------
    CaseloadError
        When `out` is not new or empty, `out` or `mapping` lies in a caseload,
        or `mapping` exists or lies inside `out`.
    """
    if k < 1 or dates not in ("shift", "relative"):
        raise CaseloadError("k must be at least 1 and dates 'shift' or 'relative'", where="deidentify")
    target, keep = _checked_places(caseload, Path(out), mapping)
    if weekly_sums and weekly is None:
        raise CaseloadError(
            "weekly_sums needs the caseload as weeks",
            where="deidentify",
            mend="Give weekly=weekly(caseload).",
        )
    key = _key(caseload, seed, dates)
    asked = {"--coarser-loads": coarser_loads, "--rounded-ratings": rounded_ratings}
    taken = [option for option, wanted in asked.items() if wanted]

    def made(frames: Mapping[str, pd.DataFrame], study: Study) -> dict[str, pd.DataFrame]:
        """The tables with the measures taken that were asked for."""
        for option, lessen in MEASURES:
            frames = lessen(frames, study) if option in taken else frames
        return dropped(frames, drop)

    whole = weekly if weekly_sums and weekly is not None else caseload
    frames, study, emptied, events = _protected(whole, key, k, title, made)
    also = {}
    if weekly is not None and not weekly_sums:
        also["--weekly-sums"] = _protected(weekly, key, k, title, made, (frames["people"], emptied))[0]
    options = [*taken, *(f"--drop {name}" for name in drop)]
    risk = assess(
        {table: getattr(caseload, table) for table in columns.TABLES}, frames, study,
        k=k, emptied=emptied, events_dropped=events, taken=options, also=also,
    )  # fmt: skip
    texts = {"study.toml": study_text(study), "risk.html": words("check.risk_page.risk_page")(risk)}
    texts |= {f"{table}.csv": _csv(frame) for table, frame in frames.items() if len(frame)}
    rows = pd.DataFrame([(person, code, key.days[person]) for person, code in key.code.items()],
                        columns=["person", "code", "days"])  # fmt: skip
    _write(texts, target, keep, rows.to_csv(index=False, lineterminator="\n"))
    if tell is not None:
        tell(risk)
    return risk.frame()


def neutral(text: str) -> str:
    """A text that no spreadsheet takes for a formula: one that begins with = + - @ gets an
    apostrophe before it."""
    return f"'{text}" if starts_formula(text) else text


def _checked_places(caseload: Caseload, out: Path, mapping: str | Path | None) -> tuple[Path, Path | None]:
    own = Path(caseload.folder) if caseload.folder else None
    target = check_folder(out, what="copy", error=CaseloadError, reading=own)
    if mapping is None:
        return target, None
    keep = Path(mapping).resolve()
    if keep.is_relative_to(target):
        raise CaseloadError(
            "the mapping may not lie beside the data", where=str(mapping), mend="Name another place."
        )
    refuse_caseload(mapping, what="mapping", error=CaseloadError, reading=own)
    if os.path.lexists(mapping):
        mend = f"Name a new file, for example {free_name(keep)}."
        raise CaseloadError("the mapping file exists already", where=str(mapping), mend=mend)
    return target, keep


def _key(caseload: Caseload, seed: int | None, dates: str) -> _Key:
    first: dict[str, pd.Timestamp] = {}
    people: set[str] = set()
    for table in columns.TABLES:
        frame = getattr(caseload, table)
        people |= set(frame["person"])
        if table != "people":
            for person, day in frame.groupby("person")[columns.WHEN[table]].min().items():
                first[str(person)] = min(day, first.get(str(person), day))
    draw = _drawing(seed)
    codes: set[str] = set()
    former = [code for code in people if len(code) >= TELLING]
    while len(codes) < len(people):
        code = "P-" + "".join(LETTERS[draw(len(LETTERS))] for _ in range(5))
        if not any(old in code for old in former):
            codes.add(code)
    order = sorted(people)
    shuffled = sorted(codes)
    for i in range(len(shuffled) - 1, 0, -1):
        j = draw(i + 1)
        shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
    unit = math.lcm(7, caseload.study.clock.step_days)
    days = {}
    for person in order:
        start = first.get(person, COMMON_START)
        if dates == "relative":
            days[person] = -((start - COMMON_START).days // unit) * unit
        else:
            back = (1 + draw(LONGEST_SHIFT // unit)) * unit
            days[person] = -back if start - pd.Timedelta(days=LONGEST_SHIFT) >= pd.Timestamp(FIRST) else back
    return _Key(dict(zip(order, shuffled, strict=True)), days)


def _drawing(seed: int | None) -> Callable[[int], int]:
    if seed is None:
        return secrets.randbelow
    generator = np.random.default_rng(seed)
    return lambda below: int(generator.integers(below))


def _protected(
    caseload: Caseload,
    key: _Key,
    k: int,
    title: str,
    less: Lessen,
    coarse: tuple[pd.DataFrame, int] | None = None,
) -> tuple[dict[str, pd.DataFrame], Study, int, int]:
    """The copy's tables and plan, cells of people made coarser, and events left out. `coarse`: its people and
    their cells, where they were made before."""
    frames = {table: _recoded(getattr(caseload, table), table, key) for table in columns.TABLES}
    sessions = pd.concat([frames["sessions"], _blanks(caseload, frames["sessions"], key)], ignore_index=True)
    exercises, groups = _exercises(caseload, k)
    frames["sessions"] = sessions.assign(exercise=sessions["exercise"].map(exercises).astype("str"))
    frames = less(frames, caseload.study)
    frames["people"], emptied = coarse or coarse_people(frames["people"], k, caseload.study.scores)
    held = frames["events"].groupby("kind")["person"].transform("nunique")
    left_out = int((held < k).sum())
    frames["events"] = frames["events"][held >= k].reset_index(drop=True)
    bare: dict[str, Any] = {"setting": "", "ethics": "", "tables": {}, "consent_single_person_plots": False}
    told = {*frames["events"]["kind"]}
    bare |= {
        "blocks": {},
        "exercises": {},
        "clock": replace(caseload.study.clock, study_start="", first_day=1),
    }
    plan = caseload.study.events
    bare["events"] = EventsPlan(
        tuple(kind for kind in plan.kinds if kind in told),
        {k: v for k, v in plan.outcomes.items() if k in told},
        {k: v for k, v in plan.unmoved.items() if k in told},
    )
    study = replace(caseload.study, title=title, groups=groups, **bare)
    return frames, study, emptied, left_out


def _blanks(caseload: Caseload, sessions: pd.DataFrame, key: _Key) -> pd.DataFrame:
    """An empty row for every session row that was set aside: without it the copy's load would be smaller."""
    lost = caseload.lost
    if not len(lost):
        return sessions.iloc[:0]
    rows = (lost["table"] == "sessions") & (lost["column"] == "") & lost["date"].notna()
    empty = lost.loc[rows & lost["person"].isin(key.code), ["person", "date"]]
    empty = empty.reindex(columns=[*sessions.columns, "row"]).astype(sessions.dtypes.to_dict())
    return _recoded(empty, "sessions", key)


def _recoded(frame: pd.DataFrame, table: str, key: _Key) -> pd.DataFrame:
    out = frame.drop(columns="row").copy()
    for name in (c.name for c in columns.TABLES[table] if c.kind == "date"):
        if name in out:
            out[name] = out[name] + pd.to_timedelta(out["person"].map(key.days).astype("float64"), unit="D")
    out["person"] = out["person"].map(key.code).astype("str")
    by = ["person", *(name for name in dict.fromkeys(columns.WHEN.values()) if name in out)]
    return out.sort_values(by, kind="stable").reset_index(drop=True)


def _exercises(caseload: Caseload, k: int) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    """What each exercise is called in the copy, and the copy's groups."""
    told = caseload.sessions.dropna(subset=["exercise"])
    people = told.groupby("exercise")["person"].nunique()
    groups = caseload.study.groups
    if groups:
        of = {name: group.lower() for group, names in groups.items() for name in names}
        called: dict[str, tuple[str, ...]] = {group: (group.lower(),) for group in groups}
        return {name: of.get(name, OTHER) for name in people.index}, called
    return {str(name): str(name) if count >= k else OTHER for name, count in people.items()}, {}


def _csv(frame: pd.DataFrame) -> str:
    out = frame.copy()
    for name in out.columns:
        if out[name].dtype == "str":
            out[name] = out[name].map(neutral, na_action="ignore")
        elif str(out[name].dtype) == "boolean":
            out[name] = out[name].map({True: "yes", False: "no"}).astype("str").where(out[name].notna())
    return out.dropna(axis=1, how="all").to_csv(index=False, date_format="%Y-%m-%d", lineterminator="\n")


def _write(texts: Mapping[str, str], target: Path, keep: Path | None, mapping: str) -> None:
    """Write all files aside, read them back, and only then put mapping and folder in place."""
    kept = False
    try:
        with whole_folder(target, "the copy", CaseloadError) as work:
            for name, text in texts.items():
                (work / name).write_text(text, encoding="utf-8", newline="\n")
            read(work)
            if keep is not None:
                with whole_file(keep, "the mapping", CaseloadError) as file:
                    file.write_text(mapping, encoding="utf-8", newline="\n")
                kept = True
    except BaseException:
        if kept and keep is not None:
            keep.unlink(missing_ok=True)
        raise

"""Checks on who is who: codes that may be one person, and people with one kind of record only."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from lagwise.caseload.remarks import Finding, finding, listed
from lagwise.core.columns import TABLES, ratings
from lagwise.core.results import Caseload

MIN_SHARED = 6
SHARE = 0.8
MAX_PEOPLE = 3000


def alike_codes(caseload: Caseload) -> list[Finding]:
    """Codes that differ only in case, spaces, hyphens leading zeros, or '.0' behind a number."""
    codes = sorted(set().union(*(getattr(caseload, table)["person"] for table in TABLES)))
    folded: dict[str, list[str]] = {}
    for code in codes:
        folded.setdefault(_fold(code), []).append(code)
    pairs = [" = ".join(group) for group in folded.values() if len(group) > 1]
    return _of_people(pairs, "alike_codes")


def shared_records(caseload: Caseload) -> list[Finding]:
    """Two codes with the same ratings or sessions on the same dates: likely one person under two codes."""
    asked, sessions = list(ratings(caseload.study)), caseload.sessions
    told = [name for name in ("exercise", "sets", "reps", "load_kg", "effort", "minutes")
            if sessions[name].notna().any()]  # fmt: skip
    out = _shared("checkins", caseload.checkins.dropna(subset=asked, how="all"), asked)
    return out + _shared("sessions", sessions, told) if told else out


def lone_people(caseload: Caseload) -> list[Finding]:
    """People with sessions but no check-ins, or in people or events without any record."""
    out = []
    rated = {*caseload.checkins["person"], *caseload.weeks["person"]}
    recorded = {*rated, *caseload.sessions["person"]}
    for table, others, record in (
        ("sessions", rated, "check-in"),
        ("people", recorded, "session or check-in"),
        ("events", recorded, "session or check-in"),
    ):
        who = sorted({*getattr(caseload, table)["person"]} - others)
        out += _of_people(who, f"{table}_alone", table, record=record)
    return out


def _of_people(who: list[str], code: str, table: str = "", **numbers: str) -> list[Finding]:
    return [finding(code, table, listed(who), len(who), **numbers)] if who else []


def _fold(code: str) -> str:
    text = re.sub(r"[\s_\-.]+", "-", code.casefold())
    text = re.sub(r"(?<=[^\W\d_])-(?=\d)", "", text)
    text = re.sub(r"^(\d+)-0$", r"\1", text)
    return re.sub(r"(?<!\d)0+(?=\d)", "", text)


def _shared(table: str, frame: pd.DataFrame, told: list[str]) -> list[Finding]:
    """Pairs of people of whose records at least 80 % (and 6) say the same of a date, with varied content."""
    from scipy import sparse  # here, so that what only reads does not load it

    people = np.sort(frame["person"].unique())
    if not 2 <= len(people) <= MAX_PEOPLE:
        return []
    seen = pd.DataFrame(
        {
            "person": np.searchsorted(people, frame["person"].to_numpy(dtype=object)),
            "record": frame.groupby(["date", *told], dropna=False, sort=False).ngroup().to_numpy(),
            "content": frame.groupby(told, dropna=False, sort=False).ngroup().to_numpy(),
        }
    ).drop_duplicates(["person", "record"])
    ones, size = np.ones(len(seen), dtype=np.int32), np.bincount(seen["person"], minlength=len(people))
    shape = (len(people), seen["record"].max() + 1)
    matrix = sparse.csr_array((ones, (seen["person"], seen["record"])), shape=shape)
    both = sparse.triu(matrix @ matrix.T, k=1).tocoo()
    contents = {p: set(zip(g["record"], g["content"], strict=True)) for p, g in seen.groupby("person")}
    pairs = []
    for a, b, n in zip(*both.coords, both.data, strict=True):
        least = min(size[a], size[b])
        if n >= max(MIN_SHARED, SHARE * least) and len({c for _, c in contents[a] & contents[b]}) >= 4:
            pairs.append(f"{people[a]} and {people[b]} ({n} of {least} the same)")
    return _of_people(pairs, f"shared_{table}", table)

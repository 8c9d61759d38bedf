"""Checks on who is who: codes that may be one person, and people with one kind of record only."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from scipy import sparse

from lagwise.caseload.remarks import Finding, listed
from lagwise.core.columns import ratings
from lagwise.core.results import Caseload

MIN_SHARED = 6
SHARE = 0.8
MAX_PEOPLE = 3000


def alike_codes(caseload: Caseload) -> list[Finding]:
    """Codes that differ only in case, spaces, hyphens leading zeros, or '.0' behind a number."""
    tables = (caseload.sessions, caseload.checkins, caseload.people, caseload.events, caseload.weeks)
    codes = sorted(set().union(*(set(t["person"].unique()) for t in tables)))
    folded: dict[str, list[str]] = {}
    for code in codes:
        folded.setdefault(_fold(code), []).append(code)
    pairs = [" = ".join(group) for group in folded.values() if len(group) > 1]
    if not pairs:
        return []
    return [
        Finding(
            "alike_codes", "", "Codes differ only in case, spaces, hyphens or leading zeros",
            listed(pairs), len(pairs),
            "One person counted as two has half a course each, and no usual load at the seam",
            "If they are one person, write the code in one way; nothing, if they are two.",
        )
    ]  # fmt: skip


def shared_records(caseload: Caseload) -> list[Finding]:
    """Two codes with the same ratings or the same sessions on the same dates:
    likely one person under two codes."""
    out = []
    asked = list(ratings(caseload.study))
    out += _shared("checkins", caseload.checkins.dropna(subset=asked, how="all"), ["date", *asked], asked)
    told = [
        c
        for c in ("exercise", "sets", "reps", "load_kg", "effort", "minutes")
        if caseload.sessions[c].notna().any()
    ]
    if told:
        out += _shared("sessions", caseload.sessions, ["date", *told], told)
    return out


def lone_people(caseload: Caseload) -> list[Finding]:
    """People with sessions but no check-ins, or in people or events without any record."""
    out = []
    rated = set(caseload.checkins["person"]) | set(caseload.weeks["person"])
    for table in ("sessions", "people", "events"):
        others = rated if table == "sessions" else rated | set(caseload.sessions["person"])
        lone = sorted(set(getattr(caseload, table)["person"]) - others)
        if lone:
            what = "check-in" if table == "sessions" else "session or check-in"
            out.append(
                Finding(
                    f"{table}_alone", table, f"People in {table} without any {what}", listed(lone), len(lone),
                    "They add nothing to the analysis; a mistyped code would look like this",
                    "Check the code against the other tables.",
                )
            )  # fmt: skip
    return out


def _fold(code: str) -> str:
    text = re.sub(r"[\s_\-.]+", "-", code.casefold())
    text = re.sub(r"(?<=[^\W\d_])-(?=\d)", "", text)
    text = re.sub(r"^(\d+)-0$", r"\1", text)
    return re.sub(r"(?<!\d)0+(?=\d)", "", text)


def _shared(table: str, frame: pd.DataFrame, whole: list[str], told: list[str]) -> list[Finding]:
    """Pairs of people of whose records at least 80 % (and 6) are the same in every column,
    with varied content."""
    people = np.sort(frame["person"].unique())
    if not 2 <= len(people) <= MAX_PEOPLE:
        return []
    record = frame.groupby(whole, dropna=False, sort=False).ngroup().to_numpy()
    content = frame.groupby(told, dropna=False, sort=False).ngroup().to_numpy()
    person = np.searchsorted(people, frame["person"].to_numpy(dtype=object))
    seen = pd.DataFrame({"person": person, "record": record, "content": content}).drop_duplicates(
        ["person", "record"]
    )
    ones = np.ones(len(seen), dtype=np.int32)
    matrix = sparse.csr_array((ones, (seen["person"], seen["record"])), shape=(len(people), record.max() + 1))
    both = sparse.triu(matrix @ matrix.T, k=1).tocoo()
    size = np.bincount(seen["person"], minlength=len(people))
    least = np.minimum(size[both.coords[0]], size[both.coords[1]])
    near = (both.data >= MIN_SHARED) & (both.data >= SHARE * least)
    contents = {p: set(zip(g["record"], g["content"], strict=True)) for p, g in seen.groupby("person")}
    pairs = [
        f"{people[a]} and {people[b]} ({n} of {m} the same)"
        for a, b, n, m in zip(
            both.coords[0][near], both.coords[1][near], both.data[near], least[near], strict=True
        )
        if len({content for _, content in contents[a] & contents[b]}) >= 4
    ]
    if not pairs:
        return []
    return [
        Finding(
            f"shared_{table}", table,
            "Two codes hold the same records on the same dates; likely one person twice",
            listed(pairs), len(pairs), "A person counted twice makes every interval too narrow",
            "If they are one person, leave the records that both hold under one code only, "
            "and give the others that code; nothing, if they trained and rated alike.",
        )
    ]  # fmt: skip

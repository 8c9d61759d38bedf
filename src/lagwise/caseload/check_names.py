"""Checks of names: codes that look like initials, and one exercise in several spellings.

Each is asked, and nothing is put together by itself.
"""

from __future__ import annotations

import re

import pandas as pd

from lagwise.caseload.check_edits import Edit
from lagwise.caseload.remarks import Finding, finding, joined, shown
from lagwise.core.columns import TABLES
from lagwise.core.results import Caseload

_INITIALS = re.compile(r"[^\W\d_]{2,3}|(?:[^\W\d_]\. ?){2,3}")
LEAST, HALF, FIRSTS = 3, 0.5, 3
"""Codes that look like initials before it is asked: so many, of all codes, with so many first letters."""
TYPO_LENGTH, RARE = 7, 0.2
"""Letters of an exercise from which one letter may be a slip, in a spelling that is at most so often the
other."""


def initials(caseload: Caseload) -> list[Finding]:
    """Codes of two or three letters, with several first ones, for half of the people or more."""
    codes = sorted(set().union(*(getattr(caseload, table)["person"] for table in TABLES)))
    like = [code for code in codes if _INITIALS.fullmatch(code)]
    if len(like) < max(LEAST, HALF * len(codes)) or len({code[0].lower() for code in like}) < FIRSTS:
        return []
    return [finding("initials", "", joined(list(map(shown, like))), len(like))]


def spellings(caseload: Caseload) -> list[Finding]:
    """Exercises whose names stand in several spellings."""
    often, out = caseload.sessions["exercise"].value_counts(), []
    for named in alike(often):
        first, *others = named
        edits = (Edit(("exercises", "same"), {first: others}),)
        where = " = ".join(f"'{shown(name)}' ({often[name]})" for name in named)
        out.append(finding("spellings", "sessions", where, int(often[named].sum()), edits=edits))
    return out


def alike(often: pd.Series) -> list[list[str]]:
    """Names, counted and the most frequent first, that differ in spaces, hyphens or a plural, or in one
    letter where one is rare."""
    groups: dict[str, list[str]] = {}
    for name in often.index:
        groups.setdefault(_bare(name), []).append(str(name))
    counts = {bare: int(often[names].sum()) for bare, names in groups.items()}
    for bare in sorted(groups, key=lambda one: counts[one]):
        near = [b for b in groups if b != bare and counts[bare] <= RARE * counts[b] and _one_letter(bare, b)]
        if len(near) == 1:
            groups[near[0]] += groups.pop(bare)
    return [names for names in groups.values() if len(names) > 1]


def _bare(name: str) -> str:
    """A name without what spellings differ in: spaces, hyphens, points, and an s at the end of a word."""
    words = re.findall(r"[^\W_]+", name.casefold())
    return "".join(
        word[:-1] if len(word) > 2 and word.endswith("s") and word[-2] != "s" else word for word in words
    )


def _one_letter(one: str, other: str) -> bool:
    """Whether two names differ by one letter, none of them in its first two, and not in a number."""
    if min(len(one), len(other)) < TYPO_LENGTH or abs(len(one) - len(other)) > 1 or one[:2] != other[:2]:
        return False
    if re.sub(r"\D", "", one) != re.sub(r"\D", "", other) or {"adduction", "abduction"} <= {
        part for name in (one, other) for part in ("adduction", "abduction") if part in name
    }:
        return False
    at = next(
        (i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other))
    )
    return one[at + 1 :] == other[at + 1 :] or one[at:] == other[at + 1 :] or one[at + 1 :] == other[at:]

"""Codes of single people: which are known, how they are shown, and what files of theirs are called."""

from __future__ import annotations

import difflib
import hashlib
import re
from collections.abc import Iterable

from lagwise.core.errors import WriteUpError
from lagwise.document.settle import shortened
from lagwise.findings.value import Findings

NEAR = 3
"""How many codes like an unknown one are named; the others are nobody's business."""


def check_codes(codes: Iterable[str], known: Iterable[str], where: str = "--for-person") -> tuple[str, ...]:
    """The codes, each once, when all of them are known; `where` is what an error names as their place.

    Raises
    ------
    WriteUpError
        For an unknown code; at most `NEAR` codes that look like it are named, never everybody's.
    """
    wanted, there = tuple(dict.fromkeys(codes)), sorted(set(known))
    for code in wanted:
        if code not in there:
            by_key = {c.casefold(): c for c in there}
            near = [by_key[k] for k in difflib.get_close_matches(code.casefold(), by_key, n=NEAR, cutoff=0.6)]
            like = f" Codes like it: {', '.join(map(shown, near))}." if near else ""
            raise WriteUpError(
                f"nobody in this caseload has the code {shown(code)!r}",
                where=where,
                mend=f"Write the code as it stands in the data, capitals included.{like}",
            )
    return wanted


def with_pages(findings: Findings, codes: Iterable[str]) -> Findings:
    """The findings with a page for each of these people.

    Raises
    ------
    WriteUpError
        For an unknown code, or findings to share, which hold no single person.
    """
    wanted = tuple(codes)
    if wanted and not findings.people:
        raise WriteUpError(
            "these findings were made to share and hold no single person",
            where="--for-person",
            mend="Use the findings.json of the private report.",
        )
    return findings.model_copy(
        update={"for_person": check_codes(wanted, (p.person for p in findings.people))}
    )


def page_name(code: str, others: Iterable[str] = ()) -> str:
    """A file name without its ending: 'person-' and the code's letters, digits, '-' and '_'.

    A code with anything else in it, longer than 40 characters, or not told apart from one of `others` by a
    file system that ignores capitals, gets a short hash of itself at the end.
    """
    plain = re.sub(r"[^A-Za-z0-9_-]+", "-", code)[:40].strip("-")
    twins = any(o != code and o.casefold() == code.casefold() for o in others)
    end = (
        ""
        if plain == code and not twins
        else f"-{hashlib.sha256(code.encode('utf-8', 'replace')).hexdigest()[:8]}"
    )
    return f"person-{plain}{end}" if plain else f"person{end}"


def shown(code: str) -> str:
    """A code as it is shown: on one line, without direction marks, at most 40 characters."""
    return shortened(code, 40)

"""Counts of people as a version to share gives them: as numbers and inside sentences."""

from __future__ import annotations

import re

FEWEST_SHOWN = 5
"""Counts of people are rounded down to a multiple of this; fewer are not given."""
FEW = f"fewer than {FEWEST_SHOWN}"

_NUMBER = r"(?<![\d.,\u2212-])\d+(?:[\u00a0,]\d{3})*"
_WHICH = r"(?:(?:informative|recorded|other|different|remaining|more|further|known|such|these) ){0,2}"
_PEOPLE = rf"{_WHICH}(?:people|persons?)(?![-\w'’])"
_OF_FEW = re.compile(
    rf"{_NUMBER} (?P<what>[a-z][a-z-]*(?: [a-z][a-z-]*){{0,2}} (?:in|of)) (?=(?P<n>{_NUMBER}) {_PEOPLE})"
)
_AMONG = re.compile(rf"(?P<n>{_NUMBER})(?= of {_NUMBER} {_PEOPLE})")
_COUNT = re.compile(rf"(?P<only>only )?(?P<n>{_NUMBER}) (?P<who>{_PEOPLE})(?P<verb> (?:has|was|is)\b)?")
_MANY = {"has": "have", "was": "were", "is": "are"}


def is_few(count: float | None) -> bool:
    """Whether a count of people is known and one of 1 to 4."""
    return count is not None and 0 < count < FEWEST_SHOWN


def floored(count: float | None) -> int | None:
    """A count of people rounded down to a multiple of `FEWEST_SHOWN`; None for 1 to 4 and for an unknown count."""
    return None if count is None or is_few(count) else int(count) // FEWEST_SHOWN * FEWEST_SHOWN


def in_words(text: str) -> str:
    """A sentence with its counts of people rounded down: '38 people' is '35 people', '3 people' 'fewer than 5 people'.

    What few people had is not counted either: '4 onsets in 2 people' is 'onsets in fewer than 5 people'.
    """

    def uncounted(found: re.Match[str]) -> str:
        return f"{found['what']} " if is_few(_value(found["n"])) else found.group(0)

    def counted(found: re.Match[str]) -> str:
        who = re.sub(r"persons?$", "people", found["who"])
        verb = found["verb"] or ""
        if is_few(_value(found["n"])):
            return f"{FEW} {who}" + (f" {_MANY[verb.strip()]}" if verb else "")
        return f"{found['only'] or ''}{_shown(found['n'])} {who}{verb}"

    among = _AMONG.sub(lambda m: _shown(m["n"]), _OF_FEW.sub(uncounted, text))
    return _COUNT.sub(counted, among)


def _value(digits: str) -> int:
    return int(re.sub(r"\D", "", digits))


def _shown(digits: str) -> str:
    rounded = floored(_value(digits))
    return FEW if rounded is None else f"{rounded:,}".replace(",", "\u00a0")

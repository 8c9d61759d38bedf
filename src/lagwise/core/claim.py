"""What was found, before there are words: a verdict, the reason for it as a code, and the numbers by name."""

from __future__ import annotations

import importlib
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from lagwise.core.numbers import side

TABLES: Mapping[str, tuple[str, ...]] = MappingProxyType({
    "found": ("check.findings",),
    "read": ("check.reading",),
    "what": ("check.mends",),
    "mend": ("check.mends",),
    "risk": ("check.risk",),
    "": ("fit", "made", "report.summary", "draft_guesses"),
})  # fmt: skip
"""Files of the room `say` that hold words by reason code: by what comes before its first point, else ''."""
NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Measured:
    """A figure with its unit, its interval (NaN where there is none) and the people and steps behind it.

    `of` holds the settings and names that it is labelled by. `told` is False for one that sentences need and
    tables do not show. `alone` is True for one that single people stand behind, or may: it never goes into a
    version to share. `at_most` is True where the value is a bound from above, as of a rounded p.
    """

    value: float
    unit: str
    low: float = math.nan
    high: float = math.nan
    people: int | None = None
    steps: int | None = None
    of: tuple[Any, ...] = ()
    told: bool = True
    alone: bool = False
    at_most: bool = False

    @property
    def known(self) -> bool:
        """True when the value and both limits are finite."""
        return all(math.isfinite(v) for v in (self.value, self.low, self.high))

    @property
    def side(self) -> int:
        """1 when the interval lies above 0, -1 when below, 0 when it includes 0."""
        return side(self.low, self.high)


@dataclass(frozen=True)
class Claim:
    """One finding as a value. The room `say` turns it into language for a voice; nothing else holds
    sentences.

    `about` names what was asked (a challenge, a caveat, a gate). `verdict` is holds, does_not_hold,
    cannot_tell or informative, '' where there is none to give. `reason` is the code of the reading that goes
    with it. `numbers` holds all that a text needs by name: every number as `Measured`, so that rounding and
    suppression of small cells act on it and never on a finished sentence, and enums as text or bool.
    """

    about: str
    verdict: str = ""
    reason: str = ""
    numbers: Mapping[str, Any] = field(default_factory=lambda: NOTHING)

    def __getitem__(self, name: str) -> Any:
        return self.numbers[name]

    def get(self, name: str) -> Measured | None:
        """A number by name, None where it was not found or may not be shown."""
        return self.numbers.get(name)

    @property
    def measured(self) -> dict[str, Measured]:
        """The numbers among all that was found, in order."""
        return {name: found for name, found in self.numbers.items() if isinstance(found, Measured)}


class Said(str):
    """A text with the `claim` that it was made of, so that nobody needs to search it for what it says."""

    claim: Claim

    def __new__(cls, text: str, claim: Claim = Claim("")) -> Said:
        """The text, carrying its claim."""
        own = super().__new__(cls, text)
        own.claim = claim
        return own


def coded(text: str, reason: str = "", **numbers: Any) -> Said:
    """A text with a reason code and the values that others need of it."""
    return Said(text, Claim("", reason=reason, numbers=numbers))


def told(text: str) -> Claim:
    """The claim that a text carries; one without a reason and numbers where it carries none."""
    return text.claim if isinstance(text, Said) else Claim("")


def words(name: str) -> Any:
    """What a file of `lagwise.say` calls so: `show_results.fit_card`.

    That room is looked up by its name, when a text is asked for: nothing below imports it.
    """
    file, _, own = name.rpartition(".")
    return getattr(importlib.import_module(f"lagwise.say.{file}"), own)


def said(reason: str, **numbers: Any) -> Said:
    """A reason code with its numbers by name, in the words of a table of `lagwise.say`; words with a claim
    of their own keep it."""
    about, _, code = reason.partition(".")
    tables = (words(f"{name}.TEXTS") for name in TABLES.get(about, TABLES[""]))
    form = next(texts[reason] for texts in tables if reason in texts)
    text = form(**numbers) if callable(form) else form.format(**numbers)
    return text if isinstance(text, Said) else Said(text, Claim(about, reason=code, numbers=numbers))

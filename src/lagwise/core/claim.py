"""What was found, before there are words: a verdict, the reason for it as a code, and the numbers by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Claim:
    """One finding as a value. The room `say` turns it into language for a voice; nothing else holds sentences.

    `about` names what was asked (a challenge, a caveat, a gate). `verdict` is holds, does_not_hold, cannot_tell or informative, '' where there is
    none to give. `reason` is the code of the reading that goes with it. `numbers` are floats, counts, enums and tuples of these by name: all that
    a text needs, so that rounding and suppression of small cells act on them and never on a finished sentence.
    """

    about: str
    verdict: str = ""
    reason: str = ""
    numbers: Mapping[str, Any] = field(default_factory=lambda: NOTHING)

    def __getitem__(self, name: str) -> Any:
        return self.numbers[name]

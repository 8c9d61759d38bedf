"""What the kinds of events are called."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

KINDS: Mapping[str, str] = MappingProxyType(
    {
        "load_reduced": "load was reduced",
        "load_resumed": "load was resumed",
        "technique_change": "a change of technique",
        "education": "education",
        "exercise_added": "an exercise was added",
        "exercise_removed": "an exercise was taken out",
        "illness": "an illness",
        "injury_elsewhere": "an injury elsewhere",
        "break": "a break",
    }
)
"""By kind, to stand after 'after'; a study's own kinds are said as they are written."""


def event(kind: str) -> str:
    """What a kind is called in the middle of a sentence, after 'after'."""
    return KINDS.get(kind) or kind.replace("_", " ")


def heading(kind: str) -> str:
    """What a kind is called in tables and headings."""
    return kind.replace("_", " ")

"""What the reader may mend by itself: every repair is counted and can be switched off in study.toml."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.caseload.words import LISTS

REPAIRS = tuple(LISTS["repairs"].split())
"""Names of the repairs; `[repair] NAME = false` in study.toml switches one off."""
ASKED_FOR = ("ranges",)
"""Repairs that are off until study.toml asks for them with `[repair] NAME = true`."""


def on(repair: Mapping[str, bool], name: str) -> bool:
    """Whether the study has this repair: unless it was switched off, or, of `ASKED_FOR`,
    only where it was switched on."""
    return bool(repair.get(name, name not in ASKED_FOR))

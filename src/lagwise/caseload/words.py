"""Words by which people name things in their files, as words.toml lists them."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any

LISTS: dict[str, Any] = tomllib.loads(
    resources.files("lagwise.caseload").joinpath("words.toml").read_text("utf-8")
)


def words(text: str, between: str | None = None) -> frozenset[str]:
    """The words of a list written as one text."""
    return frozenset(text.split(between))

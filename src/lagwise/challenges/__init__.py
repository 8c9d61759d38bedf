"""Attempts to break the result: one file each, one shared shape, listed in the registry; `lagwise.say` runs
them and says what was found."""

from lagwise.challenges.registry import REGISTRY

__all__ = ["REGISTRY"]

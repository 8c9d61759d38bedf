"""Attempts to break the result: one file each, one shared shape, listed in the registry."""

from lagwise.challenges.registry import REGISTRY
from lagwise.challenges.run import challenge

__all__ = ["REGISTRY", "challenge"]

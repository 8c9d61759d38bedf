"""Attempts to break the result, one file each, of one shape; the registry is the list of them."""

from __future__ import annotations

from lagwise.challenges.registry import REGISTRY
from lagwise.challenges.run import challenge

__all__ = ["REGISTRY", "challenge"]

"""Claims turned into language: the only sentences in the project."""

from lagwise.say.challenge import challenge
from lagwise.say.voice import Voice

__all__ = ["Voice", "challenge"]

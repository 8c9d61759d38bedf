"""Claims turned into language: the only sentences in the project."""

from lagwise.say.challenge import attempt, challenge
from lagwise.say.plan import plan
from lagwise.say.voice import Voice

__all__ = ["Voice", "attempt", "challenge", "plan"]

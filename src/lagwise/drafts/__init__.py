"""Somebody's own spreadsheets -> a draft of a study plan, every guess a line to keep or to strike."""

from lagwise.drafts.guess import Draft, Guess, LeftOut, Section
from lagwise.drafts.write import draft

__all__ = ["Draft", "Guess", "LeftOut", "Section", "draft"]

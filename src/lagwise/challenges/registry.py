"""The list of challenges, in the order in which they are run and shown."""

from __future__ import annotations

from types import ModuleType

from lagwise.challenges import does_pain_drive_load, same_week_answer, shuffled_load

REGISTRY: tuple[ModuleType, ...] = (same_week_answer, does_pain_drive_load, shuffled_load)
"""Modules of one shape: NAME, TITLE, QUESTION, LIMITS and run(context). A further challenge is a file added here."""


def markdown() -> str:
    """The index of challenges for the docs: title, question, rule of the verdict, limits."""
    parts = []
    for one in REGISTRY:
        rule = " ".join((one.run.__doc__ or "").split())
        parts.append(f"## {one.TITLE}\n\n`{one.NAME}`: {one.QUESTION}\n\n{rule}\n\nWhat it cannot show: {one.LIMITS}\n")
    return "\n".join(parts)

"""How people against themselves show themselves: in a notebook, and at a prompt."""

from __future__ import annotations

from dataclasses import replace

from lagwise.core.against_self import Stretches
from lagwise.core.words import capital
from lagwise.document.card import card, quiet, table
from lagwise.document.tree import Document
from lagwise.say.changes.stretches import NOTE, measured_in, records, rows
from lagwise.say.voice import Voice


def stretches_text(found: Stretches) -> str:
    """What was found in a few lines."""
    return "\n  ".join([f"Stretches: {found.outcome.label}", *found.sentences, ".table, .people"])


def stretches_card(found: Stretches) -> Document:
    """What was found in words, and the differences in every variable recorded."""
    voice = replace(Voice.of(found.study), question=found.study.outcome_of(found.outcome.name))
    head, cells, pairs = rows(records(found.table), voice, measured_in(found.study.load.measure))
    inner = table("Stretches of the calendar", head, cells, right=head[1:], groups=pairs)
    title = capital(f"{found.outcome.label} in stretches of the calendar")
    return card(title, found.sentences, inner, quiet(voice.fill(NOTE)))

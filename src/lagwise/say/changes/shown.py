"""How what followed an event shows itself: in a notebook, and at a prompt."""

from __future__ import annotations

from lagwise.core.followed import Followed
from lagwise.core.numbers import interval, number
from lagwise.core.words import capital
from lagwise.document.card import card, table
from lagwise.document.tree import Document
from lagwise.say.changes.kinds import event
from lagwise.say.show_results import BETWEEN, challenges_card


def followed_text(found: Followed) -> str:
    """What was found in a few lines."""
    lines = (f"Followed: {found.outcome.label} after {event(found.kind)}", *found.sentences)
    return "\n  ".join([*lines, ".effects, .people, .course, .tests, .figure"])


def followed_card(found: Followed) -> Document:
    """What was found in words, the mean of the first steps by each way of comparing, and the attempts to
    break it."""
    mean = found.effects[found.effects["contrast"].str.startswith("mean")]
    told = mean[["model", "estimate", "low", "high", "n_people"]].itertuples(index=False)
    rows = [(model, number(value, low, high), interval(low, high), n) for model, value, low, high, n in told]
    columns = ("way of comparing", f"difference, {found.outcome.unit}s", BETWEEN, "events")
    inner = table("Mean of the first steps after", columns, rows, right=columns[1:])
    tried = challenges_card(found.tests).blocks if len(found.tests) else ()
    return card(capital(f"{found.outcome.label} after {event(found.kind)}"), found.sentences, inner, tried)

"""What is a study's own in its tables: scales of ratings, kinds of events, spellings of exercises."""

from __future__ import annotations

from dataclasses import replace

from lagwise.caseload.check_names import alike
from lagwise.caseload.identifiers import header_words
from lagwise.core.claim import said
from lagwise.core.columns import EVENT_KINDS
from lagwise.core.consistent import exercise
from lagwise.drafts.guess import Guess, Section, look
from lagwise.drafts.tables import Held


def ratings(one: Held) -> list[Section]:
    """The scales of ratings that are not on 0-10, and the study's own ratings."""
    out = []
    own = {role.name for role in one.meaning.own}
    for name, role in one.roles.items():
        if role.scale is None or name == "effort" or (name not in own and role.scale[:2] == (0, 10)):
            continue
        low, high, certainty, why = role.scale
        keys: list[Guess] = [
            Guess("low", low, certainty, why),
            Guess("high", high, certainty, f"{low:g}-{high:g}"),
        ]
        if name in own:
            words = {*header_words(role.header)}
            worse = (
                "low"
                if words & {"mood", "energy", "motivation", "recovery", "wellbeing", "stimmung"}
                else "high"
            )
            keys = [replace(g, certainty="look at this") for g in keys]
            keys.append(look("worse", worse, said("draft.worse")))
        out.append(Section(f"ratings.{name}", tuple(keys)))
    return out


def kinds(one: Held) -> list[Section]:
    """Kinds of events that the contract does not have."""
    texts = one.frame[one.roles["kind"].header].dropna().str.strip().str.lower()
    found = texts.str.replace(r"[\s-]+", "_", regex=True).value_counts()
    new = [kind for kind in found.index if kind not in EVENT_KINDS]
    if not new or len(new) > 20:
        return []
    return [Section("events", (look("kinds", new, said("draft.kinds")),))]


def spellings(one: Held) -> list[Section]:
    """Names of exercises that a check would ask about."""
    texts = one.frame[one.roles["exercise"].header].dropna().map(exercise)
    groups = alike(texts.value_counts())
    out = [look(kept, others, said("draft.spellings"), on=False) for kept, *others in groups]
    return [Section("exercises.same", tuple(out))] if out else []

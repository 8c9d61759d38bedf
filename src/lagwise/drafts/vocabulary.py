"""What is a study's own in its tables: scales of ratings, kinds of events, spellings of exercises."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from lagwise.caseload.identifiers import header_words
from lagwise.core.claim import said
from lagwise.core.columns import EVENT_KINDS
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
    """Names of exercises that differ in case, spaces, hyphens or a plural only."""
    texts = one.frame[one.roles["exercise"].header].dropna().str.strip()
    counts = Counter(texts)
    by_lower: dict[str, Counter[str]] = {}
    for text, n in counts.items():
        by_lower.setdefault(text.lower(), Counter())[text] += n
    alike: dict[str, list[tuple[int, str]]] = {}
    for spelt in by_lower.values():
        text = spelt.most_common(1)[0][0]
        folded = "".join(filter(str.isalnum, text.lower())).removesuffix("s")
        alike.setdefault(folded, []).append((sum(spelt.values()), text))
    out = []
    for names in alike.values():
        if len(names) > 1:
            (_, kept), *others = sorted(names, reverse=True)
            out.append(look(kept, [text for _, text in others], said("draft.spellings"), on=False))
    return [Section("exercises.same", tuple(out))] if out else []

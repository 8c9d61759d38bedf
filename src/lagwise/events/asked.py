"""Which kinds of events of a record are followed, and what is asked about after each."""

from __future__ import annotations

from lagwise.core.results import Panel

PICTURE, ESTIMATE = 5, 15
"""People with the event and three ratings either side from which there is an (exploratory) estimate, and from
which it is one."""
MOST = 6
"""Kinds that are followed unasked: those that most people have."""
BELIEFS = {"education": ("worry", "confidence")}
"""Ratings that come before the plan's outcome after a kind, where they are rated."""


def people_with(panel: Panel) -> dict[str, int]:
    """People who have a dated event inside their record, by kind, the kinds of most people first."""
    if not len(panel.events):
        return {}
    steps = panel.frame.groupby("person")["step"].max()
    last = panel.events["person"].map(steps)
    inside = panel.events[(panel.events["step"] >= 0) & (panel.events["step"] <= last)]
    n = inside.groupby("kind")["person"].nunique()
    return {str(kind): int(n[kind]) for kind in sorted(n.index, key=lambda kind: (-n[kind], kind))}


def asked_after(panel: Panel, kind: str) -> tuple[str, ...]:
    """The ratings asked about after a kind: those of the plan, else its outcome, after education worry and
    confidence before it; without those that nobody rated."""
    own = panel.study.outcome.name
    named = panel.study.events.outcomes.get(kind) or dict.fromkeys((*BELIEFS.get(kind, ()), own))
    return tuple(name for name in named if name in panel.frame and panel.frame[name].notna().any())


def questions(panel: Panel) -> tuple[list[tuple[str, str]], int]:
    """Kind and rating of everything that is followed, and how many kinds are not.

    Kinds that the plan has a section for come first; of the others, the `MOST` that most people have.
    """
    found = people_with(panel)
    named = [kind for kind in panel.study.events.named if kind in found]
    kept = [*named, *[kind for kind in found if kind not in named][: max(0, MOST - len(named))]]
    return [(kind, name) for kind in kept for name in asked_after(panel, kind)], len(found) - len(kept)

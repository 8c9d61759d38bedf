"""Which steps are at risk of a flare-up, which end in one, and how far two definitions agree."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.core.errors import ModelError
from lagwise.core.results import Panel
from lagwise.core.study import Study


def definitions(study: Study) -> dict[str, str]:
    """Panel column of each definition of a flare-up: by the outcome's rating, under its name, and by the
    person's own word."""
    return {study.outcome.name: "flare_next", "reported": "flare_reported_next"}


def at_risk_panel(panel: Panel, definition: str = "") -> tuple[Panel, str]:
    """The panel with the definition's outcome known on at-risk steps only, and that outcome's name.

    The outcome's own name or '': `flare_next` as it stands (the rating below usual + flare_rise now, at or
    above it at the next step). 'reported': the person calls the next step a flare-up and does not call this
    one so; a step on which that was not said is not at risk.

    Raises
    ------
    ModelError
    """
    known = definitions(panel.study)
    definition = definition or panel.study.outcome.name
    if definition not in known:
        raise ModelError(f"{definition!r} is no definition of a flare-up", mend=f"Use {' or '.join(known)}.")
    outcome = known[definition]
    if definition != "reported":
        return panel, outcome
    f = panel.frame
    return replace(panel, frame=f.assign(**{outcome: f[outcome].where(f["flare_reported"].eq(0))})), outcome


@dataclass(frozen=True)
class Counts:
    """At-risk steps, onsets, people with at-risk steps, and informative people (an onset and an at-risk step
    without one)."""

    steps: int
    onsets: int
    people: int
    informative: int


def counts(person: np.ndarray, y: np.ndarray) -> Counts:
    """Counts over complete at-risk steps; `person` (n,) and `y` (n,) of 0 and 1."""
    frame = pd.DataFrame({"person": person, "y": y}).groupby("person")["y"].agg(["sum", "size"])
    both = (frame["sum"] > 0) & (frame["sum"] < frame["size"])
    return Counts(len(y), int(np.sum(y)), len(frame), int(both.sum()))


def agreement(panel: Panel) -> pd.DataFrame:
    """How the two definitions meet on the same next steps; they are never merged.

    Over person-steps where both are known (pain-defined at risk, and the next step's own word given):
    quantity, value, n. Shares are of n; kappa is Cohen's.
    """
    f = panel.frame
    known = f[f["flare_next"].notna() & f["flare_reported_next"].notna()]
    pain, word, n = known["flare_next"].eq(1), known["flare_reported_next"].eq(1), len(known)
    both, only_pain, only_word = (int(at.sum()) for at in (pain & word, pain & ~word, ~pain & word))
    by_pain, by_word, neither = both + only_pain, both + only_word, n - both - only_pain - only_word

    def share(of: int) -> float:
        return both / of if of else np.nan

    rows: list[tuple[str, float, int]] = [
        ("both", both, n),
        ("pain_only", only_pain, n),
        ("reported_only", only_word, n),
        ("neither", neither, n),
        ("share_of_pain_defined_also_reported", share(by_pain), by_pain),
        ("share_of_reported_also_pain_defined", share(by_word), by_word),
    ]
    if n:
        chance = (by_pain * by_word + (n - by_pain) * (n - by_word)) / n**2
        rows.append(("kappa", ((both + neither) / n - chance) / (1 - chance) if chance < 1 else np.nan, n))
    return pd.DataFrame(rows, columns=["quantity", "value", "n"])

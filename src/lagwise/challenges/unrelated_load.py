"""Load of one exercise group at a time, the others held equal: a negative-control exposure where it is known which group bears on the pain."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row, row_of
from lagwise.challenges.estimate import Answer, answer
from lagwise.challenges.phrases import capital, fixed, listed, places, said, sample, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Panel, Picture
from lagwise.models.design import Design, columns_for, design_from
from lagwise.panel.derive import load_columns, person_index, usual_load

NAME = "unrelated_load"
TITLE = "Load of other groups"
QUESTION = "Is what was seen for load there for the exercises that bear on the pain, and not for the others?"
LIMITS = (
    "Groups are what study.toml says they are. Where most lifts load several regions at once, or people train everything harder in the same {step}, load of another group is "
    "no clean control; a group trained seldom says little either way."
)
LEAST = 0.5
"""Share of the primary model's steps on which a group must have a jump of its own."""


def run(context: Context) -> Challenge:
    """For every exercise group of the plan: log(load of the group / its usual load) in the place of the load jump, with the same of all other exercises held equal, and everything else of the primary
    model as it is; {steps} without the group carry 0 and an indicator. Where the people table tells each person's region and a group has that name, 'own region' and 'other regions' are asked
    about in the place of single groups.

    Verdict, with regions known: holds when own region's interval lies on the primary interval's side of 0 and that of other regions includes 0; does_not_hold when that of other regions lies on the primary side
    and own region's does not; else cannot_tell. Without them: informative, since it is not known which group bears on the pain.
    """
    p, step = context.primary, step_word(context.panel.study)
    if p.term != "jump":
        raise ModelError("the primary exposure is not load")
    parts = regions(context.panel, context.region) if context.region else {}
    known = bool(parts)
    parts = parts or groups(context.panel)
    if len(parts) < 2:
        raise ModelError("no exercise groups with loads are given", mend="Name them under [groups] in study.toml.")
    total = _load(context.panel, context.panel.study.load.measure)
    found: dict[str, Answer] = {}
    for name, load in parts.items():
        try:
            found[name] = answer(
                with_part(context.panel, context.design, load, total - load, p.exposures), "part", p.size
            )
        except ModelError:
            continue
    if not found or (known and len(found) < 2):
        raise ModelError("no exercise group is trained often enough to be asked about by itself")
    verdict, reading = judged(found, p.answer.side, known=known)
    texts = [f"{name}: {said(a)}, {sample(a, step)}" for name, a in found.items()]
    sentence = f"For the same contrast in the load of one part, the rest held equal, pain in the {step} after was: {'; '.join(texts)}. {reading}"
    low, high = min(a.low for a in found.values()), max(a.high for a in found.values())
    decimals = places(low, high)
    shown = [("all exercises (primary)", p.answer, True), *((name, a, False) for name, a in found.items())]
    picture = Picture(
        "intervals",
        "The difference seen for the load of one part of the training at a time",
        pd.DataFrame(
            [(name, a.estimate, a.low, a.high, "", lead) for name, a, lead in shown],
            columns=["label", "estimate", "low", "high", "group", "primary"],
        ),
        f"difference in pain, points, per {p.label}",
        "",
        capital("; ".join(f"{name}: {fixed(a.estimate, decimals)} points" for name, a, _ in shown) + "."),
        {"reference": 0, "subtitle": sample(p.answer, step)},
    )
    rows = [row_of(name, a) for name, a, _ in shown]
    rows.append(row("parts asked about", len(found), f"of {len(parts)}"))
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def judged(found: dict[str, Answer], primary: int, *, known: bool) -> tuple[str, str]:
    """Verdict and its reading."""
    if not known:
        seen = [name for name, a in found.items() if a.side]
        what = f"Intervals leave out 0 for {listed(seen)}." if seen else "Every interval includes 0."
        return "informative", f"{what} Which group bears on the pain is not known here."
    own, other = found["own region"].side, found["other regions"].side
    if primary and own == primary and other == 0:
        return "holds", "It is seen for the region that hurts and not for the others."
    if primary and other == primary and own != primary:
        return "does_not_hold", "It is seen for regions that do not hurt, and not for the one that does."
    return "cannot_tell", "The two do not differ clearly, or there is nothing to tell apart."


def groups(panel: Panel) -> dict[str, np.ndarray]:
    """Load of each exercise group, (n,) over the panel's rows; groups that are never known are left out."""
    names = {name: _load(panel, f"{panel.study.load.measure}__{name}") for name in panel.study.groups}
    return {name: load for name, load in names.items() if (load > 0).any()}


def regions(panel: Panel, region: dict[str, str]) -> dict[str, np.ndarray]:
    """Load of the group named as each person's region, and of all other groups; empty where they do not meet."""
    loads = groups(panel)
    named = {name.strip().lower(): load for name, load in loads.items()}
    mine = panel.frame["person"].map({who: where.strip().lower() for who, where in region.items()})
    own, other = np.full(len(mine), np.nan), np.full(len(mine), np.nan)
    for where in set(mine.dropna()) & set(named):
        at = mine.eq(where).to_numpy()
        own[at] = named[where][at]
        other[at] = sum(load[at] for name, load in named.items() if name != where)
    return {"own region": own, "other regions": other} if (own > 0).any() and (other > 0).any() else {}


def with_part(panel: Panel, primary: Design, load: np.ndarray, rest: np.ndarray, exposures: tuple[str, ...]) -> Design:
    """The primary model with the jump of one part of the load (`part`) and of the rest of it (`remainder`) in the place of jump.

    Raises
    ------
    ModelError
        When the part is known on fewer than half of the primary model's steps.
    """
    study, person = panel.study.load, person_index(panel.blocks)
    new: dict[str, np.ndarray] = {}
    for name, values in (("part", load), ("remainder", rest)):
        columns = load_columns(values, usual_load(values, person, study.usual_steps, study.usual_needs), person)
        new |= {name: columns["jump"]} | {f"{name}_{k}": columns[k] for k in ("log_usual", "rested", "restarted")}
    keyed = panel.frame[["person", "step"]].assign(**new)
    frame = primary.frame.merge(keyed, on=["person", "step"], how="left", validate="one_to_one")
    if frame["part"].notna().sum() < LEAST * len(frame):
        raise ModelError("the group's usual load is known on too few steps")
    kept = [
        c
        for c in columns_for(panel, exposures, primary.pain_adjusted)
        if c not in ("jump", "log_usual", "rested", "restarted")
    ]
    return design_from(frame, [*new, *kept], outcome=primary.outcome, pain_adjusted=primary.pain_adjusted)


def _load(panel: Panel, column: str) -> np.ndarray:
    name = f"load_{column}"
    if name not in panel.blocks:
        return np.full(len(panel.blocks), np.nan)
    return panel.blocks[name].to_numpy(dtype=float)

"""Load of one exercise group at a time, the others held equal: a negative-control exposure where it is known which group bears on the pain."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row, row_of
from lagwise.challenges.estimate import Answer, answer
from lagwise.challenges.phrases import capital, difference, fixed, listed, more, places, said, sample, step_word
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.results import Challenge, Panel, Picture
from lagwise.models.design import Design, columns_for, design_from
from lagwise.panel.derive import person_index, usual_load

DIFFERENCE = "own region less other regions"
NAME = "unrelated_load"
TITLE = "Load of other groups"
QUESTION = "Is what was seen for load there for the exercises that bear on the pain, and not for the others?"
LIMITS = (
    "Groups are what study.toml says they are. Where most lifts load several regions at once, or people train everything harder in the same {step}, load of another group is "
    "no clean control; a sequel of training as a whole is seen for every group alike; a group trained seldom says little either way."
)
LEAST = 0.5
"""Share of the primary model's steps on which the load of a group and its usual load must be known."""


def run(context: Context) -> Challenge:
    """Splits the load jump of every {step} into the part that comes from one exercise group and the rest, and puts both in its place in the primary model. With load L of usual U in all, and l of usual u in the group, the
    group's part is jump x (l - u) / (L - U): the parts add up to the jump (a log-mean decomposition; Ang 2005, doi:10.1016/j.enpol.2003.10.010), so that the same amount of load counts alike wherever it
    comes from. Where the people table tells each person's region and a group has that name, 'own region' and 'other regions' are asked about in the place of single groups, with the difference between the two.

    Verdict, with regions known: holds when own region's interval lies on the primary interval's side of 0 and that of the difference between own and other regions does too; does_not_hold when other regions' interval lies on the primary
    side and that of the difference on the other side, or when the primary interval includes 0 and those of own region and the difference lie on one side; else cannot_tell. Without regions: informative, since it is not known which group bears on the pain.
    """
    p, step = context.primary, step_word(context.panel.study)
    if p.term != "jump":
        raise NotApplicable("the primary exposure is not load")
    parts = regions(context.panel, context.region) if context.region else {}
    known = bool(parts)
    parts = parts or groups(context.panel)
    if len(parts) < 2:
        raise NotApplicable("no exercise groups with loads are given", mend="Name them under [groups] in study.toml.")
    found: dict[str, Answer] = {}
    for name, load in parts.items():
        try:
            found[name] = answer(with_part(context.panel, context.design, load, p.exposures), "part", p.size)
        except ModelError:
            continue
    if not found or (known and len(found) < 2):
        raise ModelError("no exercise group is trained often enough to be asked about by itself")
    apart = None
    if known:
        split = with_part(context.panel, context.design, parts["own region"], p.exposures, beside="jump")
        apart = answer(split, "part", p.size)
    verdict, reading = judged(found, p.answer.side, apart)
    sentence = f"In {more(p, step)} by {_seen(found, step, known=known)} ({sample(p.answer, step)}). {reading}"
    shown = [("all exercises (primary)", p.answer, True), *((name, a, False) for name, a in found.items())]
    rows = [row_of(name, a) for name, a, _ in shown]
    if apart is not None:
        shown.append((DIFFERENCE, apart, False))
        rows.append(row_of(DIFFERENCE, apart))
    rows.append(row("parts asked about", len(found), f"of {len(parts)}"))
    decimals = places(min(a.low for _, a, _ in shown), max(a.high for _, a, _ in shown))
    picture = Picture(
        "intervals",
        "The difference if all of the load above usual came from one part of the training",
        pd.DataFrame(
            [(name, a.estimate, a.low, a.high, "", lead) for name, a, lead in shown],
            columns=["label", "estimate", "low", "high", "group", "primary"],
        ),
        f"difference in pain, points, {p.label} load",
        "",
        capital("; ".join(f"{name}: {fixed(a.estimate, decimals)} points" for name, a, _ in shown) + "."),
        {"reference": 0, "subtitle": sample(p.answer, step)},
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def _seen(found: dict[str, Answer], step: str, *, known: bool) -> str:
    """What was seen for each part: both regions with their intervals, or the ends of the range over groups."""
    after = f"pain in the {step} after was"
    if known:
        own, other = (said(found[name]) for name in ("own region", "other regions"))
        return f"exercises for the region that hurts alone, {after} {own}; by other exercises alone, {other}"
    if len(found) == 1:
        return "; ".join(f"exercises for the {name} alone, {after} {said(a)}" for name, a in found.items())
    decimals = places(min(a.low for a in found.values()), max(a.high for a in found.values()))
    ends = sorted(found.items(), key=lambda item: item[1].estimate)
    low, high = (f"{difference(a.estimate, decimals)} ({name})" for name, a in (ends[0], ends[-1]))
    return f"one exercise group alone, {after} from {low} to {high}"


def judged(found: dict[str, Answer], primary: int, apart: Answer | None) -> tuple[str, str]:
    """Verdict and its reading; `apart` is own less other regions, None where regions are not known."""
    if apart is None:
        seen = [name for name, a in found.items() if a.side]
        what = f"Intervals leave out 0 for {listed(seen)}." if seen else "Every interval includes 0."
        chance = " With so many asked about, one may do so by chance." if len(seen) == 1 and len(found) > 2 else ""
        return "informative", f"{what}{chance} Which group bears on the pain is not known here."
    own, other = found["own region"].side, found["other regions"].side
    if primary and own == primary and apart.side == primary:
        return "holds", "It is seen for the region that hurts more than for the others."
    if primary and other == primary and apart.side == -primary:
        return "does_not_hold", "It is seen for regions that do not hurt more than for the one that does."
    if not primary and own and apart.side == own:
        return "does_not_hold", "The load of the region that hurts reads otherwise than all load together."
    if primary and own != -primary and other == primary:
        return (
            "cannot_tell",
            "Load of regions that do not hurt is followed by a difference as well, so it is not shown to be particular to the one that does.",
        )
    return "cannot_tell", "The regions cannot be told apart here."


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


def with_part(
    panel: Panel, primary: Design, load: np.ndarray, exposures: tuple[str, ...], *, beside: str = "remainder"
) -> Design:
    """The primary model with jump split into what one part of the load adds to it (`part`) and the rest of it (`remainder`).

    Beside 'remainder' the coefficient of `part` is that part's own; beside 'jump' it is the part's less the rest's.

    Raises
    ------
    ModelError
        When the part is known on fewer than half of the primary model's steps.
    """
    study, frame = panel.study.load, panel.frame
    usual = usual_load(load, person_index(panel.blocks), study.usual_steps, study.usual_needs)
    jump, change = frame["jump"].to_numpy(dtype=float), (frame["load"] - frame["usual"]).to_numpy(dtype=float)
    rate = np.divide(jump, change, out=np.zeros(len(jump)), where=np.abs(change) > 1e-9)
    part = np.where(jump == 0, 0.0, rate * (load - usual))
    part[np.isnan(load) | np.isnan(jump)] = np.nan
    keyed = frame[["person", "step"]].assign(part=part, remainder=jump - part)
    joined = primary.frame.merge(keyed, on=["person", "step"], how="left", validate="one_to_one")
    if joined["part"].notna().sum() < LEAST * len(joined):
        raise ModelError("the group's load is known on too few steps")
    kept = [c for c in columns_for(panel, exposures, primary.pain_adjusted) if c != "jump"]
    return design_from(joined, ["part", beside, *kept], outcome=primary.outcome, pain_adjusted=primary.pain_adjusted)


def _load(panel: Panel, column: str) -> np.ndarray:
    name = f"load_{column}"
    known = panel.blocks[name].to_numpy(dtype=float) if name in panel.blocks else np.full(len(panel.blocks), np.nan)
    return np.where(panel.frame["load"].to_numpy(dtype=float) == 0, 0.0, known)

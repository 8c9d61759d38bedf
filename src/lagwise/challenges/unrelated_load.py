"""Load of one exercise group at a time, the others held equal: a negative-control exposure where it is known
which group bears on the pain."""

from __future__ import annotations

import numpy as np

from lagwise.challenges.context import Context, Found, about_load, intervals
from lagwise.challenges.estimate import Answer, answer
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.results import Panel
from lagwise.models.design import Design, columns_for, design_from
from lagwise.panel.derive import person_index, usual_load

NAME = "unrelated_load"
OWN, OTHERS = "own_region", "other_regions"
LEAST = 0.5
"""Share of the primary model's steps on which the load of a group and its usual load must be known."""


applies = about_load


def run(context: Context) -> Found:
    """Splits the load jump of every {step} into the part that comes from one exercise group and the rest, and
    puts both in its place in the primary model. With load L of usual U in all, and l of usual u in the
    group, the group's part is jump x (l - u) / (L - U): the parts add up to the jump (a log-mean
    decomposition; Ang 2005, doi:10.1016/j.enpol.2003.10.010), so that the same amount of load counts alike
    wherever it comes from. Where the people table tells each person's region and a group has that name,
    'own region' and 'other regions' are asked about in the place of single groups, with the difference
    between the two.

    Verdict, with regions known: holds when own region's interval lies on the primary interval's side of 0 and
    that of the difference between own and other regions does too; does_not_hold when other regions' interval
    lies on the primary side and that of the difference on the other side, or when the primary interval
    includes 0 and those of own region and the difference lie on one side; else cannot_tell. Without regions:
    informative, since it is not known which group bears on the pain.
    """
    p = context.primary
    parts = regions(context.panel, context.region) if context.region else {}
    known = bool(parts)
    parts = parts or groups(context.panel)
    if len(parts) < 2:
        raise NotApplicable(
            "no exercise groups with loads are given", mend="Name them under [groups] in study.toml."
        )
    found: dict[str, Answer] = {}
    for name, load in parts.items():
        try:
            found[name] = answer(with_part(context, load), "part", p.size)
        except ModelError:
            continue
    if not found or (known and len(found) < 2):
        raise ModelError("no exercise group is trained often enough to be asked about by itself")
    apart = answer(with_part(context, parts[OWN], beside=p.column), "part", p.size) if known else None
    told = {"primary": context.measured(p.answer)}
    for i, (name, one) in enumerate(found.items()):
        told[name if known else f"group_{i}"] = context.measured(one, of=(name,), alone=not known)
    if apart is not None:
        told["apart"] = context.measured(apart)
    verdict, reason = judged(found, p.answer.side, apart)
    count = Measured(len(found), f"of {len(parts)}")
    claim = context.claim(NAME, verdict, reason, **told, parts=count)
    return Found(claim, intervals(claim, *told, primary="primary"))


def judged(found: dict[str, Answer], primary: int, apart: Answer | None) -> tuple[str, str]:
    """Verdict and its reason; `apart` is own less other regions, None where regions are not known."""
    if apart is None:
        return "informative", ""
    own, other = found[OWN].side, found[OTHERS].side
    if primary and own == primary and apart.side == primary:
        return "holds", "own"
    if primary and other == primary and apart.side == -primary:
        return "does_not_hold", "others"
    if not primary and own and apart.side == own:
        return "does_not_hold", "otherwise"
    return "cannot_tell", "both" if primary and own != -primary and other == primary else ""


def groups(panel: Panel) -> dict[str, np.ndarray]:
    """Load of each exercise group, (n,) over the panel's rows; groups that are never known are left out."""
    names = {name: _load(panel, f"{panel.study.load.measure}__{name}") for name in panel.study.groups}
    return {name: load for name, load in names.items() if (load > 0).any()}


def regions(panel: Panel, region: dict[str, str]) -> dict[str, np.ndarray]:
    """Load of the group named as each person's region, and of all others; empty where they do not meet."""
    loads = groups(panel)
    named = {name.strip().lower(): load for name, load in loads.items()}
    mine = panel.frame["person"].map({who: where.strip().lower() for who, where in region.items()})
    own, other = np.full(len(mine), np.nan), np.full(len(mine), np.nan)
    for where in set(mine.dropna()) & set(named):
        at = mine.eq(where).to_numpy()
        own[at] = named[where][at]
        other[at] = sum(load[at] for name, load in named.items() if name != where)
    return {OWN: own, OTHERS: other} if (own > 0).any() and (other > 0).any() else {}


def with_part(context: Context, load: np.ndarray, *, beside: str = "remainder") -> Design:
    """The primary model with jump split into what one part of the load adds to it (`part`) and the rest of it
    (`remainder`).

    Beside 'remainder' the coefficient of `part` is that part's own; beside 'jump' it is the part's less the
    rest's. ModelError when the part is known on fewer than half of the primary model's steps.
    """
    panel, p = context.panel, context.primary
    study, frame = panel.study.load, panel.frame
    usual = usual_load(load, person_index(panel.blocks), study.usual_steps, study.usual_needs)
    jump = frame[p.column].to_numpy(dtype=float)
    change = (frame["load"] - frame["usual"]).to_numpy(dtype=float)
    rate = np.divide(jump, change, out=np.zeros(len(jump)), where=np.abs(change) > 1e-9)
    part = np.where(jump == 0, 0.0, rate * (load - usual))
    part[np.isnan(load) | np.isnan(jump)] = np.nan
    joined = context.joined(part=part, remainder=jump - part)
    if joined["part"].notna().sum() < LEAST * len(joined):
        raise ModelError("the group's load is known on too few steps")
    kept = [c for c in columns_for(panel, p.exposures, p.pain_adjusted) if c != p.column]
    columns, held = ["part", beside, *kept], p.pain_adjusted
    return design_from(joined, columns, outcome=p.outcome, pain_adjusted=held, study=context.panel.study)


def _load(panel: Panel, column: str) -> np.ndarray:
    known = panel.blocks.get(f"load_{column}", np.full(len(panel.blocks), np.nan))
    return np.where(panel.frame["load"].to_numpy(dtype=float) == 0, 0.0, np.asarray(known, dtype=float))

"""Which of two estimates of the same question leads: ratings as measures with error, or ratings as they
are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from lagwise.core.engine import named
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit
from lagwise.core.study import Study

AS_RATED, JOINT = "mixed", "joint"
"""What `[analysis] headline` may say."""


def with_headline(fits: Iterable[Fit], study: Study) -> tuple[Fit, ...]:
    """The fits with exactly one primary row among them.

    The joint model's row of the primary contrast leads where the plan's `headline` is 'joint', it is usable,
    a mixed model of the same contrast is usable beside it, and the people are not so few that estimates are
    exploratory (`lagwise.core.gate`): with 5 to 9 the joint model says mostly what its weak priors do. Else
    the row that a fit marked primary stays.
    """
    fits = tuple(fits)
    joint = next((f for f in fits if named(f.engine).headline == JOINT and f.usable), None)
    mixed = next(
        (f for f in fits if named(f.engine).headline == AS_RATED and f.usable and f.effects["primary"].any()),
        None,
    )
    if joint is None or mixed is None:
        return fits
    row = mixed.effects[mixed.effects["primary"]].iloc[0]
    leads = (joint.effects["term"] == row["term"]) & (joint.effects["contrast"] == row["contrast"])
    if not joint_leads(study, row["term"], joint.n_people) or not leads.any():
        return fits
    return tuple(
        replace(f, effects=f.effects.assign(primary=leads if f is joint else False))
        if f is joint or f is mixed
        else f
        for f in fits
    )


def joint_leads(study: Study, term: str, n_people: int) -> bool:
    """True where a usable joint model of `n_people` people would lead: the plan asks for it, the exposure is
    load, and estimates are not exploratory."""
    return study.analysis.headline == JOINT and term == "jump" and not gate_for(n_people).within_only

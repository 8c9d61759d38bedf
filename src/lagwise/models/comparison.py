"""Two fits of the same question beside each other: how far they lie apart, and which of them leads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pandas as pd

from lagwise.core.engine import named
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit
from lagwise.core.study import Study
from lagwise.core.terms import whole

AS_RATED, JOINT = "mixed", "joint"
"""What `[analysis] headline` may say."""
SAME = ["outcome", "term", "level", "adjustment", "pain_adjusted", "contrast", "contrast_size", "scale"]
"""What two rows of effect tables share where they estimate the same."""
SHOWN = ["estimate", "low", "high", "n_people", "n_steps"]


def compare(fit: Fit, other: Fit) -> pd.DataFrame:
    """The estimands that two fits have in common, with both estimates and their difference.

    The joint model adjusts for the pain behind the ratings; its rows are matched with those of the other
    fit's own adjustment.

    Returns
    -------
    DataFrame
        The columns `SAME`; engine, estimate, low, high, n_people and n_steps of either fit, with `_1` and
        `_2`; and `difference`, the second estimate less the first, on the row's scale. Both fits may rest on
        the same records, so no interval of the difference is given.

    Raises
    ------
    ModelError
        When either is no fit, or one that is not usable, or the two have no estimand in common.

    Examples
    --------
    >>> both = lw.compare(lw.fit_mixed(panel), lw.fit_rated(panel))
    >>> both.loc[both["contrast"] == "+50 %", ["term", "engine_1", "engine_2"]].to_numpy().tolist()
    [['jump', 'mixed', 'rated']]
    """
    for one in (fit, other):
        if not isinstance(one, Fit):
            raise ModelError(
                f"compare takes two fits, and {type(one).__name__} is none",
                where="compare",
                mend="Give what fit_mixed, fit_rated ... return; for two reports call since(new, old).",
            )
    sides = []
    for one, beside in ((fit, other), (other, fit)):
        own = beside.settings.get("pain_adjusted", "latent")
        rows = pd.DataFrame(one.required().effects)[[*SAME, "engine", *SHOWN]]
        sides.append(rows.assign(pain_adjusted=rows["pain_adjusted"].replace("latent", own)))
    keys = [*SAME, *(["engine"] if set(sides[0]["engine"]) == set(sides[1]["engine"]) else [])]
    out = sides[0].merge(sides[1], on=keys, how="inner", suffixes=("_1", "_2"), validate="one_to_one")
    if out.empty:
        raise ModelError(
            "the two fits have no estimand in common", mend="Compare fits of the same outcome and exposures."
        )
    if "engine" in keys:
        out = out.assign(engine_1=out["engine"], engine_2=out["engine"])
    out["difference"] = out["estimate_2"] - out["estimate_1"]
    return out[[*SAME, *(f"{name}_{i}" for i in (1, 2) for name in ("engine", *SHOWN)), "difference"]]


compare_fits = compare
"""The name that `compare` had first."""


def with_headline(fits: Iterable[Fit], study: Study) -> tuple[Fit, ...]:
    """The fits with exactly one primary row among them.

    The joint model's row of the primary contrast leads where the plan's `headline` is 'joint', it is usable,
    a mixed model of the same contrast is usable beside it, and the people are not so few that estimates are
    exploratory (`lagwise.core.gate`): with 5 to 9 the joint model says mostly what its weak priors do. Else
    the row that a fit marked primary stays.
    """
    fits = tuple(fits)
    usable = {
        name: [f for f in fits if f.usable and named(f.engine).headline == name] for name in (JOINT, AS_RATED)
    }
    joint = next(iter(usable[JOINT]), None)
    mixed = next((f for f in usable[AS_RATED] if f.effects["primary"].any()), None)
    if joint is None or mixed is None:
        return fits
    row = mixed.effects[mixed.effects["primary"]].iloc[0]
    leads = (joint.effects["term"] == row["term"]) & (joint.effects["contrast"] == row["contrast"])
    if not joint_leads(study, row["term"], joint.n_people) or not leads.any():
        return fits
    marked = {id(joint): leads, id(mixed): False}
    return tuple(
        replace(f, effects=f.effects.assign(primary=marked[id(f)])) if id(f) in marked else f for f in fits
    )


def joint_leads(study: Study, term: str, n_people: int) -> bool:
    """True where a usable joint model of `n_people` people would lead: the plan asks for it, the exposure is
    load, and estimates are not exploratory."""
    return study.analysis.headline == JOINT and whole(term) and not gate_for(n_people).within_only

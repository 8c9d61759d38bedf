"""Two fits side by side: the same estimands and how far they lie apart."""

from __future__ import annotations

import pandas as pd

from lagwise.core.errors import ModelError
from lagwise.core.results import Fit

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
                mend="Give what fit_mixed, fit_rated ... return; two report folders cannot be compared yet.",
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

"""How strong an unmeasured common cause would have to be: E-value, and strength next to what was measured."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Drawing, Found
from lagwise.challenges.estimate import Answer, side
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.variable import VARIABLES, Variable
from lagwise.core.words import listed
from lagwise.models.design import Design, centred_on_people

NAME = "unmeasured_confounding"
BESIDE = tuple(v.name for v in VARIABLES.values() if not v.whole and not v.flares)
"""Measured exposures that may serve as the yardstick, and after them the study's own; the strongest does."""
WEAK = 0.25
"""A yardstick that could move the estimate by less than this many standard errors is too weak."""
YARDSTICK_SHIFT = "shift_yardstick"
"""Key of the shift by a cause as strong as the strongest recorded exposure, among the numbers."""
TIMES = np.round(np.arange(0, 5.001, 0.05), 2)
MOST = float(TIMES[-1])


@dataclass(frozen=True)
class Strength:
    """Shift of the estimate, in points, by an unmeasured cause `times` as strong as the yardstick; NaN where
    none can be.
    """

    times: np.ndarray
    shift: np.ndarray


def run(context: Context) -> Found:
    """E-value of the estimate d (in within-person SDs of the outcome) and of the limit nearer 0, through RR =
    exp(0.91 d): E = RR + sqrt(RR (RR - 1)), RR turned over when below 1 (VanderWeele & Ding 2017,
    doi:10.7326/M16-2607). Beside it, the shift of the estimate by a cause k times as strong as measured
    stress (else the first other exposure in the model), from partial R2 within people (Cinelli & Hazlett
    2020, doi:10.1111/rssb.12348). The same paper's robustness value is the share of what is left of both load
    and pain that goes with a cause just strong enough, whatever the yardstick.

    Verdict: by the side of 0 on which the interval lies, or that it includes 0, after a shift either way; the
    yardstick is the recorded exposure that could move the estimate most; one that goes so closely with the
    primary exposure that nothing as strong is left beside it (effort, where load is effort x minutes) is
    none, and is named. When a cause as strong as that (k = 1) leaves the side as it is: informative, never
    holds, since no check on a record can see what was not recorded; does_not_hold when one half as strong (k
    = 0.5) changes it; cannot_tell in between, and where even the strongest could move the estimate by less
    than a quarter of its standard error. Never does_not_hold where the interval includes 0: no difference was
    shown that a cause could account for, it could only have hidden one, and the verdict is then cannot_tell.
    """
    p, a, design = context.primary, context.primary.answer, context.design
    spread = within_sd(design.y, design.person)
    if spread <= 0:
        raise ModelError("the outcome does not vary within people")
    near = 0.0 if a.side == 0 else a.low if a.side > 0 else a.high
    beside = [t for t in dict.fromkeys((*BESIDE, *p.exposures)) if t != p.term]
    every, same = yardsticks(design, p.column, a.std_error, beside, context.panel.study.variables)
    yardstick = max(every, key=lambda t: _at_one(every[t]))
    strength = every[yardstick]
    changes_at = tipping(strength, a.low, a.high)
    weak = _at_one(strength) < WEAK * a.std_error
    verdict = "cannot_tell" if changes_at <= 1 or weak else "informative"
    if a.side and changes_at <= 0.5:
        verdict = "does_not_hold"
    claim = context.claim(
        NAME,
        verdict,
        lesson(changes_at, a.side, weak=weak),
        **{f"same/{t}": True for t in same},
        beyond=math.isinf(changes_at),
        primary=context.measured(a, told=False),
        e_point=Measured(e_value(a.estimate / spread), "risk ratio"),
        e_limit=Measured(e_value(near / spread), "risk ratio"),
        sds=Measured(a.estimate / spread, "SD", a.low / spread, a.high / spread),
        changes_at=Measured(min(changes_at, MOST), "times", of=(yardstick,)),
        **{_key(t, yardstick): Measured(_at_one(v), context.unit, of=(t,)) for t, v in every.items()},
        needed=Measured(robustness(a, degrees(design)), "share"),
    )
    known = np.isfinite(strength.shift)
    moved = (-1.0 if a.estimate > 0 else 1.0) * strength.shift[known]
    lines = {name: getattr(a, name) + moved for name in ("estimate", "low", "high")}
    return Found(
        claim, Drawing("curve", pd.DataFrame({"x": strength.times[known]} | lines), {"reference": 0})
    )


def yardsticks(
    design: Design, column: str, std_error: float, beside: list[str], variables: Mapping[str, Variable]
) -> tuple[dict[str, Strength], tuple[str, ...]]:
    """The strengths by recorded exposure, and the exposures that are none since they go too closely with the
    primary one. ModelError, NotApplicable when none is left."""
    every = {
        t: shifts(design, column, f"{t}_within", std_error) for t in beside if f"{t}_within" in design.names
    }
    if not every:
        raise NotApplicable("no other exposure is in the model to compare an unmeasured cause with")
    same = tuple(t for t, v in every.items() if not math.isfinite(_at_one(v)))
    every = {t: v for t, v in every.items() if t not in same}
    if not every:
        goes = f"{listed([variables[t].label for t in same])} {'goes' if len(same) == 1 else 'go'}"
        raise ModelError(
            f"{goes} so closely with the exposure that no further cause could go with it as closely, so that "
            "there is no yardstick"
        )
    return every, same


def _key(term: str, yardstick: str) -> str:
    return YARDSTICK_SHIFT if term == yardstick else f"shift_{term}"


def e_value(d: float) -> float:
    """E-value of a standardised difference: RR + sqrt(RR (RR - 1)) with RR = exp(0.91 |d|); 1 at d = 0."""
    rr = math.exp(0.91 * abs(d))
    return rr + math.sqrt(rr * (rr - 1))


def within_sd(values: np.ndarray, person: np.ndarray) -> float:
    """SD around each person's mean, with people - 1 further degrees of freedom taken off."""
    rest = centred_on_people(values[:, None], person)[:, 0]
    free = len(values) - (int(person.max()) + 1)
    return math.sqrt(float(rest @ rest) / free) if free > 0 else 0.0


def shifts(design: Design, column: str, yardstick: str, std_error: float) -> Strength:
    """|shift| = se sqrt(df R2_y R2_d / (1 - R2_d)) for a cause with k times the yardstick's partial R2 with
    exposure and outcome.

    With f2 = partial R2 of the yardstick over 1 minus it: R2_d = k f2_d, and R2_y the bound of Cinelli &
    Hazlett. NaN from the k on where no such cause exists.
    """
    data = centred_on_people(np.column_stack([design.X[:, 1:], design.y]), design.person)
    names = design.names[1:]
    moving = [i for i in range(len(names)) if data[:, i] @ data[:, i] > 1e-12 * len(data)]
    if names.index(column) not in moving or names.index(yardstick) not in moving:
        raise ModelError(f"{column} or {yardstick} does not vary within people")
    others = [i for i in moving if names[i] not in (column, yardstick)]
    df = len(data) - design.n_people - len(moving)
    if df < 1:
        raise ModelError("too few steps to compare an unmeasured cause with a measured one")
    d, z, y = (
        _rest(data[:, i], data[:, others]) for i in (names.index(column), names.index(yardstick), len(names))
    )
    r2_d = float((d @ z) ** 2 / ((d @ d) * (z @ z)))
    y_d, z_d = _rest(y, d[:, None]), _rest(z, d[:, None])
    r2_y = float((y_d @ z_d) ** 2 / ((y_d @ y_d) * (z_d @ z_d)))
    f2_d, f2_y = r2_d / (1 - r2_d), r2_y / (1 - r2_y)
    with np.errstate(invalid="ignore", divide="ignore"):
        bound_d = TIMES * f2_d
        inner = TIMES * r2_d**2 / ((1 - TIMES * r2_d) * (1 - r2_d))
        eta = (np.sqrt(TIMES) + np.sqrt(inner)) / np.sqrt(1 - inner)
        bound_y = eta**2 * f2_y
        shift = std_error * np.sqrt(df * np.minimum(bound_y, 1) * bound_d / (1 - bound_d))
    return Strength(TIMES, np.where((bound_d < 1) & (TIMES * r2_d < 1) & (inner < 1), shift, np.nan))


def degrees(design: Design) -> int:
    """Steps less people and columns: the degrees of freedom within people."""
    return max(1, design.n_steps - design.n_people - (len(design.names) - 1))


def robustness(a: Answer, df: int) -> float:
    """Robustness value of Cinelli & Hazlett: the partial R2, alike with exposure and outcome, of a cause that
    moves the nearer limit of the interval to 0.

    With f that limit's distance from 0 over the standard error and sqrt(df): (sqrt(f^4 + 4 f^2) - f^2) / 2.
    """
    f = min(abs(a.low), abs(a.high)) / a.std_error / math.sqrt(df)
    return (math.sqrt(f**4 + 4 * f**2) - f**2) / 2


def _at_one(strength: Strength) -> float:
    """The shift at strength 1; infinite where there can be no such cause, since less than that is left of the
    exposure.
    """
    shift = float(strength.shift[strength.times == 1.0][0])
    return shift if math.isfinite(shift) else math.inf


def _rest(values: np.ndarray, columns: np.ndarray) -> np.ndarray:
    if not columns.shape[1]:
        return values
    return values - columns @ np.linalg.lstsq(columns, values, rcond=None)[0]


def tipping(strength: Strength, low: float, high: float) -> float:
    """Smallest strength at which a shift either way changes the side of 0 of the interval; infinite when none
    tried does.
    """
    here = side(low, high)
    for k, shift in zip(strength.times, strength.shift, strict=True):
        if not np.isfinite(shift) or any(side(low + s, high + s) != here for s in (-shift, shift)):
            return float(k)
    return math.inf


def lesson(changes_at: float, of_side: int, *, weak: bool) -> str:
    """What the strength at which the reading changes says, of a difference that was shown and of one that was
    not.
    """
    if changes_at > 1 and not weak:
        return "stays"
    if changes_at > 0.5 and weak:
        return "no_yardstick"
    if not of_side:
        return "half_hides" if changes_at <= 0.5 else "one_hides"
    return "half_accounts" if changes_at <= 0.5 else "one_accounts"

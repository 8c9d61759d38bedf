"""Placebo denominators: the load jump with the moving usual load of other people, and with a constant."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Drawing, Found, about_load
from lagwise.challenges.estimate import middle
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design_from
from lagwise.models.kernel import fit

NAME = "random_usual_load"
LEVEL = 0.05
CLEAR = 3.84
"""Difference in -2 log likelihood at which one of two models with a parameter each is refuted beside both:
chi-squared with 1 df, 5 in 100."""
BLOCK, CELLS = 200, 4_000_000
"""Placebos worked out together: at most so many, and with at most so many values."""
applies = about_load


def run(context: Context) -> Found:
    """On trained steps, the model with log(load / own usual load) in the place of jump and log_usual, against
    the same with the usual load of another, randomly drawn person in the denominator (the ratio's placebo),
    and with a constant there (load alone). Each of these is taken from the person's own mean, so that a base
    that does not move, the person's own or any other, counts for nothing and only the movement of the usual
    load is compared. Of more than 400 people 400 are asked, evenly through the record. By -2 log likelihood
    (ML, person intercepts); lower is better. p = (1 + placebos that fit at least as well) / (1 + placebos).

    Verdict, where the primary interval leaves out 0: holds when p is at most 0.05 and the own ratio fits
    better than load against a constant by 3.84 or more; does_not_hold when the constant fits better by so
    much, or when it and the greater part of the placebos fit at least as well; else cannot_tell, and so
    wherever the interval includes 0. Load and the usual load's movement side by side hold either model in
    them, so that 3.84 (chi-squared with 1 df, 5 in 100) is where a likelihood-ratio test against both would
    reject the one that fits worse.
    """
    p, (d, plain, asked) = context.primary, context.some()
    trained = d.frame[d.frame["rested"].eq(0) & d.frame["restarted"].eq(0) & (d.frame["usual"] > 0)]
    if trained.empty:
        raise ModelError("no trained step has a usual load")
    names = [n for n in d.names[1:] if n not in ("log_usual", "rested", "restarted")]
    own = design_from(trained, names, outcome=d.outcome, study=d.study)
    if p.column not in own.names:
        raise ModelError("load does not vary against the usual load")
    if own.n_people < 5:
        raise ModelError(f"only {own.n_people} people have trained steps with a usual load")
    usual = np.log(own.frame["usual"].to_numpy(dtype=float))
    load = np.log(own.frame["load"].to_numpy(dtype=float))
    cross, at = CrossProducts.build(own.y, own.X, None, own.person), own.names.index(p.column)
    rng, found = context.rng(NAME), fit(cross, method="ml")
    near = found.theta[0] if found.converged[0] else None

    def deviances(columns: np.ndarray) -> np.ndarray:
        centred = around(columns, own.person)
        return fit(cross.with_columns([at], centred[:, :, None]), method="ml", near=near).deviance

    block = max(1, min(BLOCK, CELLS // own.n_steps))
    ours, alone = deviances(np.stack([load - usual, load]))
    others = strangers(own.n_people, context.draws, rng)
    blocks = (others[i : i + block] for i in range(0, len(others), block))
    placebo = np.concatenate([deviances(load - lent(usual, own.person, some)) for some in blocks])
    placebo = placebo[np.isfinite(placebo)]
    if len(placebo) < context.draws / 2 or not np.isfinite(ours + alone):
        raise ModelError("too few of the ratios with a random usual load can be fitted")
    beyond = int(np.sum(placebo <= ours + 1e-9))
    p_value = (1 + beyond) / (1 + len(placebo))
    gain = float(alone - ours)
    n, unit, half = len(placebo), "-2 log likelihood", float(np.quantile(alone - placebo, 0.5))
    claim = context.claim(
        NAME,
        judged(plain.side, p_value, gain),
        gain=Measured(gain, unit, people=own.n_people, steps=own.n_steps),
        others=Measured(half, unit, *middle(alone - placebo)),
        beyond=Measured(beyond, f"of {n}"),
        p=Measured(p_value, "probability"),
        draws=Measured(n, "shuffles", told=False),
        primary=context.measured(plain, told=False),
        **asked,
    )
    drawn = {"mark": gain, "reference": 0}
    return Found(claim, Drawing("histogram", pd.DataFrame({"value": alone - placebo}), drawn))


def judged(own: int, p_value: float, gain: float) -> str:
    """The verdict from the primary interval's side, the p of the placebos and how much better than with a
    constant the own ratio fits."""
    if not own:
        return "cannot_tell"
    if gain >= CLEAR and p_value <= LEVEL:
        return "holds"
    return "does_not_hold" if gain <= -CLEAR or (gain <= 0 and p_value > 0.5) else "cannot_tell"


def around(values: np.ndarray, person: np.ndarray) -> np.ndarray:
    """(B, n) values, each less its person's mean."""
    counts = np.bincount(person)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    return values - (np.add.reduceat(values, starts, axis=1) / counts)[:, person]


def strangers(people: int, draws: int, rng: np.random.Generator) -> np.ndarray:
    """(draws, people) another person for each, never the same one."""
    return (np.arange(people) + rng.integers(1, people, (draws, people))) % people


def lent(usual: np.ndarray, person: np.ndarray, others: np.ndarray) -> np.ndarray:
    """(draws, n) log usual load of the `others` (draws, people); their k-th step for the k-th step, from the
    start again where theirs are fewer."""
    counts = np.bincount(person)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    donor = others[:, person]
    return usual[starts[donor] + (np.arange(len(person)) - starts[person]) % counts[donor]]

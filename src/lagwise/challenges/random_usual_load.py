"""Placebo denominators: the load jump with the moving usual load of other people, and with a constant."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.phrases import capital, count, fixed, p_text, sample, step_word
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.results import Challenge, Picture
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design_from
from lagwise.models.kernel import fit

NAME = "random_usual_load"
TITLE = "Random usual load"
QUESTION = "Does a person's own usual load, as it moves, say more than a constant or than somebody else's?"
LIMITS = (
    "A person's usual load changes slowly, so that it may say little beside the load of the {step} in a short record even where it matters. It compares how "
    "well models fit and is no test of the size of the difference. It cannot tell load that acts on pain from load that answers it: where ratings stray from the pain that load answers, a difference that comes from there alone shows more clearly against the own usual load too, and this holds of it. The challenge of error in pain ratings looks at that."
)
LEVEL = 0.05
CLEAR = 3.84
"""Difference in -2 log likelihood at which one of two models with a parameter each is refuted beside both: chi-squared with 1 df, 5 in 100."""
BLOCK = 200


def run(context: Context) -> Challenge:
    """On trained steps, the model with log(load / own usual load) in the place of jump and log_usual, against the same with the usual load of another, randomly drawn person in
    the denominator (the ratio's placebo), and with a constant there (load alone). Each of these is taken from the person's own mean, so that a base that does not move, the person's own or any other, counts for nothing
    and only the movement of the usual load is compared. By -2 log likelihood (ML, person intercepts); lower is better. p = (1 + placebos that fit at least as well) / (1 + placebos).

    Verdict, where the primary interval leaves out 0: holds when p is at most 0.05 and the own ratio fits better than load against a constant by 3.84 or more; does_not_hold when the constant fits better by so much, or when it fits at least as well and so do more than half of the
    placebos; else cannot_tell, and so wherever the interval includes 0. Load and the usual load's movement side by side hold either model in them, so that 3.84 (chi-squared with 1 df, 5 in 100) is where a likelihood-ratio test against both would reject the one that fits worse.
    """
    p, step = context.primary, step_word(context.panel.study)
    if p.term != "jump":
        raise NotApplicable("the primary exposure is not load")
    d = context.design
    trained = d.frame[d.frame["rested"].eq(0) & d.frame["restarted"].eq(0) & (d.frame["usual"] > 0)]
    if trained.empty:
        raise ModelError("no trained step has a usual load")
    names = [n for n in d.names[1:] if n not in ("log_usual", "rested", "restarted")]
    own = design_from(trained, names, outcome=d.outcome)
    if "jump" not in own.names:
        raise ModelError("load does not vary against the usual load")
    if own.n_people < 5:
        raise ModelError(f"only {own.n_people} people have trained steps with a usual load")
    usual = np.log(own.frame["usual"].to_numpy(dtype=float))
    load = np.log(own.frame["load"].to_numpy(dtype=float))
    cross, at = CrossProducts.build(own.y, own.X, None, own.person), own.names.index("jump")
    rng = context.rng(NAME)

    def deviances(columns: np.ndarray) -> np.ndarray:
        parts = [cross.with_columns([at], columns[i : i + BLOCK, :, None]) for i in range(0, len(columns), BLOCK)]
        return np.concatenate([fit(part, method="ml").deviance for part in parts])

    ours, alone = deviances(around(np.stack([load - usual, load]), own.person))
    placebo = deviances(around(load - strangers(usual, own.person, context.draws, rng), own.person))
    placebo = placebo[np.isfinite(placebo)]
    if len(placebo) < context.draws / 2 or not np.isfinite(ours + alone):
        raise ModelError("too few of the ratios with a random usual load can be fitted")
    beyond = int(np.sum(placebo <= ours + 1e-9))
    p_value = (1 + beyond) / (1 + len(placebo))
    gain = float(alone - ours)
    verdict = judged(p.answer.side, p_value, gain)
    reading = {
        "holds": "A person's own usual load, as it moves, says more than a constant or somebody else's; so it can where load only answers pain.",
        "does_not_hold": f"The difference seen belongs to the load of the {step}; that the person's own usual load moves adds nothing to the fit.",
        "cannot_tell": f"Whether a person's own usual load, as it moves, adds to the load of the {step} stays open.",
    }[verdict]
    middle = [float(v) for v in np.quantile(alone - placebo, [0.025, 0.5, 0.975])]
    sentence = (
        f"Set against the person's own usual load, the load of a {step} fits {_gain(gain)} than against a constant (-2 log likelihood); {beyond} of {len(placebo)} ratios with the usual load of "
        f"someone else fit at least as well ({p_text(p_value)}; {count(own.n_people, 'person', 'people')}, {count(own.n_steps, f'trained person-{step}')}). {reading}"
    )
    rows = [
        row("better fit with own usual load than with a constant", gain, "-2 log likelihood"),
        row("the same with somebody else's usual load", middle[1], "-2 log likelihood", middle[0], middle[2]),
        row("placebo ratios that fit at least as well", beyond, f"of {len(placebo)}"),
        row("p", p_value, "probability"),
    ]
    picture = Picture(
        "histogram",
        "The person's own usual load against that of others",
        pd.DataFrame({"value": alone - placebo}),
        "better fit than with a constant, -2 log likelihood",
        "random denominators",
        capital(f"own usual load {fixed(gain, 1)}; middle 95 of 100 of random ones {fixed(middle[0], 1)} to {fixed(middle[2], 1)}; {p_text(p_value)}."),
        {"mark": gain, "mark_label": "own usual load", "values_label": f"{len(placebo)} random ones", "reference": 0, "subtitle": sample(p.answer, step)},
    )  # fmt: skip
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def judged(own: int, p_value: float, gain: float) -> str:
    """The verdict from the primary interval's side, the p of the placebos and how much better than with a constant the own ratio fits."""
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


def strangers(usual: np.ndarray, person: np.ndarray, draws: int, rng: np.random.Generator) -> np.ndarray:
    """(draws, n) log usual load of another person, never the same one; their k-th step for the k-th step, from the start again where theirs are fewer."""
    counts = np.bincount(person)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    rank = np.arange(len(person)) - starts[person]
    m = len(counts)
    other = (np.arange(m) + rng.integers(1, m, (draws, m))) % m
    donor = other[:, person]
    return usual[starts[donor] + rank % counts[donor]]


def _gain(gain: float) -> str:
    return f"{abs(gain):.1f} {'better' if gain > 0 else 'worse'}"

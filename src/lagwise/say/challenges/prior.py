"""Words of the challenge of the prior."""

from __future__ import annotations

from lagwise.challenges.prior import SENSITIVE, USABLE
from lagwise.core.claim import Claim
from lagwise.say.challenge import Caption
from lagwise.say.phrases import after, capital, fixed, interval, places, stays
from lagwise.say.voice import Voice

TITLE = "Prior"
QUESTION = "Would a narrower or wider prior have read the records alike?"
LIMITS = (
    f"Draws weighted anew are reliable up to a Pareto k of {USABLE:g}. "
    "It moves the widths of the priors that were used, not their shape or middle. It speaks of the ordinal "
    "Bayesian model alone, and the primary answer comes from another model."
)
WIDTHS = {"own": "as they are", "half": "half as wide", "twice": "twice as wide"}
LABELS = {
    **{key: f"difference: priors {width}" for key, width in WIDTHS.items()},
    "sensitivity": "power-scaling sensitivity to the priors",
}
SHORT = {
    "holds": "the answer leans little on the prior",
    "does_not_hold": "the reading depends on the width of the priors",
    "cannot_tell": "how far the answer leans on the priors stays open",
}
MOVES = ("own", "half", "twice")
READINGS = {
    "clear": "The answer leans little on the prior.",
    "includes_0": "The answer leans little on the prior." + stays(0),
    "leans": "The reading stays, but the answer leans on the priors.",
    "unreliable": "The answer could not be asked again reliably enough to tell.",
}


def sentence(c: Claim, v: Voice) -> str:
    """The difference under each width of the priors, and how far it leans on them."""
    again = "".join(
        f" With all priors {WIDTHS[key]} it is {_answer(c, v, key)}{_found(c, key)}."
        for key in ("half", "twice")
    )
    leans, told = c.get("sensitivity"), f"above {SENSITIVE:g} counts as sensitive"
    text = f"In the ordinal model the difference is {_answer(c, v, 'own')}.{again}"
    if leans is not None:
        inside = after(c["own"], v.step, told)
        text += f" Its power-scaling sensitivity to the priors is {leans.value:.3f}{inside}."
    depends = c.verdict == "does_not_hold"
    return f"{text} {'The reading depends on the width of the priors.' if depends else READINGS[c.reason]}"


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the difference under each width."""
    return Caption(
        "The Bayesian answer with narrower and wider priors",
        f"difference in {v.outcome.label}, {v.unit}, {c['contrast']} {v.exposure}",
        capital("; ".join(f"priors {width}: {_answer(c, v, key)}" for key, width in WIDTHS.items()) + "."),
        labels={key: f"priors {width}" for key, width in WIDTHS.items()},
    )


def _answer(c: Claim, v: Voice, key: str) -> str:
    decimals = places(c["own"].low, c["own"].high)
    return f"{fixed(c[key].value, decimals)} {v.unit} ({interval(c[key], decimals)})"


def _found(c: Claim, key: str) -> str:
    """By which draws, with the Pareto k of the weights; nothing where an older report does not keep it."""
    if (weights := c.get(f"{key}_k")) is None:
        return ""
    k = f"Pareto k {weights.value:.2f}"
    if failed := c.numbers.get(f"{key}_failed"):
        return f", by weights that cannot be relied on ({k}). Sampled anew, the {failed}"
    if weights.value <= USABLE:
        return f", by the draws weighted anew ({k})"
    return f", sampled anew, since weights could not be relied on ({k})"

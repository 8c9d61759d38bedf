"""Words of the challenge of error in effort ratings."""

from __future__ import annotations

from lagwise.core.claim import Claim, Measured
from lagwise.say.challenge import Caption
from lagwise.say.phrases import capital, fixed, interval, places, stays
from lagwise.say.voice import Voice

TITLE = "Error in effort ratings"
QUESTION = "Would the reading be another one if effort ratings are off by about a point?"
LIMITS = (
    "It allows for errors that are independent of everything else. Ratings that lean the same way {in} bad "
    "{steps}, or that drift over months, are not covered, nor is error in the load or {outcome} themselves."
)
LABELS = {"reliability": "reliability of effort beside the other columns at an error SD of 0.51"}
SHORT = {
    "holds": "error in effort ratings leaves the reading as it is",
    "does_not_hold": "the reading rests on effort ratings freer of error",
    "cannot_tell": "effort cannot be told from error",
}
MOVES = ("at_0.00", "at_0.51")


def label(found: Measured, v: Voice) -> str:
    """An estimate at an error SD."""
    return f"estimate at an error SD of {found.of[0]:.2f} points"


def sentence(c: Claim, v: Voice) -> str:
    """The estimate with and without error in effort, and what that says of the reading."""
    plain, changed, share = c["at_0.00"], c.get("at_0.51"), c["reliability"].value
    decimals = places(plain.low, plain.high)
    if changed is None:
        return (
            "Beside load and the other exposures, effort varies so little within people that an error of a "
            f"point a rating would be most of it (reliability {share:.2f}). Without error the estimate is "
            f"{fixed(plain.value, decimals)} {v.unit} ({interval(plain, decimals)}). What effort says "
            f"beside {v.exposure} cannot be told from error."
        )
    stay = "The reading stays." + stays(plain.side)
    return (
        "Effort ratings may be off so that 95 of 100 lie within a point of the truth (reliability beside the "
        f"other columns {share:.2f}). Allowing for that, the estimate by least squares within people goes "
        f"from {fixed(plain.value, decimals)} to {fixed(changed.value, decimals)} {v.unit} "
        f"({interval(changed, decimals)}). "
        f"{stay if c.verdict == 'holds' else 'The reading rests on ratings freer of error than that.'}"
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the estimates at each error SD."""
    decimals = places(c["at_0.00"].low, c["at_0.00"].high)
    at = {key: found for key, found in c.measured.items() if found.of}
    said = [f"error SD {found.of[0]:.2f}: {fixed(found.value, decimals)} {v.unit}" for found in at.values()]
    return Caption(
        "The estimate if effort ratings carry error",
        v.difference(c),
        capital("; ".join(said) + "."),
        labels={
            key: f"error SD {found.of[0]:.2f} points, reliability {c[key.replace('at', 'left')].value:.2f}"
            for key, found in at.items()
        },
    )

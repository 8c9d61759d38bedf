"""Words of the challenge that slides load along in time."""

from __future__ import annotations

from lagwise.core.claim import Claim
from lagwise.say.challenge import Caption
from lagwise.say.phrases import after, asked, fixed, p_text, places, stays
from lagwise.say.voice import Voice

TITLE = "Shuffled {exposure}"
QUESTION = (
    "Does the estimate stand out from what the same series of {exposure} give once they are slid along in "
    "time, as its interval says?"
)
LIMITS = (
    "Sliding breaks the tie between {exposure} and {outcome} in both directions. So this asks whether the "
    "two series are related at all once the rest is held equal. It cannot say which came first, and a common "
    "cause of both would pass it."
)
LABELS = {
    "primary": "primary estimate",
    "band": "middle 95 of 100 shuffled estimates, on the study's standard error",
    "t": "t of this study",
    "as_they_are": "middle 95 of 100 shuffled estimates, as they are",
    "p": "p, two-sided",
    "shuffles": "shuffles",
    "asked": "people asked, evenly through the record",
}
SHORT = {
    "holds": "shuffled series agree with what the interval says",
    "does_not_hold": "shuffled series disagree with what the interval says",
    "cannot_tell": "too close to call against shuffled series",
}
READINGS = {
    ("holds", "rare"): "Series that do not belong together rarely give as much.",
    ("holds", "often"): "Series that do not belong together often give as much, as the interval says too."
    + stays(0),
    (
        "does_not_hold",
        "rare",
    ): "The interval includes 0, yet series that do not belong together rarely give as much.",
    ("does_not_hold", "often"): (
        "The interval does not include 0, yet series that do not belong together give as much."
    ),
}


def sentence(c: Claim, v: Voice) -> str:
    """The estimate, what slid series give, and whether the two agree."""
    own, n = c["primary"], c["shuffles"].value
    close = f"That is too close to 0.05 to call with {n:.0f} shuffles."
    size = fixed(own.value, places(own.low, own.high))
    whose = "Their" if "asked" in c.numbers else "The"
    return (
        f"{asked(c)}{whose} estimate is {size} {v.unit}{after(own, v.step)}. "
        f"Of {n:.0f} estimates with each person's {v.exposure} slid along in time, 95 of 100 lie within "
        f"{_reach(c)} {v.unit} of 0 ({p_text(c['p'])}, two-sided). "
        f"{READINGS.get((c.verdict, c.reason), close)}"
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the slid estimates."""
    own, n = c["primary"], c["shuffles"].value
    return Caption(
        f"The estimate lies {'outside' if c.reason == 'rare' else 'inside'} what most slid series give",
        f"{v.difference(c)} (over its standard error, in {v.unit} of this study's)",
        f"{n:.0f} shuffled estimates, 95 of 100 within {_reach(c)} {v.unit} of 0; the study's own is "
        f"{fixed(own.value, places(own.low, own.high))} {v.unit}; {p_text(c['p'])}.",
        "shuffles",
        {"mark_label": "this study", "values_label": f"{n:.0f} shuffles"},
    )


def _reach(c: Claim) -> str:
    return fixed(c["band"].high, places(c["primary"].low, c["primary"].high))

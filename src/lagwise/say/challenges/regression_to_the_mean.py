"""Words of the challenge of regression to the mean."""

from __future__ import annotations

from lagwise.core.claim import Claim
from lagwise.say.challenge import Caption
from lagwise.say.phrases import capital, fixed, interval, places, plural
from lagwise.say.voice import Voice

TITLE = "Regression to the mean"
QUESTION = (
    "After a bad {step}, does {outcome} change by no more than ordinary ups and downs bring by themselves?"
)
LIMITS = (
    "It tells an ordinary return from a larger or smaller one, on average. It cannot say what an unusual "
    "return came from. What was done after bad {steps} is part of ordinary ups and downs if it was also done "
    "after others."
)
LABELS = {
    "observed": "observed change",
    **{way: f"expected from the {way}" for way in ("carry-over", "way in")},
    **{f"{way} gap": f"observed minus expected from the {way}" for way in ("carry-over", "way in")},
    "slope": "carry-over in other {steps}",
    "bad": "bad {steps}",
}
SHORT = {
    "holds": "the return after bad {steps} is an ordinary one",
    "does_not_hold": "the return after bad {steps} is no ordinary one",
    "cannot_tell": "too few bad {steps} to tell",
}


def sentence(c: Claim, v: Voice) -> str:
    """The change after bad steps, what was to be expected of it, and what that says."""
    observed, carry, way = (fixed(c[key].value, _places(c)) for key in ("observed", "carry-over", "way in"))
    fell = "rose" if v.outcome.worse == "low" else "fell"
    reading = {
        "holds": "The return is what ordinary ups and downs bring, so that it speaks neither for nor "
        "against what was done meanwhile.",
        "does_not_hold": f"{capital(v.outcome.label)} {fell} {c.reason} after bad {v.step}s than ordinary "
        "ups and downs bring.",
        "cannot_tell": f"Too few bad {v.step}s to tell an ordinary return from another one.",
    }[c.verdict]
    return (
        f"After {_bad(c, v, ' of ')} {v.outcome.label} changed by {observed} {v.unit} "
        f"({interval(c['observed'], _places(c))}) by the next {v.step}. With no cause at all {carry} "
        f"{v.unit} are expected if as much lasts as in other {v.step}s (a share of "
        f"{fixed(c['slope'].value, 2)}), and {way} if {v.outcome.label} goes as it came. {reading}"
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the change, observed and expected."""
    observed, carry, way, gap = (
        fixed(c[key].value, _places(c)) for key in ("observed", "carry-over", "way in", "carry-over gap")
    )
    return Caption(
        f"The change after a bad {v.step}, observed and expected with no cause",
        f"change in {v.outcome.label} by the next {v.step}, {v.unit}",
        f"Observed {observed}; expected {carry} from the carry-over and {way} from the way in; observed "
        f"minus expected {gap} {v.unit} ({interval(c['carry-over gap'], _places(c))}).",
        options={"subtitle": _bad(c, v, ", ")},
        labels={"observed": "observed"},
    )


def _places(c: Claim) -> int:
    return places(c["carry-over gap"].low, c["carry-over gap"].high)


def _bad(c: Claim, v: Voice, between: str) -> str:
    """'31 bad weeks of 12 people', without people who may not be counted."""
    found = c.get("bad")
    if found is None:
        return f"bad {v.step}s"
    people = "" if found.people is None else between + plural(found.people, "person", "people")
    return plural(int(found.value), f"bad {v.step}") + people

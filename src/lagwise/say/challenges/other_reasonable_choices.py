"""Words of the challenge of other reasonable choices."""

from __future__ import annotations

from lagwise.challenges.specifications import CHOICES
from lagwise.core.claim import Claim, Measured
from lagwise.core.columns import LOAD_MEASURES
from lagwise.say.challenge import Caption
from lagwise.say.phrases import after, fixed, listed, p_text, places, stays
from lagwise.say.voice import Voice

TITLE = "Other reasonable choices"
QUESTION = "Would another reasonable plan for the same question have read the records alike?"
LIMITS = (
    "The plans are those of this software, and all of them share its assumptions; a reading on which they "
    "agree can still be wrong in the same way. Estimates under different plans use the same records and "
    "are no independent confirmation of each other."
)
LABELS = {
    "plans": "plans",
    "middle": "middle 95 of 100 estimates",
    "alike": "estimates with the primary one's sign",
    "above": "intervals above 0",
    "below": "intervals below 0",
    "joint_p": "joint p",
    "single_p": "p of single readings of the record",
    "parting_share": "largest share of intervals that part from the primary one under a single reading",
    "held/before": "{outcome} before the {step} held equal",
    "held/during": "{outcome} during the {step} held equal",
    "held/none": "no {outcome} held equal",
    "why_same": "why not: {outcome} of the same {step}",
    "why_none": "why not: no {outcome} held equal",
}
SHORT = {
    "holds": "other reasonable plans read alike",
    "does_not_hold": "the reading hangs on choices of the plan",
    "cannot_tell": "under other reasonable plans reading or size stays open",
}
MOVES = ("", "middle")


def label(found: Measured, v: Voice) -> str:
    """The numbers by choice and level, and load measures of another exposure."""
    choice, *levels = found.of
    if found.unit == "share":
        return f"variance that goes with: {of_choice(choice, v)}"
    return (
        f"median with {of_choice(choice, v)}: {level(choice, levels[0], v)}"
        if levels
        else f"load as {LOAD_MEASURES[choice]}"
    )


def of_choice(name: str, v: Voice) -> str:
    """A choice in words."""
    if name != CHOICES[2]:
        return name
    return f"summary of {v.asked}" if " " in v.asked else f"{v.asked} summary"


def level(choice: str, name: str, v: Voice) -> str:
    """A level of a choice in words."""
    if choice == CHOICES[0]:
        return LOAD_MEASURES[name]
    return f"{name.removesuffix('steps')}{v.steps}" if choice == CHOICES[1] else name


def sentence(c: Claim, v: Voice) -> str:
    """Where the estimates lie, which choice moves them most, and whether the reading hangs on any."""
    own, middle, decimals = c["primary"], c["middle"], _places(c)
    low, high, at = (fixed(value, decimals) for value in (middle.low, middle.high, middle.value))
    inside = after(own, v.step, f"median {at}; planned {fixed(own.value, decimals)}")
    most, share = _choices(c)[0]
    return (
        f"Under {c['plans'].value:.0f} plans that ask the same question the middle 95 of 100 estimates lie "
        f"between {low} and {high} {v.unit}{inside}. {_shown(c)} (joint {p_text(c['joint_p'])}). "
        f"The choice '{of_choice(most, v)}' moves the estimate most ({100 * share:.0f} of 100 of the "
        f"variance). The medians are {_medians(c, v)}. {_reading(c, v)}"
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of all plans; its columns of choices hold levels until here."""
    middle, decimals, n = c["middle"], _places(c), c["plans"].value
    choices = dict(_choices(c))
    apart = {key: found for key, found in c.measured.items() if key.startswith(("held/", "load/", "why"))}
    return Caption(
        f"The estimate under {n:.0f} plans that ask the same question",
        "plans, sorted by estimate",
        f"{n:.0f} estimates, middle 95 of 100 from {fixed(middle.low, decimals)} to "
        f"{fixed(middle.high, decimals)} {v.unit}; {_shown(c)}; joint {p_text(c['joint_p'])}; "
        f"{of_choice(next(iter(choices)), v)}: median {_medians(c, v)}.",
        f"difference in {v.outcome.label}, {v.unit}, {c['contrast']}",
        {
            "choices": [of_choice(name, v) for name in choices],
            "heads": {
                of_choice(name, v): f"{100 * share:.0f} % of the variance" for name, share in choices.items()
            },
        },
        {key: v.fill(LABELS[key]) if key in LABELS else label(found, v) for key, found in apart.items()},
        {choice: {name: level(choice, name, v) for name in _levels(c, choice)} for choice in choices},
        {choice: of_choice(choice, v) for choice in choices},
    )


def _places(c: Claim) -> int:
    return places(c["primary"].low, c["primary"].high)


def _choices(c: Claim) -> list[tuple[str, float]]:
    """Choices and the share of the variance that goes with each, largest first."""
    return [(m.of[0], m.value) for key, m in c.measured.items() if key.startswith("variance/")]


def _shown(c: Claim) -> str:
    """Intervals on either side of 0: counted, or of 100 where shares are rounded."""
    n = 100 if c["primary"].people is None else int(c["plans"].value)
    above, below = (round(n * c[key].value) for key in ("above", "below"))
    of = " of 100" if c["primary"].people is None else ""
    return f"{above}{of} intervals lie above 0, {below} below and {n - above - below} include it"


def _medians(c: Claim, v: Voice) -> str:
    """The medians by level of the choice that moves the estimate most."""
    most, decimals = _choices(c)[0][0], _places(c)
    return listed(
        [f"{fixed(m.value, decimals)} with {level(most, name, v)}" for name, m in _levels(c, most).items()]
    )


def _levels(c: Claim, choice: str) -> dict[str, Measured]:
    """The median estimate by level of a choice."""
    return {m.of[1]: m for key, m in c.measured.items() if key.startswith(f"median/{choice}/")}


def _reading(c: Claim, v: Voice) -> str:
    return {
        "clear": "The reading does not hang on these choices.",
        "includes_0": "The reading does not hang on these choices." + stays(0),
        "parting": f"The reading hangs on {_hangs(c, 'parting', v)}.",
        "all": "The reading hangs on these choices.",
        "smaller": f"Its size hangs on {_hangs(c, 'smaller', v)}: less than half of the plan's own.",
        "neither": "The plans neither agree nor disagree enough to say.",
    }[c.reason]


def _hangs(c: Claim, how: str, v: Voice) -> str:
    on = [key.split("/", 2)[1:] for key in c.numbers if key.startswith(f"{how}/")]
    return listed([f"{of_choice(choice, v)} ({level(choice, name, v)})" for choice, name in on])

"""Words of the challenge that sets load against somebody else's usual load."""

from __future__ import annotations

from lagwise.core.claim import Claim
from lagwise.say.challenge import Caption
from lagwise.say.phrases import asked, capital, fixed, p_text, sample
from lagwise.say.voice import Voice

TITLE = "Random usual load"
QUESTION = "Does a person's own usual load, as it moves, say more than a constant or than somebody else's?"
LIMITS = (
    "A person's usual load changes slowly. It may say little beside the load of the {step} in a short record "
    "even where it matters. It compares how well models fit and is no test of the size of the difference. It "
    "cannot tell load that acts on {outcome} from load that answers it. Where ratings stray from the "
    "{outcome} that load answers, a difference can come from there alone. That shows more clearly against "
    "the own usual load, too, and passes here. The challenge of error in {outcome} ratings looks at it."
)
LABELS = {
    "gain": "better fit with own usual load than with a constant",
    "others": "the same with somebody else's usual load",
    "beyond": "placebo ratios that fit at least as well",
    "p": "p",
    "asked": "people asked, evenly through the record",
}
SHORT = {
    "holds": "one's own usual load says more than somebody else's",
    "does_not_hold": "one's own usual load adds nothing to the fit",
    "cannot_tell": "whether one's own usual load adds anything stays open",
}
READINGS = {
    "holds": (
        "A person's own usual load, as it moves, says more than a constant or somebody else's; so it can "
        "where load only answers {outcome}."
    ),
    "does_not_hold": (
        "The difference seen belongs to the load of the {step}. That the person's own usual load moves adds "
        "nothing to the fit."
    ),
    "cannot_tell": (
        "Whether a person's own usual load, as it moves, adds to the load of the {step} stays open."
    ),
}


def sentence(c: Claim, v: Voice) -> str:
    """How much better the own usual load fits, and how many of somebody else's do as well."""
    gain, beyond = c["gain"], c.get("beyond")
    others = "ratios with the usual load of someone else fit at least as well"
    if beyond is None or gain.people is None:
        chance = f"{capital(others)} with {p_text(c['p'])}"
    else:
        trained = sample(gain, v.step, "trained ")
        chance = f"{beyond.value:.0f} {beyond.unit} {others} ({p_text(c['p'])}; {trained})"
    return (
        f"{asked(c)}Set against the person's own usual load, the load of a {v.step} fits "
        f"{abs(gain.value):.1f} "
        f"{'better' if gain.value > 0 else 'worse'} than against a constant (-2 log likelihood). {chance}. "
        f"{v.fill(READINGS[c.verdict])}"
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the random denominators."""
    gain, others = c["gain"], c["others"]
    return Caption(
        "The person's own usual load against that of others",
        "better fit than with a constant, -2 log likelihood",
        f"Own usual load {fixed(gain.value, 1)}; middle 95 of 100 of random ones {fixed(others.low, 1)} to "
        f"{fixed(others.high, 1)}; {p_text(c['p'])}.",
        "random denominators",
        {
            "mark_label": "own usual load",
            "values_label": f"{c['draws'].value:.0f} random ones",
            "subtitle": sample(c["primary"], v.step),
        },
    )

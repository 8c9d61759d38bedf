"""Words of the challenge of a known truth at the study's size."""

from __future__ import annotations

from typing import Any

from lagwise.challenges.small_world import MECHANISMS, PEOPLE
from lagwise.core.claim import Claim, Measured
from lagwise.say.challenge import Caption, error_said
from lagwise.say.phrases import after, fixed, listed, sample
from lagwise.say.voice import Voice

TITLE = "A known truth at this study's size"
QUESTION = (
    "In simulated records of this size, with these gaps, ratings as inexact and this answer of {exposure} "
    "to {outcome}, does the analysis find what was put in?"
)
LIMITS = (
    "The simulated records follow the model that is tried on them. They have the same slope for everybody, a "
    "rating error that is new {in} every {step}, and gaps where this study has them whatever the {outcome}. "
    "How inexact ratings are is itself estimated. It shows what size, gaps, rating error and feedback alone "
    "do to the answer, and nothing about causes that were not recorded."
)
LABELS = {
    "error": "error SD of a rating",
    "carry": "carry-over of the {outcome} that lasts",
    "answer": "answer of load to the {outcome} that lasts",
    "caseloads": "simulated caseloads in each setting",
    "joint_caseloads": "simulated caseloads the joint model was put to at a true 0",
}
SHORT = {
    "holds": "at this size the analysis finds what was put in",
    "does_not_hold": "at this size intervals leave out the truth too often",
    "cannot_tell": "at this size the analysis is not quite true",
}
OF_SETTING = {
    "bias": "bias: ",
    "coverage": "coverage: ",
    "without_0": "intervals without 0: ",
    "named": "difference named by both estimates: ",
    "mean": "",
}
READINGS = {
    "holds": "At this size the analysis finds what was put in.",
    "does_not_hold": "At this size the intervals leave out the truth too often to be taken at their word.",
    "cannot_tell": "At this size the analysis is not quite true to what was put in.",
}


Setting = dict[str, Any]


def label(found: Measured, v: Voice) -> str:
    """A number of one setting: which model, mechanism, truth and rating error."""
    name, joint, mechanism, truth, decimals, error = found.of
    return (
        f"{OF_SETTING[name]}{'joint model, ' if joint else ''}{_mechanism(mechanism, v)}, true "
        f"{fixed(truth, decimals)}{'' if error is None else f', rating error {error:.2f}'}"
    )


def sentence(c: Claim, v: Voice) -> str:
    """What the analysis found of a true 0 and of the other truths, and how that is to be read."""
    error, every, people = c["error"], _settings(c), c.get("people")
    value, low, high = (error_said(sd, v) for sd in (error.value, error.low, error.high))
    sure = f"{low} to {high} possible{'' if c['told_by_ratings'] else ', hardly told by these ratings'}"
    as_here = f"In simulated caseloads load answers {v.outcome.label} as it does here"
    inexact = f"Ratings are off by an SD of {value} {v.unit} ({sure})."
    if not every:
        return f"{as_here}. {inexact} The analysis was tried on them. {READINGS[c.verdict]}"
    right = MECHANISMS[0] if c.reason == MECHANISMS[0].split()[0] else MECHANISMS[1]
    leads = [s for s in every if s["joint"] == c["led"] and s["error"] is None]
    own, other = ([s for s in leads if (s["mechanism"] == right) == same] for same in (True, False))
    some = ""
    if people is not None and people.value > PEOPLE:
        some = (
            f"To keep it short the joint model was put to {PEOPLE} of the {people.value:.0f} people. So its "
            "intervals are wider there than the study's. "
        )
    found = (_by_both if c["led"] else _by_one)(own, other, every, v)
    first = after(c["primary"], v.step, _mechanism(right, v))
    return f"{as_here}{first}. {inexact} {found} {some}{READINGS[c.verdict]}"


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the mean and the middle 95 of 100 estimates of each setting."""
    every = _settings(c)
    n = {joint: [s["n"] for s in every if s["joint"] == joint] for joint in (False, True)}
    counted = f"{max(n[False]):.0f} simulated caseloads each"
    if n[True]:
        counted += f", {min(n[True]):.0f} to {max(n[True]):.0f} by the joint model"
    return Caption(
        "What the analysis finds when the truth is known",
        f"{v.difference(c)}: mean and middle 95 of 100 caseloads",
        "; ".join(f"{label(s['found'], v)}: mean {fixed(s['mean'], s['decimals'])}" for s in every) + ".",
        options={"subtitle": "; ".join(part for part in (counted, sample(c["primary"], v.step)) if part)},
    )


def _settings(c: Claim) -> list[Setting]:
    """The numbers of each setting by name, with what it is; `found` is its mean."""
    every: dict[str, Setting] = {}
    for key, found in c.measured.items():
        i, _, name = key.partition("/")
        if name:
            every.setdefault(i, {})[name] = found.value
        if name == "mean":
            what = dict(zip(("joint", "mechanism", "truth", "decimals", "error"), found.of[1:], strict=True))
            every[i] |= {"found": found} | what
    return list(every.values())


def _by_one(own: list[Setting], other: list[Setting], every: list[Setting], v: Voice) -> str:
    null = own[0]
    at_limits = listed([f"{100 * (1 - s['coverage']):.1f}" for s in every if s["error"] is not None])
    real = " ".join(f"{_real(s)}." for s in own[1:])
    return (
        f"A true 0 gave on average {fixed(null['mean'], null['decimals'])} {v.unit} ({null['n']:.0f} "
        f"caseloads in each setting). The interval left out 0 in {_of_100(1 - null['coverage'])} (Monte "
        f"Carlo error {100 * null['coverage_error']:.1f}; 5 are expected). At the least and largest error it "
        f"did in {at_limits}. {real} With {_mechanism(other[0]['mechanism'], v)} coverage would be "
        f"{listed([f'{100 * s["coverage"]:.1f}' for s in other])} of 100."
    )


def _by_both(own: list[Setting], other: list[Setting], every: list[Setting], v: Voice) -> str:
    null, late, plain = own[0], other[0], next(s for s in every if not s["joint"])
    real = " ".join(
        f"{_real(s)} ({s['n']:.0f} caseloads, Monte Carlo errors {100 * s['coverage_error']:.1f} and "
        f"{100 * s['seen_error']:.1f})."
        for s in own[1:]
    )
    return (
        f"By the joint model a true 0 gave on average {fixed(null['mean'], null['decimals'])} {v.unit} "
        f"({null['n']:.0f} caseloads). The interval left out 0 in {_of_100(1 - null['coverage'])} (Monte "
        f"Carlo error {100 * null['coverage_error']:.1f}; 5 are expected). By the mixed model, with ratings "
        f"as they are, it did in {_of_100(1 - plain['coverage'])} ({plain['n']:.0f} caseloads). Both lay on "
        f"the same side, so that a report would name a difference, in {_of_100(null['named'])} (Monte Carlo "
        f"error {100 * null['named_error']:.1f}). {real} With {_mechanism(late['mechanism'], v)} a true 0 "
        f"would be covered in {_of_100(late['coverage'])} ({late['n']:.0f} caseloads, Monte Carlo error "
        f"{100 * late['coverage_error']:.1f}). A difference would be named in {_of_100(late['named'])}."
    )


def _of_100(share: float) -> str:
    return f"{100 * share:.1f} of 100"


def _mechanism(name: str, v: Voice) -> str:
    return f"{v.outcome.label if name == MECHANISMS[0] else v.exposure} first"


def _real(s: Setting) -> str:
    """What was found of one truth that is not 0."""
    return (
        f"A true {fixed(s['truth'], s['decimals'])} gave {fixed(s['mean'], s['decimals'])} on average. It "
        f"was covered in {_of_100(s['coverage'])} and {'named' if s['joint'] else 'seen'} in "
        f"{_of_100(s['seen'])}"
    )

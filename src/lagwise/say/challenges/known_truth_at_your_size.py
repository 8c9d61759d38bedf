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
LEAST = 0.9
"""Share of intervals that should at the least hold the truth."""
FINE = 200
"""Caseloads from which tenths of 100 can be told."""


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
    return f"{as_here}{first}. {inexact} {found} {some}{READINGS[c.verdict]}{_short(c, own)}"


def _short(c: Claim, own: list[Setting]) -> str:
    """That intervals miss a large truth though the analysis sees it; empty where they do not."""
    far = own[-1]
    missed = c.verdict == "holds" and far["coverage"] + 2 * far["coverage_error"] < LEAST
    way = "less" if abs(far["mean"]) < abs(far["truth"]) else "more"
    return (
        f" Of a true {fixed(far['truth'], far['decimals'])} it shows {way} than there is." if missed else ""
    )


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
    at_limits = listed([_left_out(s) for s in every if s["error"] is not None])
    real = " ".join(f"{_real(s)}." for s in own[1:])
    return (
        f"A true 0 gave on average {fixed(null['mean'], null['decimals'])} {v.unit} ({null['n']:.0f} "
        f"caseloads in each setting). The interval left out 0 in {_left_out(null)} of 100 (Monte "
        f"Carlo error {_in_100(null, 'coverage_error')}; 5 are expected). At the least and largest error it "
        f"did in {at_limits}. {real} With {_mechanism(other[0]['mechanism'], v)} coverage would be "
        f"{listed([_in_100(s, 'coverage') for s in other])} of 100."
    )


def _by_both(own: list[Setting], other: list[Setting], every: list[Setting], v: Voice) -> str:
    null, late, plain = own[0], other[0], next(s for s in every if not s["joint"])
    real = " ".join(
        f"{_real(s)} ({s['n']:.0f} caseloads, Monte Carlo errors {_in_100(s, 'coverage_error')} and "
        f"{_in_100(s, 'seen_error')})."
        for s in own[1:]
    )
    return (
        f"By the joint model a true 0 gave on average {fixed(null['mean'], null['decimals'])} {v.unit} "
        f"({null['n']:.0f} caseloads). The interval left out 0 in {_left_out(null)} of 100 (Monte Carlo "
        f"error {_in_100(null, 'coverage_error')}; 5 are expected). By the mixed model, with ratings as they "
        f"are, it did in {_left_out(plain)} of 100 ({plain['n']:.0f} caseloads). Both lay on the same side, "
        f"so that a report would name a difference, in {_in_100(null, 'named')} of 100 (Monte Carlo error "
        f"{_in_100(null, 'named_error')}). {real} With {_mechanism(late['mechanism'], v)} a true 0 would be "
        f"covered in {_in_100(late, 'coverage')} of 100 ({late['n']:.0f} caseloads, Monte Carlo error "
        f"{_in_100(late, 'coverage_error')}). A difference would be named in {_in_100(late, 'named')} of 100."
    )


def _in_100(s: Setting, name: str) -> str:
    """A share of a setting's caseloads, or its error, of 100: in tenths where there are many."""
    return _share(s[name], s)


def _left_out(s: Setting) -> str:
    return _share(1 - s["coverage"], s)


def _share(share: float, s: Setting) -> str:
    return f"{100 * share:.{int(s['n'] >= FINE)}f}"


def _mechanism(name: str, v: Voice) -> str:
    return f"{v.outcome.label if name == MECHANISMS[0] else v.exposure} first"


def _real(s: Setting) -> str:
    """What was found of one truth that is not 0."""
    return (
        f"A true {fixed(s['truth'], s['decimals'])} gave {fixed(s['mean'], s['decimals'])} on average. It "
        f"was covered in {_in_100(s, 'coverage')} of 100 and {'named' if s['joint'] else 'seen'} in "
        f"{_in_100(s, 'seen')} of 100"
    )

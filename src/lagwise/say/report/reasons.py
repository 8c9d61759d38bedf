"""Reasons in words: why there is no answer, why an exposure is left out, why a chance was not estimated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lagwise.core.gate import gate_for
from lagwise.core.numbers import people_said, plural
from lagwise.core.words import listed
from lagwise.findings import Findings, FitFacts
from lagwise.say.report.fitted import (
    Why,
    known_steps,
    left_out,
    main_fit,
    measure,
    training_rows,
    why_out,
    why_unknown,
)
from lagwise.say.report.words import Words

FEW = (Why.FEW_PEOPLE, Why.FEW_WITH_STEPS)
"""Reasons of which the gate's own sentence speaks."""


@dataclass(frozen=True)
class Reason:
    """Why something is missing: a code, and a sentence that goes on after a colon."""

    why: Why
    sentence: str


def no_answer(findings: Findings) -> Reason:
    """Why the main question has no answer: the first that holds, from who was followed to what the fit came
    to.
    """
    words, fit = Words(findings), main_fit(findings)
    people, term = findings.number("people"), words.term
    if people is not None and people < 5:
        return Reason(
            Why.FEW_PEOPLE, "with this few people nothing is estimated, and the record is described."
        )
    unknown = not known_steps(findings, term) or (term == "jump" and findings.number("usual_steps") == 0)
    if unknown and not _estimates(fit, term):
        why = why_unknown(findings, term)
        return Reason(why, f"{unknown_said(findings, words, term, why)}.")
    if not _estimates(fit, term):
        found = _steps(findings, words, fit)
        if found is not None:
            return found
    if fit is None:
        return Reason(Why.NOT_FITTED, "no model of it was fitted.")
    name = fit.by.label
    if fit.usable:
        why = why_out(findings, fit, term)
        return Reason(why, f"{dropped_said(findings, words, term, why)}.")
    if any(r.get("passed") is False for r in fit.diagnostics.records()):
        return Reason(Why.GATE, f"the {name} is not usable ({fit.why_not.rstrip('.')}).")
    return Reason(
        Why.NOT_POSSIBLE, f"the {name} is not usable ({fit.why_not.rstrip('.') or 'it could not be fitted'})."
    )


def _estimates(fit: FitFacts | None, term: str) -> bool:
    return fit is not None and any(r.term == term for r in fit.effects)


def _steps(findings: Findings, words: Words, fit: FitFacts | None) -> Reason | None:
    """Why no step, or steps of too few people, could enter the main model; None where neither is so."""
    step, steps = words.step, words.steps
    if findings.rated("pairs").value == 0:
        return Reason(
            Why.NO_NEXT, f"no rating of {words.asked} is followed by one {words.on} the next {step}."
        )
    exposure = words.exposure if words.term == "jump" else words.label(words.term)
    needed = f"{exposure}{words.needed}"
    if not findings.numbers["main_steps"].value and findings.numbers["main_steps"].value is not None:
        return Reason(Why.NO_STEPS, f"{needed} are all known {words.on} no {step}.")
    if findings.gate.name == "describe":
        some = people_said(findings.number("main_people"))
        verb = "has" if findings.number("main_people") == 1 else "have"
        said = f"only {some} {verb} {steps} in which {needed} are all known; below 5 nothing is estimated."
        return Reason(Why.FEW_WITH_STEPS, said)
    if fit is not None and fit.n_steps and gate_for(fit.n_people).name == "describe":
        return Reason(
            Why.FEW_COMPLETE,
            f"only {people_said(fit.n_people)} {'has' if fit.n_people == 1 else 'have'} "
            f"{steps} in which the other exposures are known as well"
            f"{_rarest(findings, words)}; below 5 nothing is estimated.",
        )
    return None


def _rarest(findings: Findings, words: Words) -> str:
    """The other exposure known in the fewest steps."""
    others = [
        t for t in findings.study.of("analysis", "exposures") if t != words.term and known_steps(findings, t)
    ]
    if not others or "missing" not in findings.tables:
        return ""
    rarest = min(others, key=lambda t: known_steps(findings, t))
    return f" ({words.label(rarest)} is known least, in {plural(known_steps(findings, rarest), words.step)})"


def unknown_said(findings: Findings, words: Words, term: str, why: Why) -> str:
    """Why an exposure is known for no step, as a clause."""
    load = term == "jump"
    if why is Why.NO_USUAL:
        needs, of = (findings.study.of("load", k) for k in ("usual_needs", "usual_steps"))
        return (
            f"no {words.step} has a usual load to compare with, which takes {needs} known loads among the "
            f"{of} {words.steps} before"
        )
    if why is Why.OFF_SCALE:
        what = f"load in {measure(findings)}" if load else words.label(term)
        return f"what was written down as {what} lay outside its range and was set aside"
    if why is Why.OTHER_MEASURE:
        rows = training_rows(findings)
        trained = (
            f"{plural(rows, 'row')} of training {'was' if rows == 1 else 'were'} read"
            if rows
            else f"{words.steps} are marked as trained"
        )
        return f"no load in {measure(findings)} is known, though {trained}"
    return "no training load was recorded" if load else f"{words.label(term)} was not recorded"


def dropped_said(findings: Findings, words: Words, term: str, why: Why) -> str:
    """Why an exposure is in no model, as a clause."""
    name = words.label(term)
    said = {
        Why.CONSTANT: f"{name} did not vary within people",
        Why.HARDLY: f"{name} varied too little within people",
        Why.MIXTURE: f"{name} cannot be told apart from what else was recorded",
        Why.LEFT_OUT: f"{name} is not in the model that could be fitted",
    }
    return said[why] if why in said else unknown_said(findings, words, term, why)


def left_said(findings: Findings, words: Words) -> str:
    """What the plan names and the fit does not hold, each with its reason, as one sentence; empty when
    nothing is missing.
    """
    gone = left_out(findings)
    if not gone:
        return ""
    said = [f"{words.briefly(g.term)} ({SHORT[g.why]})" for g in gone]
    return (
        f"Of the exposures in the plan, {listed(said)} {'is' if len(said) == 1 else 'are'} not in the model."
    )


SHORT = {
    Why.NOT_RECORDED: "not recorded",
    Why.OFF_SCALE: "every value lay outside its range and was set aside",
    Why.OTHER_MEASURE: "no load in the plan's measure is known",
    Why.NO_USUAL: "no usual load is known",
    Why.CONSTANT: "did not vary within people",
    Why.HARDLY: "varied too little within people",
    Why.MIXTURE: "not told apart from what else was recorded",
    Why.LEFT_OUT: "left out of the model that could be fitted",
}
"""Why an exposure is left out, in brackets behind its name."""


UNTOLD = "What this challenge found is not told in a version to share."
"""Of one without a claim, or without a number that may be shared."""
NOT_RUN = "it cannot be run on these records"
"""Of a challenge, in the same."""


def unusable(checks: Sequence[str]) -> str:
    """Why a fit is not usable, in a version to share: the checks that it failed, where it was made at all."""
    failed = f"it did not pass its checks ({'; '.join(checks)})"
    return failed if checks else "it could not be fitted to these records"


OF_FEW = (
    f"{people_said(None).capitalize()} have enough recorded for the main question; the caseload is described "
    "and nothing is estimated."
)
"""The sentence of the gate of fewer people than a version to share counts."""


def no_chance(findings: Findings) -> str:
    """Why the chance of a difference that matters is not told, as a clause."""
    said = "the chance of a difference that matters was not estimated"
    fit = next((f for f in findings.fits if f.by.interval == "credible"), None)
    if fit is None:
        quick = findings.provenance.settings.get("quick") is True
        return (
            f"{said}, since "
            f"{'a quick run leaves out the Bayesian model' if quick else 'no Bayesian model was fitted'}"
        )
    name = fit.by.label
    failed = {str(r["gate"]): r["value"] for r in fit.diagnostics.records() if r.get("passed") is False}
    if set(failed) == {"divergences"}:
        total = int(fit.settings.get("draws") or 0) * int(fit.settings.get("chains") or 0)
        of = f" of {plural(total, 'draw')}" if total else ""
        return (
            f"{said}, since the sampler of the {name} lost its path in {int(failed['divergences'] or 0)}{of}"
        )
    if fit.usable:
        return said
    if not failed and fit.n_steps and not gate_for(fit.n_people).mixed:
        return f"{said}, since the {name} takes at least 10 people"
    return f"{said}, since the {name} is not usable ({fit.why_not.rstrip('.') or 'it could not be fitted'})"

"""The true value of each reported estimand on its own scale, by simulating many people."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.results import Caseload, Panel
from lagwise.core.study import Study
from lagwise.models.design import available, design
from lagwise.models.ladder import climb
from lagwise.synthetic.fast import panel_of
from lagwise.synthetic.observe import DayNoise, Records, day_noise, observe, rate_pain
from lagwise.synthetic.process import Weeks, run
from lagwise.synthetic.spec import Spec

PEOPLE = 4000
SEED = 20240101
STORED = "truths.json"
"""True values of the shipped caseloads, so that another seed of one does not simulate them again."""
STRUCTURAL: Mapping[str, str] = MappingProxyType(
    {
        "jump": "of_jump",
        "effort": "of_effort",
        "stress": "of_stress",
        "sleep_hours": "of_sleep",
        "worry": "of_worry",
    }
)
"""Field of the process that holds what an exposure adds to next week's pain, per unit."""
_PLANS = {"during": "B", "before": "A"}
CHANGED = (
    "event", "set off by", "rating", "true difference", "its error", "before and after",
    "error of that",
)  # fmt: skip
"""Columns of `changes_beside`."""


def truth_beside(caseload: Caseload) -> dict[str, Any]:
    """What the truth.json in an invented caseload's folder holds: `values`, rows as `true_values` gives them,
    and `structural`.

    Raises
    ------
    LagwiseError
        When there is none, as beside every real log, or none that can be read.
    """
    found = _beside(caseload)
    try:
        return {"values": [dict(row) for row in found["values"]], "structural": dict(found["structural"])}
    except KeyError as error:
        raise LagwiseError("the truth beside it says nothing of exposures") from error
    except (TypeError, ValueError) as error:
        raise LagwiseError("the truth beside it cannot be read") from error


def changes_beside(caseload: Caseload) -> pd.DataFrame:
    """What truly followed each kind of event of an invented caseload, by its truth.json.

    Returns
    -------
    DataFrame
        event, set off by (pain as 'rated', 'felt', 'planned': not by pain), rating, true difference (mean of
        four ratings after, less the same without the event, in points) and before and after (the true value
        of that other question), each with its Monte Carlo error.

    Raises
    ------
    LagwiseError
        When no such truth lies beside it, or none that can be read.
    """
    found = _beside(caseload).get("changes")
    if not found:
        raise LagwiseError("the truth beside it says nothing of events")
    names = ("difference", "mc_error", "before_after", "before_after_mc_error")
    try:
        rows = [
            (kind, told["set_off"], rating, *(float(one[name]) for name in names))
            for kind, told in found.items()
            for rating, one in told["differences"].items()
        ]
    except (KeyError, TypeError, ValueError) as error:
        raise LagwiseError("the truth beside it cannot be read") from error
    return pd.DataFrame(rows, columns=list(CHANGED))


def _beside(caseload: Caseload) -> dict[str, Any]:
    path = Path(caseload.folder or ".") / "truth.json"
    if not caseload.folder or not path.is_file():
        raise LagwiseError("no truth lies beside it; only an invented caseload can carry one")
    try:
        return dict(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError) as error:
        raise LagwiseError("the truth beside it cannot be read") from error


def true_values(spec: Spec, study: Study, *, n_people: int = PEOPLE, anew: bool = False) -> dict[str, Any]:
    """Parameters and true values of what the reports estimate.

    Parameters
    ----------
    spec : Spec
    study : Study
        Its contrast, flare rise and exposures say which estimands.
    n_people : int
        People simulated, each for `spec.n_steps` weeks.
    anew : bool
        Simulate also where the values lie stored, as for the shipped caseloads: they depend on the process
        and the plan alone, not on the seed.

    Returns
    -------
    dict, JSON-able
        `parameters` of the process; `structural`: points of next week's true pain per unit, before floor and
        rounding; `values`: a list of {term, outcome, contrast, scale, adjustment, pain_adjusted, kind, value,
        mc_error}. kind 'intervention' is the mean change of the recorded outcome when that one term of that
        one week is set, by the process itself; kind 'regression' is what the mixed model named by adjustment
        and pain_adjusted converges to with many people followed for as many weeks, bias included; kind
        'same_week' is the slope of the same week's pain. mc_error is the Monte Carlo standard error of value.
    """
    asked = study.pain.flare_rise, study.analysis.primary_contrast, study.analysis.exposures
    known = None if anew else _stored(spec, *asked, n_people)
    values = _values(spec, *asked, n_people) if known is None else known
    return {
        "parameters": spec.plain(),
        "structural": {term: getattr(spec, name) for term, name in STRUCTURAL.items()},
        "people_simulated": n_people,
        "values": [dict(value) for value in values],
    }


def _stored(
    spec: Spec, rise: float, contrast: float, exposures: tuple[str, ...], n_people: int
) -> list[dict[str, Any]] | None:
    asked = {"rise": rise, "contrast": contrast, "exposures": [*exposures], "people": n_people}
    path = files("lagwise.synthetic") / STORED
    for known in json.loads(path.read_text(encoding="utf-8")) if path.is_file() else ():
        if known["asked"] == asked and known["parameters"] == spec.plain():
            return list(known["values"])
    return None


def stored(found: Mapping[str, Any], study: Study) -> dict[str, Any]:
    """True values as they lie in the file `STORED`, with what they were asked for."""
    analysis = study.analysis
    asked = {
        "rise": study.pain.flare_rise,
        "contrast": analysis.primary_contrast,
        "exposures": [*analysis.exposures],
        "people": found["people_simulated"],
    }
    return {"asked": asked, "parameters": found["parameters"], "values": found["values"]}


@lru_cache(maxsize=8)
def _values(
    spec: Spec, rise: float, contrast: float, exposures: tuple[str, ...], n_people: int
) -> tuple[dict[str, Any], ...]:
    rng = np.random.default_rng(SEED)
    big = replace(spec, n_people=n_people)
    weeks = run(big, rng)
    records = observe(weeks, big, rng)
    plan = Study("Large simulation")
    panel = panel_of(weeks, records, rng, plan)
    out = interventions(weeks, records, big, rng, rise, contrast)
    out += regressions(panel, exposures, contrast)
    return tuple(out)


def interventions(
    weeks: Weeks, records: Records, spec: Spec, rng: np.random.Generator, rise: float, contrast: float
) -> list[dict[str, Any]]:
    """True mean changes of next week's recorded pain when one term of one week is set to another value."""
    noise = day_noise(spec, rng, records.pattern)
    trained = (weeks.load > 0)[:, :-1] & records.present[:, 1:]
    flat = -weeks.slope[:, None] * weeks.jump
    up = flat + weeks.slope[:, None] * math.log1p(contrast)
    now = _week_mean(records.pain, records)[:, :-1]

    def outcome(change: np.ndarray | float) -> np.ndarray:
        return _next_rating(weeks, records, change, noise, spec)

    usual, raised = outcome(flat), outcome(up)
    label = f"{contrast * 100:+g} %"
    out = [
        _value("jump", "pain_next", label, "points", raised - usual, trained),
        _value("jump", "pain_rise", label, "probability",
               _rises(raised, now, rise) - _rises(usual, now, rise), trained),
        _value("jump", "pain_zero", label, "probability", _zero(raised) - _zero(usual), trained),
    ]  # fmt: skip
    as_it_was = outcome(0.0)
    for term, name in STRUCTURAL.items():
        if term != "jump":
            change = outcome(getattr(spec, name)) - as_it_was
            out.append(_value(term, "pain_next", "per unit", "points", change, records.present[:, 1:]))
    return out


def regressions(panel: Panel, exposures: tuple[str, ...], contrast: float) -> list[dict[str, Any]]:
    """What the mixed models of the reports converge to on these many people."""
    out = []
    kept, _ = available(panel, exposures)
    for pain in _PLANS:
        fits = [("adjusted", kept)] + [("crude", (term,)) for term in kept]
        for adjustment, terms in fits:
            rung = climb(
                design(panel, exposures=terms, pain_adjusted=pain, adjustment=adjustment),
                "jump" if "jump" in terms else "",
            )
            for term in terms:
                column = term if term == "jump" else f"{term}_within"
                got = rung.estimates.contrast(rung.weights(column))
                row = {
                    "term": term, "outcome": "pain_next", "contrast": "per unit", "scale": "points",
                    "adjustment": adjustment, "pain_adjusted": pain, "kind": "regression",
                    "value": _round(got.estimate[0]), "mc_error": _round(got.std_error[0]),
                }  # fmt: skip
                out.append(row)
                if term == "jump" and adjustment == "adjusted":
                    size = math.log1p(contrast)
                    out.append(row | {
                        "contrast": f"{contrast * 100:+g} %", "value": _round(got.estimate[0] * size),
                        "mc_error": _round(got.std_error[0] * size),
                    })  # fmt: skip
    try:
        same = climb(design(panel, exposures=("jump",), pain_adjusted="none", outcome="pain"), "jump")
    except ModelError:
        return out
    got = same.estimates.contrast(same.weights("jump"))
    return [*out, {
        "term": "jump", "outcome": "pain", "contrast": "per unit", "scale": "points", "adjustment": "crude",
        "pain_adjusted": "none", "kind": "same_week", "value": _round(got.estimate[0]),
        "mc_error": _round(got.std_error[0]),
    }]  # fmt: skip


def _next_rating(
    weeks: Weeks, records: Records, change: np.ndarray | float, noise: DayNoise, spec: Spec
) -> np.ndarray:
    """(n, T-1) recorded mean of next week's ratings when this week's expectation is shifted by `change`."""
    shifted = np.clip(weeks.expected + change + weeks.shock, 0, 10)
    if spec.same_week:
        shifted[:, :-1] = np.clip(shifted[:, :-1] + spec.same_week * weeks.jump[:, 1:], 0, 10)
    later = DayNoise(noise.deviation[:, 1:], noise.uniform[:, 1:])
    return _week_mean(rate_pain(shifted[:, :-1], later, spec.heaping), records)


def _week_mean(ratings: np.ndarray, records: Records) -> np.ndarray:
    """(n, weeks) mean over the days on which the person would check in."""
    due = records.due[:, None, :]
    return (ratings * due).sum(axis=2) / due.sum(axis=2)


def _rises(later: np.ndarray, now: np.ndarray, rise: float) -> np.ndarray:
    return (later - now >= rise - 1e-9).astype(float)


def _zero(later: np.ndarray) -> np.ndarray:
    return (np.floor(later + 0.5) == 0).astype(float)


def _value(
    term: str, outcome: str, contrast: str, scale: str, change: np.ndarray, where: np.ndarray
) -> dict[str, Any]:
    n = where.sum(axis=1)
    person = np.where(where, change, 0.0).sum(axis=1)
    mean = person.sum() / n.sum()
    spread = np.sqrt(np.sum((person - mean * n) ** 2)) / n.sum()
    return {
        "term": term, "outcome": outcome, "contrast": contrast, "scale": scale, "adjustment": "none",
        "pain_adjusted": "none", "kind": "intervention", "value": _round(mean), "mc_error": _round(spread),
    }  # fmt: skip


def _round(value: float) -> float:
    return round(float(value), 3) + 0.0

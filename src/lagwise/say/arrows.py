"""What may drive what, before anything is compared: as a table of arrows and as a picture of them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import pandas as pd

from lagwise.core.results import Panel, Picture
from lagwise.core.study import Study
from lagwise.core.terms import on_load_side, whole
from lagwise.core.words import capital, exposure_label, listed

PLACES: Mapping[str, tuple[float, float]] = MappingProxyType({
    "now": (1.2, 1.2), "rating": (1.2, 3.1), "exposure": (3.9, 2.3), "through": (6.3, 2.8),
    "others": (3.9, 4.5), "hidden": (5.9, 0.2), "next": (8.8, 1.7),
})  # fmt: skip
"""Where things stand in the picture: time runs to the right."""


def arrows(panel: Panel) -> pd.DataFrame:
    """The ways from the primary exposure to the outcome, what each would do to the comparison, and what is
    done about it.

    Returns
    -------
    DataFrame
        way, arrows (their numbers in `arrows_picture`), what_it_would_do, what_is_done.
    """
    study = panel.study
    numbers = {(a, b): number for number, a, b in _drawn(study)}
    rows = []
    for way, (pairs, would, done) in _ways(study).items():
        at = [str(numbers[pair]) for pair in pairs if pair in numbers]
        rows += [(way, listed(at), would, done)] if at else []
    return pd.DataFrame(rows, columns=["way", "arrows", "what_it_would_do", "what_is_done"])


def arrows_picture(panel: Panel) -> Picture:
    """The arrows of `arrows` as a directed graph."""
    study, drawn = panel.study, _drawn(panel.study)
    named = _names(study)
    table = pd.DataFrame(drawn, columns=["arrow", "source", "target"])
    table["dashed"] = table["source"].eq("hidden")
    there = dict.fromkeys([*table["source"], *table["target"]])
    each = "; ".join(f"{n}: {named[a]} to {named[b]}" for n, a, b in drawn)
    return Picture(
        "arrows",
        f"What may drive what, from one {study.step} to the next",
        table,
        "",
        "",
        f"Directed graph of {len(drawn)} arrows. {each}.",
        {
            "places": {name: [*PLACES[name], named[name]] for name in there},
            "asked": "exposure",
            "subtitle": "an assumption, not a finding; dashed: nothing in the record tells of it",
        },
    )


def _drawn(study: Study) -> list[tuple[int, str, str]]:
    pairs = [("exposure", "next"), ("now", "exposure"), ("now", "next"), ("now", "rating")]
    pairs += [("others", "exposure"), ("others", "next")] if _others(study) else []
    pairs += [("exposure", "through"), ("through", "next")] if _through(study) else []
    pairs += [("hidden", "exposure"), ("hidden", "next")]
    return [(number, *pair) for number, pair in enumerate(pairs, 1)]


def _through(study: Study) -> list[str]:
    """Exposures that tell of the training itself, beside a primary one that is load."""
    term = study.analysis.primary
    return [t for t in study.analysis.exposures if on_load_side(t) and t != term] if whole(term) else []


def _others(study: Study) -> list[str]:
    apart = {study.analysis.primary, *_through(study)}
    return [t for t in study.analysis.exposures if t not in apart]


def _exposure(study: Study) -> str:
    term = study.analysis.primary
    return "load" if whole(term) else exposure_label(term, study.variables)


def _labels(study: Study, terms: list[str]) -> str:
    return listed([exposure_label(term, study.variables) for term in terms])


def _names(study: Study) -> dict[str, str]:
    asked, step = study.outcome.variable.label, study.step
    return {
        "exposure": f"{_exposure(study)} of a {step}",
        "next": f"{asked} of the next {step}",
        "now": f"{asked} of that {step}",
        "rating": "its rating",
        "others": _labels(study, _others(study)),
        "through": _labels(study, _through(study)),
        "hidden": "what nobody wrote down: illness, a hard month at work",
    }


def _ways(study: Study) -> dict[str, tuple[list[tuple[str, str]], str, str]]:
    asked, step, by = study.outcome.variable.label, study.step, _exposure(study)
    through, others = _labels(study, _through(study)), _labels(study, _others(study))
    earlier = (
        f"People train less when it hurts, and {asked} lasts: a {step} with less {by} would seem to be "
        f"followed by more {asked}, whatever {by} does."
        if whole(study.analysis.primary) and study.outcome.variable.flares
        else f"{capital(asked)} may move {by}, and lasts: {by} would seem to be followed by what was there "
        "already."
    )
    return {
        "straight": ([("exposure", "next")], "It is the arrow that is asked about.", "its size is estimated"),
        f"round by {asked} of that {step}": (
            [("now", "exposure"), ("now", "next")], earlier, f"{asked} of that {step} is held equal"
        ),
        "round by what a rating misses": (
            [("now", "rating")],
            f"A rating is a little off. Where the rating is held equal, and not the {asked} behind it, part "
            "of the way above stays open.",
            "an attempt to break the answer sizes it",
        ),
        f"round by {others}": (
            [("others", "exposure"), ("others", "next")],
            f"What moves both {by} and {asked} lends {by} its own share: the difference grows, shrinks or "
            "turns.",
            "held equal where recorded",
        ),
        f"through {through}": (
            [("exposure", "through"), ("through", "next")],
            f"Part of what {by} does may run through {through}. Held equal, that part is taken away.",
            "shown both with it held equal and without",
        ),
        "round by what nobody wrote down": (
            [("hidden", "exposure"), ("hidden", "next")],
            "It would do the same as what was recorded, and cannot be held equal.",
            "an attempt to break the answer asks how much of it could change the reading",
        ),
    }  # fmt: skip

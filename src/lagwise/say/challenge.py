"""Challenges run and put into words: the public `challenge`, and what it says of a claim."""

from __future__ import annotations

import inspect
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any, Protocol, cast

import numpy as np
import pandas as pd

from lagwise.challenges.context import NOTHING, Context, Drawing, Found
from lagwise.challenges.registry import REGISTRY, Entry, named
from lagwise.challenges.work import open_executor
from lagwise.core.claim import Claim
from lagwise.core.errors import LagwiseError, ModelError, NotApplicable
from lagwise.core.results import Challenge, Challenges, Fit, Panel, Picture
from lagwise.core.study import Study
from lagwise.say.voice import Voice

Progress = Callable[[str, int, int], None]
"""Called before each challenge with its name, its 0-based place and how many there are."""


COLUMNS = ("quantity", "value", "low", "high", "unit", "key")
"""Of a challenge's table."""


@dataclass(frozen=True)
class Caption:
    """Words of a picture: title, axis labels with units, alternative text, text options, labels that differ
    from the table's, and by column the words of other cells.
    """

    title: str
    x: str
    alt: str
    y: str = ""
    options: Mapping[str, Any] = field(default_factory=lambda: NOTHING)
    labels: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    cells: Mapping[str, Mapping[str, str]] = field(default_factory=lambda: NOTHING)


class Words(Protocol):
    """The shape of a module that speaks for a challenge. Texts may hold {step}, {steps}, {exposure} and
    {outcome}.

    `LABELS` gives the numbers' labels by key, `label(measured, voice)` those that are not in it. `caption`
    may be left out where nothing is drawn. A challenge from outside may hold its own words; else they are
    looked for by its name in `lagwise.say.challenges`.
    """

    TITLE: str
    QUESTION: str
    LIMITS: str
    LABELS: Mapping[str, str]

    @staticmethod
    def sentence(claim: Claim, voice: Voice) -> str:
        """What was found, from the claim alone."""
        ...

    @staticmethod
    def caption(claim: Claim, voice: Voice) -> Caption:
        """The words of the picture."""
        ...


def challenge(
    panel: Panel,
    fit: Fit,
    *,
    only: Iterable[str] | None = None,
    also: Iterable[Entry] = (),
    seed: int = 1,
    draws: int = 999,
    quick: bool = False,
    bayes: Fit | None = None,
    joint: Fit | None = None,
    people: pd.DataFrame | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> Challenges:
    """Try to break the primary result of a fit.

    Parameters
    ----------
    panel : Panel
        The panel the fit was made from. It is not changed.
    fit : Fit
        From `fit_mixed`.
    only : names of challenges, optional
        All of the registry by default, in its order. A challenge's numbers do not depend on which others run.
    also : challenges of your own, optional
        Modules or objects of the shape in `lagwise.challenges.registry.Entry` that hold their own words, run
        after the others.
    seed : int
        Each challenge draws from a stream of its own, made from this seed and its name.
    draws : int
        Shuffles or resamples of a challenge that needs them, at least 999.
    workers : local processes for independent tasks; None or 1 means this process. Numbers do not depend on
        it.
    cluster : address of a Dask scheduler, in place of local processes
    quick : fewer simulated caseloads, imputations and shuffled specifications
    bayes : Fit, optional
        From `fit_ordinal`; the challenge of the prior needs it.
    joint : Fit, optional
        From `fit_rated` of the same panel: challenges go on from it and do not fit it again.
    people : DataFrame, optional
        The caseload's people table; its `region` tells which exercise group bears on whose pain.
    progress : callable(name, i, n), optional

    Returns
    -------
    Challenges
        One `Challenge` each, with its seconds. One that cannot be run has the verdict cannot_tell and
        `problem` in words; `applies` is False where it is about something that the study does not ask or
        record.

    Raises
    ------
    LagwiseError
        When a name in `only` is not in the registry, or `draws` is below 999.
    """
    if draws < 999:
        raise ModelError(f"{draws} shuffles are too few", mend="Use at least 999.")
    entries = (*(REGISTRY if only is None else named(only)), *also)
    results = []
    with open_executor(workers, cluster) as executor:
        context = Context(panel, fit, bayes, seed, draws, quick, executor, _regions(people), joint)
        for i, entry in enumerate(entries):
            if progress is not None:
                progress(entry.NAME, i, len(entries))
            results.append(_timed(entry, context))
    return Challenges(tuple(results), seed)


def _regions(people: pd.DataFrame | None) -> dict[str, str] | None:
    if people is None or "region" not in people.columns:
        return None
    known = people.dropna(subset=["region"])
    return dict(zip(known["person"].astype(str), known["region"].astype(str), strict=True)) or None


def _timed(entry: Entry, context: Context) -> Challenge:
    began, voice = time.perf_counter(), Voice.of(context.panel.study)
    words = words_of(entry)
    problem, applies = "", True
    made: dict[str, Any] = {"verdict": "cannot_tell", "numbers": pd.DataFrame(columns=list(COLUMNS))}
    try:
        if why := getattr(entry, "applies", lambda _: "")(context.panel.study):
            raise NotApplicable(why)
        made = _worded(words, entry.run(context), voice)
    except LagwiseError as error:
        problem, applies = str(error), not isinstance(error, NotApplicable)
    except np.linalg.LinAlgError as error:
        problem = f"the numbers could not be worked out ({error})"
    if problem:
        made["sentence"] = f"This challenge {'could not be run' if applies else 'does not apply here'}."
    made |= {name: voice.fill(getattr(words, name.upper())) for name in ("title", "question", "limits")}
    seconds = time.perf_counter() - began
    return Challenge(name=entry.NAME, **made, seconds=seconds, problem=problem, applies=applies)


def _worded(words: Words, found: Found, voice: Voice) -> dict[str, Any]:
    claim = found.claim
    return {
        "verdict": claim.verdict,
        "numbers": table(words, claim, voice),
        "sentence": words.sentence(claim, voice),
        "picture": None if found.picture is None else picture(words, claim, found.picture, voice),
        "claim": claim,
    }


def words_of(entry: Entry) -> Words:
    """What speaks for a challenge: itself where it holds its own words, else the module of its name."""
    own = hasattr(entry, "TITLE")
    return cast(Words, entry if own else import_module(f"lagwise.say.challenges.{entry.NAME}"))


def known_words(name: str) -> Words | None:
    """What speaks for the registry's challenge of that name, None where it has none."""
    return next((words_of(entry) for entry in REGISTRY if name == entry.NAME), None)


def label(words: Words, key: str, claim: Claim, voice: Voice) -> str:
    """A number's label in tables and figures."""
    return voice.fill(words.LABELS[key]) if key in words.LABELS else cast(Any, words).label(claim[key], voice)


def table(words: Words, claim: Claim, voice: Voice) -> pd.DataFrame:
    """A claim's numbers: quantity, value, low, high, unit, key; NaN limits where there is no interval.

    `quantity` is for people and may be reworded; `key` is what texts look a number up by.
    """
    told = {key: found for key, found in claim.measured.items() if found.told}
    rows = [
        (label(words, k, claim, voice), float(n.value), float(n.low), float(n.high), n.unit, k)
        for k, n in told.items()
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def picture(words: Words, claim: Claim, drawing: Drawing, voice: Voice) -> Picture:
    """A drawing with its words: labels in the place of keys."""
    said, data = words.caption(claim, voice), drawing.data
    if "key" in data:
        labels = [said.labels.get(key) or label(words, key, claim, voice) for key in data["key"]]
        data = data.rename(columns={"key": "label"}).assign(label=labels)
    elif said.labels:
        data = data.assign(label=data["label"].replace(dict(said.labels)))
    data = data.assign(**{name: data[name].replace(dict(told)) for name, told in said.cells.items()})
    return Picture(
        drawing.kind, said.title, data, said.x, said.y, said.alt, {**drawing.options, **said.options}
    )


def markdown() -> str:
    """The index of challenges as Markdown: one section each with what it asks, what it does, its rule and its
    limits."""
    parts = []
    for entry in REGISTRY:
        words = words_of(entry)
        paragraphs = [" ".join(p.split()) for p in (inspect.getdoc(entry.run) or "").split("\n\n")]
        parts.append(f"### {words.TITLE} (`{entry.NAME}`)")
        parts.append(f"*{words.QUESTION}*")
        parts.extend(paragraphs)
        parts.append(f"What it cannot show: {words.LIMITS}")
    return Voice.of(Study("")).fill("\n\n".join(parts)) + "\n"

"""Challenges run and put into words: the public `challenge`, and what it says of a claim."""

from __future__ import annotations

import inspect
import time
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from importlib import import_module
from typing import Any, Protocol, cast

import numpy as np
import pandas as pd

from lagwise.challenges.context import NOTHING, Context, Drawing, Found, intervals
from lagwise.challenges.registry import REGISTRY, Entry, named
from lagwise.challenges.work import open_executor
from lagwise.core import numbers
from lagwise.core.aside import begin
from lagwise.core.claim import Claim, Measured
from lagwise.core.errors import LagwiseError, ModelError, NotApplicable
from lagwise.core.results import VERDICTS, Challenge, Challenges, Fit, Panel, Picture
from lagwise.core.study import Study
from lagwise.say.phrases import capital, said, sample
from lagwise.say.voice import Voice

Progress = Callable[[str, int, int], None]
"""Called before each challenge with its name, its 0-based place and how many there are."""


COLUMNS = ("quantity", "value", "low", "high", "unit", "key")
"""Of a challenge's table."""


@dataclass(frozen=True)
class Caption:
    """Words of a picture: title, axis labels with units, alternative text, text options (the subtitle is the
    claim's denominators where none is given), labels that differ from the table's, by column the words of
    other cells, and columns that are called otherwise.
    """

    title: str
    x: str
    alt: str
    y: str = ""
    options: Mapping[str, Any] = field(default_factory=lambda: NOTHING)
    labels: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    cells: Mapping[str, Mapping[str, str]] = field(default_factory=lambda: NOTHING)
    columns: Mapping[str, str] = field(default_factory=lambda: NOTHING)


Text = str | Callable[[Voice], str]
"""A fixed text with {step}, {steps}, {in}, {exposure} and {outcome}, or one that asks more of the voice."""


class Words(Protocol):
    """The shape of what speaks for a challenge.

    `LABELS` gives the numbers' labels by key, `label(measured, voice)` those that are not in it; a key that
    has neither is its own label. Without `caption(claim, voice)` a picture is called after the challenge and
    its numbers. A challenge from outside holds its own words; else they are looked for by its name in
    `lagwise.say.challenges`.
    """

    TITLE: Text
    QUESTION: Text
    LIMITS: Text
    LABELS: Mapping[str, Text]

    @staticmethod
    def sentence(claim: Claim, voice: Voice) -> str:
        """What was found, from the claim alone."""
        ...


@dataclass(frozen=True)
class Attempt:
    """A challenge in one piece, with its own words: what `attempt` makes of a function."""

    NAME: str
    TITLE: Text
    QUESTION: Text
    LIMITS: Text
    LABELS: Mapping[str, Text]
    run: Callable[[Context], Found | Claim]
    sentence: Callable[[Claim, Voice], str]
    applies: Callable[[Study], str]


def attempt(
    sentence: Callable[[Claim, Voice], str],
    *,
    title: Text,
    question: Text,
    limits: Text,
    labels: Mapping[str, Text] = NOTHING,
    applies: Callable[[Study], str] = lambda study: "",
) -> Callable[[Callable[[Context], Found | Claim]], Attempt]:
    """Make a challenge of a function; to be passed as `also` to `challenge`, or named in the registry.

    The function takes a `lagwise.challenges.context.Context` and returns a `Claim` (`context.claim`). Its
    name is the challenge's name; its docstring says what it does and the rule of its verdict. All numbers
    with intervals in the outcome's unit are drawn.

    Parameters
    ----------
    sentence : callable(claim, voice)
        What was found, in words for a voice; `lagwise.say.phrases` says numbers.
    title, question, limits : str, or callable(voice)
        What it is called and asks, and what it cannot show; may hold {step}, {exposure} and {outcome}.
    labels : dict
        The claim's numbers by key, as tables and the figure call them; a key without is its own label.
    applies : callable(study), optional
        Why a study does not ask what it is about, '' where it does.
    """

    def made(run: Callable[[Context], Found | Claim]) -> Attempt:
        return Attempt(run.__name__, title, question, limits, labels, run, sentence, applies)

    return made


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
    helper: Executor | None = None,
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
        Functions decorated with `lagwise.say.attempt`, or modules that hold as much, run after the others.
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
    helper : concurrent.futures.Executor, optional
        Another process, which takes challenges from the first on while this one takes them from the last,
        after those that only it can do; not beside `workers` or a cluster. The numbers do not depend on it.

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

    Examples
    --------
    >>> import lagwise as lw
    >>> checks = lw.challenge(panel, fit, only=["same_week_answer"])
    >>> checks["same_week_answer"].verdict
    'informative'
    """
    if draws < 999:
        raise ModelError(f"{draws} shuffles are too few", mend="Use at least 999.")
    entries = (*(REGISTRY if only is None else named(only)), *also)
    n = len(entries)
    results: dict[int, Challenge] = {}
    with open_executor(workers, cluster) as executor:
        context = Context(
            panel, fit, bayes, seed, draws, quick, executor, _regions(people, panel.study), joint,
            helper if executor is None else None,
        )  # fmt: skip
        aside, light = context.helper, replace(context, bayes=None)
        doing = [_begun(entry, context, light, aside) for entry in entries]
        first = [at for at in range(n) if getattr(entries[at], "HERE", False)]
        order = range(n) if aside is None else [*first, *(at for at in range(n)[::-1] if at not in first)]
        for i, at in enumerate(order):
            if progress is not None:
                progress(entries[at].NAME, i, n)
            results[at] = doing[at]()
    return Challenges(tuple(results[at] for at in range(n)), seed)


def _begun(
    entry: Entry, context: Context, light: Context, helper: Executor | None
) -> Callable[[], Challenge]:
    """A challenge, begun in the helper where it is one of the registry and can do with the `light` context,
    which has no posterior."""
    if helper is None or entry not in REGISTRY or getattr(entry, "HERE", False):
        return lambda: _timed(entry, context)
    return begin(helper, _registered, entry.NAME, light)


def _registered(name: str, context: Context) -> Challenge:
    """A challenge of the registry by its name, which can travel."""
    return _timed(named([name])[0], context)


def _regions(people: pd.DataFrame | None, study: Study) -> dict[str, str] | None:
    if people is None or "region" not in people.columns or not Voice.of(study).of_pain:
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
        problem, applies = voice.fill(str(error)), not isinstance(error, NotApplicable)
    except np.linalg.LinAlgError as error:
        problem = f"the numbers could not be worked out ({error})"
    if problem:
        made["sentence"] = f"This challenge {'could not be run' if applies else 'does not apply here'}."
    made |= {name: text(words, name, voice) for name in ("title", "question", "limits")}
    seconds = time.perf_counter() - began
    return Challenge(name=entry.NAME, **made, seconds=seconds, problem=problem, applies=applies)


def _worded(words: Words, found: Found | Claim, voice: Voice) -> dict[str, Any]:
    if not isinstance(found, Found | Claim):
        raise TypeError(f"a challenge returns a Claim (context.claim), and this one {type(found).__name__}")
    claim, drawing = (
        (found, drawn(found, voice)) if isinstance(found, Claim) else (found.claim, found.picture)
    )
    if claim.verdict not in VERDICTS:
        raise ValueError(f"{claim.about}: the verdict is {claim.verdict!r}, not one of {', '.join(VERDICTS)}")
    return {
        "verdict": claim.verdict,
        "numbers": table(words, claim, voice),
        "sentence": words.sentence(claim, voice),
        "picture": None if drawing is None else picture(words, claim, drawing, voice),
        "claim": claim,
    }


def drawn(claim: Claim, voice: Voice) -> Drawing | None:
    """All numbers of a claim that have an interval in the outcome's unit; None where there are none."""
    keys = [k for k, m in claim.measured.items() if m.told and m.known and m.unit == voice.unit]
    return intervals(claim, *keys) if keys else None


def text(words: Words, name: str, voice: Voice) -> str:
    """Title, question or limits of a challenge for a voice."""
    return filled(getattr(words, name.upper()), voice)


def filled(found: Text, voice: Voice) -> str:
    """A fixed text as this voice says it."""
    return voice.fill(found if isinstance(found, str) else found(voice))


def words_of(entry: Entry) -> Words:
    """What speaks for a challenge: itself where it holds its own words, else the module of its name."""
    own = hasattr(entry, "TITLE")
    return cast(Words, entry if own else import_module(f"lagwise.say.challenges.{entry.NAME}"))


def known_words(name: str) -> Words | None:
    """What speaks for the registry's challenge of that name, None where it has none."""
    return next((words_of(entry) for entry in REGISTRY if name == entry.NAME), None)


def side(row: Mapping[str, float | None] | None) -> int:
    """On which side of 0 the interval of a row of numbers lies; 0 where it includes 0 or there is none."""
    return 0 if row is None else numbers.side(row["low"], row["high"])


def label(words: Words, key: str, claim: Claim, voice: Voice) -> str:
    """A number's label in tables and figures."""
    if key in words.LABELS:
        return filled(words.LABELS[key], voice)
    own: Callable[[Measured, Voice], str] | None = getattr(words, "label", None)
    return key.replace("_", " ") if own is None else own(claim[key], voice)


def error_said(sd: float, voice: Voice) -> str:
    """The error SD of a rating, to about a hundredth of its scale."""
    return f"{sd:.{1 if voice.outcome.width >= 10 else 2}f}"


def captioned(words: Words, claim: Claim, drawing: Drawing, voice: Voice) -> Caption:
    """The words of a picture, where a challenge has none of its own after its title and numbers."""
    own: Callable[[Claim, Voice], Caption] | None = getattr(words, "caption", None)
    if own is not None:
        return own(claim, voice)
    shown = {key: claim[key] for key in drawing.data.get("key", ())}
    told = "; ".join(f"{label(words, key, claim, voice)}: {said(found)}" for key, found in shown.items())
    return Caption(text(words, "title", voice), voice.difference(claim), capital(f"{told}."))


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
    told, data = captioned(words, claim, drawing, voice), drawing.data
    if "key" in data:
        labels = [told.labels.get(key) or label(words, key, claim, voice) for key in data["key"]]
        data = data.rename(columns={"key": "label"}).assign(label=labels)
    elif told.labels:
        data = data.assign(label=data["label"].replace(dict(told.labels)))
    data = data.assign(**{name: data[name].replace(dict(cells)) for name, cells in told.cells.items()})
    options = {**drawing.options, **told.options}
    options.setdefault(
        "subtitle", next(filter(None, (sample(m, voice.step) for m in claim.measured.values())), "")
    )
    data = data.rename(columns=told.columns)
    return Picture(drawing.kind, told.title, data, told.x, told.y, told.alt, options)


def markdown() -> str:
    """The index of challenges as Markdown: one section each with what it asks, what it does, its rule and its
    limits."""
    voice, parts = Voice.of(Study("")), []
    for entry in REGISTRY:
        title, question, limits = (
            text(words_of(entry), name, voice) for name in ("title", "question", "limits")
        )
        does = [" ".join(p.split()) for p in (inspect.getdoc(entry.run) or "").split("\n\n")]
        parts += [f"### {title} (`{entry.NAME}`)", f"*{question}*", *does, f"What it cannot show: {limits}"]
    return voice.fill("\n\n".join(parts)) + "\n"

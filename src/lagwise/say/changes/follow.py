"""What followed one kind of event: the public `follow`."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from lagwise.core.aside import begin_each
from lagwise.core.claim import Claim
from lagwise.core.effects import effects_frame
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.followed import Followed
from lagwise.core.results import Challenge, Challenges, Panel, Picture
from lagwise.events.asked import questions
from lagwise.events.attempts import ATTEMPTS
from lagwise.events.change import Change, claim, course, effects, people
from lagwise.events.history import HORIZON
from lagwise.say.challenge import COLUMNS
from lagwise.say.changes.attempts import LABELS, WORDS, drawn, label
from lagwise.say.changes.followed import captioned, sentences
from lagwise.say.voice import Voice


@threadpool_limits.wrap(limits=1, user_api="blas")  # its matrices are small: threads wait for each other
def follow(
    panel: Panel, kind: str, outcome: str | None = None, *, steps: int = 4, seed: int = 1, quick: bool = False
) -> Followed:
    """What followed the first event of a kind, against steps of the same history without one.

    Parameters
    ----------
    panel : Panel
        From `build_panel`, of a caseload with events. It is not changed.
    kind : str
        As in the events table: 'education', 'technique_change', a kind of the plan's own.
    outcome : str, optional
        The rating asked about; the plan's outcome by default.
    steps : int
        The mean of so many steps after is asked about, 1 to 8; each of the first 8 is told as well.
    seed, quick : the seed of false dates and simulated records, and whether there are fewer of them

    Returns
    -------
    Followed
        `.effects`, `.people`, `.course`, `.tests`, `.figure`, `.sentences`. Where too few people have the
        event there is no estimate, and `reason` says so.

    Raises
    ------
    LagwiseError
        When no event of the kind is in the record, the rating is unknown, or `steps` is out of range.

    Examples
    --------
    >>> found = lw.follow(panel, "education", outcome="worry")
    >>> found.reason in ("picture", "exploratory", "estimate")
    True
    """
    asked = panel.study.outcome.name if outcome is None else outcome
    change = Change(
        panel, kind, _known(panel, kind, asked, steps), steps, max(HORIZON, steps), seed=seed, quick=quick
    )
    voice = replace(Voice.of(panel.study), question=panel.study.outcome_of(asked))
    told = claim(change)
    reason = told.reason.partition(".")[0]
    compared = reason not in ("none", "picture")
    nobody = pd.DataFrame()
    return Followed(
        kind,
        change.variable,
        reason,
        effects(change) if compared else effects_frame([]),
        people(change) if reason != "none" else nobody,
        course(change) if reason != "none" else nobody,
        Challenges(tuple(_tried(name, change, voice) for name in ATTEMPTS) if compared else (), seed),
        _figure(change, told, voice) if reason != "none" else None,
        sentences(told, voice),
        told,
        voice.step,
    )


def _known(panel: Panel, kind: str, outcome: str, steps: int) -> str:
    rated = [v.name for v in panel.study.variables.values() if v.rated]
    if outcome not in rated:
        raise LagwiseError(
            f"{outcome!r} is not a rating of this study",
            where="outcome",
            mend=f"Use one of {', '.join(rated)}.",
        )
    if not isinstance(steps, int | np.integer) or not 1 <= steps <= HORIZON:
        raise LagwiseError(
            f"steps is {steps!r}", where="follow", mend=f"Use a whole number from 1 to {HORIZON}."
        )
    kinds = sorted(panel.events["kind"].unique()) if len(panel.events) else []
    if kind not in kinds:
        there = (
            f"Recorded are: {', '.join(kinds)}."
            if kinds
            else "It holds no event at all that has a readable date and a person with records."
        )
        raise LagwiseError(f"no event {kind!r} is in the record", where="events", mend=there)
    return outcome


def _tried(name: str, change: Change, voice: Voice) -> Challenge:
    """One attempt in words; one that cannot be run says why."""
    began, words = time.perf_counter(), WORDS[name]
    title, question, limits = (voice.fill(t) for t in (words.TITLE, words.QUESTION, words.LIMITS))
    numbers = pd.DataFrame(columns=list(COLUMNS))
    try:
        found = ATTEMPTS[name](change)
        said = words.sentence(found, voice) + drawn(found)
    except (ModelError, np.linalg.LinAlgError) as error:
        return Challenge(
            name,
            title,
            question,
            "cannot_tell",
            numbers,
            voice.fill("This could not be tried."),
            limits,
            problem=str(error),
            seconds=time.perf_counter() - began,
        )
    return Challenge(
        name,
        title,
        question,
        found.verdict,
        attempt_numbers(found, voice),
        said,
        limits,
        seconds=time.perf_counter() - began,
        claim=found,
    )


def attempt_numbers(found: Claim, voice: Voice) -> pd.DataFrame:
    """The numbers of an attempt under their labels."""
    labels = LABELS | dict(WORDS[found.about.removeprefix("events.")].LABELS)
    rows = [
        (labels.get(k) or label(m, voice), float(m.value), float(m.low), float(m.high), m.unit, k)
        for k, m in found.measured.items()
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _figure(change: Change, told: Claim, voice: Voice) -> Picture:
    rows = course(change)
    known = rows.astype(object).where(rows.notna(), None)
    records = [dict(zip(known, row, strict=True)) for row in known.to_numpy().tolist()]
    return Picture("follow", data=rows, **captioned(told, records, voice))


def followed(
    panel: Panel, seed: int = 1, quick: bool = False, helper: Executor | None = None
) -> Callable[[], list[Followed]]:
    """Begins what followed every kind of event that a report tells of (`lagwise.events.asked`), and returns
    what to call for it."""
    asked, _ = questions(panel)
    each = partial(follow, seed=seed, quick=quick)
    return begin_each(helper, each, [(panel, kind, name) for kind, name in asked])

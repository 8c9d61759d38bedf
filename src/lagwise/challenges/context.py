"""What every challenge is given: the panel, the fit, the question asked of them, and a seed of its own."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from lagwise.challenges.estimate import Answer, answer
from lagwise.challenges.work import map_tasks
from lagwise.core.aside import begin_each
from lagwise.core.claim import NOTHING, Claim, Measured, said
from lagwise.core.errors import ModelError
from lagwise.core.question import Outcome
from lagwise.core.results import Fit, Panel
from lagwise.core.study import Study
from lagwise.models.comparison import joint_leads
from lagwise.models.design import Design, design
from lagwise.models.rated_data import rated_data
from lagwise.models.rated_fit import RatedFit, fit_joint
from lagwise.models.rows import column_of, planned_contrast
from lagwise.panel.arrays import evenly

MANY = 400
"""People beyond whom a challenge that makes hundreds of records, or fits, asks some people alone."""


@dataclass(frozen=True)
class Drawing:
    """A figure before it has words: what kind it is, its rows, and options as numbers (see
    `lagwise.core.results.Picture`).

    A column `key` in place of `label` holds names of the claim's numbers, whose labels are put there.
    """

    kind: str
    data: pd.DataFrame
    options: Mapping[str, Any] = field(default_factory=lambda: NOTHING)


@dataclass(frozen=True)
class Found:
    """What a challenge came to: its claim, whose numbers are the challenge's table, and what there is to
    draw."""

    claim: Claim
    picture: Drawing | None = None


@dataclass(frozen=True)
class Primary:
    """The primary result: which exposure and column, the contrast's size on the model's scale, what was held
    equal, the column of the outcome, and the answer in its unit."""

    term: str
    column: str
    size: float
    label: str
    exposures: tuple[str, ...]
    pain_adjusted: str
    outcome: str
    answer: Answer


@dataclass(frozen=True)
class Context:
    """Input of a challenge.

    `fit` is the mixed (or within-person) fit, `bayes` an ordinal fit when there is one. `draws` is the number
    of shuffles or resamples; `quick` asks for fewer simulations. `executor` runs independent tasks elsewhere.
    `region` is each person's painful region, where known. `joint_fit` is from `fit_rated`, where it was
    fitted already. `helper` is a second process that takes tasks too.
    """

    panel: Panel
    fit: Fit
    bayes: Fit | None = None
    seed: int = 1
    draws: int = 999
    quick: bool = False
    executor: Executor | None = None
    region: dict[str, str] | None = None
    joint_fit: Fit | None = None
    helper: Executor | None = None

    def __getstate__(self) -> dict[str, Any]:
        """What is sent to another process: what it was made of, not what was worked out since, nor the
        helper."""
        return {one.name: getattr(self, one.name) for one in fields(self)} | {"helper": None}

    def each[Task, Result](self, fn: Callable[[Task], Result], tasks: Sequence[Task]) -> list[Result]:
        """`map_tasks` by the executor, or shared with the helper where there is one."""
        if self.helper is None:
            return map_tasks(fn, tasks, self.executor)
        return begin_each(self.helper, fn, [(task,) for task in tasks])()

    def seed_of(self, name: str) -> np.random.SeedSequence:
        """The seed of the challenge called `name`; it does not depend on which others run."""
        return np.random.SeedSequence(entropy=self.seed, spawn_key=(zlib.crc32(name.encode()),))

    def rng(self, name: str) -> np.random.Generator:
        """A generator with the seed of the challenge called `name`."""
        return np.random.default_rng(self.seed_of(name))

    def resampled(self, name: str, people: int) -> np.ndarray:
        """(draws, people) how often each person is drawn, by the generator of the challenge called `name`."""
        return self.rng(name).multinomial(people, np.full(people, 1 / people), self.draws)

    @cached_property
    def primary(self) -> Primary:
        """The primary result. ModelError when the fit has none or failed one of its gates."""
        rows = self.fit.effects.loc[self.fit.effects["primary"]]
        if not self.fit.usable or rows.empty:
            why = self.fit.why_not or "; ".join(self.fit.notes) or said("challenge.no_primary")
            raise ModelError(f"there is no primary result to try to break: {why.rstrip('.')}")
        row, plan, (label, size) = rows.iloc[0], self.panel.study.analysis, planned_contrast(self.panel.study)
        reals = {k: float(row[k]) for k in ("estimate", "std_error", "df", "low", "high")}
        return Primary(
            term=row["term"],
            column=column_of(row["term"]),
            size=size,
            label=label,
            exposures=tuple(self.fit.settings.get("exposures", plan.exposures)),
            pain_adjusted=row["pain_adjusted"],
            outcome=self.fit.outcome,
            answer=Answer(**reals, n_people=int(row["n_people"]), n_steps=int(row["n_steps"])),
        )

    @property
    def outcome(self) -> Outcome:
        """What is asked about, with its columns and margins."""
        return self.panel.study.outcome

    @property
    def unit(self) -> str:
        """Unit of the outcome, and of the primary answer, in the plural."""
        return f"{self.outcome.variable.unit}s"

    def measured(self, found: Answer, *, unit: str = "", **more: Any) -> Measured:
        """An answer as a number of a claim, in the outcome's unit where none is given."""
        return Measured(
            found.estimate, unit or self.unit, found.low, found.high, found.n_people, found.n_steps, **more
        )

    def claim(self, about: str, verdict: str, reason: str = "", **numbers: Any) -> Claim:
        """A claim about the primary result: with its exposure and contrast, which sentences name."""
        p = self.primary
        asked = {"term": p.term, "contrast": p.label, "size": Measured(p.size, "contrast", told=False)}
        return Claim(about, verdict, reason, asked | numbers)

    def again(self, panel: Panel) -> Measured:
        """The primary contrast on a changed panel, as a number of a claim; ModelError where there is none."""
        return self.measured(answer(self.adjusted(panel), self.primary.column, self.primary.size))

    @cached_property
    def rated(self) -> RatedFit:
        """The joint model of ratings, load and the outcome, usable or not. ModelError, LinAlgError where
        there is none."""
        made = None if self.joint_fit is None else self.joint_fit.made
        return fit_joint(rated_data(self.panel)) if made is None else made

    @cached_property
    def joint(self) -> RatedFit | None:
        """The joint model of ratings, load and pain, None where there is none that is usable."""
        try:
            found = self.rated
        except (ModelError, np.linalg.LinAlgError):
            return None
        return found if found.usable else None

    @property
    def led(self) -> RatedFit | None:
        """The joint model where it leads and the mixed model stands beside it, as in a report."""
        found = self.joint
        study, term = self.panel.study, self.primary.term
        return found if found is not None and joint_leads(study, term, len(found.data.people)) else None

    def adjusted(self, panel: Panel, pain_adjusted: str | None = None) -> Design:
        """The primary model's design on another panel, or under the other pain adjustment."""
        p = self.primary
        held = pain_adjusted or p.pain_adjusted
        return design(panel, exposures=p.exposures, pain_adjusted=held, outcome=p.outcome)

    def joined(self, **columns: Any) -> pd.DataFrame:
        """The primary model's rows with further columns, each given by panel row."""
        keyed = self.panel.frame[["person", "step"]].assign(**columns)
        return self.design.frame.merge(keyed, on=["person", "step"], how="left", validate="one_to_one")

    @cached_property
    def design(self) -> Design:
        """The primary model's design."""
        return self.adjusted(self.panel)

    def some(self) -> tuple[Design, Answer, dict[str, Any]]:
        """The primary model's design and answer, of more than `MANY` people those of so many, evenly through
        the record; `asked` of how many as a number of the claim then, and nothing else.
        """
        d, p = self.design, self.primary
        if d.n_people <= MANY:
            return d, p.answer, {}
        drawn = d.of(evenly(d.n_people, MANY))
        asked = {"asked": Measured(drawn.n_people, "people")}
        return drawn, answer(drawn, p.column, p.size), asked


def about_load(study: Study) -> str:
    """Why a challenge about load has nothing to ask of a study; empty where load is its primary exposure."""
    return "" if study.variables[study.analysis.primary].whole else said("challenge.not_load")


def about_later(study: Study) -> str:
    """Why a challenge about a later step has nothing to ask of a study; empty where it asks about one."""
    return "" if study.outcome.lag else said("challenge.same_step", step=study.step)


def about_later_load(study: Study) -> str:
    """Both: the primary exposure is load, and the outcome that of a later step."""
    return about_load(study) or about_later(study)


def intervals(claim: Claim, *keys: str, primary: str = "", **options: Any) -> Drawing:
    """Numbers of a claim as intervals, those named and in that order; `primary` is the one that leads."""
    rows = [(key, claim[key].value, claim[key].low, claim[key].high, "") for key in keys]
    data = pd.DataFrame(rows, columns=["key", "estimate", "low", "high", "group"])
    data = data.assign(primary=data["key"] == primary) if primary else data
    return Drawing("intervals", data, {"reference": 0} | options)

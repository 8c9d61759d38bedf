"""Blocks -> the panel's columns. Nothing here looks at a later step except the `_next`, within and between
columns."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.errors import PanelError
from lagwise.core.question import Outcome
from lagwise.core.study import Study
from lagwise.core.terms import panel_columns, split_columns
from lagwise.core.variable import JUMP, PAIN

EARLIER = 3
"""Earlier steps with a known rating that a person's usual one needs."""
_HAIR = 1e-9
"""Of a scale of 10; keeps a rise of exactly flare_rise on the same side whatever the rounding of the mean."""


def panel_frame(blocks: pd.DataFrame, study: Study) -> pd.DataFrame:
    """The panel's frame from blocks under a study plan; columns as in
    `lagwise.core.terms.panel_columns(study)`.

    Raises
    ------
    PanelError
        When the blocks lack a rating or a load measure of the plan.
    """
    person = person_index(blocks)
    silence = silent(blocks) & (study.load.no_sessions_means == "rest")
    given = _measure(blocks, study)
    load = np.where(silence, 0.0, given.to_numpy()) if silence.any() else given.to_numpy()
    usual = usual_load(load, person, study.load.usual_steps, study.load.usual_needs)
    asked = study.outcome
    held = {name: _rating(blocks, name, study) for name in (PAIN, asked.name)}
    rating = held[asked.name].to_numpy()
    state = blocks["recorded"].mask(silence, "rest") if silence.any() else blocks["recorded"]
    found: dict[str, np.ndarray | pd.Series] = {
        "state": state,
        "load": load if silence.any() else given,
        "partly_recorded": ((state == "trained").to_numpy(dtype=bool) & np.isnan(load)).astype("int64"),
        "usual": usual,
        **load_columns(load, usual, person),
        **held,
        **outcome_columns(rating, person, asked),
        "flare_reported_next": shifted(blocks["flare_reported"].to_numpy(), person, -1),
    }
    if blocks["source"].iloc[0] == "weeks":
        found[asked.before] = held[asked.name] if study.pain.rated == "start" else shifted(rating, person, 1)
    elif asked.before not in blocks:
        found[asked.before] = _rating(blocks, asked.before, study, known=not np.isnan(rating).all())
    for name in split_columns(study):
        values = found[name] if name in found else _rating(blocks, name, study)
        found[f"{name}_within"], found[f"{name}_between"] = split_parts(np.asarray(values), person)
    columns = panel_columns(study)
    return pd.DataFrame(
        {name: found[name] if name in found else blocks[name] for name in columns}, copy=False
    )


def person_index(blocks: pd.DataFrame) -> np.ndarray:
    """(n,) 0-based person of every row; rows of a person stand together and begin with step 0."""
    return np.cumsum(blocks["step"].to_numpy() == 0) - 1


def silent(blocks: pd.DataFrame) -> np.ndarray:
    """Steps with check-ins but no session rows, where there are sessions: `no_sessions_means` decides."""
    if blocks["source"].iloc[0] != "logs":
        return np.zeros(len(blocks), dtype=bool)
    return (blocks["n_sessions"].to_numpy() == 0) & (blocks["n_checkins"].to_numpy() > 0)


def usual_load(load: np.ndarray, person: np.ndarray, steps: int, needs: int) -> np.ndarray:
    """Mean of the known loads over the `steps` earlier steps of the same person, at least `needs` known; else
    missing."""
    sums, known = np.zeros(len(load)), np.zeros(len(load), dtype="int64")
    for lag in range(1, min(steps, len(load) - 1) + 1):
        past = shifted(load, person, lag)
        sums += np.nan_to_num(past, nan=0.0)
        known += ~np.isnan(past)
    enough = known >= max(needs, 1)
    return np.where(enough, sums / np.maximum(known, 1), np.nan)


def load_columns(load: np.ndarray, usual: np.ndarray, person: np.ndarray) -> dict[str, np.ndarray]:
    """jump, log_usual, rested and restarted; definitions in `lagwise.say.columns`."""
    known, rested = ~np.isnan(load), load == 0
    positive = usual > 0
    log_usual = np.log(usual, out=np.full(len(usual), np.nan), where=positive)
    ratio = np.log(load, out=np.full(len(load), np.nan), where=load > 0) - log_usual
    restarted = (load > 0) & (usual == 0)
    jump = np.where(rested | restarted, 0.0, ratio)
    unclear = ~known | ((load > 0) & np.isnan(usual))
    return {
        JUMP: jump,
        "log_usual": np.where(usual == 0, 0.0, log_usual - _first_known(log_usual, person)),
        "rested": np.where(known, rested.astype(float), np.nan),
        "restarted": np.where(unclear, np.nan, restarted.astype(float)),
    }


def usual_within(log_usual: np.ndarray, usual: np.ndarray, person: np.ndarray) -> np.ndarray:
    """The within-person part of `log_usual`, by which models hold the usual load equal: less its mean over
    the person's steps; 0 where the usual load is 0.

    The first usual load, which `log_usual` starts from, is itself an answer to early pain, and with feedback
    its anchor leans on all later steps of the person (docs/methods.md).
    """
    centred, _ = split_parts(np.where(usual > 0, log_usual, np.nan), person)
    return np.where(usual == 0, 0.0, centred)


def _first_known(values: np.ndarray, person: np.ndarray) -> np.ndarray:
    """The first known value of each row's person, which no later step can change."""
    known = np.flatnonzero(~np.isnan(values))
    people, at = np.unique(person[known], return_index=True)
    first = np.full(int(person[-1]) + 1, np.nan)
    first[people] = values[known[at]]
    return first[person]


def outcome_columns(values: np.ndarray, person: np.ndarray, outcome: Outcome) -> dict[str, np.ndarray]:
    """<outcome>_next, usual_<outcome>, at_risk and flare_next; definitions in
    `lagwise.say.columns.of_panel`.

    Where low is the worse end, a flare-up is a fall of `rise`, else a rise.
    """
    sign = -1.0 if outcome.variable.worse == "low" else 1.0
    usual, later = usual_rating(values, person), shifted(values, person, -1)
    limit = sign * usual + outcome.rise - _HAIR * outcome.scale
    told = ~np.isnan(values) & ~np.isnan(limit)
    at_risk = np.where(told, sign * values < limit, np.nan)
    return {
        outcome.later: later,
        outcome.usual: usual,
        "at_risk": at_risk,
        "flare_next": np.where((at_risk == 1) & ~np.isnan(later), sign * later >= limit, np.nan),
    }


def usual_rating(values: np.ndarray, person: np.ndarray) -> np.ndarray:
    """Mean of the known ratings of the person's earlier steps, at least 3 of them; else missing."""
    known = {"sum": np.nan_to_num(values, nan=0.0), "n": ~np.isnan(values) * 1.0}
    past = pd.DataFrame(known, index=person).groupby(level=0).cumsum().to_numpy()
    sums, n = shifted(past[:, 0], person, 1), shifted(past[:, 1], person, 1)
    return np.where(n >= EARLIER, sums / np.maximum(n, 1), np.nan)


def split_parts(values: np.ndarray, person: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Within part: value minus the person's mean. Between part: that mean minus the mean of all such
    means."""
    known = ~np.isnan(values)
    if not known.any():
        return np.full(len(values), np.nan), np.full(len(values), np.nan)
    people = int(person[-1]) + 1
    n = np.bincount(person[known], minlength=people)
    sums = np.bincount(person[known], weights=values[known], minlength=people)
    means = np.divide(sums, n, out=np.full(people, np.nan), where=n > 0)
    return values - means[person], (means - means[n > 0].mean())[person]


def shifted(values: np.ndarray, person: np.ndarray, steps: int) -> np.ndarray:
    """The value `steps` calendar steps earlier of the same person, missing where there is none; negative
    looks ahead."""
    out = np.full(len(values), np.nan)
    if steps > 0:
        out[steps:] = np.where(person[steps:] == person[:-steps], values[:-steps], np.nan)
    else:
        out[:steps] = np.where(person[:steps] == person[-steps:], values[-steps:], np.nan)
    return out


def _rating(blocks: pd.DataFrame, name: str, study: Study, *, known: bool = True) -> pd.Series:
    """A rating of every step, pain by the plan's summary; missing where nobody has it (`known`)."""
    column = f"pain_{study.pain.summary}" if name == PAIN else name
    if column in blocks.columns:
        return blocks[column]
    if not known:
        return pd.Series(np.full(len(blocks), np.nan))
    raise PanelError(
        f"the panel was built without {name}",
        where="rebuild",
        mend="Build it from the caseload under the plan that asks about it: build_panel(caseload, study).",
    )


def _measure(blocks: pd.DataFrame, study: Study) -> pd.Series:
    column = f"load_{study.load.measure}"
    if column not in blocks.columns:
        if study.load.measure == "measured":
            raise PanelError(
                "the sessions were read without the load that was measured",
                where="[load] measure",
                mend="Read the caseload under the plan that asks for it.",
            )
        held = (name for name in blocks.columns if name.startswith("load_") and "__" not in name)
        given = ", ".join(name.removeprefix("load_") for name in held)
        raise PanelError(
            f"the weeks table holds one load, read as {given}; {study.load.measure} cannot be made from it",
            where="[load] measure",
            mend="Keep the measure, or give sessions instead of weeks.",
        )
    return blocks[column]

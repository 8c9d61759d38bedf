"""Blocks -> the panel's columns. Nothing here looks at a later step except the `_next`, within and between columns."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.errors import PanelError
from lagwise.core.study import Study
from lagwise.core.terms import SPLIT, panel_columns

EARLIER_PAINS = 3
"""Earlier steps with known pain that a person's usual pain needs."""
_HAIR = 1e-9  # keeps a rise of exactly flare_rise on the same side whatever the rounding of the mean


def panel_frame(blocks: pd.DataFrame, study: Study) -> pd.DataFrame:
    """The panel's frame from blocks under a study plan; columns as in `lagwise.core.terms.panel_columns()`."""
    frame = blocks.copy()
    person = pd.factorize(frame["person"])[0]
    rest_by_silence = silent(blocks) & (study.load.no_sessions_means == "rest")
    frame["state"] = frame["recorded"].mask(rest_by_silence, "rest")
    frame["load"] = _measure(blocks, study).mask(rest_by_silence, 0.0)
    frame["usual"] = usual_load(frame["load"].to_numpy(), person, study.load.usual_steps, study.load.usual_needs)
    frame = frame.assign(**load_columns(frame["load"].to_numpy(), frame["usual"].to_numpy(), person))
    frame["pain"] = frame[f"pain_{study.pain.summary}"]
    frame["pain_next"] = following(frame["pain"], person)
    if frame["source"].iloc[0] == "weeks":
        frame["pain_before"] = frame["pain"] if study.pain.rated == "start" else earlier(frame["pain"], person, 1)
    frame["usual_pain"] = usual_pain(frame["pain"], person)
    limit = frame["usual_pain"] + study.pain.flare_rise - _HAIR
    below = frame["pain"] < limit
    frame["at_risk"] = below.astype(float).where(frame["pain"].notna() & limit.notna())
    onset = (frame["pain_next"] >= limit).astype(float)
    frame["flare_next"] = onset.where(frame["at_risk"].eq(1) & frame["pain_next"].notna())
    frame["flare_reported_next"] = following(frame["flare_reported"], person)
    for name in SPLIT:
        frame[f"{name}_within"], frame[f"{name}_between"] = split_parts(frame[name].to_numpy(), person)
    return frame[list(panel_columns())]


def silent(blocks: pd.DataFrame) -> pd.Series:
    """Steps with check-ins but no session rows, in a caseload that has sessions: what `no_sessions_means` decides."""
    return (blocks["source"] == "logs") & (blocks["n_sessions"] == 0) & (blocks["n_checkins"] > 0)


def usual_load(load: np.ndarray, person: np.ndarray, steps: int, needs: int) -> np.ndarray:
    """Mean of the known loads over the `steps` earlier steps of the same person, at least `needs` known; else missing."""
    sums, known = np.zeros(len(load)), np.zeros(len(load), dtype="int64")
    for lag in range(1, min(steps, len(load) - 1) + 1):
        past = np.full(len(load), np.nan)
        past[lag:] = np.where(person[lag:] == person[:-lag], load[:-lag], np.nan)
        sums += np.nan_to_num(past, nan=0.0)
        known += ~np.isnan(past)
    enough = known >= max(needs, 1)
    return np.where(enough, sums / np.maximum(known, 1), np.nan)


def load_columns(load: np.ndarray, usual: np.ndarray, person: np.ndarray) -> dict[str, np.ndarray]:
    """jump, log_usual, rested and restarted; definitions in `lagwise.core.terms.PANEL`."""
    known, rested = ~np.isnan(load), load == 0
    positive = usual > 0
    log_usual = np.log(usual, out=np.full(len(usual), np.nan), where=positive)
    ratio = np.log(load, out=np.full(len(load), np.nan), where=load > 0) - log_usual
    restarted = (load > 0) & (usual == 0)
    jump = np.where(rested | restarted, 0.0, ratio)
    unclear = ~known | ((load > 0) & np.isnan(usual))
    centred, _ = split_parts(log_usual, person)
    return {
        "jump": jump,
        "log_usual": np.where(usual == 0, 0.0, centred),
        "rested": np.where(known, rested.astype(float), np.nan),
        "restarted": np.where(unclear, np.nan, restarted.astype(float)),
    }


def usual_pain(pain: pd.Series, person: np.ndarray) -> pd.Series:
    """Mean of the known pains of the person's earlier steps, at least 3 of them; else missing."""
    known = pain.notna().astype("int64")
    sums = pain.fillna(0.0).groupby(person).cumsum() - pain.fillna(0.0)
    n = known.groupby(person).cumsum() - known
    return (sums / n.clip(lower=1)).where(n >= EARLIER_PAINS)


def split_parts(values: np.ndarray, person: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Within part: value minus the person's mean. Between part: that mean minus the mean of all such means."""
    known = ~np.isnan(values)
    people = int(person.max()) + 1
    n = np.bincount(person[known], minlength=people)
    sums = np.bincount(person[known], weights=values[known], minlength=people)
    means = np.divide(sums, n, out=np.full(people, np.nan), where=n > 0)
    middle = means[n > 0].mean() if (n > 0).any() else np.nan
    return values - means[person], (means - middle)[person]


def earlier(values: pd.Series, person: np.ndarray, steps: int) -> pd.Series:
    """The value `steps` calendar steps earlier of the same person; a negative number looks ahead."""
    return values.groupby(person).shift(steps)


def following(values: pd.Series, person: np.ndarray) -> pd.Series:
    """The value of the next calendar step of the same person."""
    return earlier(values, person, -1)


def _measure(blocks: pd.DataFrame, study: Study) -> pd.Series:
    column = f"load_{study.load.measure}"
    if column not in blocks.columns:
        given = [name.removeprefix("load_") for name in blocks.columns if name.startswith("load_") and "__" not in name]
        raise PanelError(
            f"the weeks table holds one load, read as {', '.join(given)}; {study.load.measure} cannot be made from it",
            where="[load] measure",
            mend="Keep the measure, or give sessions instead of weeks.",
        )
    return blocks[column]

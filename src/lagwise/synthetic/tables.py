"""What was recorded, as the rows of the input tables, and these as text that is the same on every machine."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from lagwise.synthetic.fast import EFFORT_ROW_SD, RATINGS, SETS_PER_ROW
from lagwise.synthetic.hall import CHECKIN_TIMES, EXERCISES, KG, PROGRAMME, REPS, START_TIMES, TRAINING_DAYS
from lagwise.synthetic.observe import Records
from lagwise.synthetic.process import Weeks

FIRST_MONDAY = np.datetime64("2024-01-08", "D")
LATEST_START = 9
BLANK_EFFORT = 0.03
"""Share of weeks in which effort was not written down."""
WRITES_TIMES, WRITES_RESERVE = 0, 2
"""Sites (by number) that write session times down, and that note repetitions in reserve beside effort."""
_LETTERS = "2346789BCDFGHJKMPQRTVWXYZ"


def codes(rng: np.random.Generator, n: int) -> np.ndarray:
    """(n,) distinct codes such as P-7Q4, in sorted order."""
    length = 3 if n < len(_LETTERS) ** 3 // 4 else 5
    drawn = np.sort(rng.choice(int(len(_LETTERS) ** length), n, replace=False))
    digits: list[np.ndarray] = [drawn // len(_LETTERS) ** k % len(_LETTERS) for k in reversed(range(length))]
    return np.array(
        ["P-" + "".join(_LETTERS[d] for d in row) for row in zip(*digits, strict=True)], dtype=object
    )


def first_days(rng: np.random.Generator, n: int) -> np.ndarray:
    """(n,) Monday on which each person's record begins."""
    return FIRST_MONDAY + 7 * rng.integers(0, LATEST_START, n)


def sessions_table(
    weeks: Weeks, records: Records, person: np.ndarray, start: np.ndarray, rng: np.random.Generator
) -> pd.DataFrame:
    """One row per exercise of a session; the sets of a week add up to its load. A logged rest week has one
    row of 0 sets.
    """
    n, _ = weeks.load.shape
    programme = np.argsort(rng.random((n, len(EXERCISES))), axis=1)[:, :PROGRAMME]
    strength = np.exp(rng.normal(0, 0.25, n))
    hour = rng.integers(0, len(START_TIMES), n)
    i, t = np.nonzero(records.logged & (weeks.load > 0))
    sets: np.ndarray = weeks.load[i, t].astype(int)
    rows: np.ndarray = np.maximum(np.ceil(sets / SETS_PER_ROW).astype(int), 1)
    held = np.minimum(np.clip(-(-rows // 5) + rng.integers(0, 2, len(rows)), 2, 4), np.maximum(rows, 2))
    week_of = np.repeat(np.arange(len(rows)), rows)
    r = np.arange(rows.sum()) - np.repeat(np.cumsum(rows) - rows, rows)
    i, t = i[week_of], t[week_of]
    session = r * held[week_of] // rows[week_of]
    day = _day_table()[held[week_of], (i + t // 8) % 3, session]
    exercise = programme[i, (r + 4 * t) % PROGRAMME]
    row_sets = sets[week_of] // rows[week_of] + (r < sets[week_of] % rows[week_of])
    effort = np.clip(np.rint(2 * (weeks.effort[i, t] + rng.normal(0, EFFORT_ROW_SD, len(i)))) / 2, 1, 10)
    effort[(rng.random(len(rows)) < BLANK_EFFORT)[week_of]] = np.nan
    kg = np.array(KG)[exercise] * strength[i] * (1 + 0.004 * t)
    reserve = weeks.site[i] == WRITES_RESERVE
    trained = pd.DataFrame(
        {
            "person": person[i],
            "date": start[i] + 7 * t + day,
            "time": _noted(
                np.array(START_TIMES, dtype=object)[np.asarray(hour)[i]], weeks.site[i] == WRITES_TIMES
            ),
            "exercise": np.array(EXERCISES, dtype=object)[exercise],
            "sets": row_sets.astype(float),
            "reps": np.array(REPS, dtype=float)[exercise]
            + np.where(np.array(REPS)[exercise] > 1, rng.integers(0, 3, len(i)), 0),
            "load_kg": np.where(kg > 30, np.rint(kg / 2.5) * 2.5, np.rint(kg / 2) * 2),
            "effort": effort,
            "reps_in_reserve": np.where(reserve, 10 - np.rint(effort), np.nan),
            "minutes": 3.0 * row_sets + rng.integers(0, 3, len(i)),
        }
    )
    i, t = np.nonzero(records.logged & (weeks.load == 0))
    rest = pd.DataFrame({"person": person[i], "date": start[i] + 7 * t, "sets": np.zeros(len(i))})
    both = pd.concat([trained, rest], ignore_index=True)
    return both.sort_values(["person", "date"], kind="stable", ignore_index=True)


def checkins_table(
    weeks: Weeks, records: Records, person: np.ndarray, start: np.ndarray, rng: np.random.Generator
) -> pd.DataFrame:
    """One row per check-in made."""
    i, t, d = np.nonzero(records.made)
    hour = np.array(CHECKIN_TIMES, dtype=object)[rng.integers(0, len(CHECKIN_TIMES), len(person))]
    out = {
        "person": person[i],
        "date": start[i] + 7 * t + d,
        "time": _noted(hour[i], weeks.site[i] == WRITES_TIMES),
    }
    for name in RATINGS:
        values = getattr(records, name)[i, t, d].astype(float)
        if name != "pain":
            values[rng.random(len(values)) < 0.02] = np.nan
        out[name] = values
    return pd.DataFrame(out | {"flare": records.flare[i, t, d]})


def weeks_table(weeks: Weeks, records: Records, person: np.ndarray, start: np.ndarray) -> pd.DataFrame:
    """One row per week with anything recorded: load in sets, means of the ratings to one decimal."""
    n_made = records.made.sum(axis=2)
    i, t = np.nonzero(records.logged | (n_made > 0))
    trained, rest = records.logged & (weeks.load > 0), records.logged & (weeks.load == 0)

    def rated(name: str) -> np.ndarray:
        values = np.where(records.made, getattr(records, name), 0.0).sum(axis=2)[i, t]
        made = n_made[i, t]
        return np.round(np.divide(values, made, out=np.full(len(i), np.nan), where=made > 0), 1)

    flare = np.where(n_made > 0, (records.flare & records.made).any(axis=2), np.nan)[i, t]
    return pd.DataFrame(
        {
            "person": person[i],
            "week": start[i] + 7 * t,
            "load": np.where(trained, weeks.load, np.where(rest, 0.0, np.nan))[i, t],
            "effort": np.where(trained, np.round(weeks.effort, 1), np.nan)[i, t],
            **{name: rated(name) for name in RATINGS},
            "flare": pd.array(flare, dtype="Float64").astype("boolean"),
            "trained": np.where(trained, "trained", np.where(rest, "rest", "unknown"))[i, t],
        }
    )


def _noted(values: np.ndarray, where: np.ndarray) -> np.ndarray:
    out = values.copy()
    out[~where] = None
    return out


def _day_table() -> np.ndarray:
    """[sessions held, style, session] -> weekday."""
    out = np.zeros((5, 3, 4), dtype=int)
    for held, styles in TRAINING_DAYS.items():
        for style, days in enumerate(styles):
            out[held, style, :held] = days
    return out


def csv_text(frame: pd.DataFrame) -> str:
    """A caseload table as CSV: ISO dates, yes/no, plain numbers, empty cells where not recorded; `row` is
    left out.
    """
    columns = [name for name in frame.columns if name != "row" and frame[name].notna().any()]
    cells = [_cells(frame[name]) for name in columns]
    lines = [",".join(columns), *(",".join(row) for row in zip(*cells, strict=True))]
    return "\n".join(lines) + "\n"


def _cells(values: pd.Series) -> list[str]:
    if pd.api.types.is_datetime64_any_dtype(values.dtype):
        return values.dt.strftime("%Y-%m-%d").fillna("").tolist()
    if pd.api.types.is_bool_dtype(values.dtype):
        words: Iterable[str] = ("yes" if v is True else "no" for v in values.tolist())
    elif pd.api.types.is_float_dtype(values.dtype):
        words = (f"{v:.10g}" for v in values.fillna(0.0).tolist())
    else:
        words = map(str, values.tolist())
    return [word if known else "" for word, known in zip(words, values.notna().tolist(), strict=True)]

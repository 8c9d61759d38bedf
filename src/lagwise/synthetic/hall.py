"""The invented strength hall: its lifts by the body region that works most, its people, and what changed for
them.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd

from lagwise.synthetic.observe import Records
from lagwise.synthetic.process import Weeks
from lagwise.synthetic.spec import REGIONS, SITES

GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "shoulder": ("overhead press", "incline press", "landmine press", "pull-up"),
        "elbow": ("chest-supported row", "hammer curl", "triceps pushdown", "farmer carry"),
        "knee": ("reverse lunge", "step-up", "leg press", "leg curl"),
        "hip": ("hip thrust", "romanian deadlift", "trap-bar deadlift", "sled push"),
    }
)
EXERCISES = tuple(exercise for exercises in GROUPS.values() for exercise in exercises)
KG = (35, 40, 25, 0, 45, 12, 25, 24, 20, 16, 110, 35, 80, 70, 95, 60)
"""Usual load of each lift in kg; a pull-up is done with body weight, nothing added."""
REPS = (6, 8, 8, 6, 8, 12, 12, 1, 8, 10, 10, 12, 8, 8, 5, 1)
PROGRAMME = 9
"""Lifts in one person's programme."""
TRAINING_DAYS: Mapping[int, tuple[tuple[int, ...], ...]] = MappingProxyType(
    {
        2: ((0, 3), (1, 4), (2, 5)),
        3: ((0, 2, 4), (1, 3, 5), (0, 3, 5)),
        4: ((0, 1, 3, 5), (0, 2, 4, 5), (1, 2, 4, 5)),
    }
)
START_TIMES = ("07:00", "12:15", "17:30", "18:30")
"""When sessions begin; one site writes it down."""
CHECKIN_TIMES = ("06:30", "21:00")
SCORE = "movement_fear"
SCORE_RANGE = (0.0, 40.0)
"""An invented baseline score and its legal range."""
AGE_BANDS = ("20-29", "30-39", "40-49", "50-59", "60-69")
_CHANCE = {
    "technique_change": 0.012,
    "exercise_added": 0.012,
    "exercise_removed": 0.01,
    "injury_elsewhere": 0.004,
}


def people_table(weeks: Weeks, person: np.ndarray, rng: np.random.Generator) -> pd.DataFrame:
    """One row per person: site, region, age band, sex, months with pain, training years, baseline score."""
    n = len(person)
    score = 6 + 3.2 * weeks.worry.mean(axis=1) + rng.normal(0, 4, n)

    def drawn(words: tuple[str, ...], shares: list[float]) -> np.ndarray:
        return np.array(words, dtype=object)[rng.choice(len(words), n, p=shares)]

    return pd.DataFrame(
        {
            "person": person,
            "site": np.array(SITES, dtype=object)[weeks.site],
            "region": drawn(REGIONS, [0.4, 0.2, 0.25, 0.15]),
            "age_band": drawn(AGE_BANDS, [0.2, 0.3, 0.25, 0.15, 0.1]),
            "sex": np.array(["f", "m"], dtype=object)[rng.integers(0, 2, n)],
            "months_with_pain": np.clip(np.rint(np.exp(rng.normal(2.4, 0.8, n))), 3, 240),
            "training_years": np.clip(np.rint(np.exp(rng.normal(1.5, 0.7, n))), 1, 30),
            SCORE: np.clip(np.rint(score), *SCORE_RANGE),
        }
    )


def events_table(
    weeks: Weeks, records: Records, person: np.ndarray, start: np.ndarray, rng: np.random.Generator
) -> pd.DataFrame:
    """One row per change that was noted: load cut and taken up again, illness, breaks, teaching, other
    changes.
    """
    shape = weeks.load.shape
    cut = weeks.cut & (rng.random(shape) < 0.6)
    resumed = np.zeros(shape, dtype=bool)
    resumed[:, 1:] = cut[:, :-1] & ~weeks.cut[:, 1:]
    teaching = np.zeros(shape, dtype=bool)
    taught = np.flatnonzero(rng.random(shape[0]) < 0.5)
    teaching[taught, rng.integers(0, max(shape[1] // 2, 1), len(taught))] = True
    noted = {
        "load_reduced": cut,
        "load_resumed": resumed,
        "illness": weeks.ill & (rng.random(shape) < 0.8),
        "break": weeks.load == 0,
        "education": teaching,
    }
    noted |= {kind: rng.random(shape) < chance for kind, chance in _CHANCE.items()}
    rows = []
    for kind, when in noted.items():
        i, t = np.nonzero(when & records.present)
        date = start[i] + 7 * t + rng.integers(0, 5, len(i))
        rows.append(pd.DataFrame({"person": person[i], "date": date, "kind": kind}))
    by = ["person", "date", "kind"]
    return pd.concat(rows, ignore_index=True).sort_values(by, kind="stable", ignore_index=True)

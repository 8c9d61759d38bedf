"""The invented strength hall: its lifts, by the body region that works most, and what people lift there."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

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

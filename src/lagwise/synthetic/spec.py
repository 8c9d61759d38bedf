"""Every number of a synthetic caseload in one frozen value."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

SITES = ("north hall", "river hall", "old depot")
REGIONS = ("shoulder", "elbow", "knee", "hip")


@dataclass(frozen=True)
class Spec:
    """Parameters of the generating process; a step is a week. Documented in order of use.

    Size: `n_people`, `n_steps` at most per person, `burn_in` unrecorded weeks before the record,
    `usual_steps` of the usual load.

    Pain, in points: person levels N(`pain_level`, `pain_level_sd`) plus `site_sd` between sites; level at t+1
    is the person's level + `carry_over` x (pain - level) + slope x jump + `of_effort`, `of_stress`,
    `of_sleep`, `of_worry` x (value - person's level) + `trend` x week + N(0, `pain_sd`), held to 0-10; with
    `burst_chance` a week stands `burst_size` points higher for no recorded reason (the mean of that is taken
    off all weeks). The slope of jump is N(`of_jump`, `of_jump_sd`) over people. `same_week` adds that many
    points per log unit of jump to the same week's pain.

    Load, in sets: person base around `base_sets` (log SD `base_sd`), rising by `growth` per week and `build`
    per week of a cycle that ends in a deload (x `deload`), with log SD `load_sd` between weeks; cut by
    `feedback` per point of pain above the person's level and `stress_cut` per point of stress, on the log
    scale; no training in a `holiday`.

    Psychosocial: stress follows an order-1 autoregression (`stress_memory`, SD `stress_sd`); sleep, effort
    and worry answer it (`sleep_of_stress`, `effort_of_stress`, `worry_of_stress`); effort answers jump and
    pain, worry answers pain (`effort_of_jump`, `effort_of_pain`, `worry_of_pain`).

    Records: shares of people who check in daily, some days, weekly (`patterns`); SD `day_sd` of a day's
    rating around the week and `week_sd` of a weekly rating; `heaping` chance of the nearest of 0, 5, 10;
    `missing` chance of a missed check-in, its log odds rising by `missing_of_pain` per point; `unlogged`
    chance that a week's sessions are not written down; `rest_logged` chance that a rest week is; weekly
    chance of leaving `dropout`, its log odds rising by `dropout_of_pain` per point.
    """

    n_people: int = 40
    n_steps: int = 26
    burn_in: int = 12
    usual_steps: int = 4
    pain_level: float = 3.4
    pain_level_sd: float = 1.2
    site_sd: float = 0.3
    carry_over: float = 0.4
    of_jump: float = 0.8
    of_jump_sd: float = 0.3
    of_effort: float = 0.10
    of_stress: float = 0.15
    of_sleep: float = -0.12
    of_worry: float = 0.05
    trend: float = -0.02
    pain_sd: float = 0.75
    burst_chance: float = 0.03
    burst_size: float = 2.5
    same_week: float = 0.0
    base_sets: float = 38.0
    base_sd: float = 0.3
    growth: float = 0.008
    build: float = 0.06
    deload: float = 0.6
    load_sd: float = 0.25
    feedback: float = 0.10
    stress_cut: float = 0.03
    holiday: float = 0.035
    stress_memory: float = 0.5
    stress_sd: float = 1.2
    sleep_of_stress: float = -0.15
    effort_of_stress: float = 0.12
    effort_of_jump: float = 0.8
    effort_of_pain: float = -0.10
    worry_of_stress: float = 0.15
    worry_of_pain: float = 0.35
    patterns: tuple[float, float, float] = (0.4, 0.3, 0.3)
    day_sd: float = 0.6
    week_sd: float = 0.3
    heaping: float = 0.15
    missing: float = 0.12
    missing_of_pain: float = 0.25
    unlogged: float = 0.04
    rest_logged: float = 0.6
    dropout: float = 0.01
    dropout_of_pain: float = 0.3

    def plain(self) -> dict[str, Any]:
        """The parameters as JSON-able values."""
        return {n: list(v) if isinstance(v, tuple) else v for n, v in asdict(self).items()}


CLINIC = Spec()
NO_EFFECT = Spec(of_jump=0.0, of_jump_sd=0.0, feedback=0.18)
"""Load has no part in next week's pain, but pain cuts load hard, so the same-week association misleads."""
CHANGES_HALL = Spec(
    n_people=60, n_steps=40, pain_level=5.3, pain_level_sd=1.0, carry_over=0.6, of_jump=0.0, of_jump_sd=0.0,
    of_effort=0.0, trend=-0.005, holiday=0.01, patterns=(0.0, 0.0, 1.0), week_sd=0.6, heaping=0.0,
    missing=0.08, missing_of_pain=0.15, dropout=0.004,
)  # fmt: skip
"""One rating at the end of each week, without heaping; load has no part in pain, so that cutting it adds what
its event is said to add and nothing else."""

"""The generating process, week by week, over all people at once.

Nothing is recorded here: see `observe` for ratings, gaps and drop-out. People are independent, so many small
caseloads can be drawn as one large one.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from lagwise.synthetic.spec import SITES, Spec


@dataclass(frozen=True)
class Weeks:
    """What truly happened. Arrays are (n people, T steps); person-level ones (n,).

    `pain` 0-10; `expected` is the level of next week's pain before its shock, `shock` that shock, so that
    pain[:, t+1] = clip(expected[:, t] + shock[:, t], 0, 10) before any same-week part; `load` in sets, 0 at
    rest; `usual` the mean load of the earlier weeks; `jump` log(load / usual), 0 where either is 0; `effort`
    is missing at rest; `cut` is True where pain lowered the load by a fifth or more; `ill` marks illness.
    """

    pain: np.ndarray
    expected: np.ndarray
    shock: np.ndarray
    load: np.ndarray
    usual: np.ndarray
    jump: np.ndarray
    effort: np.ndarray
    stress: np.ndarray
    sleep_hours: np.ndarray
    sleep_quality: np.ndarray
    worry: np.ndarray
    confidence: np.ndarray
    cut: np.ndarray
    ill: np.ndarray
    level: np.ndarray
    slope: np.ndarray
    site: np.ndarray


_TRACKED = tuple(f.name for f in fields(Weeks))[:-3]
"""The fields of `Weeks` by week."""


class _People(NamedTuple):
    site: np.ndarray
    level: np.ndarray
    slope: np.ndarray
    base: np.ndarray
    effort: np.ndarray
    stress: np.ndarray
    sleep: np.ndarray
    worry: np.ndarray
    confidence: np.ndarray
    cycle: np.ndarray
    phase: np.ndarray


def run(spec: Spec, rng: np.random.Generator, n_people: int | None = None) -> Weeks:
    """Draw `n_people` people (the spec's own number by default) for `spec.n_steps` weeks after
    `spec.burn_in`.
    """
    n = spec.n_people if n_people is None else n_people
    people = _people(spec, rng, n)
    T = spec.burn_in + spec.n_steps
    track = {name: np.full((n, T), np.nan) for name in _TRACKED}
    unrest = rng.normal(0, spec.stress_sd / np.sqrt(1 - spec.stress_memory**2), n)
    pain = np.clip(people.level + rng.normal(0, spec.pain_sd, n), 0, 10)
    for t in range(T):
        unrest = spec.stress_memory * unrest + rng.normal(0, spec.stress_sd, n)
        ill = rng.random(n) < 0.015
        stress = np.clip(people.stress + unrest + 1.5 * ill, 0, 10)
        strain = stress - people.stress
        load, cut = _load(spec, rng, people, t, pain, strain, ill)
        past = track["load"][:, max(0, t - spec.usual_steps) : t]
        usual = past.mean(axis=1) if t else load.astype(float)
        both = (load > 0) & (usual > 0)
        jump = np.where(both, np.log(np.where(both, load, 1.0) / np.where(both, usual, 1.0)), 0.0)
        pain = np.clip(pain + spec.same_week * jump, 0, 10)
        ache = pain - people.level
        effort = np.clip(
            people.effort + spec.effort_of_jump * jump + spec.effort_of_stress * strain
            + spec.effort_of_pain * ache + rng.normal(0, 0.5, n), 2, 10,
        )  # fmt: skip
        sleep = np.clip(people.sleep + spec.sleep_of_stress * strain + rng.normal(0, 0.5, n), 3, 11)
        worry = np.clip(
            people.worry + spec.worry_of_pain * ache + spec.worry_of_stress * strain
            + rng.normal(0, 0.7, n), 0, 10,
        )  # fmt: skip
        rested = load == 0
        expected = (
            people.level + spec.carry_over * ache + people.slope * jump
            + spec.of_effort * np.where(rested, 0.0, effort - people.effort) + spec.of_stress * strain
            + spec.of_sleep * (sleep - people.sleep) + spec.of_worry * (worry - people.worry)
            + spec.trend * max(0, t - spec.burn_in)
        )  # fmt: skip
        burst = (rng.random(n) < spec.burst_chance) - spec.burst_chance
        shock = rng.normal(0, spec.pain_sd, n) + spec.burst_size * burst
        now = {
            "pain": pain, "expected": expected, "shock": shock, "load": load, "usual": usual, "jump": jump,
            "effort": np.where(rested, np.nan, effort), "stress": stress, "sleep_hours": sleep,
            "sleep_quality": np.clip(6.5 + 0.9 * (sleep - 7) - 0.2 * strain + rng.normal(0, 0.8, n), 0, 10),
            "worry": worry, "cut": cut, "ill": ill,
            "confidence": np.clip(
                people.confidence - 0.4 * ache - 0.2 * (worry - people.worry) + rng.normal(0, 0.6, n), 0, 10),
        }  # fmt: skip
        for name, value in now.items():
            track[name][:, t] = value
        pain = np.clip(expected + shock, 0, 10)
    kept = {name: values[:, spec.burn_in :] for name, values in track.items()}
    kept["cut"], kept["ill"] = kept["cut"] > 0, kept["ill"] > 0
    return Weeks(**kept, level=people.level, slope=people.slope, site=people.site)


def _people(spec: Spec, rng: np.random.Generator, n: int) -> _People:
    site = rng.integers(0, len(SITES), n)
    of_site = spec.site_sd * np.array([-1.0, 0.0, 1.0])
    return _People(
        site=site,
        level=np.clip(rng.normal(spec.pain_level, spec.pain_level_sd, n) + of_site[site], 0.5, 8.0),
        slope=rng.normal(spec.of_jump, spec.of_jump_sd, n),
        base=spec.base_sets * np.exp(rng.normal(0, spec.base_sd, n)),
        effort=np.clip(rng.normal(7.0, 0.6, n), 5, 9),
        stress=np.clip(rng.normal(4.0, 1.2, n), 1.5, 7.5),
        sleep=np.clip(rng.normal(7.1, 0.6, n), 5.5, 8.5),
        worry=np.clip(rng.normal(3.2, 1.4, n), 0.5, 8),
        confidence=np.clip(rng.normal(6.8, 1.0, n), 3, 9),
        cycle=rng.integers(4, 7, n),
        phase=rng.integers(0, 6, n),
    )


def _load(
    spec: Spec,
    rng: np.random.Generator,
    people: _People,
    t: int,
    pain: np.ndarray,
    strain: np.ndarray,
    ill: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    n = len(pain)
    week = (t + people.phase) % people.cycle
    easy = week == people.cycle - 1
    growth = spec.growth * (t - spec.burn_in) + spec.build * (week - (people.cycle - 1) / 2)
    plan = people.base * np.exp(growth)
    plan = np.where(easy, plan * spec.deload, plan)
    answer = -spec.feedback * (pain - people.level)
    sets = plan * np.exp(answer - spec.stress_cut * strain - 1.0 * ill + rng.normal(0, spec.load_sd, n))
    load = np.clip(np.rint(sets), 3, 95)
    away = rng.random(n) < spec.holiday
    return np.where(away, 0.0, load), (answer <= np.log(0.8)) & ~away

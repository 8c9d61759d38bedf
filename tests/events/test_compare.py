"""The comparison against slow loops and statsmodels, under changes that must not matter, and where the truth is known."""

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm
from followed_worlds import FIRST, KIND, World, lived, panel, recorded
from scipy.special import expit

from lagwise.events.change import Change
from lagwise.events.compare import NAMES, RIDGE, comparable, compare, propensity
from lagwise.events.history import Steps, steps_at_risk

WORLD = World(40, 26, truth=-0.5, missing=0.1)


@pytest.fixture(scope="module")
def steps() -> Steps:
    return steps_at_risk(panel(WORLD, 11), KIND, "pain", horizon=5)


def by_hand(s: Steps, events: np.ndarray, logit: np.ndarray) -> np.ndarray:
    """(H, 4) risk_set, regression, did, before_after by horizon: iterated regressions, and residuals weighed along each person's way from step to step."""
    rows, H = range(len(s.had)), s.Y.shape[1]
    target, expected, rest = {r: s.Y[r, 0] for r in rows if np.isfinite(s.Y[r, 0])}, [], []
    for _ in range(H):
        use = [r for r in target if not s.had[r]]
        fit = sm.OLS([target[r] for r in use], s.X[use]).fit()
        mean = dict(zip(rows, fit.predict(s.X), strict=True))
        rest.append({r: target[r] - mean[r] for r in use})
        expected.append(mean)
        target = {r: mean[s.later[r]] for r in rows if s.later[r] >= 0}
    out = []
    for h in range(H):
        mine = [r for r in rows if events[r] and np.isfinite(s.Y[r, h])]
        after = np.mean([s.Y[r, h] for r in mine])
        regression = after - np.mean([expected[h][r] for r in mine])
        correction = 0.0
        for stage in range(h + 1):
            top = bottom = 0.0
            for r in rows:
                way, weight = [r], np.exp(logit[r])
                while len(way) <= stage and s.later[way[-1]] >= 0:
                    way.append(s.later[way[-1]])
                    weight /= 1 - expit(logit[way[-1]])
                if len(way) > stage and not s.had[way].any() and way[-1] in rest[h - stage]:
                    top, bottom = top + weight * rest[h - stage][way[-1]], bottom + weight
            correction += top / bottom if bottom else 0.0
        free = []
        for r in rows:
            way = [r]
            while len(way) <= h and s.later[way[-1]] >= 0:
                way.append(s.later[way[-1]])
            if not s.had[way].any() and np.isfinite(s.Y[r, h]):
                free.append(s.Y[r, h] - s.before[r])
        plain = after - np.mean([s.before[r] for r in mine])
        out.append((regression - correction, regression, plain - np.mean(free), plain))
    return np.array(out)


def test_each_estimator_is_its_definition(steps):
    found = compare(steps, 4, jackknife=False)
    np.testing.assert_allclose(
        found.values[:5, :4], by_hand(steps, found.events, found.propensity), atol=1e-4
    )
    mine = steps.Y[found.events][:, :4]
    enough = np.isfinite(mine).sum(axis=1) >= 2
    plain = (np.nanmean(mine[enough], axis=1) - steps.before[found.events][enough]).mean()
    assert found.values[-1, NAMES.index("before_after")] == pytest.approx(plain)
    assert found.n.tolist() == [*np.isfinite(steps.Y[found.events]).sum(axis=0), enough.sum()]
    before_after, regression, back = (
        found.values[:, NAMES.index(n)] for n in ("before_after", "regression", "return")
    )
    np.testing.assert_allclose(back, before_after - regression)


def test_the_propensity_is_a_penalised_logistic_regression(steps):
    beta = propensity(steps.X, steps.had, np.ones(len(steps.X)))
    slope = sm.Logit(steps.had.astype(float), steps.X).score(beta)
    np.testing.assert_allclose(slope, RIDGE * np.r_[0, beta[1:]], atol=1e-5)


@pytest.mark.parametrize("case", ["another order", "other names", "ten times the scale"])
def test_what_must_not_matter_does_not(case):
    before, rng = panel(replace(WORLD, people=25, weeks=16), 12), np.random.default_rng(0)
    people = before.frame["person"].unique()
    names = dict(zip(people, rng.permutation([f"N{i}" for i in range(len(people))]), strict=True))
    frame, events, by = before.frame, before.events, 1.0
    if case == "ten times the scale":
        frame, by = frame.assign(pain=10 * frame["pain"]), 10.0
    elif case == "other names":
        frame, events = (t.assign(person=t["person"].map(names)) for t in (frame, events))
    else:
        turned = {p: i for i, p in enumerate(rng.permutation(people))}
        frame = frame.sort_values("person", key=lambda p: p.map(turned), kind="stable", ignore_index=True)
        events = events.sample(frac=1, random_state=3)
    a, b = (Change(p, KIND, "pain").compared for p in (before, replace(before, frame=frame, events=events)))
    for was, now in ((a.values, b.values), (a.std_error, b.std_error)):
        np.testing.assert_allclose(now, by * was, rtol=1e-6, atol=1e-9)
    assert a.n.tolist() == b.n.tolist()


def test_truth_is_recovered_beside_its_null_twin():
    found = {}
    for truth in (0.0, -0.5):
        world, every = World(60, 30, truth=truth), []
        for seed in range(700, 708):
            values = compare(steps_at_risk(panel(world, seed), KIND, "pain"), jackknife=False).values[-1]
            every.append(values[[NAMES.index("risk_set"), NAMES.index("before_after")]] - truth)
        found[truth] = np.mean(every, axis=0), np.std(every, axis=0, ddof=1) / np.sqrt(len(every))
    for bias, error in found.values():
        assert abs(bias[0]) <= 3 * error[0]
        assert bias[1] < -3 * error[1]


def test_a_single_ordinary_event_has_comparable_steps_and_a_rating_that_always_sets_it_off_has_none():
    """One event draws the propensity to itself; where everybody at 8 and above has it nobody shows them without."""

    def events(kept, rating):
        at = [np.flatnonzero(row[FIRST:-2] >= 8)[:1] + FIRST for row in rating]
        return [
            (f"S{i:03d}", int(w[0]) if kept == "always" else 9, KIND)
            for i, w in enumerate(at)
            if (len(w) if kept == "always" else i == 3)
        ]

    for kept in ("single", "always"):
        for seed in range(3):
            rating, _, rng = lived(World(40, 26, trigger="planned", share=0.0), 0.0, seed)
            more = {
                name: rng.integers(0, 11, rating.size).astype(float)
                for name in ("stress", "worry", "confidence")
            }
            steps = Change(
                recorded({f"S{i:03d}": row for i, row in enumerate(rating)}, events(kept, rating), **more),
                KIND,
                "pain",
            ).steps
            assert steps.had.any()
            logit = steps.X @ propensity(steps.X, steps.had, np.ones(len(steps.had)))
            assert comparable(steps, logit).sum() == (steps.had.sum() if kept == "single" else 0)

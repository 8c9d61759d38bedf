from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t

from lagwise.core.errors import ModelError
from lagwise.events.single import _averaged, phase_changes

REFERENCE = Path(__file__).parents[1] / "reference"
PRINTED = pd.read_csv(REFERENCE / "phases.csv")
SINGLE = PRINTED[PRINTED["model"] == "level"]


def errors(rng, n, rho):
    apart = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    return np.linalg.cholesky(rho**apart) @ rng.normal(size=n)


def reference_record(person):
    records = pd.read_csv(REFERENCE / "phases_records.csv")
    d = records[records["person"] == person]
    return d, d["step"][d["changed"].diff().fillna(0) != 0].tolist()


@pytest.mark.parametrize("person", sorted(set(SINGLE["data"])))
def test_agrees_with_nlme(person):
    d, starts = reference_record(person)
    printed = SINGLE[SINGLE["data"] == person].set_index("quantity")
    found = phase_changes(d["step"], d["value"], starts)
    np.testing.assert_allclose(
        [found.rho, found.sigma], printed.loc[["rho", "sigma"], "value"], rtol=1e-5, atol=1e-6
    )
    names = [f"level {p}" for p in found.rows["phase"]]
    assert len(names) == len(printed) - 2
    np.testing.assert_allclose(found.rows["estimate"], printed.loc[names, "value"], rtol=1e-5, atol=1e-6)
    np.testing.assert_allclose(found.rows["std_error_given"], printed.loc[names, "std_error"], rtol=1e-5)


@pytest.mark.parametrize("truth", [-1.5, 0.0])
def test_intervals_hold_the_truth_where_those_of_independent_steps_do_not(truth):
    rng, held, plain = np.random.default_rng(5), [], []
    for _ in range(150):
        y = 5 + truth * (np.arange(22) >= 9) + errors(rng, 22, 0.5)
        row = phase_changes(range(22), y, [9]).rows.iloc[0]
        held.append(row["low"] <= truth <= row["high"])
        a, b = y[:9], y[9:]
        spread = np.sqrt((a.var() * 9 + b.var() * 13) / 20 * (1 / 9 + 1 / 13))
        plain.append(abs(b.mean() - a.mean() - truth) <= 2.086 * spread)
    assert np.mean(held) >= 0.9  # 0.945 in long runs, Monte Carlo error 0.018
    assert np.mean(plain) < 0.85


def test_t_distributions_are_averaged():
    assert _averaged(np.zeros(1), np.array([0.4]), np.ones(1), 9) == pytest.approx((0.4, 9.0))
    move, scale = np.array([-0.2, 0.5]), np.array([0.3, 0.9])
    total, df = _averaged(move, scale, np.array([0.7, 0.3]), 9)
    assert total**2 == pytest.approx(0.7 * (0.04 + 0.09) + 0.3 * (0.25 + 0.81))
    half = total * t.ppf(0.975, df)
    inside = t.cdf((half - move) / scale, 9) - t.cdf((-half - move) / scale, 9)
    assert inside @ [0.7, 0.3] == pytest.approx(0.95)
    assert _averaged(np.array([-1.0, 1.0]), np.full(2, 0.1), np.full(2, 0.5), 9)[1] == np.inf


def test_a_missing_step_is_a_gap_and_no_neighbour():
    y = 5 + errors(np.random.default_rng(2), 24, 0.7)
    keep = np.ones(24, dtype=bool)
    keep[[2, 3, 4, 13, 14, 15, 16]] = False
    steps = np.arange(24)
    found = phase_changes(steps[keep], y[keep], [12])
    blank = phase_changes(steps, np.where(keep, y, np.nan), [12])
    pd.testing.assert_frame_equal(found.rows, blank.rows)
    closed = phase_changes(np.arange(keep.sum()), y[keep], [keep[:12].sum()])
    assert abs(closed.rho - found.rho) > 0.02
    assert abs(closed.rows["std_error"].iloc[0] / found.rows["std_error"].iloc[0] - 1) > 0.02


def test_neither_order_nor_units_matter_and_nothing_is_changed():
    rng = np.random.default_rng(3)
    steps, y = np.arange(18), errors(rng, 18, 0.4)
    mixed = rng.permutation(18)
    given = y[mixed].copy()
    found, turned = (
        phase_changes(steps, y, [8]),
        phase_changes(steps[mixed] + 100, 10 * given + 3, [108]),
    )
    columns = ["estimate", "std_error", "low", "high"]
    np.testing.assert_allclose(turned.rows[columns], 10 * found.rows[columns], rtol=1e-5)
    np.testing.assert_array_equal(given, y[mixed])


HALF = [3.0, 4.0, 2.0, 5.0]
BAD = {
    "all equal": (range(8), [4.0] * 8, [4], "all 8 values are 4"),
    "a phase without steps": (range(8), HALF * 2, [0], "phase 1 of 2 has 0 steps"),
    "a phase of two": (range(8), HALF * 2, [6], "phase 2 of 2 has 2 steps"),
    "values missing in a phase": (range(8), [*HALF, 1.0, np.nan, 2.0, np.nan], [4], "phase 2 of 2 has 2"),
    "no residual": (range(8), [2.0] * 4 + [5.0] * 4, [4], "no residual variance"),
    "no rating": (range(3), [np.nan] * 3, [1], "phase 1 of 2 has 0 steps"),
    "steps between": (np.arange(8) / 2, HALF * 2, [2], "not whole numbers"),
    "a step twice": ([0, 1, 2, 3, 4, 4, 5, 6], HALF * 2, [4], "a step occurs twice"),
    "two events in one step": (range(8), HALF * 2, [4, 4], "one after the other"),
    "an event at no step": (range(8), HALF * 2, [np.nan], "one after the other"),
    "no event": (range(8), HALF * 2, [], "one after the other"),
    "infinite": (range(8), [*HALF, 1.0, np.inf, 2.0, 1.0], [4], "a value is infinite"),
    "lengths": (range(7), HALF * 2, [4], "do not fit together"),
}


@pytest.mark.parametrize(("step", "value", "starts", "words"), BAD.values(), ids=BAD)
def test_bad_input_is_said_in_words(step, value, starts, words):
    with pytest.raises(ModelError, match=words):
        phase_changes(step, value, starts)

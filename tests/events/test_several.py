from dataclasses import asdict
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lagwise.core.errors import ModelError
from lagwise.events.several import design_comparable

REFERENCE = Path(__file__).parents[1] / "reference"
PRINTED = pd.read_csv(REFERENCE / "phases.csv")
SEVERAL = PRINTED[PRINTED["model"].isin(["same", "varying"])]


def made(seed, difference, people=6, steps=16, between=1.0, own=0.0, rho=0.3):
    """People whose change comes at another step each; total variance between**2 + 1."""
    rng = np.random.default_rng(seed)
    apart = np.abs(np.subtract.outer(np.arange(steps), np.arange(steps)))
    root = np.linalg.cholesky(rho**apart)
    parts = []
    for i in range(people):
        changed = (np.arange(steps) >= 4 + i * (steps - 8) // people).astype(int)
        level = rng.normal(5, between) + (difference + rng.normal(0, own)) * changed
        value = level + root @ rng.normal(size=steps)
        parts.append(
            pd.DataFrame({"person": f"p{i}", "step": np.arange(steps), "value": value, "changed": changed})
        )
    return pd.concat(parts, ignore_index=True)


@pytest.mark.parametrize(
    ("layout", "model"), sorted(set(zip(SEVERAL["data"], SEVERAL["model"], strict=True)))
)
def test_agrees_with_nlme(layout, model):
    records = pd.read_csv(REFERENCE / "phases_records.csv")
    printed = SEVERAL[(SEVERAL["data"] == layout) & (SEVERAL["model"] == model)]
    found = asdict(design_comparable(records[records["layout"] == layout], varying=model == "varying"))
    assert found["varying"] == (model == "varying")
    expected = printed.set_index("quantity")["value"]
    assert found["deviance"] <= expected["deviance"] + 1e-6
    assert found["deviance"] == pytest.approx(expected["deviance"], abs=1e-4)
    # nlme's own search ends a little early where a variance or correlation is near its edge
    np.testing.assert_allclose([found[name] for name in expected.index], expected, rtol=5e-4, atol=1e-6)


@pytest.mark.parametrize(("difference", "claims"), [(-1.5, (0.9, 1.0)), (0.0, (0.0, 0.15))])
def test_the_standardised_difference_is_found_and_none_where_none_is(difference, claims):
    found = [design_comparable(made(seed, difference)) for seed in range(12)]
    truth = difference / np.sqrt(2)
    g = np.array([f.g for f in found])
    assert abs(g.mean() - truth) < 3 * g.std() / np.sqrt(len(g))
    assert np.mean([f.low <= truth <= f.high for f in found]) >= 0.85
    assert claims[0] <= np.mean([f.low > 0 or f.high < 0 for f in found]) <= claims[1]


def test_people_who_differ_in_their_difference_widen_it():
    data = made(1, -1.0, people=8, own=1.5)
    varying, same = design_comparable(data), design_comparable(data, varying=False)
    assert varying.varying and varying.tau2_change > 0.5
    assert varying.difference_error > 1.5 * same.difference_error
    assert varying.difference_df < 12 < same.difference_df


def test_differences_that_do_not_vary_are_left_out():
    data = made(1065, -1.0, people=4)
    assert design_comparable(data) == design_comparable(data, varying=False)


def test_neither_order_nor_units_matter_and_nothing_is_changed():
    data = made(2, -1.0, own=1.0)
    data.loc[::7, "value"] = np.nan
    other = data.sample(frac=1, random_state=1)
    other["value"] = 10 * other["value"] - 4
    kept = other.copy()
    first, second = design_comparable(data), design_comparable(other)
    pd.testing.assert_frame_equal(other, kept)
    names = ("g", "std_error", "df", "rho", "difference_df")
    np.testing.assert_allclose(
        [getattr(second, n) for n in names], [getattr(first, n) for n in names], rtol=1e-4
    )
    assert second.difference == pytest.approx(10 * first.difference, rel=1e-5)
    assert first.n_steps == data["value"].notna().sum() and first.n_people == 6


def changed_to(**columns):
    return made(3, -1.0, people=3).assign(**columns)


def without(mask):
    return made(3, -1.0, people=3)[mask]


BAD = {
    "two people": (made(3, -1.0, people=2), "2 people are too few"),
    "all equal": (changed_to(value=4.0), "all 48 values are 4"),
    "no residual": (changed_to(value=lambda d: d["changed"] + d["person"].eq("p1")), "no residual variance"),
    "never changed": (changed_to(changed=lambda d: d["changed"] * d["person"].ne("p1")), "p1: fewer than 3"),
    "few before": (without(lambda d: (d["person"] != "p2") | (d["step"] > 6)), "p2: fewer than 3"),
    "changed by half": (changed_to(changed=0.5), "neither 0 nor 1"),
    "nobody's": (changed_to(person=np.nan), "no person"),
    "a step twice": (changed_to(step=lambda d: d["step"] // 2), "a step occurs twice"),
    "steps between": (changed_to(step=lambda d: d["step"] / 2), "not whole numbers"),
    "infinite": (changed_to(value=np.inf), "a value is infinite"),
}


@pytest.mark.parametrize(("frame", "words"), BAD.values(), ids=BAD)
def test_bad_input_is_said_in_words(frame, words):
    with pytest.raises(ModelError, match=words):
        design_comparable(frame)


def test_three_people_far_apart_leave_an_error_that_has_an_end():
    found = design_comparable(made(4, -1.0, people=3, between=1e4), varying=False)
    assert found.df == pytest.approx(2, abs=1e-3)
    assert 0 < found.std_error < 1 and np.isfinite([found.low, found.high]).all()

"""Each person against themselves in two stretches of the calendar: what is found, and what a trend gives."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import small_records

import lagwise as lw
from lagwise.core.errors import ModelError
from lagwise.events.stretches import compared

HALVES = {"first": ("2025-09-01", "2025-11-02"), "second": ("2025-12-01", "2026-02-01")}
SIZE = {"people": 24, "weeks": 24}


def panel_of(blocks=None, rated=None, **size):
    """Weekly records from Monday 1 September 2025 on."""
    found = small_records.tables(**SIZE | size)
    if rated is not None:
        found["checkins"] = found["checkins"].assign(pain=rated)
    study = lw.Study("Two halves").with_(blocks=HALVES if blocks is None else blocks)
    return lw.build_panel(lw.from_frames(**found, plan=study))


@pytest.fixture(scope="module")
def panel():
    return panel_of()


def drawn(panel, seed, *, jump=0.0, trend=0.0):
    """The panel with ratings of levels of their own, autoregressive errors, a straight trend per step, and a
    difference from step 12 on."""
    rng, n, t = np.random.default_rng(seed), SIZE["people"], SIZE["weeks"]
    noise = rng.normal(0, 1, (n, t))
    for k in range(1, t):
        noise[:, k] = 0.4 * noise[:, k - 1] + np.sqrt(1 - 0.4**2) * noise[:, k]
    own = rng.normal(0, 1, (n, 1)) + rng.normal(jump, 0.5, (n, 1)) * (np.arange(t) >= 12)
    y = 5 + own + trend * np.arange(t) + noise
    frame = panel.frame.assign(pain=y.ravel(), **dict.fromkeys(("load", "effort", "stress", "worry"), np.nan))
    return lw.Panel(frame, panel.study)


def whole(panel):
    return compared(panel, "pain")[0].set_index("variable").loc["pain"]


@pytest.mark.parametrize(("jump", "trend"), [(0.0, 0.0), (0.8, 0.0), (0.0, 0.04)])
def test_a_difference_is_found_and_a_trend_is_not_taken_for_one(panel, jump, trend):
    found = pd.DataFrame([whole(drawn(panel, seed, jump=jump, trend=trend)) for seed in range(30)])
    truth = {"difference": jump + 13 * trend, "trend": 13 * trend, "beyond": jump}
    assert found["steps_apart"].unique() == pytest.approx([13])
    for name, value in truth.items():
        held = ((found[f"{name}_low"] <= value) & (found[f"{name}_high"] >= value)).mean()
        assert abs(found[name].mean() - value) < 0.12
        assert held >= 25 / 30  # fewer in 3 of 1,000


def test_the_mean_difference_and_its_interval_are_those_of_a_paired_t(panel):
    from scipy import stats

    rows, people = compared(panel, "pain")
    mine = people["difference"]
    own = stats.ttest_1samp(mine, 0).confidence_interval(0.95)
    row = rows.iloc[0]
    assert row["variable"] == "pain" and row["n_people"] == len(mine) == 24
    assert row[["difference", "difference_low", "difference_high"]].tolist() == pytest.approx(
        [mine.mean(), own.low, own.high]
    )
    assert rows["variable"].tolist()[:2] == ["pain", "load"]
    assert row["difference"] == pytest.approx(row["trend"] + row["beyond"])


def test_one_person_alone_has_the_errors_of_a_single_record():
    from lagwise.events.single import phase_changes

    alone = panel_of(people=1)
    own = alone.frame[alone.frame["step_start"].le("2025-10-27") | alone.frame["step_start"].ge("2025-12-01")]
    own = own[own["step"] <= 21]
    expected = phase_changes(own["step"].tolist(), own["pain"].tolist(), [13]).rows.iloc[0]
    row = whole(alone)
    assert (row["reason"], row["n_people"]) == ("alone", 1)
    assert row[["difference", "difference_low", "df"]].tolist() == pytest.approx(
        expected[["estimate", "low", "df"]].tolist()
    )
    assert np.isnan(row["trend"])
    assert whole(panel_of(people=1, rated=3.0))["reason"] == "flat"


@pytest.mark.parametrize(
    ("blocks", "reason", "season"),
    [
        ({"a": ("2025-09-01", "2025-10-31"), "b": ("2025-10-31", "2025-12-31")}, "overlap", "other"),
        ({"a": ("2023-09-01", "2023-10-31"), "b": ("2025-09-01", "2025-10-31")}, "nobody", "same"),
        ({"a": ("2025-09-01", "2025-09-28"), "b": ("2025-10-01", "2025-10-12")}, "nobody", "other"),
    ],
)
def test_why_two_stretches_are_not_compared(panel, blocks, reason, season):
    own = lw.Panel(panel.frame, panel.study.with_(blocks=blocks))
    rows, people = compared(own, "pain")
    assert set(rows["reason"]) == {reason} and set(rows["season"]) == {season}
    assert rows["difference"].isna().all() and people.empty


def test_order_of_rows_and_of_names_does_not_matter(panel):
    back = dict(reversed(HALVES.items()))
    shuffled = lw.Panel(panel.frame.sample(frac=1, random_state=1), panel.study.with_(blocks=back))
    before = shuffled.frame.copy()
    pd.testing.assert_frame_equal(compared(shuffled, "pain")[0], compared(panel, "pain")[0])
    pd.testing.assert_frame_equal(shuffled.frame, before)


def test_two_stretches_are_needed(panel):
    with pytest.raises(ModelError, match="fewer than two"):
        compared(lw.Panel(panel.frame, panel.study.with_(blocks={"a": HALVES["first"]})), "pain")

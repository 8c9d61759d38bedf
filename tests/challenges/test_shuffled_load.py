"""Sliding the load series: what it finds, and that it slides as it says."""

from dataclasses import replace

import numpy as np
import pytest
from challenge_panels import CLINIC, context, drawn, slopes_panel, tried, tried_on, value
from proof import proved

from lagwise.challenges import shuffled_load
from lagwise.challenges.estimate import answer, variants
from lagwise.challenges.shuffled_load import TASK, draw_shifts, moving, shuffled
from lagwise.core.errors import ModelError
from lagwise.models.design import design_from

NAME = "shuffled_load"


def test_a_relation_in_one_of_six_people_is_as_undecided_slid_as_by_the_interval():
    """Both sides judge the average of six by how far people differ (CR2); who differs is the business of leaving people out."""
    result = tried_on(NAME, slopes_panel(np.array([5.0, 0, 0, 0, 0, 0])))
    primary = result.numbers.iloc[0]
    assert primary["low"] < 0 < primary["high"]
    assert value(result, "p, two-sided") > 0.05
    assert result.verdict == "holds"


@pytest.mark.parametrize("name", [NAME, "random_usual_load"])
def test_of_many_people_some_are_asked_and_it_says_so(name, monkeypatch):
    whole = tried(name, CLINIC)
    assert "were asked" not in whole.sentence
    monkeypatch.setattr("lagwise.challenges.context.MANY", 20)
    some = tried_on(name, drawn(CLINIC))
    assert value(some, "people asked, evenly through the record") == 20
    assert some.sentence.startswith("20 people were asked, taken evenly through the record.")
    assert "20 people, " in some.sentence and some.sentence != whole.sentence


def test_unmoved_series_of_few_people_give_their_primary_estimate_and_its_error():
    ctx = context(replace(CLINIC, n_people=7))
    ready, columns = variants(ctx.design, "jump", 1.0), moving(ctx.design, "jump", True)
    estimate, t = shuffled(ready, columns, np.zeros((1, 7), dtype=int))
    own = answer(ctx.design, "jump")
    assert estimate[0] == pytest.approx(own.estimate) == ctx.primary.answer.estimate / ctx.primary.size
    assert t[0] == pytest.approx(own.estimate / own.std_error, rel=1e-6), (
        "the error is the interval's, as of the slid series"
    )


def test_a_shift_slides_each_persons_rows_together_and_wraps_round():
    ctx = context(CLINIC)
    ready = variants(ctx.design, "jump", 1.0)
    columns = moving(ctx.design, "jump", True)
    assert {"jump", "log_usual", "rested", "effort_within"} <= set(columns)
    shifts = draw_shifts(np.bincount(ctx.design.person), 3, np.random.default_rng(5))
    estimates, t = shuffled(ready, columns, shifts)
    for b in range(3):
        frame = ctx.design.frame.copy()
        for code, rows in frame.groupby("person", sort=True).groups.items():
            k = shifts[b, ctx.design.people.index(code)]
            for name in columns:
                frame.loc[rows, name] = np.roll(frame.loc[rows, name].to_numpy(), k)
        again = variants(design_from(frame, ctx.design.names[1:], outcome="pain_next"), "jump", 1.0)
        again = replace(again, structure=ready.structure).contrast(again.cross)
        assert estimates[b] == pytest.approx(again.estimate[0], rel=1e-6)
        assert t[b] == pytest.approx(again.estimate[0] / again.std_error[0], rel=1e-4)


def test_shifts_are_uniform_and_never_move_nobody():
    counts = np.array([3, 1, 2])
    shifts = draw_shifts(counts, 6000, np.random.default_rng(1))
    assert shifts.any(axis=1).all()
    seen = {tuple(s) for s in shifts}
    assert seen == {(a, 0, b) for a in range(3) for b in range(2)} - {(0, 0, 0)}
    each = np.unique(shifts, axis=0, return_counts=True)[1]
    assert each.min() > 0.9 * 6000 / 5
    with pytest.raises(ModelError, match="nobody has two complete steps"):
        draw_shifts(np.array([1, 1]), 5, np.random.default_rng(1))


@pytest.mark.parametrize("slope", [0.0, 0.6, 1.5])
def test_p_band_and_mark_speak_one_language_with_few_people(slope):
    result = tried_on(NAME, slopes_panel(np.full(6, slope), T=16))
    low, high = result.picture.options["band"]
    outside = not low < result.picture.options["mark"] < high
    assert outside == (value(result, "p, two-sided") <= 0.05) == ("outside" in result.picture.title)
    drawn = result.picture.data["value"].abs()
    p = (1 + (drawn >= abs(result.picture.options["mark"]) - 1e-9).sum()) / (1 + len(drawn))
    assert p == pytest.approx(value(result, "p, two-sided"))
    assert result.picture.options["mark"] == pytest.approx(value(result, "primary estimate"), rel=1e-6)


def test_numbers_do_not_depend_on_workers():
    panel = slopes_panel(np.full(6, 0.3), T=20)
    one, two = (tried_on(NAME, panel, workers=workers) for workers in (1, 2))
    assert value(one, "shuffles") > 2 * TASK
    assert one.numbers.equals(two.numbers)


def test_a_long_record_ends_with_the_first_shuffles_where_they_are_enough(monkeypatch):
    whole = proved(NAME, "holds")
    monkeypatch.setattr(shuffled_load, "LONG", 500)
    first = tried(NAME, CLINIC)
    assert (value(whole, "shuffles"), value(first, "shuffles")) == (999, 199)
    assert first.verdict == whole.verdict and "Of 199 estimates" in first.sentence

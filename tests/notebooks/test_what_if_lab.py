"""The what-if lab: sliders that move it, words that follow, and the grid where nothing can be moved."""

import pytest
from IPython.core.interactiveshell import InteractiveShell
from IPython.utils.capture import capture_output

import lagwise as lw
from lagwise.planning.what_if import RANGES


@pytest.fixture(scope="module")
def lab():
    return lw.what_if(people=8, weeks=12)


def test_its_words_give_the_truth_the_count_and_every_verdict(lab):
    first, second, *tried = lab.told
    assert first.startswith("This record (8 people, ")
    assert "put in: 0. It reads " in first
    assert second.startswith("Of 50 such records so far ")
    assert [t.split(",")[0] for t in tried] == ["Same-week answer", "Error in pain ratings", "Shuffled load"]
    assert lab.figure().alt.startswith("This record: ")


def test_a_slider_moved_is_another_record_and_the_button_adds_some(lab):
    shown = []
    box, button = lab.sliders(lambda: shown.append(lab.settings)).children
    sliders = dict(zip(RANGES, box.children, strict=True))
    assert [s.description for s in sliders.values()][:2] == ["People", "Weeks"]
    assert all(not s.continuous_update for s in sliders.values())
    before = lab.result
    sliders["difference"].value = 0.5
    assert lab.settings.difference == lab.result.truth == 0.5
    assert lab.result.estimate > before.estimate
    drawn = len(lab.records)
    button.click()
    assert len(lab.records) == 2 * drawn
    assert lab.seed == 2
    sliders["people"].value = 12
    assert len(lab.records) == drawn, "records of other settings are forgotten"
    assert len(shown) == 3


def test_where_nobody_can_move_anything_it_is_the_grid_with_its_words(lab):
    InteractiveShell.instance()
    try:
        with capture_output() as captured:
            lab._ipython_display_()
    finally:
        InteractiveShell.clear_instance()
    (output,) = captured.outputs
    assert set(output.data) == {"image/png", "text/plain"}
    alt = output.metadata["image/png"]["alt"]
    assert alt == lab.still().alt
    assert "Weeks, with feedback 0.3 and rating error 1: 13: " in alt

"""A slice of the study of caseloads made to fool: what is stored is what the code says, and the page is made from it."""

import csv

import numpy as np
import pytest
from challenge_panels import light_fit
from fooling import SIZES, TRICKS, caseload, left, measured, told, told_more
from fooling_page import MORE, PAGE, STORED, THRESHOLDS, page

from lagwise.models import fit_mixed


def _row(file, **keys) -> dict[str, str]:
    with file.open(encoding="utf-8", newline="") as opened:
        found = [r for r in csv.DictReader(opened) if all(r[k] == str(v) for k, v in keys.items())]
    assert len(found) == 1, keys
    return found[0]


def _alike(stored: dict[str, str], made: dict[str, object]) -> None:
    assert stored.keys() == made.keys()
    for key, value in made.items():
        if isinstance(value, float):
            assert float(stored[key]) == pytest.approx(value, abs=0.02), key
        else:
            assert stored[key] == str(value), key


@pytest.mark.parametrize("trick", ["feedback", "one person", "hidden weeks"])
def test_what_is_stored_is_what_is_said(trick):
    people, weeks = SIZES[0]
    made = told(trick, people, weeks, 70_000)
    _alike(_row(STORED, trick=trick, people=people, seed=70_000), made)


def test_what_is_stored_of_the_slower_challenges_is_what_is_said():
    _alike(_row(MORE, trick="hidden weeks", seed=70_000), told_more("hidden weeks", *SIZES[1], 70_000))


def test_what_is_stored_for_the_thresholds_is_what_is_found():
    people, weeks = SIZES[0]
    for make, name in ((left, "leave when it hurts"), (measured, "hidden cause")):
        _alike(
            _row(THRESHOLDS, caseloads=name, people=people, seed=80_000), make(name, people, weeks, 80_000)
        )


def test_the_page_is_made_from_what_is_stored():
    assert PAGE.read_text(encoding="utf-8") == page()


def test_the_light_fit_has_the_primary_row_and_the_adjustments_of_the_mixed_fit():
    panel = caseload(TRICKS["real"], *SIZES[0], 5)
    light, full = light_fit(panel), fit_mixed(panel)
    columns = ["estimate", "std_error", "df", "low", "high"]
    own = full.primary()
    assert np.allclose(light.effects[columns].to_numpy(dtype=float), own[columns].to_numpy(dtype=float))
    assert (light.effects["contrast"] == own["contrast"].to_numpy()).all()
    assert light.settings["exposures"] == full.settings["exposures"]
    both = full.tables["adjustments"].set_index("pain_adjusted")["estimate"].astype(float).to_dict()
    assert light.tables["adjustments"].set_index("pain_adjusted")["estimate"].to_dict() == pytest.approx(both)

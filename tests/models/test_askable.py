"""What a record can be asked, against what the models make of it."""

import pytest
from small_records import LACKING, tables

import lagwise as lw
from lagwise.core.errors import ModelError
from lagwise.models.askable import askable

PLAN = lw.Study("Rows and elbows")
LACKS = {
    "full": ("main", []),
    "load_only": ("description", [("no_rating", ("checkins.pain",), 0, 0)]),
    "pain_only": (
        "description",
        [
            ("no_load", ("sessions.sets",), 0, 0),
            ("no_exposure", ("checkins.stress", "checkins.sleep_hours", "checkins.worry"), 0, 0),
        ],
    ),
    "psychosocial": ("psychosocial", [("no_load", ("sessions.sets",), 0, 0)]),
    "three_weeks": ("description", [("short", (), 3, 8)]),
    "one_person": ("description", [("few_people", (), 1, 5)]),
    "few_people": ("description", [("few_people", (), 3, 5)]),
}


@pytest.mark.parametrize("kind", LACKS)
def test_what_can_be_asked_and_what_is_missing(kind):
    """Level, codes, columns and numbers; and a model carries the main question where, and only where, it says so."""
    caseload = lw.from_frames(**tables(**LACKING[kind]), plan=PLAN)
    panel = lw.build_panel(caseload)
    found = askable(panel, caseload)
    assert (found.level, [(m.code, m.columns, m.have, m.needs) for m in found.missing]) == LACKS[kind]
    try:
        rows = lw.fit_mixed(panel).effects
    except ModelError:
        rows = None
    carried = rows is not None and bool(rows["primary"].any())
    assert carried is (found.level == "main")
    within = set() if rows is None else set(rows.loc[rows["level"].ne("between"), "term"])
    assert set(found.terms) == within


def test_the_record_it_says_is_long_enough_is():
    """Five people with as many steps as it asks for are carried by the model of the planned exposure alone."""
    study = PLAN.with_(exposures=["jump"])
    short = lw.build_panel(lw.from_frames(**tables(5, 3), plan=study))
    needed = next(m.needs for m in askable(short).missing if m.code == "short")
    assert askable(lw.build_panel(lw.from_frames(**tables(5, needed), plan=study))).level == "main"
    assert askable(lw.build_panel(lw.from_frames(**tables(5, needed - 1), plan=study))).level == "description"

from dataclasses import replace

import pandas as pd
import writeup_inputs as made

from lagwise.core.study import LoadPlan
from lagwise.document.markdown import render_md
from lagwise.writeup import collect
from lagwise.writeup.document import document


def test_counts_are_those_of_the_panel():
    panel = made.panel(9, 12)
    found = collect(made.caseload(), panel, [], None)
    frame = panel.frame
    assert found.number("people") == 9
    assert found.number("steps") == len(frame)
    assert found.number("pain_steps") == frame["pain"].notna().sum()
    assert found.numbers["pain_steps"].share == frame["pain"].notna().mean()
    complete = frame["jump"].notna() & frame["pain"].notna() & frame["pain_next"].notna()
    assert found.number("main_steps") == complete.sum()
    assert found.gate.n_people == frame.loc[complete, "person"].nunique()
    assert found.number("flare_onsets") == (frame["flare_next"] == 1).sum() > 0


def test_a_flare_is_marked_on_the_step_it_begins():
    panel = made.panel(6, 14)
    found = collect(made.caseload(), panel, [], None)
    for one in found.people:
        mine = panel.frame[panel.frame["person"] == one.person]
        before = set(mine.loc[mine["flare_next"] == 1, "step"] + 1)
        assert {i for i, on in enumerate(one.flare) if on} == before


def test_the_panel_is_not_changed():
    panel = made.panel()
    before = panel.frame.copy(deep=True)
    collect(made.caseload(), panel, [made.mixed()], made.challenges())
    pd.testing.assert_frame_equal(panel.frame, before)


def test_settings_other_than_the_plan_are_listed():
    other = replace(made.STUDY, load=LoadPlan(measure="tonnage"))
    found = collect(made.caseload(), made.panel(study=other), [], None)
    assert found.study.changes == ("load.measure: 'sets' -> 'tonnage'",)
    assert found.study.plan_hash != found.study.recorded_plan_hash
    assert collect(made.caseload(), made.panel(), [], None).study.changes == ()


def test_provenance_names_what_made_it():
    found = collect(made.caseload(), made.panel(), [made.mixed()], made.challenges(), settings={"draws": 500})
    made_by = found.provenance
    assert made_by.settings == {"draws": 500, "challenge_seed": 7}
    assert made_by.data_hash == "ab" * 32
    assert made_by.packages["pandas"] == pd.__version__
    assert made_by.seconds["mixed (pain_next)"] == 0.41


def test_a_step_whose_next_rating_is_lost_is_not_counted_as_at_risk():
    panel = made.panel(9, 12)
    at_risk, told = panel.frame["at_risk"].eq(1), panel.frame["flare_next"].notna()
    found = collect(made.caseload(), panel, [], None)
    assert (
        found.number("at_risk_steps") == told.sum()
        and found.number("at_risk_untold") == (at_risk & ~told).sum()
    )
    lost = panel.frame.assign(pain_next=float("nan"), flare_next=float("nan"))
    never = collect(made.caseload(), replace(panel, frame=lost), [], None)
    assert never.number("at_risk_steps") == 0 and never.number("at_risk_untold") == at_risk.sum() > 0
    text = render_md(document(never))
    assert "0 person-weeks were at risk and rated in the next week" in text
    assert f"after {at_risk.sum()} more at risk no rating tells whether one began" in text

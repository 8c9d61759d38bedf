import pandas as pd
import pytest

from lagwise.caseload import read
from lagwise.caseload.convert import validate
from lagwise.caseload.repeats import empty_frame
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study

SCORED = Study(title="x", scores={"fear": (0.0, 66.0)})
SPOILT = {
    "pain": lambda f: f.assign(pain=11.0), "stress": lambda f: f.assign(stress=-1.0), "flare": lambda f: f.assign(flare="yes"),
    "person": lambda f: f.assign(person=pd.Series([None] * len(f), dtype="str")), "worry, columns": lambda f: f.drop(columns="worry"),
    "columns": lambda f: f.assign(extra=1), "columns ": lambda f: f[["date", "person", *f.columns[2:]]],
    "columns  ": lambda f: f.assign(row="3"),
}  # fmt: skip


@pytest.mark.parametrize("wrong", SPOILT)
def test_frames_that_break_the_contract_are_refused(folder, wrong):
    frame = read(folder()).checkins
    validate("checkins", frame, Study(title="x"))
    with pytest.raises(CaseloadError, match=rf"does not satisfy its schema \({wrong.strip()}\)"):
        validate("checkins", SPOILT[wrong](frame), Study(title="x"))


def test_declared_scores_and_legal_words_are_part_of_the_contract(folder):
    validate("people", empty_frame("people", SCORED), SCORED)
    with pytest.raises(CaseloadError, match=r"\(fear, columns\)"):
        validate("people", empty_frame("people"), SCORED)
    events = read(
        folder(
            checkins="person,date,pain\na1,2024-01-07,3\n", events="person,date,kind\na1,2024-01-03,break\n"
        )
    ).events
    with pytest.raises(CaseloadError, match=r"\(kind\)"):
        validate("events", events.assign(kind="brake"), SCORED)

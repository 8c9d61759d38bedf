import pandas as pd
import pytest

from lagwise.caseload import read
from lagwise.caseload.schemas import schema, validate
from lagwise.core import columns
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study


@pytest.mark.parametrize("table", columns.TABLES)
def test_schemas_follow_the_vocabulary(table):
    made = schema(table, Study(title="x"))
    assert list(made.columns) == [*columns.names(table), "row"]
    for column in columns.TABLES[table]:
        assert made.columns[column.name].nullable is not column.required


@pytest.mark.parametrize(
    "spoil",
    [
        lambda f: f.assign(pain=11.0), lambda f: f.assign(pain="3"),
        lambda f: f.assign(person=pd.Series([None] * len(f), dtype="str")), lambda f: f.assign(extra=1),
        lambda f: f[["date", "person", *f.columns[2:]]], lambda f: f.drop(columns="worry")],
)  # fmt: skip
def test_frames_that_break_the_contract_are_refused(folder, spoil):
    frame = read(folder()).checkins
    validate("checkins", frame, Study(title="x"))
    with pytest.raises(CaseloadError, match="does not satisfy its schema"):
        validate("checkins", spoil(frame), Study(title="x"))


def test_declared_scores_are_part_of_the_people_schema():
    made = schema("people", Study(title="x", scores={"fear": (0.0, 66.0)}))
    assert list(made.columns)[-2:] == ["fear", "row"]

import json

import numpy as np
import pandas as pd
import pytest
import writeup_inputs as made

from lagwise.core.errors import WriteUpError
from lagwise.findings import Findings
from lagwise.findings.plain import plain, table
from lagwise.writeup.collect import collect


@pytest.fixture(scope="module")
def findings():
    return collect(
        made.caseload(),
        made.panel(),
        [made.mixed(), made.ordinal(usable=False)],
        made.challenges(),
        settings={"seed": 3},
    )


def test_json_round_trip_is_exact(findings):
    again = Findings.from_json(findings.to_json())
    assert again == findings
    assert again.to_json() == findings.to_json()


def test_missing_and_infinite_become_null():
    frame = pd.DataFrame(
        {"a": [1.5, np.nan, np.inf], "b": pd.array([1, None, 3], dtype="Int64"), "c": ["x", None, pd.NA]}
    )
    assert table(frame).rows == ((1.5, 1, "x"), (None, None, None), (None, 3, None))
    assert plain({"when": pd.Timestamp("2024-03-01"), "n": np.int64(4), "t": (True, np.bool_(False))}) == {
        "when": "2024-03-01", "n": 4, "t": [True, False],
    }  # fmt: skip


def test_a_file_of_another_schema_is_refused(findings):
    other = json.loads(findings.to_json())
    other["schema_version"] = 99
    with pytest.raises(WriteUpError, match="schema_version"):
        Findings.from_json(json.dumps(other))
    with pytest.raises(WriteUpError, match="Make them again"):
        Findings.from_json("{")


def test_an_unknown_key_is_refused(findings):
    other = json.loads(findings.to_json()) | {"extra": 1}
    with pytest.raises(WriteUpError, match="extra"):
        Findings.from_json(json.dumps(other))


def test_a_missing_file_says_so(tmp_path):
    with pytest.raises(WriteUpError, match="cannot be opened"):
        Findings.read(tmp_path / "none.json")


def test_only_rows_of_usable_fits_are_offered(findings):
    assert {r.engine for r in findings.effects} == {"mixed", "ordinal"}
    assert {r.engine for r in findings.rows()} == {"mixed"}
    assert findings.primary.contrast == "+50 %"
    assert findings.rows(term=("stress", "worry"), adjustment="crude")

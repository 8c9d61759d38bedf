import json

import pytest
import writeup_inputs as made

from lagwise.findings.schema import PLACE, schema_text
from lagwise.writeup import collect


def test_the_kept_schema_is_the_models():
    assert PLACE.read_text(encoding="utf-8") == schema_text()


def test_findings_answer_to_the_schema():
    import jsonschema

    findings = collect(made.caseload(), made.panel(6, 10), [made.mixed(), made.ordinal()], made.challenges())
    data = json.loads(findings.to_json())
    jsonschema.validate(data, json.loads(schema_text()))
    data["gate"]["n_people"] = "many"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, json.loads(schema_text()))

import json
from pathlib import Path

import golden
import pytest
import writeup_inputs as made

from lagwise import findings
from lagwise.findings.value import SCHEMA_NAME, SCHEMA_VERSION, Findings
from lagwise.writeup.collect import collect

PLACE = Path(findings.__file__).with_name("findings.schema.json")


def schema_text() -> str:
    """The JSON Schema of findings.json (draft 2020-12), which is kept beside the model."""
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{SCHEMA_NAME} {SCHEMA_VERSION}",
        **{k: v for k, v in Findings.model_json_schema().items() if k != "title"},
    }
    return json.dumps(schema, indent=1, sort_keys=True) + "\n"


def test_the_kept_schema_is_the_models():
    golden.kept(PLACE, schema_text())


def test_findings_answer_to_the_schema():
    import jsonschema

    found = collect(made.caseload(), made.panel(6, 10), [made.mixed(), made.ordinal()], made.challenges())
    data = json.loads(found.to_json())
    jsonschema.validate(data, json.loads(schema_text()))
    data["gate"]["n_people"] = "many"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, json.loads(schema_text()))

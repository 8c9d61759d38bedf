import json

import pytest
import writeup_inputs as made

from lagwise.writeup import Findings, collect, write_up
from lagwise.writeup.schema import PLACE, schema_text


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


def test_a_report_can_be_written_again_from_its_findings_alone(tmp_path):
    findings = collect(made.caseload(), made.panel(2, 8), [], None)
    first = write_up(findings, tmp_path / "first")
    second = write_up(Findings.read(first / "findings.json"), tmp_path / "second")
    names = sorted(p.relative_to(first) for p in first.rglob("*") if p.is_file())
    assert names == sorted(p.relative_to(second) for p in second.rglob("*") if p.is_file())
    assert [n for n in names if (first / n).read_bytes() != (second / n).read_bytes()] == []

"""The JSON Schema of findings.json, generated from the model and kept beside it as `findings.schema.json`."""

from __future__ import annotations

import json
from pathlib import Path

from lagwise.findings import Findings
from lagwise.findings.value import SCHEMA_NAME, SCHEMA_VERSION

PLACE = Path(__file__).with_name("findings.schema.json")


def schema_text() -> str:
    """The schema as JSON text (draft 2020-12)."""
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{SCHEMA_NAME} {SCHEMA_VERSION}",
        **{k: v for k, v in Findings.model_json_schema().items() if k != "title"},
    }
    return json.dumps(schema, indent=1, sort_keys=True) + "\n"


if __name__ == "__main__":
    PLACE.write_text(schema_text(), encoding="utf-8")

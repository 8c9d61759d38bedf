"""Tables, plan and truth as text that is the same on every machine."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd

from lagwise.caseload.study_text import toml_key, toml_value
from lagwise.core.study import Study


def csv_text(frame: pd.DataFrame) -> str:
    """A caseload table as CSV: ISO dates, yes/no, plain numbers, empty cells where not recorded; `row` is left out."""
    columns = [name for name in frame.columns if name != "row" and frame[name].notna().any()]
    cells = [_cells(frame[name]) for name in columns]
    lines = [",".join(columns), *(",".join(row) for row in zip(*cells, strict=True))]
    return "\n".join(lines) + "\n"


def study_text(study: Study) -> str:
    """The plan as study.toml; what stands at its default in [clock], [load] and [pain] is left out."""
    analysis = study.analysis
    lines = [
        f"title = {toml_value(study.title)}",
        f"setting = {toml_value(study.setting)}",
        "",
        "[analysis]",
        f"exposures = {toml_value(analysis.exposures)}",
        f"primary = {toml_value(analysis.primary)}",
        f"primary_contrast = {analysis.primary_contrast:g}",
        f"practically_zero = {analysis.practically_zero:g}",
    ]
    if study.groups:
        lines += ["", "[groups]", *(f"{toml_key(name)} = {toml_value(names)}" for name, names in study.groups.items())]
    for name, (low, high) in study.scores.items():
        lines += ["", f"[scores.{toml_key(name)}]", f"low = {low:g}", f"high = {high:g}"]
    return "\n".join(lines) + "\n"


def truth_text(truth: dict[str, Any]) -> str:
    """The truth as JSON."""
    return json.dumps(truth, indent=1) + "\n"


def _cells(values: pd.Series) -> list[str]:
    if pd.api.types.is_datetime64_any_dtype(values.dtype):
        return values.dt.strftime("%Y-%m-%d").tolist()
    if pd.api.types.is_bool_dtype(values.dtype):
        return ["" if pd.isna(v) else "yes" if v else "no" for v in values]
    if pd.api.types.is_float_dtype(values.dtype):
        return ["" if pd.isna(v) else f"{v:.10g}" for v in values]
    return ["" if pd.isna(v) else str(v) for v in values]

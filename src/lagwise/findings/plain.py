"""Frames, arrays and mappings as plain JSON-able values: NaN, NA and infinities become None."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import Claim, Measured
from lagwise.findings import ChallengeFacts, FollowedFacts, Table


def scalar(value: Any) -> Any:
    """One value as a plain Python scalar; missing and infinite become None, dates ISO text."""
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        number = float(value)
        return number if math.isfinite(number) else None
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat() if value == value.normalize() else value.isoformat()
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return str(value)


def plain(value: Any) -> Any:
    """Nested mappings and sequences as dictionaries and lists of plain scalars."""
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, np.ndarray | pd.Series | pd.Index):
        return [plain(v) for v in value.tolist()]
    if isinstance(value, tuple | list | set | frozenset):
        items = sorted(value, key=str) if isinstance(value, set | frozenset) else value
        return [plain(v) for v in items]
    return scalar(value)


def table(frame: pd.DataFrame, *, units: Mapping[str, str] | None = None, made_by: str = "") -> Table:
    """A frame as a `Table`, a named index becoming leading columns."""
    if any(name is not None for name in frame.index.names):
        frame = frame.reset_index()
    columns = [values.tolist() for _, values in frame.items()]
    rows = tuple(tuple(map(scalar, row)) for row in zip(*columns, strict=True))
    return Table(columns=tuple(map(str, frame.columns)), rows=rows, units=dict(units or {}), made_by=made_by)


def claim_facts(claim: Claim) -> dict[str, Any]:
    """What a claim adds to its name and verdict: the reason, and its numbers without fields that are as
    usual."""
    usual = plain(asdict(Measured(math.nan, "")))

    def facts(found: Measured) -> dict[str, Any]:
        return {k: v for k, v in plain(asdict(found)).items() if k in ("value", "unit") or v != usual[k]}

    numbers = {k: facts(v) if isinstance(v, Measured) else v for k, v in claim.numbers.items()}
    return {"reason": claim.reason, "numbers": numbers}


def claim_of(found: ChallengeFacts | FollowedFacts) -> Claim | None:
    """The claim of a challenge, or of what followed an event, again; None where findings hold none."""
    if found.claim is None:
        return None

    def measured(facts: dict[str, Any]) -> Measured:
        fields: dict[str, Any] = {k: math.nan if v is None else v for k, v in facts.items()}
        return Measured(**fields | {"of": tuple(facts.get("of", ()))})

    numbers = {k: measured(v) if isinstance(v, dict) else v for k, v in found.claim["numbers"].items()}
    about, verdict = ("followed", "") if isinstance(found, FollowedFacts) else (found.name, found.verdict)
    return Claim(about, verdict, found.claim["reason"], numbers)

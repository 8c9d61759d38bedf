"""The findings: every number of a write-up as one typed, frozen, JSON-able value, without words."""

from __future__ import annotations

from lagwise.findings.facts import (
    ESTIMAND,
    ChallengeFacts,
    EffectRow,
    FitFacts,
    FollowedFacts,
    GateFacts,
    Number,
    Part,
    PersonEvent,
    PersonSeries,
    PictureFacts,
    Provenance,
    QuestionFacts,
    Scalar,
    StudyFacts,
    Table,
)
from lagwise.findings.value import Findings, rows_of

__all__ = [
    "ESTIMAND",
    "ChallengeFacts",
    "EffectRow",
    "Findings",
    "FitFacts",
    "FollowedFacts",
    "GateFacts",
    "Number",
    "Part",
    "PersonEvent",
    "PersonSeries",
    "PictureFacts",
    "Provenance",
    "QuestionFacts",
    "Scalar",
    "StudyFacts",
    "Table",
    "rows_of",
]

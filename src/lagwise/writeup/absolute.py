"""Absolute risks of the primary contrast, taken from the ordinal fit's own tables."""

from __future__ import annotations

from dataclasses import dataclass

from lagwise.writeup.findings import Findings
from lagwise.writeup.wording import Risk
from lagwise.writeup.words import Words


@dataclass(frozen=True)
class AbsoluteRisk:
    """A risk with the words it is said in."""

    risk: Risk
    what: str
    more: str
    reference: str


def absolute_risk(findings: Findings, words: Words) -> AbsoluteRisk | None:
    """The risk of a rise of at least flare_rise points at the primary contrast and at its reference.

    None when there is no primary row, no usable ordinal fit, or its table lacks the row.
    """
    row = findings.primary
    fit = next(findings.usable("ordinal"), None)
    if row is None or fit is None or "risk" not in fit.tables:
        return None
    return None

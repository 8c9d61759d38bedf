"""Files -> checked tables: the study plan, reading, checking and de-identifying."""

from __future__ import annotations

from lagwise.caseload.check import check
from lagwise.caseload.deidentify import deidentify
from lagwise.caseload.reading import from_frames, read
from lagwise.caseload.study_file import load_study, study_at

__all__ = ["check", "deidentify", "from_frames", "load_study", "read", "study_at"]

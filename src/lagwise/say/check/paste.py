"""How an edit is written into a study.toml that is there."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.caseload.check_edits import Edit, block, heads, line_of
from lagwise.caseload.study_text import toml_key


def to_paste(edit: Edit, text: str, given: Mapping[tuple[str, ...], int]) -> tuple[str, str]:
    """How to write an edit into a study.toml that reads `text`, and what to write: a whole section, or lines
    of one that is there already or that an earlier edit brings (`given`: section -> number of that edit)."""
    head, keys = block(edit).split("\n", 1) if edit.section else ("", block(edit))
    sections = heads(text)
    there = [at for key in edit.keys if (at := line_of((*edit.section, key), text))]
    old = ", ".join(f"line {at}" for at in there)
    if len(there) == len(edit.keys):
        return f"Write in place of {old} of study.toml:", keys
    instead = f", in place of {old}" if there else ""
    if not edit.section:
        return f"Put at the very top of study.toml{instead}:", keys
    if edit.section in sections:
        return f"Put below {head} in line {sections[edit.section]} of study.toml{instead}:", keys
    if edit.section in given:
        return f"Put below {head} of number {given[edit.section]}:", keys
    if at := line_of(edit.section, text):
        return f"Put into {toml_key(edit.section[-1])} = {{ ... }} in line {at} of study.toml:", keys
    return "Paste at the end of study.toml:", block(edit)

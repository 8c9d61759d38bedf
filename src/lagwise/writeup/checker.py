"""Check a text for causal, frightening or over-certain wording, sentence by sentence and by rule."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from lagwise.say.checker_rules import ABBREVIATIONS, DENIED, END, EXEMPT_HEADING, QUOTED, RULES, Rule
from lagwise.writeup.checker_read import read_text

FEWEST_WORDS = 3
"""Shorter fragments (cells, labels) say too little to be judged."""


@dataclass(frozen=True)
class Remark:
    """One slip: the sentence it stands in, the words, the rule, why it matters and how it could be said."""

    sentence: str
    words: str
    rule: str
    why: str
    rewrite: str


def check_text(text: str) -> list[Remark]:
    """Remarks on a text, in reading order.

    Headings start with '#'. A section whose heading speaks of a causal reading is left alone, as are
    quotations; a sentence that denies a claim ('does not show that ...'), leaves it open ('whether ...') or
    asks is not taken to make it.

    Returns
    -------
    list of Remark
        Empty for a text without slips. The rules are patterns: they miss what is said in other words and can
        be wrong.
    """
    remarks: list[Remark] = []
    exempt_from = 0
    for block in re.split(r"\n\s*\n|\n(?=#)", text):
        flat = " ".join(block.split())
        heading = re.match(r"(#+) ", flat)
        if heading:
            level = len(heading.group(1))
            if not exempt_from or level <= exempt_from:
                exempt_from = level if EXEMPT_HEADING.search(flat) else 0
            flat = flat[heading.end() :]
        if exempt_from:
            continue
        for sentence in sentences(flat):
            remarks += check_sentence(sentence)
    return remarks


def check_file(path: str | Path) -> list[Remark]:
    """Remarks on a .md, .txt, .html or .docx file; see `check_text`."""
    return check_text(read_text(path))


def check_sentence(sentence: str) -> list[Remark]:
    """Remarks on one sentence, at most one for each rule."""
    if len(sentence.split()) < FEWEST_WORDS:
        return []
    bare = QUOTED.sub(lambda m: "\u2026", sentence)
    denied = bare.endswith("?") or DENIED.search(bare) is not None
    remarks = []
    for rule in RULES:
        found = rule.finds.search(bare)
        if (
            found is None
            or (rule.negatable and denied)
            or (rule.unless is not None and rule.unless.search(bare))
        ):
            continue
        remarks.append(Remark(sentence, found.group(0), rule.name, rule.why, _rewrite(bare, found, rule)))
    return remarks


def sentences(text: str) -> list[str]:
    """A paragraph's sentences; abbreviations and decimals do not end one."""
    held = ABBREVIATIONS.sub(lambda m: m.group(1) + "\u0000", text)
    parts = END.sub(lambda m: m.group(1) + "\n", held).split("\n")
    return [part.replace("\u0000", ".").strip() for part in parts if part.strip()]


def _rewrite(sentence: str, found: re.Match[str], rule: Rule) -> str:
    if rule.says is None:
        return rule.advice
    said = rule.says(found)
    if found.start() == 0:
        said = said[0].upper() + said[1:]
    return f"{sentence[: found.start()]}{said}{sentence[found.end() :]}"

"""Check a text for causal, frightening or over-certain wording, sentence by sentence and by rule."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from lagwise.say.checker_rules import RULES, Rule
from lagwise.writeup.checker_read import read_text

_ABBREVIATIONS = re.compile(r"\b(e\.g|i\.e|vs|cf|et al|Fig|Tab|No|Dr|approx|ca)\.(?=\s)")
_END = re.compile(r"([.!?][\"'\u201d\u2019)]*)\s+(?=[\"'\u201c\u2018(\[]?[A-Z0-9\u2212+])")
_QUOTED = re.compile(
    r"\"[^\"]{2,}\"|\u201c[^\u201d]{2,}\u201d|(?<!\w)'[^']{3,}'(?!\w)|\u2018[^\u2019]{3,}\u2019(?!\w)"
)
_EXEMPT_HEADING = re.compile(r"causal", re.IGNORECASE)
_DENIED = re.compile(
    r"\b(?:not|cannot|n't|never|nothing|nobody|no one|none|neither|no)\b[^.;:]{0,60}?"
    r"\b(?:show|shows|shown|mean|means|meant|prove|proves|proved|imply|implies|tell|told|claim|claims|"
    r"conclude|concludes|concluded|"
    r"say|says|said|known|establish|establishes|demonstrate|demonstrates|demonstrated|read as|settle|"
    r"decide|evidence that|proof that|be taken)\b"
    r"|\b(?:whether|wrong to (?:conclude|say|think|claim)|if it were|to (?:ask|see) if)\b"
    r"|\bcausal(?:ly)? (?:reading|language|claim|inference|question|interpretation|assumptions?)\b"
    r"|\bread (?:this )?causally\b"
    r"|\bnot (?:a|the) cause\b|\bnot causal\b|\bsequence, not\b"
    r"|\bnothing\b[^.;:]{0,40}\b(?:drives|causes)\b|\bthat nothing\b",
    re.IGNORECASE,
)


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
                exempt_from = level if _EXEMPT_HEADING.search(flat) else 0
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
    bare = _QUOTED.sub(lambda m: "\u2026", sentence)
    denied = bare.endswith("?") or _DENIED.search(bare) is not None
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
    held = _ABBREVIATIONS.sub(lambda m: m.group(1) + "\u0000", text)
    parts = _END.sub(lambda m: m.group(1) + "\n", held).split("\n")
    return [part.replace("\u0000", ".").strip() for part in parts if part.strip()]


def _rewrite(sentence: str, found: re.Match[str], rule: Rule) -> str:
    if rule.says is None:
        return rule.advice
    said = rule.says(found)
    if found.start() == 0:
        said = said[0].upper() + said[1:]
    return f"{sentence[: found.start()]}{said}{sentence[found.end() :]}"

"""Every number a reader meets is a rounding of a number in the findings."""

import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import pandas as pd
import pytest
import writeup_inputs as made

from lagwise.document.html import render_html
from lagwise.document.tree import Para, para
from lagwise.findings import rows_of
from lagwise.say.report.document import document, on_a_screen
from lagwise.say.report.figures import figures
from lagwise.say.report.figures_record import MONTHS
from lagwise.writeup.collect import collect
from lagwise.writeup.share import shared

NUMBER = re.compile(r"\d+(?:\u00a0\d{3})+|\d+(?:\.\d+)?")
BREAK = re.compile("[\u200b\u00ad]")
STRUCTURE = (
    r"(?:Table|Figure) \d+\b", r"\b0-10\b", r"\bfrom 0 to 10\b", r"\bless than 1 in 100\b", r"\b(?:of|in) 100\b", r"\+1 SD", r"\bwith 5 to 9 the\b", r"\bwith 10 to 29 small\b", r"\b(?:STROBE|Sport extension|Journals|Bayesian|Single cases|SCRIBE|TARGET) \d+[a-h]?(?:, \d+[a-h]?)*\b",
    r"with (?:\+1|1) (?:point|hour)", r"\+1 (?:point|hour|log unit)\b", r"\b1 (?:point|hour) above the person's own average",
)  # fmt: skip


class Reader(HTMLParser):
    """What is read or read aloud: text and accessible names, without style, script and drawings."""

    def __init__(self):
        super().__init__()
        self.parts, self.silent = [], 0

    def handle_starttag(self, tag, attrs):
        self.parts += [v for k, v in attrs if k in ("alt", "aria-label") and v]
        self.silent += tag in ("style", "script", "svg")

    def handle_endtag(self, tag):
        self.silent -= tag in ("style", "script", "svg")

    def handle_data(self, data):
        if not self.silent:
            self.parts.append(data)


def values(part):
    """(numbers, texts) anywhere in plain data."""
    if isinstance(part, dict | list):
        found = [values(v) for v in (part.values() if isinstance(part, dict) else part)]
        return [n for numbers, _ in found for n in numbers], [t for _, texts in found for t in texts]
    if isinstance(part, str):
        return [], [part]
    return ([part], []) if isinstance(part, int | float) and not isinstance(part, bool) else ([], [])


def allowed(findings):
    data = findings.model_dump(mode="json")
    people = data.pop("people")
    pictures = [c.pop("picture") for c in data["challenges"]]
    numbers, texts = values(data)
    texts += [t for p in pictures if p for t in values(p)[1]]
    dates = [r.month for r in pd.DataFrame(rows_of(findings, "calendar")).itertuples()]
    texts += [f"{MONTHS[int(d[5:7]) - 1]} {d[:4]}" for d in dates]
    codes = [p["person"] for p in people]
    roundings = set()
    for number in numbers:
        for scaled in (abs(number), 100 * abs(number)):
            roundings |= {f"{scaled:.{places}f}" for places in range(7)} | {f"{scaled:g}"}
    return roundings, codes + sorted({t for t in texts if re.search(r"\d", t)}, key=len, reverse=True)


def strangers(text, findings):
    """Numbers of a text that are no rounding of one in the findings, outside texts that the findings hold as they are.

    Lines may break anywhere in it and words be hyphenated, as in a PDF.
    """
    roundings, texts = allowed(findings)
    text = BREAK.sub("", text)
    for known in texts:
        words = BREAK.sub("", known).split()
        if len(known) > 2 and words:
            loose = (
                r"[\s\u2010]*".join(re.escape(c) for c in "".join(words))
                if len(known) > 12
                else re.escape(known)
            )
            text = re.sub(loose, " ", text)
    text = re.sub(r"[-\u2010]\s*\n(?=[a-z])", "", text)
    for pattern in STRUCTURE:
        text = re.sub(pattern.replace(" ", r"\s+"), " ", text)
    return [n for n in NUMBER.findall(text) if n.replace("\u00a0", "") not in roundings]


def read(html):
    reader = Reader()
    reader.feed(html)
    return "\n".join(reader.parts)


SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"><rect width="1" height="1"/></svg>'


def rendered(tree, findings):
    """The words of a page; its drawings are left empty. That all forms say the same is held where they are rendered."""
    empty = {name: {"png": b"", "svg": SVG} for name in figures(findings)}
    return read(render_html(on_a_screen(tree), empty))


CASES = {
    "both engines": lambda: collect(made.caseload(), made.panel(12, 14), [made.mixed("undecided"), made.ordinal("undecided")], made.challenges()),
    "exploratory": lambda: collect(made.caseload(), made.panel(7, 20), [made.mixed("higher", engine="within")], made.challenges()),
    "to share": lambda: shared(collect(made.caseload(), made.panel(12, 14), [made.mixed("undecided")], made.challenges())),
    "four people": lambda: collect(made.caseload(), made.panel(4, 12), [], None),
    "very many people": lambda: collect(made.caseload(), made.panel(100, 4), [made.mixed("small_higher"), made.ordinal("small_higher")], made.challenges()),
    "description": lambda: collect(made.caseload(), made.panel(1, 12), [], None),
    "no load": lambda: collect(
        made.caseload(made.without_load()), made.panel(12, 14, study=made.without_load(), loads=False), [made.mixed(study=made.without_load())], None
    ),
}  # fmt: skip


@cache
def case_of(name):
    return CASES[name]()


@pytest.mark.parametrize("case", CASES)
def test_every_number_is_in_the_findings(case):
    findings = case_of(case)
    text = rendered(document(findings), findings)
    assert len(NUMBER.findall(text)) > 100
    assert strangers(text, findings) == []


def test_a_number_from_nowhere_is_noticed_and_stands_alone():
    findings = case_of("both engines")
    tree = document(findings)
    at = next(i for i, b in enumerate(tree.blocks) if isinstance(b, Para) and "0.2 points higher" in "".join(s.text for s in b.spans))  # fmt: skip
    false = para(
        "".join(s.text for s in tree.blocks[at].spans).replace("0.2 points higher", "0.247 points higher")
    )
    wrong = replace(tree, blocks=(*tree.blocks[:at], false, *tree.blocks[at + 1 :]))
    text = rendered(wrong, findings)
    assert len(NUMBER.findall(text)) > 100 and strangers(text, findings) == ["0.247"]

"""Every number a reader meets is a rounding of a number in the findings."""

import re
from html.parser import HTMLParser

import pytest
import writeup_inputs as made

from lagwise.writeup import collect
from lagwise.writeup.document import document
from lagwise.writeup.figures import figures
from lagwise.writeup.render_html import render_html
from lagwise.writeup.share import shared

NUMBER = re.compile(r"\d+(?:\u00a0\d{3})+|\d+(?:\.\d+)?")
STRUCTURE = (
    r"(?:Table|Figure) \d+\b", r"\b0-10\b", r"\bfrom 0 to 10\b", r"\bfewer than 1 in 100\b", r"\b(?:of|in) 100\b", r"\+1 SD", r"\b(?:STROBE|Sport extension|Journals|Bayesian|Single cases) \d+[a-e]?\b",
    r"with (?:\+1|1) (?:point|hour)", r"\+1 (?:point|hour|log unit)\b", r"\b1 (?:point|hour) above the person's own average",
)  # fmt: skip


class Reader(HTMLParser):
    """What is read or read aloud: text and accessible names, without style and drawings."""

    def __init__(self):
        super().__init__()
        self.parts, self.silent = [], 0

    def handle_starttag(self, tag, attrs):
        self.parts += [v for k, v in attrs if k in ("alt", "aria-label") and v]
        self.silent += tag in ("style", "svg")

    def handle_endtag(self, tag):
        self.silent -= tag in ("style", "svg")

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
    codes = [p["person"] for p in people]
    roundings = set()
    for number in numbers:
        for scaled in (abs(number), 100 * abs(number)):
            roundings |= {f"{scaled:.{places}f}" for places in range(7)} | {f"{scaled:g}"}
    return roundings, codes + sorted({t for t in texts if re.search(r"\d", t)}, key=len, reverse=True)


def strangers(html, findings):
    reader = Reader()
    reader.feed(html)
    text = "\n".join(reader.parts)
    roundings, texts = allowed(findings)
    for known in texts:
        text = text.replace(known, " ") if len(known) > 2 else text
    for pattern in STRUCTURE:
        text = re.sub(pattern, " ", text)
    return [n for n in NUMBER.findall(text) if n.replace("\u00a0", "") not in roundings]


def rendered(findings):
    """The HTML, its drawings left empty: the words are what is read here."""
    empty = {name: {"png": b"", "svg": b'<svg viewBox="0 0 1 1"></svg>'} for name in figures(findings)}
    return render_html(document(findings), empty)


CASES = {
    "both engines": lambda: collect(made.caseload(), made.panel(12, 14), [made.mixed("undecided"), made.ordinal("undecided")], made.challenges()),
    "quick": lambda: collect(made.caseload(), made.panel(40, 26), [made.mixed("lower")], made.challenges()),
    "exploratory": lambda: collect(made.caseload(), made.panel(7, 20), [made.mixed("higher", engine="within")], made.challenges()),
    "to share": lambda: shared(collect(made.caseload(), made.panel(12, 14), [made.mixed("undecided")], made.challenges())),
    "description": lambda: collect(made.caseload(), made.panel(1, 12), [], None),
    "no load": lambda: collect(
        made.caseload(made.without_load()), made.panel(12, 14, study=made.without_load(), loads=False), [made.mixed(study=made.without_load())], None
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_every_number_is_in_the_findings(case):
    findings = CASES[case]()
    assert strangers(rendered(findings), findings) == []


def test_a_number_from_nowhere_is_noticed():
    findings = CASES["quick"]()
    html = rendered(findings)
    assert strangers(html.replace("0.38 points lower", "0.39 points lower"), findings) == ["0.39"] * html.count(
        "0.38 points lower"
    )

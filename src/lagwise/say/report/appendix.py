"""What only the author can fill in, and how the document was made."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.numbers import SPACE, decimals, fixed, significant, span, whole
from lagwise.document.tree import (
    Block,
    Grid,
    Heading,
    Span,
    blank,
    bullets,
    grid,
    grids,
    inline,
    para,
    strong,
)
from lagwise.findings import Findings, PictureFacts, rows_of
from lagwise.say.report.checklist import checklist
from lagwise.say.report.words import Words

PROMPTS = (
    ("Setting", "where and when people trained and were seen, and by whom"),
    ("Ethics", "approval or exemption: body, reference, date"),
    ("Consent", "how consent to use and to publish was asked and given"),
    (
        "Recruitment",
        "how people came to be in this caseload, who was asked and declined, who was left out and why",
    ),
    (
        "What else was done",
        "treatment, advice, medication and other exercise during the period, for whom and when",
    ),
    (
        "How ratings were asked",
        "wording of the {outcome} and other questions, who saw the answers, and whether they changed what "
        "was done",
    ),
    ("The people's own view", "what those who kept the log make of it"),
    ("Interests and funding", "who paid, and what the authors stand to gain"),
)


def to_fill_in(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """What only the author can know, as given in the plan or as a visible gap."""
    given = {"Setting": findings.study.setting.strip(), "Ethics": findings.study.ethics.strip()}
    items = []
    for name, prompt in PROMPTS if words.rated else [p for p in PROMPTS if "{outcome}" not in p[1]]:
        said: str | Span = given.get(name) or blank(f"author to fill in: {words.fill(prompt)}")
        items.append(inline(strong(f"{name}. "), said))
    return (
        Heading(2, "For the author to fill in", "author"),
        para("Nothing below is known to the program, and nothing is made up."),
        bullets(*items),
    )


STATUS = {"filled": "filled", "author": "author to write", "not_applicable": "not applicable"}


def reporting(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """The reporting checklist, every item with where it is met, what the author is to write, or why it does
    not apply.
    """
    rows: list[tuple[str | Span, ...]] = []
    for a in checklist(findings):
        where = blank(f"author to write: {a.where}") if a.status == "author" else a.where
        rows.append((f"{a.source}{SPACE}{a.number}", a.asks, STATUS[a.status], where))
    return (
        Heading(2, "Reporting checklist", "checklist"),
        para(
            f"Of {whole(findings.number('checklist_items'))} items "
            f"{whole(findings.number('checklist_filled'))} are filled, "
            f"{whole(findings.number('checklist_author'))} are for the author to write and "
            f"{whole(findings.number('checklist_not_applicable'))} do not apply."
        ),
        grid(
            "checklist-table",
            "What reporting standards ask for, and where it is",
            ("Item", "Asks for", "Status", "Where, or what is missing"),
            rows,
        ),
    )


_ASKED = "exposures asked for"
"""What a fit was given; the text names those that it does not hold."""


def appendix(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Versions, hashes, seeds, settings, durations and the gates of every fit."""
    made = findings.provenance
    rows: list[tuple[str | Span, str | Span]] = [
        ("lagwise", made.lagwise),
        ("Python", f"{made.python} on {made.platform}"),
        ("Packages", ", ".join(f"{k} {v}" for k, v in made.packages.items())),
        ("Made on", made.made_on),
        *([("Hash of the data", Span(made.data_hash, "code"))] if made.data_hash else []),
        ("Hash of the plan", Span(findings.study.plan_hash, "code")),
    ]
    if findings.study.plan_hash != findings.study.recorded_plan_hash:
        rows.append(("Hash of the recorded plan", Span(findings.study.recorded_plan_hash, "code")))
    rows += [(f"Setting: {k.replace('_', ' ')}", _value(v)) for k, v in made.settings.items()]
    named = {"exposures": _ASKED, "pain_adjusted": f"{words.asked} adjusted"}
    for fit in findings.fits:
        rows += [
            (f"{fit.by.label}: {named.get(k, k.replace('_', ' '))}", _value(v))
            for k, v in fit.settings.items()
        ]
    blocks: list[Block] = [
        Heading(2, "How this was made", "made"),
        para("Every number here is in findings.json; the document can be made again from that file alone."),
        grid("made-table", "Software, hashes, seeds and settings", ("What", "Value"), rows),
    ]
    gates = _gates(findings)
    blocks += [Heading(3, "Checks on each model", "gates"), *gates] if gates else []
    blocks += [*_expected(findings), *_predictive(findings)]
    if made.seconds:
        blocks.append(
            grid(
                "seconds", "How long each part took", ("Part", "Seconds"),
                [(_part(k, findings), significant(v)) for k, v in made.seconds.items()], numeric=(1,),
            )
        )  # fmt: skip
    return tuple(blocks)


def _part(key: str, findings: Findings) -> str:
    titles = {f"challenge {c.name}": f"Challenge: {c.title}" for c in findings.challenges}
    return titles.get(key, key.replace("_", " "))


def _gates(findings: Findings) -> list[Grid]:
    rows = []
    for fit in findings.fits:
        for record in fit.diagnostics.records():
            rows.append(
                (
                    f"{fit.by.label}, {fit.outcome.replace('_', ' ')}: "
                    f"{str(record.get('gate')).replace('_', ' ')}",
                    _value(record.get("value")),
                    _value(record.get("limit")),
                    {True: "passed", False: "failed", None: "not decided"}[record.get("passed")],
                    str(record.get("meaning") or ""),
                )
            )
    return grids(
        "gates-table",
        "Gates of every fit",
        ("Gate", "Value", "Limit", "Outcome", "Meaning"),
        rows,
        numeric=(1,),
    )


def _predictive(findings: Findings) -> list[Grid]:
    """What the Bayesian models would make, beside what was seen."""
    rows = []
    for r in (r for fit in findings.usable() for r in rows_of(fit, "ppc")):
        places = min(3, decimals(r["low"], r["high"]))
        inside = "" if r.get("within") is None else "inside" if r["within"] else "outside"
        limits = span(r["low"], r["high"], places)
        rows.append((str(r["meaning"]), fixed(r["observed"], places), limits, inside))
    return grids(
        "ppc",
        "Predictive checks: ratings the model makes, against those seen",
        ("Check", "Seen", "Made by the model (interval)", "Seen lies"),
        rows,
        numeric=(1, 2),
    )


def _expected(findings: Findings) -> list[Grid]:
    """What the Bayesian models' priors make before they have seen a rating."""
    rows = []
    for r in (r for fit in findings.usable() for r in rows_of(fit, "prior_predictive")):
        places = decimals(r["low"], r["high"])
        mean, seen = (fixed(r[k], places) for k in ("mean", "observed"))
        rows.append((str(r["meaning"]), mean, span(r["low"], r["high"], places), seen))
    return grids(
        "prior-predictive",
        "What the priors alone would make, before any rating was seen",
        ("Check", "Made on average", "Interval", "Seen"),
        rows,
        numeric=(1, 2, 3),
        note="Wide intervals around what was seen say that the priors leave room for it.",
    )


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return significant(value)
    if isinstance(value, list | tuple):
        return ", ".join(_value(v) for v in value)
    if isinstance(value, dict):
        return ", ".join(f"{k} {_value(v)}" for k, v in value.items())
    return "\u2013" if value is None else str(value)

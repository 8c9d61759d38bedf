"""What only the author can fill in, and how the document was made."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.numbers import SPACE, decimals, fixed, people_said, plural, significant, span, whole
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
    link,
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
    """What only the author can know, as given in the plan or as a visible gap; how many gaps, first."""
    given = {"Setting": findings.study.setting.strip(), "Ethics": findings.study.ethics.strip()}
    items, open_ = [], 0
    for name, prompt in PROMPTS if words.rated else [p for p in PROMPTS if "{outcome}" not in p[1]]:
        said: str | Span = given.get(name) or blank(f"author to fill in: {words.fill(prompt)}")
        open_ += isinstance(said, Span)
        items.append(inline(strong(f"{name}. "), said))
    missing = f"{plural(open_, 'blank is', 'blanks are')} left to fill in" if open_ else "No blank is left"
    further = link("the checklist names what else is yours to write", "checklist")
    return (
        Heading(2, "For the author"),
        para(f"{missing}; ", further, ".", role="finding"),
        para("Nothing below is known to the program, and nothing is made up."),
        bullets(*items),
    )


def ethics(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """One page for an ethics board: consent, data, which version this is, who is shown, what leaves."""
    given = findings.study.ethics.strip()
    private, attested = bool(findings.people), findings.study.consent_single_person_plots
    told: tuple[tuple[str, str | Span], ...] = (
        ("Approval", given or blank("author to fill in: body, reference and date, or why none was needed")),
        (
            "Consent",
            blank("author to fill in: what was asked for and agreed to, and how it can be withdrawn"),
        ),
        (
            "Consent to show single people",
            "The plan attests it." if attested else "The plan does not attest it.",
        ),
        ("Version", PRIVATE if private else SHARED),
        (
            "Who is shown",
            f"{people_said(len(findings.people))}, under codes." if private else "Nobody singly.",
        ),
        ("Data", DATA.format(recognised=words.spelled("recognised"))),
        ("What leaves", LEAVES),
        ("Use", USE),
    )
    return (
        Heading(2, "For the ethics board"),
        para(VERSION_FOUND[private], role="finding"),
        bullets(*(inline(strong(f"{name}. "), said) for name, said in told)),
    )


PRIVATE = "Private: it holds courses of single people and stays with those who keep the log."
SHARED = "To share: single people and small cells are left out, and numbers are rounded."
DATA = (
    "The log is kept under codes. A course over time can be {recognised} all the same, so coded records are "
    "personal data."
)
LEAVES = (
    "Nothing leaves the machine by itself. Figures, tables and this text leave when somebody passes this "
    "folder on."
)
USE = "It describes a group after the fact. It screens nobody, advises nobody and is no medical device."
VERSION_FOUND = {
    True: "This version shows single people and is not for passing on.",
    False: "This version shows nobody singly and is made to be passed on.",
}


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
        Heading(2, "Reporting checklist"),
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
    named = {
        "exposures": _ASKED,
        "pain_adjusted": f"{words.asked} adjusted",
        "priors": "priors, SD of log-odds",
    }
    for fit in findings.fits:
        rows += [
            (f"{fit.by.label}: {named.get(k, k.replace('_', ' '))}", _value(v))
            for k, v in fit.settings.items()
        ]
    blocks: list[Block] = [
        Heading(2, "How this was made"),
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
                [(_part(k, findings), fixed(v, 1)) for k, v in made.seconds.items()], numeric=(1,),
            )
        )  # fmt: skip
    return tuple(blocks)


def _part(key: str, findings: Findings) -> str:
    titles = {f"challenge {c.name}": f"Challenge: {c.title}" for c in findings.challenges}
    engine, _, of = key.partition(" ")
    named = {f.engine: f.by.label for f in findings.fits}
    return titles.get(key, f"{named.get(engine, engine)} {of}".rstrip().replace("_", " "))


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

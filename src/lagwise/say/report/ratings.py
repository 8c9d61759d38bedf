"""Results: how far ratings stray from pain, how load answers it, and what that does to the main result."""

from __future__ import annotations

import math

from lagwise.core.numbers import decimals, fixed, limits_text
from lagwise.core.words import capital
from lagwise.document.tree import Block, Heading, grid, para
from lagwise.findings import Findings, FitFacts, rows_of
from lagwise.say.report.words import Words

OF_TENTH = "% of a tenth"
"""Unit of load's answers on a scale whose tenth is no point."""

QUANTITY = {
    "carry_over": ("Carry-over of what lasts", "share kept a {step}"),
    "lasting_sd": ("Spread of what lasts, within people", "{points} (SD)"),
    "error_sd": ("Error of the rating of a {step}", "{points} (SD)"),
    "reliability": ("Reliability of a rating, within people", "share"),
    "felt_answer": ("Load lower per {point} of {outcome} as felt", "log units"),
    "rating_answer": ("Load lower per {point} of the rating's error", "log units"),
    "level_answer": ("Load higher per {point} of the person's usual {outcome}", "log units"),
    "slope_sd": ("Spread of the effect between people", "{points} per log unit (SD)"),
}
PER_POINT = ("felt_answer", "rating_answer", "level_answer")
ANSWERS = {
    "free": "As the record tells it (the estimate above)",
    "felt": "If load answered only the {outcome} that lasts",
    "rated": "If load answered the rating itself",
}


def joint_fit(findings: Findings) -> FitFacts | None:
    """The joint model, where it is usable."""
    return next(findings.usable(headline="joint"), None)


def rated_value(fit: FitFacts, quantity: str) -> float | None:
    """An estimate of the table of ratings, by its name."""
    records = rows_of(fit, "rating")
    return next((r["estimate"] for r in records if r["quantity"] == quantity), None)


def answer_said(fit: FitFacts, words: Words) -> str:
    """How far load is cut or raised for more felt pain: '24 % lower for each point', on 0-100 for each 10
    points.
    """
    lower = rated_value(fit, "felt_answer") or 0.0
    wide = words.question.scale if words.outcome.unit == "point" else 1
    units = {str(r.get("unit")) for r in rows_of(fit, "rating")}
    if OF_TENTH not in units:
        lower = 100 * (1 - ((1 - lower / 100) if "%" in units else math.exp(-lower)) ** wide)
    each = words.outcome.unit if wide == 1 else f"{wide:g} {words.unit}"
    return f"{fixed(abs(lower), 0)} % {'lower' if lower >= 0 else 'higher'} for each {each}"


def only_load(findings: Findings, words: Words) -> str:
    """That another question than load's is led by ratings as they are, and why; empty where load is asked
    about or no joint estimate is there.
    """
    row = findings.primary
    if row is None or row.term == "jump" or findings.joint is None:
        return ""
    return (
        f"That way was tested for load alone and does not know that {words.label(row.term)} may answer "
        f"{words.asked} as well, so ratings as they are lead here."
    )


def ratings(findings: Findings, words: Words) -> list[Block]:
    """The joint model's table of ratings and of load's answer, and the main result under either answer;
    nothing without that model.
    """
    fit = joint_fit(findings)
    if fit is None or "rating" not in fit.tables:
        return []
    rows = []
    for r in fit.tables["rating"].records():
        of_tenth = r.get("unit") == OF_TENTH
        each = words.question.amount(words.question.scale) if of_tenth else "{point}"
        name, unit = (words.fill(text.replace("{point}", each)) for text in QUANTITY[str(r["quantity"])])
        percent = of_tenth or r.get("unit") == "%"
        if r.get("unit"):
            unit = "%" if percent else words.fill(f"{{points}}, {r['unit']} load (SD)")
        rows.append(
            (
                name,
                limits_text(
                    r["estimate"],
                    r["low"],
                    r["high"],
                    max(
                        2 if r["quantity"] not in PER_POINT or words.question.scale < 5 else 3,
                        decimals(r["low"], r["high"]),
                    )
                    if not percent
                    else decimals(r["low"], r["high"]),
                ),
                unit,
                str(r["prior"] or ""),
            )
        )
    blocks: list[Block] = [
        Heading(3, f"How far ratings stray, and how load answers {words.asked}", "ratings"),
        para(
            f"{words.feedback}, and a rating is not the {words.asked} itself: it strays. Held equal as "
            "it is, it leaves part of that answer in the result. The joint model "
            f"takes ratings as measures with error, and load as answering the {words.asked} behind "
            f"them: {answer_said(fit, words)} more of felt {words.asked}. "
            f"{only_load(findings, words)}".rstrip()
        ),
        grid(
            "ratings-table",
            f"Ratings, {words.asked} and load's answer, by the joint model",
            ("Quantity", "Estimate (95 % interval)", "Unit", "Weak prior"),
            rows,
            numeric=(1,),
        ),
    ]
    if "answers" in fit.tables and (findings.primary is None or findings.primary.term == "jump"):
        cells = [
            (
                words.fill(ANSWERS[str(r["answers"])]),
                limits_text(r["estimate"], r["low"], r["high"]),
            )
            for r in fit.tables["answers"].records()
        ]
        blocks.append(
            grid(
                "answers-table",
                "The main difference, by what load answers",
                ("Load answers", f"{capital(words.unit)} (95 % interval)"),
                cells,
                numeric=(1,),
                note="The record tells only in part which it is; the estimate above weighs both.",
            )
        )
    return blocks

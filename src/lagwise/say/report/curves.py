"""Results: how long the association with load lasts, and whether it is straight."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lagwise.core.numbers import limits_text, side, signed, significant, size
from lagwise.core.study import INTERVAL
from lagwise.core.words import capital, listed
from lagwise.document.tree import Block, Figure, Heading, grid, para
from lagwise.findings import Findings, FitFacts, PictureFacts, Table
from lagwise.say.report.words import Words

SUMMED = ("cumulative", "cumulative_low", "cumulative_high")


def curves(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> list[Block]:
    """Load's lags and its dose-response curve, each with its figure, table and what it does not say."""
    return [*_lags(findings, words, pictures), *_dose(findings, words, pictures)]


def _of(findings: Findings, name: str) -> tuple[FitFacts | None, list[dict[str, Any]]]:
    fit = next((f for f in findings.usable(answers="curve") if name in f.tables), None)
    return fit, [] if fit is None else fit.tables[name].records()


def _number(record: dict[str, Any], keys: tuple[str, str, str] = ("estimate", "low", "high")) -> str:
    estimate, low, high = (record[k] for k in keys)
    return limits_text(estimate, low, high)


def _when(steps: int, words: Words) -> str:
    return {0: f"the same {words.step}", 1: f"the {words.step} before"}.get(
        steps, f"{steps} {words.steps} before"
    )


def _lags(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> list[Block]:
    fit, rows = _of(findings, "lags")
    if fit is None or not rows:
        return []
    apart = [_when(r["steps_before"], words) for r in rows if side(r["low"], r["high"])]
    found = listed([*apart[:1], *(f"of {when}" for when in apart[1:])])
    more = rows[0]["contrast"].lstrip("+-")
    which = "less" if rows[0]["contrast"].startswith("-") else "more"
    return [
        Heading(3, f"How long it lasts: load of the {words.steps} before", "how-long"),
        para(
            f"Load of {found or f'none of these {words.steps}'} goes with a difference in {words.asked} "
            f"whose interval leaves out 0. Each {words.step}'s load is compared at the same load "
            f"{words.on} the other {words.steps}, the same usual load and the same earlier {words.asked}. "
            f"So {words.asked} that had followed by then is held equal: {words.steps} further back show what "
            "came later still, not all that followed."
        ),
        *(
            [
                Figure(
                    "lags",
                    f"{capital(words.asked)} after {more} {which} load, by when it was lifted.",
                    pictures["lags"].alt,
                )
            ]
            if "lags" in pictures
            else []
        ),
        grid(
            "lags-table",
            f"Difference in {words.asked} for {more} {which} load, {words.step} by {words.step}",
            (
                "Load of",
                f"{capital(words.unit)} ({size(100 * INTERVAL)} % interval)",
                "Had it stayed so since",
            ),
            [(_when(r["steps_before"], words), _number(r), _number(r, SUMMED)) for r in rows],
            numeric=(1, 2),
            note=f"{words.sample(fit)}. Adjacent {words.steps} are drawn towards a smooth course; the "
            f"last column sums the {words.steps} up to that one.",
        ),
    ]


def _dose(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> list[Block]:
    fit, rows = _of(findings, "dose")
    if fit is None or not rows:
        return []
    p = fit.tables["nonlinearity"].records()[0]["p"] if "nonlinearity" in fit.tables else None
    bent = p is not None and p < 1 - INTERVAL
    said = (
        "" if p is None or p == 1 else f" (p {f'at most {size(p)}' if findings.shared else significant(p)})"
    )
    return [
        Heading(3, "Dose-response: whether the association is straight", "how-straight"),
        para(
            f"A curve that may bend {'is told from' if bent else 'is not told from'} a straight line{said}. "
            + (
                f"One number for {words.label('jump')} then averages over sizes that differ."
                if bent
                else "That is no proof that it is straight: the band shows what else fits."
            )
            + (
                f" It is drawn over the loads that most {words.steps} show, and says nothing beyond them; no "
                "size on it is a limit that is safe or not."
            )
        ),
        *(
            [
                Figure(
                    "dose",
                    f"{capital(words.asked_then)} against load, set against {words.steps} at the usual load.",
                    pictures["dose"].alt,
                )
            ]
            if "dose" in pictures
            else []
        ),
        grid(
            "dose-table",
            f"Difference in {words.asked_then}, by load",
            ("Load against the usual", f"{capital(words.unit)} ({size(100 * INTERVAL)} % interval)"),
            [(f"{signed(r['percent'], 0)} %", _number(r)) for r in rows],
            numeric=(1,),
            note=f"{words.sample(fit)}. Held equal as in the main model; how people differ is taken as "
            "straight.",
        ),
    ]


def curve_pictures(findings: Findings, words: Words) -> dict[str, PictureFacts]:
    """The figures of lags and of the dose-response curve, where these were made."""
    out = {}
    zero = findings.study.outcome.zero
    named = {
        "lags": ("steps_before", f"How {words.asked} goes with load, by the {words.steps} between them",
                 f"{words.steps} from the load to the rating"),
        "dose": ("percent", f"{capital(words.asked_then)}, by load", "load against the person's usual, %"),
    }  # fmt: skip
    for name, (x, title, axis) in named.items():
        fit, rows = _of(findings, name)
        if fit is None or not rows:
            continue
        whole = fit.tables["curve"].records() if name == "dose" and "curve" in fit.tables else rows
        contrast = f" for {rows[0]['contrast']} load" if name == "lags" else ""
        numbers = "; ".join(
            f"{_when(r[x], words) if name == 'lags' else f'{signed(r[x], 0)} %'}: {_number(r)}" for r in rows
        )
        out[name] = PictureFacts(
            kind="curve",
            title=title,
            data=Table(
                columns=("x", "estimate", "low", "high"),
                rows=tuple((r[x], r["estimate"], r["low"], r["high"]) for r in whole),
                made_by=f"fit {fit.engine}",
            ),
            x=axis,
            y=f"difference in {words.asked}{contrast}, {words.unit}",
            alt=f"Differences in {words.asked}, in {words.unit}, with intervals. {numbers}.",
            options={
                "reference": 0,
                "band": [-zero, zero],
                "subtitle": f"{size(100 * INTERVAL)} % intervals; {words.sample(fit)}; shaded: practically "
                "zero",
            },
        )
    return out

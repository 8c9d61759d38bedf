"""The primary estimate by other estimators, and how far it differs from person to person."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.numbers import decimals, fixed, limits_text, whole
from lagwise.core.words import capital
from lagwise.document.tree import Block, Figure, Heading, grid, para
from lagwise.findings import Findings, FitFacts, PictureFacts, rows_of
from lagwise.say.report.words import Words

COMPONENT = {
    "intercept_sd": "Person to person, what is left of the level (SD)",
    "slope_sd": "Person to person, slope (SD)",
    "residual_sd": "Left over, {step} to {step} (SD)",
}


def estimators(findings: Findings, words: Words) -> list[Block]:
    """The primary contrast beside its fixed-effects and bias-corrected twins, where the fit holds them."""
    row, fit = findings.as_rated, lead(findings)
    if row is None or fit is None:
        return []
    rows = [
        (
            "As planned",
            limits_text(row.estimate, row.low, row.high),
            whole(row.n_steps),
        )
    ]
    for record in rows_of(fit, "within"):
        if record.get("estimate") is not None:
            low, high = record["low"], record["high"]
            text = limits_text(record["estimate"], low, high)
            rows.append(
                ("Each person compared with themselves only (fixed effects)", text, whole(record["n_steps"]))
            )
    for record in rows_of(fit, "jackknife"):
        if record.get("estimate") == "corrected":
            low, high = record["low"], record["high"]
            text = limits_text(record["value"], low, high)
            rows.append(
                ("Corrected for short records (split-panel jackknife)", text, whole(record["n_steps"]))
            )
    if len(rows) == 1:
        return []
    label = words.label(row.term)
    return [
        Heading(3, "By other estimators", "other-estimators"),
        grid(
            "estimators",
            f"{capital(label)}, {words.short_contrast(row)}: the same estimand by other estimators",
            (
                "Estimator",
                f"{capital(words.unit)} ({fixed(100 * (row.interval or 0), 0)} % interval)",
                f"Person-{words.steps}",
            ),
            rows,
            numeric=(1, 2),
            note="Short records leave a bias where "
            + words.asked
            + " feeds back on "
            + words.exposure
            + (
                "; it shrinks as records grow. The jackknife estimates it, with noise of its own, and may "
                "or may not come nearer to the truth."
            ),
        ),
    ]


def varying(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> list[Block]:
    """Heterogeneity: standard deviations with intervals, the share of variance between people, each person's
    slope.
    """
    fit = lead(findings)
    components = rows_of(fit, "random_effects") if fit else []
    if not components:
        return []
    rows = []
    for record in components:
        low, high = record["low"], record["high"]
        places = words.outcome.places if low is None else decimals(low, high)
        text = fixed(record["estimate"], places)
        if low is not None and high is not None:
            text += f" ({fixed(low, places)} to {fixed(high, places)})"
        name = words.fill(COMPONENT.get(str(record["component"]), str(record["component"])))
        rows.append((name, text, str(record["unit"]).replace("points", words.unit)))
    blocks: list[Block] = [Heading(3, "How far people differ", "varying")]
    icc = next((r["value"] for r in rows_of(fit, "variance") if r["quantity"] == "icc"), None)
    if icc is not None:
        blocks.append(
            para(
                f"Of the variation in {words.asked} itself, {fixed(100 * icc, 0)} of 100 parts lie "
                "between people, in their usual levels; the rest lies "
                f"within people, from {words.step} to {words.step}. The table is about what is left of "
                "both once the model has had its say."
            )
        )
    unit = f"{words.unit_of(words.term) or 'unit'} of {words.label(words.term)}"
    per = "" if words.primary.whole else f" Units of slopes are per {unit}."
    blocks.append(
        grid(
            "varying-table",
            "Spread between people and within them",
            ("Component", "Estimate", "Unit"),
            rows,
            numeric=(1,),
            note=(
                "What is left once the model's columns are taken into account; the person's usual "
                f"{words.asked} is one of them.{per}"
            ),
        )
    )
    if "people-slopes" in pictures:
        blocks.append(
            Figure(
                "people-slopes",
                "Each person's slope, sorted. Slopes of single people are uncertain and drawn towards "
                "the caseload's; they rank nobody and "
                "say nothing about what a person should do.",
                pictures["people-slopes"].alt,
            )
        )
    return blocks


def lead(findings: Findings) -> FitFacts | None:
    """The usable fit that carries the primary row."""
    row = findings.as_rated
    if row is None:
        return None
    return next((f for f in findings.usable(name=row.engine) if f.outcome == row.outcome), None)

"""What came before flare-ups: absolute risks first, odds ratios of both engines, and both definitions kept
apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from lagwise.core.numbers import (
    decimals,
    fixed,
    limits_text,
    people_said,
    per_hundred,
    plural,
    side,
    signed,
    span,
    whole,
)
from lagwise.core.words import PER_UNIT, capital
from lagwise.document.tree import Block, Figure, Grid, Heading, grid, grids, para
from lagwise.findings import EffectRow, Findings, FitFacts, PictureFacts, Table, rows_of
from lagwise.say.report.absolute import AbsoluteRisk
from lagwise.say.report.wording import Risk, counted
from lagwise.say.report.words import Words

AGREEMENT = {
    "both": "Both by pain and by word",
    "pain_only": "By pain only",
    "reported_only": "By word only",
    "neither": "Neither",
}


def flares(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> list[Block]:
    """The flare models where they are usable; else nothing, since the gate that failed is named elsewhere."""
    fit = next((f for f in findings.fits if f.by.answers == "onset"), None)
    if fit is None:
        return []
    blocks: list[Block] = [Heading(3, f"What came before {words.turns}", "flares")]
    if fit.usable:
        blocks += _modelled(findings, fit, words)
    else:
        blocks.append(
            para(
                f"{capital(words.turns)} were counted but not {words.spelled('modelled')}: "
                f"{fit.why_not.rstrip('.')}."
            )
        )
    if "aligned" in pictures:
        caption = (
            f"Load jumps around {words.turns} {words.by}, against matched {words.steps} at risk of the "
            "same people."
        )
        blocks.append(Figure("aligned", caption, pictures["aligned"].alt))
    return [*blocks, *(_agreement(fit, words) if words.of_pain else [])]


def _modelled(findings: Findings, fit: FitFacts, words: Words) -> list[Block]:
    counts = {str(r["quantity"]): r["value"] for r in rows_of(fit, "counts")}
    rows = _odds(findings, fit)
    blocks: list[Block] = [
        para(
            f"{plural(counts.get('onsets'), words.turn, words.turns)} {words.by} began after "
            f"{whole(counts.get('at_risk_steps'))} person-{words.steps} at risk with "
            f"everything known, {whole(counts.get('informative_people'))} people having both a "
            f"{words.step} before a {words.turn} and others. "
            f"{_risk(findings, words, rows)}".strip()
        )
    ]
    if rows:
        blocks.append(_odds_grid(rows, words))
    other = next(iter(rows_of(fit, "other_definition")), None)
    if words.of_pain and other is not None and other.get("odds_ratio") is not None:
        places = decimals(other["low"], other["high"])
        blocks.append(
            para(
                "By the person's own word instead of by pain, the odds ratio for the same contrast "
                f"({other['contrast']}) is "
                f"{fixed(other['odds_ratio'], places)} (95 % interval "
                f"{span(other['low'], other['high'], places)}; "
                f"{whole(other['onsets'])} onsets in {whole(other['n_steps'])} person-{words.steps})."
            )
        )
    return [*blocks, *_bias(fit)]


def flare_risk(findings: Findings, words: Words) -> AbsoluteRisk | None:
    """The risk of a turn for the worse at the primary contrast and at its reference, by the flare model."""
    fit = next((f for f in findings.usable(answers="onset")), None)
    rows = {str(r["what"]): r for r in rows_of(fit, "risk")}
    gap = rows.get("difference")
    if fit is None or gap is None or not {"reference", "contrast"} <= set(rows) or gap["low"] is None:
        return None
    row = next((r for r in fit.effects if r.term == gap.get("term") and r.contrast == gap.get("at")), None)
    if row is None:
        return None
    reference, contrast, more = (rows[k]["probability"] for k in ("reference", "contrast", "difference"))
    risk = Risk(reference, contrast, more, gap["low"], gap["high"])
    begins = f"the beginning of a {words.turn}"
    return AbsoluteRisk(risk, begins, words.steps_of(row), words.steps_against(row.term))


def _risk(findings: Findings, words: Words, odds: Sequence[tuple[EffectRow | None, EffectRow | None]]) -> str:
    """The risk, and that odds read otherwise where their interval does."""
    found = flare_risk(findings, words)
    if found is None:
        return ""
    said = counted(
        found.risk, found.what, found.more, found.reference, model="flare model", sort="confidence"
    )
    own = next((r for _, r in odds if r is not None and r.term == words.term), None)
    if own is None or own.low is None or own.high is None:
        return said
    without = own.low > 1 or own.high < 1
    if without == bool(side(found.risk.low, found.risk.high)):
        return said
    reads = "leaves out" if without else "includes"
    return f"{said} As odds, in the table, the interval {reads} 1: with few {words.turns} the two can differ."


def _odds(findings: Findings, fit: FitFacts) -> list[tuple[EffectRow | None, EffectRow | None]]:
    """(crude, adjusted) odds ratios of each exposure and engine at the planned contrast, else per unit."""
    primary = findings.as_rated
    pain = primary.pain_adjusted if primary else None
    rows = [
        r
        for r in fit.effects
        if r.scale == "odds_ratio"
        and r.level in ("within", "whole")
        and (pain is None or r.pain_adjusted == pain)
    ]
    out = []
    for term in findings.study.of("analysis", "exposures"):
        mine = [r for r in rows if r.term == term]
        contrast = next((r.contrast for r in mine if r.contrast != PER_UNIT), PER_UNIT)
        told: dict[str, dict[str, EffectRow]] = {r.engine: {} for r in mine}
        for r in (r for r in mine if r.contrast == contrast):
            told[r.engine].setdefault(r.adjustment, r)
        out += [(own.get("crude"), own.get("adjusted")) for own in told.values()]
    return out


def _odds_grid(pairs: list[tuple[EffectRow | None, EffectRow | None]], words: Words) -> Grid:
    cells = []
    for crude, adjusted in pairs:
        row = adjusted or crude
        if row is not None:
            name = f"{words.label(row.term)}, {words.short_contrast(row)}"
            cells.append(
                (
                    name,
                    row.by.label,
                    _ratio(crude),
                    _ratio(adjusted),
                    f"{whole(row.n_people)} ({whole(row.n_steps)})",
                )
            )
    interval = (
        f"{fixed(100 * (next(r.interval for p in pairs for r in p if r is not None) or 0), 0)} % interval"
    )
    return grid(
        "odds",
        f"Odds ratios of a {words.turn} {words.by} beginning {words.on} the next {words.step}",
        (
            "Exposure and contrast",
            "Model",
            f"Crude ({interval})",
            f"Adjusted ({interval})",
            f"People (person-{words.steps})",
        ),
        cells,
        numeric=(2, 3, 4),
        note=(
            "A ratio of 1 means equal odds. The self-controlled model compares each person's "
            f"{words.steps} before a {words.turn} with their own "
            f"other {words.steps} of the same stretch of the calendar."
        ),
    )


def _ratio(row: EffectRow | None) -> str:
    if row is None or row.estimate is None:
        return "\u2013"
    places = min(2, decimals(row.low, row.high))
    if row.low is None or row.high is None:
        return fixed(row.estimate, places)
    small = max(places, 1 if row.low >= 0.1 else 2)
    return f"{fixed(row.estimate, small)} ({span(row.low, row.high, small)})"


def _agreement(fit: FitFacts, words: Words) -> list[Grid]:
    rows = {str(r["quantity"]): r for r in rows_of(fit, "agreement")}
    if not any(r["n"] for r in rows.values()):
        return []  # nobody was asked
    cells = [
        (said, f"{whole(rows[key]['value'])} of {whole(rows[key]['n'])}")
        for key, said in AGREEMENT.items()
        if key in rows
    ]
    shares = {
        "share_of_pain_defined_also_reported": "Of those by pain, also by word",
        "share_of_reported_also_pain_defined": "Of those by word, also by pain",
    }
    for key, said in shares.items():
        if key in rows and rows[key]["n"] and "both" in rows:
            cells.append((said, f"{whole(rows['both']['value'])} of {whole(rows[key]['n'])}"))
    return grids(
        "agreement",
        "How far the two definitions of a flare-up agree",
        ("Flare-up begins", f"Person-{words.steps}"),
        cells,
        numeric=(1,),
        note="The two are never merged.",
    )


def _bias(fit: FitFacts) -> list[Grid]:
    cells = []
    per = fit.tables["bias_at_this_size"].units.get("bias") if "bias_at_this_size" in fit.tables else None
    places, what = (1, f"Bias of the odds ratio ({per})") if per else (2, "Bias, log-odds")
    for r in rows_of(fit, "bias_at_this_size"):
        cells.append(
            (
                str(r["truth"]),
                str(r["estimator"]),
                f"{signed(r['bias'], places)} \u00b1 {fixed(r['bias_mc_error'], places)}",
                f"{per_hundred(r['coverage'])} of 100 \u00b1 {per_hundred(r['coverage_mc_error'])}",
                whole(r["runs"]),
            )
        )
    return grids(
        "bias",
        "What these flare models do at this study's own size, in simulated studies",
        ("Truth", "Estimator", what, "Intervals that hold the truth", "Simulated studies"),
        cells,
        numeric=(2, 3, 4),
        note="The figure after \u00b1 is the simulation's own (Monte Carlo) standard error.",
    )


def aligned(findings: Findings, words: Words) -> PictureFacts | None:
    """Mean jump around flare onsets less that of matched steps, as a picture."""
    fit = next((f for f in findings.fits if "aligned" in f.tables), None)
    records = [r for r in rows_of(fit, "aligned") if r["difference"] is not None]
    if fit is None or not records:
        return None
    onsets = max(r["n_onsets"] for r in records)
    people = max(r["n_people"] for r in records)
    last = next((r for r in records if r["offset"] == -1), records[-1])
    percent = fit.tables["aligned"].units.get("difference") == "%"
    text = limits_text(last["difference"], last["low"], last["high"]) + (" %" if percent else "")
    unit = "%" if percent else "log units"
    return PictureFacts(
        kind="curve",
        title=f"Load around {words.turns} {words.by}: {text} {words.on} the {words.step} before",
        data=Table(
            columns=("x", "estimate", "low", "high", "n_onsets", "n_people"),
            rows=tuple(
                (r["offset"], r["difference"], r["low"], r["high"], r["n_onsets"], r["n_people"])
                for r in records
            ),
            made_by="fit flare",
        ),
        x=f"{words.steps} from the {words.step} in which the {words.turn} begins (0)",
        y=f"difference in load against the usual, {unit}",
        alt=(
            (
                f"Load against the usual around {words.turns} beside that of matched steps, in {unit}, with "
                "bands "
                "from resampling people: "
            )
            + "; ".join(
                (f"{signed(r['offset'], 0)}: {limits_text(r['difference'], r['low'], r['high'])}")
                for r in records
            )
            + "."
        ),
        options={
            "reference": 0,
            "subtitle": (
                f"up to {plural(onsets, words.turn, words.turns)} of {people_said(people)}; "
                "intervals from resampling people"
            ),
        },
    )

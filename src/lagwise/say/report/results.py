"""Results: the primary answer, every exposure side by side, the other adjustment, and fits that are not
usable.
"""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.numbers import fixed, limits_text, whole
from lagwise.core.question import Outcome
from lagwise.core.words import PER_SD, PER_UNIT, capital, listed
from lagwise.document.tree import Block, Box, Figure, Grid, Heading, bullets, grid, inline, para, strong
from lagwise.findings import EffectRow, Findings, FitFacts, PictureFacts
from lagwise.say.report.absolute import risks
from lagwise.say.report.curves import curves
from lagwise.say.report.figures import by_adjustment, side_by_side
from lagwise.say.report.figures_answer import answer_figure
from lagwise.say.report.fitted import main_fit, terms_in
from lagwise.say.report.flares import flares
from lagwise.say.report.further import further
from lagwise.say.report.prediction import prediction
from lagwise.say.report.ratings import ratings
from lagwise.say.report.reasons import left_said, no_answer
from lagwise.say.report.varying import estimators, varying
from lagwise.say.report.wording import followed, how_likely, reading
from lagwise.say.report.words import Words


def results(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """All estimates of usable fits; a fit that failed its gates is named with the gate, never with its
    numbers.
    """
    blocks: list[Block] = [Heading(2, "Results", "results")]
    if findings.primary is None:
        blocks.append(para(f"There is no result for the main question: {no_answer(findings).sentence}"))
    rows = side_by_side(findings)
    if rows:
        blocks += _exposures(findings, words, pictures, rows)
    blocks += _adjustments(findings, words, pictures)
    blocks += ratings(findings, words)
    blocks += estimators(findings, words)
    blocks += risks(findings, words)
    blocks += curves(findings, words, pictures)
    blocks += flares(findings, words, pictures)
    blocks += prediction(findings, words)
    blocks += varying(findings, words, pictures)
    blocks += _between(findings, words)
    blocks += further(findings, words)
    failed = [f for f in findings.fits if not f.usable]
    if failed:
        blocks.append(_not_usable(failed, words))
    return tuple(blocks)


def _exposures(
    findings: Findings, words: Words, pictures: Mapping[str, PictureFacts], rows: list[EffectRow]
) -> list[Block]:
    margin = findings.study.outcome
    blocks: list[Block] = [Heading(3, _side_by_side(rows, words), "side-by-side")]
    if "effects" in pictures:
        blocks.append(
            Figure(
                "effects",
                f"Adjusted differences in {words.asked_then}, each exposure at one contrast, within "
                "people. The dashed line is no difference.",
                pictures["effects"].alt,
            )
        )
    blocks += [answer_figure(name, words, pictures) for name in pictures if name.startswith("answer-")]
    said = [r for r in rows if r.by.as_rated] or rows
    likely = {
        r.term: _likely(r, words, margin) for r in rows if r.p_important is not None and not r.by.comparator
    }
    lines = [f"{followed(r, words, brief=True)} {likely.get(r.term, '')}".strip() for r in said]
    blocks += [
        para(f"{_each(said, words)} {left_said(findings, words)}".strip()),
        bullets(*lines),
        effect_grid(
            "effects-table", f"Differences in {words.asked_then}, by exposure", pairs(findings, rows), words
        ),
    ]
    return blocks


def _each(rows: list[EffectRow], words: Words) -> str:
    """What each of the rows holds equal, by the fit."""
    others = "the other exposures equal, and " if len({r.term for r in rows}) > 1 else ""
    equal = "" if others else " equal"
    first = "Each of these" if len(rows) > 1 else "This"
    return (
        f"{first} holds {others}{_held(rows[0], words)}{equal}; {'all are' if len(rows) > 1 else 'it is'} "
        f"in {words.unit}{words.on_scale}."
    )


def _side_by_side(rows: list[EffectRow], words: Words) -> str:
    """'Load, effort and stress side by side': the exposures of the fit as a heading."""
    terms = list(dict.fromkeys(r.term for r in rows))
    said = listed([words.briefly(t) for t in terms])
    return f"{capital(said)}{' side by side' if len(terms) > 1 else ''}"


def _likely(row: EffectRow, words: Words, margin: Outcome) -> str:
    """How likely a difference that matters is, naming the contrast where it is not the planned one."""
    at = f" for {words.short_contrast(row)}" if row.contrast == PER_SD else ""
    return how_likely(row, margin, tenths=words.findings.shared, at=at)


def _held(row: EffectRow, words: Words) -> str:
    pain = {
        "during": f"{words.asked} of that {words.step}",
        "before": f"{words.asked} rated before that {words.step}",
        "latent": f"the {words.asked} behind the ratings of that {words.step}",
    }
    load = ["usual load"] if words.loaded and row.pain_adjusted != "latent" else []
    held = [pain[row.pain_adjusted]] if row.pain_adjusted in pain else []
    return " and ".join(held + load) or "nothing else"


Pair = tuple[EffectRow | None, EffectRow | None]


def pairs(findings: Findings, rows: list[EffectRow]) -> list[Pair]:
    """(crude, adjusted) of the same estimand, one pair for each engine, exposure and pain adjustment."""
    out: dict[tuple, Pair] = {}
    for row in rows:
        both = findings.rows(
            engine=row.engine,
            outcome=row.outcome,
            term=row.term,
            level=row.level,
            contrast=row.contrast,
            scale=row.scale,
            pain_adjusted=row.pain_adjusted,
        )
        crude = next((r for r in both if r.adjustment == "crude"), None)
        adjusted = next((r for r in both if r.adjustment == "adjusted"), None)
        out.setdefault(
            (row.engine, row.outcome, row.term, row.level, row.contrast, row.pain_adjusted), (crude, adjusted)
        )
    return list(out.values())


def effect_grid(id: str, caption: str, both: list[Pair], words: Words, *, pain: bool = False) -> Grid:
    """Crude and adjusted estimates with intervals side by side, what the adjusted one says, denominators."""
    cells = []
    for crude, adjusted in both:
        row = adjusted or crude
        if row is None:
            continue
        first = (
            words.adjusted(row.pain_adjusted)
            if pain
            else f"{words.label(row.term)}, {words.short_contrast(row)}"
        )
        name = inline(strong(f"{first} (primary)")) if row.primary else inline(first)
        sizes = f"{whole(row.n_people)} ({whole(row.n_steps)})"
        said = reading(words.findings, row)
        cells.append((name, row.by.label, _estimate(crude), _estimate(adjusted), said, sizes))
    rows = [r for pair in both for r in pair if r is not None]
    interval = f"{fixed(100 * (next((r.interval for r in rows if r.interval), None) or 0.95), 0)} % interval"
    return grid(
        id,
        caption,
        (
            "Adjusted for" if pain else "Exposure and contrast",
            "Model",
            f"Crude ({interval})",
            f"Adjusted ({interval})",
            "The adjusted one says",
            f"People (person-{words.steps})",
        ),
        cells,
        numeric=(2, 3, 5),
        note=(
            f"In {words.unit}{words.on_scale}, {words.asked_then}. Crude: the exposure with the "
            f"adjusted-for {words.asked}"
            f"{', usual load' if words.loaded else ''} and the running {words.step} only. {_together(words)}"
        ),
    )


def _together(words: Words) -> str:
    """What an adjusted estimate is adjusted for, by the fit."""
    fit = main_fit(words.findings)
    terms = [words.label(t) for t in terms_in(words.findings, fit)] if fit is not None else []
    if len(terms) == 1:
        return "Adjusted is the same here: the model holds no other exposure."
    return (
        f"Adjusted: {listed(terms)} together." if terms else "Adjusted: all exposures of the model together."
    )


def _estimate(row: EffectRow | None) -> str:
    if row is None:
        return "\u2013"
    return limits_text(row.estimate, row.low, row.high)


def _adjustments(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> list[Block]:
    rows = by_adjustment(findings)
    if not rows:
        return []
    lagged = words.question.lag > 0
    blocks: list[Block] = [
        Heading(
            3,
            f"The same question {'under the other adjustment' if lagged else 'crude and adjusted'}",
            "other-adjustment",
        ),
        para(
            f"{words.feedback}, so it matters which {words.asked} is held equal. A, {words.asked} "
            "rated before, leaves in the pull of the "
            f"same {words.step}'s {words.asked} on {words.pulled}. B, {words.asked} of the same "
            f"{words.step}, takes out whatever part of the association of {words.exposure} runs "
            f"through it. Both are shown whatever they say."
            if lagged
            else f"{words.feedback}, so {words.asked} rated before that {words.step} is held equal in both."
        ),
    ]
    if "adjustments" in pictures:
        blocks.append(
            Figure("adjustments", "One estimand, every adjustment and model.", pictures["adjustments"].alt)
        )
    blocks.append(
        effect_grid(
            "adjustments-table",
            f"{capital(words.label(rows[0].term))}, "
            f"{words.short_contrast(rows[0])}, under each adjustment and model",
            pairs(findings, rows),
            words,
            pain=True,
        )
    )
    return blocks


def _between(findings: Findings, words: Words) -> list[Block]:
    if not findings.gate.between_claims:
        return []
    rows = findings.rows(
        level="between",
        scale="points",
        adjustment="adjusted",
        contrast=PER_UNIT,
        outcome=words.question.column,
    )
    primary = findings.primary
    rows = [
        r for r in rows if r.by.as_rated and (primary is None or r.pain_adjusted == primary.pain_adjusted)
    ]
    rows = [r for r in rows if r.term not in (words.outcome.name, words.question.before)]
    if not rows:
        return []
    text = (
        "These compare people whose averages differ, not a person with themselves at another time. They "
        "carry everything else in which such people differ, and are to be read with more caution."
    )
    if words.question.lag and rows[0].pain_adjusted != "none":
        text += (
            f" The people compared have the same average {words.asked}, which is held equal: what goes with "
            f"a higher {words.asked} in every {words.step} is not in these numbers."
        )
    return [
        Heading(3, "Differences between people", "between"),
        para(text),
        effect_grid(
            "between-table",
            f"Differences in {words.asked} between people whose averages differ",
            pairs(findings, rows),
            words,
        ),
    ]


def _not_usable(failed: list[FitFacts], words: Words) -> Box:
    items = []
    for fit in failed:
        name = fit.by.label
        items.append(
            f"{capital(name)} of {words.explained(fit.outcome)}: "
            f"{fit.why_not.rstrip('.') or 'a gate failed'}."
        )
    return Box("Not usable, so not reported as a result", (bullets(*items),))

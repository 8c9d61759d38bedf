"""Results: the primary answer, every exposure side by side, the other adjustment, and fits that are not usable."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.writeup.content import Block, Box, Figure, Grid, Heading, bullets, grid, inline, para, strong
from lagwise.writeup.figures import by_adjustment, side_by_side
from lagwise.writeup.findings import EffectRow, Findings, FitFacts, PictureFacts
from lagwise.writeup.numbers import decimals, fixed, signed, span, whole
from lagwise.writeup.summary import no_answer
from lagwise.writeup.wording import READING, followed, how_likely, kind_of, margins
from lagwise.writeup.words import ADJUSTMENT, ENGINES, PAIN_ADJUSTED_SHORT, Words


def results(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts], private: bool) -> tuple[Block, ...]:
    """All estimates of usable fits; a fit that failed its gates is named with the gate, never with its numbers."""
    blocks: list[Block] = [Heading(2, "Results", "results")]
    if findings.primary is None:
        blocks.append(para(f"There is no result for the main question: {no_answer(findings)}"))
    rows = side_by_side(findings)
    if rows:
        blocks += _exposures(findings, words, pictures, rows)
    blocks += _adjustments(findings, words, pictures)
    between = _between(findings, words)
    if between:
        blocks += between
    failed = [f for f in findings.fits if not f.usable]
    if failed:
        blocks.append(_not_usable(failed, words))
    return tuple(blocks)


def _exposures(
    findings: Findings, words: Words, pictures: Mapping[str, PictureFacts], rows: list[EffectRow]
) -> list[Block]:
    margin = margins(findings)
    blocks: list[Block] = [Heading(3, "Load, effort, stress, sleep and worry side by side", "side-by-side")]
    if "effects" in pictures:
        blocks.append(
            Figure(
                "effects",
                "Adjusted differences in pain in the next "
                f"{words.step}, each exposure at one contrast, within people. The dashed line is no difference.",
                pictures["effects"].alt,
            )
        )
    said = [r for r in rows if r.engine in ("mixed", "within")] or rows
    likely = {(r.term, r.contrast): how_likely(r, margin) for r in rows if r.p_important is not None}
    blocks.append(bullets(*(f"{followed(r, words)} {likely.get((r.term, r.contrast), '')}".strip() for r in said)))
    blocks.append(
        effect_grid(
            "effects-table",
            "Differences in pain by exposure, crude and mutually adjusted",
            _with_crude(findings, rows),
            words,
            margin.zero,
        )
    )
    return blocks


def _with_crude(findings: Findings, rows: list[EffectRow]) -> list[EffectRow]:
    out: list[EffectRow] = []
    for row in rows:
        crude = findings.rows(
            engine=row.engine, outcome=row.outcome, term=row.term, level=row.level, contrast=row.contrast,
            scale=row.scale, adjustment="crude", pain_adjusted=row.pain_adjusted,
        )  # fmt: skip
        out += [*crude, row]
    return out


def effect_grid(id: str, caption: str, rows: list[EffectRow], words: Words, zero: float) -> Grid:
    """Effect rows as a table: contrast, adjustment, estimate, interval, what it says, denominators."""
    cells = []
    for r in rows:
        places = decimals(r.low, r.high)
        first = f"{words.label(r.term)}, {words.short_contrast(r)}"
        name = inline(strong(f"{first} (primary)")) if r.primary else inline(first)
        cells.append(
            (
                name,
                ENGINES[r.engine],
                f"{ADJUSTMENT[r.adjustment]}, {PAIN_ADJUSTED_SHORT[r.pain_adjusted]}",
                signed(r.estimate, places),
                span(r.low, r.high, places),
                READING[kind_of(r.low, r.high, zero)],
                whole(r.n_people),
                whole(r.n_steps),
            )
        )
    interval = next((r.interval for r in rows if r.interval), None)
    return grid(
        id,
        caption,
        ("Exposure and contrast", "Model", "Adjustment", "Points", f"{fixed(100 * (interval or 0.95), 0)} % interval", "Reading", "People", f"Person-{words.steps}"),
        cells,
        numeric=(3, 4, 6, 7),
        note=(
            f"Points on the 0-10 scale, pain in the next {words.step}. A adjusts for pain rated before the {words.step}'s training, B for pain "
            f"of the same {words.step}, within and between people."
        ),
    )  # fmt: skip


def _adjustments(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> list[Block]:
    rows = by_adjustment(findings)
    if not rows:
        return []
    blocks: list[Block] = [
        Heading(3, "The same question under the other adjustment", "adjustments"),
        para(
            f"People train less when it hurts, so it matters which pain is held equal. A, pain rated before, leaves in the pull of the "
            f"same {words.step}'s pain on how much was trained. B, pain of the same {words.step}, takes out whatever part of load's association runs "
            f"through it. Both are shown whatever they say."
        ),
    ]
    if "adjustments" in pictures:
        blocks.append(Figure("adjustments", "One estimand, every adjustment and model.", pictures["adjustments"].alt))
    blocks.append(
        effect_grid(
            "adjustments-table",
            "The primary contrast under each adjustment and model",
            rows,
            words,
            margins(findings).zero,
        )
    )
    return blocks


def _between(findings: Findings, words: Words) -> list[Block]:
    if not findings.gate.between_claims:
        return []
    rows = findings.rows(
        level="between", scale="points", adjustment="adjusted", contrast="per unit", outcome="pain_next", engine="mixed"
    )
    primary = findings.primary
    rows = [r for r in rows if primary is None or r.pain_adjusted == primary.pain_adjusted]
    rows = [r for r in rows if r.term not in ("pain", "pain_before")]
    if not rows:
        return []
    return [
        Heading(3, "Differences between people", "between"),
        para(
            "These compare people whose averages differ, not a person with themselves at another time. They carry everything else in "
            "which such people differ, and are to be read with more caution."
        ),
        effect_grid(
            "between-table",
            "Differences in pain between people whose averages differ",
            rows,
            words,
            margins(findings).zero,
        ),
    ]


def _not_usable(failed: list[FitFacts], words: Words) -> Box:
    items = []
    for fit in failed:
        name = ENGINES.get(fit.engine, fit.engine)
        items.append(
            f"{name[0].upper()}{name[1:]} of {words.outcome(fit.outcome)}: {fit.why_not.rstrip('.') or 'a gate failed'}."
        )
    return Box("Not usable, so not reported as a result", (bullets(*items),))

"""Results: the primary answer, every exposure side by side, the other adjustment, and fits that are not
usable.
"""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.numbers import fixed, limits_text, whole
from lagwise.core.words import LOW_TO_HIGH, PER_UNIT, capital, listed
from lagwise.document.tree import (
    Block,
    Box,
    Figure,
    Grid,
    Heading,
    Inline,
    Span,
    bullets,
    folded,
    grid,
    inline,
    para,
    strong,
)
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
from lagwise.say.report.shown import apart, small_at, usual_size
from lagwise.say.report.sources import source
from lagwise.say.report.varying import estimators
from lagwise.say.report.wording import Kind, doubted, how_likely, kind_of, reading, told_kind
from lagwise.say.report.words import Words


def results(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """What each exposure came before, in a sentence, a figure and a table; then, folded, every other look at
    it. A fit that failed its gates is named with the gate, never with its numbers.
    """
    blocks: list[Block] = [Heading(2, words.came_before)]
    if findings.primary is None:
        blocks.append(para(f"There is no result for the main question: {no_answer(findings).sentence}"))
    rows = side_by_side(findings)
    more: list[Block] = []
    if rows:
        blocks += _exposures(findings, words, pictures, rows)
        if each := [name for name in pictures if name.startswith("answer-")]:
            drawn = [answer_figure(name, words, pictures) for name in each]
            more += [Heading(3, "Each other exposure and what was recorded", "each-exposure"), *drawn]
        more += [
            Heading(3, "By model, crude and adjusted", "side-by-side"),
            effect_grid(
                "effects-table",
                f"Differences in {words.asked_then}, by exposure",
                pairs(findings, rows),
                words,
            ),
            *_likely(rows, words),
        ]
    blocks += further(findings, words)
    more += curves(findings, words, pictures)
    more += flares(findings, words, pictures)
    more += _adjustments(findings, words, pictures)
    more += ratings(findings, words)
    more += estimators(findings, words)
    more += risks(findings, words)
    more += prediction(findings, words)
    more += _between(findings, words)
    blocks += folded(more)
    failed = [f for f in findings.fits if not f.usable]
    if failed:
        blocks.append(_not_usable(failed, words))
    return tuple(blocks)


def _exposures(
    findings: Findings, words: Words, pictures: Mapping[str, PictureFacts], rows: list[EffectRow]
) -> list[Block]:
    said = _leading(findings, rows, words)
    blocks: list[Block] = [para(_found(findings, said, words), role="finding", source=source(said[0], words))]
    if "effects" in pictures:
        blocks.append(
            Figure(
                "effects",
                f"Adjusted differences in {words.asked_then}, each exposure at one contrast, within "
                "people. The dashed line is no difference.",
                pictures["effects"].alt,
            )
        )
    shown = [_shown(findings, row, words) for row in said]
    return [
        *blocks,
        grid(
            "exposures",
            f"{capital(words.asked_then)} by exposure, at contrasts that people show",
            (
                "Exposure",
                "From, to",
                f"Difference, {words.unit} (95 % interval)",
                "It says",
                f"People (person-{words.steps})",
            ),
            shown,
            numeric=(2, 4),
            note=f"{_each(said, words)} Usual low to usual high: one standard deviation within people either "
            "side.",
        ),
        *([para(left)] if (left := left_said(findings, words)) else []),
    ]


def _leading(findings: Findings, rows: list[EffectRow], words: Words) -> list[EffectRow]:
    """One row for each exposure: the primary one; of others, by ratings as they are, that from usual low to
    usual high where there is one.
    """
    out: dict[str, EffectRow] = {}
    for row in rows:
        held = out.get(row.term)
        if held is None or row.primary or (row.by.as_rated and not held.primary):
            out[row.term] = row
    return [row if row.term == words.term else _usual(findings, row) for row in out.values()]


def _usual(findings: Findings, row: EffectRow) -> EffectRow:
    same = {k: getattr(row, k) for k in ("engine", "outcome", "term", "level", "adjustment", "scale")}
    found = findings.rows(**same, pain_adjusted=row.pain_adjusted, contrast=LOW_TO_HIGH)
    return found[0] if found else row


READ = (("higher", "small_higher"), ("lower", "small_lower"), ("practically_none",), ("undecided",))
"""What is told together of exposures."""
LESS: dict[Kind, Kind] = {
    "higher": "lower",
    "small_higher": "lower",
    "lower": "higher",
    "small_lower": "higher",
}
"""What more of an exposure came before, by what less of it did."""


def _found(findings: Findings, rows: list[EffectRow], words: Words) -> str:
    """What each exposure came before, those alike together."""
    margin = findings.study.outcome
    up, down = margin.ways
    heads = (
        f"more {{}} came before {up} {words.asked}.",
        f"more {{}} came before {down} {words.asked}.",
        "for {} there was practically no difference.",
        "for {} it is undecided.",
    )
    kinds: dict[str, str] = {}
    for row in rows:
        kind = kind_of(row.low, row.high, margin.zero)
        if row.primary:
            kind = told_kind(findings)
        if kind == "practically_none" and not small_at(findings, row, margin.zero):
            kind = "undecided"
        if (row.contrast_size or 0.0) < 0:  # it is of less of the exposure
            kind = LESS.get(kind, kind)
        kinds[row.term] = kind
    told = []
    for alike, head in zip(READ, heads, strict=True):
        names = [words.briefly(t) for t, kind in kinds.items() if kind in alike]
        if names:
            told.append(head.format(listed(names)))
    return " ".join(map(capital, told))


def _shown(findings: Findings, row: EffectRow, words: Words) -> tuple[str | Span | Inline, ...]:
    """An exposure's row: the primary one at the planned contrast, others from usual low to usual high."""
    usual, at = usual_size(findings, row.term), words.short_contrast(row)
    if row.contrast == LOW_TO_HIGH and usual:
        at = f"usual low to usual high ({apart(words, row.term, usual)})"
    label = capital(words.label(row.term))
    told = limits_text(row.estimate, row.low, row.high)
    sizes = f"{whole(row.n_people)} ({whole(row.n_steps)})"
    broke = row.primary and doubted(findings)
    said = "undecided" if broke else reading(findings, row, brief=True)
    return (strong(label) if row.term == words.term else label, at, told, said, sizes)


def _each(rows: list[EffectRow], words: Words) -> str:
    """What each of the rows holds equal, by the fit."""
    held = {_held(row, words): row for row in rows[::-1]}
    scale = f"in {words.unit}{words.on_scale}."
    if len(held) > 1:
        own, *rest = (f"by the {row.by.label}, {equal}" for equal, row in reversed(held.items()))
        return (
            f"Each of these holds the other exposures equal. {capital(words.label(rows[0].term))} also "
            f"holds, {own}; the others, {' or '.join(rest)}. All are {scale}"
        )
    others = "the other exposures equal, and " if len({r.term for r in rows}) > 1 else ""
    equal = "" if others else " equal"
    first = "Each of these" if len(rows) > 1 else "This"
    return (
        f"{first} holds {others}{_held(rows[0], words)}{equal}; {'all are' if len(rows) > 1 else 'it is'} "
        f"{scale}"
    )


def _likely(rows: list[EffectRow], words: Words) -> list[Block]:
    """How likely a difference that matters is, by exposure and contrast."""
    margin, tenths = words.findings.study.outcome, words.findings.shared
    told = [
        inline(
            strong(f"{capital(words.label(row.term))}, {words.short_contrast(row)}. "),
            how_likely(row, margin, tenths=tenths),
        )
        for row in rows
        if row.p_important is not None and not row.by.comparator
    ]
    return [bullets(*told)] if told else []


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
    plain = findings.as_rated
    rows = [r for r in rows if r.by.as_rated and (plain is None or r.pain_adjusted == plain.pain_adjusted)]
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
            f"higher {words.asked} {words.on} every {words.step} is not in these numbers."
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

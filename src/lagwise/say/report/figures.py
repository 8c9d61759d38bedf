"""Which figures a write-up has, made from the findings alone, each as plain data with title and alt text."""

from __future__ import annotations

from lagwise.core.numbers import decimals, people_said, plural, signed, whole
from lagwise.core.words import LOW_TO_HIGH, clearness
from lagwise.findings import EffectRow, Findings, PictureFacts, Table
from lagwise.say.report.closest import challenges_picture
from lagwise.say.report.curves import curve_pictures
from lagwise.say.report.described import spread_pictures
from lagwise.say.report.figures_answer import answer_pictures, result_title
from lagwise.say.report.figures_people import PER_PAGE, coverage, pain_map, panelled, trajectories
from lagwise.say.report.figures_record import flow, timeline
from lagwise.say.report.flares import aligned
from lagwise.say.report.since import picture as since_picture
from lagwise.say.report.varying import lead
from lagwise.say.report.words import Words

PANELS_UP_TO = 2 * PER_PAGE
"""People whose panels the document shows; of more it shows everybody's pain at once, and the panels are files
beside it.
"""
KEYS = {
    "primary": "larger, bold: what is asked about",
    "plan": "the study's own plan",
    "others": "Other questions, for comparison",
    "rank": "rank among all draws",
    "draws": "draws in the bin",
}
"""What stands beside marks and axes that look the same in every such figure."""
MUCH_WIDER = 2.0
"""Times the range of the results up to which a challenge's picture shares it."""
POOLED = "partially pooled"
OWN_UP_TO = 45
"""People whose unpooled slope is drawn beside the pooled one."""


def figures(findings: Findings) -> dict[str, PictureFacts]:
    """Figures by file name, in the order they appear."""
    words = Words(findings)
    record = {"flow": flow(findings, words), "timeline": timeline(findings, words)}
    out = {name: picture for name, picture in record.items() if picture is not None}
    if findings.people:
        out["coverage"] = coverage(findings, words)
    out |= since_picture(findings, words)
    if len(findings.people) > PANELS_UP_TO and words.rated:
        out["pain-map"] = pain_map(findings, words)
    shown = panelled(findings)
    pages = range(0, len(shown), PER_PAGE)
    for number, start in enumerate(pages, 1):
        name = "trajectories" if len(pages) == 1 else f"trajectories-{number}"
        out[name] = trajectories(findings, words, shown, start)
    if findings.described:
        return out | spread_pictures(findings, words)
    beside = side_by_side(findings)
    out |= answer_pictures(findings, words, beside)
    for name, rows in (("effects", beside), ("adjustments", by_adjustment(findings))):
        if rows:
            out[name] = _intervals(findings, words, name, rows)
    out |= curve_pictures(findings, words)
    around = aligned(findings, words)
    if around is not None:
        out["aligned"] = around
    slopes = _people_slopes(findings, words)
    if slopes is not None:
        out["people-slopes"] = slopes
    for at, one in enumerate(findings.followed, 1):
        if one.picture is not None:
            out[f"followed-{at}"] = one.picture
    together = challenges_picture(findings, words)
    if together is not None:
        out["all-challenges"] = together
    for challenge in findings.challenges:
        if challenge.picture is not None and len(challenge.picture.data):
            out[f"challenge-{challenge.name.replace('_', '-')}"] = _with_n(challenge.picture, words)
    return _same_axes(out, words)


def _same_axes(pictures: dict[str, PictureFacts], words: Words) -> dict[str, PictureFacts]:
    """The pictures with one range for all differences in what is asked about; a challenge's own picture that
    reaches `MUCH_WIDER` than the results keeps its range, which would leave nothing to see of them.
    """
    axis = {"intervals": "x", "challenges": "x", "curve": "y"}
    ends = {
        name: _ends(picture)
        for name, picture in pictures.items()
        if picture.kind in axis
        and "clip" not in picture.options
        and str(getattr(picture, axis[picture.kind])).startswith(f"difference in {words.asked}")
    }
    lead = [pair for name, pair in ends.items() if not name.startswith("challenge-")]
    if not lead:
        return pictures
    most = MUCH_WIDER * (max(high for _, high in lead) - min(low for low, _ in lead))
    alike = {name: pair for name, pair in ends.items() if pair in lead or pair[1] - pair[0] <= most}
    low, high = min(low for low, _ in alike.values()), max(high for _, high in alike.values())
    room = 0.05 * (high - low)
    span = {"span": [low - room, high + room]}
    same = {n: pictures[n].model_copy(update={"options": pictures[n].options | span}) for n in alike}
    return pictures | same


def _ends(picture: PictureFacts) -> tuple[float, float]:
    """The lowest and highest number that a picture of differences shows, 0 among them."""
    shown = (v for c in ("estimate", "low", "high") for v in picture.data.column(c) if v is not None)
    known = [0.0, *shown]
    return min(known), max(known)


def _with_n(picture: PictureFacts, words: Words) -> PictureFacts:
    """A challenge's picture with its denominators as subtitle."""
    people, steps = picture.options.get("n_people"), picture.options.get("n_steps")
    if "subtitle" in picture.options or people is None:
        return picture
    said = people_said(people) + (f", {plural(steps, f'person-{words.step}')}" if steps is not None else "")
    return picture.model_copy(update={"options": {**picture.options, "subtitle": said}})


def side_by_side(findings: Findings) -> list[EffectRow]:
    """Adjusted differences in points of every exposure, each engine at its clearest contrast, the planned one
    first.

    Where engines offer the same contrast it is the one shown for both.
    """
    primary, words = findings.as_rated, Words(findings)
    pain = primary.pain_adjusted if primary else None
    out: list[EffectRow] = []
    for term in findings.study.of("analysis", "exposures"):
        rows = [
            r
            for r in findings.rows(
                term=term,
                scale="points",
                adjustment="adjusted",
                level=("within", "whole"),
                outcome=words.question.column,
            )
            if pain is None or r.pain_adjusted == pain or r.by.headline == "joint"
        ]
        planned = {primary.contrast} if primary is not None and term == primary.term else set()
        engines: dict[str, list[EffectRow]] = {}
        for r in rows:
            engines.setdefault(r.engine, []).append(r)
        shared = (
            set.intersection(*({r.contrast for r in own} for own in engines.values())) if engines else set()
        )
        for own in engines.values():
            out.append(
                min(
                    own,
                    key=lambda r: (
                        r.contrast not in planned,
                        r.contrast not in shared,
                        r.contrast != LOW_TO_HIGH,
                        clearness(r.term, r.contrast),
                    ),
                )
            )
    return out


def by_adjustment(findings: Findings) -> list[EffectRow]:
    """The primary estimand under every adjustment and engine: A and B, crude and mutually adjusted."""
    primary = findings.primary
    if primary is None:
        return []
    rows = findings.rows(
        term=primary.term,
        contrast=primary.contrast,
        scale="points",
        outcome=primary.outcome,
        level=primary.level,
    )
    return rows if len(rows) > 1 else []


def _intervals(findings: Findings, words: Words, name: str, rows: list[EffectRow]) -> PictureFacts:
    label = (
        (lambda r: _exposure_label(words, r))
        if name == "effects"
        else (lambda r: _adjustment_label(words, r))
    )
    zero = findings.study.outcome.zero
    data = tuple(
        (label(r), r.estimate, r.low, r.high, r.by.label, r.primary, r.n_people, r.n_steps) for r in rows
    )
    lead = next((r for r in rows if r.primary), rows[0])
    title = result_title(findings, words, lead)
    if name == "adjustments":
        title = (
            f"The same question under other adjustments: {words.label(lead.term)} "
            f"{words.short_contrast(lead)}"
        )
    return PictureFacts(
        kind="intervals",
        title=title,
        data=Table(
            columns=("label", "estimate", "low", "high", "group", "primary", "n_people", "n_steps"),
            rows=data,
            units=dict.fromkeys(("estimate", "low", "high"), words.unit),
        ),
        x=f"difference in {words.asked_then}, {words.unit}{f' ({words.span})' if words.on_scale else ''}",
        y="",
        alt=_alt(words, rows, label),
        options={
            "reference": 0,
            "band": [-zero, zero],
            "band_label": f"within {zero:g} {words.unit}: practically zero",
            "subtitle": _sizes(words, rows),
        },
    )


def _people_slopes(findings: Findings, words: Words) -> PictureFacts | None:
    """Each person's slope, partially pooled beside their own, from the primary fit's table."""
    primary, fit = findings.as_rated, lead(findings)
    if fit is None or primary is None or "people" not in fit.tables or not findings.people:
        return None
    records = fit.tables["people"].records()
    rows = []
    for r in records:
        rows.append((r["person"], r["slope"], r["low"], r["high"], POOLED, False))
        if r.get("own_slope") is not None and len(records) <= OWN_UP_TO:
            rows.append((r["person"], r["own_slope"], r["own_low"], r["own_high"], "own steps alone", False))
    one, last, of = records[0], records[-1], fit.tables["people"].units.get("slope")
    per = f"for {of} load" if of else f"per {words.unit_of(primary.term) or 'unit'}"
    places = decimals(one["low"], one["high"])
    beside = (
        ", each beside the wider one from the person's own steps alone"
        if any(r[4] != POOLED for r in rows)
        else ""
    )
    return PictureFacts(
        kind="intervals",
        title=f"Each person's difference by {words.exposure}, drawn towards the caseload's",
        data=Table(
            columns=("label", "estimate", "low", "high", "group", "primary"),
            rows=tuple(rows),
            made_by="fit mixed",
        ),
        x=f"difference in {words.asked_then}, {words.unit}, {per}",
        y="people, sorted",
        alt=(
            f"Partially pooled slopes of {people_said(len(records))}, sorted, from "
            f"{signed(one['slope'], places)} ({signed(one['low'], places)} to {signed(one['high'], places)}) "
            f"to {signed(last['slope'], places)} ({signed(last['low'], places)} to "
            f"{signed(last['high'], places)}) {words.unit} {per}{beside}."
        ),
        options={
            "reference": 0,
            "subtitle": f"{people_said(len(records))}; slopes with intervals; this ranks nobody",
            "clip": [min(r["low"] for r in records), max(r["high"] for r in records)],
        },
    )


def _sizes(words: Words, rows: list[EffectRow]) -> str:
    seen = dict.fromkeys((r.by.label, r.n_people, r.n_steps) for r in rows)
    interval = f"{100 * (rows[0].interval or 0.95):g} % intervals"
    counts = {(p, s) for _, p, s in seen}
    if len(counts) == 1:
        people, steps = next(iter(counts))
        return f"{interval}; {words.sizes(people, steps)}"
    low, high = min(s for _, s in counts), max(s for _, s in counts)
    people = max(p for p, _ in counts)
    sized = f"{whole(low)} to {plural(high, f'person-{words.step}')}"
    return f"{interval}; up to {people_said(people)}, {sized}"


def _exposure_label(words: Words, row: EffectRow) -> str:
    return f"{words.label(row.term)}, {words.short_contrast(row)}"


def _adjustment_label(words: Words, row: EffectRow) -> str:
    what = "adjusted" if row.adjustment == "adjusted" else "crude"
    return f"{words.adjusted(row.pain_adjusted)}; {what}"


def _alt(words: Words, rows: list[EffectRow], label) -> str:
    parts = []
    for r in rows:
        places = decimals(r.low, r.high)
        parts.append(
            f"{label(r)}, {r.by.label}: {signed(r.estimate, places)} ({signed(r.low, places)} to "
            f"{signed(r.high, places)})"
        )
    return f"Differences in {words.asked_then}, in {words.unit}, with intervals. " + "; ".join(parts) + "."

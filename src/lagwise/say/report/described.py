"""A record that nothing can be asked of: what is there, what is missing, and how values are spread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from lagwise.core.numbers import decimals, fixed, people_said, per_hundred, plural, whole
from lagwise.core.words import capital, listed
from lagwise.document.tree import Block, Figure, Grid, Heading, Para, grids, para, strong
from lagwise.findings import Findings, PictureFacts, Table, rows_of
from lagwise.models.askable import Missing
from lagwise.say.askable import lacking, needed, question
from lagwise.say.report.fitted import why_unknown
from lagwise.say.report.reasons import unknown_said
from lagwise.say.report.words import Words

NOTHING = "Nothing is estimated and nothing is compared: what follows describes this record alone."
PANELS = 6
"""Variables whose spread one figure shows."""
ONE_ROW_UP_TO = 60
"""People whose spreads are drawn beside each other."""


def opening(findings: Findings) -> str:
    """The heading of the opening, which the checklist names: the question in everyday words."""
    if findings.described:
        return "What is there and what cannot be asked"
    return Words(findings).plainly


def described(findings: Findings) -> tuple[Para, ...]:
    """The opening: what was recorded, what cannot be asked of it and why, and what it would take."""
    words, missing = Words(findings), pieces(findings)
    cannot = f"{capital(question(words))} cannot be asked of this record."
    said = [
        ("Recorded.", " ".join(_there(findings, words))),
        ("What cannot be asked.", " ".join([cannot, *_why(findings, words, missing)])),
        ("What it would take.", " ".join(needed(missing, words))),
        ("How far it goes.", NOTHING),
    ]
    return tuple(para(strong(label), f" {text}", role="lead") for label, text in said)


def pieces(findings: Findings) -> list[Missing]:
    """What the record lacks."""
    out = []
    for r in findings.tables["lacking"].records():
        columns = tuple(filter(None, str(r["columns"] or "").split(", ")))
        out.append(Missing(r["code"], columns, r["have"] or 0, r["needs"] or 0, bool(r["any_of"])))
    return out


def _there(findings: Findings, words: Words) -> Iterator[str]:
    people, step = findings.count("people"), words.step
    steps = plural(findings.count("steps"), step if people == 1 else f"person-{step}")
    yield f"{plural(people, 'person was', 'people were')} followed over {steps}."
    known = [r for r in rows_of(findings, "missing") if r["n_known"] and r["variable"] in _raw(words)]
    first = [r for r in known if r["variable"] in (words.outcome.name, "load")]
    others = [str(r["label"]) for r in known if r not in first]
    told = [
        f"{r['label']} {'' if i else 'is known '}{words.on} {whole(r['n_known'])} of {whole(r['n_steps'])}"
        f"{'' if i else f' person-{words.steps}'} ({per_hundred(r['share_known'])} %)"
        for i, r in enumerate(first)
    ]
    if told:
        yield f"{capital(listed(told))}."
    if others:
        was = "were" if len(others) > 1 else "was"
        yield f"{capital(listed(others))} {was} recorded{' as well' if told else ''}."


def _why(findings: Findings, words: Words, missing: list[Missing]) -> Iterator[str]:
    """What is missing, a sentence each: why no load is known by what the check of the record found."""
    for one in missing:
        if one.code in ("no_load", "no_usual"):
            said = unknown_said(findings, words, words.term, why_unknown(findings, words.term))
            yield f"{capital(said)}."
        else:
            yield from lacking([one], words)
            rarest = one.columns[0].partition(".")[2] if one.code in ("few_complete", "few_steps") else ""
            known = next((r for r in rows_of(findings, "missing") if r["variable"] == rarest), None)
            if known is not None and known["n_known"]:
                of = f"{whole(known['n_known'])} of {plural(known['n_steps'], f'person-{words.step}')}"
                yield f"{capital(str(known['label']))} is known least, {words.on} {of}."


def _raw(words: Words) -> set[str]:
    """What is recorded as it is: load, effort and ratings, and nothing made of them."""
    return {"load", "effort", *(v.name for v in words.variables.values() if v.rated)}


def spread(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """How the values of each variable are spread over steps, and over people."""
    figures = [
        Figure(name, SPREAD[name].format(step=words.step, steps=words.steps), pictures[name].alt)
        for name in SPREAD
        if name in pictures
    ]
    blocks: list[Block] = [*figures, *_within(findings, words)]
    return (Heading(2, "How values are spread"), *blocks) if blocks else ()


SPREAD = {
    "distributions": "Each {step} counts once, so that people with long records weigh more.",
    "each-spread": "The bar is the middle half of a person's {steps}, its stroke their median; each dot is "
    "one {step}. It ranks nobody.",
}
"""Figures of how values are spread, with what stands below them."""


def _within(findings: Findings, words: Words) -> list[Grid]:
    """How much of the spread lies within people."""
    rows = []
    for r in rows_of(findings, "spread"):
        if r.get("within_sd") is None or r.get("variable") not in _raw(words):
            continue
        places = decimals(0, r["within_sd"])
        between = "\u2013" if r.get("between_sd") is None else fixed(r["between_sd"], places)
        rows.append((str(r["label"]), whole(r["n_people"]), fixed(r["within_sd"], places), between))
    return grids(
        "spread-table",
        f"From {words.step} to {words.step}, and from person to person (standard deviations)",
        ("Variable", "People", f"Within people, between {words.steps}", "Between people"),
        rows,
        numeric=(1, 2, 3),
        note="In the variable's own units.",
    )


def spread_pictures(findings: Findings, words: Words) -> dict[str, PictureFacts]:
    """The figures of `spread`: counts of steps by value, and each person's spread of the outcome or load."""
    out = {}
    records = [r for r in rows_of(findings, "distribution") if r["variable"] in _raw(words)]
    names = list(dict.fromkeys(r["variable"] for r in records))[:PANELS]
    rows = tuple(
        (r["label"], _unit(r, words), r["low"], r["high"], r["n"]) for r in records if r["variable"] in names
    )
    if rows:
        labels = list(dict.fromkeys(str(r[0]) for r in rows))
        out["distributions"] = PictureFacts(
            kind="distributions",
            title=f"{capital(listed(labels))}: person-{words.steps} by value",
            data=Table(columns=("label", "unit", "low", "high", "n"), rows=rows, made_by="describe"),
            x="",
            y=f"person-{words.steps}",
            alt=" ".join(_modes(rows, words)),
            options={"subtitle": "Values that fewer than 5 people had are left out"}
            if findings.shared
            else {},
        )
    own = _own_spread(findings, words)
    return out | ({"each-spread": own} if own is not None else {})


def _unit(record: Mapping[str, Any], words: Words) -> str:
    return words.measure if record["unit"] == "load" else str(record["unit"])


def _modes(rows: tuple[tuple[Any, ...], ...], words: Words) -> Iterator[str]:
    """For each variable, between which values its steps lie and where the most of them do."""
    for label in dict.fromkeys(r[0] for r in rows):
        mine = [r for r in rows if r[0] == label and r[4]]
        if not mine:
            continue
        (_, unit, left, right, most), steps = max(mine, key=lambda r: r[4]), sum(r[4] for r in mine)
        low, high, at = mine[0][2], mine[-1][3], f"from {fixed(left, 1)} to {fixed(right, 1)}"
        if low % 1 == 0.5:  # counted around whole numbers
            low, high, at = low + 0.5, high - 0.5, f"at {fixed(left + 0.5, 0)}"
        counted = "" if words.findings.shared else f"{plural(steps, f'person-{words.step}')} "
        often = "most often" if words.findings.shared else f"the most ({whole(most)})"
        yield f"{capital(label)}: {counted}from {low:g} to {high:g} {unit}, {often} {at}."


def _own_spread(findings: Findings, words: Words) -> PictureFacts | None:
    """Each person's values of the outcome, or of load where that was not rated."""
    people = findings.people
    if not 1 < len(people) <= ONE_ROW_UP_TO:
        return None
    label, unit = (words.asked, words.unit) if words.rated else ("load", words.measure)
    rows = tuple((p.person, v) for p in people for v in (p.pain if words.rated else p.load) if v is not None)
    if not rows:
        return None
    who = people_said(len({r[0] for r in rows}))
    low, high = min(r[1] for r in rows), max(r[1] for r in rows)
    return PictureFacts(
        kind="each_spread",
        title=f"Each person's {label}",
        data=Table(columns=("person", "value"), rows=rows, units={"value": unit}, made_by="build_panel"),
        x=f"{label}, {unit}",
        y="person",
        alt=f"One bar and its dots for each of {who}: {label} in "
        f"{plural(len(rows), f'person-{words.step}')}, from {low:g} to {high:g} {unit}.",
        options={"subtitle": "In the order of their codes"},
    )

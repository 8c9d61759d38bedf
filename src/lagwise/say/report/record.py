"""Who and what was recorded."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.numbers import (
    decimals,
    fixed,
    limits_text,
    people_said,
    per_hundred,
    plural,
    signed,
    significant,
    whole,
)
from lagwise.core.words import capital, listed
from lagwise.document.tree import Block, Box, Figure, Grid, Heading, grid, grids, para
from lagwise.findings import Findings, PictureFacts, Table, rows_of
from lagwise.say.changes.kinds import heading
from lagwise.say.report.fitted import beside, why_unknown
from lagwise.say.report.reasons import unknown_said
from lagwise.say.report.wording import count_of
from lagwise.say.report.words import Words

DASH = "\u2013"
EACH_ONCE = "Each person counts once, with the mean of their own record."


def recorded(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Who was followed for how long, from recorded to analysed and when; then, folded, the people, what is
    known of them, and the events that were entered.
    """
    blocks: list[Block] = [
        Heading(2, "Who and what was recorded"),
        para(_carried(findings, words), role="finding"),
    ]
    if findings.shared:
        blocks.append(_counting(findings))
    marks = (
        f" White marks are {words.steps} with {words.a_rating}." if words.rated and findings.people else ""
    )
    captions = {
        "flow": f"From the record to the analysis: person-{words.steps}, and why some are set aside."
        f"{_joint_uses(findings, words)}",
        "timeline": f"Who was recorded when.{marks}",
        "coverage": f"Who was recorded when.{marks}",
    }
    shown = [
        name for name in captions if name in pictures and not (name == "coverage" and "timeline" in pictures)
    ]
    blocks += [Figure(name, captions[name], pictures[name].alt) for name in shown]
    people: list[Block] = [*cohort(findings, words), *groups(findings)]
    known: list[Block] = [_followed(findings, words)]
    if findings.count("load_steps"):
        known.append(_states(findings, words))
    known += [*_missing(findings, words), *_rows(findings)]
    if "quarantined" in findings.tables:
        aside = "Rows, and cells of used rows, set aside, by table and reason"
        known.append(plain_grid("quarantined", aside, _in_words(findings.tables["quarantined"])))
    told = (
        ("The people", "people", people),
        ("What is known, and what is missing", "known", known),
        ("Events entered in the log", "events-entered", events(findings)),
    )
    blocks += [Box(title, tuple(inner), "fold", id) for title, id, inner in told if inner]  # type: ignore[arg-type]
    return tuple(blocks)


def _carried(findings: Findings, words: Words) -> str:
    """How many people and steps were recorded, and how many of these carry the answer."""
    people, steps = findings.count("people"), f"person-{words.steps}"
    was = "person was" if people == 1 else "people were"
    said = f"{plural(people, was, was)} followed over {whole(findings.count('steps'))} {steps}."
    row = findings.primary
    if row is not None:
        return f"{said} The answer stands on {whole(row.n_steps)} of them."
    if not words.rated:
        return f"{said} {capital(words.asked)} was not recorded."
    return f"{said} {capital(words.asked)} was rated in {count_of(findings.rated('steps'), steps)}."


def _joint_uses(findings: Findings, words: Words) -> str:
    """That the picture is of the mixed model, where the joint one leads, which uses more."""
    row, plain = findings.primary, findings.as_rated
    if row is None or plain is None or plain is row or plain.n_steps == row.n_steps:
        return ""
    return (
        f" This is the {plain.by.label}'s way. The {row.by.label}, which leads, uses "
        f"{plural(row.n_steps, f'person-{words.step}')}: gaps do not end a record for it."
    )


def events(findings: Findings) -> list[Grid]:
    """Events by kind."""
    rows = [
        (heading(str(r["kind"])), whole(r["n_events"]), whole(r["n_people"]))
        for r in rows_of(findings, "events")
    ]
    return grids("events", "Events entered in the log", ("Event", "Events", "People"), rows, numeric=(1, 2))


def _followed(findings: Findings, words: Words) -> Block:
    """What is known of people's steps."""
    numbers, steps = findings.numbers, f"person-{words.steps}"
    rated = f"{capital(words.asked)} was rated in {count_of(findings.rated('steps'), steps)}. "
    text = rated if words.rated else f"{capital(words.asked)} was not recorded. "
    if not words.has_load:
        text += f"{_no_load(findings, words)} "
        if words.term == "jump":
            return para(text.rstrip())
    else:
        text += f"Load, measured in {words.measure}, is known in {count_of(numbers['load_steps'], steps)}. "
    if findings.described:
        return para(text.rstrip())
    exposure = "load against the person's own usual load" if words.primary.whole else words.label(words.term)
    return para(
        f"{text}The main question needs {exposure}{words.needed}. "
        f"All of it is known in {count_of(numbers['main_steps'], steps)} of "
        f"{people_said(findings.number('main_people'))}."
        f"{_modelled(findings, words)}"
    )


def _modelled(findings: Findings, words: Words) -> str:
    """How much of that the model of the main question uses, which needs the other exposures and what was
    rated before, too."""
    row = findings.as_rated
    if row is None:
        return ""
    held = [f"{words.asked} before that {words.step}"] if row.pain_adjusted == "before" else []
    others = listed([*(words.label(t) for t in beside(findings, row)), *held])
    return (
        f" The model of it {f'needs {others} as well. It uses' if others else 'uses'} "
        f"{plural(row.n_steps, f'person-{words.step}')} of "
        f"{people_said(row.n_people)}."
    )


def _no_load(findings: Findings, words: Words) -> str:
    """That, and why, no load is known; asked or not."""
    said = unknown_said(findings, words, "jump", why_unknown(findings, "jump"))
    asked = any(words.variables[t].load_side for t in findings.study.of("analysis", "exposures"))
    return f"{capital(said)}{', so nothing can be said of it' if asked else ''}."


def _counting(findings: Findings) -> Block:
    """How a version to share counts people and rounds numbers."""
    base = significant(findings.number("people_rounded_to"))
    return para(
        "This version is made to be passed on. Counts of people are rounded down to a multiple of "
        f"{base}. Every other number is rounded so far that one person "
        "more or less would not show, and sums may differ for it. Intervals are rounded outwards, but "
        "not past 0 or the plan's margins: what they say of these is what the exact ones say. "
        f"What was counted or averaged in fewer than {base} people is left out, and so is what would give it "
        "back. It still describes these people. It is less revealing, not anonymous.",
        role="note",
    )


def _states(findings: Findings, words: Words) -> Block:
    numbers = findings.numbers
    known = [
        f"{count_of(numbers.get(f'state_{state}'), f'person-{words.steps}')} {said}"
        for state, said in (("trained", "were trained"), ("rest", "were rest"), ("unknown", "are unknown"))
        if f"state_{state}" in numbers
    ]
    text = (
        "Training states: " + "; ".join(known) + ". Unknown is never counted as rest."
        if known
        else "No training states."
    )
    change = numbers.get("state_would_change_under_other_reading")
    if change is not None and not (findings.described and not change.value):
        text += (
            f" Under the other reading of {words.steps} with check-ins but no session, "
            f"{count_of(change, f'person-{words.steps}')} "
            f"would change."
        )
    return para(text)


def _rows(findings: Findings) -> list[Grid]:
    rows = [
        (str(r["table"]), whole(r["read"]), whole(r["used"]), whole(r["quarantined"]))
        for r in rows_of(findings, "counts")
    ]
    return grids(
        "rows",
        "Rows read, used and set aside",
        ("Table", "Read", "Used", "Set aside"),
        rows,
        numeric=(1, 2, 3),
        note="For every table, rows read are rows used plus rows set aside.",
    )


def _missing(findings: Findings, words: Words) -> list[Grid]:
    load = {"load", "jump"} if findings.count("load_steps") else set[str]()
    wanted = {words.outcome.name, *load, *findings.study.of("analysis", "exposures")}
    if findings.described and not load:
        wanted = wanted - {"jump"} | {"load"}
    rows = []
    for r in rows_of(findings, "missing"):
        if r["variable"] not in wanted:
            continue
        low, high = r["low"], r["high"]
        after = DASH if r["after_missing"] is None else limits_text(r["after_missing"], low, high)
        if r["after_missing"] is not None and low is None:
            after = f"{signed(r['after_missing'], 1)}, no interval"
        known = f"{whole(r['n_known'])} of {whole(r['n_steps'])} ({per_hundred(r['share_known'])} %)"
        rows.append((str(r["label"]), known, f"{whole(r['n_people_any'])} of {whole(r['n_people'])}", after))
    caption = f"What is known, of {whole(findings.number('steps'))} person-{words.steps}"
    heads = ("Variable", f"Known {words.steps}", "People with any")
    if findings.described and all(row[-1] == DASH for row in rows):
        return grids("missing", caption, heads, [row[:-1] for row in rows], numeric=(1, 2))
    return grids(
        "missing",
        caption,
        (*heads, f"Earlier {words.asked} where missing, against where known"),
        rows,
        numeric=(1, 2, 3),
        note=(
            f"The last column is in {words.unit} with its interval, over people who have both. Above zero, "
            f"a value tended to be left out after a {words.step} of more {words.asked}."
        ),
    )


def cohort(findings: Findings, words: Words) -> list[Grid]:
    """Numbers of the people, each person's mean counting once."""
    unknown = set() if findings.count("load_steps") else {"n_sessions"}
    alone = findings.described and findings.count("people") == 1
    level = "step" if alone else "person"
    records = [r for r in rows_of(findings, "cohort") if r["level"] == level and r["variable"] not in unknown]
    rows = []
    for r in records:
        counted = all(
            float(r[k]).is_integer() for k in ("low", "q1", "median", "q3", "high") if r[k] is not None
        )
        places = 0 if counted else decimals(r["q1"], r["q3"], most=2)
        label = str(r["label"])
        unit = {"load": words.measure, "steps": "", "count": "", "share": "", "h": "hours"}.get(
            str(r["unit"]), str(r["unit"])
        )
        name = f"{label}, {unit}" if unit and unit not in label else label
        middle = "not shown" if r["median"] is None else fixed(r["median"], places)
        if r["q1"] is not None:
            middle += f" ({fixed(r['q1'], places)} to {fixed(r['q3'], places)})"
        ends = "not shown" if r["low"] is None else f"{fixed(r['low'], places)} to {fixed(r['high'], places)}"
        rows.append((name, whole(r["n_people"]), middle, ends))
    if findings.described and findings.shared and all(r["median"] is None for r in records):
        means = [(*row[:2], f"{r['mean']:g}") for r, row in zip(records, rows, strict=True)]
        heads = ("Variable", "People", "Mean")
        return grids("cohort", "The people in this caseload", heads, means, numeric=(1, 2), note=EACH_ONCE)
    if alone:
        known = [(row[0], whole(r["n_steps"]), *row[2:]) for r, row in zip(records, rows, strict=True)]
        named = ("Variable", words.steps.capitalize(), "Median (quartiles)", "Range")
        return grids("cohort", f"This person's {words.steps}", named, known, numeric=(1, 2, 3))
    return grids(
        "cohort",
        "The people in this caseload",
        ("Variable", "People", "Median (quartiles)", "Range"),
        rows,
        numeric=(1, 2, 3),
        note=EACH_ONCE,
    )


def groups(findings: Findings) -> list[Grid]:
    """People by site, region, age band and sex, and events by kind."""
    people = findings.count("people")
    rows = []
    for r in rows_of(findings, "groups"):
        share = "" if r.get("share") is None else f" of {whole(people)} ({per_hundred(r['share'])} %)"
        rows.append((str(r["variable"]).replace("_", " "), str(r["value"]), f"{whole(r['n_people'])}{share}"))
    return grids("groups", "People by group", ("Group", "Value", "People"), rows, numeric=(2,))


def _in_words(table: Table) -> Table:
    """A table with its codes of reasons as words."""
    at = table.columns.index("code")
    rows = tuple((*r[:at], str(r[at]).replace("_", " "), *r[at + 1 :]) for r in table.rows)
    columns = tuple("reason" if c == "code" else c for c in table.columns)
    return table.model_copy(update={"columns": columns, "rows": rows})


def plain_grid(id: str, caption: str, table: Table) -> Grid:
    """A findings table as it is: column names in words, numbers to three digits."""
    head = tuple(_title(c, table.units.get(c, "")) for c in table.columns)
    rows = [tuple(_cell(v) for v in row) for row in table.rows]
    numeric = tuple(
        i
        for i in range(len(table.columns))
        if any(isinstance(r[i], int | float) and not isinstance(r[i], bool) for r in table.rows)
    )
    return grid(id, caption, head, rows, numeric=numeric)


def _title(column: str, unit: str) -> str:
    words = column.replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}{f' ({unit})' if unit else ''}"


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return significant(value)
    return "\u2013" if value is None else str(value)

"""Who and what was recorded, and what happened."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.columns import LOAD_MEASURES
from lagwise.writeup.content import Block, Box, Figure, Grid, Heading, grid, para
from lagwise.writeup.findings import Findings, PictureFacts, Table
from lagwise.writeup.numbers import per_hundred, plural, significant, whole
from lagwise.writeup.wording import count_of
from lagwise.writeup.words import Words

VARIABLES = {"pain": "pain", "load": "load", "jump": "load jump"}


def recorded(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Flow of rows, people, cohort, coverage and missing values."""
    blocks: list[Block] = [Heading(2, "Who and what was recorded", "recorded"), _followed(findings, words)]
    blocks.append(_states(findings, words))
    if "coverage" in pictures:
        blocks.append(
            Figure(
                "coverage",
                f"Who was recorded when. White marks are {words.steps} with a pain rating.",
                pictures["coverage"].alt,
            )
        )
    for name, caption in (("cohort", "The people in this caseload"), ("people_by", "People by group")):
        if name in findings.tables and len(findings.tables[name]):
            blocks.append(plain_grid(name, caption, findings.tables[name]))
    blocks += [_rows(findings), _missing(findings, words)]
    if "quarantined" in findings.tables:
        blocks.append(plain_grid("quarantined", "Rows set aside, by table and reason", findings.tables["quarantined"]))
    return tuple(blocks)


def _followed(findings: Findings, words: Words) -> Block:
    """How long people were followed and what is known of their steps."""
    numbers, steps = findings.numbers, f"person-{words.steps}"
    people = findings.count("people")
    measure = LOAD_MEASURES.get(str(findings.study.of("load", "measure")), "load")
    text = (
        f"{plural(people, 'person was', 'people were')} followed for a median of {significant(findings.number('median_steps'))} and at "
        f"most {plural(findings.number('longest'), words.step)} each. Pain was rated in {count_of(numbers['pain_steps'], steps)}. "
    )
    if not findings.count("load_steps"):
        return para(f"{text}No training load was recorded, so nothing is asked of it.")
    text += f"Load, measured in {measure}, is known in {count_of(numbers['load_steps'], steps)}. "
    return para(
        f"{text}All that the main question needs (load against the person's own usual load, pain of that {words.step} and of the next) "
        f"is known in {count_of(numbers['main_steps'], steps)} of {plural(findings.count('main_people'), 'person', 'people')}."
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
    if change is not None:
        text += (
            f" Under the other reading of {words.steps} with check-ins but no session, {count_of(change, f'person-{words.steps}')} "
            f"would change."
        )
    return para(text)


def _rows(findings: Findings) -> Grid:
    rows = [
        (str(r["table"]), whole(r["read"]), whole(r["used"]), whole(r["quarantined"]))
        for r in findings.tables["counts"].records()
    ]
    return grid(
        "rows", "Rows read, used and set aside", ("Table", "Read", "Used", "Set aside"), rows, numeric=(1, 2, 3),
        note="For every table, rows read are rows used plus rows set aside.",
    )  # fmt: skip


def _missing(findings: Findings, words: Words) -> Grid:
    rows = []
    for record in findings.tables["missing"].records():
        name = str(record["variable"])
        rows.append(
            (
                VARIABLES.get(name, words.label(name)),
                whole(record["known"]),
                whole(record["missing"]),
                f"{per_hundred(record['share_missing'])} %",
            )
        )
    return grid(
        "missing", f"Known and missing values, of {whole(findings.number('steps'))} person-{words.steps}",
        ("Variable", "Known", "Missing", "Share missing"), rows, numeric=(1, 2, 3),
    )  # fmt: skip


def happened(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Courses of single people and the flare-ups counted."""
    blocks: list[Block] = [Heading(2, "What happened", "happened")]
    rise = significant(findings.study.of("pain", "flare_rise"))
    blocks.append(
        para(
            f"By pain, {plural(findings.count('flare_onsets'), 'flare-up')} began in "
            f"{plural(findings.count('flare_people'), 'person', 'people')}: pain at least {rise} points above the person's own earlier "
            f"average after a {words.step} below that mark; {plural(findings.count('at_risk_steps'), f'person-{words.step}')} were at risk. "
            f"By their own word, people called {count_of(findings.numbers.get('flares_reported'), f'person-{words.steps}')} a flare-up"
            f"{_asked(findings, words)}. The two are kept apart; they are not the same thing."
        )
    )
    pages = [n for n in pictures if n.startswith("trajectories")]
    if pages and not findings.study.consent_single_person_plots:
        blocks.append(
            Box(
                "Private version",
                (
                    para(
                        "The panels below show single people. A course over time can be recognised even under a code: these are personal "
                        "data. The plan does not attest consent to share such pictures, so this version stays with those who keep the log."
                    ),
                ),
            )
        )
    for name in pages:
        blocks.append(
            Figure(name, "Each panel is one person under their code, on the same scales.", pictures[name].alt)
        )
    if not pages:
        blocks.append(para("Pictures of single people are left out of this version."))
    return tuple(blocks)


def _asked(findings: Findings, words: Words) -> str:
    asked = findings.numbers.get("flares_asked")
    return "" if asked is None else f", of {plural(asked.value, f'person-{words.step}')} in which they answered"


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

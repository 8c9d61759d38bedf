"""What is wrong with a cell, a column or a file, and what would mend it, by code."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from lagwise.caseload.check_edits import Edit, mending, written
from lagwise.core.claim import Said, coded
from lagwise.core.errors import meant
from lagwise.core.numbers import whole

_AS_IT_IS = "as the file has it"
_SAVE_XLSX = "Open it in a spreadsheet and save it as .xlsx."
_COPY = ("is a Word file", "Copy its table into a spreadsheet and save that as .xlsx.")
KINDS: Mapping[str, tuple[str, str]] = {
    "picture": (
        "is a picture",
        "Type its numbers into a spreadsheet, one row for each line, and save that as .xlsx.",
    ),
    "pdf": (
        "is a PDF",
        "Save the table as .xlsx or CSV where it was made; from paper, type it into a spreadsheet.",
    ),
    "old": ("is an old Excel workbook (.xls)", _SAVE_XLSX),
    "locked": ("is protected by a password", "Open it, take the password away, and save it as .xlsx."),
    "web": (
        "is a web page with the name of a workbook",
        "Open it in a spreadsheet and save it as .xlsx or CSV.",
    ),
    "workbook": ("is a workbook with the name of a text file", "Let its name end in .xlsx."),
    "text": ("is text with the name of a workbook", "Let its name end in .csv."),
    "statistics": (
        "is a file of a statistics program",
        "Save the table as .xlsx or CSV in the program that made it.",
    ),
    "numbers": ("is a Numbers file", "Export it from Numbers as Excel (.xlsx) or CSV."),
    "ods": ("is an OpenDocument spreadsheet", "Open it and save it as .xlsx or CSV."),
    "docx": _COPY,
    "doc": _COPY,
    "xlsb": ("is a binary Excel workbook", _SAVE_XLSX),
    "unread_kind": ("files ending in '{suffix}' are not read", "Save it as .csv, .xlsx or .parquet."),
}
"""What a file is that is no table, and the way on."""
PARTS = {"c": "cells in one sheet", "si": "different texts", "xf": "cell formats"}


def both_ways(scale: str, edits: Sequence[Edit]) -> str:
    """What to write where ratings are on another scale: read as points from 0 to 10, or as they are."""
    unit, *own = edits
    text = f"write {unit}; the ratings are then read as points from 0 to 10."
    if own:
        keys = own[0] if scale else f"low = LOW and high = HIGH under [ratings.{own[0].section[-1]}]"
        text += f" To keep them on their own scale, write {keys} instead."
    return text


def gained(rows: int = 0, people: int = 0, steps: int | None = None, step: str = "") -> str:
    """What reading a column would add: rows, and steps of people, that would then have it."""
    if not rows:
        return ""
    told = f"rows that would then have it: {rows}, of people: {people}"
    return told if steps is None else f"{told}, of their {step}s: {steps}"


def _scale(scale: str, table: str, ways: tuple[Edit, ...]) -> str:
    return mending(
        f"If that is the scale, {both_ways(scale, ways)} If single numbers stand for 'not recorded', "
        f'write missing = ["..."] under [tables.{table}].',
        *(ways if scale else ()),
    )


def _limits(name: str, table: str) -> str:
    return (
        f"Correct low and high under [ratings.{name}], or take the column that holds {name}. If single "
        f"numbers stand for 'not recorded', write missing = [\"...\"] under [tables.{table}]."
    )


def _range(
    low: float, high: float, unit: str, empty: bool = False, mark: str = "", edits: Sequence[Edit] = ()
) -> str:
    more = f"{unit and ' ' + unit}{', or leave the cell empty' if empty else ''}"
    text = f"Give a number from {low:g} to {high:g}{more}."
    text = f"Give a number of at least {low:g}." if math.isinf(high) else text
    return mending(text, *edits) if not mark else _declare(f"{text} If {mark} stands for", edits)


def _declare(before: str, edits: Sequence[Edit]) -> Said:
    named = [edit for edit in edits if edit.section[-1] != "NAME" and ["..."] not in edit.keys.values()]
    return mending(f"{before} 'not recorded': write {edits[0]}.", *named)


def _plain(decimal: str, edits: Sequence[Edit] = ()) -> str:
    give = f"Give a plain number (decimal sign {decimal}), or leave the cell empty."
    return _declare(f"{give} A word for", edits) if edits else give


def _date(spelt: str, table: str = "", edits: Sequence[Edit] = ()) -> str:
    text = f"Write a calendar date as {spelt}"
    if edits:
        return mending(f"{text}, or write {written(*edits, note=_AS_IT_IS)}.", *edits)
    return f"{text}, or declare date_format under [tables.{table}]." if table else f"{text}."


def _order(edits: Sequence[Edit]) -> str:
    return mending(f"Write {written(*edits, note=_AS_IT_IS)}.", *edits, beyond="")


def _required(column: str, edits: Sequence[Edit]) -> str:
    above = f"; where it holds for the rows below it, write {edits[0]}" if edits else ""
    return mending(
        f"Fill in {column}{above}; nothing, if the row is no record (units, a total, a note).", *edits
    )


def _duplicate(table: str) -> str:
    more = " If the person answered twice, give both rows their time." if table == "checkins" else ""
    return f"An earlier row says exactly the same; nothing is lost by it.{more}"


def _set_numbers(header: str, edits: Sequence[Edit]) -> str:
    out = f" and take sets = '{header}' out of [tables.sessions.columns]" if header else ""
    return mending(
        f"If each row is one set, write {edits[0]}{out}. If it is how many sets were done, write {edits[1]}.",
        *edits,
    )


def _no_column(column: str, theirs: str, headers: Sequence[str]) -> str:
    if theirs == column:
        return f"there is no column '{column}'"
    return f"there is no column '{theirs[:60]}', named for {column} in study.toml"


def _name_it(column: str, theirs: str, headers: Sequence[str], table: str, nearest: str) -> str:
    listed = ", ".join(f"'{h[:40]}'" for h in headers) or "none"
    if theirs == column:
        return (
            f'Name the column that holds it with {column} = "..." under [tables.{table}.columns] (its '
            f"columns: {listed})."
        )
    return meant(theirs, nearest) if nearest else f"Its columns: {listed}."


def _take_it(
    name: str, header: str, filled: int, rows: int, also: int, different: int, edits: Sequence[Edit]
) -> str:
    gain = f"{filled} of {rows} rows have something in it"
    if also:
        gain += f", and {also} of its {different} codes stand in another table too"
    return mending(f"Write {edits[0]}: {gain}.", *edits, beyond=f"{header} as {name}: {gain}.")


def _make_codes(column: str, kinds: Sequence[str]) -> str:
    return (
        f"A column that looks like {' or '.join(kinds)} is not to be used for it. Make up a code for "
        f"everybody (P01, P02, ...), write it into a column '{column}' of every table, and keep the list of "
        "who is who elsewhere."
    )


def _more(mend: str, more: int) -> str:
    one = "There is 1 more such problem" if more == 1 else f"There are {more} more such problems"
    return f"{mend} {one}; `lagwise check` names them all at once.".strip()


def rating_named(name: str, table: str, left: str) -> str:
    """How the column of a rating is named, with the columns that are `left` over."""
    more = f"; columns that are not read: {left}" if left else ""
    return f'Name its column with {name} = "..." under [tables.{table}.columns]{more}'


TEXTS: Mapping[str, str | Callable[..., str]] = {
    # Numbers.
    "mend.range": _range,
    "mend.whole": "Give a whole number.",
    "mend.number": "Give a number.",
    "mend.plain": _plain,
    "mend.turned_date": "A spreadsheet turned this into a date; type the number again.",
    "mend.failed": "A formula that failed in the spreadsheet; correct it there, or leave the cell empty.",
    "mend.thousands": "Thousands or decimals? Write the number without separators.",
    "mend.sets_reps_load": "Write sets, reps and load in columns of their own.",
    "mend.a_range": "A range; decide on one number, leave the cell empty, or write {edits[0]} to have its "
    "middle read.",
    "mend.limit": "A limit, not a number; decide on one number, or leave the cell empty.",
    "mend.percentage": "A percentage; write the number in the column's own unit, or leave the cell empty.",
    # Other cells.
    "mend.formula": "Open the workbook in a spreadsheet and save it, so that values are stored beside "
    "formulas; or type the value.",
    "mend.yes_no": "Write yes, no, true, false, 1 or 0, or leave the cell empty.",
    "mend.time": "Write the time as HH:MM, such as 07:30, or leave the cell empty.",
    "mend.choice": "Write one of: {choices}.",
    "mend.long": "At most {limit} characters.",
    "mend.date": _date,
    "mend.years": "Give a date from {first} to {last}.",
    "mend.zone": "Write date and time as the clock on the wall showed them, without a time zone.",
    "mend.numbered_day": 'Write the number of the day, or take out date_format = "day".',
    "mend.far_day": "Correct the number of the day, or study_start.",
    "mend.date_order": _order,
    # Rows.
    "mend.too_many_cells": "The row has more cells than there are headers; look for a separator inside "
    "a cell.",
    "mend.header_again": "The header stands here once more; nothing is lost by it.",
    "mend.total": "A sum or mean over other rows; nothing is lost by it. If it is somebody's code, give "
    "another one.",
    "mend.required": _required,
    "mend.own_columns": "Write sets and reps in their own columns.",
    "mend.duplicate": _duplicate,
    "mend.twice": "An earlier row has the same {what} with other values. Correct the {what} if mistyped; "
    "else keep the right row here, and the other in a file of your own.",
    "mend.more_often": "Is each row a step of its own? Then write {edits[0]}. Else keep one row for a person "
    "and {step}.",
    # Columns.
    "what.scale": 'it must be a scale from its lowest to its highest value, such as "0-100"',
    "mend.scale": _scale,
    "mend.limits": _limits,
    "mend.set_numbers": _set_numbers,
    "mend.different": lambda person: (
        "Is it the number of the row? Name the column that says who it is."
        if person
        else "Keep the people or years needed."
    ),
    "what.no_column": _no_column,
    "mend.no_column": _name_it,
    "mend.take_it": _take_it,
    "what.no_code": lambda column: coded(
        f"there is no column '{column}', and none that looks like a code", "no_column", column=column
    ),
    "mend.make_codes": _make_codes,
    "mend.rating_named": lambda **numbers: f"{rating_named(**numbers)}.",
    # Files and folders.
    **{f"what.{code}": what for code, (what, _) in KINDS.items()},
    **{f"mend.{code}": mend for code, (_, mend) in KINDS.items()},
    "mend.no_table": "Add sessions, checkins or weeks (.csv, .xlsx, .parquet), or name its file in "
    "study.toml.",
    "mend.no_frame": "Give sessions=, checkins= or weeks=.",
    "what.none_here": "(none in this table)",
    "mend.only_plan": "Keep only the plan in it.",
    "what.many_points": "line {line} has thousands of points",
    "what.outside": "'{name}' does not lie inside the caseload folder",
    "mend.outside": "Copy the file into the folder and name it without .., drive or leading slash.",
    "what.no_link": "'{name}' is a link that leads nowhere",
    "mend.no_link": "Put the file itself there.",
    "what.no_file": "there is no file '{name}' in the caseload folder",
    "mend.no_file": "Check its name in study.toml.",
    "what.irregular": "'{name}' is not a regular file",
    "mend.irregular": "Put a table file there.",
    "what.too_many_parts": lambda most, tag: f"has more than {whole(most)} {PARTS[tag]}",
    "mend.draft": "Files there that no table uses: {files}. `lagwise start NEWFOLDER --from {given}` looks "
    "at them and writes a draft of the plan. {mend}",
    "mend.more": _more,
    "mend.utf8": lambda edits: mending(
        f"Export the table again as CSV with UTF-8{f', or write {edits[0]}' if edits else ''}.", *edits
    ),
}


def texts_of(told: Mapping[str, Sequence[Any]], parts: Sequence[str], about: str) -> dict[str, Any]:
    """Texts by `about`.CODE.PART of a table that has one for each part under every code."""
    return {
        f"{about}.{code}.{part}": text
        for code, texts in told.items()
        for part, text in zip(parts, texts, strict=True)
    }

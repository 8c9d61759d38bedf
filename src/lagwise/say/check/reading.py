"""What is said of what a reading noticed but kept, by code: what it means, and what would mend it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from lagwise.caseload.check_edits import Edit, mending, no_need
from lagwise.say.check.mends import gained, rating_named, texts_of
from lagwise.say.check.repairs import REPAIRS

Text = str | Callable[..., str]


def _nothing(more: str = ".") -> Callable[..., str]:
    """That nothing need be done; `more` may name numbers and edits."""
    return lambda edits=(), **numbers: no_need(more.format(edits=edits, **numbers), *edits)


def _pasted(rows: int, sets: int, **_: Any) -> str:
    more = f" and {sets} {'set' if sets == 1 else 'sets'}" if sets else ""
    return no_need(
        f", if they were done as written. If an export was pasted twice, export it again: {rows} "
        f"{'row' if rows == 1 else 'rows'}{more} would go."
    )


def _to_ten(low: float, high: float, times: float, **_: Any) -> str:
    shift = "" if not low else f"less {low:g}, then "
    return (
        f"Ratings from {low:g} to {high:g} were read as points from 0 to 10 ({shift}times {times:.4g}), as "
        "study.toml declares; effects and margins are in these points"
    )


def _from_headers(start: str, **_: Any) -> str:
    since = start or "the start of the study, whose date is not known"
    return f"The form has no column of dates: the days of its headers count from {since}"


def _perhaps_ours(ours: str, filled: tuple[Any, ...], edits: tuple[Edit, ...], **_: Any) -> str:
    gain = gained(*filled)
    return mending(f"If this is {ours}, write {edits[0]}{f'; {gain}' if gain else ''}.", *edits, gain=gain)


def _perhaps_score(low: float, high: float, edits: tuple[Edit, ...], **_: Any) -> str:
    return mending(
        f"If this is a score, write the ends of its scale, such as {edits[0]}: its values run from {low:g} "
        f"to {high:g}. Nothing, if it is not wanted.",
        *edits,
    )


def _absent(column: str, table: str, left: str) -> str:
    return f"{rating_named(column, table, left)}; or take [ratings.{column}] out."


CODES = {
    "names": "names or e-mail addresses",
    "births": "dates or years of birth",
    "numbers": "phone or record numbers",
}
"""What codes of people may look like."""
_NOT_OURS = "This column is not part of the contract and was not used"
_REPAIRED = _nothing(", if they mean that; else write {edits[0]}.")
READ: Mapping[str, tuple[Text, Text]] = {
    **{
        f"repair_{name}": (
            what,
            _nothing(
                f", if they mean that; else correct the cells ({name} = false under [repair] sets them "
                "aside)."
            ),
        )
        for name, what in REPAIRS.items()
    },
    # Files and sheets.
    "open_file": (
        "Files that are open in a spreadsheet; what is not saved there was not read",
        "Save and close them, then run the command again.",
    ),
    "unused_file": (
        "A file that looks like a table was not read",
        _nothing(', or name it with file = "..." under [tables.NAME] in study.toml.'),
    ),
    "unused_sheet": (
        "Sheets of the workbook that no table uses were not read",
        _nothing(', or name the sheet with sheet = "..." under [tables.NAME].'),
    ),
    "other_sheets": (
        "Sheets without the columns that a row of this table needs were left out",
        _nothing(", or name the sheets with sheets under [tables.{table}]."),
    ),
    "person_from_name": (
        lambda kind, cut, **_: (
            f"The code of the person is the name of the {kind}"
            + (f"; '{cut}' was cut from each name" if cut else "")
        ),
        _nothing(", if these are codes and no names."),
    ),
    "separator_detected": (
        "The cells of {file} are separated by a {separator}, which study.toml does not say",
        'Write sep = "{sep}" under [tables.{table}].',
    ),
    "repair_encoding": (
        "{file} is not UTF-8 and was read as Windows-1252; letters with accents may be wrong",
        'Write encoding = "cp1252" (or the right one) under [tables.{table}].',
    ),
    "repair_merged_cells": (
        "A merged cell was taken to speak for every row it spans",
        "Unmerge the cells and fill in each row.",
    ),
    "repair_title_rows": (REPAIRS["title_rows"], "Write {edits[0]}; nothing else need change."),
    # Columns.
    "repair_column_names": (REPAIRS["column_names"], _nothing(", or write {edits[0]}.")),
    "nameless_column": ("Columns without a header are not read", "Give the column a name, or leave it so."),
    "ignored_column": (_NOT_OURS, _nothing(". It stays in its file, and no result uses it.")),
    "perhaps_ours": (_NOT_OURS, _perhaps_ours),
    "perhaps_score": (_NOT_OURS, _perhaps_score),
    "second_of_ours": (
        _NOT_OURS,
        _nothing(", if '{header}' is the {ours} meant; one column can be {ours}."),
    ),
    "identifier_column": (
        "The column looks like {kind}; it was not read and is in no output",
        _nothing(
            " for the analysis. Before the folder leaves your hands: `lagwise deidentify FOLDER --out DIR` "
            "writes a copy without it, and your own file stays as it is."
        ),
    ),
    "telling_codes": (
        lambda kinds, **_: (
            f"Codes look like {' and '.join(CODES[k] for k in kinds)}; they would appear in every output"
        ),
        "Run `lagwise deidentify FOLDER --out DIR`; it gives everybody a fresh random code.",
    ),
    "absent_rating": ("study.toml declares this rating, and no row holds one", _absent),
    "declared_constant": (
        "study.toml declares one value for every row; a column of this name in the file is not read",
        _nothing(),
    ),
    "declared_scale": (_to_ten, _nothing()),
    # Rows.
    "wide_layout": (
        "{rows} rows with one column per day were unfolded into {days} rows, as study.toml declares",
        _nothing(),
    ),
    "days_from_headers": (
        _from_headers,
        _nothing(
            '; or write study_start under [clock], or name the column with {column} = "..." under '
            "[tables.{table}.columns]."
        ),
    ),
    "filled_down": (
        "study.toml declares that it is written once, above the rows that it holds for",
        _nothing(),
    ),
    "rows_of_another_table": (
        "Rows of the sheet that say nothing of {table}, or what a row above says of the same person and day, "
        "belong to the other table in it",
        _nothing(),
    ),
    "repeated_sessions": (
        "Rows that say exactly the same as an earlier row were kept as further sets; if they are copies, "
        "load is counted twice",
        _pasted,
    ),
    "future_date": ("These dates lie in the future", "Check day, month and year; a plan is not a record."),
    # Cells.
    "declared_missing": ("Marks that study.toml declares for 'not recorded' were read as empty", _nothing()),
    "declared_spellings": ("study.toml declares these as spellings of one exercise", _nothing()),
    "contradiction": (
        "Effort and reps in reserve are further than 1 apart; effort was used",
        "Correct one of the two from the source; nothing, if effort is the one to trust.",
    ),
    "day_zero": (
        "A day 0 was read as the one before day 1, on which the study starts",
        _nothing(", if the study starts on day 1; if its first day is 0, write {edits[0]}."),
    ),
    "evening_before": (
        "study.toml declares that a day ends at {ends}: these times belong to the end of the day before",
        _nothing(),
    ),
    "banded_ages": (
        "Exact ages were put into bands of {width} years",
        _nothing(", or write another width: {edits[0]}."),
    ),
    "repair_level_case": (REPAIRS["level_case"], _REPAIRED),
    "repair_row_per_set": (REPAIRS["row_per_set"], _REPAIRED),
    "repair_once_per_session": (REPAIRS["once_per_session"], _REPAIRED),
}
TEXTS = texts_of(READ, ("meaning", "mend"), "read")

"""Headings, captions and standing sentences of a check, on its page and in the terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from lagwise.core.numbers import plural, whole
from lagwise.core.results import Panel
from lagwise.core.words import listed

WHY: Mapping[str, str] = {
    "ignored_column": "Nothing in it reaches any result",
    "absent_rating": "Nothing can be said about it",
    "identifier_column": "Whoever is handed the file, or the outputs, could tell who somebody is",
    "unused_file": "If it belongs to the caseload, its rows are missing from every result",
    "unused_sheet": "If it belongs to the caseload, its rows are missing from every result",
    "future_date": "A record of a day to come is a plan or a mistyped date, and would stretch the "
    "person's calendar",
    "separator_detected": "With another separator every cell would hold something else",
    "wide_layout": "Each recorded day of the form counts as a row of its own",
    "declared_missing": "They are treated as not recorded, and never as numbers",
    "repeated_sessions": "A load that is counted twice looks like a jump",
    "contradiction": "Effort was used; if it is the wrong one of the two, effort's results are off",
}
"""Why something noticed in reading matters, by its code."""
COPY = (
    "Before the folder leaves your hands: `lagwise deidentify FOLDER --out DIR` writes a copy without "
    "columns that may tell who somebody is; your own files stay as they are."
)
RATINGS = "pain ratings"
"""Head of the column of the numbers of ratings."""
TEXTS: Mapping[str, str] = {
    "none_aside": "No row and no cell was set aside.",
    "aside": "{aside}.",
    "each_mended": "{aside}, each with what would mend it.",
    "rest_used": "{aside}; the rest is used.",
    "no_edit": "Nothing needs an edit.",
    "which": "Which, and why",
    "private": "Private: this page names codes and values. Keep it with the data.",
    "lacks": "What is missing for more",
    "contents": "Contents",
    "draft": "The draft of study.toml",
    "read": "What was read, and what was set aside",
    "table": "{title}: table of {rows}",
    "rows": "Rows, and filled cells among the rows used: read = used + set aside. A repair is a cell, header "
    "or file that was read although it is written otherwise. The header of a file is row 1.",
    "rows_briefly": "Rows: read = used + set aside; cells set aside are of rows that are used",
    "by_reason": "Set aside, by reason",
    "quarantine": "Up to five places each; the report's quarantine.csv lists every row and cell.",
    "coverage": "What is known of whom, and when",
    "map": "One row per person, one column per {step}: \u25a0 trained; \u25a1 rest, recorded as none; "
    "\u2013 unknown, nothing recorded; dot below: {rated} was rated. Blank is before a person's first and "
    "after their last record.",
    "states": "What can be asked of it",
    "ratings": "Pain ratings per {step}",
    "noticed": "Noticed in the rows that are used",
    "odd": "{n} may be wrong in them; each opens on where, why it matters and what mends it.",
    "nothing_odd": "Nothing odd was noticed.",
    "informs": "For information: nothing need be done",
    "repaired": "What was read although it is written otherwise",
    "repairs": "Cells, headers and files were read {times} although they are written otherwise.",
    "no_repair": "To have such cells set aside instead, write the name of the repair under ",
    "repairs_as": " in study.toml, as in ",
    "repairs_briefly": "Repairs; NAME = false under [repair] in study.toml sets such cells aside",
    "five_places": "Up to five places each.",
    "numbers": "The same in numbers",
    "people": "Each person's {step}s in each state, and {step}s with a rating of {rated}.",
    # What needs an edit.
    "stops": "To mend before a report ({n})",
    "all_paste": "Paste at the end of study.toml; below, what each part is for:",
    "all_edits": "All new sections of these in one, without those where there is a choice",
    "offers": "Edits that would change what is read, if they are meant ({n})",
    "in_place": "Write in place of line {line} of study.toml:",
    "why": "Why it matters: {why}.",
    "perhaps_ours": "{table}: a column is not read and may be ours: {columns}",
    "several_perhaps_ours": "{table}: columns that are not read and may be ours: {columns}",
    "may_be": "{header} may be {columns}{gain}; leave its line out if it is not.",
    "brings": "It would bring {what}{when}{others}.",
    "other_edits": " (with the other edits for {table})",
    "read_with_it": "Read with it: {told}.",
    # In a notebook whose cells were not run.
    "unrun": "The list of people appears when the cell is run.",
    # Where the page is, or why it is not written.
    "written": "Written: {place}\nIt names codes and values; keep it with the data.",
    "folder": "this is a folder",
    "no_folder": "there is no such folder",
    "another": "there is another file called {name}",
    "refused": "the file there cannot be opened ({why})",
    "older": "there is a {name} from an earlier version, which may have been changed since",
    "changed": "the {name} there was changed after it was written",
}


def unread(columns: Sequence[str], *, telling: bool = False) -> str:
    """Columns that are not read, in one line; those that may be `telling` of who somebody is, with why."""
    what = "may tell who somebody is, not read" if telling else "are not read"
    return f"Columns that {what}: {listed(columns)}"


def coverage(panel: Panel) -> str:
    """The map of people and steps in words."""
    states, frame, asked, step = panel.states, panel.frame, panel.study.outcome, panel.study.step
    return (
        f"Coverage of {plural(frame['person'].nunique(), 'person', 'people')} by calendar {step}: "
        f"{whole(states['trained'])} {step}s trained, {whole(states['rest'])} rest, "
        f"{whole(states['unknown'])} unknown; "
        f"{whole(frame[asked.name].notna().sum())} of {whole(len(frame))} {step}s have a rating of "
        f"{asked.variable.label}."
    )


def not_drawn(people: int, steps: int, most_people: int, most_steps: int) -> str:
    """What the map leaves out: so many people and steps beyond the most that it draws; '' where none."""
    said = []
    if people:
        said.append(f"{plural(people, 'person', 'people')} beyond the first {most_people}")
    if steps:
        said.append(f"{plural(steps, 'step')} later than the first {most_steps} of the calendar")
    return f"Not drawn: {' and '.join(said)}." if said else ""

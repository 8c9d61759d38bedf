"""A caseload folder -> Caseload."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pandas as pd

from lagwise.caseload.convert import validate
from lagwise.caseload.frames import frame_grid, frame_places
from lagwise.caseload.kinds import lying, still_open
from lagwise.caseload.places import Place, find_tables, folder_of, hash_files, unused_files
from lagwise.caseload.remarks import Remark, at_rows, listed, remark, remarks_frame, shown
from lagwise.caseload.repeats import empty_frame
from lagwise.caseload.sift import COUNTS, empty_lost, empty_quarantine
from lagwise.caseload.study_file import load_study
from lagwise.caseload.table import TableRead, load_grid, read_table
from lagwise.caseload.workbook import chosen_sheet
from lagwise.caseload.workbook_archive import open_book
from lagwise.core import columns
from lagwise.core.claim import said
from lagwise.core.errors import CaseloadError, StudyError
from lagwise.core.legal import DAY
from lagwise.core.results import Caseload, content_hash
from lagwise.core.study import AnalysisPlan, Study, TableSource

FRAMES = "from_frames"


def read(folder: str | Path) -> Caseload:
    """Read and check a caseload folder.

    Parameters
    ----------
    folder : path
        Holds study.toml and the tables (docs/data-format.md). Nothing is written into it,
        and no file outside it is read.

    Returns
    -------
    Caseload
        Tables with the contract's columns in order and `row`, in file order: dates as datetime64, numbers as
        float64 in the contract's unit, flare as nullable boolean, the rest as text; missing where not
        recorded. Every input row is either there or in `quarantine`: read = used + quarantined for each
        table. A cell that breaks a rule is missing in a row that is used, and listed in `quarantine` as well,
        with `whole_row` False. Repairs and other things worth knowing are in `remarks`.

    Raises
    ------
    StudyError
        When study.toml cannot be used, or is a draft that nobody has looked through yet.
    CaseloadError
        When the folder or a whole table cannot be read.

    Examples
    --------
    >>> import lagwise as lw
    >>> caseload = lw.read("data_synthetic/clinic")
    >>> caseload.summary()[["table", "read", "used"]].head(2).values.tolist()
    [['sessions', 10922, 10922], ['checkins', 3746, 3746]]
    """
    try:
        return read_as(folder, reviewed(load_study(folder)))
    except (CaseloadError, StudyError) as error:
        from lagwise.caseload.check_reading import with_the_rest

        raise with_the_rest(error, folder) from None


def reviewed(study: Study) -> Study:
    """The plan, when its owner has looked through it; raises StudyError on a draft (`reviewed = false`)."""
    if not study.reviewed:
        raise StudyError(
            "the plan is a draft (reviewed = false), and nothing is analysed on a guess",
            where="study.toml",
            mend="Look through its lines, strike what is wrong, and write reviewed = true; "
            "`lagwise check` works meanwhile.",
        )
    return study


def read_as(folder: str | Path, study: Study) -> Caseload:
    """The same under a given plan in place of the folder's own, a draft or not."""
    root = folder_of(folder)
    try:
        places = find_tables(root, study, open_book)
        more = unused(root, places)
    except OSError as error:
        raise CaseloadError(f"the folder cannot be listed ({error.strerror})", where=str(folder)) from None
    return _checked(places, study, more, hash_files(places.values()), str(root))


def unused(root: Path, places: dict[str, Place]) -> list[Remark]:
    """A remark for every table-like file of the folder, and every workbook with sheets, that no table
    uses."""
    left = unused_files(root, places.values())
    return [
        *(remark("unused_file", "", "", 1, shown(name)) for name in left),
        *_unused_sheets(places),
        *still_open(places.values()),
    ]


def from_frames(
    *,
    sessions: pd.DataFrame | None = None,
    checkins: pd.DataFrame | None = None,
    people: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    weeks: pd.DataFrame | None = None,
    plan: Study,
) -> Caseload:
    """Read and check plain data frames as `read` does files: the same columns, repairs, quarantine,
    remarks and counts.

    Cells may be of any type that a table has: text (with decimal commas, dates as written), numbers, nullable
    or categorical columns, dates and timestamps with or without a time zone. Named index levels count as
    columns. What the plan says of a table (`columns`, `units`, `decimal`, `date_format`, `missing` ...)
    holds as for a file.

    Parameters
    ----------
    sessions, checkins, people, events, weeks : DataFrame, optional
        The contract's tables (docs/data-format.md): sessions, checkins or weeks is needed; without a rating
        of what is asked about the record can only be described. They are not changed.
    plan : Study

    Returns
    -------
    Caseload
        As `read` gives it. `row` is the 0-based position of a row in its frame;
        `quarantine` has its index label beside it, `label`. `data_hash` is taken over all cells and headers.

    Raises
    ------
    CaseloadError
        When a frame as a whole cannot be used, with the frame, the row (0-based position and index label)
        and the column.

    Examples
    --------
    >>> import lagwise as lw
    >>> import pandas as pd
    >>> log = pd.DataFrame({"person": ["a1", "a1"], "date": ["2024-01-07", "2024-01-14"],
    ...                     "pain": ["3,5", "14"]})
    >>> caseload = lw.from_frames(checkins=log, plan=lw.Study("Elbow pain in lifters"))
    >>> caseload.checkins["pain"].tolist()
    [3.5]
    >>> caseload.quarantine[["row", "column", "value", "code"]].to_dict("records")
    [{'row': 1, 'column': 'pain', 'value': '14', 'code': 'out_of_range'}]
    """
    given = {"sessions": sessions, "checkins": checkins, "people": people, "events": events, "weeks": weeks}
    places = frame_places(given, plan)
    whole = content_hash({table: frame_grid(place).frame for table, place in places.items()})
    caseload = _checked(places, plan, [], whole, "")
    aside = caseload.quarantine
    labels = [places[table].label(row) for table, row in zip(aside["table"], aside["row"], strict=True)]
    return replace(caseload, quarantine=aside.assign(label=pd.Series(labels, dtype="str")))


def _checked(
    places: dict[str, Place], study: Study, more: list[Remark], data_hash: str, folder: str
) -> Caseload:
    """The caseload in these places."""
    refuse_incomplete(set(places), folder or FRAMES)
    reads = {
        table: read_table(place, study, partial(beside, places, table, study))
        for table, place in places.items()
    }
    return assembled(places, study, reads, more, data_hash, folder)


def assembled(
    places: dict[str, Place], study: Study, reads: dict[str, TableRead], more: list[Remark], data_hash: str,
    folder: str, stop: Callable[[CaseloadError], None] | None = None,
) -> Caseload:  # fmt: skip
    """The caseload of tables that were read; a rating asked about that no row holds is raised, or given to
    `stop`."""
    study = _with_numbered_days(study, [table for table, one in reads.items() if one.numbered])
    frames: dict[str, Any] = {
        t: reads[t].frame if t in reads else empty_frame(t, study) for t in columns.TABLES
    }
    for table in reads:
        validate(table, frames[table], study)
    remarks = [r for t, one in reads.items() for r in one.remarks if not _of_another(r, t, places, reads)]
    aside = _together([one.quarantine for one in reads.values()], empty_quarantine())
    remarks += [*_never_rated(study, frames, aside, remarks, folder or FRAMES, stop), *more]
    remarks += [remark for table in reads for remark in _future(table, frames[table])]
    counts = [
        (table, places[table].shown, all_rows, used, all_rows - used, cells, cells_used, cells - cells_used)
        for table, one in reads.items()
        for all_rows, used, (cells, cells_used) in [(one.read, len(one.frame), one.cells)]
    ]
    return Caseload(
        study=study,
        **frames,
        quarantine=aside,
        counts=pd.DataFrame(counts, columns=list(COUNTS)),
        remarks=remarks_frame(remarks),
        read_hash=data_hash,
        folder=folder,
        lost=_together([one.lost for one in reads.values()], empty_lost()),
    )


def _with_numbered_days(study: Study, tables: list[str]) -> Study:
    """The plan, with what was found of tables whose days are numbers."""
    new = {t: replace(study.tables.get(t, TableSource()), date_format=DAY) for t in tables}
    return replace(study, tables=MappingProxyType({**study.tables, **new})) if new else study


def _of_another(remark: Remark, table: str, places: dict[str, Place], reads: dict[str, TableRead]) -> bool:
    """Whether a remark calls a column ignored that another table of the same sheet reads."""
    if remark.code != "ignored_column" or not places[table].shared:
        return False
    own = {part.lies for part in places[table].every}
    return any(
        remark.column in {shown(h) for h in one.headers}
        for other, one in reads.items()
        if other != table and own & {part.lies for part in places[other].every}
    )


def _together(parts: list[pd.DataFrame], empty: pd.DataFrame) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    if not filled:
        return empty
    together = pd.concat(filled, ignore_index=True)
    return together.assign(file=together["file"].fillna("")) if "file" in together else together


def beside(places: dict[str, Place], table: str, study: Study) -> list[pd.DataFrame]:
    """The other tables as they lie in their files; one that cannot be read is left out."""
    out = []
    for other, place in places.items():
        if other != table:
            with suppress(CaseloadError, OSError):
                out.append(load_grid(place, study).frame)
    return out


def refuse_incomplete(there: set[str], folder: str) -> None:
    """Raise CaseloadError where tables are missing that a caseload needs, or tell the same twice."""
    files = folder != FRAMES
    if not there & {"sessions", "checkins", "weeks"}:
        found = f"only {', '.join(sorted(there))}" if there else "no table"
        others, way_on = lying(Path(folder)) if files else ("", "")
        here = f" in this folder{others}" if files else ""
        raise CaseloadError(
            f"there is {found}{here}; sessions, checkins or weeks is needed",
            where=folder,
            mend=way_on or said("mend.no_table" if files else "mend.no_frame"),
        )
    both = there & {"checkins", "sessions"}
    if "weeks" in there and both:
        raise CaseloadError(
            f"there are both weeks and {' and '.join(sorted(both))}; load or ratings would count twice",
            where=folder,
            mend="Keep either weeks, or sessions and checkins; "
            + ("move the other out of the folder." if files else "leave the other out."),
        )


def _nothing_rated(name: str, table: str, lost: pd.DataFrame, left: str, folder: str) -> CaseloadError:
    """What is asked about is nowhere, or nothing of it can be used."""
    what, mend = (
        f"no row of {table} holds {name}",
        said("mend.rating_named", name=name, table=table, left=left),
    )
    if len(lost):
        first, mend = lost[["value", "mend"]].iloc[0]
        what = f"no value of {name} in {table} can be used, the first being '{first}'"
    return CaseloadError(
        f"{what}; the study asks about it (outcome under [analysis])", where=folder, mend=mend
    )


def _never_rated(
    study: Study, frames: dict[str, pd.DataFrame], aside: pd.DataFrame, remarks: list[Remark], folder: str,
    stop: Callable[[CaseloadError], None] | None,
) -> list[Remark]:  # fmt: skip
    """A remark for every rating declared and nowhere held, not even by a cell set `aside`; raises
    CaseloadError for the one asked about where there are ratings at all, or gives it to `stop`."""
    table = "weeks" if len(frames["weeks"]) else "checkins"
    asked = study.analysis.outcome
    left = [remark.column for remark in remarks if (remark.code, remark.table) == ("ignored_column", table)]
    out = []
    for name in dict.fromkeys([*study.ratings, *([asked] if asked != AnalysisPlan.outcome else [])]):
        if frames[table][name].notna().any():
            continue
        lost = aside[aside["table"].eq(table) & aside["column"].eq(name)]
        if name == asked and (len(frames[table]) or len(lost)):
            error = _nothing_rated(name, table, lost, listed(left), folder)
            if stop is None:
                raise error
            stop(error)
        elif lost.empty:
            out.append(remark("absent_rating", table, name, left=listed(left)))
    return out


def _unused_sheets(places: dict[str, Place]) -> list[Remark]:
    """A remark for every workbook that holds sheets which no table uses."""
    left: dict[Path, list[str]] = {}
    files: dict[Path, str] = {}
    for place in (part for table in places.values() for part in table.every):
        if place.book is not None:
            names = list(place.book.sheets)
            used = chosen_sheet(names, place)
            left[place.path] = [name for name in left.get(place.path, names) if name != used]
            files[place.path] = place.book.shown
    return [
        remark("unused_sheet", "", "", len(sheets), f"{files[path]}: " + listed(map(shown, sheets)))
        for path, sheets in left.items()
        if sheets
    ]


def _future(table: str, frame: pd.DataFrame) -> list[Remark]:
    column = columns.WHEN.get(table, "")
    late = frame[frame[column] > pd.Timestamp(date.today())] if column in frame else frame[:0]
    parts = frame.attrs.get("parts", ())
    if late.empty:
        return []
    where = at_rows(late["row"].tolist(), late[column].dt.strftime("%Y-%m-%d").tolist(), parts)
    return [remark("future_date", table, column, len(late), where)]

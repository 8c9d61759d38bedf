"""One table: file -> checked frame, quarantine, counts and remarks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from pandas.api import types

from lagwise.caseload import cells, repeats, scales, shapes
from lagwise.caseload.check_edits import Edit
from lagwise.caseload.convert import Converted, as_text, convert, convert_numbers
from lagwise.caseload.dates import date_reader, day_reader, typed_dates
from lagwise.caseload.frames import frame_grid
from lagwise.caseload.grid import Grid, folded, refuse_twice
from lagwise.caseload.identifiers import codes_that_identify
from lagwise.caseload.kinds import refuse_other, refuse_pivot
from lagwise.caseload.match import match, used_headers, wanted_headers
from lagwise.caseload.parquet_file import read_parquet
from lagwise.caseload.parts import pasted
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import EXAMPLES, PART, Remark, at_rows, remark
from lagwise.caseload.repairs import on
from lagwise.caseload.repeats import refuse_set_numbers
from lagwise.caseload.settle import settle
from lagwise.caseload.sift import Faults, lost_frame, quarantine_frame
from lagwise.caseload.suggest import Others, ignored_columns
from lagwise.caseload.text_file import read_text
from lagwise.caseload.wide import unfold
from lagwise.caseload.workbook import read_workbook
from lagwise.core import columns as contract
from lagwise.core.claim import coded, said
from lagwise.core.columns import TABLES, Column
from lagwise.core.errors import CaseloadError, StudyError
from lagwise.core.legal import DAY, UNITS
from lagwise.core.study import Study

OFTEN_EMPTY = 0.25
"""Share of rows without a code or date from which it may be written once, above its rows."""
MAY_BE_EMPTY = ("sessions", "people", "events")


@dataclass(frozen=True)
class TableRead:
    """A table as read: used rows, quarantine, what was lost (`sift.LOST`), rows read, filled cells read and
    used of the rows used, remarks, the headers that were used, and whether its days are numbers."""

    frame: pd.DataFrame
    quarantine: pd.DataFrame
    lost: pd.DataFrame
    read: int
    cells: tuple[int, int]
    remarks: tuple[Remark, ...]
    headers: frozenset[str] = frozenset()
    numbered: bool = False


def read_table(
    place: Place, study: Study, others: Others = tuple, leave: frozenset[str] = frozenset()
) -> TableRead:
    """Read and check one table; raises CaseloadError when the table as a whole cannot be used.

    `others` gives the other tables as they lie in their files; asked for only when a column cannot be found.
    Columns of ours in `leave` are taken as not recorded.
    """
    grid, days, declared = load_grid(place, study), None, place
    if place.source.wide:
        refuse_twice(place, (h for forms in place.source.wide.values() for h in forms), grid.twice)
        grid, place = shapes.dated(grid, place, study)
        grid, days = unfold(grid, place)
    refuse_pivot(place, grid.frame, wanted_headers(place, study))
    theirs, ignored, renamed = match(place, grid.frame, study, others)
    refuse_twice(place, theirs.values(), grid.twice)
    if place is not declared:
        shapes.refuse_undated(place, grid, theirs["person"])
    if place.source.fill_down:
        grid = shapes.filled_down(grid, theirs, place)
    if place.shared:
        keep = shapes.own_rows(grid, theirs, place)
        grid, days = shapes.only(grid, keep, place), None if days is None else days[keep]
    remarks = [*grid.remarks, *renamed]
    columns = contract.tables(study)[place.table]
    faults = Faults(len(grid.rows), place)
    beyond = pd.Series(grid.ragged, dtype="str").reindex(range(len(grid.rows)))
    faults.add(sorted(grid.ragged), "", beyond, "too_many_cells", said("mend.too_many_cells"))
    _no_records(place.table, grid, theirs, faults)
    values: dict[str, pd.Series] = {}
    done: dict[str, Converted] = {}
    for column in columns:
        name = column.name
        if name in place.source.constant:
            values[name] = _constant(column, place, study, grid, remarks)
        elif name not in theirs or name in leave:
            values[name] = repeats.nothing(column, len(grid.rows))
        else:
            done[name] = _read_column(column, grid.frame[theirs[name]], place, study, grid.day_0, remarks)
            values[name] = done[name].values
            _note(column, done[name], faults)
    if "time" in values and "time" not in done and days is None and done["date"].extra is not None:
        values["time"] = done["date"].extra
    if days is not None:
        date = shapes.when(place.table).name
        values[date] = values[date] + pd.to_timedelta(days, unit="D")
    frame = pd.DataFrame(values, copy=False).assign(row=grid.rows.astype("int64"))
    absent = [c for c in columns if c.name not in theirs]
    remarks += ignored_columns(place, grid.frame, ignored, absent, frame, study)
    _share_sets_by_reps(frame, done, faults)
    if place.table == "sessions":
        frame = frame.assign(effort=frame["effort"].fillna((10 - frame["reps_in_reserve"]).clip(lower=0)))
        if "sets" in done:
            refuse_set_numbers(place, frame, theirs["sets"])
    remarks += settle(frame, done, place, study).remarks
    # Whose it is and when says nothing by itself.
    content = [name for name in done if name not in contract.PLACING]
    faults.set_aside_silent(frame[content].notna().any(axis=1).to_numpy())
    repeats.find(place, frame, study, faults)
    bad = faults.rows
    remarks += _repair_remarks(place, done, grid.rows, faults)
    quarantine = quarantine_frame(place.table, grid.rows, faults)
    used = frame.loc[~bad].reset_index(drop=True) if bad.any() else frame
    _refuse_empty(place, len(frame), len(used), quarantine)
    if place.parts:
        used.attrs["parts"] = place.named
        file = [place.named[row // PART] for row in quarantine["row"]]
        quarantine = quarantine.assign(row=quarantine["row"] % PART, file=pd.Series(file, dtype="str"))
    if place.table == "sessions":
        remarks += [
            *_contradictions(used, place.named),
            *repeats.identical_sessions(used, grid.frame.loc[~bad] if bad.any() else grid.frame, place.named),
        ]
    remarks += codes_that_identify(place.table, used["person"])
    lost = lost_frame(place.table, frame, faults)
    filled = {name: converted.filled & ~bad for name, converted in done.items()}
    cells_read = sum(int(of.sum()) for of in filled.values())
    cells_used = sum(int((of & ~faults.cells(name)).sum()) for name, of in filled.items())
    headers = frozenset([*theirs.values(), *(h for days_of in place.source.wide.values() for h in days_of)])
    numbered = place is not declared or place.source.date_format == DAY
    of_cells = (cells_read, cells_used)
    return TableRead(used, quarantine, lost, len(frame), of_cells, tuple(remarks), headers, numbered)


def load_grid(place: Place, study: Study) -> Grid:
    """The table as it lies in its file, by the file's suffix."""
    if place.frame is not None:
        return frame_grid(place)
    if place.parts:
        return _of_parts(place, study)
    refuse_other(place)
    suffix = place.path.suffix.lower()
    wanted, search = wanted_headers(place, study), on(study.repair, "title_rows")
    if suffix == ".parquet":
        return read_parquet(place, used_headers(place, study))
    if suffix in (".xlsx", ".xlsm"):
        return read_workbook(place, wanted, merged_repair=on(study.repair, "merged_cells"), search=search)
    return read_text(place, wanted, encoding_repair=on(study.repair, "encoding"), search=search)


def _of_parts(place: Place, study: Study) -> Grid:
    """All parts below each other; of all sheets of a workbook those that hold the columns needed."""
    if place.source.sheets != ("*",):
        return pasted(place, {at: load_grid(part, study) for at, part in enumerate(place.parts)})
    wanted, found = {*map(folded, wanted_headers(place, study))}, {}
    for at, part in enumerate(place.parts):
        with suppress(CaseloadError):
            found[at] = load_grid(part, study)
    holds = {at: g for at, g in found.items() if wanted <= {folded(str(h)) for h in g.frame.columns}}
    return pasted(place, holds or found or {0: load_grid(place.parts[0], study)})


def _read_column(
    column: Column, raw: pd.Series, place: Place, study: Study, day_0: date, remarks: list[Remark]
) -> Converted:
    """A column converted; of a rating also its scale, which is asked about where it is not declared."""
    converted = _convert(column, raw, place, study, day_0)
    unit = place.source.units.get(column.name, "")
    if column.rated and unit:
        given = int(converted.values.notna().sum())
        remarks.append(scales.declared_remark(place.table, scales.on_scale(column, unit), given))
    elif column.rated:
        scales.ask_scale(place, column, converted, column.name in study.ratings)
    return converted


def _convert(column: Column, raw: pd.Series, place: Place, study: Study, day_0: date) -> Converted:
    unit = place.source.units.get(column.name, "")
    if unit and column.rated:
        wide = scales.on_scale(column, unit)
        plain = replace(place, source=replace(place.source, units={}))
        return scales.to_ten(_convert(wide, raw, plain, study, day_0), wide)
    factor = UNITS[column.name][unit] if unit else 1.0
    numeric = types.is_numeric_dtype(raw.dtype) and not types.is_bool_dtype(raw.dtype)
    marks = (*place.source.missing.get("", ()), *place.source.missing.get(column.name, ()))
    if column.kind in ("number", "count") and numeric:
        return convert_numbers(column, raw, factor, marks)
    numbered = column.kind == "date" and place.source.date_format == DAY
    if column.kind == "date" and types.is_datetime64_any_dtype(raw.dtype) and not numbered:
        return typed_dates(raw, study.repair)
    text = raw if raw.dtype == "str" else as_text(raw, column)
    read = _reader(column, text, place, study, factor, day_0)
    return convert(column, text, cells.declared_missing(read, marks) if marks else read, place)


def _reader(
    column: Column, raw: pd.Series, place: Place, study: Study, factor: float, day_0: date
) -> cells.Reader:
    repair = study.repair
    match column.kind:
        case "number" | "count":
            return cells.number_reader(column, place.decimal, factor, repair, place.table)
        case "date" if place.source.date_format == DAY:
            return day_reader(study.clock, study.clock.step_days if place.table == "weeks" else 1)
        case "date":
            return date_reader(raw.dropna().unique(), place, column.name, repair, day_0)
        case "time":
            return cells.time_reader(repair)
        case "yesno":
            return cells.yesno_reader(repair)
        case "choice":
            return cells.choice_reader(column, repair)
        case _:
            return cells.text_reader(column, repair)


def _constant(column: Column, place: Place, study: Study, grid: Grid, remarks: list[Remark]) -> pd.Series:
    """A column that has the same value in every row, as study.toml declares, which is remarked on."""
    given = pd.Series([place.source.constant[column.name]], dtype="str")
    read = _convert(column, given, place, study, grid.day_0)
    if read.problems or read.values.isna().any():
        raise StudyError(
            f"constant {column.name} = {given[0]!r} cannot be used",
            where=f"study.toml, [tables.{place.table}]",
            mend=read.problems[0][1] if read.problems else "Give a value.",
        )
    remarks.append(remark("declared_constant", place.table, column.name, len(grid.rows), f"{given[0]}"))
    return read.values.take([0] * len(grid.rows)).reset_index(drop=True)


def _no_records(table: str, grid: Grid, theirs: Mapping[str, str], faults: Faults) -> None:
    """Note rows that are no record although their cells are filled: the header again,
    and sums at the foot."""
    code = grid.frame[theirs["person"]]
    if code.dtype != "str":
        return
    spellings = {str(text): str(text).strip().rstrip(":").lower() for text in code.dropna().unique()}
    if theirs["person"].lower() in spellings.values():
        own = [theirs[c.name] for c in TABLES[table] if c.required]
        same = [grid.frame[h].astype("str").str.strip().str.lower() == h.lower() for h in own]
        again = np.flatnonzero(pd.concat(same, axis=1).fillna(False).all(axis=1))
        faults.add(again, "", None, "header_again", said("mend.header_again"))
    totals = code.isin([text for text, word in spellings.items() if word in cells.TOTALS])
    at = np.flatnonzero(totals.to_numpy(dtype=bool))
    faults.add(at, "person", code, "total_row", said("mend.total"))


def _note(column: Column, converted: Converted, faults: Faults) -> None:
    for i, (code, mend) in enumerate(converted.problems):
        at = np.flatnonzero(converted.problem == i)
        faults.add(at, column.name, converted.raw, code, mend, whole=column.required)
    if column.required:
        empty = (converted.values.isna() & (converted.problem < 0)).to_numpy()
        often = len(empty) and not empty[0] and empty.mean() > OFTEN_EMPTY
        edits = [Edit(("tables", faults.place.table), {"fill_down": [column.name]})] if often else []
        mend = said("mend.required", column=column.name, edits=edits)
        faults.add(np.flatnonzero(empty), column.name, converted.raw, f"missing_{column.name}", mend)


def _share_sets_by_reps(frame: pd.DataFrame, done: dict[str, Converted], faults: Faults) -> None:
    """Give the repetitions of '3x8', or the number of sets in '8/8/9', to an empty cell beside it."""
    for name, other in (("sets", "reps"), ("reps", "sets")):
        beside = done[name].extra if name in done else None
        if beside is None:
            continue
        clash = beside.notna() & frame[other].notna() & (frame[other] != beside)
        faults.add(
            np.flatnonzero(clash.to_numpy()), name, done[name].raw, "sets_and_reps_differ",
            said("mend.own_columns"), whole=False,
        )  # fmt: skip
        frame[name] = frame[name].mask(clash)
        frame[other] = frame[other].fillna(beside)


def _contradictions(used: pd.DataFrame, named: Sequence[str]) -> list[Remark]:
    """A remark when effort and reps in reserve say different things; effort is what counts."""
    odd = repeats.contradicting(used)
    where = at_rows(odd["row"].tolist(), odd["said"].tolist(), named)
    return [] if odd.empty else [remark("contradiction", "sessions", "effort", len(odd), where)]


def _repair_remarks(
    place: Place, done: dict[str, Converted], rows: np.ndarray, faults: Faults
) -> list[Remark]:
    out = []
    for name, converted in done.items():
        bad = faults.rows | faults.cells(name)
        for repair, positions in converted.repairs.items():
            kept = positions[~bad[positions]]
            if not len(kept):
                continue
            code = repair if repair == cells.DECLARED_MISSING else f"repair_{repair}"
            where = at_rows(rows[kept].tolist(), converted.raw.iloc[kept[:EXAMPLES]].tolist(), place.named)
            out.append(remark(code, place.table, name, len(kept), where))
    return out


def _refuse_empty(place: Place, read: int, used: int, quarantine: pd.DataFrame) -> None:
    if used or (not read and place.table in MAY_BE_EMPTY):
        return
    if not read:
        raise place.error("has a header and no rows", "Fill it in, or take it out.")
    if place.table in ("people", "events"):
        return
    q = quarantine.iloc[0]
    why = f"{place.at(q['row'])}, {q['column'] or 'whole row'}: {q['code']} '{q['value']}'"
    raise place.error(coded(f"none of its {read} rows can be used; the first: {why}", "no_row"), q["mend"])

"""Panels from session files too large to hold: rows are summed a batch at a time, the rest is as always."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from lagwise.core.columns import MEASURED, SESSIONS
from lagwise.core.errors import PanelError
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.panel.build import panel_from_blocks
from lagwise.panel.clock import Grid, Records, lay_grid
from lagwise.panel.ratings import before_first, in_order, rating_steps
from lagwise.panel.steps import TrainingSteps

T = TypeVar("T")
ROWS = 1 << 17
"""Rows held at a time: enough to keep the decoding busy, few enough to stay near the processor."""
NO_DAY = np.iinfo("int32").min
LIMITS = {c.name: (c.low, c.high or np.inf) for c in (*SESSIONS, MEASURED) if c.low is not None}
_MEND = "Read the folder with lagwise.read, which sets such rows aside."


def panel_from_parquet(sessions: str | Path, study: Study, checkins: pd.DataFrame | None = None) -> Panel:
    """The panel that `build_panel` gives, equal to that of the same rows read, up to the rounding of sums."""
    empty = {"person": "str", "date": "datetime64[us]", "row": "int64"}
    given = pd.DataFrame({n: pd.Series(dtype=d) for n, d in empty.items()}) if checkins is None else checkins
    ratings = in_order(given)
    try:
        grid, rated_at, training = _gather(Path(sessions), study, ratings)
    except (pa.ArrowException, OSError) as error:
        reason = (str(error) or type(error).__name__).splitlines()[0]
        raise PanelError(
            f"cannot be read as session rows ({reason})",
            where=str(sessions),
            mend="Give a Parquet file of sessions.",
        ) from None
    columns = training.columns() | rating_steps(ratings, rated_at.row, grid.size, study)
    columns |= before_first(training.first_sessions(), ratings, rated_at, grid, study)
    del training
    source = "logs" if columns["n_sessions"].any() else "checkins"
    return panel_from_blocks(grid.frame(columns, source=source), study)


def _gather(path: Path, study: Study, ratings: pd.DataFrame) -> tuple[Grid, Records, TrainingSteps]:
    """The grid, where the ratings stand in it, and what was trained."""
    file, where = _SessionFile(path), str(path)
    if not {"person", "date"} <= set(file.columns):
        raise PanelError(
            "has no person or no date column", where=where, mend="Name the columns person and date."
        )
    met, code, day = file.people()
    if (code < 0).any() or (day == NO_DAY).any():
        raise PanelError("has rows without person or date", where=where, mend=_MEND)
    low, high = _spans(code, day, len(met))
    ends = (pd.Series(days.astype("datetime64[D]").astype("datetime64[us]")) for days in (low, high))
    tables = [*((pd.Series(met, dtype="str"), days) for days in ends), (ratings["person"], ratings["date"])]
    grid, (bounds, _, rated_at) = lay_grid(study.clock, tables)
    training = TrainingSteps(grid, study)
    numbers = tuple(name for name in LIMITS if name != MEASURED.name or study.load.measure == "measured")
    for at, table in file.tables(numbers, ("time", "exercise") if study.groups else ("time",)):
        _check_values(table, where)
        training.add(table, bounds.person[code[at]], day[at])
    return grid, rated_at, training


def _check_values(table: pd.DataFrame, where: str) -> None:
    for name, (least, most) in LIMITS.items():
        values = table[name].to_numpy() if name in table else np.empty(0)
        if ((values < least) | (values > most)).any():
            legal = f"below {least:g}" if np.isinf(most) else f"outside {least:g} to {most:g}"
            raise PanelError(f"has values of {name} {legal}", where=where, mend=_MEND)


class _SessionFile:
    """The session rows of a Parquet file, never held whole: `columns` it has, number of `rows`."""

    def __init__(self, path: Path) -> None:
        self.columns = tuple(pq.read_schema(path).names)
        words = [name for name in ("person", "time", "exercise") if name in self.columns]
        self._file = pq.ParquetFile(path, read_dictionary=words, pre_buffer=True)
        self.rows: int = self._file.metadata.num_rows

    def people(self) -> tuple[list[str], np.ndarray, np.ndarray]:
        """Codes in the order met; of every row its place among them (-1: none) and its day (NO_DAY: none)."""
        met: dict[str, int] = {}
        code, day = np.empty(self.rows, dtype="int32"), np.empty(self.rows, dtype="int32")
        known: list[Any] = [None, np.empty(0, dtype="int32")]

        def places(batch: pa.RecordBatch) -> tuple[np.ndarray, np.ndarray]:
            person = _words(batch["person"])
            if known[0] is None or not person.dictionary.equals(known[0]):
                texts = person.dictionary.to_pylist()
                known[:] = (
                    person.dictionary,
                    np.array([met.setdefault(t, len(met)) for t in texts] + [-1], dtype="int32"),
                )
            # By the clock they were taken by, timestamps as well.
            day = batch["date"].cast(pa.date32(), safe=False).cast(pa.int32())
            indices = person.indices.fill_null(len(person.dictionary)).to_numpy(zero_copy_only=False)
            return known[1][indices], day.fill_null(NO_DAY).to_numpy(zero_copy_only=False)

        for at, (who, when) in self._batches(("person", "date"), places):
            code[at], day[at] = who, when
        return list(met), code, day

    def tables(self, numbers: Sequence[str], words: Sequence[str]) -> Iterator[tuple[slice, pd.DataFrame]]:
        """Where each batch stands, and those of the columns that the file has: float64, or categories."""

        def table(batch: pa.RecordBatch) -> pd.DataFrame:
            columns = {
                name: _categories(column)
                if name in words
                else column.cast(pa.float64()).to_numpy(zero_copy_only=False)
                for name, column in zip(batch.schema.names, batch.columns, strict=True)
            }
            return pd.DataFrame(columns, index=pd.RangeIndex(batch.num_rows), copy=False)

        return self._batches((*numbers, *words), table)

    def _batches(
        self, columns: Sequence[str], read: Callable[[pa.RecordBatch], T]
    ) -> Iterator[tuple[slice, T]]:
        """What `read` makes of each batch; one is decoded and read while the one before is worked on."""
        batches = self._file.iter_batches(ROWS, columns=[name for name in columns if name in self.columns])

        def following() -> tuple[int, T] | None:
            batch = next(batches, None)
            return None if batch is None else (batch.num_rows, read(batch))

        start = 0
        with ThreadPoolExecutor(1) as ahead:
            coming = ahead.submit(following)
            while (found := coming.result()) is not None:
                coming = ahead.submit(following)
                yield slice(start, start + found[0]), found[1]
                start += found[0]


def _spans(code: np.ndarray, day: np.ndarray, people: int) -> tuple[np.ndarray, np.ndarray]:
    """(people,) int64 first and last day of every person."""
    low, high = np.full(people, np.iinfo("int64").max), np.full(people, np.iinfo("int64").min)
    for start in range(0, len(code), ROWS):
        # As int64 the running minimum takes numpy's fast way; a part at a time that costs no memory.
        who, when = code[start : start + ROWS].astype("int64"), day[start : start + ROWS].astype("int64")
        np.minimum.at(low, who, when)
        np.maximum.at(high, who, when)
    return low, high


def _words(column: pa.Array) -> pa.DictionaryArray:
    """Places in a dictionary of texts."""
    if not pa.types.is_dictionary(column.type):
        column = column.cast(pa.string()).dictionary_encode()
    if pa.types.is_string(column.type.value_type):
        return column
    return pa.DictionaryArray.from_arrays(column.indices, column.dictionary.cast(pa.string()))


def _categories(column: pa.Array) -> pd.Categorical:
    words = _words(column)
    codes = words.indices.fill_null(-1).to_numpy(zero_copy_only=False)
    return pd.Categorical.from_codes(codes, words.dictionary.to_pylist())

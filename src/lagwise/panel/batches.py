"""A Parquet file of session rows, read a batch of columns at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

T = TypeVar("T")
ROWS = 1 << 17
"""Rows held at a time: enough to keep the decoding busy, few enough to stay near the processor."""
NO_DAY = np.iinfo("int32").min
_WORDS = ("person", "time", "exercise")


class SessionFile:
    """The session rows of a Parquet file, never held whole: `columns` it has, number of `rows`.

    Raises
    ------
    pyarrow.ArrowException, OSError
        When the file is no Parquet file, and later when a column cannot be read as what it should be.
    """

    def __init__(self, path: Path) -> None:
        self.columns = tuple(pq.read_schema(path).names)
        words = [name for name in _WORDS if name in self.columns]
        self._file = pq.ParquetFile(path, read_dictionary=words, pre_buffer=True)
        self.rows: int = self._file.metadata.num_rows

    def people(self) -> tuple[list[str], np.ndarray, np.ndarray]:
        """Codes in the order met; of every row its place among them (-1 for none) and its day number (NO_DAY
        for none)."""
        met: dict[str, int] = {}
        code, day = np.empty(self.rows, dtype="int32"), np.empty(self.rows, dtype="int32")
        known: list[Any] = [None, np.empty(0, dtype="int32")]

        def places(batch: pa.RecordBatch) -> tuple[np.ndarray, np.ndarray]:
            person = as_words(batch["person"])
            if known[0] is None or not person.dictionary.equals(known[0]):
                texts = person.dictionary.to_pylist()
                known[:] = (
                    person.dictionary,
                    np.array([met.setdefault(t, len(met)) for t in texts] + [-1], dtype="int32"),
                )
            indices = person.indices.fill_null(len(person.dictionary)).to_numpy(zero_copy_only=False)
            return known[1][indices], day_numbers(batch["date"])

        for at, (who, when) in self._batches(("person", "date"), places):
            code[at], day[at] = who, when
        return list(met), code, day

    def tables(self, numbers: Sequence[str], words: Sequence[str]) -> Iterator[tuple[slice, pd.DataFrame]]:
        """Where each batch stands in the file, and those of the columns that the file has: float64, or
        categories."""

        def table(batch: pa.RecordBatch) -> pd.DataFrame:
            columns = {
                name: as_categories(column) if name in words else as_numbers(column)
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


def spans(code: np.ndarray, day: np.ndarray, people: int) -> tuple[np.ndarray, np.ndarray]:
    """(people,) int64 first and last day of every person."""
    low, high = np.full(people, np.iinfo("int64").max), np.full(people, np.iinfo("int64").min)
    for start in range(0, len(code), ROWS):
        # As int64 the running minimum takes numpy's fast way; a part at a time that costs no memory.
        who, when = code[start : start + ROWS].astype("int64"), day[start : start + ROWS].astype("int64")
        np.minimum.at(low, who, when)
        np.maximum.at(high, who, when)
    return low, high


def as_words(column: pa.Array) -> pa.DictionaryArray:
    """Places in a dictionary of texts."""
    if not pa.types.is_dictionary(column.type):
        column = column.cast(pa.string()).dictionary_encode()
    if pa.types.is_string(column.type.value_type):
        return column
    return pa.DictionaryArray.from_arrays(column.indices, column.dictionary.cast(pa.string()))


def as_categories(column: pa.Array) -> pd.Categorical:
    """The same as a pandas column."""
    words = as_words(column)
    return pd.Categorical.from_codes(
        words.indices.fill_null(-1).to_numpy(zero_copy_only=False), words.dictionary.to_pylist()
    )


def as_numbers(column: pa.Array) -> np.ndarray:
    """(n,) float64 with NaN for missing."""
    values: np.ndarray = column.cast(pa.float64()).to_numpy(zero_copy_only=False)
    return values


def day_numbers(column: pa.Array) -> np.ndarray:
    """(n,) int32 days since 1970-01-01 of dates, timestamps (by the clock they were taken by) or ISO text;
    NO_DAY for none."""
    days: np.ndarray = (
        column.cast(pa.date32(), safe=False).cast(pa.int32()).fill_null(NO_DAY).to_numpy(zero_copy_only=False)
    )
    return days

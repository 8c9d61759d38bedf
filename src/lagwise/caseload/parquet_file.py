"""Parquet tables -> grid of typed columns, opened only after a look at how much is inside."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np
import pandas as pd

from lagwise.caseload.grid import MAX_COLUMNS, Grid, refuse_many, refuse_no_rows, refuse_wide
from lagwise.caseload.places import MOST_BYTES, Place
from lagwise.core.numbers import megabytes

_DAMAGED = (OSError, ValueError, TypeError, KeyError, NotImplementedError, OverflowError, MemoryError)
"""What pyarrow raises besides its own errors where a file is damaged."""
_GROUP = 65_536
"""Rows that are unpacked at a time."""


def read_parquet(place: Place, used: Sequence[str]) -> Grid:
    """The grid of a Parquet file: the columns named in `used` (lower-cased) with their values,
    others with names only.

    Raises CaseloadError when the file is damaged, has more rows, columns or bytes than are read, two columns
    of one name, a used column that holds lists or records, or text that is not UTF-8.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    if not place.content:
        refuse_no_rows(place)
    with _our_errors(place):
        source = pa.BufferReader(place.content)
        schema = pq.read_schema(source)
        if len(schema.names) > MAX_COLUMNS:
            refuse_wide(place)
        if len(set(schema.names)) < len(schema.names):
            raise place.error("has two columns of one name", "Rename or delete one of them.")
        keep = [field for field in schema if field.name.strip().lower() in used]
        for field in keep:
            if pa.types.is_nested(field.type):
                raise place.error(
                    f"the column '{field.name[:60]}' holds {str(field.type)[:60]}, not one value a row",
                    "Write one value into each cell, or leave the column out.",
                )
        names = [field.name for field in keep]
        # Repeated values stay stored once while they are unpacked: a few bytes can stand for many rows.
        with pq.ParquetFile(source, read_dictionary=names, pre_buffer=False) as file:
            count = file.metadata.num_rows
            refuse_many(count, max(len(keep), 1), place)
            _refuse_size(_size(file.metadata, set(names)), place)
            table = _unpacked(file, names, count, place)
        columns = {name: _column(table.column(name), name, place) for name in names}
    empty = pd.Series([None] * 0, dtype="str").reindex(range(count))
    frame = pd.DataFrame({name: columns.get(name, empty) for name in schema.names}, index=range(count))
    return Grid(frame, np.arange(2, count + 2))


@contextmanager
def _our_errors(place: Place) -> Iterator[None]:
    import pyarrow as pa

    try:
        yield
    except (pa.ArrowException, *_DAMAGED) as error:
        raise place.error("is no readable Parquet file", "Write it again, or save it as CSV.") from error


def _size(metadata, names: set[str]) -> int:
    """Bytes of the used columns when they are unpacked."""
    groups = map(metadata.row_group, range(metadata.num_row_groups))
    parts = (group.column(i) for group in groups for i in range(group.num_columns))
    return sum(part.total_uncompressed_size for part in parts if part.path_in_schema in names)


def _refuse_size(size: int, place: Place, most: int = MOST_BYTES) -> None:
    if size > most:
        raise place.error(
            f"would unpack to {megabytes(size)}; at most {megabytes(most)} are read",
            "Keep the columns, people or years needed.",
        )


def _unpacked(file, keep: Sequence[str], count: int, place: Place):
    """The used columns, read piece by piece and never more of them than the file says it holds."""
    import pyarrow as pa

    batches, rows, size = [], 0, 0
    for batch in file.iter_batches(_GROUP, columns=list(keep), use_threads=False):
        rows += batch.num_rows
        size += batch.nbytes
        if rows > count:
            raise ValueError("more rows than the file says")
        _refuse_size(size, place, 2 * MOST_BYTES)
        batches.append(batch)
    if keep and rows != count:
        raise ValueError("fewer rows than the file says")
    schema = None if batches else pa.schema([file.schema_arrow.field(n) for n in keep])
    return pa.Table.from_batches(batches, schema=schema)


def _column(column, name: str, place: Place) -> pd.Series:
    """One column as pandas has it: text, numbers, truth values or timestamps; times of day as text."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if column.num_chunks:
        column = column.unify_dictionaries().combine_chunks()
        column = column.chunk(0) if isinstance(column, pa.ChunkedArray) else column
    if pa.types.is_time(column.type):
        column = column.dictionary_encode()
    values, codes = (
        (column.dictionary, column.indices) if pa.types.is_dictionary(column.type) else (column, None)
    )
    kind = values.type
    if pa.types.is_time(kind):
        values = pa.array([None if v is None else v.isoformat() for v in values.to_pylist()], pa.string())
    elif any(is_kind(kind) for is_kind in _texts()):
        values = _text(values, name, place)
        if codes is not None and len(values):
            lengths = pc.fill_null(pc.binary_length(values).take(codes), 0)
            _refuse_size(pc.sum(lengths).as_py() or 0, place)
    elif pa.types.is_decimal(kind):
        values = values.cast(pa.float64())
    elif pa.types.is_date(kind) or pa.types.is_timestamp(kind):
        values = values.cast(pa.timestamp("us", getattr(kind, "tz", None)), safe=False)
    series = (values if codes is None else values.take(codes)).to_pandas()
    if pa.types.is_boolean(kind):
        return series.astype("boolean")
    return series.astype("str").where(series.notna()) if series.dtype == object else series


def _texts() -> list:
    import pyarrow.types as of

    return [of.is_string, of.is_large_string, of.is_string_view,
            of.is_binary, of.is_large_binary, of.is_fixed_size_binary]  # fmt: skip


def _text(values, name: str, place: Place):
    """Text, also where the file calls it bytes; raises CaseloadError when some of it is not UTF-8."""
    import pyarrow as pa

    try:
        values.validate(full=True)
        return values.cast(pa.large_string())
    except pa.ArrowInvalid:
        raise place.error(
            f"the column '{name[:60]}' holds text that is not UTF-8",
            "Write the table again with its text in UTF-8, or save it as CSV.",
        ) from None

"""Parquet tables -> grid of typed columns."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lagwise.caseload.grid import MAX_COLUMNS, Grid, no_rows
from lagwise.caseload.places import Place
from lagwise.core.errors import CaseloadError


def read_parquet(place: Place, used: Sequence[str]) -> Grid:
    """The grid of a Parquet file: the columns named in `used` (lower-cased) with their values, others with names only."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    bad = CaseloadError("is no readable Parquet file", where=place.shown, mend="Write it again, or save it as CSV.")
    if place.path.stat().st_size == 0:
        raise no_rows(place)
    try:
        with pq.ParquetFile(place.path) as file:
            names = file.schema_arrow.names
            if len(names) > MAX_COLUMNS or len(set(names)) < len(names):
                raise CaseloadError(
                    "has too many columns or two of one name", where=place.shown, mend="Keep the columns needed."
                )
            keep = [name for name in names if name.strip().lower() in used]
            table = file.read(columns=keep)
            count = file.metadata.num_rows
        columns = {name: _column(table.column(name), pa) for name in keep}
    except (
        pa.ArrowException,
        OSError,
        ValueError,
        TypeError,
        KeyError,
        NotImplementedError,
        OverflowError,
        MemoryError,
    ) as error:
        raise bad from error
    empty = pd.Series([None] * 0, dtype="str").reindex(range(count))
    frame = pd.DataFrame({name: columns.get(name, empty) for name in names}, index=range(count))
    return Grid(frame, np.arange(2, count + 2))


def _column(column, pa) -> pd.Series:
    kind = column.type
    if pa.types.is_dictionary(kind):
        column, kind = column.cast(kind.value_type), kind.value_type
    if pa.types.is_decimal(kind):
        column = column.cast(pa.float64())
    elif pa.types.is_date(kind) or pa.types.is_timestamp(kind):
        column = column.cast(pa.timestamp("us", getattr(kind, "tz", None)), safe=False)
    elif pa.types.is_time(kind):
        column = pa.chunked_array([[None if v is None else v.isoformat() for v in column.to_pylist()]], pa.string())
    elif pa.types.is_nested(kind) or pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        column = pa.chunked_array([[None if v is None else str(v) for v in column.to_pylist()]], pa.string())
    series = column.to_pandas()
    if pa.types.is_boolean(kind):
        return series.astype("boolean")
    return series.astype("str").where(series.notna()) if series.dtype == object else series

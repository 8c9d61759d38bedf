"""Schemas of the checked tables, made from the column vocabulary;
what the reader hands on is validated by them."""

from __future__ import annotations

from functools import cache

import pandas as pd

from lagwise.caseload.convert import DTYPES
from lagwise.core.columns import Column, tables
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study


def schema(table: str, study: Study):
    """The pandera schema of a checked table: columns in order, types, legal ranges and words;
    nothing else allowed."""
    return _schema(table, tables(study)[table])


def validate(table: str, frame: pd.DataFrame, study: Study) -> None:
    """Raise CaseloadError when a checked table does not satisfy its schema."""
    from pandera.errors import SchemaError, SchemaErrors

    try:
        schema(table, study).validate(frame)
    except (SchemaError, SchemaErrors) as error:
        raise CaseloadError(
            f"the checked table does not satisfy its schema ({type(error).__name__})",
            where=table,
            mend="This is a fault of lagwise, not of the file; please report it.",
        ) from error


@cache
def _schema(table: str, columns: tuple[Column, ...]):
    import pandera.pandas as pa

    def checks(column: Column) -> list:
        out = []
        if column.low is not None:
            out.append(pa.Check.ge(column.low))
        if column.high is not None:
            out.append(pa.Check.le(column.high))
        if column.choices:
            out.append(pa.Check.isin(column.choices))
        return out

    parts = {c.name: pa.Column(DTYPES[c.kind], checks=checks(c), nullable=not c.required) for c in columns}
    parts["row"] = pa.Column("int64", checks=pa.Check.ge(0), unique=False)
    return pa.DataFrameSchema(parts, strict=True, ordered=True, name=table)

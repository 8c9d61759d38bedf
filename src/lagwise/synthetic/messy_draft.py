"""An export under construction: rows of text, and the faults put into them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

Row = dict[str, str]


@dataclass
class Draft:
    """A table of an export, cells as text under the contract's names, with every planted fault.

    `first` is the row number of the first row below the header, as a person sees it in the file.
    """

    folder: str
    table: str
    columns: tuple[str, ...]
    rows: list[Row]
    first: int = 2
    planted: list[tuple[Row | None, dict[str, Any]]] = field(default_factory=list)

    def of(self, person: str) -> list[Row]:
        """The person's rows in order."""
        return [row for row in self.rows if row["person"] == person]

    def write(self, row: Row, column: str, text: str, code: str, what: str) -> None:
        """Put `text` into a cell, for which `code` is expected."""
        row[column] = text
        self.note(row, column, code, what)

    def copy(self, row: Row, *, at_end: bool = False, **changed: str) -> Row:
        """A copy of a row with some cells changed, placed behind it or at the end."""
        new = {**row, **changed}
        where = len(self.rows) if at_end else 1 + next(i for i, r in enumerate(self.rows) if r is row)
        self.rows.insert(where, new)
        return new

    def drop(self, unwanted: Iterable[Row]) -> None:
        """Take rows out."""
        gone = {id(row) for row in unwanted}
        self.rows = [row for row in self.rows if id(row) not in gone]

    def note(self, row: Row | None, column: str, code: str, what: str, **more: Any) -> None:
        """Expect `code` at a row and column; without a row at `at_row` of the file, or at the table as a whole.

        `count` is how often, where that is not once per note; `names` lists what the place must name; `table`
        replaces the table's name where the reading names none.
        """
        self.planted.append((row, {"column": column, "code": code, "what": what, **more}))

    def faults(self) -> list[dict[str, Any]]:
        """Every planted fault with folder, table, row number in the file, column, expected code and what it is."""
        number = {id(row): self.first + i for i, row in enumerate(self.rows)}
        out = []
        for row, told in self.planted:
            more = dict(told)
            at = more.pop("at_row", None) if row is None else number[id(row)]
            out.append({"folder": self.folder, "table": self.table, "row": at, **more})
        return out

    def text(self, sep: str = ",", names: dict[str, str] | None = None) -> str:
        """The table as separated text under the headers `names` (ours -> theirs)."""
        names = names or {}
        lines = [sep.join(names.get(name, name) for name in self.columns)]
        lines += [sep.join(row.get(name, "") for name in (*self.columns, *_beyond(row))) for row in self.rows]
        return "\n".join(lines) + "\n"


BEYOND = "beyond the header"


def _beyond(row: Row) -> tuple[str, ...]:
    return (BEYOND,) if BEYOND in row else ()

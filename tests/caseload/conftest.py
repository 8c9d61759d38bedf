from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

CHECKINS = "person,date,pain\na1,2024-01-07,3\na1,2024-01-14,4\na2,2024-01-07,0\n"


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Path]:
    """Write a caseload folder: study.toml below a title, tables as text, bytes, or lists of rows for a workbook."""

    def make(study: str = "", **tables) -> Path:
        root = tmp_path / "caseload"
        root.mkdir(exist_ok=True)
        (root / "study.toml").write_text(f'title = "Elbow pain in lifters"\n{study}\n', encoding="utf-8")
        if not tables:
            tables = {"checkins": CHECKINS}
        for name, content in tables.items():
            path = root / (name if "." in name else f"{name}.csv")
            if isinstance(content, bytes):
                path.write_bytes(content)
            elif isinstance(content, str):
                path.write_text(content, encoding="utf-8", newline="")
            else:
                workbook(path.with_suffix(".xlsx"), {name: content})
        return root

    return make


def workbook(path: Path, sheets: dict[str, list[list]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


@pytest.fixture
def write_workbook() -> Callable[[Path, dict], Path]:
    return workbook

"""The picture of the README's section on spreadsheets: the top of a sheet, and the lines of its draft below it.

`python docs/spreadsheet_picture.py` makes docs/figures/spreadsheet.png from the first messy practice.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import matplotlib.pyplot as plt
from openpyxl import load_workbook

import lagwise as lw
from lagwise.caseload.study_text import toml_value

DOCS = Path(__file__).resolve().parent
BOOK = DOCS.parent / "data_synthetic" / "messy" / "practices" / "whiteboard" / "Shoulder log.xlsx"
INK, MUTED, SHADE, LINE = "#1f2933", "#52606d", "#e4e7eb", "#9aa5b1"
WIDTHS = (0.05, 0.17, 0.17, 0.2, 0.17, 0.12, 0.12)
KEPT = ("header_row", "fill_down", "person", "date", "sets", "load_kg", "effort")


def cells(rows: int = 9, columns: int = 6) -> list[list[str]]:
    """The first cells of the sheet of sessions, as they are shown."""
    sheet = load_workbook(BOOK)["Log"]
    values = [[sheet.cell(r + 1, c + 1).value for c in range(columns)] for r in range(rows)]
    return [["" if v is None else str(v).removesuffix(" 00:00:00") for v in row] for row in values]


def lines() -> list[tuple[str, str]]:
    """Lines of the draft with their comments."""
    with tempfile.TemporaryDirectory() as scratch:
        draft = lw.draft(BOOK, Path(scratch) / "c")
    found = (*draft.section("tables.sessions"), *draft.section("tables.sessions.columns"))
    told = [
        (f"{g.key} = {toml_value(g.value)}", f"# {g.certainty}: {g.why}") for g in found if g.key in KEPT
    ]
    phone = next(one for one in draft.left_out if one.identifying == "a phone number")
    return [*told, ("", f"# not used: '{phone.header}', because {phone.why}")]


def main() -> None:
    """Draw and save the picture."""
    figure, (above, below) = plt.subplots(2, 1, figsize=(9, 5.6), height_ratios=(9, 8), dpi=150)
    for axis in (above, below):
        axis.axis("off")
    grid = cells()
    named = [["", *"ABCDEF"], *([str(n), *row] for n, row in enumerate(grid, 1))]
    table = above.table(named, cellLoc="left", bbox=(0, 0, 1, 1), colWidths=WIDTHS)
    table.auto_set_font_size(False)
    for (row, column), cell in table.get_celld().items():
        cell.set(edgecolor=LINE, linewidth=0.5, facecolor=SHADE if not row or not column else "white")
        cell.get_text().set(fontsize=8.5, color=MUTED if not row or not column else INK, clip_on=False)
        if row in (1, 2) and column:
            cell.visible_edges = "B" if column < 6 else "BR"
    told = lines()
    for i, (line, why) in enumerate(told):
        y = 1 - (i + 0.9) / (len(told) + 0.4)
        below.text(0, y, line, family="monospace", fontsize=8.5, color=INK)
        below.text(0.36 if line else 0, y, why, family="monospace", fontsize=7.5, color=MUTED)
    above.set_title("A practice's sheet, and lines of the draft made of it", loc="left", fontsize=10, color=INK)
    figure.tight_layout()
    figure.savefig(DOCS / "figures" / "spreadsheet.png")


if __name__ == "__main__":
    main()

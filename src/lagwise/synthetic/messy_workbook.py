"""A minimal Excel workbook whose bytes are the same on every machine: own XML, no compression, one fixed time."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from xml.sax.saxutils import escape

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_DOC = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_DAY_0 = date(1899, 12, 30)


@dataclass(frozen=True)
class Day:
    """A cell that Excel stores and shows as a date, with the hour of the day as a fraction."""

    day: date
    fraction: float = 0.0


@dataclass(frozen=True)
class Formula:
    """A cell with a formula whose result is not stored."""

    text: str


Cell = str | int | float | Day | Formula | None


@dataclass(frozen=True)
class Sheet:
    """Rows of cells, and merged ranges such as A4:A6."""

    rows: Sequence[Sequence[Cell]]
    merged: Sequence[str] = ()


def workbook(sheets: Mapping[str, Sheet]) -> bytes:
    """The bytes of an .xlsx file with these worksheets."""
    parts = {
        "[Content_Types].xml": _types(len(sheets)),
        "_rels/.rels": _relations([("officeDocument", "xl/workbook.xml")]),
        "xl/workbook.xml": _book(list(sheets)),
        "xl/_rels/workbook.xml.rels": _relations(
            [*(("worksheet", f"worksheets/sheet{i + 1}.xml") for i in range(len(sheets))), ("styles", "styles.xml")]
        ),
        "xl/styles.xml": _STYLES,
    }
    parts |= {f"xl/worksheets/sheet{i + 1}.xml": _sheet(sheet) for i, sheet in enumerate(sheets.values())}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name, xml in parts.items():
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.create_system = 3
            info.external_attr = 0o644 << 16
            archive.writestr(info, _HEAD + xml)
    return out.getvalue()


_STYLES = (
    f'<styleSheet xmlns="{_MAIN}"><fonts count="1"><font/></fonts><fills count="1"><fill><patternFill/></fill></fills>'
    '<borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs>'
    '<cellXfs count="3"><xf/><xf numFmtId="14" applyNumberFormat="1"/><xf numFmtId="22" applyNumberFormat="1"/></cellXfs>'
    "</styleSheet>"
)


def _types(n: int) -> str:
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml."
    sheets = "".join(
        f'<Override PartName="/xl/worksheets/sheet{i + 1}.xml" ContentType="{kind}worksheet+xml"/>' for i in range(n)
    )
    return (
        f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}sheet.main+xml"/>{sheets}'
        f'<Override PartName="/xl/styles.xml" ContentType="{kind}styles+xml"/></Types>'
    )


def _relations(targets: Sequence[tuple[str, str]]) -> str:
    inner = "".join(
        f'<Relationship Id="rId{i + 1}" Type="{_DOC}/{kind}" Target="{path}"/>'
        for i, (kind, path) in enumerate(targets)
    )
    return f'<Relationships xmlns="{_PACKAGE}/relationships">{inner}</Relationships>'


def _book(names: Sequence[str]) -> str:
    inner = "".join(
        f'<sheet name="{escape(name)}" sheetId="{i + 1}" r:id="rId{i + 1}"/>' for i, name in enumerate(names)
    )
    return f'<workbook xmlns="{_MAIN}" xmlns:r="{_DOC}"><sheets>{inner}</sheets></workbook>'


def _sheet(sheet: Sheet) -> str:
    rows = "".join(
        f'<row r="{r}">{"".join(_cell(f"{_letter(c)}{r}", cell) for c, cell in enumerate(row))}</row>'
        for r, row in enumerate(sheet.rows, start=1)
    )
    merged = "".join(f'<mergeCell ref="{where}"/>' for where in sheet.merged)
    merged = f'<mergeCells count="{len(sheet.merged)}">{merged}</mergeCells>' if merged else ""
    return f'<worksheet xmlns="{_MAIN}"><sheetData>{rows}</sheetData>{merged}</worksheet>'


def _cell(at: str, cell: Cell) -> str:
    match cell:
        case None | "":
            return ""
        case Formula():
            return f'<c r="{at}"><f>{escape(cell.text)}</f></c>'
        case Day():
            style, serial = (2 if cell.fraction else 1), (cell.day - _DAY_0).days + cell.fraction
            return f'<c r="{at}" s="{style}"><v>{serial:.10g}</v></c>'
        case str():
            return f'<c r="{at}" t="inlineStr"><is><t>{escape(cell)}</t></is></c>'
        case _:
            return f'<c r="{at}"><v>{cell:.10g}</v></c>'


def _letter(column: int) -> str:
    return chr(ord("A") + column)

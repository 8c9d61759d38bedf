"""The content tree as a Word document, through pandoc's own document model (so no text is ever read as
markup).
"""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lagwise.core.aside import ending_with_us
from lagwise.core.errors import WriteUpError
from lagwise.document.html import numbers
from lagwise.document.tree import Block, Box, Bullets, Document, Figure, Grid, Heading, Inline, Para
from lagwise.output import temporary
from lagwise.writeup.docx_styles import LINE_END, head_and_foot, linked, restyle
from lagwise.writeup.raster import view
from lagwise.writeup.widths import NARROWEST, PHONE, TALLEST, widths

WIDEST = 6.5
"""Inches between the margins."""

Node = dict[str, Any]
_PLAIN: list[Any] = ["", [], []]
_API = [1, 23, 1]
EPOCH = (1980, 1, 1, 0, 0, 0)
"""The date of every file in the archive, so that the same document is the same bytes."""
_UNFIT = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML cannot hold."""


def render_docx(document: Document, figures: Mapping[str, Mapping[str, bytes]], *, made_on: str) -> bytes:
    """A .docx with real heading, caption, table and list styles; the same bytes for the same document.

    Parameters
    ----------
    document : Document
    figures : mapping of figure name to its files; the PNG is used
    made_on : ISO date kept as the document's date

    Raises
    ------
    WriteUpError
        When pandoc cannot be run.
    """
    with temporary() as folder:
        across = {name: _across(*view(drawn["svg"])) for name, drawn in figures.items()}
        tree = json.dumps(_tree(document, across))
        for name, drawn in figures.items():
            (folder / f"{name}.png").write_bytes(drawn["png"])
        raw = _pandoc(tree, folder)
    return _dated(raw, document, made_on)


def _across(wide: float, high: float) -> float:
    """Inches across at which a figure of so many points stands."""
    if wide / 72 <= WIDEST:
        return PHONE * wide / 72
    return min(WIDEST, max(NARROWEST * WIDEST, TALLEST * wide / high))


def _pandoc(tree: str, folder: Path) -> bytes:
    import pypandoc

    command = [pypandoc.get_pandoc_path(), "--from=json", "--to=docx", "--output=out.docx"]
    environment = {**os.environ, "SOURCE_DATE_EPOCH": "0"}
    try:
        subprocess.run(
            ending_with_us(command),
            input=tree.encode(),
            cwd=folder,
            env=environment,
            check=True,
            capture_output=True,
        )
    except (OSError, subprocess.CalledProcessError) as error:
        said = getattr(error, "stderr", b"") or str(error).encode()
        raise WriteUpError(
            "pandoc could not make the Word document",
            where="case-series.docx",
            mend=said.decode(errors="replace").strip() or "Install pypandoc_binary again.",
        ) from error
    return (folder / "out.docx").read_bytes()


def _dated(raw: bytes, document: Document, made_on: str) -> bytes:
    """The archive with our styles and without the time it was made at."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = linked(name, restyle(name, old.read(name), made_on=made_on, paper=document.paper))
            new.writestr(zipfile.ZipInfo(name, EPOCH), content, zipfile.ZIP_DEFLATED)
        for name, content in head_and_foot(_title(document), document.mark, LINE_END[document.paper]).items():
            new.writestr(zipfile.ZipInfo(name, EPOCH), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _tree(document: Document, across: Mapping[str, float]) -> Node:
    numbered = numbers(document)
    blocks: list[Node] = []
    for block in document.blocks:
        if not (isinstance(block, Heading) and block.level == 1):
            blocks += _block(block, numbered, across)
    meta = {
        "title": {"t": "MetaInlines", "c": _text(_title(document))},
        "lang": {"t": "MetaString", "c": document.language},
    }
    return {"pandoc-api-version": _API, "meta": meta, "blocks": blocks}


def _title(document: Document) -> str:
    return next((b.text for b in document.blocks if isinstance(b, Heading) and b.level == 1), document.title)


def _text(text: str) -> list[Node]:
    out: list[Node] = []
    for i, word in enumerate(_UNFIT.sub("", text).split(" ")):
        if i:
            out.append({"t": "Space"})
        if word:
            out.append({"t": "Str", "c": word})
    return out


def _spans(run: Inline) -> list[Node]:
    out: list[Node] = []
    for span in run:
        inner = _text(span.text)
        match span.kind:
            case "strong":
                out.append({"t": "Strong", "c": inner})
            case "em":
                out.append({"t": "Emph", "c": inner})
            case "code":
                out.append({"t": "Code", "c": [_PLAIN, _UNFIT.sub("", span.text)]})
            case "link":
                out.append({"t": "Link", "c": [_PLAIN, inner, [f"#{span.target}", ""]]})
            case "blank":
                out.append(_styled_span(_text(f"[{span.text}]"), "To Fill In"))
            case _:
                out += inner
    return out


def _styled_span(inner: list[Node], style: str) -> Node:
    return {"t": "Span", "c": [["", [], [["custom-style", style]]], inner]}


def _styled(blocks: list[Node], style: str) -> Node:
    return {"t": "Div", "c": [["", [], [["custom-style", style]]], blocks]}


def _block(block: Block, numbered: Mapping[str, int], across: Mapping[str, float]) -> list[Node]:
    match block:
        case Heading():
            return [{"t": "Header", "c": [block.level - 1, [block.id, [], []], _text(block.text)]}]
        case Para():
            body = {"t": "Para", "c": _spans(block.spans)}
            style = {"lead": "Lead", "finding": "Finding", "note": "Note"}.get(block.role)
            return [_styled([body], style)] if style else [body]
        case Bullets():
            return [{"t": "BulletList", "c": [[{"t": "Para", "c": _spans(item)}] for item in block.items]}]
        case Box():
            inner: list[Node] = [_styled([{"t": "Para", "c": _text(block.title)}], "Box Title")]
            for one in block.blocks:
                if isinstance(one, Bullets):
                    inner += [
                        _styled([{"t": "Para", "c": [*_text("\u2022 "), *_spans(i)]}], "Box")
                        for i in one.items
                    ]
                elif isinstance(one, Para):
                    inner.append(_styled([{"t": "Para", "c": _spans(one.spans)}], "Box"))
                else:
                    inner += _block(one, numbered, across)
            return inner
        case Figure():
            return [_figure(block, numbered, across[block.name])]
        case Grid():
            note = [_styled([{"t": "Para", "c": _text(block.note)}], "Note")] if block.note else []
            return [_table(block, numbered), *note]


def _figure(block: Figure, numbered: Mapping[str, int], across: float) -> Node:
    """A figure with its caption, so many inches across."""
    caption = [{"t": "Para", "c": _text(f"Figure {numbered[block.name]}. {block.caption}")}]
    image = {
        "t": "Image",
        "c": [["", [], [["width", f"{across:.3g}in"]]], _text(block.alt), [f"{block.name}.png", ""]],
    }
    return {"t": "Figure", "c": [[block.name, [], []], [None, caption], [{"t": "Plain", "c": [image]}]]}


def _table(block: Grid, numbered: Mapping[str, int]) -> Node:
    alignments = [{"t": "AlignRight" if i in block.numeric else "AlignLeft"} for i in range(len(block.head))]

    def cell(inner: list[Node], at: int) -> list[Any]:
        return [_PLAIN, alignments[at], 1, 1, [{"t": "Plain", "c": inner}]]

    head = [[_PLAIN, [cell(_text(h), i) for i, h in enumerate(block.head)]]]
    rows = [[_PLAIN, [cell(_spans(c), i) for i, c in enumerate(row)]] for row in block.headed]
    caption = [{"t": "Para", "c": _text(f"Table {numbered[block.id]}. {block.caption}")}]
    columns = [[a, {"t": "ColWidth", "c": w}] for a, w in zip(alignments, widths(block), strict=True)]
    return {
        "t": "Table",
        "c": [
            [block.id, [], []],
            [None, caption],
            columns,
            [_PLAIN, head],
            [[_PLAIN, 1, [], rows]],
            [_PLAIN, []],
        ],
    }

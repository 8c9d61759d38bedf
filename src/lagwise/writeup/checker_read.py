"""Drafts in Markdown, HTML and Word as blocks of plain text that know the line they start at."""

from __future__ import annotations

import re
import zipfile
from html.parser import HTMLParser
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

from lagwise.core.errors import WriteUpError

_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_BLOCKS = re.compile("p|li|t[dhr]|(?:fig)?caption|h[1-6]|d[td]|blockquote|div")
_SILENT = {"script", "style", "code", "pre", "svg", "template", "head"}
_LINE = "data-line"
"""The attribute in which HTML made from Markdown keeps the line of the Markdown."""


class Block(NamedTuple):
    """A paragraph, heading, item, cell or alternative text.

    `line` is the one at which it starts, counted from 1 (in Word: its paragraph), `level` that of a
    heading (1 to 7) or 0; the text keeps the line breaks of the file.
    """

    line: int
    level: int
    text: str


def read_draft(path: str | Path) -> list[Block]:
    """The blocks of a draft.

    Raises
    ------
    WriteUpError
        When the file cannot be read or is of another kind.
    """
    file = Path(path)
    kind = file.suffix.lower()
    readers = {".md": from_markdown, ".markdown": from_markdown, ".txt": from_markdown} | dict.fromkeys(
        (".html", ".htm"), from_html
    )
    try:
        if kind == ".docx":
            return from_docx(file)
        if kind in readers:
            return readers[kind](file.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, KeyError, zipfile.BadZipFile, ElementTree.ParseError) as error:
        raise WriteUpError(
            f"the draft cannot be read ({error})",
            where=str(path),
            mend="Save it again as UTF-8 text or .docx.",
        ) from error
    raise WriteUpError(
        "not a kind of draft that can be checked", where=str(path), mend="Use .md, .txt, .html or .docx."
    )


def from_markdown(text: str) -> list[Block]:
    """The blocks of a Markdown text; code is left out, every table cell stands alone."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark").enable("table")
    tokens = reader.parse(text)
    for opening, token in zip([None, *tokens], tokens, strict=False):
        if token.map and token.type == "html_block":
            token.content = f'<i {_LINE}="{token.map[0] + 1}"></i>{token.content}'
        elif token.map and token.type == "inline" and opening is not None:
            opening.attrSet(_LINE, str(token.map[0] + 1))
        elif token.map and token.nesting == 1:
            token.attrSet(_LINE, str(token.map[0] + 1))
    return from_html(reader.renderer.render(tokens, reader.options, {}))


def from_html(text: str) -> list[Block]:
    """The blocks of a page; without scripts, styles, code and drawings, with alternative texts of images."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    reader.end()
    return reader.blocks


def from_docx(path: Path) -> list[Block]:
    """The paragraphs of a Word document, headings by their style."""
    with zipfile.ZipFile(path) as archive:
        root = ElementTree.fromstring(archive.read("word/document.xml"))
    blocks = []
    for number, paragraph in enumerate(root.iter(f"{_W}p"), 1):
        style = paragraph.find(f"{_W}pPr/{_W}pStyle")
        name = style.get(f"{_W}val", "") if style is not None else ""
        heading = re.fullmatch(r"Heading(\d)", name)
        level = int(heading.group(1)) + 1 if heading else int(name == "Title")
        blocks.append(Block(number, level, "".join(node.text or "" for node in paragraph.iter(f"{_W}t"))))
    return blocks


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[Block] = []
        self.silent = self.level = self.above = 0
        self.line = 1
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.silent += tag in _SILENT
        if _BLOCKS.fullmatch(tag):
            self.end()
            self.level = int(tag[1]) if re.fullmatch(r"h[1-6]", tag) else 0
        if line := named.get(_LINE):
            self.above = int(line) - self.getpos()[0]
        if tag == "br":
            self.text += " "
        if tag == "img" and (alt := named.get("alt")):
            self.end()
            self.handle_data(alt)
            self.end()

    def handle_endtag(self, tag: str) -> None:
        if tag in _SILENT:
            self.silent = max(0, self.silent - 1)
        if _BLOCKS.fullmatch(tag):
            self.end()

    def handle_data(self, data: str) -> None:
        if self.silent:
            return
        line = self.getpos()[0] + self.above
        if not self.text.strip():
            self.line, self.text = line, ""
        self.text += "\n" * (line - self.line - self.text.count("\n")) + data

    def end(self) -> None:
        """Close the block that is being read."""
        if self.text.strip():
            self.blocks.append(Block(self.line, self.level, self.text))
        self.text, self.level = "", 0

"""Drafts in Markdown, HTML and Word as plain text: paragraphs set apart by blank lines, headings marked with
'#'.
"""

from __future__ import annotations

import re
import zipfile
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

from lagwise.core.errors import WriteUpError

_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_BLOCKS = {
    "p",
    "li",
    "td",
    "th",
    "caption",
    "figcaption",
    "h1",
    "h2",
    "h3",
    "h4",
    "h5",
    "h6",
    "dt",
    "dd",
    "blockquote",
    "div",
    "tr",
}
_SILENT = {"script", "style", "code", "pre", "svg", "template", "head"}


def read_text(path: str | Path) -> str:
    """The text of a draft.

    Raises
    ------
    WriteUpError
        When the file cannot be read or is of another kind.
    """
    file = Path(path)
    readers = {
        ".md": from_markdown,
        ".markdown": from_markdown,
        ".txt": from_markdown,
        ".html": from_html,
        ".htm": from_html,
    }
    try:
        if file.suffix.lower() == ".docx":
            return from_docx(file)
        if file.suffix.lower() in readers:
            return readers[file.suffix.lower()](file.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, KeyError, zipfile.BadZipFile, ElementTree.ParseError) as error:
        raise WriteUpError(
            f"the draft cannot be read ({error})",
            where=str(path),
            mend="Save it again as UTF-8 text or .docx.",
        ) from error
    raise WriteUpError(
        "not a kind of draft that can be checked", where=str(path), mend="Use .md, .txt, .html or .docx."
    )


def from_markdown(text: str) -> str:
    """Markdown as plain text; code is left out, every table cell stands alone."""
    from markdown_it import MarkdownIt

    return from_html(MarkdownIt("commonmark").enable("table").render(text))


def from_html(text: str) -> str:
    """HTML as plain text; without scripts, styles, code and drawings, with alternative texts of images."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    return reader.text()


def from_docx(path: Path) -> str:
    """A Word document as plain text, headings by their style."""
    with zipfile.ZipFile(path) as archive:
        root = ElementTree.fromstring(archive.read("word/document.xml"))
    parts = []
    for paragraph in root.iter(f"{_W}p"):
        said = "".join(node.text or "" for node in paragraph.iter(f"{_W}t"))
        style = paragraph.find(f"{_W}pPr/{_W}pStyle")
        name = style.get(f"{_W}val", "") if style is not None else ""
        level = re.fullmatch(r"Heading(\d)", name)
        if said.strip():
            parts.append(
                f"{'#' * (int(level.group(1)) + 1)} {said}"
                if level
                else f"# {said}"
                if name == "Title"
                else said
            )
    return "\n\n".join(parts)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[str] = []
        self.current = ""
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _SILENT:
            self.silent += 1
        if tag in _BLOCKS:
            self._end()
            if re.fullmatch(r"h[1-6]", tag):
                self.current = "#" * int(tag[1]) + " "
        if tag == "img":
            alt = dict(attrs).get("alt")
            if alt:
                self._end()
                self.blocks.append(alt)

    def handle_endtag(self, tag: str) -> None:
        if tag in _SILENT:
            self.silent = max(0, self.silent - 1)
        if tag in _BLOCKS:
            self._end()

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.current += data

    def text(self) -> str:
        """Everything read so far."""
        self._end()
        return "\n\n".join(self.blocks)

    def _end(self) -> None:
        flat = " ".join(self.current.split())
        if flat.strip("# "):
            self.blocks.append(flat)
        self.current = ""

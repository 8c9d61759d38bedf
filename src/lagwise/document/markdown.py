"""The content tree as Markdown."""

from __future__ import annotations

import re
from dataclasses import dataclass

from lagwise.document.html import numbers
from lagwise.document.tree import Block, Box, Bullets, Document, Figure, Grid, Heading, Inline, Para

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~$])")
_LINE_START = re.compile(r"^(\s*(?:\d+(?=[.)])|(?=[-+=])))([-+=.)])(?=\s|$)")


@dataclass(frozen=True)
class Answer:
    """Text that shows itself where it is the last line of a notebook cell."""

    markdown: str

    def _repr_markdown_(self) -> str:
        return self.markdown

    def __repr__(self) -> str:
        return self.markdown


def render_md(document: Document) -> str:
    """Markdown text of a document; figures are linked from figures/."""
    numbered = numbers(document)
    parts = [_block(b, numbered) for b in document.blocks]
    return "\n\n".join(parts) + "\n"


def escape(text: str) -> str:
    """Text with every character that Markdown or HTML would read as markup escaped, at the start of a line
    also what begins a list or a rule."""
    return _LINE_START.sub(r"\1\\\2", _inside(text))


def _inside(text: str) -> str:
    """Text that stands within a line."""
    flat = " ".join(text.split("\n"))
    return _SPECIAL.sub(r"\\\1", flat).replace("&", "&amp;")


def spans(run: Inline) -> str:
    """A run of spans as Markdown."""
    return _LINE_START.sub(r"\1\\\2", _within(run))


def _within(run: Inline) -> str:
    out = []
    for span in run:
        text = _inside(span.text)
        match span.kind:
            case "strong":
                out.append(_wrapped(text, "**"))
            case "em":
                out.append(_wrapped(text, "*"))
            case "code":
                out.append(f"`{span.text.replace('`', '')}`")
            case "link":
                out.append(f"[{text}](#{span.target})")
            case "blank":
                out.append(f"**\\[{text}\\]**")
            case _:
                out.append(text)
    return "".join(out)


def _wrapped(text: str, mark: str) -> str:
    core = text.strip()
    return f"{mark}{core}{mark}{' ' if text.endswith(' ') else ''}" if core else text


def _block(block: Block, numbered: dict[str, int]) -> str:
    match block:
        case Heading():
            return f"{'#' * block.level} {_inside(block.text)}"
        case Para():
            return spans(block.spans)
        case Bullets():
            return "\n".join(f"- {spans(item)}" for item in block.items)
        case Figure():
            caption = f"**Figure {numbered[block.name]}.** {_inside(block.caption)}"
            return f"![{_inside(block.alt)}](figures/{block.name}.png)\n\n{caption}"
        case Box():
            inner = "\n\n".join([f"**{_inside(block.title)}**", *(_block(b, numbered) for b in block.blocks)])
            return "\n".join(f"> {line}".rstrip() for line in inner.split("\n"))
        case Grid():
            return _grid(block, numbered)


def _grid(block: Grid, numbered: dict[str, int]) -> str:
    caption = f"**Table {numbered[block.id]}.** {_inside(block.caption)}"
    head = "| " + " | ".join(map(_inside, block.head)) + " |"
    rule = "|" + "|".join(" ---: " if i in block.numeric else " --- " for i in range(len(block.head))) + "|"
    rows = ["| " + " | ".join(map(_within, row)) + " |" for row in block.headed]
    note = [f"\n{escape(block.note)}"] if block.note else []
    return "\n".join([caption, "", head, rule, *rows, *note])

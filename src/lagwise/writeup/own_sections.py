"""An author's own text in the place of a section: Markdown files with Jinja2, given the findings to quote
from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lagwise.core.errors import WriteUpError
from lagwise.document.markdown import escape
from lagwise.document.settle import settled
from lagwise.document.tree import (
    Block,
    Box,
    Bullets,
    Document,
    Figure,
    Grid,
    Heading,
    Inline,
    Para,
    Span,
    walk,
)
from lagwise.findings import Findings
from lagwise.say.report.document import IDS, own_words
from lagwise.writeup.own_markdown import blocks_of

if TYPE_CHECKING:
    from jinja2 import TemplateSyntaxError

NAMES = ("title", "heading", "sentences", "findings", "original", "paragraphs", "tables", "figures")
"""What a template may use."""
_KINDS: Mapping[str, tuple[type, ...]] = {
    "original": (Para, Bullets, Grid, Figure, Heading),
    "paragraphs": (Para, Bullets),
    "tables": (Grid,),
    "figures": (Figure,),
}


class Slot(str):
    """A line of the rendered text in whose place blocks of the section go; it is not escaped."""


def read_own_sections(folder: str | Path) -> dict[str, str]:
    """The templates of a folder, text by section id; every file SECTION.md stands for one section.

    Raises
    ------
    WriteUpError
        When the folder is none, holds no such file, or one cannot be read as UTF-8 text.
    """
    path = Path(folder)
    found = sorted(path.glob("*.md")) if path.is_dir() else []
    if not found:
        raise WriteUpError(
            "there is no template",
            where=str(folder),
            mend="Name a folder that holds files such as methods.md.",
        )
    try:
        return {file.stem: file.read_text(encoding="utf-8-sig") for file in found}
    except (OSError, UnicodeDecodeError) as error:
        raise WriteUpError(
            f"a template cannot be read ({error})", where=str(folder), mend="Save it as UTF-8 text."
        ) from None


def check_own_sections(folder: str | Path) -> None:
    """Say before the long work what of a folder of templates stands for no section or cannot be parsed.

    Raises
    ------
    WriteUpError
    """
    from jinja2 import TemplateSyntaxError
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    own = read_own_sections(folder)
    _known(own, IDS)
    for name, text in own.items():
        try:
            ImmutableSandboxedEnvironment().parse(text)
        except TemplateSyntaxError as error:
            raise _unreadable(name, error) from None


def with_own_sections(document: Document, own: Mapping[str, str], findings: Findings) -> Document:
    """The document with the body of each named section replaced by the author's text.

    Boxes stay whatever the text says, and a line under the title names the sections that are the author's.
    The findings, and so every number lagwise worked out, stay as they are.

    Parameters
    ----------
    document : Document
        As made from `findings`.
    own : mapping
        Section id -> Markdown with Jinja2 in which `NAMES` are known; a first line `# ...` renames the
        section.
    findings : Findings

    Raises
    ------
    WriteUpError
        For an unknown section, an unknown name or a template that Jinja2 or this module cannot read; with its
        line.
    """
    parts = _parts(document.blocks)
    _known(own, [name for name in parts if name])
    if not own:
        return document
    facts = findings.model_dump(mode="json")
    for name, text in own.items():
        parts[name] = _replaced(name, text, parts[name], document.title, facts)
    told = [str(getattr(parts[name][0], "text", name)) for name in parts if name in own]
    front = [*parts.pop(""), own_words(told)]
    blocks = [*front, *(block for part in parts.values() for block in part)]
    return settled(replace(document, blocks=tuple(_unlinked(blocks))))


def _unlinked(blocks: list[Block]) -> list[Block]:
    """Links whose aim left with a replaced section become plain text."""
    there = {
        b.name if isinstance(b, Figure) else b.id
        for b in walk(blocks)
        if isinstance(b, Figure | Grid | Heading | Box)
    }

    def mended(run: Inline) -> Inline:
        return tuple(Span(s.text) if s.kind == "link" and s.target not in there else s for s in run)

    def kept(block: Any) -> Any:
        match block:
            case Para():
                return replace(block, spans=mended(block.spans))
            case Bullets():
                return replace(block, items=tuple(map(mended, block.items)))
            case Grid():
                return replace(block, rows=tuple(tuple(map(mended, row)) for row in block.rows))
            case Box():
                return replace(block, blocks=tuple(map(kept, block.blocks)))
        return block

    return list(map(kept, blocks))


def _parts(blocks: tuple[Block, ...]) -> dict[str, list[Block]]:
    """The blocks of each section by its id, heading first; under '' what stands before the first."""
    parts: dict[str, list[Block]] = {"": []}
    name = ""
    for block in blocks:
        if isinstance(block, Heading) and block.level == 2:
            name = block.id
            parts[name] = []
        parts[name].append(block)
    return parts


def _replaced(name: str, text: str, was: list[Block], title: str, facts: dict[str, Any]) -> list[Block]:
    heading, body = was[0], [block for block in was[1:] if not isinstance(block, Box)]
    assert isinstance(heading, Heading)
    slots = {kind: Slot(f"\n\n%%{kind}%%\n\n") for kind in _KINDS}
    context = {
        "title": title,
        "heading": heading.text,
        "sentences": [_plain(block) for block in body if isinstance(block, Para)],
        "findings": facts,
        **slots,
    }
    made: list[Block] = []
    used: set[str] = set()
    for block in blocks_of(_render(name, text, context), name):
        slot = _slot(block)
        if slot:
            given = [b for b in body if isinstance(b, _KINDS[slot]) and _id(b) not in used]
            used |= {_id(b) for b in given} - {""}
            made += given
        else:
            made.append(block)
    if made and isinstance(made[0], Heading) and made[0].level == 1:
        kept = " (exploratory)" if heading.text.endswith(" (exploratory)") else ""
        heading = replace(heading, text=f"{made[0].text}{kept}")
        made = made[1:]
    # A section has one heading; deeper ones of the author stand below it.
    made = [replace(b, level=max(b.level, 3)) if isinstance(b, Heading) else b for b in made]
    return [heading, *made, *(block for block in was if isinstance(block, Box))]


def _render(name: str, text: str, context: dict[str, Any]) -> str:
    from jinja2 import StrictUndefined, TemplateError, TemplateSyntaxError, UndefinedError
    from jinja2.exceptions import SecurityError
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    def shown(value: Any) -> Any:
        return value if isinstance(value, Slot) else escape(str(value))

    env = ImmutableSandboxedEnvironment(undefined=StrictUndefined, finalize=shown, autoescape=False)
    try:
        return env.from_string(text).render(context)
    except TemplateSyntaxError as error:
        raise _unreadable(name, error) from None
    except SecurityError as error:
        raise WriteUpError(
            f"the template asks for what it may not have ({error})",
            where=f"{name}.md",
            mend="Use values only.",
        ) from None
    except UndefinedError as error:
        raise WriteUpError(
            f"the template uses a name that is not there ({error})",
            where=f"{name}.md",
            mend=f"There are {', '.join(NAMES)}; findings has {', '.join(context['findings'])}.",
        ) from None
    except (TemplateError, ArithmeticError, TypeError, ValueError, AttributeError, LookupError) as error:
        raise WriteUpError(
            f"the template cannot be worked out ({error})", where=f"{name}.md", mend="Mend the expression."
        ) from None


def _known(own: Mapping[str, str], sections: Sequence[str]) -> None:
    unknown = [name for name in own if name not in sections]
    if unknown:
        raise WriteUpError(
            f"there is no section {', '.join(unknown)}",
            where=f"{unknown[0]}.md",
            mend=f"The sections are {', '.join(sections)}.",
        )


def _unreadable(name: str, error: TemplateSyntaxError) -> WriteUpError:
    return WriteUpError(
        f"the template cannot be read ({error.message})",
        where=f"{name}.md, line {error.lineno}",
        mend="Mend the Jinja2 there.",
    )


def _slot(block: Block) -> str:
    text = _plain(block) if isinstance(block, Para) else ""
    return text.strip("%") if text.startswith("%%") and text.strip("%") in _KINDS else ""


def _plain(block: Para) -> str:
    return "".join(span.text for span in block.spans)


def _id(block: Block) -> str:
    """What must not stand in a document twice: figures, tables and headings by their id."""
    match block:
        case Figure():
            return f"figure {block.name}"
        case Grid() | Heading():
            return f"id {block.id}"
        case _:
            return ""

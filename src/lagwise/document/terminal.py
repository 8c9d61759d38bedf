"""The content tree on a terminal: plain text of the width there is, whatever the data holds."""

from __future__ import annotations

from collections.abc import Sequence
from operator import gt

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lagwise.document.settle import settled
from lagwise.document.tree import Block, Box, Bullets, Figure, Grid, Heading, Inline, Para, inline, strong

_STYLES = {"strong": "bold", "em": "dim"}


def print_blocks(*blocks: Block) -> None:
    """Print blocks on standard output, a blank line between what does not belong together.

    Headings and paragraphs of role 'lead' begin after a blank line, tables end with one, and the items of a
    list stand under what is before them. Lines to copy are never broken. A figure is told in words.
    """
    console, before = Console(highlight=False), None
    for block in settled(blocks):
        parted = isinstance(before, Grid) or (isinstance(before, Heading) and not isinstance(block, Heading))
        together = isinstance(block, Bullets) or (isinstance(before, Para) and isinstance(block, Para))
        leads = isinstance(block, Para) and block.role == "lead"
        if not parted and (leads or not together):
            console.print()
        before = block
        match block:
            case Heading():
                console.print(_text(inline(strong(block.text))))
            case Para(role="lines"):
                for span in block.spans:  # never broken, so that it can be copied
                    console.print(Text(f"    {span.text}"), soft_wrap=True)
            case Para():
                console.print(_text(block.spans))
            case Bullets():
                for item in block.items:
                    console.print(Padding(_text(item), (0, 0, 0, 2)))
            case Grid():
                console.print(_table(block, console.width))
            case Figure():
                console.print(block.alt, markup=False)
            case Box():
                print_blocks(Heading(2, block.title, ""), *block.blocks)


def table_text(grid: Grid, width: int) -> str:
    """A table as lines of plain text of at most so many characters; cells wrap."""
    console = Console(width=width, color_system=None, highlight=False, force_jupyter=False)
    shown = settled(grid)
    with console.capture() as said:
        console.print(_table(shown, width))
        if shown.note:
            console.print(shown.note, markup=False)
    lines = (line.rstrip() for line in said.get().splitlines())
    return "\n".join(line for line in lines if line)


def _text(run: Inline) -> Text:
    return Text.assemble(*((span.text, _STYLES.get(span.kind, "")) for span in run))


def _table(grid: Grid, width: int) -> Table:
    rows = [["".join(span.text for span in cell) for cell in row] for row in grid.rows]
    caption = Text(grid.caption) if grid.caption else None
    table = Table(title=caption, title_justify="left", title_style="", box=SIMPLE_HEAD, pad_edge=False)
    widths = _widths([grid.head, *rows], width - 3 * len(grid.head) + 1)
    for i, (name, wide) in enumerate(zip(grid.head, widths, strict=True)):
        justify = "right" if i in grid.numeric else "left"
        table.add_column(Text(name), justify=justify, overflow="fold", width=wide)  # type: ignore[arg-type]
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def _widths(rows: Sequence[Sequence[str]], room: int) -> list[int]:
    """A width for each column, in all at most `room`: as wide as its longest word, the rest to those that
    want more.

    Where even the longest words do not fit, the longest of them are broken.
    """
    columns = list(zip(*rows, strict=True))
    least = [max([cell_len(word) for cell in cells for word in cell.split()], default=1) for cells in columns]
    while sum(least) > room and max(least) > 1:
        least[least.index(max(least))] -= 1
    wanted = [max(map(cell_len, cells)) for cells in columns]
    while sum(least) < room and any(map(gt, wanted, least)):
        narrow = min((i for i in range(len(least)) if wanted[i] > least[i]), key=lambda i: least[i])
        least[narrow] += 1
    return least

"""Two ways to lay out one tree: a screen that opens with the answer and folds what is long, and paper with a
body and its appendix."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from lagwise.document.tree import Block, Box, Document, Heading, Inline, Para, link, para, strong


def sections(blocks: Sequence[Block]) -> list[tuple[str, list[Block]]]:
    """The blocks of each section with its id, heading of level 2 first; under '' what stands before them."""
    found: list[tuple[str, list[Block]]] = [("", [])]
    for block in blocks:
        if isinstance(block, Heading) and block.level == 2:
            found.append((block.id, []))
        found[-1][1].append(block)
    return found


def on_screen(document: Document, *, front: str, folded: Collection[str]) -> Document:
    """The section `front` as the first screen, those of `folded` as folds of their own."""
    blocks: list[Block] = []
    for name, own in sections(document.blocks):
        if name == front:
            blocks.append(Box(_heading(own).text, tuple(own), "front", f"{name}-screen"))
        elif name in folded:
            blocks.append(Box(_heading(own).text, tuple(own), "fold", f"{name}-fold"))
        else:
            blocks += own
    return replace(document, blocks=tuple(blocks))


def on_paper(document: Document, *, folded: Collection[str], appendix: str, see: str) -> Document:
    """What is not folded as the body; then, under the heading `appendix`, each fold and the sections of
    `folded`. Where a fold stood its place in the appendix is named after the words `see`.
    """
    body: list[Block] = []
    behind: list[Block] = []
    for name, own in sections(document.blocks):
        if name in folded:
            behind += [_sunk(block) for block in _flat(own, 0)]
            continue
        taken = [block for block in own if isinstance(block, Box) and _folds(block)]
        for at, fold in enumerate(taken):
            behind += [Heading(3, fold.title, fold.id or f"{name}-{at}"), *_flat(fold.blocks, 1)]
        for block in own:
            if not _folds(block):
                body += [] if _screens(block) else _opened(block)
            elif block is taken[-1]:
                body.append(Para(_seen(see, taken, name), "note"))
    if not behind:
        return replace(document, blocks=tuple(body), contents="")
    return replace(document, blocks=(*body, Heading(2, appendix, "appendix-pages"), *behind), contents="")


def _heading(own: Sequence[Block]) -> Heading:
    first = own[0]
    assert isinstance(first, Heading)
    return first


def _folds(block: Block) -> bool:
    return isinstance(block, Box) and block.kind == "fold"


def _opened(block: Block) -> list[Block]:
    """A door as a paragraph, other blocks as they are."""
    if not (isinstance(block, Box) and block.kind == "door"):
        return [block]
    first, *rest = [b for b in block.blocks if not _leads_on(b)]
    title = f"{block.title}." if block.title[-1:].isalnum() else block.title
    if not isinstance(first, Para):
        return [para(strong(title)), first, *rest]
    return [replace(first, spans=(strong(f"{title} "), *first.spans)), *rest]


def _screens(block: Block) -> bool:
    return isinstance(block, Para) and block.role == "screen"


def _leads_on(block: Block) -> bool:
    """Whether a paragraph is a link and nothing else."""
    return isinstance(block, Para) and all(span.kind == "link" for span in block.spans)


def _flat(blocks: Sequence[Block], down: int) -> list[Block]:
    """Blocks with the folds among them opened under headings of their own."""
    out: list[Block] = []
    for block in blocks:
        if isinstance(block, Box) and _folds(block):
            out += [Heading(4, block.title, block.id), *_flat(block.blocks, 1)]
        elif isinstance(block, Heading):
            out.append(replace(block, level=min(4, block.level + down)))
        else:
            out.append(block)
    return out


def _sunk(block: Block) -> Block:
    return replace(block, level=3) if isinstance(block, Heading) and block.level == 2 else block


def _seen(see: str, folds: Sequence[Box], name: str) -> Inline:
    """'In the appendix: one; another.', each a link."""
    links = [link(fold.title, fold.id or f"{name}-{at}") for at, fold in enumerate(folds)]
    between = [part for one in links for part in (para("; ").spans[0], one)][1:]
    return (*para(f"{see}: ").spans, *between, *para(".").spans)

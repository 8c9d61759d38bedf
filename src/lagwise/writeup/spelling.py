"""British or American spelling of the write-up's own words; titles, codes and other words of the data stay as they were given.

The texts are written in British spelling. American spelling swaps whole words of one short list in everything that is
generated; names and other text that came with the data, quotations and code are left alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, Literal

from lagwise.document.tree import Block, Box, Bullets, Document, Figure, Grid, Heading, Inline, Para, Span
from lagwise.writeup.findings import Findings, PictureFacts

Spelling = Literal["british", "american"]
SPELLINGS: tuple[Spelling, ...] = ("british", "american")
LANGUAGE = {"british": "en-GB", "american": "en-US"}

_OUR = "behaviour colour favour favourite harbour honour labour neighbour neighbourhood rumour tumour vigour"
_RE = "centre fibre litre metre kilometre theatre"
_ISE = (
    "categor character emphas general hospital item local maxim minim normal optim organ penal priorit random rational real "
    "recogn special stabil standard summar symbol synthes util visual"
)
_LL = "cancel counsel label level model signal total travel"
_SINGLE = {
    "ageing": "aging", "artefact": "artifact", "artefacts": "artifacts", "catalogue": "catalog", "defence": "defense",
    "enrol": "enroll", "fulfil": "fulfill", "grey": "gray", "greys": "grays", "judgement": "judgment", "judgements": "judgments",
    "learnt": "learned", "licence": "license", "orthopaedic": "orthopedic", "paediatric": "pediatric", "per cent": "percent",
    "programme": "program", "programmes": "programs", "sceptical": "skeptical", "whilst": "while",
    "centred": "centered", "centring": "centering", "uncentred": "uncentered",
}  # fmt: skip


def _pairs() -> Iterator[tuple[str, str]]:
    yield from _SINGLE.items()
    for word in _OUR.split():
        for end in ("", "s", "ed", "ing", "able", "al", "hood"):
            yield word + end, word.replace("our", "or", 1) + end
    for word in _RE.split():
        for end in ("", "s"):
            yield word + end, f"{word[:-2]}er{end}"
    for stem in _ISE.split():
        for end in ("e", "ed", "es", "er", "ers", "ing", "ation", "ations", "able"):
            yield f"{stem}is{end}", f"{stem}iz{end}"
    for stem in ("anal", "paral", "catal"):
        for end in ("e", "ed", "er", "ers", "ing"):
            yield f"{stem}ys{end}", f"{stem}yz{end}"
    for word in _LL.split():
        for end in ("ed", "ing", "er", "ers"):
            yield f"{word}l{end}", word + end


AMERICAN: dict[str, str] = dict(_pairs())
"""British word to American word, both in lower case."""

_WORDS = re.compile(
    rf"\b({'|'.join(re.escape(w) for w in sorted(AMERICAN, key=len, reverse=True))})\b", re.IGNORECASE
)
_IN_A_DAY = re.compile(r"\b([Ii])n((?: (?:the|that|this|no|their|next|same|worse|bad))* days?)\b")
_QUOTED = r"\u201c[^\u201d]*\u201d|\"[^\"]*\"|\u2018[^\u2019]*\u2019(?!\w)|https?://\S+|\bdoi:\S+"
_OF_THE_DATA = {"person", "value", "file", "table", "column", "site", "examples", "variable"}
"""Columns of the findings' tables that repeat what stands in the data."""


def american(text: str, keep: tuple[str, ...] = ()) -> str:
    """A text in American spelling; quotations, addresses and every text in `keep` stay as they are."""
    return _outside(text, keep, _WORDS, _swap)


def on_days(text: str, keep: tuple[str, ...] = ()) -> str:
    """'on the next day' for 'in the next day', as steps are called in the write-up of a daily record."""
    return _outside(text, keep, _IN_A_DAY, lambda m: f"{'O' if m.group(1) == 'I' else 'o'}n{m.group(2)}")


def _outside(
    text: str, keep: tuple[str, ...], what: re.Pattern[str], change: Callable[[re.Match[str]], str]
) -> str:
    """The text with matches changed, but not inside quotations, addresses and texts in `keep`."""
    if not what.search(text):
        return text
    kept = "|".join([*(re.escape(k) for k in sorted(keep, key=len, reverse=True)), _QUOTED])
    parts = re.split(f"({kept})", text, flags=re.IGNORECASE)
    return "".join(part if i % 2 else what.sub(change, part) for i, part in enumerate(parts))


def _swap(match: re.Match[str]) -> str:
    said = match.group(0)
    word = AMERICAN[said.lower()]
    if said.isupper() and len(said) > 1:
        return word.upper()
    return word[0].upper() + word[1:] if said[0].isupper() else word


def as_written(text: str) -> str:
    """The text itself."""
    return text


def speller(findings: Findings) -> Callable[[str], str]:
    """The spelling of these findings, and 'on' before a day, as a function of a text of the write-up's own."""
    daily = int(findings.study.of("clock", "step_days")) == 1
    us = findings.spelling == "american"
    if not (daily or us):
        return as_written
    keep = given(findings)

    def say(text: str) -> str:
        text = on_days(text, keep) if daily else text
        return american(text, keep) if us else text

    return say


def given(findings: Findings) -> tuple[str, ...]:
    """Texts that came with the data (titles, codes, names of groups and scores) and hold something that `speller` would change."""
    study = findings.study
    found = {
        study.title,
        study.setting,
        study.ethics,
        *_strings(study.plan),
        *(p.person for p in findings.people),
    }
    tables = [*findings.tables.values(), *(t for f in findings.fits for t in f.tables.values())]
    for table in tables:
        for name in _OF_THE_DATA & set(table.columns):
            found |= {v for v in table.column(name) if isinstance(v, str)}
    texts = {" ".join(text.replace(a, " ").split()) for text in found for a in ("\n", "_")} | {
        text.strip() for text in found
    }
    return tuple(sorted(text for text in texts if text and (american(text) != text or on_days(text) != text)))


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield str(key)
            yield from _strings(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _strings(inner)
    elif isinstance(value, str):
        yield value


def respelled(document: Document, findings: Findings) -> Document:
    """A document in the spelling of its findings, with the language that goes with it."""
    say = speller(findings)
    return replace(
        document, blocks=tuple(_block(b, say) for b in document.blocks), language=LANGUAGE[findings.spelling]
    )


def respelled_picture(picture: PictureFacts, say: Callable[[str], str]) -> PictureFacts:
    """A picture whose title, axes, labels and alternative text are spelled so."""

    def inside(value: Any) -> Any:
        if isinstance(value, str):
            return say(value)
        if isinstance(value, dict):
            return {k: inside(v) for k, v in value.items()}
        return [inside(v) for v in value] if isinstance(value, list | tuple) else value

    rows = tuple(tuple(v if v.__class__ is float else inside(v) for v in row) for row in picture.data.rows)
    return picture.model_copy(
        update={
            "title": say(picture.title), "x": say(picture.x), "y": say(picture.y), "alt": say(picture.alt),
            "options": inside(picture.options), "data": picture.data.model_copy(update={"rows": rows}),
        }
    )  # fmt: skip


def _block(block: Block, say: Callable[[str], str]) -> Block:
    match block:
        case Heading():
            return replace(block, text=say(block.text))
        case Para():
            return replace(block, spans=_spans(block.spans, say))
        case Bullets():
            return replace(block, items=tuple(_spans(i, say) for i in block.items))
        case Grid():
            rows = tuple(tuple(_spans(cell, say) for cell in row) for row in block.rows)
            head = tuple(say(h) for h in block.head)
            return replace(block, caption=say(block.caption), head=head, rows=rows, note=say(block.note))
        case Figure():
            return replace(block, caption=say(block.caption), alt=say(block.alt))
        case Box():
            inner = tuple(_block(b, say) for b in block.blocks)
            return replace(block, title=say(block.title), blocks=inner)  # type: ignore[arg-type]


def _spans(run: Inline, say: Callable[[str], str]) -> Inline:
    return tuple(s if s.kind == "code" else Span(say(s.text), s.kind, s.target) for s in run)

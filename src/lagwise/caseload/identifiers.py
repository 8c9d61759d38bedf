"""Columns that look as if they could tell who somebody is. Their values are never shown and
never carried on."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pandas as pd
from pandas.api import types

from lagwise.caseload.remarks import Remark, remark, shown
from lagwise.caseload.words import LISTS, words

_LOOKED_AT = 500


_WORDS = {kind: words(text) for kind, text in LISTS["telling"].items()}
_PAIRS = {kind: words(text, "|") for kind, text in LISTS["pairs"].items()}
_STEMS = {kind: tuple(text.split()) for kind, text in LISTS["stems"].items()}
"""Beginnings of words, for languages that write compounds in one word."""
_OWN_CODES = words(LISTS["own_codes"])
"""Headers that hold a study's own code as often as a record number:
short codes under them are taken for codes."""
_NAME_OF_THINGS = words(LISTS["things"])
_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[a-z]{2,}", re.IGNORECASE)
_PHONE = re.compile(r"(?:\+|00|0)[\d\s()/-]{7,18}\d")
_BORN = re.compile(
    r"[A-Za-z]{1,4}[-_. ]?(?:19[3-9]\d|200\d|201[0-2])|[A-Za-z]{0,4}[-_. ]?"
    r"(?:[0-3]\d[-./]?[01]\d[-./]?(?:19|20)\d\d|(?:19[3-9]|200)\d[-./]?[01]\d[-./]?[0-3]\d)"
)
_FIRST_NAMES = words(LISTS["first_names"])
_DATE = re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}(?:[T ].*)?")
_US_PHONE = re.compile(r"(?:\+?1[\s.-]?)?\(?\d{3}\)?[\s.-]?\d{3}[\s.-]\d{4}")
_SHORT_CODE = re.compile(r"[A-Za-z]{0,4}[-_ ]?\d{1,4}[A-Za-z]?(?:\.0)?")
_PERSON_NAME = re.compile(r"[^\W\d_]{2,},?\s+[^\W\d_]{2,}(?:[\s-][^\W\d_]{2,})*")


def header_words(header: str) -> list[str]:
    """The words of a header, lower-cased; 'lastName' is two."""
    return re.findall(r"[^\W_]+", re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z])", " ", header).lower())


def looks_like(header: str, values: pd.Series | None = None) -> str:
    """What identifying thing an unused column looks like ('a name', 'free text', ...), or '' for nothing.

    The header decides first, then the values. A few texts that return (arms of a trial, say)
    are no free text.
    """
    tokens = header_words(header)
    there = {*tokens, *map("".join, itertools.pairwise(tokens))}
    own_code = bool(_OWN_CODES & there) and short_codes(values)
    for kind, telling in _WORDS.items():
        if (kind == "a name" and _NAME_OF_THINGS & set(tokens)) or (kind == "a record number" and own_code):
            continue
        if telling & there or any(token.startswith(_STEMS.get(kind, ())) for token in tokens):
            return kind
    for kind, pairs in _PAIRS.items():
        if not own_code and any({*pair.split()} <= {*tokens} for pair in pairs):
            return kind
    return "" if values is None else _by_values(values)


def short_codes(values: pd.Series | None) -> bool:
    """Whether nearly all are codes such as P01 or 117."""
    some = pd.Series(dtype="str") if values is None else values.dropna().head(_LOOKED_AT)
    return len(some) > 0 and bool(some.astype("str").str.strip().str.fullmatch(_SHORT_CODE).mean() >= 0.95)


def identifier_remark(table: str, header: str, kind: str) -> Remark:
    """The remark on an unused column that looks identifying."""
    return remark("identifier_column", table, shown(header), kind=kind)


def codes_that_identify(table: str, people: pd.Series) -> list[Remark]:
    """A remark when any code looks like a full name or an e-mail address, some like first names, or many like
    a year or date of birth or a phone number."""
    codes = [str(code) for code in people.dropna().unique()]
    named, first, born, phones = (
        np.array([bool(like(code)) for code in codes], dtype=bool)
        for like in (_named, _first_name, _BORN.fullmatch, _numbered)
    )
    told = {
        "names": named | first if first.sum() >= 2 else named,
        "births": born & (born.sum() >= 3 and born.mean() >= 0.3),
        "numbers": phones & (phones.sum() >= 2 and phones.mean() >= 0.5),
    }
    kinds = [kind for kind, hit in told.items() if hit.any()]
    hits = int(np.logical_or.reduce([*told.values()]).sum())
    found = remark("identifier_column", table, "person", hits, of="telling_codes", kinds=kinds)
    return [found] if kinds else []


_SMALL_NUMBER = r"-?\d{1,3}(?:[.,]\d{1,3})?"
"""Too short to be a phone number, a date or a year."""


def _named(text: str) -> bool:
    return bool(_PERSON_NAME.fullmatch(text) or _MAIL.fullmatch(text))


def _first_name(text: str) -> bool:
    return text.lower().strip(" .0123456789_-") in _FIRST_NAMES


def _numbered(text: str) -> bool:
    """Whether a text is written like a phone number and is no date."""
    text = text.strip()
    return bool((_PHONE.fullmatch(text) or _US_PHONE.fullmatch(text)) and not _DATE.fullmatch(text))


def _by_values(values: pd.Series) -> str:
    some = values.dropna().head(_LOOKED_AT)
    if len(some) >= 2 and types.is_datetime64_any_dtype(some.dtype):
        return "a birth date" if _born(some.dt.year) else ""
    if len(some) < 2 or types.is_numeric_dtype(some.dtype):
        return ""
    some = some.astype("str").str.slice(0, 300).str.strip()
    if pd.Series(some.unique()).str.fullmatch(_SMALL_NUMBER).all():
        return ""
    if some.str.fullmatch(_MAIL).mean() > 0.5:
        return "an e-mail address"
    if some.map(_numbered).mean() > 0.5:
        return "a phone number"
    dated = some[some.str.fullmatch(_DATE)]
    if len(dated) > 0.8 * len(some) and _born(dated.str.extract(r"(\d{4})")[0].dropna().astype(int)):
        return "a birth date"
    first = some.str.lower().str.extract(r"^([^\W\d_]+)")[0]
    if len(some.unique()) >= 2 and first.isin(_FIRST_NAMES).mean() > 0.3:
        return "a name"
    long = some.str.count(r"\s").mean() >= 3 or some.str.len().mean() > 40
    return "free text" if long and some.nunique() > min(20, len(some) / 2) else ""


def _born(years: pd.Series) -> bool:
    """Whether years are spread like years of birth."""
    return years.nunique() >= 3 and years.max() - years.min() >= 12 and years.between(1920, 2015).mean() > 0.8

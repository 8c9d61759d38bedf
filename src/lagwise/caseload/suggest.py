"""Which left-over column of a file could be which column of the contract: by its words,
and by what stands in it."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import pandas as pd
from pandas.api import types

from lagwise.caseload.check_edits import Edit, whole
from lagwise.caseload.grid import folded, missing_column
from lagwise.caseload.identifiers import codes_that_identify, header_words, identifier_remark, looks_like
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, remark, shown
from lagwise.caseload.repeats import step_of
from lagwise.caseload.study_text import toml_value
from lagwise.caseload.words import LISTS, words
from lagwise.core.claim import said
from lagwise.core.columns import TABLES, WHEN, Column
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study

Others = Callable[[], Iterable[pd.DataFrame]]
"""The other tables of the folder as they lie in their files; asked for only when a column cannot be found."""

WORDS = {
    name: tuple(phrase.strip() for phrase in text.replace("\n", " ").split(","))
    for name, text in LISTS["columns"].items()
}
"""Words by which other people name our columns, lower-cased; a phrase counts when all its words
are in the header."""

_OF_ANOTHER = words(LISTS["of_another"])
"""Words that make a header speak of something else than the column it resembles."""
_LAST = MappingProxyType(LISTS["late"])
"""Of two columns that a header speaks of equally, the later one: other columns speak of the pain,
and all of a day or week."""
_NUMBER = re.compile(r"[<>~]?\s*-?\d+(?:[.,]\d+)?\s*(?:kg|lbs?|h|min|%|/\s*10)?", re.IGNORECASE)
_DATE = re.compile(
    r"(?:\d{1,4}[./-]\d{1,2}[./-]\d{1,4}|\d{8}|\d{1,2}\.? ?[^\W\d]{3,9}\.? ?\d{2,4})(?:[T ].*)?"
)
_WEEK = re.compile(r"\d{4}-?W\d{1,2}", re.IGNORECASE)
_LOOKED_AT = 500
_FITS = 0.6
_SHARED = 0.5


def suggestions(
    absent: Sequence[Column], frame: pd.DataFrame, left: Sequence[str], kinds: Mapping[str, str]
) -> dict[str, tuple[str, ...]]:
    """Ours -> the headers among `left` that could be it, likeliest first.

    A header is taken for the column whose phrase in it is longest; of equal ones pain comes late, because
    other columns speak of the pain too ("worry about pain"). The values must be of the column's kind. A
    header that looks like an identifier, as `kinds` says, is never suggested.
    """
    ranked: dict[str, list[tuple[int, int, int, str]]] = {}
    wanted = {column.name: column for column in absent}
    for at, header in enumerate(left):
        for name, length, over in () if kinds[header] else meanings(header, tuple(wanted)):
            if name not in wanted:
                break
            if fits(wanted[name], frame[header]):
                ranked.setdefault(name, []).append((-length, over, at, header))
                break
    return {name: tuple(header for *_, header in sorted(each)) for name, each in ranked.items()}


def fits(column: Column, values: pd.Series) -> bool:
    """Whether most of the filled cells are of the column's kind, and codes are not names, phones or dates."""
    some = values.dropna().head(_LOOKED_AT)
    if some.empty:
        return False
    if types.is_datetime64_any_dtype(some.dtype):
        return column.kind == "date"
    text = some.astype("str").str.strip()
    if column.kind in ("number", "count"):
        return bool(text.str.fullmatch(_NUMBER).mean() >= _FITS)
    dates = (
        text.str.fullmatch(_DATE).mean()
        if types.is_string_dtype(some.dtype)
        else text.str.fullmatch(r"(?:19|20)\d{6}(?:\.0)?").mean()
    )
    if column.name == WHEN["weeks"]:
        return bool(max(dates, text.str.fullmatch(_WEEK).mean()) >= _FITS)
    if column.kind == "date":
        return bool(dates >= _FITS)
    if column.kind == "code":
        return dates < _FITS and not codes_that_identify("", text) and text.str.len().mean() <= 40
    if column.kind == "time":
        return bool(text.str.contains(r"\d{1,2}[:.h]\d\d").mean() >= _FITS)
    if column.kind == "yesno":
        return text.nunique() <= 3
    return True


def no_column(
    place: Place, column: Column, theirs: str, frame: pd.DataFrame, taken: Sequence[str], others: Others
) -> CaseloadError:
    """The error of a required or declared column that is not in the header;
    what it suggests is no identifier."""
    left = [h for h in frame.columns if h not in taken]
    kinds = {h: looks_like(h, frame[h]) for h in left}
    plain = [h for h in left if not kinds[h]]
    if theirs != column.name:
        return missing_column(place, column.name, theirs, plain)
    there = list(others()) if column.kind == "code" else []
    best = _shared_code(column, frame, plain, there) if column.kind == "code" else None
    if best is None:
        suggested = suggestions((column,), frame, plain, kinds).get(column.name)
        best = suggested[0] if suggested else _misspelt(column, frame, plain)
    if best is not None:
        mend = said(
            "mend.take_it",
            name=column.name,
            header=toml_value(best),
            filled=int(frame[best].notna().sum()),
            rows=len(frame),
            also=_also(frame[best], there) if column.kind == "code" else 0,
            different=frame[best].nunique(),
            edits=(Edit(("tables", place.table, "columns"), {column.name: best}),),
        )
        what = said("what.no_column", column=column.name, theirs=theirs, headers=())
        return place.error(what, mend)
    hidden = sorted({kind for kind in kinds.values() if kind and kind != "free text"})
    if column.kind == "code" and hidden:
        what = said("what.no_code", column=column.name)
        return place.error(what, said("mend.make_codes", column=column.name, kinds=hidden))
    return missing_column(place, column.name, theirs, plain)


def ignored_columns(
    place: Place,
    frame: pd.DataFrame,
    ignored: Sequence[str],
    absent: Sequence[Column],
    read: pd.DataFrame,
    study: Study,
) -> list[Remark]:
    """One remark for each column that is not read; where it may be one that is missing,
    what reading it would add.

    `read` has the same rows as `frame`, with the person and the date of each as they were read.
    """
    kinds = {header: looks_like(header, frame[header]) for header in ignored}
    meant = suggestions(absent, frame, ignored, kinds)
    first = {headers[0]: ours for ours, headers in meant.items()}
    rival = {header: ours for ours, headers in meant.items() for header in headers[1:]}
    remarks = []
    for header in ignored:
        if kind := kinds[header]:
            remarks.append(identifier_remark(place.table, header, kind))
            continue
        of, numbers = "", dict[str, Any]()
        if header in first:
            ours, of = first[header], "perhaps_ours"
            edit = Edit(("tables", place.table, "columns"), {ours: header})
            numbers = {"ours": ours, "filled": _gain(frame[header], read, study), "edits": (edit,)}
        elif header in rival:
            ours, of = rival[header], "second_of_ours"
            numbers = {"ours": ours, "header": shown(meant[ours][0])}
        elif place.table == "people" and (span := _span(frame[header])):
            ends, of = dict(zip(("low", "high"), span, strict=True)), "perhaps_score"
            keys = {name: whole(end) for name, end in ends.items()}
            numbers = {**ends, "edits": (Edit(("scores", header), keys),)}
        remarks.append(remark("ignored_column", place.table, shown(header), of=of, **numbers))
    return remarks


def _span(values: pd.Series) -> tuple[float, float] | None:
    """The ends of a column of numbers, whatever their decimal sign; None of another or a constant one."""
    text = values.dropna().astype("str").str.strip().str.replace(",", ".")
    numbers = pd.to_numeric(text, errors="coerce").dropna()
    if len(numbers) < _FITS * max(len(text), 1) or numbers.min() == numbers.max():
        return None
    return float(numbers.min()), float(numbers.max())


def _gain(values: pd.Series, read: pd.DataFrame, study: Study) -> tuple[int | str, ...]:
    """What reading a column would add: rows that would then have it, of so many people and, where it is known
    when, of so many of their steps, with what one is called."""
    when = next((name for name in WHEN.values() if name in read), None)
    known = read.loc[values.notna().to_numpy(), ["person", *([when] if when else [])]].dropna()
    rows_of_people = len(known), known["person"].nunique()
    if when is None or known.empty:
        return rows_of_people
    step = step_of(known["person"], known[when], study.clock)
    return *rows_of_people, len(pd.concat([known["person"], step], axis=1).drop_duplicates()), study.step


def meanings(header: str, wanted: tuple[str, ...] = ()) -> list[tuple[str, int, int]]:
    """Columns that the header speaks of, likeliest first: name, words of the phrase, words beside it."""
    held = {*header_words(header)}
    if held & _OF_ANOTHER:
        return []
    out = []
    for name in dict.fromkeys([*wanted, *(c.name for table in TABLES.values() for c in table)]):
        phrases = (name.replace("_", " "), *WORDS.get(name, ()))
        length = max((len(p.split()) for p in phrases if set(p.split()) <= held), default=0)
        if length:
            out.append((name, length, len(held) - length))
    return sorted(out, key=lambda one: (-one[1], _LAST.get(one[0], 0), one[0] not in wanted))


def _shared_code(
    column: Column, frame: pd.DataFrame, plain: Sequence[str], there: Sequence[pd.DataFrame]
) -> str | None:
    """The header whose values stand in another table too, as codes of people do; None when there is none."""
    named = {h for h in plain if (m := meanings(h, (column.name,))) and m[0][0] == column.name}
    shared: list[tuple[float, bool, str]] = []
    for header in (h for h in plain if fits(column, frame[h])):
        values = frame[header]
        share = _also(values, there) / max(values.nunique(), 1)
        code = not fits(Column("", "number"), values) and _repeats(values)
        if share >= _SHARED and (header in named or code):
            shared.append((share, header in named, header))
    return max(shared, key=lambda one: one[:2])[2] if shared else None


def _misspelt(column: Column, frame: pd.DataFrame, plain: Sequence[str]) -> str | None:
    near = difflib.get_close_matches(column.name, [folded(h) for h in plain], n=1, cutoff=0.75)
    return next((h for h in plain if folded(h) in near and fits(column, frame[h])), None)


def _repeats(values: pd.Series) -> bool:
    """Whether a text is neither the same everywhere nor a word that every table may hold."""
    words_of_all = values.dropna().astype("str").str.fullmatch(r"(?i)yes|no|ja|nein|true|false|[mfwd]")
    return values.nunique() >= 2 and not words_of_all.all()


def _also(values: pd.Series, there: Sequence[pd.DataFrame]) -> int:
    """How many distinct values stand in that column of another table which holds most of them."""
    own = {str(v).strip() for v in values.dropna().unique()}
    columns = (other[h] for other in there for h in other.columns)
    return max((len(own & {str(v).strip() for v in one.dropna().unique()}) for one in columns), default=0)

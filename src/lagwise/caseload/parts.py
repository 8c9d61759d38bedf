"""Tables that lie in several files or sheets: which parts there are, whose they are, and one grid of all."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from lagwise.caseload.convert import as_text
from lagwise.caseload.grid import Grid, folded, refuse_many
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import EXAMPLES, PART, Remark, listed, remark, shown
from lagwise.core.columns import Column

_BETWEEN = re.compile(r"[\s_\-.,()]+")
_PERSON = Column("person", "code")


def codes(place: Place, at: Sequence[int]) -> tuple[list[str], str]:
    """The code of the person of each part, from the name of its file or sheet, and what was cut from all.

    What every name begins or ends with, in whole words, is cut; nothing is where a name would be left empty.
    """
    by_sheet = place.source.person_from == "sheet"
    names = [part.sheet if by_sheet else Path(part.path).stem for part in (place.parts[i] for i in at)]
    words = [[word for word in _BETWEEN.split(name) if word] for name in names]
    first, last = 0, 0
    if len({*names}) > 1:
        shortest = min(map(len, words))
        while first < shortest - 1 and len({w[first].lower() for w in words}) == 1:
            first += 1
        while last < shortest - 1 - first and len({w[-1 - last].lower() for w in words}) == 1:
            last += 1
    cut = [*words[0][:first], *words[0][len(words[0]) - last :]]
    found = [_inner(name, w, first, last) for name, w in zip(names, words, strict=True)]
    return found, " ".join(cut)


def _inner(name: str, words: list[str], first: int, last: int) -> str:
    """The name from its word `first` to the word before the last `last`, as it is written."""
    kept = words[first : len(words) - last]
    if not kept or not (first or last):
        return name.strip()
    start = name.index(kept[0], sum(map(len, words[:first])))
    end = name.rindex(kept[-1]) + len(kept[-1])
    return name[start:end] if end > start else " ".join(kept)


def pasted(place: Place, found: Mapping[int, Grid]) -> Grid:
    """The parts of a table below each other, by their place among all; rows are numbered by part
    (`remarks.at_row`)."""
    grids = list(found.values())
    left_out = [part.part for at, part in enumerate(place.parts) if at not in found]
    days = {grid.day_0 for grid in grids}
    if len(days) > 1:
        raise place.error("some of its workbooks count days from 1900, others from 1904", "Save them alike.")
    frames = _alike([grid.frame for grid in grids])
    headers = list(dict.fromkeys(h for frame in frames for h in frame.columns))
    kinds = {h: {str(f[h].dtype) for f in frames if h in f} for h in headers}
    mixed = [h for h in headers if len(kinds[h]) > 1]
    plain = [f.assign(**{h: as_text(f[h], _PERSON) for h in mixed if h in f}) for f in frames]
    remarks = _merged([(place.parts[at].part, told) for at, grid in found.items() for told in grid.remarks])
    if left_out:
        remarks.append(remark("other_sheets", place.table, "", len(left_out), listed(left_out)))
    if place.source.person_from:
        people, cut = codes(place, list(found))
        if "person" in headers:
            raise place.error(
                f'has a column person, and person_from = "{place.source.person_from}" gives one as well',
                f"Take out person_from under [tables.{place.table}], or rename the column.",
            )
        plain = [f.assign(person=pd.Series(code, index=f.index, dtype="str"))
                 for f, code in zip(plain, people, strict=True)]  # fmt: skip
        both = list(zip(found, people, strict=True))[:EXAMPLES]
        where = "; ".join(f"{shown(place.parts[at].part)}: '{shown(code, 40)}'" for at, code in both)
        numbers = {"kind": place.source.person_from, "cut": shown(cut)}
        remarks.append(remark("person_from_name", place.table, "person", len(people), where, **numbers))
    frame = pd.concat(plain, ignore_index=True)
    refuse_many(len(frame), max(frame.shape[1], 1), place)
    rows = np.concatenate([grid.rows + at * PART for at, grid in found.items()]).astype("int64")
    starts = [sum(map(len, frames[:at])) for at in range(len(frames))]
    return replace(
        grids[0],
        frame=frame,
        rows=rows,
        remarks=tuple(remarks),
        ragged={
            i + start: text for g, start in zip(grids, starts, strict=True) for i, text in g.ragged.items()
        },
        twice={name: at for grid in grids for name, at in grid.twice.items()},
    )


def _alike(frames: Sequence[pd.DataFrame]) -> list[pd.DataFrame]:
    """The frames, with headers that differ from an earlier part's in case, spaces or hyphens as there."""
    first: dict[str, str] = {}
    out = []
    for frame in frames:
        own = list(map(str, frame.columns))
        named = [first.setdefault(folded(header), header) for header in own]
        out.append(frame.set_axis(named if len({*named}) == len(named) else own, axis=1))
    return out


def _merged(told: Sequence[tuple[str, Remark]]) -> list[Remark]:
    """Remarks of several parts, those of one kind as one with their places."""
    out: dict[tuple[str, str], list[tuple[str, Remark]]] = {}
    for part, one in told:
        out.setdefault((one.code, one.column), []).append((part, one))
    return [
        replace(
            every[0][1],
            count=sum(one.count for _, one in every),
            examples="; ".join(
                f"{shown(part)}{': ' if one.examples else ''}{one.examples}" for part, one in every[:EXAMPLES]
            ),
        )
        for every in out.values()
    ]

"""What a check says, as plain rows: the same for the terminal and for check.html."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd
from pandas.api.types import is_numeric_dtype

from lagwise.caseload.check_edits import edits_of, mending
from lagwise.caseload.remarks import texts
from lagwise.core.claim import Said, told
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload, Panel, whole_rows
from lagwise.core.study import TableSource
from lagwise.core.words import capital
from lagwise.document.tree import Bullets, Grid, Span, bullets, grid, inline, strong
from lagwise.say.check_page import COPY, RATINGS, WHY, unread
from lagwise.say.check_record import rows_and_cells

EXAMPLES = 5
_PLACE = ["file", "row", "header", "value"]
REPAIR = "repair_"
_ALSO_A_FINDING = {"contradiction": "effort_contradiction"}
_TOGETHER = ("ignored_column", "identifier_column")
_LAST = ("separator_detected", "wide_layout", "ignored_column")


@dataclass(frozen=True)
class Matter:
    """One thing noticed: where (table and column), what, up to five examples, how often, why it matters, the
    mend.
    """

    place: str
    what: str
    examples: str
    count: int
    why: str
    mend: str
    code: str = ""
    informs: bool = False
    """Whether it was noticed in reading and nothing need be done about it."""


def row_counts(caseload: Caseload) -> pd.DataFrame:
    """Per table: file; rows read, used, set aside; filled cells of the used rows likewise; how many repairs
    were made.
    """
    repairs = caseload.remarks[caseload.remarks["code"].str.startswith(REPAIR)]
    made = repairs.groupby("table")["count"].sum()
    names = {"quarantined": "set aside", **{f"cells_{n}": f"cells {n}" for n in ("read", "used")}}
    out = caseload.counts.rename(columns={**names, "cells_quarantined": "cells set aside"})
    sheets = [caseload.study.tables.get(t, TableSource()).sheet for t in out["table"]]
    shown = [f"{f}, sheet {s}" if s else f for f, s in zip(out["file"], sheets, strict=True)]
    out = out.assign(file=pd.Series(shown, dtype="str"))
    return out.assign(repairs=out["table"].map(made).fillna(0).astype("int64"))


def set_aside(quarantine: pd.DataFrame) -> pd.DataFrame:
    """What was set aside by table, column and reason: how many rows and cells, the first places, the mend;
    the most frequent first.
    """
    plain = {name: "" for name in _PLACE if name not in quarantine}
    quarantine = quarantine.assign(**plain, whole_row=whole_rows(quarantine)).fillna({"file": ""})
    rows: list[dict[str, Any]] = [
        {
            "table": table,
            "column": column,
            "reason": str(code).replace("_", " "),
            "rows": int(group["whole_row"].sum()),
            "cells": int((~group["whole_row"]).sum()),
            "first places": "; ".join(map(_at, *group[_PLACE].drop_duplicates().head(EXAMPLES).to_numpy().T)),
            "mend": _mends(group["mend"]),
        }
        for (table, column, code), group in quarantine.groupby(["table", "column", "code"], sort=False)
    ]
    names = ["table", "column", "reason", "rows", "cells", "first places", "mend"]
    out = pd.DataFrame(rows, columns=names).assign(mend=texts(row["mend"] for row in rows))
    often = (out["rows"] + out["cells"]).sort_values(ascending=False, kind="stable").index
    return out.loc[often].reset_index(drop=True)


def _at(file: str, row: int, header: str, value: object) -> str:
    """A place: file where there are several, row, header where that is not the column's, and the value."""
    return ", ".join(filter(None, (file, f"row {row}", header))) + (
        f": {_short(value)!r}" if str(value) else ""
    )


def mends(reasons: pd.DataFrame) -> Bullets:
    """What would mend each reason of `set_aside`, once for columns that share it."""
    same = reasons.groupby(["table", "reason", "mend"], sort=False)["column"].agg(list).reset_index()
    places = [", ".join(filter(None, (r["table"], *r["column"]))) for r in same.to_dict("records")]
    said = zip(places, same["reason"], same["mend"], strict=True)
    return bullets(*((strong(f"{place}: {reason}. "), Span(mend)) for place, reason, mend in said))


def frame_grid(caption: str, frame: pd.DataFrame, name: str = "") -> Grid:
    """A frame as a table; columns of numbers align right."""
    heads = [str(column) for column in frame]
    numeric = [i for i, column in enumerate(frame) if is_numeric_dtype(frame[column])]
    rows = [["" if pd.isna(v) else str(v) for v in row] for row in frame.itertuples(index=False)]
    return grid(name, caption, heads, rows, numeric=numeric)


def _mends(mends: pd.Series) -> Said:
    """The two most frequent mends of rows set aside for one reason, without what else is wrong in single
    rows.
    """
    alone = [told(mend).numbers.get("alone", mend) for mend in mends]
    often = [mend for mend, _ in Counter(alone).most_common(2)]
    return mending(" Elsewhere: ".join(often), *(edit for mend in often for edit in edits_of(mend)))


def repairs(caseload: Caseload) -> pd.DataFrame:
    """Every repair: table, column, its name as in study.toml, how often, up to five places, what was done."""
    made = caseload.remarks[caseload.remarks["code"].str.startswith(REPAIR)]
    return pd.DataFrame(
        {
            "table": made["table"],
            "column": made["column"],
            "repair": made["code"].str.removeprefix(REPAIR),
            "times": made["count"],
            "first places": made["examples"],
            "done": made["meaning"],
        }
    ).reset_index(drop=True)


def matters(caseload: Caseload, noticed: pd.DataFrame) -> list[Matter]:
    """What `check` found, then what the reading noticed beside repairs; what needs no action last, and
    columns that are not read in one for each table."""
    codes = set(noticed["code"])
    out = [
        Matter(f["table"], f["what"], f["where"], f["count"], f["why"], f["mend"], f["code"])
        for f in noticed.to_dict("records")
    ]
    rest = caseload.remarks[~caseload.remarks["code"].str.startswith(REPAIR)].to_dict("records")
    grouped: dict[tuple, list[dict]] = {}
    for remark in sorted(rest, key=lambda r: r["code"] in _LAST):
        if _ALSO_A_FINDING.get(remark["code"]) in codes:
            continue
        if (
            together := remark["code"] in _TOGETHER
            and not remark["examples"]
            and remark["column"] != "person"
        ):
            key = (remark["code"], remark["table"], remark["mend"])
        grouped.setdefault(key if together else (*remark.values(),), []).append(remark)
    for group in grouped.values():
        first = group[0]
        why = WHY.get(first["code"], "")
        columns = [r["column"] for r in group]
        place = ", column ".join(part for part in (first["table"], first["column"]) if part)
        what, count = first["meaning"], sum(r["count"] for r in group)
        if first["code"] == "identifier_column" and len(group) > 1:
            kinds = [f"{r['column']} ({told(r['meaning']).numbers['kind']})" for r in group]
            place, what = first["table"], unread(kinds, telling=True)
        elif len(group) > 1:
            place, what = first["table"], unread(columns)
        informs = told(first["mend"]).reason == "nothing"
        out.append(Matter(place, what, first["examples"], count, why, first["mend"], first["code"], informs))
    return out


def matter_said(m: Matter) -> tuple[str, Bullets]:
    """What was noticed, behind its place; and where, why it matters and what mends it."""
    told = (("Where", m.examples), ("Why it matters", m.why), ("Mend", m.mend))
    said = Bullets(tuple((strong(f"{name}: "), Span(text)) for name, text in told if text))
    return f"{m.place}: {m.what}" if m.place else m.what, said


def told_briefly(items: Iterable[Matter]) -> Bullets:
    """Things that only inform, one line each; columns that may tell who somebody is come first."""
    ordered = sorted(items, key=lambda m: m.code != "identifier_column")
    said = []
    for m in ordered:
        more = told(m.mend).numbers["more"] if m.code not in _TOGETHER else ""
        lead = inline(strong(f"{m.place}: " if m.place else ""), m.what, f" ({plural(m.count, 'time')})")
        rest = f": {m.examples}" if m.examples else ""
        said.append((*lead, Span(f"{rest}.{f' {capital(more)}' if more else ''}")))
    if any(m.code == "identifier_column" for m in ordered):
        said.append(inline(COPY))
    return Bullets(tuple(said))


def matters_aside(reasons: pd.DataFrame, noticed: pd.DataFrame) -> list[Matter]:
    """What was set aside and an edit of study.toml may bring back, from `set_aside`; without what is among
    the things noticed."""
    among = {edit.key for mend in noticed["mend"] for edit in edits_of(mend)}
    return [
        Matter(
            ", column ".join(filter(None, (r["table"], r["column"]))),
            f"{rows_and_cells(r['rows'], r['cells'])} set aside: {r['reason']}",
            r["first places"],
            r["rows"] + r["cells"],
            "",
            r["mend"],
        )
        for r in reasons.to_dict("records")
        if any(edit.key not in among for edit in edits_of(r["mend"]))
    ]


def ratings(panel: Panel) -> pd.DataFrame:
    """How many steps have 0, 1, 2, ... pain ratings."""
    rated = panel.frame["n_ratings"].fillna(0).astype("int64").value_counts().sort_index()
    return pd.DataFrame({RATINGS: rated.index, f"{panel.study.step}s": rated.to_numpy()})


def _short(value: object) -> str:
    text = str(value)
    return text if len(text) <= 24 else text[:21] + "..."

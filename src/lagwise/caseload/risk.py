"""What is left in a de-identified caseload by which somebody could still be recognised."""

from __future__ import annotations

from html import escape

import pandas as pd

from lagwise.caseload.coarsen import smallest_cell

NOT_ANONYMOUS = (
    "These data are coded, not anonymous. A course of ratings and loads can single a person out for anybody who knows "
    "part of it, so the tables remain personal data. Local law and the data-protection officer decide what may be done "
    "with them."
)


def risk_table(frames: dict[str, pd.DataFrame], k: int, emptied: int, events_dropped: int) -> pd.DataFrame:
    """One row per remaining risk of the tables as they are written: what, value, meaning."""
    checkins = frames["checkins"] if len(frames["checkins"]) else frames["weeks"].rename(columns={"week": "date"})
    sessions, people = frames["sessions"], frames["people"]
    everyone = set().union(*(set(f["person"]) for f in frames.values()))
    rows: list[tuple[str, object, str]] = [
        ("people", len(everyone), "The fewer people, the easier one is recognised"),
        ("smallest cell of the people table", smallest_cell(people), f"At least {k} is aimed at; 0 without the table"),
        ("cells of the people table merged or emptied", emptied, "Rare values went into 'other' or were left out"),
        ("events left out", events_dropped, f"Kinds of event noted for fewer than {k} people"),
        ("people with a pain course of their own", _alone(_course(checkins)),
         "Somebody who knows all of a person's ratings could find that person"),
        ("people singled out by four ratings in a row", _singled_out(checkins, 4),
         "Somebody who knows four ratings in a row, and the days between them, could find that person"),
        ("people with a count of records of their own", _alone(_counts(checkins, sessions)),
         "Numbers of sessions and check-ins and the length of the record, taken together"),
        ("people alone with their heaviest load", _alone(_heaviest(sessions)), "An unusual load is known in a gym"),
    ]  # fmt: skip
    if any("time" in f and f["time"].notna().any() for f in frames.values()):
        rows.append(("times of day", "kept", "They order sessions and ratings; habits can be recognised by them"))
    rows.append(("intervals between dates and weekdays", "kept", "Holidays and gaps can still be recognised"))
    return pd.DataFrame(rows, columns=["what", "value", "meaning"]).astype("str")


def risk_page(risk: pd.DataFrame) -> str:
    """The risk table as one plain HTML page; everything from the data is escaped."""
    rows = "\n".join(
        "<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>"
        for row in risk[["what", "value", "meaning"]].itertuples(index=False)
    )
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>What could still be recognised</title>
<style>body{{font-family:system-ui,sans-serif;max-width:52rem;margin:2rem auto;padding:0 1rem;line-height:1.5}}
table{{border-collapse:collapse;width:100%}}td,th{{border-bottom:1px solid #bbb;padding:.4rem;text-align:left;vertical-align:top}}</style>
</head><body><main><h1>What could still be recognised</h1><p>{escape(NOT_ANONYMOUS)}</p>
<table><thead><tr><th>What</th><th>Value</th><th>Meaning</th></tr></thead><tbody>
{rows}
</tbody></table></main></body></html>
"""


def _alone(values: pd.Series) -> int:
    """How many people share their value with nobody."""
    return int((values.map(values.value_counts()) == 1).sum()) if len(values) else 0


def _rated(checkins: pd.DataFrame) -> pd.DataFrame:
    rated = checkins.dropna(subset=["pain"]).sort_values(["person", "date"], kind="stable")
    gap = rated.groupby("person")["date"].diff().dt.days.fillna(0).astype(int)
    return rated.assign(mark=gap.astype("str") + ":" + rated["pain"].astype("str"))


def _course(checkins: pd.DataFrame) -> pd.Series:
    return _rated(checkins).groupby("person")["mark"].agg(" ".join)


def _singled_out(checkins: pd.DataFrame, length: int) -> int:
    rated = _rated(checkins)
    pain = rated["pain"].astype("str")
    window = pain.copy()
    for back in range(1, length):
        window = rated.groupby("person")["mark"].shift(-back) + " " + window
    windows = pd.DataFrame({"person": rated["person"], "window": window}).dropna().drop_duplicates()
    holders = windows.groupby("window")["person"].transform("size")
    return int(windows.loc[holders == 1, "person"].nunique())


def _counts(checkins: pd.DataFrame, sessions: pd.DataFrame) -> pd.Series:
    both = pd.concat([checkins[["person", "date"]].assign(of="c"), sessions[["person", "date"]].assign(of="s")])
    by = both.groupby("person")
    span = (by["date"].max() - by["date"].min()).dt.days
    return span.astype("str") + " " + by["of"].agg(lambda of: f"{(of == 'c').sum()} {(of == 's').sum()}")


def _heaviest(sessions: pd.DataFrame) -> pd.Series:
    return sessions.dropna(subset=["load_kg"]).groupby("person")["load_kg"].max()

"""Small invented records that lack something: load, ratings, people or steps."""

from pathlib import Path

import numpy as np
import pandas as pd

LACKING = {
    "full": {}, "load_only": {"ratings": ()}, "pain_only": {"sessions": False, "ratings": ("pain",)},
    "psychosocial": {"sessions": False}, "three_weeks": {"weeks": 3}, "one_person": {"people": 1},
    "few_people": {"people": 3},
}  # fmt: skip
"""Each kind of record by what it is made of."""


def tables(
    people: int = 6,
    weeks: int = 12,
    sessions: bool = True,
    ratings: tuple[str, ...] = ("pain", "stress", "worry"),
) -> dict[str, pd.DataFrame]:
    """Sessions twice a week and a check-in at its end, of people who do and say much the same."""
    rng = np.random.default_rng(5)
    week, person = (a.ravel() for a in np.meshgrid(np.arange(weeks), np.arange(people)))
    monday = pd.Timestamp("2025-09-01") + pd.to_timedelta(7 * week, unit="D")
    code = pd.Series([f"k{p + 1:02}" for p in person])
    out = {}
    if sessions:
        day = [monday + pd.Timedelta(days=days) for days in (1, 4)]
        sets = rng.integers(6, 15, (2, len(code)))
        effort = rng.integers(5, 10, (2, len(code)))
        logs = [pd.DataFrame({"person": code, "date": d, "exercise": "row", "sets": s, "effort": e})
                for d, s, e in zip(day, sets, effort, strict=True)]  # fmt: skip
        out["sessions"] = pd.concat(logs, ignore_index=True)
    if ratings:
        said = {name: np.clip(rng.normal(4, 2, len(code)).round(), 0, 10) for name in ratings}
        out["checkins"] = pd.DataFrame({"person": code, "date": monday + pd.Timedelta(days=6), **said})
    return out


def folder(path: Path, kind: str, more: str = "") -> Path:
    """A caseload folder of a kind; `more` is added to its plan."""
    path.mkdir(parents=True)
    (path / "study.toml").write_text(f'title = "Rows and elbows"\n{more}', encoding="utf-8")
    for name, table in tables(**LACKING[kind]).items():
        table.to_csv(path / f"{name}.csv", index=False)
    return path

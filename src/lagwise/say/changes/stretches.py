"""Stretches of the calendar in words, and the public `stretches`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from lagwise.core.against_self import Stretches
from lagwise.core.claim import Measured
from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.numbers import change, fixed, known, people_said
from lagwise.core.results import Panel
from lagwise.core.words import capital
from lagwise.events.asked import ESTIMATE
from lagwise.events.stretches import compared
from lagwise.say.phrases import difference, interval_of, places, said
from lagwise.say.show_results import BETWEEN
from lagwise.say.voice import Voice

WHY = {
    "nobody": "Nobody has three {step}s with {outcome} rated in both {earlier} and {later}.",
    "overlap": "{earlier} and {later} share days, so nobody can be compared between them.",
    "numbered": "The tables number their days: without study_start nothing is known of the calendar.",
    "flat": "One person alone rated {outcome} in both {earlier} and {later}, and it never varied.",
}
"""Why two stretches are not compared."""
SEASON = {
    "other": "The two hold different months of the year, so the season cannot be told apart from them.",
    "same": "Both hold the same months of the year, so the season is much the same in both.",
    "unknown": "Which months of the year they hold is not known, nor what the season has to do with it.",
}
LIMITS = "Nothing is held equal here: whatever else differed between the two is part of the difference."
ALONE = "This is one person; what a straight trend would give is not worked out for one."
NOTE = (
    "Each person with three or more {step}s in both counts once, by the difference of their two means. The "
    "trend is the slope within people and within each stretch, and before the first and after the last, "
    "times the distance of the two middles. Intervals leave out one person at a time."
)


def stretches(panel: Panel, outcome: str | None = None) -> Stretches:
    """Each person against themselves in every two stretches of the calendar that the plan names (`[blocks]`).

    Parameters
    ----------
    panel : Panel
        From `build_panel`. It is not changed.
    outcome : str, optional
        The rating asked about; the plan's outcome by default.

    Returns
    -------
    Stretches
        `.table`, `.people` (personal data), `.sentences`. Differences are the later stretch minus the
        earlier. Where two cannot be compared, the table's `reason` and the sentences say why.

    Raises
    ------
    LagwiseError
        When the plan names fewer than two stretches, or the rating is unknown.

    Examples
    --------
    >>> halves = {"spring": ("2024-02-01", "2024-04-30"), "summer": ("2024-05-01", "2024-07-31")}
    >>> found = lw.stretches(lw.build_panel(caseload, caseload.study.with_(blocks=halves)))
    >>> found.table[["earlier", "later", "reason", "season"]].iloc[0].tolist()
    ['spring', 'summer', 'people', 'other']
    """
    asked = rated_name(panel, outcome)
    try:
        table, people = compared(panel, asked)
    except ModelError as error:
        mend = 'Name two under [blocks] in study.toml, as autumn = ["2025-09-01", "2025-11-30"].'
        raise LagwiseError(error.what, where="stretches", mend=mend) from error
    voice = replace(Voice.of(panel.study), question=panel.study.outcome_of(asked))
    own = records(table[table["variable"] == asked])
    return Stretches(panel.study, voice.outcome, table, people, said_of(own, voice))


def rated_name(panel: Panel, outcome: str | None) -> str:
    """The rating asked about, the plan's outcome by default.

    Raises
    ------
    LagwiseError
        When it is no rating of the study.
    """
    asked = panel.study.outcome.name if outcome is None else outcome
    rated = [v.name for v in panel.study.variables.values() if v.rated]
    if asked not in rated:
        mend = f"Use one of {', '.join(rated)}."
        raise LagwiseError(f"{asked!r} is not a rating of this study", where="outcome", mend=mend)
    return asked


def records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of a table by column."""
    return [{str(k): v for k, v in row.items()} for row in table.to_dict("records")]


def said_of(own: Iterable[Mapping[str, Any]], voice: Voice) -> tuple[str, ...]:
    """What is said of pairs of stretches: rows of what is asked about, of the table or of findings."""
    told = [line for row in own for line in sentences(row, voice)]
    return (*told, LIMITS) if told else ()


def sentences(row: Mapping[str, Any], voice: Voice) -> tuple[str, ...]:
    """What is said of one pair of stretches."""
    earlier, later = row["earlier"], row["later"]
    if row["reason"] in WHY:
        why = voice.fill(WHY[row["reason"]]).replace("{earlier}", earlier)
        return (capital(why.replace("{later}", later)),)
    whole = _measured(row, "difference", voice)
    size = difference(whole.value, places(whole.low, whole.high), whole.unit)
    first = f"In {later}, {voice.asked} averaged {size} than in {earlier}, in the same people."
    behind = people_said(known(row["n_people"]))
    stands = f"The {interval_of(whole.low, whole.high, unit=whole.unit)} stands on {behind}."
    if row["reason"] == "alone":
        return (first, stands, ALONE, SEASON[row["season"]])
    few = known(row["n_people"])
    trend, beyond = (_measured(row, name, voice) for name in ("trend", "beyond"))
    lines = [first, stands]
    if few is None or few < ESTIMATE:
        lines.append(f"With {behind} this is exploratory: {ESTIMATE} are needed for an estimate.")
    if beyond.known:
        lines.append(f"A straight trend within people would give {said(trend)}.")
        lines.append(f"Beyond the trend {voice.asked} averaged {said(beyond)}.")
    return (*lines, SEASON[row["season"]])


def _measured(row: Mapping[str, Any], name: str, voice: Voice) -> Measured:
    numbers = (known(row[f"{name}{end}"]) for end in ("", "_low", "_high"))
    value, low, high = (math.nan if v is None else v for v in numbers)
    return Measured(value, voice.unit, low, high)


def rows(
    table: Iterable[Mapping[str, Any]], voice: Voice, measure: str
) -> tuple[tuple[str, ...], list[tuple[str, ...]], list[str]]:
    """Heads and cells of a table of every variable, and the pair of stretches each row stands under; the two
    means where they may be shown."""
    cells, pairs, means = [], [], False
    for row in table:
        if row["reason"] not in ("people", "alone"):
            continue
        what = f"load ({measure})" if row["variable"] == "load" else voice.label(row["variable"])
        ends = [known(row.get(f"mean_{when}")) for when in ("earlier", "later")]
        means = means or None not in ends
        told = [change(row[k], row[f"{k}_low"], row[f"{k}_high"]) for k in ("difference", "trend", "beyond")]
        digits = 2 if row["variable"] == "near_failure_share" else 1
        means_said = (fixed(v, digits) for v in ends)
        cells.append((what, *means_said, *told[0], told[1][0], told[2][0], f"{row['n_people']}"))
        pairs.append(f"{row['earlier']}, then {row['later']}")
    head = ("", "earlier", "later", "difference", BETWEEN, "by a straight trend", "beyond it", "people")
    kept = [i for i in range(len(head)) if means or i not in (1, 2)]
    return tuple(head[i] for i in kept), [tuple(cell[i] for i in kept) for cell in cells], pairs


def measured_in(measure: str) -> str:
    """A plan's load measure in words."""
    return LOAD_MEASURES.get(measure, "load")

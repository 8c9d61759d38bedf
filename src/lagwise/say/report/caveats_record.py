"""Caveats of the record: steps and ratings that are missing, set aside, or at the end of the scale."""

from __future__ import annotations

from dataclasses import dataclass

from lagwise.core.numbers import decimals, limits_text, people_said, plural, whole
from lagwise.core.words import capital
from lagwise.findings import Findings, rows_of
from lagwise.say.report.wording import count_of
from lagwise.say.report.words import Words

COMPARED_FROM = 5
"""People from whom on a comparison within people is told."""
FLOOR_FROM = 0.15
"""Share of ratings at the lower end from which the floor is named."""


@dataclass(frozen=True)
class Caveat:
    """One caveat; `shift` is how far it could move the estimate, in points, infinite where it could overturn
    the reading.
    """

    shift: float
    title: str
    text: str


def _if_unknown(share: float | None, findings: Findings) -> float:
    """Shift when a share of the steps differed from the rest by the smallest important difference."""
    return (share or 0.0) * findings.study.outcome.important


def missing(findings: Findings, words: Words) -> Caveat | None:
    """Steps without a rating of what is asked about."""
    rated = findings.rated("steps")
    if not rated.n or rated.value is None or rated.value >= rated.n:
        return None
    main, unseen = findings.numbers["main_steps"], ", or train unrecorded," if words.has_load else ""
    follows, which = _follows_pain(findings, words), "their worse"
    if words.outcome.worse == "neither":
        which = "unusual"
    enough = count_of(main, f"person-{words.steps}")
    needs = "" if findings.described else f". All that the main question needs is known in {enough}"
    return Caveat(
        _if_unknown(1 - (main.share or 0.0), findings),
        f"{words.steps.capitalize()} without a record",
        f"{capital(words.asked)} was rated in {count_of(rated, f'person-{words.steps}')}{needs}. If people "
        f"rate less{unseen} {words.on} {which} {words.steps}, what is seen is "
        f"tilted in a way these data cannot show.{follows}",
    )


def _follows_pain(findings: Findings, words: Words) -> str:
    """What can be seen of whether ratings are left out after worse steps."""
    records = rows_of(findings, "missing")
    record = next((r for r in records if r["variable"] == words.outcome.name), None)
    if record is None or record["after_missing"] is None:
        return ""
    if record["low"] is None or record["n_compared"] < COMPARED_FROM:
        return (
            f" Too few people ({people_said(record['n_compared'])}) have both kinds of {words.step} to see "
            "whether they do."
        )
    places = decimals(record["low"], record["high"])
    text = limits_text(record["after_missing"], record["low"], record["high"], places)
    return (
        f" In {people_said(record['n_compared'])} with both, {words.asked} before a missing rating and "
        f"before one that was made can be compared. It differed by {text} {words.unit}."
    )


def floor(findings: Findings, words: Words) -> Caveat | None:
    """Ratings at the foot of the scale."""
    zero, low = findings.rated("at_zero"), words.outcome.low
    if zero is None or zero.share is None or zero.share < FLOOR_FROM:
        return None
    records = rows_of(findings, "ratings")
    record = next((r for r in records if r["variable"] == words.outcome.name and r["value"] == low), None)
    if record is None:
        return None
    estimate = findings.primary.estimate if findings.primary is not None else None
    return Caveat(
        abs(estimate or 0.0) * zero.share / max(1 - zero.share, 0.01),
        "Ratings at zero" if low == 0 else "Ratings at the foot of the scale",
        f"{capital(words.asked)} is {low:g} in {count_of(zero, zero.unit)}, by "
        f"{people_said(record['n_people'])}. "
        f"Where {words.asked} is already {low:g} it cannot be rated lower, so that differences look smaller.",
    )


def _states(findings: Findings, words: Words) -> Caveat | None:
    unknown = findings.numbers.get("state_unknown")
    if unknown is None or not unknown.value or not words.has_load:
        return None
    summed = any(r["table"] == "weeks" for r in rows_of(findings, "counts"))
    read = "" if summed else f"; the plan reads {words.steps} with check-ins but without sessions as "
    read += "" if summed else str(findings.study.of("load", "no_sessions_means"))
    return Caveat(
        _if_unknown(unknown.share, findings),
        "Training not recorded",
        f"In {count_of(unknown, f'person-{words.steps}')} nothing says whether the person trained. "
        "They are left "
        f"unknown, never counted as rest{read}.",
    )


def _quarantined(findings: Findings, words: Words) -> Caveat | None:
    rows, cells = findings.number("rows_quarantined"), findings.number("cells_quarantined")
    if not rows and not cells:
        return None
    read, filled = findings.number("rows_read"), findings.number("cells_read")
    told = [f"{whole(rows)} of {plural(read, 'row')} read"] if rows else []
    told += [f"{whole(cells)} of {plural(filled, 'cell')} in the rows used"] if cells else []
    listed = "" if findings.shared else " quarantine.csv lists each with what would mend it."
    return Caveat(
        _if_unknown(max(n / of if n and of else 0.0 for n, of in ((rows, read), (cells, filled))), findings),
        "Rows set aside" if not cells else "Rows and cells set aside" if rows else "Cells set aside",
        f"{' and '.join(told)} broke a rule of the data format and "
        f"{'was' if (rows or 0) + (cells or 0) == 1 else 'were'} set aside.{listed}",
    )


def _partly(findings: Findings, words: Words) -> Caveat | None:
    partly = findings.numbers.get("partly_steps")
    if partly is None or not partly.value:
        return None
    return Caveat(
        _if_unknown(partly.share, findings),
        "Training recorded in part",
        f"In {count_of(partly, f'person-{words.steps}')} the person trained and a number that the load "
        "needs was not recorded or was set aside. Their load is left unknown, never smaller.",
    )


def _undated(findings: Findings, words: Words) -> Caveat | None:
    rows, nobody = findings.number("undated_rows"), findings.number("unnamed_rows")
    if not rows and not nobody:
        return None
    people, read = findings.number("undated_people"), findings.number("rows_read")
    told = []
    if rows:
        of = f" of {people_said(people)}" if people else ""
        told.append(f"{plural(rows, 'row')}{of} {'has' if rows == 1 else 'have'} a date that cannot be read")
    if nobody:
        told.append(
            f"{plural(nobody, 'row')} {'does' if nobody == 1 else 'do'} not say whose "
            f"{'it is' if nobody == 1 else 'they are'}"
        )
    return Caveat(
        _if_unknown(((rows or 0) + (nobody or 0)) / read if read else 0.0, findings),
        "Rows that belong to no known " + words.step,
        f"{' and '.join(told)}. Which {words.steps} they belong to is not known, and the load of such "
        f"a {words.step} may be smaller than it was.",
    )


OF_THE_RECORD = (missing, floor, _states, _partly, _undated, _quarantined)
"""What makes each of them, or None where it does not apply."""

"""A version of the findings that can be shared: no single person's course, code or value, no count of few
people.

Numbers are rounded and suppressed here, before there are words: every sentence, table and figure is made from
what is left. What is left still describes these people: it is less revealing, not anonymous.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from lagwise.core.errors import WriteUpError
from lagwise.core.gate import gate_for
from lagwise.core.numbers import FEWEST_SHOWN, floored, is_few
from lagwise.findings import Findings, FitFacts, GateFacts, Number, PersonSeries, QuestionFacts, Table
from lagwise.say.report.reasons import OF_FEW
from lagwise.say.report.shown import usual_size
from lagwise.say.voice import Voice
from lagwise.writeup.collect_numbers import checklist_numbers
from lagwise.writeup.share_challenges import challenge_said
from lagwise.writeup.share_fits import fit_said
from lagwise.writeup.share_followed import followed_said
from lagwise.writeup.share_pictured import answer_curve, pictured
from lagwise.writeup.share_precision import counted, interval_unit, part, spread_unit, to_unit
from lagwise.writeup.share_since import since_said
from lagwise.writeup.share_tables import Size, described, rated

__all__ = ["FEWEST_SHOWN", "require_enough", "shared"]

CHOSEN = ("proportion", "challenges", "items", "questions", "kinds")
"""Units of numbers that tell nothing of people."""
OF_STEPS = ("person-steps", "person-steps with an answer")
"""What numbers are counted among that are counts of steps."""
EMPTIED = ("groups", "repair")
"""Sections of the plan that name exercises or quote the data; their names stay."""


def shared(findings: Findings) -> Findings:
    """The findings for others to see.

    Counts of people are rounded down to a multiple of `FEWEST_SHOWN`, every other number as `share_precision`
    says; what was counted or averaged in fewer people is left out and not named, with as much beside it as it
    takes for totals not to give it back. Sentences and pictures of challenges are made anew from the rounded
    numbers. What has one row or curve per person is left out whole. Where the plan attests consent to show
    single people, courses and slopes stay under new names ('person 1' ...), in an order that the codes have
    no part in. Pages for single people, names of files and the hash of the raw data are never shared.

    Raises
    ------
    WriteUpError
        With fewer than `FEWEST_SHOWN` people and no attested consent.
    """
    consent = findings.study.consent_single_person_plots
    require_enough(findings.count("people"), consent)
    asked, people, longest = findings.study.outcome, findings.count("people"), findings.count("longest")
    told = {
        m.value: part(m.value, m.n, people, longest)[0]
        for m in findings.numbers.values()
        if m.of == OF_STEPS[0] and m.value and m.n
    }
    size = Size(people, longest, asked.zero, asked.important, told)
    shown = _names(findings.people) if consent else {}
    numbers = _numbers(findings, size, keep_total=consent)
    few_flares = numbers["flare_onsets"].value is None or numbers["flares_reported"].value is None
    primary = findings.as_rated
    known = primary is not None and primary.low is not None and primary.high is not None
    least = interval_unit(primary.low, primary.high, primary.n_people) if known else 0.0  # type: ignore[union-attr,arg-type]
    voice = Voice.of_plan(findings.study.plan)
    plan = {k: type(v)() if k in EMPTIED else v for k, v in findings.study.plan.items()}
    single = (
        p.model_copy(update={"person": shown[p.person], "events": (), "began": ""})
        for p in findings.people
        if consent
    )
    tables = described(findings.tables, size) | pictured(findings.tables, size)

    def fits(size: Size) -> tuple[FitFacts, ...]:
        slopes = ((f, _slopes(f, shown)) for f in findings.fits)
        return tuple(fit_said(f, findings, size, few_flares=few_flares, slopes=own) for f, own in slopes)

    view = findings.model_copy(update={"tables": tables, "fits": fits(size)})
    terms = {row.term for f in findings.fits for row in f.effects}
    size = replace(size, usual={term: usual_size(view, term) or 0.0 for term in terms})
    changed = {
        "study": findings.study.model_copy(
            update={"plan": plan, "changes": _changes(findings.study.changes)}
        ),
        "provenance": findings.provenance.model_copy(update={"data_hash": ""}),
        "gate": _gate(findings.gate.n_people),
        "numbers": numbers,
        "tables": tables,
        "people": tuple(sorted(single, key=lambda p: p.person)),
        "for_person": (),
        "fits": fits(size),
        "also": tuple(_question(findings, q, size) for q in findings.also),
        "challenges": tuple(
            challenge_said(c, max(findings.count("main_people"), 1), least, voice)
            for c in findings.challenges
        ),
        "followed": followed_said(findings, size),
    }
    found = findings.model_copy(update=changed)
    if "answer_levels" in found.tables:
        found = found.model_copy(update={"tables": found.tables | {"answer_curve": answer_curve(found)}})
    if findings.since is not None:
        found = found.model_copy(update={"since": since_said(findings.since, found)})
    return found.model_copy(update={"numbers": {**found.numbers, **checklist_numbers(found)}})


def _question(findings: Findings, asked: QuestionFacts, size: Size) -> QuestionFacts:
    """A further question with its fits as `fit_said` gives them, by its own outcome's margins."""
    view = findings.asking(asked)
    own = replace(size, zero=view.study.outcome.zero, important=view.study.outcome.important)
    fits = tuple(fit_said(f, view, own, few_flares=True, slopes=None) for f in asked.fits)
    return asked.model_copy(update={"fits": fits})


def require_enough(people: int, consent: bool) -> None:
    """Stop where there are too few people to share anything of.

    Raises
    ------
    WriteUpError
    """
    if people < FEWEST_SHOWN and not consent:
        raise WriteUpError(
            f"a report on fewer than {FEWEST_SHOWN} people shows single people whatever is left out",
            where="report --share",
            mend="Write it without --share and keep it private, or attest in study.toml that these people "
            "consent: "
            "[privacy] consent_single_person_plots = true.",
        )


def _changes(changes: tuple[str, ...]) -> tuple[str, ...]:
    """Which planned choices were changed; of those that are emptied only that they were."""
    key = {c: c.split(":", 1)[0] for c in changes}
    return tuple(
        dict.fromkeys(key[c].split(".")[0] if key[c].split(".")[0] in EMPTIED else c for c in changes)
    )


def _names(people: tuple[PersonSeries, ...]) -> dict[str, str]:
    """New names by code, the longest record first; records alike in length follow what is in them, never
    their codes.
    """
    order = sorted(people, key=lambda p: (-len(p), p.model_dump_json(exclude={"person"})))
    width = len(str(len(order)))
    return {p.person: f"person {i:0{width}}" for i, p in enumerate(order, 1)}


def _slopes(fit: FitFacts, shown: Mapping[str, str]) -> Table | None:
    """Slopes of single people under their new names, where they may be shown."""
    table = fit.tables.get("people")
    if table is None or not shown or "person" not in table.columns:
        return None
    at = table.columns.index("person")
    rows = (tuple(shown[str(v)] if i == at else v for i, v in enumerate(row)) for row in table.rows)
    return table.model_copy(update={"rows": tuple(rows)})


def _gate(people: int) -> GateFacts:
    gate = gate_for(people if is_few(people) else floored(people) or 0)
    sentence = OF_FEW if is_few(people) else gate.sentence
    return GateFacts.like(gate, n_people=floored(people) or 0, sentence=sentence)


def _numbers(findings: Findings, size: Size, *, keep_total: bool) -> dict[str, Number]:
    out = {}
    for name, number in findings.numbers.items():
        update: dict[str, Any] = {}
        if number.value is not None and number.of in OF_STEPS:
            value, n = part(number.value, number.n or 0, size.people, size.longest)
            update = {"value": value, "n": n, "share": value / n if n else None}
        elif number.unit == "people" and not (keep_total and name == "people"):
            update = {"value": floored(number.value), "share": None}
        elif number.value is not None and number.unit not in CHOSEN and number.unit != "people":
            update = {"value": counted(number.value, size.people), "n": None, "share": None}
        if number.of == "people":
            update["n"] = size.people if keep_total else floored(number.n)
        out[name] = number.model_copy(update=update)

    def tell(name: str, **said: Any) -> None:
        out[name] = out[name].model_copy(update=said)

    tell("steps", value=counted(findings.count("steps"), size.people, size.longest))
    tell("longest", value=None)
    tell("median_steps", value=_median_steps(findings, size))
    reported = sum(any(p.reported) for p in findings.people)
    for name, people in (("flare_onsets", findings.count("flare_people")), ("flares_reported", reported)):
        if is_few(people):
            tell(name, value=None, share=None)
    rows = described(findings.tables, size)["counts"].records() if "counts" in findings.tables else []
    for what, columns in (("rows_", ""), ("cells_", "cells_")):
        for column in ("read", "used", "quarantined"):
            if what + column in out:
                tell(what + column, value=sum(r.get(columns + column) or 0 for r in rows))
    lowest = next((n for n in out if n.endswith("_at_zero")), None)
    if lowest is not None:
        zero = rated(findings.tables["ratings"].records(), findings.study.outcome, size)
        if zero is None:
            out.pop(lowest)
        else:
            tell(lowest, value=zero[0], n=zero[1], share=zero[0] / zero[1])
    out.pop("kinds_left", None)
    out["people_rounded_to"] = Number(value=FEWEST_SHOWN, unit="people", made_by="writeup.share")
    return out


def _median_steps(findings: Findings, size: Size) -> float | None:
    """The median length of records, to the unit it has in the table of people."""
    median = findings.number("median_steps")
    records = findings.tables["cohort"].records() if "cohort" in findings.tables else []
    sd = next((r["sd"] for r in records if r["variable"] == "steps"), None)
    if median is None or size.people < 2 * FEWEST_SHOWN:
        return None
    return to_unit(median, spread_unit(sd, median, size.people))

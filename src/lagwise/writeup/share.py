"""A version of the findings that can be shared: no single person's course, code or value, no count of few people.

What is left still describes these people: it is less revealing, not anonymous.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lagwise.core.errors import WriteUpError
from lagwise.writeup.collect import checklist_numbers
from lagwise.writeup.findings import ChallengeFacts, Findings, FitFacts, Number, Part, PersonSeries, Table
from lagwise.writeup.share_counts import FEWEST_SHOWN, floored, in_words, is_few
from lagwise.writeup.share_tables import described, few_out, without

__all__ = ["FEWEST_SHOWN", "require_enough", "shared"]

ROWS = ("read", "used", "quarantined")


def shared(findings: Findings) -> Findings:
    """The findings for others to see.

    Counts of people are rounded down to a multiple of `FEWEST_SHOWN`, so that neither a count nor the difference of two
    counts is one of 1 to 4 people; what was counted or averaged in fewer people is left out, with as much beside it as
    it takes for totals not to give it back. Nothing is searched for people's codes: what has one row or curve per person is
    left out whole, and sentences never name anybody. Where the plan attests consent to show single people, courses and
    slopes stay under new names ('person 1' ...), in an order that the codes have no part in. Pages for single people are never shared.

    Raises
    ------
    WriteUpError
        With fewer than `FEWEST_SHOWN` people and no attested consent.
    """
    consent = findings.study.consent_single_person_plots
    require_enough(findings.count("people"), consent)
    names = _names(findings.people)
    shown = names if consent else {}
    numbers = _numbers(findings, keep_total=consent)
    few_flares = numbers["flare_onsets"].value is None or numbers["flares_reported"].value is None
    tables = described(findings.tables)
    if not _tells_zero(tables):
        numbers.pop("pain_at_zero", None)
    changed = {
        "gate": _rounded(findings.gate),
        "numbers": numbers,
        "tables": tables,
        "people": tuple(sorted((p.model_copy(update={"person": shown[p.person]}) for p in findings.people), key=lambda p: p.person)) if consent else (),
        "for_person": (),
        "fits": tuple(_fit(f, names, shown, few_flares) for f in findings.fits),
        "challenges": tuple(_challenge(c, names, shown) for c in findings.challenges),
    }  # fmt: skip
    found = findings.model_copy(update=changed)
    return found.model_copy(update={"numbers": {**found.numbers, **checklist_numbers(found)}})


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
            mend="Write it without --share and keep it private, or attest in study.toml that these people consent: "
            "[privacy] consent_single_person_plots = true.",
        )


def _tells_zero(tables: Mapping[str, Table]) -> bool:
    """Whether the use of the rating 0 of pain is among what is shown."""
    records = tables["ratings"].records() if "ratings" in tables else []
    return any(r["variable"] == "pain" and r["value"] == 0 for r in records)


def _names(people: tuple[PersonSeries, ...]) -> dict[str, str]:
    """New names by code, the longest record first; records alike in length follow what is in them, never their codes."""
    order = sorted(people, key=lambda p: (-len(p), p.model_dump_json(exclude={"person"})))
    width = len(str(len(order)))
    return {p.person: f"person {i:0{width}}" for i, p in enumerate(order, 1)}


def _numbers(findings: Findings, *, keep_total: bool) -> dict[str, Number]:
    out = {}
    for name, number in findings.numbers.items():
        update: dict[str, Any] = {}
        if number.unit == "people" and not (keep_total and name == "people"):
            update = {"value": floored(number.value), "share": None}
        if number.of == "people":
            update["n"] = floored(number.n)
        out[name] = number.model_copy(update=update)
    if not keep_total:
        out["longest"] = out["longest"].model_copy(update={"value": None})
        if findings.count("people") < 2 * FEWEST_SHOWN:
            out["median_steps"] = out["median_steps"].model_copy(update={"value": None})
    for name, counted in (
        ("flare_onsets", findings.count("flare_people")),
        ("flares_reported", sum(any(p.reported) for p in findings.people)),
    ):
        if is_few(counted):
            out[name] = out[name].model_copy(update={"value": None, "share": None})
    of_people = [r for r in findings.tables["counts"].records() if r["table"] == "people"]
    for column in ROWS:
        if findings.number(f"rows_{column}") is not None:
            less = findings.count(f"rows_{column}") - sum(r[column] for r in of_people)
            out[f"rows_{column}"] = out[f"rows_{column}"].model_copy(update={"value": less})
    out["people_rounded_to"] = Number(value=FEWEST_SHOWN, unit="people", made_by="writeup.share")
    return out


def _fit(fit: FitFacts, names: dict[str, str], shown: dict[str, str], few_flares: bool) -> FitFacts:
    """A fit without rows of single people; one of flare-ups that few people had without any numbers of them."""
    tables = {k: few_out(t) for k, t in ((k, without(t, names, shown)) for k, t in fit.tables.items()) if t is not None}
    diagnostics = few_out(fit.diagnostics)
    if few_flares and fit.engine in ("flare", "clogit"):
        tables, diagnostics = {}, diagnostics.model_copy(update={"rows": ()})
    effects = tuple(
        e.model_copy(update={"n_people": floored(e.n_people), "df": None if _tells_people(e.df, e.n_people) else e.df})
        for e in fit.effects
        if not is_few(e.n_people)
    )
    update = {"tables": tables, "diagnostics": diagnostics, "effects": effects, "n_people": floored(fit.n_people) or 0}
    return _rounded(fit.model_copy(update=update))


def _tells_people(df: float | None, people: int) -> bool:
    """Whether degrees of freedom are the number of people less one or two."""
    return df is not None and float(df).is_integer() and 0 <= people - df < FEWEST_SHOWN


def _challenge(challenge: ChallengeFacts, names: dict[str, str], shown: dict[str, str]) -> ChallengeFacts:
    numbers = without(challenge.numbers, names, shown)
    numbers = few_out(numbers) if numbers is not None else challenge.numbers.model_copy(update={"rows": ()})
    picture = challenge.picture
    if picture is not None:
        data = without(picture.data, names, shown)
        options = dict(picture.options)
        if "n_people" in options:
            options["n_people"] = floored(options["n_people"])
        picture = None if data is None else picture.model_copy(update={"data": few_out(data), "options": options})
    return _rounded(challenge.model_copy(update={"numbers": numbers, "picture": picture}))


def _rounded[P: Part](part: P) -> P:
    """A part with counts of people rounded in every text of it, and its own field n_people."""

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {
                k: (floored(v) or 0) if k == "n_people" and isinstance(v, int) else plain(v) for k, v in value.items()
            }
        if isinstance(value, list | tuple):
            return [plain(v) for v in value]
        return in_words(value) if isinstance(value, str) else value

    return type(part).model_validate(plain(part.model_dump()))

"""Results in words: one function for positive, negative, null and undecided results alike.

Every sentence states a sequence ('were followed by'), carries its unit and denominators, and is rounded to
what its interval supports.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lagwise.core.numbers import chance, decimals, fixed, people_said, per_hundred, plural, side, size, whole
from lagwise.core.question import Outcome
from lagwise.core.study import INTERVAL
from lagwise.core.traced import bare
from lagwise.core.words import capital, turns, ways
from lagwise.findings import EffectRow, Findings, Number
from lagwise.say.phrases import span
from lagwise.say.report.shown import small_at

Kind = Literal["higher", "lower", "small_higher", "small_lower", "practically_none", "undecided"]


def kind_of(low: float | None, high: float | None, zero: float) -> Kind:
    """Which of six things an interval says: higher or lower when it excludes 0 (small when it also lies
    within +/- `zero`), practically none when it includes 0 and lies within +/- `zero`, else undecided.
    """
    if low is None or high is None:
        return "undecided"
    inside = -zero <= low and high <= zero
    if not (way := side(low, high)):
        return "practically_none" if inside else "undecided"
    if inside:
        return "small_higher" if way > 0 else "small_lower"
    return "higher" if way > 0 else "lower"


def direction(row: EffectRow, zero: float) -> Kind:
    """What an interval says, a small difference counted with its side."""
    kind = kind_of(row.low, row.high, zero)
    return {"small_higher": "higher", "small_lower": "lower"}.get(kind, kind)  # type: ignore[return-value]


def read_apart(findings: Findings) -> bool:
    """True where the joint model and the model of ratings as they are read differently of the main question:
    the answer is then undecided.
    """
    joint, plain, zero = findings.joint, findings.as_rated, findings.study.outcome.zero
    return joint is not None and plain is not None and direction(joint, zero) != direction(plain, zero)


def answer_kind(findings: Findings) -> Kind:
    """What the main result says: that of the primary row, and 'undecided' where the joint model and the model
    of ratings as they are read differently.
    """
    row = findings.primary
    if row is None or read_apart(findings):
        return "undecided"
    return kind_of(row.low, row.high, findings.study.outcome.zero)


def doubted(findings: Findings) -> bool:
    """Whether the main result is undecided whatever its interval says: an attempt to break it did, or the two
    estimates read differently."""
    return bool(findings.fell) or read_apart(findings)


def told_kind(findings: Findings) -> Kind:
    """What may be told of the main result: no better than the attempts to break it allow."""
    return "undecided" if doubted(findings) else answer_kind(findings)


def reading(findings: Findings, row: EffectRow, *, brief: bool = False) -> str:
    """What a row's interval says, in a few words for a table or a title; small differences with the contrast
    they are small at, which a `brief` reading stands beside.
    """
    margin = findings.study.outcome
    kind, where = kind_of(row.low, row.high, margin.zero), small_at(findings, row, margin.zero)
    if kind in ("practically_none", "undecided"):
        none = "practically none" if brief else f"practically no difference {where}"
        return none if where else "undecided"
    way, less = margin.ways[kind.endswith("lower")], f", by less than {margin.amount(margin.zero)}"
    if brief:
        return way + (less if kind.startswith("small") else "")
    return f"followed by {way} {margin.variable.label}" + (f"{less} {where}" if where else "")


def limits(low: float | None, high: float | None, places: int, unit: str = "points") -> str:
    """An interval with its directions in words: '0.31 points lower to 0.41 points higher'."""
    return "not available" if low is None or high is None else span(low, high, places, unit)


def short_limits(low: float | None, high: float | None, places: int, unit: str = "points") -> str:
    """An interval behind its estimate, as briefly as its directions allow: '0.18 to 0.45', '0.31 lower to
    0.41 higher'.
    """
    if low is None or high is None:
        return "not available"
    up, down = ways(unit)
    low, high = (0.0 if round(abs(end), places) == 0 else end for end in (low, high))
    if low < 0 < high:
        return f"{fixed(-low, places)} {down} to {fixed(high, places)} {up}"
    near, far = sorted((abs(low), abs(high)))
    return f"{fixed(near, places)} to {fixed(far, places)}"


def interval_name(row: EffectRow) -> str:
    """'95 % confidence interval' or '95 % credible interval'."""
    return f"{size(100 * (row.interval or 0.95))} % {row.by.interval} interval"


def rules_out(row: EffectRow, margin: Outcome, where: str = "") -> str:
    """What the interval says of no difference and of differences that matter, either way; `where` is the
    contrast at which it lies within practically zero (`small_at`), empty where it does so at none that
    people show.
    """
    if row.low is None or row.high is None:
        return "No interval is available, so nothing is ruled out."
    amount = margin.amount(margin.important)
    zero = "does not include" if side(row.low, row.high) else "includes"
    up, down = _reach(row.low, row.high, margin.important), _reach(-row.high, -row.low, margin.important)
    if up == down:
        reach = f"{up} an average difference of {amount} or more either way"
    else:
        reach = (
            f"{up} {margin.variable.label} {amount} or more {margin.ways[0]} and {down} "
            f"{margin.variable.label} {amount} or more {margin.ways[1]}"
        )
    within = f"it lies wholly within {margin.amount(margin.zero)} either way"
    small = f" {capital(where)} {within}, which the plan calls practically zero." if where else ""
    return f"The interval {zero} 0. It {reach}. The plan calls {amount} or more important.{small}"


def _reach(low: float, high: float, important: float) -> str:
    if high <= important:
        return "rules out"
    return "lies wholly at" if low >= important else "leaves room for"


def how_likely(row: EffectRow | None, margin: Outcome, *, tenths: bool = False) -> str:
    """How likely a difference that matters is, from a Bayesian row; empty when there is none. A version to
    share knows `tenths` only.
    """
    if row is None or row.p_important is None:
        return ""
    said, small = _tenth if tenths else chance, ""
    if row.p_practically_zero is not None:
        amount = margin.amount(margin.zero)
        small = f" A difference no larger than {amount} has one of {said(row.p_practically_zero)}."
    return (
        f"In the {row.by.label} a difference of at least {margin.amount(margin.important)}, "
        f"{' or '.join(margin.ways)}, has a probability of {said(row.p_important)}.{small}"
    )


def _tenth(probability: float) -> str:
    """'between 0 and 10 in 100': a chance of which only the tenth is known, given as its middle."""
    low = 10 * min(int(10 * probability), 9)
    return f"between {low} and {low + 10} in 100"


@dataclass(frozen=True)
class Risk:
    """An absolute risk at the reference and at the contrast, and their difference with its interval (95 %
    when not said).
    """

    reference: float
    contrast: float
    difference: float
    low: float
    high: float
    interval: float = INTERVAL


def counted(
    risk: Risk, what: str, more: str, reference: str, *, model: str = "ordinal model", sort: str = "credible"
) -> str:
    """An absolute risk of a model in natural frequencies: '12 of 100 such weeks. Of others it was 10'; `sort`
    of interval.
    """
    one, other, apart = natural(risk, f"{sort} interval")
    gap = fixed(100 * abs(risk.difference), _places(risk))
    way = "about 0" if not float(bare(gap)) else f"{gap} {'more' if risk.difference > 0 else 'fewer'}"
    return (
        f"In the {model} about {one} of 100 {more} were followed by {what}. Of {reference} it was {other} of "
        f"100. The difference is {way} of 100 ({apart})."
    )


def natural(risk: Risk, interval: str = "interval of the difference") -> tuple[str, str, str]:
    """A risk of 100 at the contrast and at the reference, and the interval of their difference."""
    places = _places(risk)
    one, other = (fixed(100 * r, places) for r in (risk.contrast, risk.reference))
    reach = _range(100 * risk.low, 100 * risk.high, places)
    return one, other, f"{size(100 * risk.interval)} % {interval} {reach}"


def _places(risk: Risk) -> int:
    return min(1, decimals(100 * risk.low, 100 * risk.high))


def _range(low: float, high: float, places: int) -> str:
    if low >= 0:
        return f"{fixed(low, places)} to {fixed(high, places)} more"
    if high <= 0:
        return f"{fixed(-low, places)} to {fixed(-high, places)} fewer"
    return f"{fixed(-low, places)} fewer to {fixed(high, places)} more"


def count_of(number: Number | None, noun: str) -> str:
    """'612 of 1 040 person-weeks (59 %)': a count with its denominator and share."""
    if number is None:
        return f"{whole(None)} {noun}"
    if number.share is None or not number.n:
        return f"{whole(number.value)} {noun}"
    share = per_hundred(number.share)
    if 0 < number.share < 1 and bare(share) in ("0", "100"):
        share = "under 1" if bare(share) == "0" else "over 99"
    return f"{whole(number.value)} of {whole(number.n)} {noun} ({share} %)"


def begun(findings: Findings) -> str:
    """How many turns for the worse began and in how many people; what few people had is not counted in a
    version to share.
    """
    onsets, (one, many) = findings.number("flare_onsets"), turns(findings.study.outcome.variable)
    if onsets == 0:
        seen = findings.number("at_risk_steps") != 0
        return f"no {one} began" if seen else f"no {one} could be seen to begin"
    said = f"{many}, not counted here," if onsets is None else plural(onsets, one, many)
    return f"{said} began in {people_said(findings.number('flare_people'))}"

"""What this study cannot tell: caveats that depend on its data, each with its own figure, the weightiest first."""

from __future__ import annotations

from dataclasses import dataclass

from lagwise.writeup.findings import EffectRow, Findings
from lagwise.writeup.numbers import decimals, limits_text, per_hundred, plural, whole
from lagwise.writeup.wording import count_of
from lagwise.writeup.words import Words

FLOOR_FROM = 0.15
"""Share of pain ratings at 0 from which the floor is named."""


@dataclass(frozen=True)
class Caveat:
    """One caveat; `weight` orders them by how much they could change the answer (higher first)."""

    weight: float
    title: str
    text: str


def caveats(findings: Findings) -> tuple[Caveat, ...]:
    """The caveats that apply to these findings, weightiest first."""
    words = Words(findings)
    found = [
        make(findings, words)
        for make in (_few, _fell, _adjustment, _missing, _floor, _states, _quarantined, _changed, _flares)
    ]
    return tuple(sorted((c for c in found if c is not None), key=lambda c: -c.weight))


def _few(findings: Findings, words: Words) -> Caveat | None:
    if findings.gate.name == "full":
        return None
    weight = {"describe": 10.0, "exploratory": 9.0, "small": 5.0}[findings.gate.name]
    return Caveat(weight, "Few people", findings.gate.sentence)


def _fell(findings: Findings, words: Words) -> Caveat | None:
    fell = [c for c in findings.challenges if c.verdict == "does_not_hold"]
    if not fell:
        return None
    return Caveat(8.0, "Challenges that the result did not withstand", " ".join(c.sentence for c in fell))


def _adjustment(findings: Findings, words: Words) -> Caveat | None:
    primary = findings.primary
    if primary is None or primary.pain_adjusted not in ("before", "during"):
        return None
    other = "before" if primary.pain_adjusted == "during" else "during"
    rows = findings.rows(
        engine=primary.engine, term=primary.term, contrast=primary.contrast, scale=primary.scale,
        adjustment="adjusted", pain_adjusted=other, level=primary.level, outcome=primary.outcome,
    )  # fmt: skip
    if not rows or rows[0].estimate is None or primary.estimate is None:
        return None
    row = rows[0]
    apart = _apart(row, primary)
    places = decimals(primary.low, primary.high)
    keeps = {
        "before": "adjusting for pain rated before leaves in the pull of that same pain on how much was trained",
        "during": f"adjusting for pain of the same {words.step} takes out whatever part of load's association runs through it",
    }
    return Caveat(
        7.0 if apart else 4.0,
        "Which pain is adjusted for",
        f"Under the primary adjustment ({words.pain_adjusted(primary.pain_adjusted)}) the difference is "
        f"{limits_text(primary.estimate, primary.low, primary.high, places)} points; under the other "
        f"({words.pain_adjusted(other)}) it is {limits_text(row.estimate, row.low, row.high, places)} points. "
        f"Each can mislead: {keeps['before']}; {keeps['during']}.",
    )


def _apart(one: EffectRow, other: EffectRow) -> bool:
    """Whether two intervals do not overlap."""
    if one.low is None or one.high is None or other.low is None or other.high is None:
        return False
    return one.low > other.high or one.high < other.low


def _missing(findings: Findings, words: Words) -> Caveat | None:
    pain = findings.numbers["pain_steps"]
    if not pain.n or pain.value is None or pain.value >= pain.n:
        return None
    main = findings.numbers["main_steps"]
    follows = _follows_pain(findings, words)
    return Caveat(
        6.0 * (1 - (main.share or 0.0)),
        f"{words.steps.capitalize()} without a record",
        f"Pain was rated in {count_of(pain, f'person-{words.steps}')}, and all that the main question needs is known in "
        f"{count_of(main, f'person-{words.steps}')}. If people rate less, or train unrecorded, in their worse {words.steps}, the "
        f"result is tilted in a way these data cannot show.{follows}",
    )


def _follows_pain(findings: Findings, words: Words) -> str:
    """What can be seen of whether ratings are left out after worse steps."""
    records = findings.tables["missing"].records() if "missing" in findings.tables else []
    record = next((r for r in records if r["variable"] == "pain"), None)
    if record is None or record["after_missing"] is None or record["low"] is None:
        return ""
    places = decimals(record["low"], record["high"])
    text = limits_text(record["after_missing"], record["low"], record["high"], places)
    return (
        f" What can be seen: in {plural(record['n_compared'], 'person', 'people')} with both, pain in the {words.step} before a missing "
        f"rating differed by {text} points from pain before a rating that was made."
    )


def _floor(findings: Findings, words: Words) -> Caveat | None:
    records = findings.tables["ratings"].records() if "ratings" in findings.tables else []
    zero = next((r for r in records if r["variable"] == "pain" and r["value"] == 0), None)
    if zero is None or zero["share"] < FLOOR_FROM:
        return None
    return Caveat(
        2.5 * zero["share"],
        "Ratings at zero",
        f"{whole(zero['n'])} of the pain {zero['counted']} are 0 ({per_hundred(zero['share'])} %), by {plural(zero['n_people'], 'person', 'people')}. "
        f"Where pain is already 0 it cannot be rated lower, so that differences look smaller.",
    )


def _states(findings: Findings, words: Words) -> Caveat | None:
    unknown = findings.numbers.get("state_unknown")
    if unknown is None or not unknown.value:
        return None
    return Caveat(
        3.0 * (unknown.share or 0.0),
        "Training not recorded",
        f"In {count_of(unknown, f'person-{words.steps}')} nothing says whether the person trained. They are left unknown, never "
        f"counted as rest; the plan reads {words.steps} with check-ins but without sessions as "
        f"{findings.study.of('load', 'no_sessions_means')}.",
    )


def _quarantined(findings: Findings, words: Words) -> Caveat | None:
    rows = findings.number("rows_quarantined")
    if not rows:
        return None
    return Caveat(
        1.0,
        "Rows set aside",
        f"{plural(rows, 'row')} of {plural(findings.number('rows_read'), 'row')} read broke a rule of the data format and "
        f"{'was' if rows == 1 else 'were'} set aside; quarantine.csv lists each with what would mend it.",
    )


def _changed(findings: Findings, words: Words) -> Caveat | None:
    if not findings.study.changes:
        return None
    return Caveat(
        7.5,
        "Changed after the plan",
        "The analysis differs from the recorded plan in: " + "; ".join(findings.study.changes) + ".",
    )


def _flares(findings: Findings, words: Words) -> Caveat | None:
    fits = [f for f in findings.fits if f.engine in ("flare", "clogit")]
    unusable = [f for f in fits if not f.usable]
    if not unusable:
        return None
    reasons = dict.fromkeys(f.why_not.rstrip(".") for f in unusable if f.why_not)
    return Caveat(2.0, "Flare-ups", f"Flare-ups were counted but not modelled: {'; '.join(reasons)}.")


GENERAL = (
    "Nobody assigned these loads. People chose them, knowing how they felt, so what came after need not come from the load.",
    "Whatever changes both how a person trains and how they hurt (an illness, work, mood, a new programme) and was not recorded "
    "cannot be adjusted for.",
    "Pain, stress, sleep and worry are the person's own ratings. Rating them, and seeing the ratings, may itself change what is done.",
    "People who keep a log and share it are not a sample of everyone who trains with pain.",
    "A difference that was not seen is not a difference shown to be absent; the interval says what is left open.",
    "This case series is not a trial, is not for deciding what one person should do next, and does not replace examination by a "
    "licensed clinician.",
)

"""What this study cannot tell: caveats that depend on its data, each with its own figure, the weightiest
first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagwise.core.errors import WriteUpError
from lagwise.core.words import capital, listed
from lagwise.writeup.findings import ChallengeFacts, EffectRow, Findings
from lagwise.writeup.fitted import known_steps
from lagwise.writeup.numbers import decimals, fixed, limits_text, people_said, plural
from lagwise.writeup.reasons import FEW, left_said, no_answer
from lagwise.writeup.section_ratings import answer_said, joint_fit, only_load, rated_value
from lagwise.writeup.section_varying import lead
from lagwise.writeup.wording import count_of
from lagwise.writeup.words import Words

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


def caveats(findings: Findings) -> tuple[Caveat, ...]:
    """The caveats that apply to these findings, the largest shift first.

    Shifts that the findings hold (another adjustment or estimator, a cause as strong as a measured one) are
    taken from there. Steps that are unknown count as their share times the smallest important difference:
    what the answer would move by if they differed that much.
    """
    words = Words(findings)
    makers = (
        _few,
        _no_result,
        _not_asked,
        _fell,
        _changed,
        _stray,
        _adjustment,
        _unrecorded,
        _short,
        _reverse,
        _missing,
        _floor,
        _states,
        _partly,
        _undated,
        _quarantined,
        _flares,
        _together,
    )
    found = [make(findings, words) for make in makers]
    return tuple(sorted((c for c in found if c is not None), key=lambda c: -c.shift))


def _if_unknown(share: float | None, findings: Findings) -> float:
    """Shift when a share of the steps differed from the rest by the smallest important difference."""
    return (share or 0.0) * findings.study.outcome.important


def _few(findings: Findings, words: Words) -> Caveat | None:
    row = findings.primary
    if findings.gate.name == "full" or (row is None and no_answer(findings).why not in FEW):
        return None
    known = row is not None and row.low is not None and row.high is not None
    shift = (row.high - row.low) / 2 if known and findings.gate.name == "small" else math.inf  # type: ignore[union-attr,operator]
    return Caveat(shift, "Few people", findings.gate.sentence)


def _no_result(findings: Findings, words: Words) -> Caveat | None:
    reason = None if findings.primary is not None else no_answer(findings)
    if reason is None or reason.why in FEW:
        return None
    return Caveat(
        math.inf, "No answer to the main question", f"{reason.sentence[0].upper()}{reason.sentence[1:]}"
    )


def _not_asked(findings: Findings, words: Words) -> Caveat | None:
    """Planned exposures that the model of the main question does not hold."""
    said = left_said(findings, words) if findings.primary is not None else ""
    if not said:
        return None
    return Caveat(0.0, "Left out of the model", f"{said} What of the result goes with that is not taken out.")


def _fell(findings: Findings, words: Words) -> Caveat | None:
    fell = [c for c in findings.challenges if c.verdict == "does_not_hold"]
    if not fell:
        return None
    whose = "that the result did not withstand" if findings.primary is not None else "that did not hold"
    return Caveat(math.inf, f"Challenges {whose}", " ".join(_told(c, findings) for c in fell))


def _told(challenge: ChallengeFacts, findings: Findings) -> str:
    """What a challenge saw; in a version to share, which gives its numbers alone, with its title."""
    return f"{challenge.title}: {challenge.sentence}" if findings.shared else challenge.sentence


def challenge_number(challenge: ChallengeFacts, key: str) -> float | None:
    """A number of a challenge that was run, by its key; None where it is unknown, as in findings made before
    numbers had keys or challenges gave claims, which a version to share leaves out.

    Raises
    ------
    WriteUpError
        When the challenge holds no such number: a caveat never disappears without a word.
    """
    if not len(challenge.numbers) or "key" not in challenge.numbers.columns:
        return None
    for record in challenge.numbers.records():
        if record["key"] == key:
            return record["value"]
    raise WriteUpError(
        f"the challenge {challenge.name} holds no number {key!r}", mend="Make the findings again."
    )


def _unrecorded(findings: Findings, words: Words) -> Caveat | None:
    found = next(
        (c for c in findings.challenges if c.name == "unmeasured_confounding" and not c.problem), None
    )
    if found is None or found.verdict == "does_not_hold" or findings.primary is None:
        return None
    shift = challenge_number(found, "shift_yardstick")
    return Caveat(0.0 if shift is None else abs(shift), "What was not recorded", found.sentence)


def _short(findings: Findings, words: Words) -> Caveat | None:
    row, fit = findings.as_rated, lead(findings)
    records = fit.tables["jackknife"].records() if fit is not None and "jackknife" in fit.tables else []
    corrected = next((r for r in records if r["estimate"] == "corrected" and r["value"] is not None), None)
    if row is None or row.estimate is None or corrected is None:
        return None
    places = decimals(row.low, row.high)
    return Caveat(
        abs(corrected["value"] - row.estimate),
        "Short records",
        f"A record of {plural(findings.number('median_steps'), words.step)} at the median leaves a "
        f"bias where {words.asked} feeds back on {words.exposure}. Corrected for "
        "it the difference is "
        f"{limits_text(corrected['value'], corrected['low'], corrected['high'], places)} {words.unit}, "
        "against "
        f"{limits_text(row.estimate, row.low, row.high, places)} as planned.",
    )


def _together(findings: Findings, words: Words) -> Caveat | None:
    """Exposures that went together too closely to be told apart; the shift is what that adds to the
    interval's half-width.
    """
    primary, fit = findings.as_rated, lead(findings)
    records = fit.tables["collinearity"].records() if fit is not None and "collinearity" in fit.tables else []
    row = next((r for r in records if r["near"]), None)
    if row is None:
        return None
    one = words.label(row["term"])
    held = (words.outcome.name, words.question.before)
    other = f"the {words.asked} held equal" if row["with_term"] in held else words.label(row["with_term"])
    own = next((r for r in records if primary is not None and r["term"] == primary.term), None)
    shift = 0.0
    if (
        own is not None
        and own["error_times"]
        and primary is not None
        and primary.low is not None
        and primary.high is not None
    ):
        shift = (primary.high - primary.low) / 2 * (1 - 1 / own["error_times"])
    wider = (
        f" The interval for {one} is {fixed(row['error_times'], 1)} times as wide as it would be otherwise."
        if row["error_times"]
        else ""
    )
    return Caveat(
        shift,
        "Exposures that went together",
        f"{one[:1].upper()}{one[1:]} and {other} moved together within people (correlation "
        f"{fixed(row['correlation'], 2)}). One hardly ever changed while the "
        f"other stayed, so the record can hardly tell them apart.{wider}",
    )


def _reverse(findings: Findings, words: Words) -> Caveat | None:
    found = next((c for c in findings.challenges if c.name == "does_pain_drive_load" and not c.problem), None)
    primary = findings.as_rated
    if found is None or found.verdict == "holds" or primary is None:
        return None
    name, other = words.exposure, _other_adjustment(findings, primary)
    shift = 0.0 if other is None else abs((other.estimate or 0.0) - (primary.estimate or 0.0))
    if found.verdict != "informative":
        return Caveat(shift, f"Whether {name} also follows {words.asked}", found.sentence)
    rest = (
        f"Ratings stray from the {words.asked} that was answered, so that a part of this path stays "
        f"whatever {words.asked} is adjusted for."
    )
    return Caveat(shift, f"{capital(name)} also follows {words.asked}", f"{found.sentence} {rest}")


def _other_adjustment(findings: Findings, primary: EffectRow) -> EffectRow | None:
    """The primary estimand under the other pain adjustment."""
    other = {"before": "during", "during": "before"}.get(primary.pain_adjusted)
    rows = findings.rows(
        engine=primary.engine,
        term=primary.term,
        contrast=primary.contrast,
        scale=primary.scale,
        adjustment="adjusted",
        pain_adjusted=other,
        level=primary.level,
        outcome=primary.outcome,
    )
    return rows[0] if rows and rows[0].estimate is not None and primary.estimate is not None else None


def _stray(findings: Findings, words: Words) -> Caveat | None:
    """That ratings stray from pain, which load answers, and what is left of that; the shift is the distance
    of the two estimates.
    """
    joint, plain, fit = findings.joint, findings.as_rated, joint_fit(findings)
    if joint is None or plain is None or fit is None:
        return None
    error, carry = rated_value(fit, "error_sd") or 0.0, rated_value(fit, "carry_over") or 0.0
    told = limits_text(joint.estimate, joint.low, joint.high, decimals(joint.low, joint.high))
    as_is = limits_text(plain.estimate, plain.low, plain.high, decimals(plain.low, plain.high))
    return Caveat(
        abs((joint.estimate or 0.0) - (plain.estimate or 0.0)),
        f"Ratings are not the {words.asked}",
        f"Ratings of a {words.step} stray from {words.asked} by {fixed(error, 1)} {words.unit} (SD), "
        f"of what lasts {fixed(100 * carry, 0)} % is left a {words.step} later, and load is "
        f"{answer_said(fit, words)} more of felt {words.asked}. "
        f"With that {words.spelled('modelled')} the difference is {told} {words.unit}, with ratings as "
        f"they are {as_is}. What remains: load that answers the rating itself, records of some 12 "
        f"{words.steps} and ratings hidden when {words.asked} is high shift the joint estimate, too "
        f"(docs/rating-error.md). {only_load(findings, words)}".rstrip(),
    )


def _adjustment(findings: Findings, words: Words) -> Caveat | None:
    primary = findings.as_rated
    row = None if primary is None else _other_adjustment(findings, primary)
    if primary is None or row is None:
        return None
    other = row.pain_adjusted
    places = decimals(primary.low, primary.high)
    keeps = {
        "before": (
            f"adjusting for {words.asked} rated before leaves in the pull of that same {words.asked} on "
            f"{words.pulled}"
        ),
        "during": (
            f"adjusting for {words.asked} of the same {words.step} takes out whatever part of the "
            f"association of {words.exposure} runs through it"
        ),
    }
    return Caveat(
        abs((row.estimate or 0.0) - (primary.estimate or 0.0)),
        f"Which {words.asked} is adjusted for",
        f"Under the primary adjustment ({words.adjusted(primary.pain_adjusted)}) the difference is "
        f"{limits_text(primary.estimate, primary.low, primary.high, places)} {words.unit}; under the other "
        f"({words.adjusted(other)}) it is {limits_text(row.estimate, row.low, row.high, places)} "
        f"{words.unit}. "
        f"Each can mislead: {keeps['before']}; {keeps['during']}.",
    )


def _missing(findings: Findings, words: Words) -> Caveat | None:
    rated = findings.rated("steps")
    if not rated.n or rated.value is None or rated.value >= rated.n:
        return None
    main, unseen = findings.numbers["main_steps"], ", or train unrecorded," if words.has_load else ""
    follows = _follows_pain(findings, words)
    return Caveat(
        _if_unknown(1 - (main.share or 0.0), findings),
        f"{words.steps.capitalize()} without a record",
        f"{capital(words.asked)} was rated in {count_of(rated, f'person-{words.steps}')}, and all that "
        "the main question needs is known in "
        f"{count_of(main, f'person-{words.steps}')}. If people rate less{unseen} {words.on} their "
        f"worse {words.steps}, what "
        f"is seen is tilted in a way these data cannot show.{follows}",
    )


def _follows_pain(findings: Findings, words: Words) -> str:
    """What can be seen of whether ratings are left out after worse steps."""
    records = findings.tables["missing"].records() if "missing" in findings.tables else []
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
        f" What can be seen: in {plural(record['n_compared'], 'person', 'people')} with both, "
        f"{words.asked} {words.on} the {words.step} before a missing "
        f"rating differed by {text} {words.unit} from {words.asked} before a rating that was made."
    )


def _floor(findings: Findings, words: Words) -> Caveat | None:
    zero, low = findings.rated("at_zero"), words.outcome.low
    if zero is None or zero.share is None or zero.share < FLOOR_FROM:
        return None
    records = findings.tables["ratings"].records() if "ratings" in findings.tables else []
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
    return Caveat(
        _if_unknown(unknown.share, findings),
        "Training not recorded",
        f"In {count_of(unknown, f'person-{words.steps}')} nothing says whether the person trained. "
        "They are left unknown, never "
        f"counted as rest; the plan reads {words.steps} with check-ins but without sessions as "
        f"{findings.study.of('load', 'no_sessions_means')}.",
    )


def _quarantined(findings: Findings, words: Words) -> Caveat | None:
    rows, cells = findings.number("rows_quarantined"), findings.number("cells_quarantined")
    if not rows and not cells:
        return None
    read, filled = findings.number("rows_read"), findings.number("cells_read")
    told = [f"{plural(rows, 'row')} of {plural(read, 'row')} read"] if rows else []
    told += [f"{plural(cells, 'cell')} of {plural(filled, 'cell')} in the rows used"] if cells else []
    private = not findings.shared
    listed = "; quarantine.csv lists each with what would mend it" if private else ""
    return Caveat(
        _if_unknown(max(n / of if n and of else 0.0 for n, of in ((rows, read), (cells, filled))), findings),
        "Rows set aside" if not cells else "Rows and cells set aside" if rows else "Cells set aside",
        f"{' and '.join(told)} broke a rule of the data format and "
        f"{'was' if (rows or 0) + (cells or 0) == 1 else 'were'} set aside{listed}.",
    )


def _partly(findings: Findings, words: Words) -> Caveat | None:
    partly = findings.numbers.get("partly_steps")
    if partly is None or not partly.value:
        return None
    return Caveat(
        _if_unknown(partly.share, findings),
        "Training recorded in part",
        f"In {count_of(partly, f'person-{words.steps}')} the person trained and a number that the load "
        "needs was not recorded or was set "
        f"aside. Their load is left unknown, never smaller.",
    )


def _undated(findings: Findings, words: Words) -> Caveat | None:
    rows, nobody = findings.number("undated_rows"), findings.number("unnamed_rows")
    if not rows and not nobody:
        return None
    people, read = findings.number("undated_people"), findings.number("rows_read")
    told = []
    if rows:
        of = f" of {plural(people, 'person', 'people')}" if people else ""
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
        f"a {words.step} may be smaller "
        "than it was.",
    )


def _changed(findings: Findings, words: Words) -> Caveat | None:
    if not findings.study.changes:
        return None
    return Caveat(
        math.inf,
        "Changed after the plan",
        "The analysis differs from the recorded plan in: " + "; ".join(findings.study.changes) + ".",
    )


def _flares(findings: Findings, words: Words) -> Caveat | None:
    fits = [f for f in findings.fits if f.by.answers == "onset"]
    unusable = [f for f in fits if not f.usable]
    if not unusable:
        return None
    reasons = dict.fromkeys(f.why_not.rstrip(".") for f in unusable if f.why_not)
    return Caveat(
        0.0,
        capital(words.turns),
        f"{capital(words.turns)} were counted but not {words.spelled('modelled')}: {'; '.join(reasons)}.",
    )


def _everyone(words: Words) -> str:
    """Whom a log that is kept and shared is no sample of."""
    if not words.of_pain:
        return "who trains" if words.has_load else "who could keep one"
    return "who trains with pain" if words.has_load else "in pain"


def general(findings: Findings) -> tuple[str, ...]:
    """What holds for every such log, of what this one asked."""
    words = Words(findings)
    planned = findings.study.of("analysis", "exposures")
    asked = [
        words.label(t)
        for t in planned
        if t not in ("jump", "effort", "near_failure_share") and known_steps(findings, t)
    ]
    said, unseen = (
        [],
        f"(an illness, work, mood, a new {words.spelled('programme')}) and was not recorded cannot be "
        "adjusted for.",
    )
    if words.has_load:
        said += [
            "Loads are taken as they were done, whoever set them. People know how they feel when they "
            "train, so what came after need not come from the load.",
            "Whatever changes both how a person trains and "
            f"{'how they hurt' if words.of_pain else words.asked} {unseen}",
        ]
    elif asked:
        were, them = ("were", "them") if len(asked) > 1 else ("was", "it")
        said += [
            f"{capital(listed(asked))} {were} seen and not set, so what came after need not come from "
            f"{them}.",
            f"What goes along with both {words.asked} and {listed(asked)} {unseen}",
        ]
    said += [
        f"{listed([capital(words.asked), *asked])} {'are' if asked else 'is'} the person's own "
        f"rating{'s' if asked else ''}. Rating, and seeing the ratings, may "
        "itself change what is done.",
        f"People who keep a log and share it are not a sample of everyone {_everyone(words)}.",
    ]
    if findings.primary is not None:
        said.append(
            "A difference that was not seen is not a difference shown to be absent; the interval says "
            "what is left open."
        )
    said.append(
        "This case series is not a trial, is not for deciding what one person should do next, and does "
        "not replace examination by a "
        "licensed clinician."
    )
    return tuple(said)

"""What this study cannot tell: caveats that depend on its data, each with its own figure, the weightiest
first.
"""

from __future__ import annotations

import math

from lagwise.core.errors import WriteUpError
from lagwise.core.numbers import decimals, fixed, limits_text, plural
from lagwise.core.words import capital, listed
from lagwise.findings import ChallengeFacts, EffectRow, Findings, rows_of
from lagwise.say.report.caveats_record import OF_THE_RECORD, Caveat, floor, missing
from lagwise.say.report.changed import followed_of, unrated
from lagwise.say.report.fitted import known_steps
from lagwise.say.report.ratings import answer_said, joint_fit, only_load, rated_value
from lagwise.say.report.reasons import FEW, left_said, no_answer
from lagwise.say.report.varying import lead
from lagwise.say.report.words import Words

LAST = (
    "This case series is not a trial, is not for deciding what one person should do next, and does not "
    "replace examination by a licensed clinician."
)


def caveats(findings: Findings) -> tuple[Caveat, ...]:
    """The caveats that apply to these findings, the largest shift first.

    Shifts that the findings hold (another adjustment or estimator, a cause as strong as a measured one) are
    taken from there. Steps that are unknown count as their share times the smallest important difference:
    what the answer would move by if they differed that much.
    """
    words = Words(findings)
    if findings.described:
        of_ratings = () if words.rated else (missing, floor)
        found = [make(findings, words) for make in OF_THE_RECORD if make not in of_ratings]
        return tuple(sorted((c for c in (_changed(findings, words), *found) if c), key=lambda c: -c.shift))
    makers = (
        _few,
        _no_result,
        _not_asked,
        _fell,
        _base,
        _changed,
        _stray,
        _adjustment,
        _unrecorded,
        _short,
        _reverse,
    )
    found = [make(findings, words) for make in (*makers, *OF_THE_RECORD, _flares, _events, _together)]
    return tuple(sorted((c for c in found if c is not None), key=lambda c: -c.shift))


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
    return Caveat(math.inf, "No answer to the main question", capital(reason.sentence))


def _not_asked(findings: Findings, words: Words) -> Caveat | None:
    """Planned exposures that the model of the main question does not hold."""
    said = left_said(findings, words) if findings.primary is not None else ""
    if not said:
        return None
    return Caveat(0.0, "Left out of the model", f"{said} What of the result goes with that is not taken out.")


def _events(findings: Findings, words: Words) -> Caveat | None:
    """Why events were made, and what a trigger that nobody rated could give where it could give most."""
    every = [one for one in followed_of(findings, words) if one.compared]
    if not every:
        return None
    first = {one.facts.kind: one.claim for one in reversed(every)}.values()
    total = sum(math.trunc(c["compared"].value) for c in first)
    planned = sum(math.trunc(m.value) for c in first if (m := c.get("because_planned")))
    known = (
        ""
        if findings.shared
        else (
            f"Of the {total} events compared, {planned or 'none'} {'is' if planned == 1 else 'are'} "
            "said to have been planned ahead. "
        )
    )
    return Caveat(0.0, "Changes have their reasons", f"{known}{unrated(every)}")


def _fell(findings: Findings, words: Words) -> Caveat | None:
    fell = findings.fell
    if not fell:
        return None
    whose = "that the result did not withstand" if findings.primary is not None else "that did not hold"
    return Caveat(math.inf, f"Challenges {whose}", " ".join(_told(c, findings) for c in fell))


def _base(findings: Findings, words: Words) -> Caveat | None:
    lost = findings.base_fell
    return Caveat(0.0, "What load is set against", _told(lost, findings)) if lost else None


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
    records = rows_of(fit, "jackknife")
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
        f"{limits_text(corrected['value'], corrected['low'], corrected['high'], places)} {words.unit}. "
        f"As planned it is {limits_text(row.estimate, row.low, row.high, places)}.",
    )


def _together(findings: Findings, words: Words) -> Caveat | None:
    """Exposures that went together too closely to be told apart; the shift is what that adds to the
    interval's half-width.
    """
    primary, fit = findings.as_rated, lead(findings)
    records = rows_of(fit, "collinearity")
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
    told = limits_text(joint.estimate, joint.low, joint.high)
    as_is = limits_text(plain.estimate, plain.low, plain.high)
    return Caveat(
        abs((joint.estimate or 0.0) - (plain.estimate or 0.0)),
        f"Ratings are not the {words.asked}",
        f"Ratings of a {words.step} stray from {words.asked} by "
        f"{fixed(error, words.outcome.places - 1)} {words.unit} (SD). "
        f"Of what lasts {fixed(100 * carry, 0)} % is left a {words.step} later, and load is "
        f"{answer_said(fit, words)} more of felt {words.asked}. "
        f"With that {words.spelled('modelled')} the difference is {told} {words.unit}. With ratings as "
        f"they are it is {as_is}. The joint estimate is shifted, too, by load that answers the rating "
        f"itself, by records of some 12 {words.steps} and by ratings hidden when {words.asked} is high "
        f"(docs/rating-error.md). {only_load(findings, words)}".rstrip(),
    )


def _adjustment(findings: Findings, words: Words) -> Caveat | None:
    primary = findings.as_rated
    row = None if primary is None else _other_adjustment(findings, primary)
    if primary is None or row is None:
        return None
    places = decimals(primary.low, primary.high)
    return Caveat(
        abs((row.estimate or 0.0) - (primary.estimate or 0.0)),
        f"Which {words.asked} is adjusted for",
        f"Under the planned adjustment ({words.adjusted(primary.pain_adjusted)}) the difference is "
        f"{limits_text(primary.estimate, primary.low, primary.high, places)} {words.unit}. Under the other "
        f"({words.adjusted(row.pain_adjusted)}) it is {limits_text(row.estimate, row.low, row.high, places)} "
        f"{words.unit}. Each can mislead. Adjusting for {words.asked} rated before leaves in the pull of "
        f"that same {words.asked} on {words.pulled}. Adjusting for {words.asked} of the same {words.step} "
        f"takes out whatever part of the association of {words.exposure} runs through it.",
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
    if not words.of_pain or not words.rated:
        return "who trains" if words.has_load else "who could keep one"
    return "who trains with pain" if words.has_load else "in pain"


def _of_a_description(findings: Findings, words: Words) -> tuple[str, ...]:
    """What holds for every log that is described."""
    first = words.outcome.name
    every = sorted((v for v in words.variables.values() if v.rated), key=lambda v: v.name != first)
    rated = [v.label for v in every if known_steps(findings, v.name)]
    said = []
    if words.has_load:
        said.append("Loads are those that were written down, whoever set them.")
    if rated:
        are, ratings = ("are", "ratings") if len(rated) > 1 else ("is", "rating")
        said.append(
            f"{capital(listed(rated))} {are} the person's own {ratings}. Rating, and seeing the ratings, may "
            "itself change what is done."
        )
    return (
        *said,
        f"People who keep a log and share it are not a sample of everyone {_everyone(words)}.",
        "A description says what was recorded of these people. It does not say why, nor what another record "
        "would hold.",
        LAST,
    )


def general(findings: Findings) -> tuple[str, ...]:
    """What holds for every such log, of what this one asked."""
    words, variables = Words(findings), findings.study.variables
    if findings.described:
        return _of_a_description(findings, words)
    planned = findings.study.of("analysis", "exposures")
    asked = [words.label(t) for t in planned if not variables[t].load_side and known_steps(findings, t)]
    new = f"a new {words.spelled('programme')}"
    unseen = f"(an illness, work, family, {new}) and was not recorded cannot be adjusted for."
    said = []
    if words.has_load:
        said.append(
            "Loads are taken as they were done, whoever set them. People know how they feel when they "
            "train, so what came after need not come from the load."
        )
    if words.has_load and words.primary.load_side:
        hurt = "how they hurt" if words.of_pain else words.asked
        said.append(f"Whatever changes both how a person trains and {hurt} {unseen}")
    elif asked:
        were, them = ("were", "them") if len(asked) > 1 else ("was", "it")
        said += [
            f"{capital(listed(asked))} {were} seen and not set, so what came after need not come "
            f"from {them}.",
            f"What goes along with both {words.asked} and {listed(asked)} {unseen}",
        ]
    said += [
        f"{listed([capital(words.asked), *asked])} {'are' if asked else 'is'} the person's own "
        f"rating{'s' if asked else ''}. Rating, and seeing the ratings, may itself change what is done.",
        f"People who keep a log and share it are not a sample of everyone {_everyone(words)}.",
    ]
    if findings.primary is not None:
        said.append(
            "A difference that was not seen is not a difference shown to be absent. The interval says what "
            "is left open."
        )
    return (*said, LAST)

"""The answer in four sentences: what was asked of whom, what was found, what that rules out, how much to make
of it.
"""

from __future__ import annotations

from lagwise.core.numbers import decimals, people_said, plural
from lagwise.core.words import capital, listed
from lagwise.document.tree import Para, para, strong
from lagwise.findings import EffectRow, Findings
from lagwise.say.phrases import difference
from lagwise.say.report.absolute import absolute_risk
from lagwise.say.report.described import NOTHING, described
from lagwise.say.report.fitted import main_fit, terms_in
from lagwise.say.report.further import asked_count
from lagwise.say.report.ratings import only_load
from lagwise.say.report.reasons import FEW, left_said, no_answer, no_chance
from lagwise.say.report.shown import small_at
from lagwise.say.report.wording import (
    answer_kind,
    begun,
    count_of,
    counted,
    followed,
    how_likely,
    limits,
    read_apart,
    rules_out,
)
from lagwise.say.report.words import Words
from lagwise.say.show_results import effect_words

SEQUENCE = "it is a sequence in time, seen in a log, and not shown to be more than that"

KEPT = {
    "undecided": ("change the reading", "left it undecided", "stayed undecided"),
    "practically_none": ("change the reading", "left it as it was", "stayed as it was"),
}
"""What attempts aim at, and how those that hold and all that hold are told, of an interval that includes 0.
"""


def summary(findings: Findings) -> tuple[Para, ...]:
    """The opening: what was asked, what was found, what that rules out and how far it goes, one sentence
    each.

    A result is given only where a usable fit carries it; else the third sentence says what was recorded.
    """
    if findings.described:
        return described(findings)
    words = Words(findings)
    row = findings.primary
    said = [("Asked.", question(findings, words))]
    if row is None:
        said.append(("Found.", f"No answer to the main question: {no_answer(findings).sentence}"))
        said.append(("Recorded.", record(findings, words)))
    else:
        found = _joined(_risk(findings, words), followed(row, words))
        said.append(
            (
                "Found.",
                f"{found} {beside_it(findings, words)} {left_said(findings, words)}".replace(
                    "  ", " "
                ).strip(),
            )
        )
        said.append(("What that rules out.", _weight(findings, row)))
    if findings.also:
        said.append(("Asked as well.", asked_count(findings)))
    said.append(("How far it goes.", standing(findings)))
    return tuple(para(strong(label), f" {text}", role="lead") for label, text in said)


def _joined(*sentences: str) -> str:
    """Sentences as one, with semicolons between them."""
    first, *rest = [s.strip().rstrip(".") for s in sentences if s.strip()]
    return "; ".join([first, *(s[0].lower() + s[1:] for s in rest)]) + "."


def record(findings: Findings, words: Words) -> str:
    """How many ratings there are of what is asked about and how many turns for the worse began."""
    rated = count_of(findings.rated("steps"), f"person-{words.steps}")
    return f"{capital(words.asked)} was rated in {rated}, and {words.by} {begun(findings)}."


def question(findings: Findings, words: Words) -> str:
    """Who was followed and what was asked."""
    people, steps = findings.count("people"), findings.count("steps")
    return (
        f"In {people_said(people)} followed over "
        f"{plural(steps, f'person-{words.step}')}, it was asked whether "
        f"{words.steps} with {words.more_asked} were followed by "
        f"{' or '.join(words.question.ways)} {words.asked_then}."
    )


def _risk(findings: Findings, words: Words) -> str:
    found = absolute_risk(findings, words)
    return "" if found is None else counted(found.risk, found.what, found.more, found.reference)


def beside_it(findings: Findings, words: Words) -> str:
    """The same difference by the other estimate, and what follows where the two read differently; empty where
    there is one alone.
    """
    row, joint, plain = findings.primary, findings.joint, findings.as_rated
    if row is None or joint is None or plain is None:
        return ""
    other = plain if row is joint else joint
    how = (
        f"With ratings taken as measures with error, and load as answering the {words.asked} behind them,"
        if other is joint
        else "With ratings taken as they are (mixed model),"
    )
    places = decimals(other.low, other.high)
    told = (
        f"{how} it is {difference(other.estimate or 0.0, places, words.unit)} "
        f"({limits(other.low, other.high, places, words.unit)}). {only_load(findings, words)}"
    ).rstrip()
    if not read_apart(findings):
        return f"{told} Both read alike."
    return (
        f"{told} The two read differently, so the answer is undecided: it turns on how far ratings stray "
        f"from {words.asked} and how far load follows {words.asked}."
    )


def _weight(findings: Findings, row: EffectRow) -> str:
    margin = findings.study.outcome
    likely = how_likely(bayes_of(findings, row), margin, tenths=findings.shared)
    return _joined(
        rules_out(row, margin, small_at(findings, row, margin.zero)), likely or no_chance(findings)
    )


def bayes_of(findings: Findings, row: EffectRow) -> EffectRow | None:
    """The Bayesian row of the same estimand in points, or None."""
    pain = findings.as_rated.pain_adjusted if findings.as_rated is not None else row.pain_adjusted
    found = findings.rows(
        outcome=row.outcome,
        term=row.term,
        level=row.level,
        adjustment=row.adjustment,
        pain_adjusted=pain,
        contrast=row.contrast,
        scale="points",
    )
    return next((r for r in found if r.by.interval == "credible" and not r.by.comparator), None)


def standing(findings: Findings) -> str:
    """How much the size of the record allows and what the challenges said, with the reminder that a sequence
    is no cause.
    """
    return _joined(size_said(findings), challenged(findings))


def size_said(findings: Findings) -> str:
    """The gate's sentence where the gate decides; else what of the record is estimated all the same."""
    if findings.described:
        return NOTHING
    if findings.primary is not None or no_answer(findings).why in FEW:
        return findings.gate.sentence
    words, fit = Words(findings), main_fit(findings)
    terms = terms_in(findings, fit) if fit is not None and fit.usable else ()
    if fit is None or not terms:
        return "The record is described; for the main question nothing is estimated."
    return (
        f"The main question stays open; {listed([words.label(t) for t in terms])} "
        f"{'are' if len(terms) > 1 else 'is'} set beside {words.asked} of {words.then} in "
        f"the results ({words.sample(fit)}); {SEQUENCE}."
    )


def challenged(findings: Findings) -> str:
    """How many challenges held, did not hold or could not tell, and that none sees an unrecorded cause; empty
    without a result.

    A result whose interval includes 0 is said to have stayed as it was, undecided where it is, and not to
    have stood.
    """
    row = findings.primary
    if row is None:
        return ""
    aim, kept, stayed = KEPT.get(answer_kind(findings), ("break the result", "left it standing", "stood"))
    tried = findings.count("challenges_tried")
    if not tried:
        return f"No challenge was run; {SEQUENCE}."
    unseen = (
        "the attempt cannot see what was not recorded"
        if tried == 1
        else "none of them can see what was not recorded"
    )
    names = [c.title.lower() for c in findings.challenges if c.verdict == "does_not_hold"]
    which = f" ({', '.join(names)})" if names else ""
    held, fell, open_ = (findings.count(f"challenges_{v}") for v in ("holds", "does_not_hold", "cannot_tell"))
    if held == tried:
        told = f"it {stayed}" if tried == 1 else f"it {stayed} each time"
        return f"In {plural(tried, 'attempt')} to {aim} {told}; {unseen}; {SEQUENCE}."
    ended = [(held, kept), (fell, f"did not{which}"), (open_, "could not tell")]
    said = f"Of {plural(tried, 'attempt')} to {aim}, {listed([f'{n} {how}' for n, how in ended if n])}"
    return f"{said}; {unseen}; {SEQUENCE}."


def _lines(findings: Findings) -> str:
    """What findings show of themselves: their size, what it allows, and the primary row."""
    words, row = Words(findings), findings.primary
    size = words.sizes(findings.count("people"), findings.count("steps"))
    made = f"{plural(len(findings.fits), 'fit')}, {plural(len(findings.challenges), 'challenge')}"
    if row is not None:
        said = effect_words(row.model_dump(), words.step, findings.study.variables)
    else:
        none = "no fit carries the primary row"
        said = "described; nothing could be asked" if findings.described else none
    return "\n".join((f"{size}; {made}", size_said(findings), said))


def _more(findings: Findings) -> str:
    """What can be done with them."""
    named = [f"{f.engine} ({'usable' if f.usable else 'not usable'})" for f in findings.fits]
    return (
        f"Fits: {'; '.join(named) or 'none'}. Figures: lw.figure(findings, name). Documents: "
        "lw.write_up(findings, folder)"
    )


TEXTS = {"findings.lines": _lines, "findings.more": _more}
"""What the findings ask for by name (`lagwise.core.claim.said`)."""

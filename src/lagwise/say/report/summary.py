"""The first screen: what was asked, the answer in one sentence, what it amounts to, and three ways on from
there.
"""

from __future__ import annotations

from lagwise.core.numbers import decimals, people_said, plural, side
from lagwise.core.words import capital, listed
from lagwise.document.tree import Block, Box, Para, link, para, strong
from lagwise.findings import EffectRow, Findings
from lagwise.say.phrases import difference
from lagwise.say.report.absolute import absolute_risk
from lagwise.say.report.challenges import challenged
from lagwise.say.report.closest import closest
from lagwise.say.report.described import NOTHING, described
from lagwise.say.report.figures_answer import ANSWER
from lagwise.say.report.fitted import main_fit, terms_in
from lagwise.say.report.flares import flare_risk
from lagwise.say.report.further import asked_count
from lagwise.say.report.ratings import only_load
from lagwise.say.report.reasons import FEW, left_said, no_answer, no_chance
from lagwise.say.report.shown import small_at
from lagwise.say.report.sources import source
from lagwise.say.report.wording import (
    answer_kind,
    begun,
    count_of,
    how_likely,
    limits,
    natural,
    read_apart,
    rules_out,
    short_limits,
)
from lagwise.say.report.words import Words
from lagwise.say.show_results import effect_words

SEQUENCE = "A sequence in time is not a reason."


def summary(findings: Findings) -> tuple[Para, ...]:
    """The opening under its question: the answer with its interval, what it amounts to beside what the plan
    calls important, one absolute figure, and that a sequence is no reason.

    A result is given only where a usable fit carries it; else what was recorded.
    """
    if findings.described:
        return described(findings)
    words, row = Words(findings), findings.primary
    if row is None:
        said = (f"No answer to the main question: {no_answer(findings).sentence}", record(findings, words))
        return tuple(para(text, role="lead") for text in said)
    more = [weight(findings, words), absolute(findings, words), SEQUENCE]
    return (
        para(answer(row, words), role="lead", source=source(row, words)),
        para(" ".join(filter(None, more))),
        *also(findings),
    )


def answer(row: EffectRow, words: Words, *, beside: int = 1) -> str:
    """The result of a row in one sentence of at most 30 words; `beside` is the lag of the question that it
    stands beside, where the next step is taken as read."""
    places = decimals(row.low, row.high)
    found = difference(row.estimate or 0.0, places, words.unit)
    scale = f"; {words.span}" if words.on_scale else ""
    interval = f"95 % interval {short_limits(row.low, row.high, places, words.unit)}"
    later = "" if beside else f" {words.on} {words.then}"
    then = later if words.question.lag else f" that {words.step}"
    return f"{capital(words.steps_of(row))} were followed by {words.asked} {found}{then} ({interval}{scale})."


def weight(findings: Findings, words: Words) -> str:
    """What the answer amounts to: never better than the worst attempt to break it allows."""
    row, margin = findings.primary, findings.study.outcome
    assert row is not None
    fell = [c.title.lower() for c in findings.fell]
    if fell:
        one = "one challenge" if len(fell) == 1 else f"{len(fell)} challenges"
        return f"Undecided: it did not come through {one} ({', '.join(fell)})."
    if read_apart(findings):
        joint, plain = findings.joint, findings.as_rated
        assert joint is not None and plain is not None
        other = plain if row is joint else joint
        places = decimals(other.low, other.high)
        found = difference(other.estimate or 0.0, places, words.unit)
        limited = short_limits(other.low, other.high, places, words.unit)
        return f"Undecided: by the {other.by.label} it is {found} ({limited})."
    amount, zero = margin.amount(margin.important), margin.amount(margin.zero)
    kind, low, high = answer_kind(findings), row.low, row.high
    where = small_at(findings, row, margin.zero)
    if low is None or high is None:
        return "No interval is available, so nothing is ruled out."
    most, least = max(abs(low), abs(high)), min(abs(low), abs(high))
    if kind == "practically_none" and where:
        return f"Practically no difference: all of the interval lies within {zero} either way."
    if kind.startswith("small") and where:
        return f"All of the interval lies within {zero} either way, which the plan calls practically zero."
    if not side(low, high):
        room = "rules out" if most <= margin.important else "leaves room for"
        return f"Undecided: the interval includes 0 and {room} {amount}, which the plan calls important."
    if least >= margin.important:
        return f"All of the interval lies at {amount} or more, which the plan calls important."
    if most <= margin.important:
        return f"It rules out {amount}, the least that the plan calls important."
    return f"It leaves room for {amount}, the least that the plan calls important."


def absolute(findings: Findings, words: Words) -> str:
    """One absolute figure with its interval, from the flare model, which its section tells of as well, or
    else the ordinal model; empty where there is neither.
    """
    found, what = flare_risk(findings, words), f"a {words.turn}"
    if found is None and (found := absolute_risk(findings, words)) is not None:
        what = what if found.what == words.turned else found.what
    if found is None:
        return ""
    one, other, apart = natural(found.risk)
    return (
        f"About {one} of 100 such {words.steps} came before {what}, against {other} of 100 "
        f"{found.reference} ({apart})."
    )


def also(findings: Findings) -> tuple[Para, ...]:
    """The answer of each further question, a sentence each, and how many were asked."""
    if not findings.also:
        return ()
    said = []
    for question in findings.also:
        view = findings.asking(question)
        row, words = view.primary, Words(view)
        told = f"No answer on {words.asks}: {words_why(view)}"
        if row is not None:
            told = answer(row, words, beside=Words(findings).question.lag)
        said.append(para(strong("Asked as well. "), told))
    return (*said, para(asked_count(findings), role="note"))


def words_why(view: Findings) -> str:
    """Why a further question has no answer."""
    return next((f"{f.why_not.rstrip('.')}." for f in view.fits if f.why_not), "no model was fitted.")


def doors(findings: Findings, *, pictured: bool = False) -> tuple[Box, ...]:
    """Three ways on from the answer: how sure it is, what could overturn it, and who it is about. `pictured`
    says how the picture beside it is to be read.
    """
    if findings.described:
        return ()
    words, row = Words(findings), findings.primary
    who: list[Block] = [para(text) for text in (question(findings, words), record(findings, words))]
    who.append(para(link("Who and what was recorded", "recorded")))
    if row is None:
        sure = [para(text) for text in (size_said(findings),)]
        return (Box("How sure", tuple(sure), "door", "how-sure"), Box("Who", tuple(who), "door", "who"))  # type: ignore[arg-type]
    margin = findings.study.outcome
    likely = how_likely(bayes_of(findings, row), margin, tenths=findings.shared)
    told = [
        rules_out(row, margin, small_at(findings, row, margin.zero)),
        beside_it(findings, words),
        likely or f"{capital(no_chance(findings))}.",
        f"{capital(size_said(findings).rstrip('.'))}.",
        left_said(findings, words),
        ANSWER if pictured else "",
    ]
    sure = [para(text) for text in told if text]
    near = closest(findings)
    if near is not None and near.verdict == "holds":
        near = None
    title = "What could overturn it" + (f": {near.title[0].lower()}{near.title[1:]}" if near else "")
    over: list[Block] = [para(f"{capital(near.ended)}: {near.reason}.")] if near else []
    over += [
        para(" ".join(filter(None, (challenged(findings), of_base(findings))))),
        para(link("What we tried to break it with", "challenges")),
    ]
    return (
        Box("How sure", tuple(sure), "door", "how-sure"),
        Box(title, tuple(over), "door", "overturn"),  # type: ignore[arg-type]
        Box("Who", tuple(who), "door", "who"),  # type: ignore[arg-type]
    )


def of_base(findings: Findings) -> str:
    """What it means that the base which load is set against adds nothing; empty where it does."""
    told = "The one about the usual load says that the difference belongs to load itself, whatever is usual."
    return told if findings.base_fell and not findings.fell else ""


def record(findings: Findings, words: Words) -> str:
    """How many ratings there are of what is asked about and how many turns for the worse began."""
    rated = count_of(findings.rated("steps"), f"person-{words.steps}")
    return f"{capital(words.asked)} was rated in {rated}; {words.by} {begun(findings)}."


def question(findings: Findings, words: Words) -> str:
    """Who was followed."""
    people, steps = findings.count("people"), findings.count("steps")
    was = "was" if people == 1 else "were"
    return f"{people_said(people)} {was} followed over {plural(steps, f'person-{words.step}')}."


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
        both = [r for r in (row, other) if r.low is not None and r.high is not None]
        apart = len(both) > 1 and max(r.low or 0.0 for r in both) > min(r.high or 0.0 for r in both)
        but = ", but their intervals lie apart: the size is in doubt" if apart else ""
        return f"{told} Both read alike{but}."
    return (
        f"{told} The two read differently, so the answer is undecided. It turns on how far ratings stray "
        f"from {words.asked} and how far load follows {words.asked}."
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
        f"the results ({words.sample(fit)})."
    )


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

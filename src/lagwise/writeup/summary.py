"""The answer in four sentences: what was asked of whom, what was found, what that rules out, how much to make of it."""

from __future__ import annotations

from lagwise.writeup.absolute import absolute_risk
from lagwise.writeup.content import Para, para
from lagwise.writeup.findings import EffectRow, Findings
from lagwise.writeup.numbers import plural
from lagwise.writeup.wording import counted, followed, how_likely, margins, rules_out
from lagwise.writeup.words import ENGINES, Words


def summary(findings: Findings) -> tuple[Para, ...]:
    """The opening paragraph, one sentence each; a result only where a usable fit carries it."""
    words = Words(findings)
    row = findings.primary
    if row is None:
        answer = [f"The main question was not answered: {no_answer(findings)}"]
    else:
        answer = [" ".join(filter(None, (_risk(findings, words), followed(row, words)))), _weight(findings, row)]
    return (para(" ".join([question(findings, words), *answer, standing(findings)]), role="lead"),)


def question(findings: Findings, words: Words) -> str:
    """Who was followed and what was asked."""
    people, steps = findings.count("people"), findings.count("steps")
    return (
        f"In {plural(people, 'person', 'people')} followed over {plural(steps, f'person-{words.step}')}, it was asked whether "
        f"{words.steps} with a higher {words.label(words.primary)} were followed by higher or lower pain in the next "
        f"{words.step}."
    )


def no_answer(findings: Findings) -> str:
    """Why there is no result: the gate, no load, or the fit whose gates failed, in one sentence."""
    if findings.gate.name == "describe":
        return findings.gate.sentence
    failed = [f for f in findings.fits if not f.usable and f.engine in ("mixed", "within")]
    if failed:
        first = failed[0]
        return f"the {ENGINES.get(first.engine, first.engine)} is not usable ({first.why_not.rstrip('.')})."
    if not findings.count("load_steps") and findings.study.of("analysis", "primary") == "jump":
        return "no training load was recorded."
    return "no model of it was fitted."


def _risk(findings: Findings, words: Words) -> str:
    found = absolute_risk(findings, words)
    return "" if found is None else counted(found.risk, found.what, found.more, found.reference)


def _weight(findings: Findings, row: EffectRow) -> str:
    margin = margins(findings)
    bayes = bayes_of(findings, row)
    return " ".join(filter(None, (rules_out(row, margin), how_likely(bayes, margin))))


def bayes_of(findings: Findings, row: EffectRow) -> EffectRow | None:
    """The Bayesian row of the same estimand in points, or None."""
    found = findings.rows(
        engine=("ordinal", "metric"),
        outcome=row.outcome,
        term=row.term,
        level=row.level,
        adjustment=row.adjustment,
        pain_adjusted=row.pain_adjusted,
        contrast=row.contrast,
        scale="points",
    )
    return found[0] if found else None


def standing(findings: Findings) -> str:
    """The gate reached and what the challenges said, with the reminder that a sequence is no cause."""
    return f"{findings.gate.sentence} {challenged(findings)}".strip()


def challenged(findings: Findings) -> str:
    """How many challenges held, did not hold or could not tell; empty without challenges."""
    ran = [c for c in findings.challenges if c.verdict != "informative"]
    if not ran or findings.primary is None:
        return "This is a sequence in time, seen in a log; it is not shown to be more than that."
    held, fell, open_ = (sum(c.verdict == v for c in ran) for v in ("holds", "does_not_hold", "cannot_tell"))
    names = [c.title.lower() for c in ran if c.verdict == "does_not_hold"]
    which = f" ({', '.join(names)})" if names else ""
    return (
        f"Of {plural(len(ran), 'attempt')} to break the result, {held} left it standing, {fell} did not{which} and {open_} "
        f"could not tell; it is a sequence in time, seen in a log, and not shown to be more than that."
    )

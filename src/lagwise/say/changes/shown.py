"""How what followed an event, and people against themselves, show themselves in notebooks and at prompts."""

from __future__ import annotations

from dataclasses import replace

from lagwise.core.against_self import DesignComparable, PersonPhases, Stretches
from lagwise.core.followed import Followed
from lagwise.core.numbers import fixed, interval, number
from lagwise.core.words import capital
from lagwise.document.card import card, quiet, table
from lagwise.document.tree import Document
from lagwise.findings.codes import shown
from lagwise.say.changes import phases as one
from lagwise.say.changes.kinds import event
from lagwise.say.changes.stretches import NOTE, measured_in, records, rows
from lagwise.say.show_results import BETWEEN, challenges_card
from lagwise.say.voice import Voice


def followed_text(found: Followed) -> str:
    """What was found in a few lines."""
    lines = (f"Followed: {found.outcome.label} after {event(found.kind)}", *found.sentences)
    return "\n  ".join([*lines, ".effects, .people, .course, .tests, .figure"])


def followed_card(found: Followed) -> Document:
    """What was found in words, the mean of the first steps by each way of comparing, and the attempts to
    break it."""
    mean = found.effects[found.effects["contrast"].str.startswith("mean")]
    told = mean[["model", "estimate", "low", "high", "n_people"]].itertuples(index=False)
    rows = [(model, number(value, low, high), interval(low, high), n) for model, value, low, high, n in told]
    columns = ("way of comparing", f"difference, {found.outcome.unit}s", BETWEEN, "events")
    inner = table("Mean of the first steps after", columns, rows, right=columns[1:])
    tried = challenges_card(found.tests).blocks if len(found.tests) else ()
    return card(capital(f"{found.outcome.label} after {event(found.kind)}"), found.sentences, inner, tried)


def stretches_text(found: Stretches) -> str:
    """What was found in a few lines."""
    return "\n  ".join([f"Stretches: {found.outcome.label}", *found.sentences, ".table, .people"])


def stretches_card(found: Stretches) -> Document:
    """What was found in words, and the differences in every variable recorded."""
    voice = replace(Voice.of(found.study), question=found.study.outcome_of(found.outcome.name))
    head, cells, pairs = rows(records(found.table), voice, measured_in(found.study.load.measure))
    inner = table("Stretches of the calendar", head, cells, right=head[1:], groups=pairs)
    title = capital(f"{found.outcome.label} in stretches of the calendar")
    return card(title, found.sentences, inner, quiet(voice.fill(NOTE)))


def phases_text(found: PersonPhases) -> str:
    """What was found in a few lines."""
    title = f"Phases of {shown(found.person)}: {found.outcome.label}"
    return "\n  ".join([title, *found.sentences, ".table, .phases, .figure"])


def phases_card(found: PersonPhases) -> Document:
    """One person's changes in words and as a table."""
    head, cells = one.rows(records(found.table))
    title = "Each change against the part before it, rated steps in brackets"
    inner = table(title, head, cells, right=head[1:])
    own = quiet("These are personal data, whatever the code.")
    return card(f"{capital(found.outcome.label)} of {shown(found.person)}", found.sentences, inner, own)


def design_comparable_text(found: DesignComparable) -> str:
    """What was found in a few lines."""
    title = f"Design-comparable: {found.outcome.label} after {event(found.kind)}"
    return "\n  ".join([title, *found.sentences, ".table, .people"])


def design_comparable_card(found: DesignComparable) -> Document:
    """What was found in words, and the size with what it is made of."""
    (r,) = records(found.table)
    told = (number(r["g"], r["low"], r["high"]), interval(r["low"], r["high"]), one.degrees(r["df"]))
    made = (fixed(r["rho"], 2), fixed(r["sigma2"] ** 0.5, 2), fixed(r["tau2"] ** 0.5, 2), f"{r['n_people']}")
    head = ("size", BETWEEN, "df", "rho", "SD within", "SD between", "people")
    inner = table("Design-comparable standardised difference", head, [(*told, *made)], right=head)
    title = f"{found.outcome.label} after {event(found.kind)}, in units of the spread between people"
    return card(capital(title), found.sentences, inner)

"""One person's course as a picture: load, effort, the rating asked about and its turns for the worse on one
time axis, in the words of who reads it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lagwise.core.numbers import fixed, plural, whole
from lagwise.core.question import Outcome
from lagwise.core.words import listed, turns
from lagwise.events.phased import Cut, Event, cut, phases
from lagwise.findings import PersonSeries, PictureFacts, Table
from lagwise.say.changes.kinds import heading
from lagwise.say.report.words import STATE


@dataclass(frozen=True)
class Whose:
    """Whose record it is, in words: texts take `{held}` (what was recorded) and `{step}`; `note` stands under
    the title. The picture is `narrow` where it is read on a phone.
    """

    title: str
    x: str
    reported: str
    note: str = ""
    narrow: bool = False


YOURS = Whose("Your {held}, {step} by {step}", "{step} of your record", "you call it a flare-up", narrow=True)


def of_somebody(code: str) -> Whose:
    """The words for a reader who is not the person; `code` as it may be shown."""
    return Whose(
        f"{code}: {{held}}, {{step}} by {{step}}",
        "{step} of the record",
        "called a flare-up",
        "The record of one person, which is personal data even under a code.",
    )


def course_picture(
    one: PersonSeries,
    facts: Mapping[str, Any],
    measure: str,
    step: str,
    asked: Outcome,
    whose: Whose = YOURS,
    kind: str | None = None,
) -> PictureFacts:
    """The picture of one person's course, for `lagwise.writeup.draw_person`.

    Parameters
    ----------
    one : PersonSeries
    facts : mapping
        pain_steps, lowest_pain, mean_pain, highest_pain (or of another rating asked about) and mean_load, as
        in `describe.people_table` or from `facts_of`.
    measure : str
        The load measure in words.
    step : str
        What a calendar step is called.
    asked : Outcome
        What the study asks about.
    whose : Whose
    kind : str, optional
        The one kind of event that is marked; by default every kind.
    """
    effort = one.effort or (None,) * len(one)
    own = one.reported if asked.name == "pain" else (None,) * len(one)  # of a flare-up of pain
    usual = tuple(
        load / math.exp(jump) if load and jump is not None else None
        for load, jump in zip(one.load, one.jump, strict=True)
    )
    rows = tuple(
        (i, STATE[one.state[i]], one.pain[i], one.load[i], effort[i], one.flare[i], own[i], usual[i])
        for i in range(len(one))
    )
    series = {"load": one.load, "effort": effort}
    label, (turn, _) = asked.variable.label, turns(asked.variable)
    held = listed([label, *(name for name, values in series.items() if any(v is not None for v in values))])
    return PictureFacts(
        kind="course",
        title=whose.title.format(held=held, step=step),
        data=Table(
            columns=("step", "state", "pain", "load", "effort", "flare", "reported", "usual"),
            rows=rows,
            made_by="build_panel",
        ),
        x=whose.x.format(step=step),
        y="",
        alt=" ".join(filter(None, (_alt(one, facts, measure, step, asked, kind), whose.note))),
        options={
            "asked": label,
            "low": asked.variable.low,
            "high": asked.variable.high,
            "begins": f"a {turn} begins, by the ratings",
            "load": f"Load ({measure})",
            "unknown": "training not written down",
            "usual": f"usual load, from the {step}s before",
            "step": step,
            "reported": whose.reported,
            "subtitle": whose.note,
            "narrow": whose.narrow,
            **_marked(one, kind),
        },
    )


def facts_of(one: PersonSeries, name: str = "pain") -> dict[str, Any]:
    """What the words beside a course need, from the course itself, of the rating of that name; a mean of
    nothing is None.
    """
    rated, load = ([v for v in values if v is not None] for values in (one.pain, one.load))
    return {
        f"{name}_steps": len(rated),
        f"lowest_{name}": min(rated, default=None),
        f"mean_{name}": math.fsum(rated) / len(rated) if rated else None,
        f"highest_{name}": max(rated, default=None),
        "mean_load": math.fsum(load) / len(load) if load else None,
    }


def events_of(one: PersonSeries, kind: str | None = None) -> list[Event]:
    """What changed for a person, or what of one kind did."""
    return [Event(e.kind, e.start, e.until, e.because) for e in one.events if kind in (None, e.kind)]


def numbered(one: PersonSeries, kind: str | None = None) -> list[tuple[int, Cut]]:
    """What changed inside a record, with its number in the picture and among all changes."""
    found = enumerate(cut(one.pain, events_of(one, kind))[1], 1)
    return [(number, c) for number, c in found if all(0 < at < len(one) for at in c.starts)]


def _marked(one: PersonSeries, kind: str | None) -> dict[str, Any]:
    """Where something changed, by the numbers of changes, and the mean of each part; nothing uncut."""
    cuts = [(at, str(number)) for number, c in numbered(one, kind) for at in c.starts]
    if not cuts:
        return {}
    found = phases(one.pain, events_of(one, kind)).to_numpy().tolist()
    means = [(int(first), int(last), mean) for first, last, _, mean in found]
    return {"cuts": cuts, "means": means, "changed": "something changed", "mean": "average of a part"}


def _alt(
    one: PersonSeries, facts: Mapping[str, Any], measure: str, step: str, asked: Outcome, kind: str | None
) -> str:
    parts, name, scale = [], asked.name, asked.variable
    if facts.get(f"{name}_steps"):
        low, mean, high = (
            fixed(facts[f"{k}_{name}"], scale.places - 1) for k in ("lowest", "mean", "highest")
        )
        steps, ends = (
            plural(facts[f"{name}_steps"], step),
            f"of {scale.high:g}" if scale.low == 0 else f"on {asked.span}",
        )
        parts.append(f"{scale.label} rated in {steps}, from {low} to {high}, average {mean}, {ends}")
    if facts.get("mean_load") is not None:
        parts.append(f"load in {measure}, average {fixed(facts['mean_load'], 1)} a {step}")
    if any(v is not None for v in one.effort):
        parts.append(f"effort, 0 to 10, in {plural(sum(v is not None for v in one.effort), step)}")
    begun = [whole(i + 1) for i, flare in enumerate(one.flare) if flare]
    if begun:
        parts.append(
            f"{turns(scale)[1]} beginning: {step if len(begun) == 1 else step + 's'} {listed(begun)} "
            "of the record"
        )
    inside = [e for e in events_of(one, kind) if 0 < e.start < len(one)]
    if inside:
        marked = listed([f"{heading(e.kind)} before {step} {e.start + 1}" for e in inside])
        parts.append(f"lines where something changed: {marked}")
    return (
        f"Charts on one time line of {plural(len(one), step)}: "
        f"{'; '.join(parts) or 'nothing was written down'}."
    )

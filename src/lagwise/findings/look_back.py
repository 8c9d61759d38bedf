"""What changed between an earlier report and a later one."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lagwise.core.errors import WriteUpError
from lagwise.core.study import plan_changes
from lagwise.findings.facts import PersonSeries
from lagwise.findings.moves import chance_of_looks, moves
from lagwise.findings.plain import scalar
from lagwise.findings.since import CAUTIONS, Caution, Choice, Counted, Ended, Look, Since
from lagwise.findings.value import Findings

FILE = "findings.json"
COUNTS = ("people", "steps", "main_steps", "flare_onsets", "flare_people")
ROWS = ("sessions", "checkins", "weeks")
HOW = ("quick", "draws", "chains", "seed")
"""Settings of a report that a comparison tells of."""
AT_LEAST = 3
"""Known values that a person's two courses must have in common to be told for one and the same."""


def findings_at(path: str | Path) -> Findings:
    """The findings of a report folder, or of its findings.json.

    Raises
    ------
    WriteUpError
        When nothing is there, or what is there is no findings.
    """
    place = Path(path)
    file = place / FILE if place.is_dir() else place
    if not file.exists():
        raise WriteUpError(
            f"there is no {FILE} here" if place.is_dir() else "there is nothing here",
            where=str(path),
            mend=f"Name a folder that `lagwise report` wrote, or its {FILE}.",
        )
    return Findings.read(file)


def look_back(new: Findings, old: Findings) -> Since:
    """What changed since an earlier report of the same study.

    Raises
    ------
    WriteUpError
        When the two do not ask the same, step differently or are of different studies.
    """
    courses = None if new.shared or old.shared else _courses(new, old)
    _require_comparable(new, old, courses)
    changed = plan_changes(old.study.plan, new.study.plan)
    same_plan = old.study.plan_hash == new.study.plan_hash
    left = courses.gone if courses else ()
    settings = _settings(new, old)
    known = courses is None or courses.known
    kept = None if not known else 1.0 if courses is None else courses.kept
    found: dict[Caution, Any] = {
        "same": new == old,
        "plan": not same_plan,
        "edited": courses and known and courses.edited_steps,
        "codes": not known,
        "left": left if known else new.count("people") < old.count("people"),
        "order": new.provenance.made_on < old.provenance.made_on,
        "shared": new.shared or old.shared,
        "version": new.provenance.lagwise != old.provenance.lagwise,
        "settings": settings,
    }
    looks = _looks(new, old)
    steps = [*(look.steps for look in looks), _steps(new)]
    told = courses if known else None
    return Since(
        looks=looks,
        intervals=sum(n > 0 for n in steps),
        chance=chance_of_looks(steps),
        cautions=tuple(code for code in CAUTIONS if found.get(code)),
        counts=tuple(_counts(new, old)),
        came=told.came if told else None,
        left=len(told.gone) if told else None,
        gone=told.gone if told else (),
        edited_steps=told.edited_steps if told else None,
        edited_people=told.edited_people if told else None,
        renewed=told.renewed if told else None,
        until=(_until(old), _until(new)),
        plan=() if same_plan else tuple(_choices(changed)),
        settings=settings,
        moves=tuple(moves(new, old, () if same_plan else changed, kept=kept)),
        verdicts=tuple(_verdicts(new, old)),
    )


@dataclass(frozen=True)
class Courses:
    """Two reports' courses set beside each other by the codes of people.

    `known` says whether somebody of the earlier report is there with most of the same values; `kept` is the
    share of the earlier steps whose people are still there; `renewed` counts people who have steps, ratings
    or loads that they did not have, or had otherwise.
    """

    known: bool
    came: int
    gone: tuple[str, ...]
    kept: float
    edited_steps: int
    edited_people: int
    renewed: int


def _courses(new: Findings, old: Findings) -> Courses | None:
    """By ratings and loads; by loads alone where the two ask about different ratings, None without any."""
    now, was = ({p.person: p for p in f.people} for f in (new, old))
    rated = new.study.outcome.name == old.study.outcome.name
    if not rated and all(x is None for p in was.values() for x in p.load):
        return None
    both = [(now[code], was[code]) for code in was if code in now]
    beside = [_aligned(*pair, rated) for pair in both]
    steps = sum(map(len, was.values()))
    return Courses(
        known=any(same >= AT_LEAST and 2 * same >= same + other for same, other in beside),
        came=len(now.keys() - was.keys()),
        gone=tuple(sorted(was.keys() - now.keys())),
        kept=sum(len(then) for _, then in both) / steps if steps else 0.0,
        edited_steps=sum(other for _, other in beside),
        edited_people=sum(other > 0 for _, other in beside),
        renewed=sum(a != b if rated else a.load != b.load for a, b in both),
    )


def _aligned(new: PersonSeries, old: PersonSeries, rated: bool) -> tuple[int, int]:
    """How many values of a person's earlier course read the same and how many otherwise, at the place in the
    later one where most agree; the last step, which may not have been over, counts for neither.
    """
    told = ((one.pain, one.load) if rated else (one.load,) for one in (new, old))
    values = [list(zip(*one, strict=True)) for one in told]

    def at(start: int) -> tuple[int, int]:
        pairs = zip(values[1][:-1], values[0][start:], strict=False)
        told = [
            [_alike(a, b) for a, b in zip(then, now, strict=True) if a is not None] for then, now in pairs
        ]
        steps = [all(one) for one in told if one]
        return sum(steps), len(steps) - sum(steps)

    places = [at(start) for start in range(max(len(new) - len(old), 0) + 1)]
    return max(places, key=lambda found: found[0])


def _alike(one: float, other: float | None) -> bool:
    return other is not None and abs(one - other) < 1e-9


def _require_comparable(new: Findings, old: Findings, courses: Courses | None) -> None:
    mend = "Name two reports of one study that ask the same question."
    days = [f.study.of("clock", "step_days") for f in (old, new)]
    if days[0] != days[1]:
        raise WriteUpError(
            f"the two reports step by {days[0]} and by {days[1]} days, and cannot be compared",
            where="compare",
            mend=mend,
        )
    asked = [{v.study.outcome.column for v in (f, *map(f.asking, f.also))} for f in (old, new)]
    if not asked[0] & asked[1]:
        was, now = (f.study.outcome.variable.label for f in (old, new))
        raise WriteUpError(
            f"the earlier report asks about {was} and this one about {now}, so they cannot be compared",
            where="compare",
            mend=mend,
        )
    if old.study.title != new.study.title and not (courses and courses.known):
        raise WriteUpError(
            f"these are two studies, {old.study.title!r} and {new.study.title!r}, and cannot be compared",
            where="compare",
            mend=mend,
        )


def digest(findings: Findings) -> str:
    """SHA-256 of what findings say, by which a later report knows the one before it; fields that a later
    version adds do not change it.
    """
    return hashlib.sha256(findings.model_dump_json(exclude_defaults=True).encode()).hexdigest()


def _looks(new: Findings, old: Findings) -> tuple[Look, ...]:
    """The chain of reports before the new one: that of the earlier report and itself, or the new one's own
    where that is longer.
    """
    before = old.since.looks if old.since is not None else ()
    own = Look(made_on=old.provenance.made_on, digest=digest(old), steps=_steps(old))
    chain = before if new == old else (*before, own)
    other = new.since.looks if new.since is not None else ()
    return max(chain, other, key=len)


def _steps(findings: Findings) -> int:
    return findings.primary.n_steps if findings.primary is not None else 0


def _counts(new: Findings, old: Findings) -> Iterator[Counted]:
    """People, person-steps, rows by table, ratings, events and flare-ups of both."""

    def both(name: str, get: Any) -> Iterator[Counted]:
        was, now = get(old), get(new)
        if was is not None or now is not None:
            yield Counted(name=name, old=was, new=now)

    def rows(table: str, key: str, value: str, count: str) -> Any:
        def get(f: Findings) -> int | None:
            held = f.tables[table].records() if table in f.tables else ()
            return next((int(r[count]) for r in held if r[key] == value and r[count] is not None), None)

        return get

    def events(f: Findings) -> int | None:
        return sum(f.tables["events"].column("n_events")) if "events" in f.tables else None

    def number(name: str) -> Any:
        return lambda f: None if f.number(name) is None else f.count(name)

    for name in COUNTS[:3]:
        yield from both(name, number(name))
    yield from both(
        "rated_steps", lambda f: None if f.rated("steps").value is None else f.rated("steps").value
    )
    for name in ROWS:
        yield from both(name, rows("counts", "table", name, "used"))
    yield from both("events", events)
    for name in COUNTS[3:]:
        yield from both(name, number(name))


def _until(findings: Findings) -> str:
    months = findings.tables["calendar"].column("month") if "calendar" in findings.tables else []
    return max(map(str, months), default="")


def _choices(changed: Mapping[str, tuple[Any, Any]]) -> Iterator[Choice]:
    for key, (was, now) in changed.items():
        yield Choice(key=key, old=_said(was), new=_said(now))


def _said(value: Any) -> Any:
    return ", ".join(map(str, value)) if isinstance(value, list | tuple) else scalar(value)


def _settings(new: Findings, old: Findings) -> tuple[Choice, ...]:
    """The settings that differ between the two runs, and the version where it does."""
    was, now = (f.provenance.settings | {"version": f.provenance.lagwise} for f in (old, new))
    both = {key: (was.get(key), now.get(key)) for key in (*HOW, "version")}
    return tuple(_choices({k: v for k, v in both.items() if v[0] != v[1]}))


def _verdicts(new: Findings, old: Findings) -> Iterator[Ended]:
    """Every challenge that was run in either report."""
    was, now = ({c.name: c for c in f.challenges if not c.problem} for f in (old, new))
    for name, one in {**was, **now}.items():
        then, here = was.get(name), now.get(name)
        ended = [c.verdict if c is not None else "" for c in (then, here)]
        yield Ended(name=name, title=one.title, old=ended[0], new=ended[1])

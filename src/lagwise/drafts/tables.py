"""What a group of sheets holds of each table, as the sections of a draft."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from lagwise.caseload.identifiers import header_words
from lagwise.core.claim import said
from lagwise.core.columns import TABLES
from lagwise.drafts.cells import recurring
from lagwise.drafts.dates import PLACE, after_midnight, days
from lagwise.drafts.fitting import ABOUT, LOADS, RATED
from lagwise.drafts.group import Group, placed
from lagwise.drafts.guess import Guess, Section, look, sure, unused
from lagwise.drafts.meaning import Meaning, Role
from lagwise.drafts.wide import from_date

_SEPARATORS = {"\t": "tab"}


@dataclass(frozen=True)
class Held:
    """A table that a group of sheets holds, with the roles of its columns."""

    table: str
    group: Group
    meaning: Meaning
    roles: Mapping[str, Role]

    @property
    def frame(self) -> pd.DataFrame:
        """The rows of all its sheets."""
        return self.group.sheet.frame

    @property
    def size(self) -> int:
        """Rows times columns that are read."""
        return len(self.frame) * len(self.roles)

    @property
    def days(self) -> pd.Series:
        """The dates of its rows as numbers of days (of the Gregorian calendar, or of the study)."""
        return days(self.frame[self.roles["date"].header].ffill(), self.meaning.dates, PLACE)

    def has(self, *names: str) -> bool:
        """Whether it has a column for any of these."""
        return any(name in self.roles for name in names)


def held(group: Group, meaning: Meaning) -> list[Held]:
    """The tables that a group of sheets holds: one sheet may hold several."""
    roles = meaning.roles
    who = {n: roles[n] for n in ("person",) if n in roles}
    when = {n: roles[n] for n in ("date", "time") if n in roles}
    dated = "date" in roles
    out = []
    if dated and meaning.dates.weekly:
        weekly = [c.name for c in TABLES["weeks"] if c.name in roles]
        load = next((roles[n] for n in ("load", "sets", "minutes") if n in roles), None)
        own = {"week": roles["date"]} | ({"load": load} if load else {})
        return [Held("weeks", group, meaning, who | {n: roles[n] for n in weekly} | own)]
    for table, names in (("sessions", LOADS), ("checkins", RATED)):
        here = {n: roles[n] for n in names if n in roles}
        here |= {r.name: r for r in meaning.own} if table == "checkins" else {}
        if here and (dated or any(role.run for role in here.values())):
            out.append(Held(table, group, meaning, who | when | here))
    here = {n: roles[n] for n in ABOUT if n in roles}
    codes = group.sheet.frame[roles["person"].header].dropna() if who else pd.Series(dtype="str")
    if here and codes.nunique() >= (0.8 if dated else 0.5) * len(codes) > 0:
        out.append(Held("people", group, meaning, who | here))
    kinds = group.sheet.frame[roles["kind"].header].notna().mean() if "kind" in roles else 0
    if dated and kinds and (who or len(group.members) > 1) and (not out or kinds < 0.5):
        placing = {n: roles[n] for n in ("date", "kind", "until", "because") if n in roles}
        out.append(Held("events", group, meaning, who | placing))
    return out


def sections(one: Held, files: Sequence[str]) -> list[Section]:
    """The sections of a draft that say where a table lies and which column is what."""
    key = f"tables.{one.table}"
    named = next((left.header for left in one.meaning.left_out if left.identifying == "a name"), "")
    top = [*placed(one.group, files, "person" in one.roles, named), *_written(one)]
    plain = [_column(one, name, role) for name, role in one.roles.items() if not role.run]
    out = [Section(key, tuple(top)), Section(f"{key}.columns", tuple(plain))]
    out.append(Section(f"{key}.units", tuple(_units(one))))
    out.append(Section(f"{key}.missing", tuple(_missing(one))))
    for name, role in one.roles.items():
        if role.run:
            out.append(Section(f"{key}.wide.{name}", tuple(_wide(one, role))))
    age = one.roles.get("age_band")
    if one.table == "people" and age and age.numbers.share > 0.9:
        why = said("draft.ages", header=age.header, low=age.numbers.low, high=age.numbers.high)
        out.append(Section(f"{key}.bands", (sure("age_band", 10, why),)))
    return out


def _column(one: Held, name: str, role: Role) -> Guess:
    why = [role.why]
    texts = one.frame[role.header].dropna().str.strip()
    if name in ("person", "sex", "region", "site") and (texts.str.lower().nunique() < texts.nunique()):
        twins = texts.groupby(texts.str.lower()).unique()
        why.append(said("draft.two_cases", twins=", ".join(next(t for t in twins if len(t) > 1)[:2])))
    if name == "effort" and _once(one, role):
        why.append(said("draft.once"))
    if name == "kind":
        why.append(said("draft.own_kinds"))
    if role.numbers.ranges[0]:
        cells, such = role.numbers.ranges
        why.append(said("draft.has_ranges", cells=cells, such=such))
    return Guess(name, role.header, role.certainty, "; ".join(why))


def _once(one: Held, role: Role) -> bool:
    """Whether a session's effort stands in one of its rows only."""
    return one.has("exercise") and bool(one.frame[role.header].notna().mean() < 0.6)


def _written(one: Held) -> list[Guess]:
    sheet, meant = one.group.sheet, one.meaning
    out: list[Guess] = []
    if sheet.header > 1:
        above = f"'{sheet.titles[0][:40]}'" if sheet.titles else "nothing"
        out.append(sure("header_row", sheet.header, said("draft.header_below", above=above)))
    if sheet.sep not in ("", ","):
        out.append(sure("sep", _SEPARATORS.get(sheet.sep, sheet.sep), said("draft.sep")))
    if sheet.encoding == "cp1252":
        out.append(look("encoding", "cp1252", said("draft.not_utf8")))
    seen = [role.numbers for role in one.roles.values()]
    commas, points = sum(n.commas for n in seen), sum(n.points for n in seen)
    if commas > points:
        out.append(sure("decimal", ",", said("draft.commas", numbers=commas)))
    if "date" in one.roles or "week" in one.roles:
        out += meant.dates.guesses
    filled = {n: one.frame[one.roles[n].header] for n in ("person", "date") if n in one.roles}
    down = [n for n, values in filled.items() if values.notna().mean() < 0.75 and pd.notna(values.iloc[0])]
    if down:
        rows = int(filled[down[0]].isna().sum())
        out.append(sure("fill_down", down, said("draft.fill_down", rows=rows)))
    if one.table == "sessions" and not one.has("sets"):
        out += _one_set(one)
    if one.table in ("sessions", "checkins") and "date" in one.roles:
        out += _evening(one)
    return out


def _one_set(one: Held) -> list[Guess]:
    """A constant number of sets, where a row is a set."""
    value = {"sets": 1}
    if header := one.meaning.set_numbers:
        return [sure("constant", value, said("draft.row_per_set", header=header))]
    keys = [one.roles[n].header for n in ("person", "date", "exercise") if n in one.roles]
    if not one.has("exercise") or not one.has("reps", "load_kg"):
        return []
    per = len(one.frame) / max(len(one.frame[keys].drop_duplicates()), 1)
    if per >= 1.5:
        return [look("constant", value, said("draft.rows_per_exercise", per=per))]
    return [look("constant", value, said("draft.no_sets"), on=False)]


def _evening(one: Held) -> list[Guess]:
    header = one.roles["time" if "time" in one.roles else "date"].header
    late = after_midnight(one.frame[header])
    if not late:
        return []
    return [look("day_ends", "04:00", said("draft.midnight", late=late), on=False)]


def _units(one: Held) -> list[Guess]:
    out = []
    for name, role in one.roles.items():
        named = {*header_words(role.header)}
        if name == "load_kg" and named & {"lb", "lbs", "pound", "pounds"}:
            out.append(sure(name, "lb", said("draft.unit_told", header=role.header)))
        if name == "minutes" and named & {"h", "hours", "hrs", "std", "stunden"} and role.numbers.high <= 12:
            out.append(look(name, "h", said("draft.unit_small", header=role.header)))
        if name == "sleep_hours" and 24 < role.numbers.high <= 1000 and role.numbers.share > 0.9:
            out.append(look(name, "min", said("draft.in_minutes", high=role.numbers.high)))
        if name == "effort" and role.scale and role.scale[:2] not in ((0, 10), (1, 10)):
            low, high, certainty, why = role.scale
            out.append(Guess(name, f"{low:g}-{high:g}", certainty, why))
    return out


def _missing(one: Held) -> list[Guess]:
    out = []
    for name, role in one.roles.items():
        marks = {mark: n for mark, n in role.numbers.marks.items() if name not in ("person", "date")}
        words = recurring(role.numbers.words, role.numbers.count)
        told = [*marks.items(), *((word, role.numbers.words[word]) for word in words)]
        if told:
            why = said("draft.marks", marks=told)
            out.append(Guess(name, [*marks, *words], "look at this" if words else "sure", why))
    return out


def _wide(one: Held, role: Role) -> list[Guess]:
    run = role.run
    assert run is not None
    after, certainty, why = dict(run.days), role.certainty, run.why
    if run.step == "weekday":
        when = one.roles.get("date")
        if when is None or one.meaning.dates.numbered:
            return [unused(said("draft.weekdays"), h, d) for h, d in after.items()]
        known = ((one.days.dropna() - 1) % 7).astype(int).tolist()
        after, certain, why = from_date(run, known)
        certainty = certainty if certain == "sure" else certain
    first, *_ = after
    lead = Guess(first, after[first], certainty, f"{role.why}; {why}")
    return [lead, *(sure(h, d, said("draft.after", days=d)) for h, d in after.items() if h != first)]

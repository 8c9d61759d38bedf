"""Which column of a sheet is what: by the words of its header, and only if its values bear it out."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import pandas as pd

from lagwise.caseload.identifiers import header_words, looks_like, short_codes
from lagwise.caseload.places import Place
from lagwise.caseload.suggest import meanings
from lagwise.caseload.words import words
from lagwise.core.claim import said
from lagwise.drafts.cells import Numbers, numbers
from lagwise.drafts.dates import Dates, dates
from lagwise.drafts.fitting import COLUMNS, LOADS, RATED, borne_out, fit, numbers_sets
from lagwise.drafts.guess import Certainty, LeftOut
from lagwise.drafts.looking import Sheet
from lagwise.drafts.scales import Scale, scale_of, told_scale
from lagwise.drafts.wide import Run, runs

OWN = words(
    "fatigue tired tiredness soreness mood energy motivation stiffness anxiety enjoyment wellbeing "
    "satisfaction recovery müdigkeit erschöpfung stimmung energie muskelkater laune angespanntheit fatiga "
    "humor ánimo courbatures humeur vermoeidheid affect calm arousal disability function interference"
)
"""Words for ratings that a study declares itself."""
_FITS, _SURE = 0.6, 0.93
_WEIGHT = words("kg lb lbs pounds weight gewicht peso poids")
_CODES = re.compile(r"[A-Za-z]{1,4}[-_ ]?\d{1,4}")
_NUMBERS = words("nr no number nummer num")
_TIME = words("time uhrzeit hora heure ora tijd of day rating session start the check in checkin hh mm")
_NO_KIND = words("redcap name arm type number")
_SET = words("set sets satz sätze serie série series")


@dataclass(frozen=True)
class Role:
    """What a column of a sheet is taken for, and why; `run` are its headers where it is several."""

    name: str
    header: str
    certainty: Certainty
    why: str
    numbers: Numbers = field(default_factory=Numbers, repr=False)
    scale: Scale | None = None
    run: Run | None = None


@dataclass(frozen=True)
class Meaning:
    """What the columns of a sheet are: roles by our name, ratings of the study's own, how its dates are
    written, a column that numbers sets, and the columns left out."""

    roles: Mapping[str, Role]
    own: tuple[Role, ...]
    dates: Dates
    set_numbers: str
    left_out: tuple[LeftOut, ...]


def meaning(sheet: Sheet, place: Place, people: frozenset[str] = frozenset()) -> Meaning:
    """What the columns of a sheet are; `people` are the codes known from other sheets."""
    left: dict[str, LeftOut] = {}
    roles: dict[str, Role] = {}
    own: list[Role] = []
    set_numbers = ""
    frame = sheet.frame
    in_runs = _runs(sheet, roles)
    plain = [h for h in sheet.headers if h not in in_runs]
    kinds = {h: looks_like(h, frame[h]) for h in plain}
    found: list[tuple[tuple, Role, Dates | None]] = []
    for header in plain:
        kind = kinds[header]
        meant = meanings(header)
        best = [one for one in meant if one[1] == meant[0][1]]
        if frame[header].isna().all():
            left[header] = LeftOut(sheet.where, header, said("draft.empty"))
        elif header in sheet.twice:
            left[header] = LeftOut(sheet.where, header, said("draft.twice"))
        elif kind and not _code_after_all(header, frame[header], kind, best):
            left[header] = LeftOut(sheet.where, header, said("draft.looks_like", kind=kind), kind)
        elif {*header_words(header)} & _SET and numbers_sets(frame[header]):
            set_numbers = set_numbers or header
            left[header] = LeftOut(sheet.where, header, said("draft.set_numbers"))
        elif (mine := _own(sheet, header)) is not None:
            own.append(mine)
        else:
            found += _candidates(sheet, place, header, best)
    dated: dict[str, Dates] = {}
    for _, role, when in sorted(found, key=lambda one: one[0]):
        if role.name in roles or any(role.header == other.header for other in roles.values()):
            continue
        roles[role.name] = role
        if when is not None:
            dated[role.name] = when
    _by_values(sheet, place, roles, dated, kinds, people)
    taken = {role.header for role in roles.values()} | {role.header for role in own} | in_runs
    rivals = {role.header: role for _, role, _ in found}
    for header in plain:
        if header not in taken and header not in left:
            left[header] = LeftOut(sheet.where, header, _why_not(header, frame[header], rivals, roles))
    _without_a_sum(sheet, roles, left)
    _with_rivals(roles, found)
    return Meaning(roles, tuple(own), dated.get("date", Dates()), set_numbers, tuple(left.values()))


def _without_a_sum(sheet: Sheet, roles: dict[str, Role], left: dict[str, LeftOut]) -> None:
    """Leave out a load as measured beside what load is counted from."""
    if "load" in roles and ("sets" in roles or {"effort", "minutes"} <= {*roles}):
        header = roles.pop("load").header
        left[header] = LeftOut(sheet.where, header, said("draft.load_counted"))


def _with_rivals(roles: dict[str, Role], found: list) -> None:
    """Mark a role for which another column would do as well."""
    for name, role in roles.items():
        rank = next((key[1] for key, r, _ in found if r is role), 0)
        alike = [r.header for key, r, _ in found if r.name == name and r is not role and key[1] == rank]
        if alike and name not in ("person", "date", "load"):
            why = said("draft.or_is_it", why=role.why, header=alike[0])
            roles[name] = replace(role, certainty="look at this", why=why)


def _code_after_all(header: str, values: pd.Series, kind: str, best: list) -> bool:
    """Whether a column that looks identifying holds plain codes, or its header says it is the exercise."""
    if kind in ("a name", "a record number") and short_codes(values):
        return not looks_like("", values)
    named = {name for name, *_ in best}
    wordy = {"exercise", "kind", "date", "week"}
    return kind == "free text" and bool(named & wordy) and not looks_like(header)


def _runs(sheet: Sheet, roles: dict[str, Role]) -> set[str]:
    """Roles of columns that are the same on several days; returns their headers."""
    out: set[str] = set()
    for run in runs(sheet.headers):
        beside = (*sheet.titles, sheet.name, re.sub(r"\.\w+$", "", sheet.file))
        told = [
            (text, m)
            for text in (run.stem, *beside)
            if (m := [n for n, *_ in meanings(text) if n in RATED or n in LOADS])
        ]
        values = pd.concat([sheet.frame[h] for h in run.days], ignore_index=True)
        by_values = not told and run.step in ("weekday", "date")
        name = told[0][1][0] if told else "pain" if by_values else ""
        vague = run.step in ("number", "visit")  # T1, 2, 3: of what, only the header itself may say
        if not name or name in roles or name == "exercise":
            continue
        if vague and (name in LOADS or told[0][0] != run.stem):
            continue
        column = COLUMNS[name]
        seen = numbers(values, column)
        if column.kind != "yesno" and (
            seen.share < _FITS or (by_values and not 0 <= seen.low <= seen.high <= 15)
        ):
            continue
        text = told[0][0] if told else ""
        by_header = bool(text) and text == run.stem
        certainty = run.certainty if by_header else "look at this"
        told_of = {"days": len(run.days), "step": run.step, "name": name, "text": text}
        why = said("draft.run", **told_of, by_header=by_header)
        scale = scale_of(run.stem, sheet.titles, seen) if column.rated else None
        roles[name] = Role(name, next(iter(run.days)), certainty, why, seen, scale, run)
        out |= {*run.days}
    return out


def _candidates(
    sheet: Sheet, place: Place, header: str, best: list
) -> list[tuple[tuple, Role, Dates | None]]:
    """What a column may be, by its header, with a rank: the likelier the smaller."""
    values = sheet.frame[header]
    out: list[tuple[tuple, Role, Dates | None]] = []
    named = {*header_words(header)}
    for name, length, over in best:
        if (name == "time" and not named <= _TIME) or (name == "kind" and named & _NO_KIND):
            continue
        name = {"week": "date"}.get(name, name)
        unclear = name == "load_kg" and not named & _WEIGHT
        if unclear and not any(n in ("sets", "reps") for h in sheet.headers for n, *_ in meanings(h)):
            name = "load"
        if name == "sleep_hours" and numbers(sheet.frame[header]).high <= 5:
            name, unclear = "sleep_quality", True
        share, seen, when = fit(name, header, values, place)
        if share < _FITS:
            continue
        scale = scale_of(header, sheet.titles, seen) if COLUMNS[name].rated else None
        told = over <= 2 or length > 1 or bool(scale and told_scale(header))
        certainty: Certainty = "sure" if told and share >= _SURE and not unclear else "look at this"
        why = borne_out(name, share, seen, values)
        repeated = values.nunique() >= 0.95 * len(values) and name == "person"
        numbered = when is not None and when.numbered
        out.append(
            (
                (repeated or numbered, -length, over, -share),
                Role(name, header, certainty, why, seen, scale),
                when,
            )
        )
        break
    return out


def _own(sheet: Sheet, header: str) -> Role | None:
    """A rating of the study's own: named by a word for one, or by a scale behind a name that is not ours."""
    named, told = header_words(header), told_scale(header)
    meant = [m for m in meanings(header) if m[0] not in ("week", "date", "time")]
    if not {*named} & OWN and (meant or not told):
        return None
    if meant and not (meant[0][0] == "pain" and {*named} & {"vas", "nrs"}) and meant[0][1] > 1:
        return None
    seen = numbers(sheet.frame[header], COLUMNS["pain"], high=told[1] if told else None)
    if seen.share < 0.8 or seen.low < 0 or seen.high > 100 or len(seen.values) < 2:
        return None
    scale = scale_of(header, (), seen)
    name = "_".join(w for w in named if not w.isdigit() and w not in ("nrs", "vas", "of", "the", "to", "bis"))
    name = re.sub(r"[^a-z0-9_]", "", name.translate(str.maketrans("äöüéèáíóñß", "aoueeaions")))[:30].strip(
        "_"
    )
    why = said("draft.own", why=scale[3])
    return Role(name, header, "look at this", why, seen, scale) if name[:1].isalpha() else None


def _by_values(
    sheet: Sheet, place: Place, roles: dict, dated: dict, kinds: Mapping[str, str], people: frozenset[str]
) -> None:
    """Person and date where no header tells them: by codes of people known from elsewhere, by dates."""
    free = [h for h in kinds if not kinds[h] and h not in {r.header for r in roles.values()} | sheet.twice]
    if "person" not in roles:
        for header in free:
            codes = {*sheet.frame[header].dropna().str.strip()}
            if people and codes and len(codes & people) >= 0.5 * len(codes) and len(codes) > 1:
                why = said("draft.known_codes", known=len(codes & people), codes=len(codes))
                roles["person"] = Role("person", header, "look at this", why)
                break
        for header in free if "person" not in roles else ():
            texts = sheet.frame[header].dropna().str.strip()
            counted = {*header_words(header)} & _NUMBERS or header == "#"
            alike = texts.str.fullmatch(r"\d{1,4}" if counted else _CODES)
            if len(texts) and alike.all() and 1 < texts.nunique() <= 0.5 * len(texts):
                why = said("draft.codes", codes=texts.nunique())
                roles["person"] = Role("person", header, "look at this", why)
                break
    if "date" not in roles:
        for header in free:
            when = dates(sheet.frame[header], place, frozenset())
            if when.share >= 0.8:
                why = said("draft.dates", share=when.share)
                roles["date"] = Role("date", header, "look at this", why)
                dated["date"] = when
                break


def _why_not(header: str, values: pd.Series, rivals: Mapping[str, Role], roles: Mapping[str, Role]) -> str:
    if header in rivals:
        name = rivals[header].name
        return said("draft.taken", header=roles[name].header, name=name)
    if len({*values.dropna()}) == 1:
        return said("draft.the_same")
    if values.dropna().str.startswith("=").mean() > 0.5:
        return said("draft.formulas")
    meant = [name.replace("_", " ") for name, *_ in meanings(header)[:1] if name in COLUMNS]
    if meant:
        return said("draft.speaks_of", meant=meant[0])
    seen = numbers(values)
    if seen.share >= 0.9 and seen.whole and 0 <= seen.low < seen.high <= 10:
        return said("draft.declare_it", low=seen.low, high=seen.high)
    return said("draft.not_asked")

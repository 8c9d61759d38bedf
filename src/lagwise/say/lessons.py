"""What a caseload teaches beside its report, in sentences for the notebooks: each from the caseload's own
numbers, in its own steps and variables.
"""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.errors import LagwiseError
from lagwise.core.numbers import known, per_hundred, plural, signed, size
from lagwise.core.results import Caseload, Fit, Panel
from lagwise.core.study import INTERVAL, Study
from lagwise.core.terms import whole
from lagwise.core.words import capital, exposure_label, listed, on, ways
from lagwise.describe import same_and_next, turned_back, variance_split
from lagwise.document.markdown import Answer
from lagwise.say.phrases import Measured, said


def by_hand(panel: Panel, person: str = "") -> Answer:
    """The usual load and the load jump of one step, worked out from the person's own loads.

    Parameters
    ----------
    panel : Panel
    person : str
        A code; by default the first person in whose record a step has a usual load.

    Raises
    ------
    LagwiseError
        When no step has a load and a usual load.
    """
    study, step = panel.study, panel.study.step
    jump = next(name for name in study.variables if whole(name))
    frame = panel.frame if not person else panel.frame[panel.frame["person"] == person]
    at = frame.index[(frame["load"] > 0) & (frame["usual"] > 0)]
    if not len(at):
        raise LagwiseError(f"no {step} has both a load and a usual load")
    own = frame[frame["person"] == frame.loc[at[0], "person"]].set_index("step")
    here = int(frame.loc[at[0], "step"])
    before = own.loc[max(here - study.load.usual_steps, 0) : here - 1, "load"].dropna()
    load, usual = float(own.loc[here, "load"]), float(own.loc[here, "usual"])
    each, ratio = [_plain(v) for v in before], load / usual
    way = "above" if ratio >= 1 else "below"
    measure = LOAD_MEASURES.get(study.load.measure, "load")
    several = plural(study.load.usual_steps, step)
    lines = [
        f"Take {step} {here} of {own['person'].iloc[0]}. Of the {several} before it, {len(each)} have a "
        f"known load: {listed(each)} ({measure}).",
        f"- usual = ({' + '.join(each)}) / {len(each)} = {_plain(before.sum())} / {len(each)} = {usual:.2f}",
        f"- load / usual = {_plain(load)} / {usual:.2f} = {ratio:.2f}, that is {100 * abs(ratio - 1):.0f} % "
        f"{way} the usual",
        f"- jump = log({ratio:.2f}) = {signed(float(own.loc[here, jump]), 2)}",
    ]
    few = f"fewer than {plural(study.load.usual_needs, step)} with a known load"
    if here and own.loc[: here - 1, "usual"].isna().all():
        lines.append(f"No {step} before it has a usual load, since {few} stand before those.")
    later = own.index[(own.index > here) & (own["load"] > 0) & (own["usual"] > 0)]
    if len(later):
        loads = own.loc[max(later[0] - study.load.usual_steps, 0) : later[0] - 1, "load"]
        stand = plural(int(loads.notna().sum()), "known load stands", "known loads stand")
        lines.append(f"Work out {step} {later[0]} yourself: {stand} before it.")
    return Answer("\n\n".join([lines[0], "\n".join(lines[1:4]), *lines[4:]]))


def courses(panel: Panel) -> Answer:
    """How often a rise of what is asked about turned back in the step after, and a fall."""
    asked, step = panel.study.outcome, panel.study.step
    label, amount = asked.variable.label, asked.amount(asked.important)
    rise, fall = turned_back(panel).to_dict("records")
    if not rise["n"] + fall["n"]:
        never = f"{label} never moved by {amount} with the {step} after rated"
        return Answer(f"From one {step} to the next, {never}.")
    parts = [
        f"of {plural(one['n'], str(one['change']))} of {amount} or more, {one['turned_back']} turned back "
        f"{on(step)} the {step} after{_share(one)}"
        for one in (rise, fall)
        if one["n"]
    ]
    people = plural(max(rise["n_people"], fall["n_people"]), "person", "people")
    return Answer(
        f"{capital(label)} from one {step} to the next, in {people}: {'; '.join(parts)}. The count leaves "
        f"load aside. Ratings that vary by chance alone turn back in about 2 of 3, and in fewer where "
        f"many stay the same."
    )


def _share(one: dict[Any, Any]) -> str:
    return f" ({per_hundred(one['turned_back'] / one['n'])} of 100)" if one["n"] >= 20 else ""


def spread(panel: Panel) -> Answer:
    """How much of what is asked about, and of the primary exposure, is a matter of who, and how much of
    when.
    """
    study = panel.study
    asked = (study.outcome.name, study.analysis.primary)
    lines = []
    for row in variance_split(panel).to_dict("records"):
        if row["variable"] not in asked or known(row["icc"]) is None:
            continue
        share, low, high = (per_hundred(row[name]) for name in ("icc", "low", "high"))
        lines.append(
            f"Of the variation in {row['label']}, {share} of 100 parts lie between people "
            f"({100 * INTERVAL:g} % interval {low} to {high}); the rest lies within them, from one "
            f"{study.step} to the next."
        )
    return Answer("\n\n".join(lines) or "There are too few people or steps to split the variation.")


def first_look(panel: Panel) -> Answer:
    """The slopes of `same_and_next` in words, and whether the sign turns."""
    study = panel.study
    asked, term = study.outcome.variable, study.analysis.primary
    label, unit = exposure_label(term, study.variables), study.variables[term].unit
    lines, sides = [], []
    for row in same_and_next(panel).to_dict("records"):
        if known(row["slope"]) is None:
            lines.append(f"- {capital(str(row['comparison']))}: no slope, for want of people or of steps.")
            sides.append(0)
            continue
        found = Measured(row["slope"], f"{asked.unit}s", row["low"], row["high"])
        open_ = "" if found.side else " The interval includes 0: the direction is open."
        lines.append(f"- {capital(str(row['comparison']))}: {asked.label} {said(found)}.{open_}")
        sides.append(found.side)
    same, following = f"the same {study.step}", f"{on(study.step)} the next, at the same {asked.label} now"
    ending = (
        f"{capital(on(study.step))} {same} the sign is the opposite of the one {following}."
        if sides[0] * sides[2] < 0
        else f"The sign is not clearly another {on(study.step)} {same} than {following}."
    )
    head = "For twice the load over the usual:" if whole(term) else f"For one {unit} more of {label}:"
    return Answer("\n\n".join([head, "\n".join(lines), ending]))


def crude(panel: Panel, table: pd.DataFrame) -> Answer:
    """Why the crude and the adjusted estimate of the primary exposure differ, from `crude_and_adjusted`."""
    study, step = panel.study, panel.study.step
    first, *others = table.to_dict("records")
    term, points = str(first["term"]), f"{study.outcome.variable.unit}s"
    name = exposure_label(term, study.variables)
    rows, places = plural(first["n_steps"], f"person-{step}"), study.outcome.variable.places
    hair = 0.5 * 10**-places
    lines = [
        f"On the same {rows} of {plural(first['n_people'], 'person', 'people')}, the difference is "
        f"{signed(first['crude'], places)} {points} crude and {signed(first['adjusted'], places)} adjusted."
    ]
    grown = abs(first["adjusted"]) - abs(first["crude"])
    moved = [one for one in others if known(one["takes"]) is not None and abs(one["takes"]) >= hair]
    for one in sorted(moved, key=lambda row: -abs(row["takes"])):
        lines.append(f"- {_left_out(one, study, name)}")
    if not moved:
        lines.append(f"- Leaving out any of the others moves it by less than {hair:g} of a point.")
    against = any(one["takes"] * first["adjusted"] < 0 for one in moved)
    if grown > hair and against:
        ending = (
            "So here the adjusted difference is the larger one. What is left out can hide part of a "
            "difference as well as feign one; where it hides, this is called suppression."
        )
    elif grown < -hair:
        ending = (
            "So here the adjusted difference is the smaller one: the crude one also holds what goes along "
            f"with {name}. This is called confounding."
        )
    else:
        ending = "So here both tell nearly the same."
    return Answer("\n\n".join([lines[0], "\n".join(lines[1:]), ending]))


def _left_out(one: dict[Any, Any], study: Study, name: str) -> str:
    other, asked = str(one["term"]), study.outcome.variable
    term = study.variables[study.analysis.primary]
    goes, own, takes = one["correlation"], one["own"], one["takes"]
    along, after = _way(goes, term.unit), _way(own, asked.unit)
    return (
        f"{capital(exposure_label(other, study.variables))} goes along with {along} {name} "
        f"(r = {signed(goes, 2)}). At the same {name}, more of it was followed by {after} {asked.label} "
        f"({signed(own, asked.places)} {asked.unit}s for each unit). Left out, it moves the difference by "
        f"{signed(takes, asked.places)}."
    )


def _way(value: float, unit: str) -> str:
    return ways(f"{unit}s")[0 if value > 0 else 1]


def in_truth(caseload: Caseload, fit: Fit) -> Answer:
    """What the primary comparison would give in a very large caseload, where one was invented; else that
    nobody can know.
    """
    from lagwise.synthetic import truth_beside

    try:
        rows = pd.DataFrame(truth_beside(caseload)["values"])
    except LagwiseError:
        return Answer(
            "No `truth.json` lies beside this caseload, as beside no real one: what the comparison would "
            "give in a very large caseload cannot be looked up."
        )
    row = fit.primary().iloc[0]
    shared = {"term": row["term"], "outcome": row["outcome"], "contrast": row["contrast"], "scale": "points"}
    compared = {"adjustment": "adjusted", "pain_adjusted": row["pain_adjusted"], "kind": "regression"}
    value, by_lot = _value(rows, shared | compared), _value(rows, shared | {"kind": "intervention"})
    if value is None:
        return Answer("The `truth.json` beside this caseload holds no value for the planned comparison.")
    inside = row["low"] <= value <= row["high"]
    where = "inside the interval" if inside else "outside the interval, as it is of 5 of 100 such intervals"
    out = (
        f"This caseload is invented, so the truth lies beside it (`truth.json`): in a very large caseload of "
        f"such people this comparison would give {signed(value, 2)} points, {where}."
    )
    if by_lot is not None:
        out += f" If lots had been drawn for who trains so, it would be {signed(by_lot, 2)}."
    return Answer(out)


def _value(rows: pd.DataFrame, where: dict[str, Any]) -> float | None:
    found = rows[(rows.reindex(columns=list(where)) == pd.Series(where)).all(axis=1)]
    return None if found.empty else float(found["value"].iloc[0])


def _plain(value: float) -> str:
    return size(float(value)) if not math.isclose(value, round(value)) else f"{value:.0f}"

"""What a check says of exposures that are never known or hardly vary, and of ranges: what, why, mend."""

from __future__ import annotations

from collections.abc import Sequence

from lagwise.caseload.check_edits import Edit, mending, written
from lagwise.core.numbers import plural
from lagwise.core.study import Study
from lagwise.core.words import capital

Words = dict[str, str]
"""The texts of a finding by name: what, why, mend."""


def load_never_known(measure: str, missing: Sequence[str], other: Sequence[str]) -> Words:
    """No session has the columns that the load's measure needs; `other` measures could be told."""
    ways = ["name the column that holds it under [tables.sessions.columns]"]
    one = [Edit(("tables", "sessions", "constant"), {"sets": 1})] if "sets" in missing else []
    if one:
        ways[0] += f" (in a log with one row for each set: {written(*one)})"
    measures = [Edit(("load",), {"measure": name}) for name in other]
    ways += [f"write {written(*measures)}"] if measures else []
    return {
        "what": f"The load ({measure}) is known nowhere: no row of sessions has {' and '.join(missing)}",
        "why": "Nothing can be told of load",
        "mend": mending(f"{capital('; or '.join(ways))}.", *one, *measures),
    }


def hardly_varies(study: Study, name: str, known: int, only: float | None, steps: int, people: int) -> Words:
    """A variable is nearly the same in all its `known` steps: `only` one value, or `steps` of so many
    `people` lie away from the person's median.
    """
    asked, one = study.analysis.exposures, study.variables[name]
    label, of = capital(one.label), f"{known} known {study.step}s"
    if only is not None:
        what = f"is {only:.4g} in all {of}"
    elif not steps:
        what = "does not vary within any person"
    else:
        differ = f"{steps} of {of} differ from the person's median, in {plural(people, 'person', 'people')}"
        what = f"hardly varies within people: {differ}"
    if name == study.outcome.name:
        why = f"Nothing can be told of what came before more or less {one.label}"
    elif name in asked:
        why = f"Nothing can be told of {study.step}s with more or less of it, and no estimate is made"
    else:
        why = "It is not among the exposures of the plan; nothing could be told of it"
    look = f"Take {name} out of exposures under [analysis], or look" if name in asked else "Look"
    holds = "the ratings" if one.rated else "what it should"
    return {"what": f"{label} {what}", "why": why, "mend": f"{look} whether the column holds {holds}."}


def ranges() -> Words:
    """Ranges were set aside, which a repair would read."""
    edit = Edit(("repair",), {"ranges": True})
    mend = f"Decide on one number each, or write {written(edit)} to have their middle read."
    return {
        "what": "Numbers written as ranges were set aside",
        "why": "A range is not one number; a sum that needs it is unknown, and a mean is that of the other "
        "cells",
        "mend": mending(mend, edit),
    }

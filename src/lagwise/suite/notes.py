"""What a reader has to know where a folder's plan differs from the one that the notebooks' text was written
for.
"""

from __future__ import annotations

from typing import Any

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload
from lagwise.core.study import Study
from lagwise.core.words import contrast_amount, exposure_label, turns


def with_note(notebook: Any, caseload: Caseload) -> Any:
    """The notebook with one short cell of notes below its opening, or as it is where there is nothing to
    note.

    Only what the notebook's own text speaks of is noted: the week, the load.
    """
    from copy import deepcopy

    from nbformat.v4 import new_markdown_cell

    text = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    said = [note for word, note in _notes(caseload) if word in text]
    if not said:
        return notebook
    out = deepcopy(notebook)
    out.cells.insert(1, new_markdown_cell("> **In this folder.** " + " ".join(said), id="note-folder"))
    return out


def _notes(caseload: Caseload) -> list[tuple[str, str]]:
    """Word that makes a note needed, and the note."""
    study, out = caseload.study, []
    step = study.step
    if step != "week":
        days = plural(study.clock.step_days, "day")
        out.append(
            ("week", f"A calendar step of the plan is {days}: where the text says *week*, read *{step}*.")
        )
    if study.analysis.primary != "jump":
        out.append(("load", _other_exposure(study)))
    if caseload.sessions.empty and not caseload.weeks["load"].notna().any():
        out.append(("load", "No training was recorded, so the columns and figures of load stay empty."))
        if study.analysis.primary == "jump":
            other = "study.toml can name another exposure as primary"
            out.append(("load", f"The question of the plan is about load and has no answer here; {other}."))
    if note := asked_note(study):
        out.append(("pain", note))
    elif not any(table["pain"].notna().any() for table in (caseload.checkins, caseload.weeks)):
        out.append(("pain", "No pain was rated, so nothing that takes a rating of pain can be shown."))
    return out


def asked_note(study: Study) -> str:
    """What to read in the place of 'pain' where a plan asks about something else; '' where it does not."""
    asked = study.outcome
    if asked.name == "pain":
        return ""
    label, turn = asked.variable.label, turns(asked.variable)[0]
    when = f"the next {study.step}" if asked.lag else f"the same {study.step}"
    return (
        f"The question of the plan is about {label}, in "
        f"{asked.variable.unit}s{asked.span and f' ({asked.span})'}, in {when}: where the text says *pain*, "
        f"read *{label}*, and for a *flare-up* a *{turn}*."
    )


def _other_exposure(study: Study) -> str:
    term, planned = study.analysis.primary, study.analysis.primary_contrast
    amount, side = contrast_amount(
        term, contrast_label(term, planned), contrast_size(term, planned), study.variables
    )
    name = exposure_label(term, study.variables)
    return (
        f"The question of the plan is about {name}, {amount} {side} the person's own average: where the text "
        f"compares by *load*, *jump* or *usual load*, read *{name}* and *own average*."
    )

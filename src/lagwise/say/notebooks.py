"""What a run of the notebooks says: how each ended, and what a reader has to know where a folder's plan
differs from the one that their text was written for.
"""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload
from lagwise.core.study import Study
from lagwise.core.words import contrast_amount, exposure_label, turns

STATES = {"done": "Done", "stopped": "Stopped where the data do not allow it", "failed": "Failed"}
TEXTS = {
    "private": "Private: the pages may show codes, courses and values of single people. Keep this folder "
    "with the data. They describe groups; they advise nobody and do not replace licensed care.",
    "written": "Written by the notebooks",
    "not_shown_in_it": "Not shown in it for this folder:",
    "fault": "This is a fault of the notebook or the library, and not something to mend in the folder.",
    "not_shown": "**Not shown for this folder.** {why}",
    "stopped": "**This notebook stops here, because the data do not allow the rest.** {why}",
    "failed": "**This notebook failed here.** {why} {fault}",
    "ended": "The Python that ran it ended on its own, as it does when memory runs out.",
    "what": "run of the notebooks",
    "glossary": "Glossary",
    "words": "Words as the notebooks and the write-up use them",
    "all": "All notebooks",
    "in_this_folder": "> **In this folder.** {notes}",
}


def ended(count: Mapping[str, int]) -> str:
    """How many notebooks ended in each state, in a sentence or two."""
    words = f"{count['done']} of {sum(count.values())} notebooks ran to the end."
    if count["stopped"]:
        words += f" {count['stopped']} stopped where the data do not allow it; each says why."
    return words + (f" {count['failed']} failed." if count["failed"] else "")


def notes(caseload: Caseload) -> list[tuple[str, str]]:
    """Notes on a folder, each after the word of the notebooks' text that makes it needed."""
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


def asked_note(study: Study, mark: str = "*") -> str:
    """What to read in the place of 'pain' where a plan asks about something else; '' where it does not.

    `mark` stands around words that are quoted.
    """
    asked = study.outcome
    if asked.name == "pain":
        return ""
    label, turn = asked.variable.label, turns(asked.variable)[0]
    when = f"the next {study.step}" if asked.lag else f"the same {study.step}"
    return (
        f"The question of the plan is about {label}, in "
        f"{asked.variable.unit}s{asked.span and f' ({asked.span})'}, in {when}: where the text says "
        f"{mark}pain{mark}, read {mark}{label}{mark}, and for a {mark}flare-up{mark} a {mark}{turn}{mark}."
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

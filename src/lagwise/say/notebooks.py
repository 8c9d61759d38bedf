"""What a run of the notebooks says: how each ended, their text in the words of a folder's plan, and what a
reader has to know where the plan differs further from the one that the text was written for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload
from lagwise.core.study import Study
from lagwise.core.words import capital, contrast_amount, exposure_label, listed, on, turns

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


OTHER_NAMES = re.compile(r" (?:There are|Use one of) [\w, -]+\.$")
"""What else could be asked for, at the end of an error: for who writes code, not for who reads a page."""


def ended(count: Mapping[str, int]) -> str:
    """How many notebooks ended in each state, in a sentence or two."""
    words = f"{count['done']} of {sum(count.values())} notebooks ran to the end."
    if count["stopped"]:
        words += f" {count['stopped']} stopped where the data do not allow it; each says why."
    return words + (f" {count['failed']} failed." if count["failed"] else "")


def retold(text: str, study: Study, shown: Callable[[str], str] = str) -> str:
    """A text that was written of weeks, pain and flare-ups, in the words of a plan: its step, what it asks
    about and that one's scale.

    `shown` makes a plan's own word what shows it in the text, as where signs have to be escaped.
    """
    asked, step = study.outcome, study.step
    words, names = {"week": step}, {}
    if asked.name != "pain":
        own = asked.variable.label, *turns(asked.variable)
        words |= zip(("pain", "flare-up", "flare-ups"), map(shown, own), strict=True)
        names = {"`pain`": asked.name, "`pain_next`": asked.later, "`pain_before`": asked.before}
        names["`pain_zero_next`"] = f"{asked.name}_zero_next"
    parts = _CODE.split(text)
    for at, part in enumerate(parts):
        if at % 2:
            parts[at] = f"`{names[part]}`" if part in names else part
            continue
        if asked.span:
            part = part.replace("from 0 to 10", f"from {asked.span.replace('-', ' to ')}")
        if on(step) != "in":
            part = _IN_A_STEP.sub(lambda m: ("On" if m[1] == "I" else "on") + m[2], part)
        parts[at] = _WORD.sub(lambda m: _like(m, words), part)
    return "".join(parts)


_CODE = re.compile(r"(`[^`\n]+`)")
_IN_A_STEP = re.compile(
    r"\b([Ii])n((?: (?:an?|one|another|each|every|the|this|that|which|same|next|other|\*\*\w+\*\*))*"
    r" weeks?\b)(?!')"
)
_WORD = re.compile(
    r"(?<!people with )(?<!night )(?<!calls it a )(?<!called a )\b(flare-ups?|pain|week)(?=s?\b)",
    re.IGNORECASE,
)
"""Not of people with pain, nor of pain at night as a sign to be seen to, nor of what people call a flare-up.
"""


def _like(found: re.Match[str], words: Mapping[str, str]) -> str:
    """The word in the place of another, with a capital where that has one."""
    word = words.get(found[0].lower(), found[0])
    return capital(word) if found[0][0].isupper() else word


def reading(caseload: Caseload) -> str:
    """In what steps a caseload counts, what its plan asks about, and what to read where a text is written of
    weeks, pain and load.
    """
    study = caseload.study
    step, asked = study.step, study.outcome
    scale = f" from {asked.span.replace('-', ' to ')}" if asked.span else ""
    then = f"{on(step)} the {'next' if asked.lag else 'same'} {step}"
    out = [
        f"This caseload counts in {step}s. Its plan asks about {asked.variable.label} {then}, rated in "
        f"{asked.variable.unit}s{scale}."
    ]
    if not caseload.sessions.empty or caseload.weeks["load"].notna().any():
        back = plural(study.load.usual_steps, step)
        out.append(f"The usual load is the mean of the known loads of the {back} before.")
    else:
        out.append("No training was recorded, so whatever is about load cannot be asked, and says so.")
    other = {"week": step} if step != "week" else {}
    if asked.name != "pain":
        other |= {"pain": asked.variable.label, "flare-up": turns(asked.variable)[0]}
    if other:
        read = [f"*{mine}* for *{word}*" for word, mine in other.items()]
        out.append(f"In the texts read {listed(read)}.")
    if study.analysis.primary != "jump":
        out.append(_other_exposure(study))
    return " ".join(out)


def notes(caseload: Caseload) -> list[tuple[str, str]]:
    """Notes on a folder, each after the word of the notebooks' text that makes it needed."""
    study, out = caseload.study, []
    if study.analysis.primary != "jump":
        out.append(("(usual load|above it|jump)", _other_exposure(study)))
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
    """What a plan asks about where that is not pain in the next step; '' where it is."""
    asked, step = study.outcome, study.step
    if asked.name == "pain" and asked.lag:
        return ""
    scale = f" ({asked.span})" if asked.span else ""
    said = f"The question of the plan is about {asked.variable.label}, in {asked.variable.unit}s{scale}, "
    if asked.lag:
        return f"{said}{on(step)} the next {step}."
    return f"{said}{on(step)} the same {step}: where the text says that it is that of the next, read *same*."


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

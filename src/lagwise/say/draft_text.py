"""A draft as the text of a study.toml: one guess a line, each ending in how sure it is and why."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lagwise.caseload.remarks import shown
from lagwise.caseload.study_text import toml_key, toml_value
from lagwise.drafts.guess import Draft, Guess, LeftOut, Section

_HEAD = """\
# A draft of a study plan, made from: {files}.
# Every guess is a line that ends in how sure it is. Strike or correct what is wrong; a line behind a # does
# nothing until its # is taken away. Nothing is analysed until you have written reviewed = true below.
"""
_LISTED = 12
"""Columns named in one line."""


def draft_text(draft: Draft) -> str:
    """The text of the study.toml of a draft."""
    names = list(draft.copies)
    files = ", ".join(shown(name) for name in names[:6]) + (
        f" and {len(names) - 6} more" if len(names) > 6 else ""
    )
    parts = [_HEAD.format(files=files)]
    parts += [_section(one) for one in draft.sections]
    if draft.left_out:
        parts.append("\n".join(["# Columns that are not read", *_left_out(draft.left_out)]) + "\n")
    if draft.not_read:
        lines = (f"# not used: {shown(line, 300)}" for line in draft.not_read)
        parts.append("\n".join(["# Files and sheets that are not read", *lines]) + "\n")
    return "\n".join(parts)


def _section(section: Section) -> str:
    lines = [_line(guess) for guess in section.guesses]
    if section.name:
        heading = f"[{'.'.join(map(toml_key, section.name.split('.')))}]"
        lines.insert(
            0, heading if any(g.on for g in section.guesses) or _optional(section) else f"# {heading}"
        )
    return "\n".join(lines) + "\n"


def _optional(section: Section) -> bool:
    """Whether a heading may stand with nothing under it, so that taking a # away below it is enough."""
    return section.name in ("repair", "load", "clock", "exercises.same")


def _line(guess: Guess) -> str:
    why = f"# {guess.certainty}: {shown(guess.why, 250)}"
    if not guess.key:
        return why
    value = guess.value
    if isinstance(value, dict):
        text = "{ " + ", ".join(f"{toml_key(k)} = {toml_value(v)}" for k, v in value.items()) + " }"
    else:
        text = toml_value(value)
    return f"{'' if guess.on else '# '}{toml_key(guess.key)} = {text}  {why}"


def _left_out(left: Iterable[LeftOut]) -> Iterator[str]:
    """A line for the columns of a sheet that are left out for one reason."""
    alike: dict[tuple[str, str], list[str]] = {}
    for one in left:
        alike.setdefault((one.where, one.why), []).append(f"'{shown(one.header)}'")
    for (where, why), headers in alike.items():
        more = f" and {len(headers) - _LISTED} more" if len(headers) > _LISTED else ""
        yield f"# not used: {', '.join(headers[:_LISTED])}{more} ({shown(where)}), because {why}"

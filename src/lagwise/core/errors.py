"""The project's own errors: each says what is wrong, where, and how to mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from lagwise.core.claim import Said, coded
from lagwise.document.settle import settle


class LagwiseError(Exception):
    """Something the user can mend.

    Parameters
    ----------
    what : str
        What is wrong, in one short sentence without a full stop, or a question with its mark.
    where : str, optional
        File, table, row, column, key or model it concerns.
    mend : str, optional
        What would mend it.
    """

    def __init__(self, what: str, *, where: str = "", mend: str = "") -> None:
        self.what, self.where, self.mend = what, where, mend
        super().__init__(str(self))

    def __str__(self) -> str:
        """All of it on one line that no character in a name or a cell can steer."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        return settle(f"{text}{'' if text.endswith('?') else '.'} {self.mend}" if self.mend else text)

    def _render_traceback_(self) -> list[str]:
        """What a notebook shows in the place of a traceback: IPython asks for it by this name."""
        return [f"{type(self).__name__}: {self}"]

    def __reduce__(self):
        return (_rebuild, (type(self), self.what, self.where, self.mend))


def meant(wrong: str, near: str) -> Said:
    """The mend of a mistyped key, value or header that names the nearest known one, as `near`."""
    return coded(f"Did you mean '{near}'?", wrong=wrong, near=near)


def _rebuild(kind: type[LagwiseError], what: str, where: str, mend: str) -> LagwiseError:
    return kind(what, where=where, mend=mend)


class StudyError(LagwiseError):
    """study.toml cannot be used as it stands."""


class CaseloadError(LagwiseError):
    """A caseload folder or one of its tables cannot be read."""


class PanelError(LagwiseError):
    """The tables cannot be turned into a person-step panel."""


class ModelError(LagwiseError):
    """A model was asked for that these data or settings cannot give."""


def no_such(name: str, kind: str, known: Iterable[str]) -> ModelError:
    """The error of a name that is none of the known ones: the nearest of them, else all."""
    known = tuple(known)
    near = difflib.get_close_matches(str(name), known, n=1)
    return ModelError(
        f"{name!r} is no {kind}", mend=meant(name, near[0]) if near else f"Use one of {', '.join(known)}."
    )


class NotApplicable(ModelError):
    """A check is about something that this study does not ask or record, so that there is nothing to run."""


class WriteUpError(LagwiseError):
    """Findings cannot be rendered or written."""


class NotebookError(LagwiseError):
    """The notebooks cannot be run."""

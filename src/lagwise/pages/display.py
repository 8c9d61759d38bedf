"""Figures of the write-up, one at a time, for a notebook or a file."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lagwise.core.errors import WriteUpError
from lagwise.core.followed import Followed
from lagwise.core.numbers import plural
from lagwise.core.results import Challenge, Picture
from lagwise.core.words import capital
from lagwise.document.markdown import Answer, spans
from lagwise.document.tree import Para, para, told
from lagwise.findings import Findings, PictureFacts
from lagwise.findings.plain import plain, table
from lagwise.say.plan import Plan
from lagwise.say.report.document import document
from lagwise.say.report.figures import figures
from lagwise.say.report.figures_answer import ANSWER
from lagwise.say.report.summary import summary
from lagwise.say.show_results import NEEDS
from lagwise.writeup.draw import draw

SCALE = 2
"""Pixels of the PNG per pixel shown."""


@dataclass(frozen=True)
class Figure:
    """A drawn figure that shows itself where it is the last line of a notebook cell.

    `title` says what it shows; `alt` is the alternative text with the numbers, which travels with the image
    into exported pages; `png` is at twice the size shown and `svg` has no size of its own.
    """

    name: str
    title: str
    alt: str
    png: bytes
    svg: bytes

    def __repr__(self) -> str:
        width, height = self.size
        return f"Figure {self.name!r} ({width} x {height} pixels): {self.title}\n{self.alt}"

    @property
    def size(self) -> tuple[int, int]:
        """Width and height as shown, in pixels."""
        width, height = (int.from_bytes(self.png[at : at + 4], "big") for at in (16, 20))
        return round(width / SCALE), round(height / SCALE)

    def save(self, path: str | Path) -> Path:
        """Write the figure to a file and return its path; the ending, .png or .svg, decides the format.

        Raises
        ------
        WriteUpError
            For another ending, or a path that cannot be written.
        """
        path = Path(path)
        if path.suffix not in (".png", ".svg"):
            raise WriteUpError(
                "a figure is saved as PNG or SVG", where=str(path), mend="End the path in .png or .svg."
            )
        try:
            path.write_bytes(self.png if path.suffix == ".png" else self.svg)
        except OSError as error:
            raise WriteUpError(
                "the figure cannot be written", where=str(path), mend="Check that the folder exists."
            ) from error
        return path

    def _repr_mimebundle_(
        self, include: Collection[str] | None = None, exclude: Collection[str] | None = None
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        width, height = self.size
        shown = {"image/png": self.png, "text/plain": f"{self.title}\n{self.alt}"}
        kept = {k: v for k, v in shown.items() if (not include or k in include) and k not in (exclude or ())}
        return kept, {"image/png": {"width": width, "height": height, "alt": self.alt}}


def _required(findings: object, call: str) -> None:
    if not isinstance(findings, Findings):
        raise WriteUpError(
            f"{call} takes findings, and {type(findings).__name__} is none",
            where=call,
            mend="Make them: lw.collect(caseload, panel, [fit], None).",
        )


def not_there(findings: Findings, kind: str, name: str, there: Iterable[str]) -> WriteUpError:
    """The error for a name that findings have nothing of: what it takes and the reasons of fits that were
    refused, each said once, else the names there are.
    """
    refused = " ".join(capital(one.why_not).rstrip(".") + "." for one in findings.fits if not one.usable)
    needs = [NEEDS[name]] if name in NEEDS else []
    why = dict.fromkeys((*needs, *re.findall(r"\S.*?\.(?= |$)", refused)))
    what = f"these findings have no {kind} called {name!r}"
    return WriteUpError(what, mend=" ".join(why) or f"Use one of {', '.join(there)}.")


def answer(findings: Findings, about: str = "") -> Answer:
    """What was asked, what was found, what that rules out and how far it goes: one sentence each, from the
    findings alone. Or what the write-up says under one of its headings.

    Parameters
    ----------
    findings : Findings
        From `collect`. Where no usable fit carries a result, the sentence says why there is none.
    about : str
        The id of a heading of the write-up, as in the address of a link to it: results, how-long,
        challenges, about-challenge-shuffled-load ... Its paragraphs, without tables, figures and how to read
        them.

    Raises
    ------
    WriteUpError
        For anything else, as a fit; and for a heading that these findings have no text under (the message
        lists those they have).

    Examples
    --------
    >>> import lagwise as lw
    >>> lw.answer(findings, "recorded")
    14 people were followed over 265 person-weeks. Pain was rated in 256 of 265 person-weeks (97 %).
    """
    _required(findings, "answer")
    if not about:
        return Answer(_markdown(summary(findings)))
    there = told(document(findings))
    if about not in there:
        raise not_there(findings, "heading", about, there)
    return Answer(_markdown(one for one in there[about] if one != para(ANSWER)))


def _markdown(paragraphs: Iterable[Para]) -> str:
    return "\n\n".join(spans(paragraph.spans) for paragraph in paragraphs)


def figure(findings: Findings | Plan, name: str = "") -> Figure:
    """One figure of the write-up, drawn from the findings; or the grid of a plan.

    Parameters
    ----------
    findings : Findings or Plan
        From `collect`, or from `plan`, which has one figure and needs no name.
    name : str
        As the file is called in the write-up's `figures` folder, without ending: coverage, trajectories,
        effects, adjustments, people-slopes, challenge-shuffled-load ... Which there are depends on what was
        found. Of a figure in several pages (trajectories-1, trajectories-2 ...) the name without a number is
        the first.

    Raises
    ------
    WriteUpError
        When these findings have no figure of that name (the message lists those they have), or are none.

    Examples
    --------
    >>> import lagwise as lw
    >>> lw.figure(findings, "coverage")  # doctest: +ELLIPSIS
    Figure 'coverage' (...
    """
    if isinstance(findings, Plan):
        return drawn("plan", facts(findings.picture))
    _required(findings, "figure")
    there = figures(findings)
    name = f"{name}-1" if name not in there and f"{name}-1" in there else name
    if name not in there:
        raise not_there(findings, "figure", name, there)
    return drawn(name, there[name])


def picture(shown: Challenge | Followed | Picture) -> Figure:
    """The figure of one challenge, from `challenge(...)["its name"]`, of what `follow` found, or any
    `Picture`, drawn.

    Raises
    ------
    WriteUpError
        When there is none: of a challenge that could not be run, or of events that cannot be compared.

    Examples
    --------
    >>> import lagwise as lw
    >>> lw.picture(checks["same_week_answer"])  # doctest: +ELLIPSIS
    Figure 'same-week-answer' (...
    """
    own: Picture | None = None
    name = what = why = ""
    match shown:
        case Challenge():
            own, name, what, why = shown.picture, shown.name, shown.title, shown.problem.removesuffix(".")
        case Followed():
            own, name, why = shown.figure, f"follow-{shown.kind}", shown.sentences[0].removesuffix(".")
        case Picture():
            own, name = shown, shown.kind
    if own is None:
        if why:
            raise WriteUpError(f"there is nothing to draw of {what or name}: {why}")
        raise WriteUpError(
            f"there is nothing to draw of {what or repr(shown)[:60]}",
            where="picture",
            mend="Give a challenge with a picture, what `follow` found, or a `Picture`.",
        )
    return drawn(name.replace("_", "-"), facts(own))


def facts(own: Picture) -> PictureFacts:
    """A picture as what is drawn; how many it is of stands under its title where nothing else does."""
    options = plain(own.options)
    if "subtitle" not in options and "n_people" in options:
        sizes = [plural(options["n_people"], "person", "people")]
        sizes += [plural(options["n_steps"], "person-step")] if "n_steps" in options else []
        options["subtitle"] = ", ".join(sizes)
    return PictureFacts.like(own, data=table(own.data), options=options)


def drawn(name: str, facts: PictureFacts) -> Figure:
    """A picture of the write-up under a name, drawn."""
    files = draw(facts)
    return Figure(name, facts.title, facts.alt, files["png"], files["svg"])

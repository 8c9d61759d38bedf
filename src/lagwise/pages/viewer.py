"""One person's course to look at, in a notebook: a list of people where there is a front end to choose in, a
picture elsewhere.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from html import escape
from importlib.util import find_spec
from typing import Any

from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.errors import WriteUpError
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload, Panel
from lagwise.findings import PictureFacts
from lagwise.findings.codes import check_codes, page_name, shown
from lagwise.findings.series import person_series
from lagwise.pages.display import Figure, drawn
from lagwise.say.check_page import TEXTS
from lagwise.say.report.course import course_picture, facts_of, of_somebody
from lagwise.writeup.draw import draw_svg
from lagwise.writeup.raster import view

WIDGET = "application/vnd.jupyter.widget-view+json"
PIXELS_PER_POINT = 96 / 72


class PersonView:
    """Load, effort, pain and flare-ups of one person on one time axis, for one person at a time.

    As the last line of a cell it shows itself: in JupyterLab or another notebook front end as a list to
    choose a person in, with the picture below it; where nobody can choose (nbconvert, papermill, a console,
    no ipywidgets) as the picture of `person`, a PNG with alternative text. `figure(code)` draws anybody's;
    `people` are the codes.

    It is a picture of a single person, and personal data whatever the code: it belongs where the records
    belong.
    """

    def __init__(self, panel: Panel, person: str = "") -> None:
        self._study = panel.study
        self._series = {one.person: one for one in person_series(panel)}
        if not self._series:
            raise WriteUpError("with nobody in the panel there is nothing to draw")
        self.people = tuple(self._series)
        (self.person,) = check_codes([person or self.people[0]], self.people, where="person")

    def __repr__(self) -> str:
        return f"PersonView of {plural(len(self.people), 'person', 'people')}\n{self.figure()!r}"

    def figure(self, person: str = "") -> Figure:
        """The picture of one person; of the one first chosen when no code is given.

        Raises
        ------
        WriteUpError
            For a code that nobody has.
        """
        (code,) = check_codes([person or self.person], self.people, where="person")
        return drawn(page_name(code, self.people), self._facts(code))

    def html(self, person: str) -> str:
        """The picture of one person as HTML with its words: JupyterLab reads out those of an image in HTML,
        and not of a bare PNG.
        """
        return in_html(self._facts(person))

    def _facts(self, code: str) -> PictureFacts:
        one, asked = self._series[code], self._study.outcome
        measure = LOAD_MEASURES.get(self._study.load.measure, "load")
        return course_picture(
            one, facts_of(one, asked.name), measure, self._study.step, asked, of_somebody(shown(code))
        )

    def chooser(self, show: Callable[[str], None]) -> Any:
        """A labelled list of people with buttons to the one before and the next, as ipywidgets in one row.

        Whenever another person is chosen, `show` is called with the code. The first child is the `Dropdown`.
        The buttons are there for the keyboard too: JupyterLab takes the arrow keys of a list that is not
        opened for its own.
        """
        from ipywidgets import Button, Dropdown, HBox

        names = Dropdown(
            options=[(shown(p), p) for p in self.people], value=self.person, description="Person"
        )
        names.observe(lambda change: show(change["new"]), names="value")
        before, after = Button(description="Previous"), Button(description="Next")
        before.on_click(lambda _: _step(names, -1, len(self.people)))
        after.on_click(lambda _: _step(names, 1, len(self.people)))
        return HBox([names, before, after])

    def _ipython_display_(self) -> None:
        from IPython.display import display

        if not can_choose():
            display(self.figure())
            return
        chooser = self.chooser(lambda person: handle.update(self._shown(person), raw=True))
        show_widget(chooser, TEXTS["unrun"])
        # An output of its own, so that the picture stays in the saved notebook when the list is gone.
        handle = display(self._shown(self.person), raw=True, display_id=True)

    def _shown(self, person: str) -> dict[str, str]:
        return shown_in_place(self._facts(person))


def _step(names: Any, by: int, of: int) -> None:
    """Choose the person so many places on; after the last comes the first."""
    names.index = (names.index + by) % of


def person_view(caseload: Caseload | Panel, person: str = "") -> PersonView:
    """One person's load, effort, pain and flare-ups on one time axis, with a list to choose the person in.

    Parameters
    ----------
    caseload : Caseload or Panel
    person : str
        Whose picture comes first; the first code when empty.

    Returns
    -------
    PersonView
        Interactive in a notebook front end with ipywidgets, elsewhere a picture with alternative text.

    Raises
    ------
    WriteUpError
        For a code that nobody has, or when there is nobody.

    Examples
    --------
    >>> import lagwise as lw
    >>> lw.person_view(panel)  # doctest: +ELLIPSIS
    PersonView of 14 people...
    """
    if isinstance(caseload, Caseload):
        from lagwise.panel import build_panel

        caseload = build_panel(caseload)
    return PersonView(caseload, person)


def in_html(facts: PictureFacts) -> str:
    """A picture as an image in HTML, with its words."""
    svg = draw_svg(facts)
    source = base64.b64encode(svg).decode("ascii")
    width, height = (round(points * PIXELS_PER_POINT) for points in view(svg))
    size, said = f'width="{width}" height="{height}"', escape(facts.alt)
    return f'<img src="data:image/svg+xml;base64,{source}" {size} alt="{said}">'


def shown_in_place(facts: PictureFacts) -> dict[str, str]:
    """A picture as what a cell shows, for an output that is updated."""
    return {"text/html": in_html(facts), "text/plain": f"{facts.title}\n{facts.alt}"}


def show_widget(widget: Any, unrun: str) -> None:
    """Show a widget in the cell that is running; `unrun` stands for it where a notebook is opened without a
    kernel.
    """
    from IPython.display import display

    row = {"version_major": 2, "version_minor": 0, "model_id": widget.model_id}
    display({WIDGET: row, "text/plain": unrun}, raw=True)


def can_choose() -> bool:
    """Whether a notebook front end asked for the cell that is running, and has widgets: its request names the
    cell, that of a converter does not.
    """
    from IPython import get_ipython

    kernel = getattr(get_ipython(), "kernel", None)
    request = kernel.get_parent() if kernel is not None else {}
    return "cellId" in (request.get("metadata") or {}) and find_spec("ipywidgets") is not None

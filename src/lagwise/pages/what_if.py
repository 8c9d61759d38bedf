"""Simulated records to play with in a notebook: sliders where there is a front end to move them in, a
precomputed grid elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Any

import pandas as pd

from lagwise.core.results import Challenges, Panel
from lagwise.document.card import card, card_html
from lagwise.pages.display import Figure, facts, picture
from lagwise.pages.viewer import can_choose, show_widget, shown_in_place
from lagwise.pages.what_if_grid import read_grid
from lagwise.planning.what_if import RANGES, Settings, WhatIf, like
from lagwise.planning.what_if import what_if as drawn
from lagwise.say import what_if as words


class WhatIfLab:
    """A simulated record with known truth, and records like it, under settings that can be moved.

    As the last line of a cell it shows itself: in JupyterLab or another notebook front end as sliders and a
    button, with picture and words below them; where nobody can move anything (nbconvert, papermill, a
    console, no ipywidgets) as the figure of a precomputed grid. `settings` and `seed` say what is drawn;
    `result` is what the record tells, `records` are all drawn so far under these settings, `attempts` are
    attempts to break it.
    """

    def __init__(self, settings: Settings, seed: int = 1) -> None:
        self.settings, self.seed = settings, seed
        self.records = pd.DataFrame()
        self._draw()

    def _draw(self) -> None:
        self.__dict__.pop("attempts", None)
        self.result: WhatIf = drawn(self.settings, self.seed)
        self.records = pd.concat([self.records, self.result.records], ignore_index=True)

    def move(self, **settings: float) -> None:
        """Other settings; records drawn under the ones before are forgotten.

        Raises
        ------
        LagwiseError
            For a name that is no setting.
        """
        self.settings, self.records = self.settings.moved(**settings), pd.DataFrame()
        self._draw()

    def again(self) -> None:
        """Another record under the same settings, by the next seed."""
        self.seed += 1
        self._draw()

    @cached_property
    def attempts(self) -> Challenges | None:
        """How attempts to break this record's result ended; None where there is no result."""
        return words.attempts(self.result)

    @property
    def told(self) -> tuple[str, ...]:
        """What this record tells, and what all drawn so far do, in sentences."""
        return tuple(words.told(self.result, self.records, self.attempts))

    @property
    def grid(self) -> pd.DataFrame:
        """The precomputed grid, one row per cell: what was `moved`, the settings, and of `caseloads`
        simulated records the mean estimate, the median width of the intervals, coverage, how often they leave
        out 0, each with its Monte Carlo error, and the person-weeks that enter the model.
        """
        return read_grid()

    def figure(self) -> Figure:
        """This record and those like it, drawn."""
        return picture(words.picture(self.result, self.records, self.attempts))

    def still(self) -> Figure:
        """The precomputed grid, drawn."""
        return picture(words.grid_picture(self.grid))

    def __repr__(self) -> str:
        return "\n".join(self.told)

    def sliders(self, show: Callable[[], None]) -> Any:
        """A slider for every setting and a button for another record, as ipywidgets in one column; `show` is
        called after each change.
        """
        from ipywidgets import Button, FloatSlider, HBox, IntSlider, Layout, VBox

        def moved(change: dict[str, Any]) -> None:
            name = change["owner"].name
            self.move(**{name: change["new"]})
            show()

        def pressed(_: Any) -> None:
            self.again()
            show()

        made = []
        for name, (low, high, step) in RANGES.items():
            kind = IntSlider if isinstance(step, int) else FloatSlider
            slider = kind(
                value=getattr(self.settings, name), min=low, max=high, step=step,
                description=words.LABELS[name], continuous_update=False,
                style={"description_width": "14.5em"}, layout=Layout(width="32em"),
            )  # fmt: skip
            slider.name = name
            slider.observe(moved, names="value")
            made.append(slider)
        button = Button(description=words.BUTTON)
        button.on_click(pressed)
        return VBox([HBox(made, layout=Layout(flex_flow="row wrap")), button])

    def _ipython_display_(self) -> None:
        from IPython.display import display

        if not can_choose():
            display(self.still())
            return

        def show() -> None:
            drawing.update(self._drawing(None), raw=True)
            text.update(self._text(words.WAITS), raw=True)
            drawing.update(self._drawing(self.attempts), raw=True)
            text.update(self._text(*self.told), raw=True)

        show_widget(self.sliders(show), words.UNRUN)
        drawing = display(self._drawing(None), raw=True, display_id=True)
        text = display(self._text(words.WAITS), raw=True, display_id=True)
        show()

    def _drawing(self, tried: Challenges | None) -> dict[str, str]:
        return shown_in_place(facts(words.picture(self.result, self.records, tried)))

    def _text(self, *lines: str) -> dict[str, str]:
        return {"text/html": card_html(card("", lines)), "text/plain": "\n".join(lines)}


def what_if(panel: Panel | None = None, *, seed: int = 1, **settings: float) -> WhatIfLab:
    """Simulated records with a known truth, to see what moves an estimate, its interval and its verdicts.

    Parameters
    ----------
    panel : Panel, optional
        Its people, the median steps of a person and the share of steps without outcome or load are where the
        sliders begin, as near as they reach; nothing else of it is used.
    seed : int
    settings : people, weeks, missing_weeks, difference, feedback, rating_error, unrecorded
        As in `lagwise.planning.what_if.Settings`, each taken to the nearest value of its slider.

    Returns
    -------
    WhatIfLab
        Interactive in a notebook front end with ipywidgets, elsewhere the figure of a precomputed grid.

    Raises
    ------
    LagwiseError
        For a name that is no setting, or a panel with nobody in it.

    Examples
    --------
    >>> import lagwise as lw
    >>> lw.what_if(people=10, difference=0)  # doctest: +ELLIPSIS
    This record (10 people, 130 person-weeks): 0.15 points higher (95 % interval ...
    """
    begin = Settings() if panel is None else like(panel)
    return WhatIfLab(begin.moved(**settings), seed)

"""People x steps as one picture: what is known of each step, told apart by shapes and not colours alone."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.document.settle import html_text as escape
from lagwise.say.check_page import coverage, not_drawn

MOST_PEOPLE = 300
MOST_STEPS = 400
_CELL, _PITCH_X, _PITCH_Y, _TOP = 11, 14, 20, 22
_LETTER, _MONTH = 6.8, 62


def coverage_map(panel: Panel) -> tuple[str, str]:
    """The picture as SVG text, and what it leaves out in words ('' when nothing).

    One row per person in order of first step, one column per calendar step. A filled square is a trained
    step, an open square a rest, a short line an unknown one; a dot below says that the outcome was rated.
    Blank is before a person's first or after their last record. At most 300 people and 400 steps are drawn.
    """
    frame = panel.frame
    if frame.empty:
        return "", ""
    first = frame.groupby("person")["step_start"].min().sort_values(kind="stable")
    shown = first.index[:MOST_PEOPLE]
    origin = first.min()
    column = ((frame["step_start"] - origin).dt.days // panel.study.clock.step_days).to_numpy()
    inside = (column < MOST_STEPS) & frame["person"].isin(shown).to_numpy()
    part, column = frame[inside], column[inside]
    row = pd.Series(range(len(shown)), index=shown)[part["person"]].to_numpy()
    labels = [str(code) if len(str(code)) <= 14 else f"{str(code)[:13]}…" for code in shown]
    left = round(max(len(label) for label in labels) * _LETTER + 10)
    width, height = left + int(column.max() + 1) * _PITCH_X + _MONTH, _TOP + len(shown) * _PITCH_Y
    x, y = left + column * _PITCH_X, _TOP + row * _PITCH_Y
    state = part["state"].to_numpy()
    marks = [
        _path("trained", f"h{_CELL}v{_CELL}h-{_CELL}z", x, y, state == "trained"),
        _path("rest", f"h{_CELL - 2}v{_CELL - 2}h-{_CELL - 2}z", x + 1, y + 1, state == "rest"),
        _path("unknown", "h5", x + 3, y + _CELL // 2, state == "unknown"),
        _path(
            "rated", "h.01", x + _CELL / 2, y + _CELL + 3.5, part[panel.study.outcome.name].notna().to_numpy()
        ),
    ]
    names = [
        f'<text x="0" y="{_TOP + i * _PITCH_Y + _CELL - 1}">{escape(label)}</text>'
        for i, label in enumerate(labels)
    ]
    svg = (
        f'<svg class="map" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'aria-label="{escape(coverage(panel))}">{"".join(names)}'
        f"{_months(origin, panel, int(column.max()), left)}{''.join(marks)}</svg>"
    )
    later = int((~inside & frame["person"].isin(shown).to_numpy()).sum())
    return svg, not_drawn(len(first) - len(shown), later, MOST_PEOPLE, MOST_STEPS)


def _path(name: str, shape: str, x: np.ndarray, y: np.ndarray, where: np.ndarray) -> str:
    if not where.any():
        return ""
    data = "".join(f"M{a:g} {b:g}{shape}" for a, b in zip(x[where], y[where], strict=True))
    return f'<path class="{name}" d="{data}"/>'


def _months(origin: pd.Timestamp, panel: Panel, last: int, left: int) -> str:
    """Month and year above the first step of a month, as close as they can be read; the number of the step
    where nothing is known of the calendar."""
    study = panel.study
    starts = pd.Series(origin + pd.to_timedelta(np.arange(last + 1) * study.clock.step_days, unit="D"))
    first = (starts.index % 5 == 0) if study.numbered else starts.dt.month.diff().ne(0)
    out, free = [], 0
    for i, (start, new) in enumerate(zip(starts, first, strict=True)):
        if new and i * _PITCH_X >= free:
            said = f"{study.step} {i + 1}" if study.numbered else start.strftime("%b %Y")
            out.append(f'<text class="when" x="{left + i * _PITCH_X}" y="12">{said}</text>')
            free = i * _PITCH_X + max(_MONTH, round(len(said) * _LETTER) + 8)
    return "".join(out)

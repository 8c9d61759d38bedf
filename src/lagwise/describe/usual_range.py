"""How far each exposure moves within people: the contrast from usual low to usual high."""

from __future__ import annotations

import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.terms import whole


def usual_range(panel: Panel) -> pd.DataFrame:
    """The usual low and usual high of every exposure lie one within-person SD below and above.

    Returns
    -------
    DataFrame
        term, within_sd, n_people, n_steps. `within_sd` is the mean over people with at least two known steps
        of each person's SD (n - 1), in the exposure's own unit; of the load jump over trained steps with a
        usual load. Missing where nobody has two known steps.
    """
    frame = panel.frame
    trained = frame["rested"].ne(1) & frame["restarted"].ne(1)
    rows = []
    for term in (v for v in panel.study.variables if v != panel.study.outcome.name):
        values = frame[term].where(trained) if whole(term) else frame[term]
        own = values.groupby(frame["person"]).std().dropna()
        rows.append((term, own.mean() if len(own) else float("nan"), len(own), int(values.notna().sum())))
    return pd.DataFrame(rows, columns=["term", "within_sd", "n_people", "n_steps"])

"""One row per person."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.columns import STATES
from lagwise.core.results import Caseload, Panel


def people_table(caseload: Caseload, panel: Panel) -> pd.DataFrame:
    """Each person's record in one row, with what the people table says of them.

    Returns
    -------
    DataFrame
        person and the columns of the people table; steps, complete (steps that enter the main question),
        trained, rest, unknown (steps of each state), sessions, checkins; of the outcome, by its name:
        pain_steps, mean_pain, sd_pain, lowest_pain, highest_pain, pain_trend (points per step, least squares
        over known steps); mean_load, sd_jump, flare_onsets (by the outcome), flares_reported (steps the
        person called a flare-up; missing when never asked), events.

    These rows are trajectories of single people: personal data, whatever the code.
    """
    frame = panel.frame
    grouped = frame.groupby("person", sort=True)
    name = panel.study.outcome.name
    rating = grouped[name]
    out = pd.DataFrame({"steps": grouped.size()})
    out["complete"] = panel.coverage().set_index("person")["complete"]
    for state in STATES:
        out[state] = frame["state"].eq(state).groupby(frame["person"]).sum().astype("int64")
    out["sessions"], out["checkins"] = grouped["n_sessions"].sum(), grouped["n_checkins"].sum()
    out[f"{name}_steps"] = rating.count()
    out[f"mean_{name}"], out[f"sd_{name}"] = rating.mean(), rating.std()
    out[f"lowest_{name}"], out[f"highest_{name}"] = rating.min(), rating.max()
    out[f"{name}_trend"] = _trend(frame, name)
    out["mean_load"], out["sd_jump"] = grouped["load"].mean(), grouped["jump"].std()
    out["flare_onsets"] = grouped["flare_next"].sum().astype("int64")
    out["flares_reported"] = grouped["flare_reported"].sum(min_count=1)
    out["events"] = caseload.events["person"].value_counts().reindex(out.index).fillna(0).astype("int64")
    known = caseload.people.drop_duplicates("person").set_index("person").drop(columns="row")
    return known.reindex(out.index).join(out).rename_axis("person").reset_index()


def _trend(frame: pd.DataFrame, name: str) -> pd.Series:
    """Least-squares slope of a rating over steps, per person; missing with fewer than two known steps."""
    known = frame.loc[frame[name].notna(), ["person", "step", name]]
    parts = known.groupby("person")[["step", name]].transform("mean")
    x, y = known["step"] - parts["step"], known[name] - parts[name]
    xy, xx = (x * y).groupby(known["person"]).sum(), (x**2).groupby(known["person"]).sum()
    return xy / xx.where(xx > 0, np.nan)

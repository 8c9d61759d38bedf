"""Write the simulated panels that the R scripts read: python tests/reference/make_panels.py"""

import sys
from pathlib import Path

import pandas as pd

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "models"))

from simulated_panels import simulate  # noqa: E402

COLUMNS = [
    "person", "step", "pain_next", "jump", "log_usual", "rested", "effort_within", "effort_between", "stress_within", "stress_between",
    "sleep_hours_within", "sleep_hours_between", "worry_within", "worry_between", "pain_within", "pain_between", "pain_before_within", "pain_before_between",
    "at_risk", "flare_next",
]  # fmt: skip
PANELS = {
    "panel_40x26.csv": {"seed": 11, "effect": 0.8, "slope_sd": 0.7},
    "panel_12x20.csv": {"seed": 12, "people": 12, "steps": 20, "effect": 0.5, "slope_sd": 0.6, "missing": 0.15, "person_sd": 1.5},
    "panel_7x24.csv": {"seed": 13, "people": 7, "steps": 24, "effect": 0.5, "missing": 0.1},
}  # fmt: skip


def frame(name: str) -> pd.DataFrame:
    """The rows of one committed panel."""
    return simulate(**PANELS[name]).frame[COLUMNS]


if __name__ == "__main__":
    for file in PANELS:
        frame(file).to_csv(HERE / file, index=False, float_format="%.10g")

"""lagwise: ask a pooled, coded training log what tends to come before a worse week, and write the answer up.

>>> import lagwise as lw
>>> caseload = lw.read("my-caseload")
>>> panel = lw.build_panel(caseload)
>>> fit = lw.fit_mixed(panel)

Names load on first use, so importing the package is fast.
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

_HOMES = {
    "read": "lagwise.caseload",
    "from_frames": "lagwise.caseload",
    "draft": "lagwise.drafts",
    "build_panel": "lagwise.panel",
    "fit_mixed": "lagwise.models",
    "fit_ordinal": "lagwise.models",
    "fit_flares": "lagwise.models",
    "fit_rated": "lagwise.models",
    "fit_metric": "lagwise.models",
    "fit_lags": "lagwise.models",
    "fit_dose": "lagwise.models",
    "follow": "lagwise.say.changes.follow",
    "stretches": "lagwise.say.changes.stretches",
    "phases": "lagwise.say.changes.phases",
    "design_comparable": "lagwise.say.changes.across",
    "pymc_model": "lagwise.models",
    "compare": "lagwise.models",
    "compare_fits": "lagwise.models",
    "load": "lagwise.core.fit_file",
    "challenge": "lagwise.say.challenge",
    "plan": "lagwise.say.plan",
    "Assumptions": "lagwise.planning",
    "collect": "lagwise.writeup.collect",
    "write_up": "lagwise.writeup.write",
    "since": "lagwise.pages.since",
    "answer": "lagwise.pages.display",
    "figure": "lagwise.pages.display",
    "picture": "lagwise.pages.display",
    "table": "lagwise.pages.table",
    "person_view": "lagwise.pages.viewer",
    "what_if": "lagwise.pages.what_if",
    "Caseload": "lagwise.core.results",
    "Panel": "lagwise.core.results",
    "Fit": "lagwise.core.results",
    "Challenges": "lagwise.core.results",
    "Followed": "lagwise.core.followed",
    "Stretches": "lagwise.core.against_self",
    "Study": "lagwise.core.study",
    "LagwiseError": "lagwise.core.errors",
}
_ROOMS = ("synthetic", "exercises")

__all__ = ["__version__", *_HOMES, *_ROOMS]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        value = getattr(importlib.import_module(_HOMES[name]), name)
        globals()[name] = value
        return value
    if name in _ROOMS:
        return importlib.import_module(f"lagwise.{name}")
    raise AttributeError(f"module 'lagwise' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)

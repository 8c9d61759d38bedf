"""From panel to fits to tidy effects. Entry points load on first use."""

from __future__ import annotations

import importlib
from typing import Any

_HOMES = {
    "fit_mixed": "lagwise.models.mixed",
    "fit_flares": "lagwise.models.flare",
    "fit_rated": "lagwise.models.rated",
    "fit_ordinal": "lagwise.models.ordinal",
    "fit_metric": "lagwise.models.metric",
    "fit_lags": "lagwise.models.lags",
    "fit_dose": "lagwise.models.dose",
    "pymc_model": "lagwise.models.open_model",
    "crude_and_adjusted": "lagwise.models.same_rows",
    "pooling": "lagwise.models.people",
    "compare": "lagwise.models.comparison",
    "compare_fits": "lagwise.models.comparison",
}

__all__ = [*_HOMES]


def __getattr__(name: str) -> Any:
    if name == "views":  # where it was; its sentences are in the room say
        return importlib.import_module("lagwise.say.views")
    if name not in _HOMES:
        raise AttributeError(f"module 'lagwise.models' has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)

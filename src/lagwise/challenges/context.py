"""What every challenge is given, and the helpers they share."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.errors import ModelError
from lagwise.core.results import Fit, Panel
from lagwise.core.terms import EXPOSURES
from lagwise.models.design import Design, design


@dataclass(frozen=True)
class Context:
    """The panel, the fit whose primary row is challenged, and how much work may be done.

    `draws` is the number of shuffles or resamples of a challenge that needs them. `bayes` is a usable Bayesian fit
    or None.
    """

    panel: Panel
    fit: Fit
    seed: int = 1
    draws: int = 999
    bayes: Fit | None = None

    @property
    def term(self) -> str:
        """The primary exposure."""
        return self.panel.study.analysis.primary

    @property
    def column(self) -> str:
        """Panel column by which the primary exposure enters within people."""
        return self.term if EXPOSURES[self.term].whole else f"{self.term}_within"

    @property
    def size(self) -> float:
        """The primary contrast on the model's scale."""
        return contrast_size(self.term, self.panel.study.analysis.primary_contrast)

    @property
    def label(self) -> str:
        """The primary contrast in words, such as '+50 % load'."""
        contrast = contrast_label(self.term, self.panel.study.analysis.primary_contrast)
        return f"{contrast} over usual load" if self.term == "jump" else f"{contrast} {EXPOSURES[self.term].label}"

    @property
    def primary(self) -> pd.Series:
        """The primary row of the effect table.

        Raises
        ------
        ModelError
            When the fit has none, so that there is no result to challenge.
        """
        rows = self.fit.effects[self.fit.effects["primary"]] if len(self.fit.effects) else self.fit.effects
        if rows.empty:
            raise ModelError("there is no primary estimate to challenge")
        return rows.iloc[0]

    @property
    def clear(self) -> bool:
        """True when the primary interval leaves out 0."""
        row = self.primary
        return bool(row["low"] > 0 or row["high"] < 0)

    def design(self, **changes: Any) -> Design:
        """The design of the primary model, or one that differs from it in the named arguments of `design`."""
        settings = {
            "exposures": self.fit.settings.get("exposures"),
            "pain_adjusted": self.fit.settings.get("pain_adjusted"),
        }
        return design(self.panel, **(settings | changes))

    def stream(self, name: str) -> np.random.Generator:
        """The random numbers of one challenge: they depend on seed and name alone, not on what else is run."""
        return np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=(zlib.crc32(name.encode()),)))


def numbers(*rows: tuple[str, float, float, float, str]) -> pd.DataFrame:
    """The tidy numbers of a challenge from (quantity, value, low, high, unit) rows."""
    return pd.DataFrame(rows, columns=["quantity", "value", "low", "high", "unit"])


def shown(value: float, places: int = 2) -> str:
    """A number for a sentence: fixed places, a true minus sign left as '-', no negative zero."""
    text = f"{value:.{places}f}"
    return text[1:] if float(text) == 0 and text.startswith("-") else text


def span(low: float, high: float, places: int = 2) -> str:
    """An interval for a sentence."""
    return f"{shown(low, places)} to {shown(high, places)}"

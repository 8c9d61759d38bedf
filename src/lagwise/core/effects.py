"""The tidy effect table that every engine returns: one row per estimand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

import pandas as pd

from lagwise.core.claim import words
from lagwise.core.engine import ENGINES
from lagwise.core.errors import ModelError
from lagwise.core.terms import whole
from lagwise.core.words import LOW_TO_HIGH as LOW_TO_HIGH
from lagwise.core.words import PER_SD as PER_SD
from lagwise.core.words import PER_UNIT as PER_UNIT
from lagwise.document.card import card_html

EFFECTS = (
    "engine", "model", "outcome", "term", "level", "adjustment", "pain_adjusted", "primary", "contrast",
    "contrast_size", "scale", "estimate", "std_error", "low", "high", "df", "interval", "n_people", "n_steps",
    "p_above_zero", "p_practically_zero", "p_important",
)  # fmt: skip
"""Columns of the effect table in order; their meaning is in `lagwise.say.columns`."""

LEGAL: Mapping[str, tuple[Any, ...]] = MappingProxyType(
    {
        "level": ("within", "between", "whole"),
        "adjustment": ("crude", "adjusted"),
        "pain_adjusted": ("before", "during", "latent", "none"),
        "scale": ("points", "log_odds", "odds_ratio", "probability"),
    }
)

_OPTIONAL = ("p_above_zero", "p_practically_zero", "p_important", "df")


class EffectTable(pd.DataFrame):
    """A plain DataFrame that shows itself readably where it has the effect table's columns, else as pandas
    does."""

    @property
    def _constructor(self) -> type[pd.DataFrame]:
        return EffectTable

    def _whole(self) -> bool:
        return len(self) > 0 and set(EFFECTS) <= set(self.columns)

    def __repr__(self) -> str:
        return words("show_results.effects_text")(self) if self._whole() else super().__repr__()

    def _repr_html_(self) -> str | None:
        return (
            card_html(words("show_results.effects_card")(self)) if self._whole() else super()._repr_html_()  # type: ignore[misc]
        )


def effects_frame(rows: Iterable[Mapping[str, Any]]) -> EffectTable:
    """Rows as an effect table: every column of `EFFECTS` in order, words checked, optional numbers missing.

    Raises
    ------
    ModelError
        When a row lacks a column, has an unknown one or uses a word that is not in the vocabulary.
    """
    out = []
    for row in rows:
        unknown, lacking = set(row) - set(EFFECTS), set(EFFECTS) - set(row) - set(_OPTIONAL)
        if unknown or lacking:
            raise ModelError(
                f"an effect row has unknown columns {sorted(unknown)} and lacks {sorted(lacking)}"
            )
        for column, legal in ({"engine": tuple(ENGINES)} | dict(LEGAL)).items():
            if row[column] not in legal:
                raise ModelError(
                    f"{row[column]!r} is not a legal {column}", mend=f"Use one of {', '.join(legal)}."
                )
        out.append({column: row.get(column, math.nan) for column in EFFECTS})
    frame = EffectTable(out, columns=list(EFFECTS))
    numbers = ["contrast_size", "estimate", "std_error", "low", "high", "interval", *_OPTIONAL]
    frame[numbers] = frame[numbers].astype("float64")
    frame["primary"] = frame["primary"].astype(bool)
    return frame


def contrast_size(term: str, contrast: float) -> float:
    """Size of the primary contrast on the model's scale: log(1 + contrast) for jump, else the contrast
    itself."""
    return math.log1p(contrast) if whole(term) else contrast


def contrast_label(term: str, contrast: float) -> str:
    """The contrast in the words of the effect table: '+50 %' for jump at 0.5, '+1' or '-1' own units for
    others."""
    return f"{contrast * 100:+g} %" if whole(term) else f"{contrast:+g}"

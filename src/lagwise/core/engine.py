"""Engines: which models there are, what each is called, what its intervals are and what it needs, in one
table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from lagwise.core.errors import ModelError


@dataclass(frozen=True)
class Engine:
    """A model that returns an effect table or a curve.

    `label` is its plain name. `interval` is 'confidence' or 'credible'. `answers` tells its question:
    'rating' (the outcome itself), 'onset' (whether a flare-up begins), 'curve' (how an association runs over
    lags or sizes) or 'event' (what followed one). `headline` is the word of `[analysis] headline` under which
    its estimate may lead, '' where it never does; `as_rated` says that it takes ratings for what they
    measure, `comparator` that it is made to stand beside another and that nothing else is told from it.
    `people` is the least number it takes,
    `lags` the lags of the plan that it can answer, `tables` what `Fit.tables` may hold, and `fit` where its
    function is, as 'module:function'.
    """

    name: str
    label: str
    interval: str = "confidence"
    answers: str = "rating"
    headline: str = ""
    as_rated: bool = False
    comparator: bool = False
    people: int = 10
    lags: tuple[int, ...] = (0, 1)
    tables: tuple[str, ...] = ()
    fit: str = ""


_OF_MIXED = ("coefficients", "adjustments", "reach", "bootstrap", "rungs", "collinearity", "prediction")
_OF_FLARES = ("counts", "agreement", "aligned", "coefficients", "risk", "rungs", "bias_at_this_size",
              "prediction", "other_definition", "referents")  # fmt: skip
_EVENTS = "lagwise.say.changes.follow:follow"
_TABLE = (
    Engine("mixed", "mixed model", headline="mixed", as_rated=True, fit="lagwise.models.mixed:fit_mixed",
           tables=(*_OF_MIXED, "random_effects", "variance", "people", "jackknife", "within")),
    Engine("within", "within-person model", as_rated=True, people=5, fit="lagwise.models.mixed:fit_mixed",
           tables=_OF_MIXED),
    Engine("rated", "joint model", headline="joint", people=5, lags=(1,),
           fit="lagwise.models.rated:fit_rated", tables=("rating", "answers", "innovations")),
    Engine("ordinal", "ordinal model", "credible", fit="lagwise.models.ordinal:fit_ordinal",
           tables=("absolute_risk", "reach", "people", "scales", "ppc", "prior_predictive",
                   "priors")),
    Engine("metric", "metric model (comparator)", "credible", comparator=True,
           fit="lagwise.models.metric:fit_metric", tables=("scales", "priors")),
    Engine("flare", "flare model", answers="onset", people=5, lags=(1,),
           fit="lagwise.models.flare:fit_flares", tables=_OF_FLARES),
    Engine("clogit", "self-controlled model", answers="onset", people=5, lags=(1,),
           fit="lagwise.models.flare:fit_flares"),
    Engine("lags", "lag model", answers="curve", fit="lagwise.models.lags:fit_lags",
           tables=("curve", "unsmoothed", "smoothness")),
    Engine("dose", "dose-response curve", answers="curve", fit="lagwise.models.dose:fit_dose",
           tables=("curve", "rug", "knots", "nonlinearity")),
    Engine("risk_set", "history-matched comparison", answers="event", people=5, fit=_EVENTS),
    Engine("did", "difference in differences", answers="event", comparator=True, people=5,
           fit=_EVENTS),
    Engine("before_after", "before and after", answers="event", comparator=True, people=5,
           fit=_EVENTS),
)  # fmt: skip
_REGISTERED: dict[str, Engine] = {engine.name: engine for engine in _TABLE}
ENGINES: Mapping[str, Engine] = MappingProxyType(_REGISTERED)
"""Every engine by name, those registered from elsewhere last."""


def register(engine: Engine) -> Engine:
    """Make an engine known: its name is then legal in effect tables, and its label and intervals are told
    wherever it stands.

    Raises
    ------
    ModelError
        When another engine has the name.
    """
    if _REGISTERED.setdefault(engine.name, engine) != engine:
        raise ModelError(f"there is an engine called {engine.name!r} already", mend="Give it another name.")
    return engine


def named(name: str) -> Engine:
    """The engine of that name; one that nobody registered is called by its name and answers for nothing."""
    return ENGINES.get(name) or Engine(name, name.replace("_", " "))

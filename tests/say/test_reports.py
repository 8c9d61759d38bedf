"""Whole reports as kept: one in full, of every other what it says otherwise. Prose is pinned here, once."""

from __future__ import annotations

from dataclasses import asdict, replace
from functools import cache
from pathlib import Path

import golden
import numpy as np
import pandas as pd
import pytest
import writeup_inputs as made

from lagwise.core.effects import contrast_size
from lagwise.core.errors import ModelError
from lagwise.core.study import AnalysisPlan, Clock, Study
from lagwise.document.markdown import render_md
from lagwise.findings import Findings
from lagwise.models import fit_flares, fit_mixed
from lagwise.models.design import design
from lagwise.models.priors import DEFAULT, prior_of_contrast, prior_table, standardise
from lagwise.pages.report import not_fitted
from lagwise.panel import build_panel, panel_from_blocks
from lagwise.say.report.document import document, on_sheets
from lagwise.say.report.fitted import Why
from lagwise.say.report.person import group
from lagwise.say.report.reasons import no_answer
from lagwise.say.report.shown import small_at
from lagwise.say.report.summary import summary
from lagwise.say.report.words import Words
from lagwise.synthetic import CLINIC, simulate, simulate_panel
from lagwise.writeup.collect import collect

pytestmark = pytest.mark.xdist_group("reports")  # which are made once
GOLDEN = Path(__file__).parent / "golden" / "reports.md"
PLAN = Study("Odd caseloads", analysis=AnalysisPlan(exposures=("jump", "effort", "stress", "worry")))
TONNAGE = replace(PLAN, load=replace(PLAN.load, measure="tonnage"))
PAINS = ["pain_mean", "pain_worst", "pain_last"]
HELD = (*made.entered(), "pain_within", "pain_between", "step")
RATED = ("stress", "worry", "sleep_hours", "sleep_quality", "confidence")
SEEN = {"check": "share_at_0", "meaning": "share of ratings of 0", "mean": 0.06, "low": 0.0, "high": 0.33}


def put(
    *fits, study: Study = made.STUDY, people: int = 12, loads: bool = True, tried=None, **settings
) -> Findings:
    """Findings of a made-up caseload and made-up fits."""
    panel = made.panel(people, 14, study=study, loads=loads)
    return collect(made.caseload(study), panel, list(fits), tried, settings=settings or None)


@cache
def _blocks(people: int) -> pd.DataFrame:
    spec = replace(CLINIC, n_people=people, n_steps=16)
    return simulate_panel(spec, np.random.default_rng(1), study=PLAN).blocks


def told(change=lambda b: b, study: Study = PLAN, *, people: int = 12, aside=None) -> Findings:
    """Findings of the clinic's record after a change of its blocks."""
    panel = panel_from_blocks(change(_blocks(people).copy()), study)
    try:
        fit = fit_mixed(panel)
    except ModelError as error:
        fit = not_fitted("mixed", "pain_next", error.what, error.mend)
    caseload = made.caseload(study, quarantine=aside)
    if panel.frame["state"].eq("unknown").all():
        caseload = replace(caseload, counts=caseload.counts.iloc[1:])
    return collect(caseload, panel, [fit], None)


def no_load(blocks: pd.DataFrame) -> pd.DataFrame:
    loads = dict.fromkeys((c for c in blocks if c.startswith("load_")), np.nan)
    return blocks.assign(recorded="unknown", n_sessions=0, source="checkins", effort=np.nan, **loads)


def weighed(blocks: pd.DataFrame) -> pd.DataFrame:
    """A load in another measure than the plan's; a week of rest has one in every measure: none."""
    rest = blocks["step"].eq(3)
    tonnage = np.where(rest, 0.0, np.nan)
    return blocks.assign(load_tonnage=tonnage, recorded=blocks["recorded"].mask(rest, "rest"))


def out_of_range() -> pd.DataFrame:
    rows = [("sessions", i + 2, "effort", "15", "out_of_range", "") for i in range(9)]
    return pd.DataFrame(rows, columns=["table", "row", "column", "value", "code", "mend"])


def guessed(*more: float, mae: float = 0.812):
    """A mixed fit whose guesses miss that much, and without load so much more, with its interval."""
    rows = [("model", mae, 0.0, 0.0, 0.0), ("same as last step", 0.96, 0.15, 0.07, 0.23)]
    rows += [("model without load", 0.812 + more[0], *more)] if more else []
    columns = ["predictor", "mae", "mae_more", "mae_more_low", "mae_more_high"]
    table = pd.DataFrame(rows, columns=columns).assign(scheme="next step", n_steps=367, n_people=37)
    return replace(
        made.mixed(), settings={"pain_adjusted": "during"}, columns=HELD, tables={"prediction": table}
    )


def with_priors():
    base, data = made.ordinal(), design(panel_from_blocks(_blocks(12), PLAN))
    planned = prior_of_contrast("+50 %", np.array([-0.4, 0.0, 0.4]))
    priors = prior_table(data, standardise(data, DEFAULT), DEFAULT).to_dict("records")
    seen = pd.DataFrame([SEEN | {"observed": 0.07}])
    return replace(
        base,
        settings={**base.settings, "priors": asdict(DEFAULT), "pain_adjusted": "during"},
        columns=HELD,
        tables={**base.tables, "prior_predictive": seen, "priors": pd.DataFrame([*priors, planned])},
    )


def failed(gate: str, value: float, **rest):
    """An ordinal fit that did not pass a gate."""
    table = pd.DataFrame(
        [(gate, value, "", False, "")], columns=["gate", "value", "limit", "passed", "meaning"]
    )
    return replace(made.ordinal(usable=False), diagnostics=table, **rest)


def none_at_all():
    fit = made.mixed("undecided")
    estimate = fit.effects["estimate"].where(~fit.effects["primary"], 0.0)
    return replace(fit, effects=fit.effects.assign(estimate=estimate))


def between(contrast: float, high: float, *, reached: bool = True) -> Findings:
    """A primary row from -high to high, at a contrast that people show or do not."""
    study = replace(made.STUDY, analysis=replace(made.STUDY.analysis, primary_contrast=contrast))
    fit, label = made.mixed(study=study), f"{100 * contrast:+g} %"
    usual = ("usual low to usual high", "jump", 0.8, True)
    table = pd.DataFrame([(label, "jump", contrast_size("jump", contrast), reached), usual],
                         columns=["contrast", "term", "size", "reached"])  # fmt: skip
    rows = fit.effects.assign(estimate=0.0, low=-high, high=high)
    return put(replace(fit, effects=rows, tables={"reach": table}), study=study)


@cache
def flares(asked: bool) -> Findings:
    """Flare models of the clinic, whose people were asked for flare-ups by word or were not."""
    caseload = simulate(CLINIC, 1)
    given = caseload if asked else replace(caseload, checkins=caseload.checkins.drop(columns="flare"))
    panel = build_panel(given)
    return collect(
        caseload, panel, [fit_mixed(panel), made.ordinal(), fit_flares(panel, simulations=0)], None
    )


DIARY, DAYS, FORTNIGHTS = made.without_load(), *(replace(made.STUDY, clock=Clock(n)) for n in (1, 14))
CASES = {
    "with all": lambda: put(guessed(0.02, -0.01, 0.05), with_priors(), tried=made.challenges()),
    "load adds to the guess": lambda: put(guessed(0.08, 0.03, 0.13)),
    "with load the guess is the worse for it": lambda: put(guessed(-0.06, -0.09, -0.02)),
    "nothing is guessed without load": lambda: put(guessed()),
    "guesses miss by little": lambda: put(guessed(mae=0.31)),
    "guesses of a model that is not usable": lambda: put(replace(guessed(), usable=False, why_not="no")),
    "a diary alone": lambda: put(made.mixed(study=DIARY), study=DIARY, loads=False),
    "days": lambda: put(made.mixed(study=DAYS), study=DAYS),
    "fortnights": lambda: put(made.mixed(study=FORTNIGHTS), study=FORTNIGHTS),
    "an estimate of zero": lambda: put(none_at_all()),
    "no usable mixed model": lambda: put(made.mixed(usable=False), made.ordinal()),
    "no usable ordinal model": lambda: put(made.mixed(), made.ordinal(usable=False)),
    "a sampler that lost its path": lambda: put(made.mixed(), failed("divergences", 1.0)),
    "an ordinal model of too few": lambda: put(made.mixed(), replace(made.ordinal(usable=False), n_people=7)),
    "a quick run": lambda: put(made.mixed(), quick=True),
    "a small contrast": lambda: between(0.1, 0.2),
    "a contrast that nobody reaches": lambda: between(1.0, 0.3, reached=False),
    "the clinic": told,
    "load is not recorded": lambda: told(no_load),
    "pain alone": lambda: told(lambda b: no_load(b).assign(**dict.fromkeys(RATED, np.nan))),
    "few people": lambda: told(people=4),
    "effort is not recorded": lambda: told(lambda b: b.assign(effort=np.nan)),
    "effort does not vary": lambda: told(
        lambda b: b.assign(effort=b["effort"].where(b["effort"].isna(), 7.0))
    ),
    "effort of another scale": lambda: told(lambda b: b.assign(effort=np.nan), aside=out_of_range()),
    "no rating is followed by one": lambda: told(
        lambda b: b.assign(**{p: b[p].where(b["step"] % 2 == 0) for p in PAINS})
    ),
    "worry is known in few": lambda: told(
        lambda b: b.assign(worry=b["worry"].where(b["person"].isin(sorted(set(b["person"]))[:3])))
    ),
    "load in another measure": lambda: told(weighed, TONNAGE),
    "flare-ups by two definitions": lambda: flares(True),
    "flare-ups by pain alone": lambda: flares(False),
}
WHY = {
    "load is not recorded": Why.NOT_RECORDED,
    "few people": Why.FEW_PEOPLE,
    "no rating is followed by one": Why.NO_NEXT,
    "worry is known in few": Why.FEW_COMPLETE,
    "load in another measure": Why.OTHER_MEASURE,
}
found = cache(lambda name: CASES[name]())


def lines(name: str) -> list[str]:
    """A report until its checklist, which says when and with which versions it was made."""
    return (
        render_md(on_sheets(document(found(name))))
        .replace("\\", "")
        .split("### Reporting checklist")[0]
        .splitlines()
    )


def test_reports_are_as_kept():
    """The first report in full; of others what the first two do not say."""
    first, *others = CASES
    said = lines(first)
    kept = [f"<!-- {first} -->", *said]
    for name in others:
        new = [n for n in lines(name) if not n.startswith(("|", "![")) and n not in said]
        kept += ["", f"<!-- {name} -->", *new]
        said += new * (name == others[0])
    golden.kept(GOLDEN, "\n".join(kept) + "\n")


@pytest.mark.parametrize("name", WHY)
def test_the_reason_for_no_answer_is_its_own(name):
    """Load that was not recorded is no lack of people, neither in the report nor on a person's page."""
    assert no_answer(found(name)).why is WHY[name]
    assert ("So few people" in group(found(name), Words(found(name)))) == (name == "few people")


def test_findings_made_before_columns_were_kept_say_the_same():
    now = found("effort is not recorded")
    fits = tuple(f.model_copy(update={"columns": (), "dropped": ()}) for f in now.fits)
    old = document(now.model_copy(update={"fits": fits})).blocks
    assert old[: len(old) // 8] == document(now).blocks[: len(old) // 8]


@pytest.mark.parametrize(
    ("contrast", "high", "reached", "where"),
    [(0.1, 0.2, True, ""), (0.1, 0.04, True, "at +10 %"), (1.0, 0.3, True, "at +100 %"), (1.0, 0.9, False, ""),
     (1.0, 0.3, False, "from usual low to usual high (33 % below to 49 % above the usual load)")],
)  # fmt: skip
def test_practically_none_is_said_only_of_what_people_show(contrast, high, reached, where):
    shown = between(contrast, high, reached=reached)
    assert small_at(shown, shown.primary, 0.5) == where


def test_a_further_question_of_the_next_day_says_so_beside_one_of_the_same_day():
    asked = {"exposures": ["stress"], "primary": "stress", "order": "exposure_first"}
    plan = made.STUDY.with_(
        outcome="worry", lag=0, **asked, also=[{"outcome": "pain", "primary": "stress", "lag": 1}]
    )
    (later,) = plan.further
    fits = [made.mixed(study=plan)], [made.mixed(study=later)]
    also_of = [(made.panel(11, 12, study=later), fits[1])]
    found = collect(made.caseload(plan), made.panel(11, 12, study=plan), fits[0], None, also=also_of)
    text = [str(p) for p in summary(found)]
    assert "higher that week (" in text[0] and "higher in the next week (" in text[2]

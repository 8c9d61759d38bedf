"""The Student-t comparator: real sampling, agreement with the mixed model where both are right."""

import arviz as az
import numpy as np
import pytest
from simulated_panels import simulate

from lagwise.models.metric import fit_metric
from lagwise.models.mixed import fit_mixed
from lagwise.models.priors import DEFAULT

pytestmark = [pytest.mark.mcmc, pytest.mark.xdist_group("mcmc")]


def test_agrees_with_the_mixed_model_where_priors_hardly_matter():
    panel = simulate(1, people=40, steps=20, effect=0.8, person_sd=0.6)
    fit = fit_metric(panel, draws=600, tune=400, seed=1, priors=DEFAULT.scaled(3.0))
    assert fit.usable, fit.why_not
    ours = fit.effects.query("term == 'jump' and contrast == '+50 %'").iloc[0]
    theirs = fit_mixed(panel).effects.query("primary").iloc[0]
    assert ours.estimate == pytest.approx(theirs.estimate, abs=0.35 * theirs.std_error)
    assert ours.std_error == pytest.approx(theirs.std_error, rel=0.25)
    assert ours.estimate == pytest.approx(
        fit.effects.query("term == 'jump' and contrast == 'per unit'")["estimate"].iloc[0] * np.log(1.5)
    )
    draws = fit.posterior
    assert draws["posterior"]["beta"].dims == ("chain", "draw", "coefficient")
    assert az.loo(draws).n_samples == 2400 and az.plot_psense_dist(draws, var_names=["sigma"])
    assert az.plot_prior_posterior(draws, var_names=["nu"])
    assert draws["constant_data"]["X"].dims == ("step", "coefficient")
    seen, said = (draws[group]["pain_next"] for group in ("observed_data", "posterior_predictive"))
    assert float(said.mean()) == pytest.approx(float(seen.mean()), abs=0.1)
    sigma = float(draws["posterior"]["sigma"].mean())
    assert float(abs(said - seen).median()) == pytest.approx(0.6745 * 2**0.5 * sigma, rel=0.1)
    assert not fit.effects.duplicated(["outcome", "term", "level", "contrast", "scale"]).any()
    assert set(fit.effects["engine"]) == {"metric"} and set(fit.effects["scale"]) == {"points"}


def test_too_few_people_in_words():
    fit = fit_metric(simulate(1, people=8))
    assert not fit.usable and fit.effects.empty and "at least 10 people" in fit.why_not

"""What a user holds in hand: fits in files, the open model, ArviZ on the posterior, engines from elsewhere, examples."""

from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest

import lagwise as lw
from lagwise.core import engine as engines
from lagwise.core.effects import effects_frame
from lagwise.core.engine import ENGINES, Engine, register
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.models import ordinal_summary
from lagwise.models.comparison import with_headline
from lagwise.models.ordinal_draws import ordinal_model
from lagwise.models.priors import DEFAULT
from lagwise.synthetic import CLINIC, simulate_panel

PANEL = simulate_panel(replace(CLINIC, n_people=14, n_steps=20), np.random.default_rng(3))


def test_what_takes_fits_or_findings_says_so_of_anything_else(tmp_path):
    fit = lw.fit_mixed(PANEL)
    assert lw.compare_fits(fit, fit).equals(lw.compare(fit, fit))
    for call, said in (
        (lambda: lw.compare(tmp_path, "last-month"), "compare takes two fits, and PosixPath is none"),
        (lambda: lw.answer(fit), "answer takes findings, and Fit is none"),
        (lambda: lw.figure(fit, "effects"), "figure takes findings, and Fit is none"),
    ):
        with pytest.raises(LagwiseError, match=said):
            call()


def alike(one, other, where=""):
    assert type(one) is type(other), where
    if isinstance(one, pd.DataFrame):
        pd.testing.assert_frame_equal(one, other, check_exact=True)
    elif hasattr(one, "items"):
        assert list(one) == list(other)
        for key in one:
            alike(one[key], other[key], f"{where}.{key}")
    else:
        assert one == other, where


@pytest.fixture(scope="module")
def ordinal():
    return lw.fit_ordinal(PANEL, draws=210, tune=200, chains=2)


@pytest.mark.mcmc
@pytest.mark.xdist_group("mcmc")
def test_a_fit_comes_back_from_its_file_as_it_was(ordinal, tmp_path):
    for fit in (lw.fit_mixed(PANEL), ordinal):
        again = lw.load(fit.save(tmp_path / "fit.nc"))
        for f in fields(fit):
            one, other = getattr(fit, f.name), getattr(again, f.name)
            if f.name == "posterior":
                assert (one is None) == (other is None)
            else:
                alike(dict(one) if f.name in ("tables", "settings") else one, other, f.name)
        assert repr(fit) == repr(again) and [p.name for p in tmp_path.iterdir()] == ["fit.nc"]
    assert again.posterior.equals(ordinal.posterior)
    (tmp_path / "other.nc").write_text("no fit")
    for wrong in ("other.nc", "none.nc"):
        with pytest.raises(ModelError, match="there is no fit in it"):
            lw.load(tmp_path / wrong)
    with pytest.raises(ModelError, match="cannot be written"):
        fit.save(tmp_path / "nowhere" / "fit.nc")


@pytest.mark.mcmc
@pytest.mark.xdist_group("mcmc")
@pytest.mark.filterwarnings("ignore")
def test_arviz_takes_the_posterior_as_it_is_also_from_its_file(ordinal, tmp_path, monkeypatch):
    import arviz as az  # here, so that no other worker of pytest loads it

    other = lw.fit_ordinal(PANEL, exposures=["jump"], draws=150, tune=200, chains=2)
    kept = az.from_netcdf(ordinal.save(tmp_path / "fit.nc"))["posterior"]
    assert set(kept.data_vars) == set(ordinal.posterior["posterior"].data_vars)
    loo = az.loo(ordinal.posterior)
    assert np.isfinite(loo.elpd) and loo.n_data_points == ordinal.n_steps
    assert set(az.compare({"all": ordinal.posterior, "load": other.posterior}).index) == {"all", "load"}
    moved = az.psense_summary(ordinal.posterior, var_names=["sd_slope"])
    assert moved.loc["sd_slope", "prior"] > 0
    az.plot_forest(ordinal.posterior, var_names=["beta"])
    assert az.loo_pit(ordinal.posterior)["pain_next"].dims == ("step",)
    monkeypatch.setattr(ordinal_summary, "TOLD_OF_STEPS", 0)
    large = lw.fit_ordinal(PANEL, exposures=["jump"], draws=210, tune=20, chains=2).posterior
    assert "log_likelihood" not in large and large["posterior_predictive"]["draw"][1] == 2


@pytest.mark.mcmc
@pytest.mark.xdist_group("mcmc")
def test_the_open_model_is_the_density_that_is_sampled():
    """Log densities at random points differ by one constant; with the rating's own line added by hand,
    by none."""
    import pymc as pm

    model, opened = ordinal_model(lw.models.design.design(PANEL), DEFAULT), lw.pymc_model(PANEL)
    with lw.pymc_model(PANEL, rated=False) as added:
        given = {"eta": added["eta"], "cutpoints": added["cutpoint"], "observed": added["category"]}
        pm.OrderedLogistic("rated", **given, compute_p=False)
    density, by_hand = (m.compile_logp(mode="FAST_COMPILE") for m in (opened, added))
    rng = np.random.default_rng(4)
    apart = []
    for _ in range(4):
        x = model.start() + rng.normal(0, 0.3, model.layout.size)
        draws, at = model.unpack(x[None, None]), model.layout
        point = {"beta": draws.beta[0, 0], "cutpoint": draws.cutpoints[0, 0], "sd_intercept": draws.sd_intercept[0, 0],
                 "z_intercept": at.sum_to_zero(x), "sd_slope": draws.sd_slope[0, 0], "z_slope": x[at.zv :]}  # fmt: skip
        free = {}
        for rv in opened.free_RVs:
            value, turn = opened.rvs_to_values[rv], opened.rvs_to_transforms[rv]
            free[value.name] = (
                point[rv.name]
                if turn is None
                else turn.forward(pm.math.constant(point[rv.name]), *rv.owner.inputs).eval()
            )
        apart.append(density(free) - model.density(x)[0])
        assert by_hand(free) == pytest.approx(density(free))
    np.testing.assert_allclose(apart, apart[0], atol=1e-7)


def test_an_engine_from_elsewhere_is_known_by_one_line():
    fit = lw.fit_mixed(PANEL)
    rows = fit.effects.assign(engine="own").to_dict("records")
    with pytest.raises(ModelError, match="not a legal engine"):
        effects_frame(rows)
    try:
        register(Engine("own", "model of our own", interval="credible"))
        assert effects_frame(rows)["engine"].eq("own").all()
        assert "Model of our own" in repr(replace(fit, engine="own"))
        with pytest.raises(ModelError, match="already"):
            register(Engine("own", "another"))
    finally:
        engines._REGISTERED.pop("own", None)
    assert [e.fit.split(":")[1] in dir(lw) for e in ENGINES.values()] == [True] * len(ENGINES)
    assert with_headline([fit], PANEL.study) == (fit,)

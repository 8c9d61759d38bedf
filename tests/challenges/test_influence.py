"""Who stands apart: the algebra against refits, and what chance gives."""

from dataclasses import replace

import numpy as np
import pytest
from challenge_panels import CLINIC, context
from proof_caseloads import one_person_steep

from lagwise.challenges.context import Context
from lagwise.challenges.influence import _apart, _drawn, influence
from lagwise.models.design import design
from lagwise.models.kernel import fit
from lagwise.models.ladder import climb
from lagwise.synthetic import simulate_panel


def _rung(made=None):
    ctx = context(CLINIC) if made is None else Context(*made)
    return climb(ctx.design, "jump")


def test_moves_and_their_spread_are_those_of_generalised_least_squares_without_the_person():
    """With the estimated variances held, V_i written out: b - b_(i) over sqrt(Var b_(i) - Var b), and 1 - Var b / Var b_(i)."""
    rung = _rung()
    d, covariance, sigma = rung.design, rung.estimates.covariance()[0], float(rung.estimates.sigma[0])
    assert rung.estimates.structure != "intercept"
    at = d.names.index("jump")
    A, c = [], []
    for i in range(d.n_people):
        mine = d.person == i
        X, Z = d.X[mine], np.column_stack([np.ones(mine.sum()), d.X[mine, at]])
        V = Z @ covariance @ Z.T + sigma**2 * np.eye(len(X))
        A.append(X.T @ np.linalg.solve(V, X))
        c.append(X.T @ np.linalg.solve(V, d.y[mine]))
    A, c = np.stack(A), np.stack(c)
    whole = np.linalg.inv(A.sum(0))
    found = influence(rung, "jump", 19, np.random.default_rng(1))
    for i in (0, 7, 39):
        rest = np.linalg.inv(A.sum(0) - A[i])
        move = (whole @ c.sum(0))[at] - (rest @ (c.sum(0) - c[i]))[at]
        assert found.apart[i] == pytest.approx(abs(move) / np.sqrt(rest[at, at] - whole[at, at]), rel=1e-4)
        assert found.share[i] == pytest.approx(1 - whole[at, at] / rest[at, at], rel=1e-4)


def test_p_falls_for_the_one_who_differs_and_goes_with_the_move_for_everybody():
    steep = influence(_rung(one_person_steep(9.0, 20)), "jump", 199, np.random.default_rng(1))
    assert steep.p[0] == steep.p.min() == 1 / 200
    assert steep.apart.argmax() == 0
    assert (steep.p[1:] > 0.05).all()
    assert (np.diff(steep.p[np.argsort(steep.apart)]) <= 0).all()


def test_people_whose_slopes_differ_by_a_normal_amount_are_seldom_told_apart():
    """24 caseloads of the clinic's process, slopes with an SD of 0.3: about 1 is expected below 0.05, more than 3 in 3 of 100 tests."""
    spec = replace(CLINIC, n_people=12, n_steps=20)
    low = 0
    for seed in range(24):
        rung = climb(design(simulate_panel(spec, np.random.default_rng(seed))), "jump")
        low += influence(rung, "jump", 99, np.random.default_rng(seed)).p.min() <= 0.05
    assert low <= 3


def test_simulated_outcomes_scatter_as_the_fitted_model_says():
    rung = climb(context(replace(CLINIC, of_jump_sd=2.0)).design, "jump")
    Y = _drawn(rung, 400, np.random.default_rng(1)) - rung.design.X @ rung.estimates.beta[0]
    covariance, sigma = rung.estimates.covariance()[0], float(rung.estimates.sigma[0])
    Z = np.column_stack([np.ones(rung.design.n_steps), rung.slope_values])
    expected = np.mean(np.einsum("nq,qr,nr->n", Z, covariance, Z)) + sigma**2
    assert expected > 1.2 * sigma**2
    assert Y.var(axis=0).mean() == pytest.approx(expected, rel=0.03)


def test_p_compares_with_simulated_outcomes_whose_variances_are_estimated_anew():
    rung = _rung()
    found = influence(rung, "jump", 49, np.random.default_rng(1))
    Y = _drawn(rung, 49, np.random.default_rng(1))
    at, largest = rung.design.names.index("jump"), []
    for y in Y:
        again = rung.cross.with_responses(y[None])
        largest.append(_apart(again, y[None], fit(again, rung.estimates.structure), at)[0].max())
    assert found.p == pytest.approx([(1 + sum(v >= a for v in largest)) / 50 for a in found.apart])

"""Gates on chains made by hand: agreeing, disagreeing, sticky, too short."""

import numpy as np

from lagwise.models.diagnose import bfmi, gates, why_not
from lagwise.models.sampling import again_if_divergent


def tree(x: np.ndarray, *, diverging: int = 0, energy: np.ndarray | None = None, **more: np.ndarray):
    import arviz_base as az  # here, so that no other worker of pytest loads it

    rng = np.random.default_rng(9)
    lost = np.zeros(x.shape[:2], dtype=bool)
    lost[0, :diverging] = True
    stats = {"diverging": lost, "energy": rng.normal(size=x.shape[:2]) if energy is None else energy}
    return az.from_dict({"posterior": {"x": x, **more}, "sample_stats": stats}, check_conventions=False)


def passed(frame):
    return dict(zip(frame["gate"], frame["passed"], strict=True))


def test_independent_draws_pass_every_gate():
    """What is the same in every draw is left out."""
    frame = gates(tree(np.random.default_rng(1).normal(size=(4, 500)), constant=np.zeros((4, 500))))
    assert list(frame.columns) == ["gate", "value", "limit", "passed", "meaning"]
    assert all(passed(frame).values()) and why_not(frame) == ""


def test_a_chain_elsewhere_fails_rhat():
    x = np.random.default_rng(1).normal(size=(4, 500))
    x[0] += 1.0
    frame = gates(tree(x))
    assert not passed(frame)["rhat"] and "largest R-hat is" in why_not(frame)


def test_only_reported_quantities_count():
    rng = np.random.default_rng(1)
    x, sticky = rng.normal(size=(4, 500)), np.repeat(rng.normal(size=(4, 50)), 10, axis=1)
    assert not passed(gates(tree(x, other=sticky)))["ess_bulk"]
    assert passed(gates(tree(x, other=sticky), ["x"]))["ess_bulk"]


def test_divergences_and_energy():
    x = np.random.default_rng(1).normal(size=(4, 500))
    assert why_not(gates(tree(x, diverging=2))) == "2 transitions of the sampler diverged (needed: none)"
    assert "1 transition of the sampler diverged at a target acceptance of 0.99" in why_not(
        gates(tree(x, diverging=1)), 0.99
    )
    slow = np.cumsum(np.random.default_rng(2).normal(size=(4, 500)), axis=1)
    assert not passed(gates(tree(x, energy=slow)))["bfmi"]
    np.testing.assert_allclose(bfmi(np.array([[0.0, 1.0, 0.0, 1.0]])), [1.0 / (1 / 3)])


def test_one_chain_or_three_draws_cannot_pass():
    one = gates(tree(np.random.default_rng(1).normal(size=(1, 500))))
    assert not passed(one)["rhat"] and "largest R-hat cannot be computed" in why_not(one)
    assert not any(
        passed(gates(tree(np.random.default_rng(1).normal(size=(4, 3)))))[g]
        for g in ("rhat", "ess_bulk", "ess_tail")
    )


def test_divergences_are_sampled_again_once_at_a_higher_target():
    asked = []

    def draw(target: float, span: tuple[float, float]) -> int:
        asked.append((target, span))
        return {0.8: 3, 0.99: left}[target]

    for left in (0, 1):
        asked.clear()
        run = again_if_divergent(draw, int, first=0.8)
        assert [t for t, _ in asked] == [0.8, 0.99] and asked[0][1][1] == asked[1][1][0]
        assert (run.draws, run.target) == (left, 0.99)
        assert run.reason.claim.numbers == {"target": 0.99, "before": 0.8, "lost": 3}
        assert (
            run.reason == "sampled again at a target acceptance of 0.99, since 3 transitions diverged at 0.8"
        )
    asked.clear()
    run = again_if_divergent(lambda target, span: asked.append(target) or 0, int, first=0.8)
    assert asked == [0.8] and run.target == 0.8 and not run.reason
    assert again_if_divergent(draw, int, first=0.99).target == 0.99 and len(asked) == 2

"""NUTS through nutpie from a hand-written log density: seeds, progress and interruption."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being done; may be called from another thread."""

STATISTICS = ("diverging", "energy", "n_steps", "depth", "step_size", "logp")
"""Sampler statistics kept."""


def sample(
    size: int,
    log_density: Callable[[np.ndarray], tuple[float, np.ndarray]],
    start: np.ndarray,
    *,
    draws: int,
    tune: int,
    chains: int,
    seed: int,
    target_accept: float = 0.8,
    progress: Progress | None = None,
    span: tuple[float, float] = (0.0, 1.0),
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Draw from a density on R^size.

    Parameters
    ----------
    log_density : callable
        Value and gradient at a point; called from several threads.
    start : (size,) where chains start, each with a normal jitter of SD 0.1
    draws, tune, chains : draws kept and thrown away per chain, and the number of chains
    seed : the same seed gives the same draws on the same machine
    progress, span : told the share done, mapped into `span`

    Returns
    -------
    (chains, draws, size) array and the sampler's statistics, each (chains, draws).
    """
    import nutpie
    from nutpie.compiled_pyfunc import from_pyfunc

    def keep(*_: Any) -> Callable[[np.ndarray], dict[str, np.ndarray]]:
        return lambda x: {"x": np.array(x)}

    def begin(seed: int) -> np.ndarray:
        return start + np.random.default_rng(seed).normal(0.0, 0.1, size)

    model = from_pyfunc(
        size,
        lambda: log_density,
        keep,
        [np.dtype("float64")],
        [(size,)],
        ["x"],
        make_initial_point_fn=begin,
    )

    def told(states: list[Any]) -> None:
        done = sum(s.finished_draws for s in states) / max(1, sum(s.total_draws for s in states))
        text = "tuning the sampler" if any(s.tuning for s in states) else "sampling"
        if progress is not None:
            progress(span[0] + (span[1] - span[0]) * min(1.0, done), text)

    running = nutpie.sample(
        model,
        draws=draws,
        tune=tune,
        chains=chains,
        seed=seed,
        save_warmup=False,
        progress_bar=False,
        progress_callback=None if progress is None else told,
        progress_rate=250,
        target_accept=target_accept,
        blocking=False,
    )
    try:
        tree = running.wait()
    except BaseException:
        running.cancel()
        raise
    stats = {name: tree["sample_stats"][name].values for name in STATISTICS if name in tree["sample_stats"]}
    return tree["posterior"]["x"].values, stats

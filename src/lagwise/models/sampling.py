"""NUTS through nutpie from a hand-written log density: compiled entry points, seeds, progress and
interruption."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

import numba
import numpy as np
from numba.extending import intrinsic

from lagwise.core.claim import said
from lagwise.models.cumlogit import log_density
from lagwise.models.priors import Priors

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being done; may be called from another thread."""

TARGET_ACCEPT = 0.9
"""Target acceptance of the first run."""
HIGHER_TARGET = 0.99
"""Target acceptance of the second one, which takes shorter steps."""
STATISTICS = ("diverging", "energy", "n_steps", "depth", "step_size", "logp")
"""Sampler statistics kept."""

Arguments = tuple[Any, ...]
"""Arguments of `log_density` between `x` and `grad`."""

_DOUBLES = numba.types.CPointer(numba.types.double)
_DENSITY = numba.types.int64(numba.types.uint64, _DOUBLES, _DOUBLES, _DOUBLES, numba.types.voidptr)
_EXPAND = numba.types.int64(numba.types.uint64, numba.types.uint64, _DOUBLES, _DOUBLES, numba.types.voidptr)


def _address(typing, address):
    """An integer address as a pointer."""

    def codegen(context, builder, signature, args):
        return builder.inttoptr(args[0], context.get_value_type(numba.types.voidptr))

    return numba.types.voidptr(address), codegen


_pointer: Any = intrinsic(_address)


def _density_entry(dim, x_, grad_, value_, data_):  # pragma: no cover - compiled
    data = numba.carray(data_, (13,), np.int64)
    p, n, m, K = data[0], data[1], data[2], data[3]
    x = numba.carray(x_, (dim,))
    grad = numba.carray(grad_, (dim,))
    value = numba.carray(value_, (1,))
    scales = numba.carray(_pointer(data[12]), (3,), np.float64)
    value[0] = log_density(
        x,
        numba.carray(_pointer(data[6]), (p, n), np.float64),
        numba.carray(_pointer(data[7]), (n,), np.float64),
        numba.carray(_pointer(data[8]), (n,), np.uint64),
        numba.carray(_pointer(data[9]), (m + 1,), np.int64),
        numba.carray(_pointer(data[10]), (K,), np.int64),
        data[4],
        numba.carray(_pointer(data[11]), (p, p), np.float64),
        scales[0],
        scales[1],
        scales[2],
        data[5] == 1,
        grad,
    )
    if not np.isfinite(value[0]):
        return 4
    for i in range(dim):
        if not np.isfinite(grad[i]):
            return 3
    return 0


def _expand_entry(dim, expanded, x_, out_, data_):  # pragma: no cover - compiled
    x = numba.carray(x_, (dim,))
    out = numba.carray(out_, (expanded,))
    for i in range(expanded):
        out[i] = x[i]
    return 0


@cache
def _entries() -> tuple[Any, Any]:
    """C entry points, compiled on first use and kept on disk. They run without Python's lock, so that chains
    run side by side."""
    compiled = ((_DENSITY, _density_entry), (_EXPAND, _expand_entry))
    density, expand = (numba.cfunc(signature, cache=True)(entry) for signature, entry in compiled)
    return density, expand


def _compiled(
    size: int, arguments: Arguments, start: Callable[[int], np.ndarray]
) -> tuple[Any, tuple[np.ndarray, ...]]:
    """nutpie's compiled model over the entry points, and the arrays whose memory it reads."""
    from nutpie.compile_pymc import CompiledPyMCModel

    Q, slope, category, starts, counts, anchor, precision, scale_u, scale_v, scale_c, slopes = arguments
    held = (
        *(np.ascontiguousarray(a, dtype=np.float64) for a in (Q, slope)),
        np.ascontiguousarray(category, dtype=np.uint64),
        *(np.ascontiguousarray(a, dtype=np.int64) for a in (starts, counts)),
        np.ascontiguousarray(precision, dtype=np.float64),
        np.array([scale_u, scale_v, scale_c], dtype=np.float64),
    )
    sizes = (*Q.shape, len(starts) - 1, len(counts), anchor, int(slopes))
    data = np.array([*sizes, *(a.ctypes.data for a in held)], dtype=np.int64)
    density, expand = _entries()
    model = CompiledPyMCModel(
        dims={},
        reparameterized_names=[],
        compiled_logp_func=density,
        compiled_expand_func=expand,
        initial_point_func=start,
        shared_data={},
        shared_var_keys={},
        user_data=data,
        n_expanded=size,
        shape_info=(["x"], [slice(0, size)], [(size,)]),
        logp_func=None,
        expand_func=None,
        _n_dim=size,
        _shapes={"x": (size,)},
        _coords={},
    )
    return model, held


@dataclass(frozen=True)
class Chains:
    """How a posterior is drawn: draws kept and thrown away per chain, chains, seed (the same one gives the
    same draws on the same machine), target acceptance of the first run, and who is told how far it is."""

    draws: int
    tune: int
    chains: int
    seed: int
    target_accept: float = 0.8
    progress: Progress | None = None

    def settings(self, priors: Priors, pain_adjusted: str) -> dict[str, Any]:
        """What a fit tells of how it was drawn."""
        own = {name: getattr(self, name) for name in ("draws", "tune", "chains", "seed")}
        held = {"pain_adjusted": pain_adjusted, "target_accept": self.target_accept}
        return own | held | {"priors": asdict(priors)}

    def follow(self, model: Any, target: float | None = None, span: tuple[float, float] = (0.0, 1.0)) -> Any:
        """Sample a compiled nutpie model while telling how far it is, mapped into `span`; an interruption
        stops the chains and is passed on. Gives a DataTree with posterior and sample_stats."""
        import nutpie

        progress = self.progress

        def told(states: list[Any]) -> None:
            done = sum(s.finished_draws for s in states) / max(1, sum(s.total_draws for s in states))
            text = "tuning the sampler" if any(s.tuning for s in states) else "sampling"
            if progress is not None:
                progress(span[0] + (span[1] - span[0]) * min(1.0, done), text)

        running = nutpie.sample(
            model,
            draws=self.draws,
            tune=self.tune,
            chains=self.chains,
            seed=self.seed,
            save_warmup=False,
            progress_bar=False,
            progress_callback=None if progress is None else told,
            progress_rate=250,
            target_accept=self.target_accept if target is None else target,
            blocking=False,
        )
        try:
            return running.wait()
        except BaseException:
            running.cancel()
            raise


def sample(
    size: int,
    arguments: Arguments,
    start: np.ndarray,
    chains: Chains,
    target: float | None = None,
    span: tuple[float, float] = (0.0, 1.0),
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Draw from the density of `lagwise.models.cumlogit` on R^size.

    `start` (size,) is where chains start, each with a normal jitter of SD 0.1; `target` and `span` as in
    `Chains.follow`.

    Returns
    -------
    (chains, draws, size) array and the sampler's statistics, each (chains, draws).
    """

    def begin(seed: int) -> np.ndarray:
        return start + np.random.default_rng(seed).normal(0.0, 0.1, size)

    model, held = _compiled(size, arguments, begin)
    tree = chains.follow(model, target, span)
    del held
    stats = {name: tree["sample_stats"][name].values for name in STATISTICS if name in tree["sample_stats"]}
    return tree["posterior"]["x"].values, stats


@dataclass(frozen=True)
class Run[T]:
    """Draws, the target acceptance they were made at, and why there was a second run; '' when the first was
    the last."""

    draws: T
    target: float
    reason: str = ""


def again_if_divergent[T](
    draw: Callable[[float, tuple[float, float]], T],
    lost: Callable[[T], int],
    *,
    first: float,
    end: float = 1.0,
) -> Run[T]:
    """Draw at a target acceptance and, where transitions diverge, once more at `HIGHER_TARGET` from the
    beginning.

    A few divergences at a usual target mostly mean steps that were too long for a narrow place, which shorter
    steps settle; those that stay mean that the draws miss a part of the posterior (Betancourt 2017,
    arXiv:1701.02434), and the gate then fails.

    Parameters
    ----------
    draw : (target acceptance, span of the progress) -> draws
    lost : draws -> divergent transitions
    first : target acceptance to begin with
    end : share of the progress at which sampling ends
    """
    middle = 0.75 * end
    found = draw(first, (0.0, middle))
    count = lost(found)
    if not count or first >= HIGHER_TARGET:
        return Run(found, first)
    reason = said("rung.again", target=HIGHER_TARGET, before=first, lost=count)
    return Run(draw(HIGHER_TARGET, (middle, end)), HIGHER_TARGET, reason)

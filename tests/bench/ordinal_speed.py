"""Smallest bulk effective sample size per second of the ordinal model against PyMC's stock formulation, compile included.

    python tests/bench/ordinal_speed.py [--panel clinic|large] [--warm]

Both fit the same rows with the same coefficient and scale priors, 4 chains x 1000 draws, each in a fresh process with empty
compile caches (--warm keeps the caches of the first run and times the second). Stock is `pm.OrderedLogistic` with the ordered
transform, plain non-centred person effects and `pm.sample()` as it comes. The clock runs from the design matrix to the draws, imports
left out; reported quantities are the coefficients, both standard deviations and every person's slope.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
PANELS = {"clinic": "the synthetic clinic, 40 people x 26 weeks", "large": "200 people x 52 weeks, simulated"}


def panel(name: str) -> Any:
    """The panel fitted."""
    if name == "clinic":
        import lagwise as lw

        return lw.build_panel(lw.read(ROOT / "data_synthetic" / "clinic"))
    sys.path.insert(0, str(HERE.parent / "models"))
    from simulated_panels import simulate

    return simulate(1, people=200, steps=52, effect=0.8, slope_sd=0.5, rest=0.05)


def ours(model: Any, seed: int) -> dict[str, np.ndarray]:
    """The project's density and sampler settings."""
    from lagwise.models.sampling import TARGET_ACCEPT, Chains, sample

    how = Chains(draws=1000, tune=500, chains=4, seed=seed, target_accept=TARGET_ACCEPT)
    vectors, _ = sample(model.layout.size, model.arguments, model.start(), how)
    d = model.unpack(vectors)
    return {"beta": d.beta, "sd_intercept": d.sd_intercept, "sd_slope": d.sd_slope, "slopes": d.slopes}


def stock(model: Any, seed: int) -> dict[str, np.ndarray]:
    """PyMC's OrderedLogistic and default sampler."""
    import pymc as pm

    X, slope, person = model.columns.X, model.columns.slope, model.design.person
    with pm.Model():
        beta = pm.Normal("beta", 0, model.columns.prior_sd, shape=X.shape[1])
        sd_intercept = pm.HalfNormal("sd_intercept", model.priors.intercept_sd)
        sd_slope = pm.HalfNormal("sd_slope", model.priors.slope_sd)
        u = pm.Normal("u", shape=model.design.n_people)
        v = pm.Normal("v", shape=model.design.n_people)
        slopes = pm.Deterministic("slopes", beta[model.columns.index("jump")] + sd_slope * v)
        own = slopes - beta[model.columns.index("jump")]
        eta = pm.math.dot(X, beta) + sd_intercept * u[person] + own[person] * slope
        cut = pm.Normal(
            "cut",
            0,
            5,
            shape=10,
            transform=pm.distributions.transforms.ordered,
            initval=np.linspace(-4, 4, 10),
        )
        pm.OrderedLogistic("pain_next", eta=eta, cutpoints=cut, observed=model.category, compute_p=False)
        tree = pm.sample(draws=1000, chains=4, random_seed=seed, progressbar=False)
    posterior = tree["posterior"]
    return {k: posterior[k].values for k in ("beta", "sd_intercept", "sd_slope", "slopes")}


def one(engine: str, name: str, seed: int = 1) -> dict[str, float]:
    """Time one engine in this process."""
    import nutpie  # noqa: F401
    from arviz_stats.base import array_stats

    from lagwise.models.design import design
    from lagwise.models.ordinal_draws import ordinal_model
    from lagwise.models.priors import DEFAULT

    if engine == "stock":
        import pymc  # noqa: F401
    model = ordinal_model(design(panel(name)), DEFAULT)
    began = time.perf_counter()
    found = (ours if engine == "ours" else stock)(model, seed)
    seconds = time.perf_counter() - began
    flat = np.concatenate([a.reshape(*a.shape[:2], -1) for a in found.values()], axis=2)
    ess = array_stats.ess(flat, chain_axis=0, draw_axis=1)
    jump = found["beta"][..., model.columns.index("jump")]
    return {
        "seconds": seconds, "ess": float(np.min(ess)),
        "rhat": float(np.max(array_stats.rhat(flat, chain_axis=0, draw_axis=1))), "jump": float(jump.mean()),
        "jump_sd": float(jump.std()), "rows": len(model.category),
    }  # fmt: skip


def run(engine: str, name: str, warm: bool) -> dict[str, float]:
    """One engine in a fresh process with its own compile caches."""
    with tempfile.TemporaryDirectory() as cache:
        env = {
            **os.environ,
            "NUMBA_CACHE_DIR": f"{cache}/numba",
            "PYTENSOR_FLAGS": f"base_compiledir={cache}/pytensor",
        }
        command = [sys.executable, __file__, "--engine", engine, "--panel", name]
        for _ in range(2 if warm else 1):
            out = subprocess.run(command, env=env, check=True, capture_output=True, text=True).stdout
    return json.loads(out.strip().splitlines()[-1])


def main() -> None:
    """Compare on one or both panels and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--panel", choices=sorted(PANELS))
    parser.add_argument("--engine", choices=("ours", "stock"))
    parser.add_argument("--warm", action="store_true")
    options = parser.parse_args()
    if options.engine:
        print(json.dumps(one(options.engine, options.panel)))
        return
    for name in [options.panel] if options.panel else list(PANELS):
        found = {engine: run(engine, name, options.warm) for engine in ("ours", "stock")}
        caches = "warm" if options.warm else "empty"
        print(
            f"{PANELS[name]}; {found['ours']['rows']} rows, compile caches {caches}, {os.cpu_count()} cores"
        )
        for engine, f in found.items():
            print(f"  {engine:5s} {f['seconds']:7.1f} s  smallest bulk ESS {f['ess']:6.0f}  {f['ess'] / f['seconds']:7.1f} per s  "
                  f"largest R-hat {f['rhat']:.3f}  jump {f['jump']:.3f} (SD {f['jump_sd']:.3f})")  # fmt: skip
        ratio = (
            found["ours"]["ess"]
            / found["ours"]["seconds"]
            * found["stock"]["seconds"]
            / found["stock"]["ess"]
        )
        print(f"  ratio {ratio:.1f}", flush=True)


if __name__ == "__main__":
    main()

"""A fit in a file: NetCDF, the posterior's groups as ArviZ reads them, and all else beside them."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from lagwise.core.claim import Claim, Said
from lagwise.core.errors import ModelError
from lagwise.core.variable import Variable

if TYPE_CHECKING:
    from lagwise.core.results import Fit

OWN = "lagwise"
"""The group that holds what is no posterior."""
VERSION = 1


def save(fit: Fit, path: str | Path) -> Path:
    """Write a fit; see `lagwise.core.results.Fit.save`."""
    import xarray as xr

    path = Path(path)
    held = {f.name: _plain(getattr(fit, f.name)) for f in fields(fit) if f.name not in ("posterior", "made")}
    tree = xr.DataTree() if fit.posterior is None else fit.posterior.copy()
    tree[OWN] = xr.DataTree(xr.Dataset({"fit": json.dumps({"version": VERSION, **held})}))
    part = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        tree.to_netcdf(part, engine="h5netcdf")
        part.replace(path)
    except OSError as error:
        raise ModelError(
            "the fit cannot be written",
            where=str(path),
            mend="Check that the folder exists and may be written to.",
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return path


def load(path: str | Path) -> Fit:
    """A fit that `Fit.save` wrote, as it was.

    Parameters
    ----------
    path : file

    Raises
    ------
    ModelError
        When there is no such file, or it holds no fit of this version.

    Examples
    --------
    >>> file = lw.fit_mixed(panel).save(folder / "fit.nc")
    >>> lw.load(file).primary()["term"].item()
    'jump'
    """
    import xarray as xr

    from lagwise.core.effects import EffectTable
    from lagwise.core.results import Fit

    try:
        with xr.open_datatree(path, engine="h5netcdf") as opened:
            tree = opened.load()
        held = json.loads(str(tree[OWN]["fit"].values))
    except (OSError, KeyError, ValueError) as error:
        raise ModelError(
            "there is no fit in it", where=str(path), mend="Name a file that fit.save wrote."
        ) from error
    if held.pop("version", None) != VERSION:
        raise ModelError(
            "the fit was written by another version", where=str(path), mend="Fit the model again."
        )
    values = {name: _back(value) for name, value in held.items()}
    del tree[OWN]
    values["effects"] = EffectTable(values["effects"])
    return Fit(**values, posterior=tree if tree.children else None)


def _plain(value: Any) -> Any:
    """JSON-able, telling tuples from lists, frames by their columns, and missing from not a number."""
    if isinstance(value, pd.DataFrame):
        columns = {str(name): [str(value[name].dtype), _plain(value[name].tolist())] for name in value}
        return {"frame": columns, "rows": len(value)}
    if isinstance(value, Variable):
        return {"variable": asdict(value)}
    if isinstance(value, Mapping):
        return {"map": {str(k): _plain(v) for k, v in value.items()}}
    if isinstance(value, tuple):
        return {"tuple": [_plain(v) for v in value]}
    if isinstance(value, list):
        return [_plain(v) for v in value]
    if isinstance(value, Said):
        return {
            "said": str(value),
            "claim": [value.claim.about, value.claim.reason, _plain(value.claim.numbers)],
        }
    return value.item() if isinstance(value, np.generic) else value


def _back(value: Any) -> Any:
    if isinstance(value, list):
        return [_back(v) for v in value]
    if not isinstance(value, dict):
        return value
    if "tuple" in value:
        return tuple(_back(v) for v in value["tuple"])
    if "variable" in value:
        return Variable(**value["variable"])
    if "map" in value:
        return {k: _back(v) for k, v in value["map"].items()}
    if "said" in value:
        about, reason, numbers = value["claim"]
        return Said(value["said"], Claim(about, reason=reason, numbers=_back(numbers)))
    index = pd.RangeIndex(value["rows"])
    columns = {
        name: pd.Series(_back(v), index=index, dtype=kind) for name, (kind, v) in value["frame"].items()
    }
    return pd.DataFrame(columns, index=index)

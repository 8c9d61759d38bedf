"""Per-person cross-products: everything a linear mixed model needs to know of the data, computed once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lagwise.core.errors import ModelError

SINGULAR = 1e-10
"""A standardised X'X whose smallest eigenvalue, relative to the largest, is below this is called singular."""


@dataclass(frozen=True)
class CrossProducts:
    """Cross-products of [X, y] and Z in total and per person, for a batch of B variants of one data set.

    `CtC` is (B, p + 1, p + 1) for C = [X, y]; `ZtC` (B, q, m, p + 1) holds Z_i'C_i and `ZtZ` (B, q, q, m)
    holds Z_i'Z_i of the m people. Columns of X and y are kept standardised (mean and SD in `shift` and
    `scale`, (B, p + 1)), which changes nothing but the rounding; results are given back on the scale they
    came in. `rows` (B,) is the number of rows of each variant. `ok` (B,) is False where X is singular or the
    variant holds missing numbers.
    """

    n: int
    intercept: bool
    CtC: np.ndarray
    ZtC: np.ndarray
    ZtZ: np.ndarray
    shift: np.ndarray
    scale: np.ndarray
    rows: np.ndarray
    ok: np.ndarray
    order: np.ndarray
    starts: np.ndarray
    C: np.ndarray
    Z: np.ndarray

    @property
    def batch(self) -> int:
        """Variants held."""
        return self.CtC.shape[0]

    @property
    def p(self) -> int:
        """Columns of X."""
        return self.CtC.shape[1] - 1

    @property
    def q(self) -> int:
        """Columns of Z."""
        return self.ZtC.shape[1]

    @property
    def people(self) -> int:
        """People (groups)."""
        return self.ZtC.shape[2]

    @staticmethod
    def build(y: np.ndarray, X: np.ndarray, Z: np.ndarray | None, person: np.ndarray) -> CrossProducts:
        """Cross-products of one data set.

        Parameters
        ----------
        y : (n,) response
        X : (n, p) fixed-effect columns. When the first is constant 1 the others are centred internally.
        Z : (n, q) random-effect columns, q = 1 or 2; None means a person intercept only
        person : (n,) group of each row, in any order and coding

        Raises
        ------
        ModelError
            When the arrays disagree in length or hold numbers that are not finite.
        """
        y, X = np.asarray(y, dtype=float), np.asarray(X, dtype=float)
        Z = np.ones((len(y), 1)) if Z is None else np.asarray(Z, dtype=float)
        person = np.asarray(person)
        fits = len(y) == len(X) == len(Z) == len(person) and X.ndim == Z.ndim == 2 and 1 <= Z.shape[1] <= 2
        if not fits:
            raise ModelError("y, X, Z and person do not fit together")
        C = np.empty((len(y), X.shape[1] + 1))
        C[:, :-1], C[:, -1] = X, y
        if not (np.isfinite(C.sum()) and np.isfinite(Z.sum())):
            raise ModelError("y, X or Z holds a missing or infinite number")
        order, starts = _groups(person)
        if len(order):
            C, Z = C[order], Z[order]
        intercept = bool((C[:, 0] == 1).all())
        shift, scale = _standard(C[None], intercept)
        C = (C - shift[0]) / scale[0]
        ZtC = np.stack([np.add.reduceat(C * z[:, None], starts) for z in Z.T])
        ZtZ = np.stack([[np.add.reduceat(a * b, starts) for b in Z.T] for a in Z.T])
        CtC = (C.T @ C)[None]
        made = CtC, ZtC[None], ZtZ[None], shift, scale, np.array([float(len(y))]), _regular(CtC)
        return CrossProducts(len(y), intercept, *made, order, starts, C, Z)

    def with_responses(self, Y: np.ndarray) -> CrossProducts:
        """The same X and Z with other responses, `Y` of shape (B, n), rows as in `build`."""
        return self.with_columns([self.p], np.asarray(Y, dtype=float)[:, :, None])

    def with_columns(
        self, positions: list[int], values: np.ndarray, Z: np.ndarray | None = None
    ) -> CrossProducts:
        """The same data with some columns replaced, once per variant.

        Parameters
        ----------
        positions : positions in X of the d replaced columns; p, one past the last, is the response
        values : (B, n, d), rows as in `build`
        Z : (B, n, q), optional
            Random-effect columns that go with each variant; the original Z by default.
        """
        V = np.moveaxis(np.asarray(values, dtype=float), 1, 2)
        V = np.array(V[:, :, self.order] if len(self.order) else V, order="C")
        B, at = len(V), np.asarray(positions)
        finite = np.isfinite(V).all(axis=(1, 2))
        V[~finite] = 0.0
        shift, scale = (np.repeat(a[:1], B, axis=0) for a in (self.shift, self.scale))
        shift[:, at] = V.mean(axis=2) if self.intercept else 0.0
        V -= shift[:, at, None]
        size = np.sqrt(np.einsum("bdn,bdn->bd", V, V) / self.n)
        scale[:, at] = np.where(size > 1e-300, size, 1.0)
        V /= scale[:, at, None]
        CtC = np.repeat(self.CtC[:1], B, axis=0)
        cross = (V.reshape(-1, self.n) @ self.C).reshape(B, len(at), -1)
        CtC[:, at, :] = cross
        CtC[:, :, at] = np.swapaxes(cross, 1, 2)
        CtC[:, at[:, None], at[None, :]] = V @ np.swapaxes(V, 1, 2)
        if Z is None:
            ZtZ = np.broadcast_to(self.ZtZ[:1], (B, *self.ZtZ.shape[1:]))
            ZtC = np.repeat(self.ZtC[:1], B, axis=0)
            for a, z in enumerate(self.Z.T):
                ZtC[:, a, :, at] = np.moveaxis(np.add.reduceat(V * z, self.starts, axis=2), 1, 0)
        else:
            Zs = np.asarray(Z, dtype=float)
            if len(self.order):
                Zs = Zs[:, self.order]
            pairs = np.add.reduceat(Zs[:, :, :, None] * Zs[:, :, None, :], self.starts, axis=1)
            ZtZ = pairs.transpose(0, 2, 3, 1)
            ZtC = np.empty((B, Zs.shape[2], len(self.starts), self.p + 1))
            full = self.C.copy()
            for b in range(B):
                full[:, at] = V[b].T
                for a in range(Zs.shape[2]):
                    ZtC[b, a] = np.add.reduceat(full * Zs[b, :, a, None], self.starts)
        ok, rows = self.ok[0] & finite & _regular(CtC), np.full(B, float(self.n))
        return replace(self, CtC=CtC, ZtC=ZtC, ZtZ=ZtZ, shift=shift, scale=scale, rows=rows, ok=ok)

    def with_people(self, chosen: np.ndarray) -> CrossProducts:
        """The same data with other people in it: `chosen` (B, k) holds positions 0..m-1, repeats count as
        different people."""
        ends = np.append(self.starts[1:], self.n)
        each = np.stack([self.C[a:b].T @ self.C[a:b] for a, b in zip(self.starts, ends, strict=True)])
        B, c = len(chosen), self.C.shape[1]
        weights = np.zeros((B, self.people))
        np.add.at(weights, (np.arange(B)[:, None], chosen), 1.0)
        CtC = (weights @ each.reshape(self.people, c * c)).reshape(B, c, c)
        return replace(
            self,
            CtC=CtC,
            ZtC=np.moveaxis(self.ZtC[0][:, chosen], 1, 0),
            ZtZ=np.moveaxis(self.ZtZ[0][:, :, chosen], 2, 0),
            shift=np.repeat(self.shift[:1], B, axis=0),
            scale=np.repeat(self.scale[:1], B, axis=0),
            rows=weights @ (ends - self.starts),
            ok=self.ok[0] & _regular(CtC),
        )

    def back(self) -> np.ndarray:
        """(B, p, p) matrices that turn standardised coefficients into the original ones, save the shift of
        y."""
        B, p = self.batch, self.p
        T = np.zeros((B, p, p))
        ratio = self.scale[:, p, None] / self.scale[:, :p]
        T[:, np.arange(p), np.arange(p)] = ratio
        if self.intercept:
            T[:, 0, 1:] = -self.shift[:, 1:p] * ratio[:, 1:]
        return T


def stacked(parts: Sequence[CrossProducts]) -> CrossProducts:
    """Several data sets with the same columns as one batch, in their order; what is asked of single rows or
    people is lost.

    A data set of fewer people is filled up with people who have no rows, which changes no likelihood.

    Raises
    ------
    ModelError
        When the columns do not agree in number.
    """
    if len({(part.p, part.q, part.intercept) for part in parts}) != 1:
        raise ModelError("data sets with other columns cannot stand in one batch")
    people, first = max(part.people for part in parts), parts[0]

    def joined(name: str) -> np.ndarray:
        values = [getattr(part, name) for part in parts]
        if name in ("ZtC", "ZtZ"):
            axis = 2 if name == "ZtC" else 3
            short = [[(0, people - v.shape[axis] if i == axis else 0) for i in range(v.ndim)] for v in values]
            values = [np.pad(v, pads) for v, pads in zip(values, short, strict=True)]
        return np.concatenate(values)

    new: dict[str, Any] = {
        name: joined(name) for name in ("CtC", "ZtC", "ZtZ", "shift", "scale", "rows", "ok")
    }
    none = np.empty(0, dtype=int)
    C, Z = np.empty((0, first.p + 1)), np.empty((0, first.q))
    return replace(first, n=0, order=none, starts=none, C=C, Z=Z, **new)


def _groups(person: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Row order that brings people together (empty when they already are) and where each one starts."""
    change = np.flatnonzero(person[1:] != person[:-1]) + 1
    starts = np.concatenate([[0], change])
    if len(np.unique(person[starts])) == len(starts):
        return np.empty(0, dtype=int), starts
    order = np.argsort(person, kind="stable")
    _, starts = np.unique(person[order], return_index=True)
    return order, starts


def _standard(C: np.ndarray, intercept: bool) -> tuple[np.ndarray, np.ndarray]:
    """(B, columns) means and SDs; the intercept and columns without spread keep 0 and their own size or 1."""
    shift = C.mean(axis=1) if intercept else np.zeros((C.shape[0], C.shape[2]))
    scale = C.std(axis=1) if intercept else np.sqrt((C**2).mean(axis=1))
    if intercept:
        shift[:, 0], scale[:, 0] = 0.0, 1.0
    return shift, np.where(scale > 1e-300, scale, 1.0)


def _regular(CtC: np.ndarray) -> np.ndarray:
    values = np.linalg.eigvalsh(CtC[:, :-1, :-1])
    return values[:, 0] > SINGULAR * values[:, -1]

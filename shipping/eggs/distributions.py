"""The standard normal and the beta distribution of arrays: chances and quantiles, without a library."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.words.three_point import normal_cdfs

Floats = NDArray[np.float64]
#: The table reaches from here, below which a chance is under 1e-299 and taken for 0 ..
_LOWEST = -37.0
#: .. up to here, above which it is 1 to 1e-19.
_HIGHEST = 9.0
#: Nodes of the table to one: between them a cubic is off by less than 3e-14.
_STEPS = 512


@lru_cache(maxsize=1)
def _cubics() -> tuple[Floats, ...]:
    """Coefficients of the cubic from each node to the next: value, slope, square, cube, each (nodes,)."""
    z = np.arange(_LOWEST * _STEPS, _HIGHEST * _STEPS + 2) / _STEPS
    value = normal_cdfs(z)
    value[0] = 0.0
    return _hermite(value, np.exp(-z * z / 2) / math.sqrt(2 * math.pi) / _STEPS)


def _hermite(value: Floats, slope: Floats) -> tuple[Floats, ...]:
    rise, left, right = np.diff(value), slope[:-1], slope[1:]
    return value[:-1], left, 3 * rise - 2 * left - right, left + right - 2 * rise


def phi(z: Floats) -> Floats:
    """The standard normal's distribution function, elementwise; the error is below 1e-13, and of a small
    chance below 1e-7 of it.

    Notes
    -----
    A cubic between nodes 1/512 apart that has the function's own values and slopes at the nodes: its error is
    at most ``h^4 / 384`` times the greatest fourth derivative, 2e-14; far below zero that derivative is
    ``z^4`` of the chance. The small chances count: of eggs that stand against all odds, shares are ratios of
    two of them.
    """
    value, slope, square, cube = _cubics()
    at = (z - _LOWEST) * _STEPS
    np.clip(at, 0.0, value.size - 1.0, out=at)
    node = at.astype(np.intp)
    at -= node
    found = cube.take(node)
    for coefficient in (square, slope, value):
        found *= at
        found += coefficient.take(node)
    return found


@lru_cache(maxsize=16)
def _falling_cubics(step: float) -> tuple[Floats, ...]:
    """The same cubics of phi(-w), on every few nodes, ``step`` apart: each (nodes to a step, steps)."""
    parts, steps = math.ceil(step * _STEPS), math.ceil((_HIGHEST - _LOWEST) / step) + 1
    fine = step / parts
    w = np.asarray(-_HIGHEST + fine * np.arange(steps * parts + 1), dtype=np.float64)
    found = _hermite(phi(-w), -np.exp(-w * w / 2) / math.sqrt(2 * math.pi) * fine)
    return tuple(np.ascontiguousarray(one.reshape(-1, parts).T) for one in found)


def phi_steps(first: float, step: float, out: Floats) -> None:
    """Fill ``out`` (n,) with phi of ``first``, ``first - step``, ``first - 2 step`` .."""
    out[:] = phi(np.asarray(first - step * np.arange(out.size), dtype=np.float64))


def phi_falling(first: float, step: float, out: Floats) -> None:
    """`phi_steps` by a table of that step: as exact, and quicker where one is asked for dozens of times.

    Notes
    -----
    All values lie equally far behind a node of a table of that step, so that one cubic's place serves them
    all.
    """
    if step < 1.0 / (8 * _STEPS):
        phi_steps(first, step, out)
        return
    if first == -math.inf:
        out[:] = 0.0
        return
    low = min(max(math.ceil((first - _HIGHEST) / step), 0), out.size)
    high = min(max(math.ceil((first - _LOWEST) / step), low), out.size)
    out[:low], out[high:] = 1.0, 0.0
    if low == high:
        return
    parts = math.ceil(step * _STEPS)
    at = max(0.0, (low * step - first + _HIGHEST) / step * parts)
    node = int(at)
    value, slope, square, cube = _falling_cubics(step)
    row, part, here = node % parts, slice(node // parts, node // parts + high - low), out[low:high]
    np.multiply(cube[row, part], at - node, out=here)
    for coefficient in (square, slope):
        here += coefficient[row, part]
        here *= at - node
    here += value[row, part]


#: Where a quantile is looked for, as the log odds of a share: below, it is under 1e-300; above, it is 1.
_LEAST, _MOST = -690.0, 40.0
#: More terms, and more tries, than any shape here asks for.
_TERMS, _TRIES = 10_000, 200
#: Shares as sure as this are left to scipy.
_CONCENTRATED = 1e4
_TINY = 1e-300
#: A logistic curve so much narrower is nearest to the normal's.
_LOGISTIC = 1.702


def log_gamma(x: Floats) -> Floats:
    """The log of the gamma function of each value above 0: same shape."""
    return np.array([math.lgamma(one) for one in x.ravel().tolist()], dtype=np.float64).reshape(x.shape)


def log_beta(a: Floats, b: Floats) -> Floats:
    """The log of the beta function, elementwise."""
    return log_gamma(a) + log_gamma(b) - log_gamma(a + b)


def beta_quantiles(a: Floats, b: Floats, u: Floats) -> Floats:
    """``B^-1(u)`` of each Beta(a, b) (n,) at each chance u, 0 < u < 1 (m,): (n, m).

    Notes
    -----
    The density of the log odds is log-concave, so the log of its chance is concave and Newton's method on
    that finds the root from any start: from below each step falls short of it. Checked against
    ``scipy.special.betaincinv``: no share is off by more than 1e-12.
    """
    if (a + b).max(initial=0.0) > _CONCENTRATED:  # the fraction takes as many terms as that has a root
        from scipy.special import betaincinv

        return np.asarray(betaincinv(a[:, None], b[:, None], u))
    shape, norm = (a.size, u.size), np.repeat(log_beta(a, b), u.size)
    u = np.tile(u, a.size)
    a, b = np.repeat(a, u.size // a.size), np.repeat(b, u.size // b.size)
    near = np.log(a / b) + np.log(u / (1.0 - u)) / _LOGISTIC * np.sqrt(1.0 / a + 1.0 / b)
    odds, open_ = np.clip(near, _LEAST, _MOST), np.arange(u.size)
    for _ in range(_TRIES):
        at, of_a, of_b = odds[open_], a[open_], b[open_]
        x, y = 1.0 / (1.0 + np.exp(-at)), 1.0 / (1.0 + np.exp(at))
        density = of_a * np.log(x) + of_b * np.log(y) - norm[open_]
        chance = _log_chance(of_a, of_b, density, x, y)
        step = (np.log(u[open_]) - chance) * np.exp(np.minimum(chance - density, 700.0))
        odds[open_] = better = np.clip(at + step, _LEAST, _MOST)
        open_ = open_[np.abs(better - at) > 1e-9 * np.maximum(1.0, np.abs(better))]
        if not open_.size:
            break
    return np.asarray(1.0 / (1.0 + np.exp(-odds))).reshape(shape)


def _log_chance(a: Floats, b: Floats, density: Floats, x: Floats, y: Floats) -> Floats:
    """The log of P(share <= ``x``) for shares that are Beta(a, b), 0 < x < 1; ``y`` is 1 - x and ``density``
    the log of that of the log odds.

    Notes
    -----
    The continued fraction 8.17.22 of the NIST Digital Library of Mathematical Functions, by modified Lentz,
    of whichever tail it converges fast for. Checked against ``scipy.special.betainc``.
    """
    upper = x * (a + b + 2.0) > a + 1.0
    a, b = np.where(upper, b, a), np.where(upper, a, b)
    tail = density + np.log(_fraction(a, b, np.where(upper, y, x)) / a)
    return np.where(upper, np.log1p(-np.exp(np.minimum(tail, -1e-300))), tail)


def _fraction(a: Floats, b: Floats, x: Floats) -> Floats:
    """The continued fraction of the lower tail."""
    ahead, behind = np.ones(x.shape), 1.0 / _not_nought(1.0 - (a + b) * x / (a + 1.0))
    found = behind.copy()
    for m in range(1, _TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        for term in (even, odd):
            behind = 1.0 / _not_nought(1.0 + term * behind)
            ahead = _not_nought(1.0 + term / ahead)
            found *= (change := behind * ahead)
        if not (np.abs(change - 1.0) > 1e-14).any():
            break
    return found


def _not_nought(x: Floats) -> Floats:
    return np.where(np.abs(x) < _TINY, _TINY, x)

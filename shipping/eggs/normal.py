"""The standard normal's distribution function of many values at once: arrays in, chances out; no library is
loaded for it.
"""

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
def _falling_cubics(step: float, steps: int) -> tuple[Floats, ...]:
    """The same cubics of phi(-w), on nodes of which every few are ``step`` apart: each (nodes to a step,
    steps).
    """
    parts = math.ceil(step * _STEPS)
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
    steps = node // parts + high - low  # in thousands, so that most tables of a step do for all that is asked
    value, slope, square, cube = _falling_cubics(step, -(-steps // 1000) * 1000)
    row, part, here = node % parts, slice(node // parts, node // parts + high - low), out[low:high]
    np.multiply(cube[row, part], at - node, out=here)
    for coefficient in (square, slope):
        here += coefficient[row, part]
        here *= at - node
    here += value[row, part]

"""Eggs to pack on many journeys for count after count: survival by arrival date in once, eggs and chances of
each count out.

One count on a few journeys is `overpack`'s, which this agrees with to 1e-11.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.overpack import ROUNDING, most_chance, overpacks

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: The degree of the polynomials in v; chances that they do not hold are reckoned journey by journey.
DEGREE = 48
#: A polynomial holds a chance where its last terms are no greater.
_HELD = 1e-13
#: So near to the promise the recurrence itself decides.
_NEAR = 1e-9
#: Journeys taken together, so that their arrays stay in the processor's cache.
_JOURNEYS = 512


@lru_cache(maxsize=1)
def _nodes() -> tuple[Floats, Floats]:
    """Chebyshev's nodes on 0 .. 1 (n,), and what makes coefficients of values there (n, n)."""
    number = np.arange(DEGREE + 1)
    angles = np.pi * (number + 0.5) / (DEGREE + 1)
    terms = np.cos(np.outer(angles, number)) * 2.0 / (DEGREE + 1)
    terms[:, 0] /= 2.0
    return (np.cos(angles) + 1.0) / 2.0, terms


@lru_cache(maxsize=64)
def _terms(k: int, kappa: float, counts: int) -> Floats:
    """``P(N >= k)`` with n = k, k + 1, .. eggs as Chebyshev series in v: (counts, DEGREE + 1)."""
    nodes, to_terms = _nodes()
    a = nodes * kappa
    b = kappa - a
    wait = np.prod([(a + i) / (kappa + i) for i in range(k)], axis=0)
    reached = np.empty((counts, nodes.size))
    reached[0] = wait
    for n in range(k, k + counts - 1):
        wait = wait * (n / (n - k + 1)) * (b + (n - k)) / (kappa + n)
        reached[n - k + 1] = reached[n - k] + wait
    return np.asarray(reached @ to_terms)


def _means(v: Floats, chances: Floats) -> Floats:
    """Means of Chebyshev's polynomials of v over the arrival dates: (journeys, DEGREE + 1)."""
    found = np.empty((DEGREE + 1, v.shape[0]))
    for start in range(0, v.shape[0], _JOURNEYS):
        part = slice(start, start + _JOURNEYS)
        before = np.array(chances[part].T, order="C")  # a copy: it is written over
        twice = 4.0 * np.ascontiguousarray(v[part].T) - 2.0
        now, spare = before * twice / 2.0, np.empty_like(before)
        np.add.reduce(before, axis=0, out=found[0, part])
        for n in range(1, DEGREE + 1):
            np.add.reduce(now, axis=0, out=found[n, part])
            np.multiply(twice, now, out=spare)
            spare -= before
            before, now, spare = now, spare, before
    return np.ascontiguousarray(found.T)


@dataclass(frozen=True, eq=False)
class Survival:
    """Journeys on which eggs survive: ``v`` by arrival date and ``chances`` of the dates (journeys, dates),
    ``kappa``.
    """

    v: Floats
    chances: Floats
    kappa: Floats

    @cached_property
    def _least_v(self) -> Floats:
        return np.asarray(self.v.min(axis=1, initial=1.0))

    @cached_property
    def _of_journeys(self) -> Floats:
        return _means(self.v, self.chances)

    def packs(self, rows: Ints, ordered: int, cap: int, promise: float) -> tuple[Ints, Floats]:
        """The fewest eggs, at most ``cap``, that keep the promise of ``ordered``, and their chance, for some
        journeys.

        0 where no count does.

        Notes
        -----
        ``P(N >= k | v)`` with n eggs is a polynomial in v (a product of rising factorials of ``v kappa``), so
        its mean over the arrival dates is a sum over the means of Chebyshev's polynomials of v, which no
        count changes: for each count one product of matrices is left. Where the chance comes within 1e-9 of
        the promise, or the polynomial's degree does not hold it, `overpacks` decides.
        """
        pack, p_enough = np.zeros(rows.size, dtype=np.int64), np.zeros(rows.size)
        for kappa in sorted(set(self.kappa[rows].tolist())):
            own = np.flatnonzero(self.kappa[rows] == kappa)
            found, chance, unsure = self._packs(rows[own], kappa, ordered, cap, promise)
            pack[own], p_enough[own] = found, chance
            again = own[unsure]
            if again.size:
                at = rows[again]
                counts, caps = np.full(at.size, ordered), np.full(at.size, cap)
                exact = overpacks(self.v[at], self.chances[at], counts, caps, self.kappa[at], promise)
                pack[again], p_enough[again] = exact.pack, exact.p_enough
        return pack, p_enough

    def _packs(
        self, rows: Ints, kappa: float, k: int, cap: int, promise: float
    ) -> tuple[Ints, Floats, NDArray[np.bool_]]:
        """Eggs, chance, and whether the recurrence must decide, for journeys of one kappa; counts are tried
        in blocks.
        """
        pack, p_enough = np.zeros(rows.size, dtype=np.int64), np.zeros(rows.size)
        unsure = np.zeros(rows.size, dtype=bool)
        hopeful = cap * self._least_v[rows] >= k
        doubtful = rows[~hopeful]
        if doubtful.size:
            most = most_chance(self.v[doubtful], self.chances[doubtful], k, cap, self.kappa[doubtful])
            hopeful[~hopeful] = most >= promise - ROUNDING
        still = np.flatnonzero(hopeful)
        means = self._of_journeys[rows[still]]
        surest = np.cos(np.arange(DEGREE + 1) * math.acos(2.0 * min(1.0, float(self.v[rows].max())) - 1.0))
        tried, block = 0, 8
        while still.size and tried < cap - k + 1:
            upto = min(tried + block, cap - k + 1)
            terms = _terms(k, kappa, _rounded_up(upto))[tried:upto].T
            if np.abs(terms[-3:]).max() > _HELD:
                unsure[still] = True
                break
            if float(surest @ terms[:, -1]) >= promise - _NEAR:
                reached = means @ terms
                enough = reached >= promise - ROUNDING
                away = reached - promise
                unsure[still[np.abs(away, out=away).min(axis=1) < _NEAR]] = True
                done = np.flatnonzero(enough[:, -1])
                first = enough[done].argmax(axis=1)
                pack[still[done]], p_enough[still[done]] = k + tried + first, reached[done, first]
                left = np.flatnonzero(~enough[:, -1])
                still, means, block = still[left], means[left], 2 * block
            tried = upto
        return pack, np.clip(p_enough, 0.0, 1.0), unsure


def _rounded_up(counts: int) -> int:
    """A power of two, so that few sizes of a table are made."""
    return 1 << max(5, (counts - 1).bit_length())

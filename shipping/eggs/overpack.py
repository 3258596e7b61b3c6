"""Alive on arrival, and how many eggs to pack for a promise: a count, losses and hatching in, chances out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.distributions import beta_quantiles

Floats = NDArray[np.float64]


def alive_shares(
    days: NDArray[np.int64],
    h: Floats,
    *,
    loss_handling: Floats | float,
    loss_per_day: Floats | float,
    fry_live: Floats | float,
    fertile_share: Floats | float = 1.0,
) -> Floats:
    """v(r), the chance that an egg packed arrives alive, by arrival date: (dates,), 0 to 1.

    ``days``: whole calendar days from dispatch to each date (dates,). ``h``: share hatched by then (dates,).
    Losses are rates [1 and 1/d], the others shares; eggs that were seen fertile, or show eyes, all are. Of
    several packings at once: (packings, dates), and what each loses (packings, 1).

    Notes
    -----
    ``exp(-loss_handling - loss_per_day t) (1 - h (1 - fry_live)) fertile_share``.
    """
    kept = np.exp(-loss_handling - loss_per_day * days)
    return np.asarray(kept * (1.0 - h * (1.0 - fry_live)) * fertile_share)


Ints = NDArray[np.int64]
#: A chance this little short of the promise keeps it: it is rounding.
ROUNDING = 1e-12
#: Nodes over the shared quantile of several draws: a chance is good to better than 1e-3.
_QUANTILES = 32


def most_eggs(ordered: int) -> int:
    """No more is ever packed for a line: a loss that asks for more is no journey to send eggs on."""
    return 8 * ordered + 100


@dataclass(frozen=True, slots=True)
class Overpacks:
    """Of each case the fewest eggs that keep the promise, ``pack`` (0: none do), and their chance."""

    pack: Ints
    p_enough: Floats


def overpacks(
    v: Floats, chances: Floats, ordered: Ints, caps: Ints, kappa: Floats, promise: float
) -> Overpacks:
    """The fewest eggs for each case, by the wait for the k-th survivor.

    ``v``: survival by arrival date (cases, dates). ``chances``: of the dates (cases, dates), zero where a
    case has fewer dates. ``ordered``: k of each case (cases,). ``caps``: eggs allowed (cases,). ``kappa``
    (cases,).

    Notes
    -----
    ``N | r ~ BetaBinomial(n, v kappa, (1 - v) kappa)``. ``P(N >= k)`` with n eggs is the chance that the wait
    for the k-th survivor is at most n, and the chances of waits follow each other by ``w(m + 1) = w(m) m / (m
    - k + 1) (b + m - k) / (a + b + m)``, from ``w(k) = prod (a + i) / (a + b + i)``. Checked against
    scipy.stats.betabinom.
    """
    cases = ordered.size
    pack, p_enough = np.zeros(cases, dtype=np.int64), np.zeros(cases)
    hopeful = most_chance(v, chances, ordered, caps, kappa) >= promise - ROUNDING
    for k in sorted(set(ordered[hopeful].tolist())):
        rows = np.flatnonzero(hopeful & (ordered == k))
        pack[rows], p_enough[rows] = _same_count(v[rows], chances[rows], k, caps[rows], kappa[rows], promise)
    return Overpacks(pack, p_enough)


def eggs_to_pack(
    v: Floats, chances: Floats, ordered: int, kappa: Floats, promise: float, overpack: str = "usual"
) -> Overpacks:
    """The eggs for one count in each case, of a line without extra the count itself; see `overpacks`."""
    count = np.full(kappa.size, ordered, dtype=np.int64)
    if overpack != "none":
        return overpacks(v, chances, count, np.full(kappa.size, most_eggs(ordered)), kappa, promise)
    cases = zip(v, kappa.tolist(), chances, strict=True)
    enough = [chance_enough(((ordered, of_v, of_kappa),), of, ordered) for of_v, of_kappa, of in cases]
    return Overpacks(count, np.array(enough, dtype=np.float64))


def most_chance(v: Floats, chances: Floats, ordered: Ints | int, caps: Ints | int, kappa: Floats) -> Floats:
    """What the chance of enough cannot exceed with all the eggs allowed (cases,): quick, to leave out
    hopeless cases.

    Notes
    -----
    Cantelli's inequality for each date: ``P(N >= k) <= s2 / (s2 + (k - m)^2)`` where k is above the mean m;
    the variance of the beta-binomial is ``s2 = n v (1 - v) (kappa + n) / (kappa + 1)``.
    """
    eggs = np.asarray(caps, dtype=np.float64)[..., None]
    spread = eggs * v * (1.0 - v) * (kappa[:, None] + eggs) / (kappa[:, None] + 1.0)
    lacks = np.maximum(np.asarray(ordered, dtype=np.float64)[..., None] - eggs * v, 0.0)
    at_most = np.where(lacks > 0, spread / np.maximum(spread + lacks * lacks, 1e-300), 1.0)
    return np.asarray((at_most * chances).sum(axis=1) + ROUNDING)


def _same_count(
    v: Floats, chances: Floats, k: int, caps: Ints, kappa: Floats, promise: float
) -> tuple[Ints, Floats]:
    """The same for cases that all order ``k`` eggs; long because the recurrence keeps its arrays in place."""
    a, total = v * kappa[:, None], kappa[:, None]
    b = total - a
    wait, step = chances.copy(), np.empty(chances.shape)
    for i in range(k):
        np.add(a, i, out=step)
        step /= total + i
        wait *= step
    reached = wait.sum(axis=1)
    pack = np.where((reached >= promise - ROUNDING) & (caps >= k), k, 0)
    p_enough = np.where(pack > 0, reached, 0.0)
    open_rows = np.flatnonzero((pack == 0) & (caps > k))
    b, total, wait = b[open_rows], total[open_rows], wait[open_rows]
    reached, limits = reached[open_rows], caps[open_rows]
    n = k
    while open_rows.size:
        step = np.add(b, n - k, out=step[: open_rows.size])
        step *= n / (n - k + 1)
        step /= total + n
        wait *= step
        n += 1
        reached = reached + wait.sum(axis=1)
        enough = reached >= promise - ROUNDING
        pack[open_rows[enough]] = n
        p_enough[open_rows[enough]] = reached[enough]
        go_on = ~enough & (limits > n)
        if not go_on.all():
            open_rows, b, total, wait = open_rows[go_on], b[go_on], total[go_on], wait[go_on]
            reached, limits = reached[go_on], limits[go_on]
    return pack, np.minimum(p_enough, 1.0)


def count_chances(eggs: int, v: Floats, kappa: float) -> Floats:
    """Chances of 0 .. ``eggs`` alive: BetaBinomial(eggs, v kappa, (1 - v) kappa), (dates, eggs + 1)."""
    certain = (v <= 0.0) | (v >= 1.0)
    share = np.where(certain, 0.5, v)[:, None]
    a, b = share * kappa, (1.0 - share) * kappa
    n = np.arange(eggs)
    # log p(n + 1) - log p(n) = log((eggs - n)(a + n)) - log((n + 1)(b + eggs - n - 1))
    steps = np.log((eggs - n) * (a + n)) - np.log((n + 1.0) * (b + eggs - n - 1))
    logs = np.zeros((v.size, eggs + 1))
    np.cumsum(steps, axis=1, out=logs[:, 1:])
    found = np.exp(logs - logs.max(axis=1, keepdims=True))
    found /= found.sum(axis=1, keepdims=True)
    found[certain] = 0.0
    found[certain, np.where(v[certain] >= 1.0, eggs, 0)] = 1.0
    return np.asarray(found)


def most_promised(eggs: int, v: Floats, chances: Floats, kappa: float, promise: float) -> int:
    """The largest count ordered for which ``eggs`` packed keep the promise: `overpacks` asked the other way
    round.

    ``v``: survival by arrival date (dates,). ``chances`` of the dates (dates,). 0 where not even one egg is
    promised.

    Notes
    -----
    ``max k: sum_r chance(r) P(N >= k | r) >= promise``, ``N | r ~ BetaBinomial(eggs, v kappa, (1 - v)
    kappa)``.
    """
    if eggs < 1:
        return 0
    at_least = np.cumsum((chances @ count_chances(eggs, v, kappa))[::-1])[::-1]
    return int(np.flatnonzero(at_least >= promise - ROUNDING)[-1])


def chance_enough(draws: tuple[tuple[int, Floats, float], ...], chances: Floats, ordered: int) -> float:
    """P(sum of the draws' survivors >= ordered), the draws sharing their journey.

    Each draw is (eggs, v by outcome (n,), kappa); ``chances`` of the outcomes (n,).

    Notes
    -----
    One draw is beta-binomial in each outcome. The Betas of several are taken at the same quantile u: the mean
    over u of ``P(sum of Binomial(n_j, B_j^-1(u)) >= ordered)``, by `_QUANTILES` Gauss-Legendre nodes.
    """
    some = np.flatnonzero(chances > 0)
    if not some.size:
        return 0.0
    if len(draws) == 1:
        eggs, v, kappa = draws[0]
        alive = count_chances(eggs, v[some], kappa)
        return min(float(sum((chances[some] * alive[:, ordered:].sum(axis=1)).tolist())), 1.0)
    together, which = np.unique(np.array([v[some] for _, v, _ in draws]), axis=1, return_inverse=True)
    weights = np.bincount(which.ravel(), weights=chances[some], minlength=together.shape[1])
    each = [
        _binomials(eggs, _beta_quantiles(v.tobytes(), kappa).ravel())
        for (eggs, _, kappa), v in zip(draws, together, strict=True)
    ]
    alive = each[0]
    for more in each[1:-1]:
        alive = _sums(alive, more)
    enough = _sum_reaches(alive, each[-1], ordered).reshape(-1, _QUANTILES)
    return min(float(np.dot(weights, enough @ _legendre()[1])), 1.0)


@lru_cache(maxsize=1)
def _legendre() -> tuple[Floats, Floats]:
    """Nodes and weights on 0 .. 1."""
    nodes, weights = np.polynomial.legendre.leggauss(_QUANTILES)
    return (nodes + 1.0) / 2.0, weights / 2.0


@lru_cache(maxsize=4096)
def _beta_quantiles(v_bytes: bytes, kappa: float) -> Floats:
    """``B^-1(u)`` at the nodes, for Beta(v kappa, (1 - v) kappa) of each v: (n, nodes)."""
    v = np.frombuffer(v_bytes)
    inside = np.clip(v, 1e-12, 1.0 - 1e-12)
    found = beta_quantiles(inside * kappa, (1.0 - inside) * kappa, _legendre()[0])
    v = v[:, None]
    return np.where(v <= 0.0, 0.0, np.where(v >= 1.0, 1.0, found))


def _binomials(eggs: int, share: Floats) -> Floats:
    """Chances of 0 .. ``eggs`` alive where each lives with ``share`` (n,): (n, eggs + 1)."""
    k = np.arange(eggs + 1)
    logs = np.concatenate(([0.0], np.cumsum(np.log((eggs - k[:-1]) / (k[:-1] + 1.0)))))
    inside = np.clip(share, 1e-300, 1.0 - 1e-16)[:, None]
    return np.asarray(np.exp(logs + k * np.log(inside) + (eggs - k) * np.log1p(-inside)))


def _sum_reaches(one: Floats, other: Floats, ordered: int) -> Floats:
    """The chance that the sum of two counts reaches the count ordered, row by row (n,)."""
    at_least = np.zeros((other.shape[0], other.shape[1] + 1))
    at_least[:, :-1] = np.cumsum(other[:, ::-1], axis=1)[:, ::-1]
    lacks = np.clip(ordered - np.arange(one.shape[1]), 0, other.shape[1])
    return np.asarray(np.einsum("ij,ij->i", one, at_least[:, lacks]))


def _sums(one: Floats, other: Floats) -> Floats:
    """The distribution of the sum of two counts, row by row: (n, a + b - 1)."""
    found = np.zeros((one.shape[0], one.shape[1] + other.shape[1] - 1))
    for k in range(one.shape[1]):
        found[:, k : k + other.shape[1]] += one[:, k : k + 1] * other
    return found

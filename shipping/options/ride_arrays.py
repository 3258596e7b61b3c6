"""Lots of one population on many legs in every packing, as arrays: reasons against, eggs for a count."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from itertools import compress

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.hatching import any_hatched, is_barred
from shipping.eggs.overpack import Overpacks, alive_shares, eggs_to_pack
from shipping.eggs.oxygen import air_hours
from shipping.options.journey import Curves, Ints, Journeys, LotDays, bit, bits
from shipping.options.option import Destination, Floats, Leg, held_share
from shipping.options.option_factory import KNOWN_RATE, OptionFactory
from shipping.post.foam_box import Holding
from shipping.post.quote import quote
from shipping.post.restrictions import ruling
from shipping.post.warmth import Felt, felt_by, unbridged
from shipping.tables.rows.orders import Order
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.species import Species
from shipping.words.keys import numbered

#: Of fewer lots than this hardly any are alike, so that each is asked only about the journeys its own eggs
#: may make.
MANY_LOTS = 1500


@dataclass(eq=False)
class WeekFactors:
    """What the tables of all species share: legs as arrays, and what was asked of warmth, rules and post so
    far. ``passing_only``: what else speaks against a ride that does not pass is not asked for.
    """

    factory: OptionFactory
    days: tuple[date, ...]
    passing_only: bool = False
    _places: dict[str, Destination] = field(default_factory=dict)
    _warmths: dict[tuple[float | None, float | None, float], Ints] = field(default_factory=dict)
    _curves: dict[tuple[float, float | None, float, Holding], Curves] = field(default_factory=dict)
    _rules: dict[tuple[Destination, str, str, frozenset[str]], Ints] = field(default_factory=dict)
    _posts: Ints = field(default_factory=lambda: np.zeros((0, 0, 0), dtype=np.int64))

    def destination(self, order: Order) -> Destination:
        """Where an order goes; all orders are to be asked before the first leg is."""
        if order.order not in self._places:
            self._places[order.order] = self.factory.destination(order)
        return self._places[order.order]

    def also_to(self, places: Iterable[Destination]) -> None:
        """Take up places that are asked about without an order; before the first leg is asked for."""
        self._places |= {repr(to): to for to in places}

    @cached_property
    def journeys(self) -> Journeys:
        """All legs to all places asked for."""
        legs = {
            to: tuple(
                self.factory.leg(service, to, day)
                for day in self.days
                for service in self.factory.every_service(to.place)
            )
            for to in sorted(set(self._places.values()), key=repr)
        }
        return Journeys.of(legs, self.days)

    @property
    def packings(self) -> tuple[Packing, ...]:
        return self.factory.shelf.packings

    @cached_property
    def holdings(self) -> tuple[Holding, ...]:
        """How each packing, in the box it names, holds its warmth."""
        return tuple(map(self.factory.holding, self.packings))

    def curves(self, species: Species, journeys: Journeys, kept_at_c: float, holds: Holding) -> Curves:
        """What parcels on some journeys gather day by day, as eggs of a species kept so count it."""
        if len(self.factory.shelf.lots) < MANY_LOTS:
            return Curves.of(journeys, species, kept_at_c, holds)
        key = (species.zero_c, species.keep_max_c, kept_at_c, holds)
        if key not in self._curves:
            self._curves[key] = Curves.of(self.journeys, species, kept_at_c, holds)
        return self._curves[key].of_legs(journeys)

    def forget(self) -> None:
        """Drop what lots were asked about all curves."""
        for curves in self._curves.values():
            curves.known.clear()

    def warmth(self, species: Species, journeys: Journeys, kept_at_c: float) -> Ints:
        """What the warmth of each leg says against each packing for a species kept at so much (J, P)."""
        key = (species.keep_min_c, species.keep_max_c, kept_at_c)
        if key not in self._warmths:
            boxes = self.factory.shelf.box_by_name
            says = [
                unbridged(self._felt, species, kept_at_c, holds, boxes.get(packing.box or ""))
                for packing, holds in zip(self.packings, self.holdings, strict=True)
            ]
            hot, cold = (np.array(side, dtype=bool).T for side in zip(*says, strict=True))
            self._warmths[key] = hot * bit("too-hot") | cold * bit("too-cold")
        return np.asarray(self._warmths[key][journeys.feel])

    def asks_of_hatching(self, journeys: Journeys, says: Ints) -> NDArray[np.bool_]:
        """The legs on which the share that hatches may decide (J,), where so much speaks against a lot's
        rides already (J, P): all, or those on which a ride may pass, be it once its warmth is given.
        """
        if not self.passing_only:
            return np.ones(len(journeys.legs), dtype=bool)
        is_open = (journeys.codes & bit("closed-day")) == 0
        return np.asarray(is_open & ((says == 0).any(axis=1) | journeys.assumed))

    @cached_property
    def _felt(self) -> Felt:
        """What cold and heat are judged by, for each number of ``feel``."""
        each = dict(zip(self.journeys.feel.tolist(), self.journeys.legs, strict=True))
        return felt_by([(each[n].trip, each[n].service.exposed_h) for n in range(len(each))])

    def rules(self, to: Destination, species: Species, medium: str, papers: frozenset[str]) -> Ints:
        """What the rules say on each day (D,); asked anew only on days when a row begins or has ended."""
        key = (to, species.species, medium, papers)
        if key not in self._rules:
            found: list[int] = []
            for n, day in enumerate(self.days):
                if n and not any(self.days[n - 1] < turn <= day for turn in self._turns):
                    found.append(found[-1])
                else:
                    says = ruling(
                        self.factory.shelf, to.country, to.subdivision, species, medium, day, papers
                    )
                    found.append(bits(says.reasons))
            self._rules[key] = np.array(found, dtype=np.int64)
        return self._rules[key]

    @cached_property
    def _turns(self) -> tuple[date, ...]:
        """Days on which a row of the rules begins to count or no longer counts."""
        rules = self.factory.shelf.rules
        begun = {rule.from_ for rule in rules if rule.from_}
        return tuple(sorted(begun | {rule.until + timedelta(days=1) for rule in rules if rule.until}))

    def post(self, packing: Ints, units: Ints, leg: Ints, journeys: Journeys) -> Ints:
        """What the post says of weight and thickness of so many units of a packing on a leg, each (n,)."""
        most_units, lanes = int(units.max(initial=0)), 1 + int(self.journeys.lane.max(initial=-1))
        if most_units >= self._posts.shape[1]:
            wider = np.full((len(self.packings), 2 * most_units + 2, lanes), -1, dtype=np.int64)
            if self._posts.size:
                wider[:, : self._posts.shape[1]] = self._posts
            self._posts = wider
        lane = journeys.lane[leg]
        says = self._posts[packing, units, lane]
        for row in np.flatnonzero(says < 0).tolist():
            key = (int(packing[row]), int(units[row]), int(lane[row]))
            if self._posts[key] < 0:
                self._posts[key] = self._posted(self.packings[key[0]], key[1], journeys.legs[int(leg[row])])
            says[row] = self._posts[key]
        return np.asarray(says)

    def _posted(self, packing: Packing, units: int, leg: Leg) -> int:
        asked = quote(self.factory.shelf, ((packing, units),), leg.service, *leg.destination.place)
        return bits(asked.reasons)


Bools = NDArray[np.bool_]
#: A journey on which less than this share hatches by any date is like one on which none does.
NONE_HATCH = 1e-13


@dataclass(frozen=True, eq=False)
class Kinds:
    """How eggs fare on rides of some kinds, K of them with about as many outcomes each.

    Their numbers start with ``first``. ``v`` and ``chances`` by outcome (K, W), ``kappa`` (K,). ``h`` by
    outcome (K, W), each a date and a node of the trip's warmth; None where none hatch: then it is a date.
    """

    first: int
    v: Floats
    chances: Floats
    kappa: Floats
    h: Floats | None

    @property
    def numbers(self) -> slice:
        """Which numbers they have."""
        return slice(self.first, self.first + self.kappa.size)

    def eggs_to_pack(self, rows: Ints, ordered: int, overpack: str, promise: float) -> Overpacks:
        """Eggs to pack for a count ordered on some of them, and the chance that they do, (n,) each."""
        return eggs_to_pack(self.v[rows], self.chances[rows], ordered, self.kappa[rows], promise, overpack)

    def any_hatched(self, rows: Ints, pack: Ints) -> Floats:
        """The chance that any of so many eggs hatches on the way, for some of them (n,)."""
        if self.h is None:
            return np.zeros(rows.size)
        return any_hatched(self.h[rows], self.chances[rows], pack[:, None])


@dataclass(frozen=True, eq=False)
class RideTable:
    """Rides by lot, leg and packing: what no count ordered changes.

    ``free`` and ``whole``: eggs free of each lot on each day, with and without the share showing eyes (L, D).
    ``codes``: what speaks against each (L, J, P), -1 where a packing does not take the lot's medium.
    ``hatched``: the mean share that hatches on each, whatever speaks against it (L, J, P). The R rides that
    nothing stops, by destination, are ``lot``, ``leg``, ``packing`` (R,). ``air``: hours of oxygen for one
    egg in a unit (R,). Rides of one ``kind`` (R,), its number among those of ``kinds``, fare alike.
    """

    packings: tuple[Packing, ...]
    days: tuple[LotDays, ...]
    journeys: Journeys
    free: Ints
    whole: Ints
    codes: Ints
    hatched: Floats
    lot: Ints
    leg: Ints
    packing: Ints
    air: Floats
    kind: Ints
    kinds: tuple[Kinds, ...]

    def kind_of(self, number: int) -> tuple[Kinds, Ints]:
        """The kinds among which one number is, and its row there (1,)."""
        kinds = next(one for one in self.kinds if number < one.numbers.stop)
        return kinds, np.array([number - kinds.first], dtype=np.int64)

    @cached_property
    def h_per_egg(self) -> Floats:
        """The mean of h of each ride (R,)."""
        return np.asarray(self.hatched[self.lot, self.leg, self.packing])

    @cached_property
    def each_most(self) -> Ints:
        """Eggs that a unit of each ride's packing holds (R,)."""
        return np.array([one.eggs_max for one in self.packings], dtype=np.int64)[self.packing]

    @cached_property
    def any_ceiling(self) -> Floats:
        """The chance that any egg hatches which each ride's packing allows (R,)."""
        return np.array([one.any_ceiling for one in self.packings], dtype=np.float64)[self.packing]

    @cached_property
    def hours(self) -> Floats:
        """To the 95 % arrival of each ride [h] (R,)."""
        return self.journeys.hours[self.leg]

    @cached_property
    def day(self) -> Ints:
        """The number of each ride's day (R,)."""
        return self.journeys.day[self.leg]

    @cached_property
    def free_eggs(self) -> Ints:
        """Eggs free of each ride's lot on its day (R,)."""
        return np.asarray(self.free[self.lot, self.day])

    @cached_property
    def unseen_eggs(self) -> Ints:
        """The same where a look has to show eyes first, also of eggs without them; -1 elsewhere (R,)."""
        unseen = np.array([one.look_first for one in self.days], dtype=bool)[:, None]
        return np.asarray(np.where(unseen, self.whole, -1)[self.lot, self.day])


@dataclass(frozen=True, eq=False)
class CountedRides:
    """A count on some rides of a table: which (``at``), and what comes of each, all (n,)."""

    at: Ints
    pack: Ints
    p_enough: Floats
    codes: Ints


def ride_table(
    packings: tuple[Packing, ...], lots: Iterable[LotDays], journeys: Journeys, factors: WeekFactors
) -> RideTable:
    """The rides of some lots on some journeys, which are among those of ``factors``.

    Each lot is asked all at once, so that its clocks need not be kept.
    """
    curves: dict[tuple[object, ...], Curves] = {}
    parts: dict[bytes, Journeys] = {}
    days, codes, hatched = [], [], []
    open_rides = _OpenRides(packings, journeys)
    for one in lots:
        sent = 1.0 - np.array([held_share(packing, one.forecast) for packing in packings])
        says = _codes(packings, one, journeys)
        says |= np.where(says >= 0, factors.warmth(one.forecast.species, journeys, one.kept_at_c), 0)
        wanted = factors.asks_of_hatching(journeys, says)
        some = parts.setdefault(wanted.tobytes(), journeys if wanted.all() else journeys.those(wanted))
        dues = [due.among(wanted) for due in _dues(one, sent, some, factors, curves)]
        mean = np.array([due.mean for due in dues]).T * sent
        says |= np.where(says >= 0, _over_ceiling(packings, one, mean), 0)
        open_rides.add(says, dues, sent)
        days.append(one)
        codes.append(says)
        hatched.append(mean)
    shape = (len(days), len(journeys.legs), len(packings))
    lot, leg, packing, kind, kinds = open_rides.made()
    order = np.argsort(journeys.place[leg], kind="stable")
    lot, leg, packing = at = (lot[order], leg[order], packing[order])
    return RideTable(
        packings=packings,
        days=tuple(days),
        journeys=journeys,
        free=np.array([one.free for one in days]),
        whole=np.array([one.whole for one in days]),
        codes=np.array(codes, dtype=np.int64).reshape(shape),
        hatched=np.array(hatched, dtype=np.float64).reshape(shape),
        lot=lot,
        leg=leg,
        packing=packing,
        air=_air(packings, tuple(days), journeys, at),
        kind=kind[order],
        kinds=kinds,
    )


@dataclass(frozen=True, eq=False)
class _Due:
    """The share of a lot due to hatch on some journeys in one kind of box: ``of_row`` by row and node (R,
    nodes), ``row`` of each date of each leg (J, T); of each leg the ``mean`` over all outcomes (J,) and the
    ``most`` (J,).
    """

    of_row: Floats
    row: Ints
    mean: Floats
    most: Floats

    @classmethod
    def of(cls, of_row: Floats, row: Ints, journeys: Journeys) -> _Due:
        """What all legs have of it."""
        mean = (of_row @ journeys.node_weights)[row]
        mean *= journeys.chances
        last = row[np.arange(journeys.dates.size), journeys.dates - 1]  # no share falls from date to date
        return cls(of_row, row, mean.sum(axis=1), of_row[last].max(axis=1))

    def among(self, legs: Bools) -> _Due:
        """The same among more legs, of which these are some (J,); none is due on the others."""
        if legs.all():
            return self
        row = np.zeros((legs.size, self.row.shape[1]), dtype=np.int64)
        mean, most = np.zeros(legs.size), np.zeros(legs.size)
        row[legs], mean[legs], most[legs] = self.row, self.mean, self.most
        return _Due(self.of_row, row, mean, most)

    def by_outcome(self, legs: Ints, dates: int) -> Floats:
        """On some of the legs, at so many dates each, date by date (n, dates x nodes)."""
        return self.of_row[self.row[legs, :dates]].reshape(legs.size, dates * self.of_row.shape[1])


def _dues(
    one: LotDays,
    sent: Floats,
    journeys: Journeys,
    factors: WeekFactors,
    known: dict[tuple[object, ...], Curves],
) -> list[_Due]:
    """The share due on each leg, by packing, where it is asked; those that hold warmth alike share it."""
    species, found = one.forecast.species, dict[Holding, _Due]()
    none = _Due.of(np.zeros((1, journeys.node_weights.size)), np.zeros_like(journeys.t), journeys)
    asked = [
        share > 0 and one.forecast.lot.medium in packing.media and len(journeys.legs) > 0
        for packing, share in zip(factors.packings, sent.tolist(), strict=True)
    ]
    for holds in dict.fromkeys(compress(factors.holdings, asked)):
        kept_at_c = one.kept_at_c if holds.gone_h > 0 else 0.0  # what holds no warmth asks for none
        key = (id(journeys), species.zero_c, species.keep_max_c, kept_at_c, holds)
        if key not in known:
            known[key] = factors.curves(species, journeys, kept_at_c, holds)
        found[holds] = _Due.of(one.due(known[key]), known[key].row, journeys)
    return [found[holds] if hatches else none for holds, hatches in zip(factors.holdings, asked, strict=True)]


@dataclass(eq=False)
class _OpenRides:
    """The rides that nothing stops, as lots are added: those with hatching lot by lot, others at the end."""

    packings: tuple[Packing, ...]
    journeys: Journeys
    _hatching: list[tuple[Ints, ...]] = field(default_factory=list)
    _plain: list[tuple[Ints, ...]] = field(default_factory=list)
    _firsts: list[tuple[Ints, ...]] = field(default_factory=list)
    _h: list[Floats] = field(default_factory=list)

    def add(self, codes: Ints, dues: list[_Due], sent: Floats) -> None:
        """Take up the next lot's rides, by what speaks against each (J, P)."""
        number = len(self._plain)
        closed = (self.journeys.codes & bit("closed-day")) != 0
        leg, packing = (axis.astype(np.int64) for axis in np.nonzero((codes == 0) & ~closed[:, None]))
        most = np.array([due.most for due in dues]).T * sent
        plain = most[leg, packing] < NONE_HATCH
        self._plain.append((np.full(int(plain.sum()), number), leg[plain], packing[plain]))
        leg, packing = leg[~plain], packing[~plain]
        if leg.size:
            self._add_hatching(number, leg, packing, dues, sent)

    def _add_hatching(self, lot: int, leg: Ints, packing: Ints, dues: list[_Due], sent: Floats) -> None:
        same_due = np.array(numbered(map(id, dues)), dtype=np.int64)
        curve, outcomes = np.zeros(leg.size, dtype=np.int64), list[Floats]()
        for same in range(1 + int(same_due.max())):
            here = same_due[packing] == same
            legs, of_leg = np.unique(leg[here], return_inverse=True)
            dates = int(self.journeys.dates[legs].max(initial=1))
            due = dues[int(np.flatnonzero(same_due == same)[0])].by_outcome(legs, dates)
            each_once = {row.tobytes(): row for row in due}
            number = {row: n for n, row in enumerate(each_once)}
            numbers = np.array([number[row.tobytes()] for row in due], dtype=np.int64)
            curve[here] = len(outcomes) + numbers[of_leg]
            outcomes += each_once.values()
        parts = (
            _loses_alike(self.packings)[packing],
            np.array(numbered(sent.tolist()), dtype=np.int64)[packing],
            self.journeys.kind[leg],
            curve,
        )
        _, first, kind = np.unique(_together(parts, leg.size), return_index=True, return_inverse=True)
        self._hatching.append((np.full(leg.size, lot), leg, packing, len(self._h) + kind.astype(np.int64)))
        self._firsts.append((leg[first], packing[first]))
        self._h += [
            outcomes[n] * sent[p] for n, p in zip(curve[first].tolist(), packing[first].tolist(), strict=True)
        ]

    def made(self) -> tuple[Ints, Ints, Ints, Ints, tuple[Kinds, ...]]:
        """Lot, leg, packing and kind of each ride; how the eggs of each kind fare."""
        none = np.zeros(0, dtype=np.int64)
        lot, leg, packing = (
            np.concatenate([none, *(rides[n] for rides in self._plain)]).astype(np.int64) for n in range(3)
        )
        parts = (_loses_alike(self.packings)[packing], self.journeys.kind[leg])
        _, first, kind = np.unique(_together(parts, lot.size), return_index=True, return_inverse=True)
        plain = (lot, leg, packing, len(self._h) + kind.astype(np.int64))
        firsts = zip(*self._firsts, (leg[first], packing[first]), strict=True)
        number, kinds = self._kinds(*(np.concatenate(axis) for axis in firsts))
        every = [np.concatenate(axis) for axis in zip(*self._hatching, plain, strict=True)]
        return every[0], every[1], every[2], number[every[3]], kinds

    def _kinds(self, leg: Ints, packing: Ints) -> tuple[Ints, tuple[Kinds, ...]]:
        """Kinds of which these rides are first, hatching first, most dates last; each one's number (K,)."""
        hatches = np.arange(leg.size) < len(self._h)
        about = np.ceil(np.log2(self.journeys.dates[leg])).astype(np.int64)  # so that few columns are empty
        number, found, first = np.zeros(leg.size, dtype=np.int64), list[Kinds](), 0
        for some in (hatches, ~hatches):
            for dates in sorted(set(about[some].tolist())):
                rows = np.flatnonzero(some & (about == dates))
                number[rows] = first + np.arange(rows.size)
                found.append(self._alike(first, rows, leg[rows], packing[rows]))
                first += rows.size
        return number, tuple(found)

    def _alike(self, first: int, rows: Ints, leg: Ints, packing: Ints) -> Kinds:
        """Kinds of about as many dates, all of which hatch or none."""
        dates = int(self.journeys.dates[leg].max())
        kappa = np.array([one.kappa for one in self.packings])[packing]
        losses = {
            name: np.array([getattr(one, name) for one in self.packings])[packing, None]
            for name in ("loss_handling", "loss_per_day", "fry_live")
        }
        days, chances = self.journeys.t[leg, :dates], self.journeys.chances[leg, :dates]
        if int(rows[0]) >= len(self._h):
            return Kinds(first, alive_shares(days, np.zeros(days.shape), **losses), chances, kappa, None)
        nodes = self.journeys.node_weights
        h = np.zeros((rows.size, dates * nodes.size))
        for row, one in zip(h, (self._h[n] for n in rows.tolist()), strict=True):
            row[: one.size] = one[: row.size]
        chances = (chances[:, :, None] * nodes).reshape(h.shape)
        return Kinds(first, alive_shares(np.repeat(days, nodes.size, axis=1), h, **losses), chances, kappa, h)


def _loses_alike(packings: tuple[Packing, ...]) -> Ints:
    """A number for each packing, the same for packings that lose eggs alike."""
    losses = [(p.loss_handling, p.loss_per_day, p.fry_live, p.kappa) for p in packings]
    return np.array(numbered(losses), dtype=np.int64)


def _together(parts: Iterable[Ints], size: int) -> Ints:
    """One number for each combination of numbers (size,)."""
    number = np.zeros(size, dtype=np.int64)
    for part in parts:
        number = number * (1 + int(part.max(initial=0))) + part
    return number


def _codes(packings: tuple[Packing, ...], one: LotDays, journeys: Journeys) -> Ints:
    """What a lot says against each ride (J, P); -1: the packing takes no eggs kept so."""
    forecast = one.forecast
    near = np.array([is_barred(p.is_a, forecast.stage, forecast.is_overdue) for p in packings], dtype=bool)
    takes = np.array([forecast.lot.medium in packing.media for packing in packings], dtype=bool)
    codes = np.repeat(one.codes[journeys.day, None], len(packings), axis=1)
    codes[:, near] |= bit("would-hatch")
    if forecast.last_wetting:
        codes[journeys.p95 > forecast.last_wetting.toordinal()] |= bit("past-wetting")
    codes[:, ~takes] = -1
    return codes


def _over_ceiling(packings: tuple[Packing, ...], one: LotDays, h_per_egg: Floats) -> Ints:
    """What the share that hatches on each ride says against it (J, P)."""
    ceiling = np.array([packing.hatch_ceiling for packing in packings])
    over = (h_per_egg > ceiling) & one.forecast.has_dates
    return np.where(over, bit("would-hatch"), 0)


def _air(
    packings: tuple[Packing, ...], days: tuple[LotDays, ...], journeys: Journeys, at: tuple[Ints, ...]
) -> Floats:
    """Hours of oxygen for one egg in a unit (R,); endless without a known rate or tube."""
    lot, leg, packing = at
    hours = np.full(lot.size, np.inf)
    warm, of_leg = np.unique([one.warmth.high_c for one in journeys.legs], return_inverse=True)
    for n, one in enumerate(days):
        species, salt = one.forecast.species, one.forecast.lot.salt_g_l
        for p, unit in enumerate(packings):
            if (
                species.o2_basis in KNOWN_RATE
                and unit.is_a.is_sealed
                and unit.volume_ml is not None
                and unit.water_ml is not None
            ):
                rate, here = species.o2_ug_egg_h, (lot == n) & (packing == p)
                alone = [
                    air_hours(unit.volume_ml, unit.water_ml, 1, high, rate, salt) for high in warm.tolist()
                ]
                hours[here] = np.array(alone)[of_leg[leg[here]]]
    return hours


def counted(table: RideTable, at: Ints, eggs: int, overpack: str, promise: float) -> CountedRides:
    """Eggs to pack for a count ordered on some of the rides (n,), and what speaks against each."""
    asked = np.zeros(sum(kinds.kappa.size for kinds in table.kinds), dtype=bool)
    asked[table.kind[at]] = True
    pack, p_enough = np.zeros(asked.size, dtype=np.int64), np.zeros(asked.size)
    for kinds in table.kinds:
        rows = np.flatnonzero(asked[kinds.numbers])
        if rows.size:
            here, found = kinds.first + rows, kinds.eggs_to_pack(rows, eggs, overpack, promise)
            pack[here], p_enough[here] = found.pack, found.p_enough
    kind = table.kind[at]
    return CountedRides(at, pack[kind], p_enough[kind], _of_count(table, at, pack))


def _of_count(table: RideTable, at: Ints, of_kind: Ints) -> Ints:
    """What speaks against a count on the rides ``at``, by hatching, air and too few eggs (n,)."""
    kind = table.kind[at]
    pack, codes = of_kind[kind], np.zeros(at.size, dtype=np.int64)
    any_ceiling = table.any_ceiling[at]
    maybe = np.flatnonzero((any_ceiling < 1) & (pack * table.h_per_egg[at] > any_ceiling * (1 - 1e-9)))
    if maybe.size:  # the chance that any hatches is never above the eggs expected to hatch
        asked = np.array(sorted(set(kind[maybe].tolist())), dtype=np.int64)
        h_any = _any_hatched(table, asked, of_kind)
        codes[maybe[h_any[kind[maybe]] > any_ceiling[maybe]]] |= bit("would-hatch")
    air = table.air[at]
    tight = np.flatnonzero((air < np.inf) & (pack > 0))
    if tight.size:
        rows = at[tight]
        units = np.maximum(1, -(-pack[tight] // table.each_most[rows]))
        each = np.maximum(1, -(-pack[tight] // units))
        codes[tight[air[tight] / each < table.hours[rows]]] |= bit("no-air")
    free, unseen = table.free_eggs[at], table.unseen_eggs[at]
    few = np.flatnonzero((pack == 0) | (pack > free))
    unseen = unseen[few]
    young = (unseen >= 0) & ((pack[few] == 0) | (unseen >= pack[few]))
    codes[few] |= np.where(young, bit("too-young"), bit("short"))
    return codes


def _any_hatched(table: RideTable, asked: Ints, pack: Ints) -> Floats:
    """The chance that any of the eggs packed hatches, of some of the kinds; 0 of others (kinds,)."""
    found = np.zeros(pack.size)
    for kinds in table.kinds:
        here = asked[(asked >= kinds.numbers.start) & (asked < kinds.numbers.stop)]
        found[here] = kinds.any_hatched(here - kinds.first, pack[here])
    return found

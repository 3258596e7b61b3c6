"""What no breeder means, alone, beside other rows, or far from the starter tables, is asked about."""

from __future__ import annotations

import csv
import math
import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from statistics import median

from shipping.tables.cells import Row
from shipping.tables.checks.row_problems import after_today, asked, asked_of_setting, noted
from shipping.tables.country_codes import EU, is_country
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.rules import Rule, is_of_coming_home
from shipping.tables.rows.species import Species, withdrawn_values
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import joined, say
from shipping.words.units import shipped_folder

#: Of an egg's lot in a day or a packing, more than this is a slip for percent.
MOST_LOST = 0.5


def losses_can_be(draft: Draft) -> Iterator[Problem]:
    """Losses above half of the eggs are asked about: ``3`` is mostly 3 percent."""
    for row in draft.packings:
        for column in ("loss_handling", "loss_per_day"):
            yield from _loss(draft, row, column, getattr(row, column))
    for rate in draft.rates:
        if rate.what in ("loss_handling", "loss_per_day", "shelf_loss_per_day"):
            yield from _loss(draft, rate, "value", rate.value)


def _loss(draft: Draft, row: Row, column: str, loss: float) -> Iterator[Problem]:
    if loss > MOST_LOST:
        text = say("{loss:g} would lose more than half of the eggs.", loss)
        mend = say("Write the share that is lost")
        if loss >= 1:
            mend = say("Write {share} for {percent:g} %", f"{loss / 100:g}", loss)
        yield from asked(draft, row, column, text, mend, Level.ERROR)


SHARE = "a share"
#: A share that may be meant, and is only said.
SHARE_SAID = "a share of the way"


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a column of a table (a field of the draft) may be meant to hold: ``low`` to ``high`` of a unit."""

    table: str
    column: str
    low: float
    high: float
    unit: str

    def text(self, value: float) -> str:
        """What is wrong with the value; blank where it may be meant. Zero may stand for none."""
        shown = say("{value:g}", value)
        shown = shown if self.unit.startswith(SHARE) else say("{value} {unit}", shown, say(self.unit))
        if value < self.low and value != 0:
            return say("{value} is less than {low:g}, the least that is meant here.", shown, self.low)
        if value > self.high:
            return say("{value} is more than {high:g}, the most that is meant here.", shown, self.high)
        return ""

    @property
    def level(self) -> Level:
        """Shares and temperatures stop all, or their lot, until confirmed; others are said."""
        if self.unit not in (SHARE, "degrees Celsius"):
            return Level.NOTICE
        return Level.LOT if self.table == "lots" else Level.ERROR

    @property
    def mend(self) -> str:
        if self.unit.startswith(SHARE):
            return say("Write the share, as 0.01 for 1 %")
        return say("Write it in {unit}", say(self.unit))


#: Far apart, so that nothing real is asked about: they catch grams for kilograms, not a light box. Assumed.
BOUNDS = (
    Bounds("species", "incubation_c", 5, 35, "degrees Celsius"),
    Bounds("species", "zero_c", -2, 20, "degrees Celsius"),
    Bounds("species", "hatch_early_d", 1, 730, "days"),
    Bounds("species", "hatch_late_d", 1, 1000, "days"),
    Bounds("species", "egg_mm", 0.3, 8, "millimetres"),
    Bounds("species", "o2_ug_egg_h", 0.01, 5, "micrograms an hour"),
    Bounds("species", "adult_cm", 1, 40, "centimetres"),
    Bounds("species", "keep_max_c", 10, 40, "degrees C"),
    Bounds("species", "hatch_share", 0.1, 1, SHARE_SAID),
    Bounds("species", "raise_share", 0.1, 1, SHARE_SAID),
    Bounds("species", "female_share", 0.15, 0.85, SHARE_SAID),
    Bounds("species", "eyed_at", 0.15, 0.84, SHARE_SAID),
    Bounds("species", "hatch_depth_mm", 10, 250, "millimetres"),
    Bounds("species", "ready_keeps_d", 1, 400, "days"),
    Bounds("lots", "fertile_share", 0.1, 1, SHARE),
    Bounds("lots", "salt_g_l", 0, 50, "grams a litre"),
    Bounds("groups", "eggs_a_day", 0.1, 200, "eggs a day"),
    Bounds("packings", "hatch_ceiling", 0, 0.25, SHARE),
    Bounds("packings", "hatch_ceiling", 0, 0.12, SHARE_SAID),
    Bounds("packings", "loss_handling", 0, 0.2, SHARE_SAID),
    Bounds("packings", "loss_per_day", 0.0005, 0.06, SHARE_SAID),
    Bounds("packings", "hatch_held", 0, 0.98, SHARE_SAID),
    Bounds("packings", "eggs_max", 1, 1000, "eggs"),
    Bounds("packings", "volume_ml", 1, 10_000, "millilitres"),
    Bounds("packings", "water_ml", 0.5, 10_000, "millilitres"),
    Bounds("packings", "weight_g", 2, 10_000, "grams"),
    Bounds("packings", "thick_mm", 3, 300, "millimetres"),
    Bounds("packings", "heat_pack_h", 8, 150, "hours"),
    Bounds("packings", "fry_live", 0, 0.8, SHARE_SAID),
    Bounds("packings", "insulated_h", 0.1, 36, "hours"),
    Bounds("boxes", "insulated_h", 0.1, 72, "hours"),
    Bounds("boxes", "tare_g", 1, 10_000, "grams"),
    Bounds("boxes", "holds", 1, 150, "tubes or bags"),
    Bounds("boxes", "length_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "width_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "thick_mm", 3, 1000, "millimetres"),
    Bounds("boxes", "wall_mm", 8, 100, "millimetres"),
    Bounds("boxes", "bottle_ml", 10, 10_000, "millilitres"),
    Bounds("services", "late_d", 0, 60, "working days"),
    Bounds("services", "early_d", 0.5, 15, "working days"),
    Bounds("services", "border_late_d", 0, 60, "working days"),
    Bounds("services", "exposed_h", 2, 240, "hours"),
    Bounds("services", "parcel_lost_share", 0, 0.5, SHARE),
    Bounds("postage", "up_to_g", 15, 35_000, "grams"),
    Bounds("postage", "up_to_mm", 5, 1500, "millimetres"),
    Bounds("weather", "low_c", -60, 45, "degrees Celsius"),
    Bounds("weather", "low_c", -60, 33, "degrees C"),
    Bounds("weather", "high_c", -45, 50, "degrees Celsius"),
    Bounds("disruptions", "days", 0, 40, "working days"),
)


def figures_can_be_meant(draft: Draft) -> Iterator[Problem]:
    """A figure outside its `BOUNDS` is asked about; of those of one unit on a row, the first."""
    told: set[tuple[Where, str]] = set()
    for bounds in BOUNDS:
        rows: tuple[Row, ...] = getattr(draft, bounds.table)
        for row in rows:
            value = getattr(row, bounds.column)
            if value is None or not (text := bounds.text(value)) or (row.at, bounds.unit) in told:
                continue
            for question in asked(draft, row, bounds.column, text, bounds.mend, bounds.level):
                told.add((row.at, bounds.unit))
                yield question


def learned_values_hold(draft: Draft) -> Iterator[Problem]:
    """A value from a day ahead does not hold yet, one outside its own interval is a slip."""
    for row in draft.rates:
        if row.from_day > draft.today:
            text = "{day} is after today, {today}: until then the value does not hold."
            mend = "Look at the year."
            yield noted(row, "from_day", "future", text, mend, day=row.from_day, today=draft.today)
        for bounds in BOUNDS:
            if bounds.column == row.what and (told := bounds.text(row.value)):
                yield from asked(draft, row, "value", told, bounds.mend)
                break
        low = row.value if row.low is None else row.low
        high = row.value if row.high is None else row.high
        if not low <= row.value <= high:
            text = "{value:g} is not between low and high, {low:g} and {high:g}."
            yield noted(row, "value", "order", text, "Mend one of the three.", low=low, high=high)


#: Warmth above zero_c below which a species' days would hang on tenths of a degree. Assumed.
LEAST_DEGREES_C = 4
#: Days from the order to its payment, after which one of them has its year or its month mistyped. Assumed.
LONGEST_UNPAID_D = 150
#: So many times the price of other eggs, or of the same fish's, or a part of it, is a slip of price or count.
#: Assumed.
DEARER_TIMES = 8
DEARER_TIMES_OF_A_FISH = 3.5
#: What an egg may cost, in home money for 1 SDR; more or less is another currency's. Assumed.
CHEAPEST_SDR, DEAREST_SDR = 0.008, 25
#: Home money for 1 SDR, by the International Monetary Fund's rates of 2026 in round figures.
SDR_ABOUT = {
    "EUR": 1.2,
    "USD": 1.4,
    "GBP": 1.0,
    "CHF": 1.1,
    "DKK": 9.0,
    "SEK": 13.5,
    "NOK": 14.0,
    "PLN": 5.1,
    "CZK": 29.0,
    "JPY": 210.0,
    "AUD": 2.1,
    "CAD": 1.9,
}
#: With fewer prices than this nobody knows what eggs, or those of a fish, cost. Assumed.
LEAST_PRICES = 5
LEAST_OF_A_FISH = 3
#: Eggs so many times cheaper, or dearer, than those of every other line have a digit wrong. Assumed.
BEYOND_ALL_TIMES = 3.5
#: A spawning group that begins to lay later than this has its year mistyped. Assumed.
LATEST_GROUP_D = 180
#: Salter water than this is brackish [g/l]. Assumed.
BRACKISH_G_L = 12


def species_develop_above_their_zero(draft: Draft) -> Iterator[Problem]:
    """incubation_c stands some degrees above zero_c."""
    for row in draft.species:
        if 0 < row.incubation_c - row.zero_c < LEAST_DEGREES_C:
            text = "{zero_c:g} is so near incubation_c, {incubation_c:g}, that a degree changes all days."
            yield from asked(draft, row, "zero_c", text, "Look at both")


def fresh_water_fish_are_kept_fresh(draft: Draft) -> Iterator[Problem]:
    """Eggs kept in brackish water are of fish whose water note speaks of salt."""
    fish = {row.species: row for row in draft.species}
    for lot in draft.lots:
        species = fish.get(lot.species)
        if lot.salt_g_l > BRACKISH_G_L and species and not _SALT.search(species.water_note):
            text = (
                "{salt_g_l:g} grams a litre is brackish, and the water note of '{species}' does not say so."
            )
            yield from asked(draft, lot, "salt_g_l", text, "Look at both", species=species.species)


_SALT = re.compile(r"brack|salt|sea|marine|salz|meer|saum|sel\b|salobre|sal\b|mar\b", re.IGNORECASE)


def orders_are_paid_within_months(draft: Draft) -> Iterator[Problem]:
    """Day and month turned round, or a wrong year, sends an order to the front of the queue."""
    for row in draft.first_rows:
        if row.paid_on and (days := (row.paid_on - row.placed_on).days) > LONGEST_UNPAID_D:
            text = say("{day} is {days} days before it was paid, and waits count.", row.placed_on, days)
            yield from asked(draft, row, "placed_on", text, "Look at day, month and year")


def buyers_have_a_mail_of_their_own(draft: Draft) -> Iterator[Problem]:
    """An address drawn down over the next buyer's row sends one buyer's mail to another."""
    mailed = ((row.mail.casefold(), row) for row in draft.first_rows if row.mail)
    for earlier, row in repeated(mailed):
        if earlier.addressee.casefold() != row.addressee.casefold() and earlier.postcode != row.postcode:
            text = "'{mail}' is the mail of '{buyer}' on row {row} too."
            mend = say("Write this buyer's")
            yield from asked(draft, row, "mail", text, mend, buyer=earlier.addressee, row=earlier.at.row)


def prices_are_of_a_size(draft: Draft) -> Iterator[Problem]:
    """A price far from what other eggs cost: customs forms show it. Where most lines cost less than half of
    the cheapest postage, whatever their eggs, prices are of an egg.
    """
    priced = [row for row in draft.order_rows if row.price]
    post = min((row.price for row in draft.postage if row.price), default=0)
    if len(priced) > 1 and _are_of_an_egg(priced, float(post)):
        text = say(
            "{price} for {eggs}, and most lines cost less than half of the cheapest postage, {post}.",
            *(priced[0].price, priced[0].eggs, post),
        )
        yield from asked(draft, priced[0], "price", text, say("Write the price of the whole line"))
        return
    usual = median(float(row.price or 0) / row.eggs for row in priced) if len(priced) >= LEAST_PRICES else 0.0
    value = draft.settings.plan.egg_value if draft.settings else None
    if usual and value and not usual / DEARER_TIMES <= value <= usual * DEARER_TIMES:
        text = say(
            "{value:g} is far from {usual:.2f}, what an egg of the orders usually costs.", value, usual
        )
        yield from asked_of_setting(draft, "plan.egg_value", f"{value:g}", text, say("Look at the point"))
    currency = draft.settings.plan.currency if draft.settings else ""
    about = SDR_ABOUT.get(currency)
    if usual and about and not CHEAPEST_SDR <= usual / about <= DEAREST_SDR:
        text = say("an egg of the orders usually costs {each:.2f} {currency}.", usual, currency)
        yield from asked_of_setting(
            draft, "plan.currency", currency, text, say("Look at the currency: customs forms show it")
        )
    each_of = grouped((row.species, float(row.price or 0) / row.eggs) for row in priced)
    near_of = {
        fish: (median(prices), DEARER_TIMES_OF_A_FISH)
        if len(prices) >= LEAST_OF_A_FISH
        else (usual, DEARER_TIMES)
        for fish, prices in each_of.items()
    }
    eaches = sorted({float(row.price or 0) / row.eggs for row in priced})
    eaches = [*eaches[:2], *eaches[-2:]]
    for row in priced if usual else ():
        each, (near, times) = float(row.price or 0) / row.eggs, near_of[row.species]
        least, most = (next((one for one in every if one != each), each) for every in (eaches, eaches[::-1]))
        beyond = each < least / BEYOND_ALL_TIMES or each > most * BEYOND_ALL_TIMES
        if beyond or not near / times <= each <= near * times:
            text = "{price} for {eggs} is far from {usual:.2f} an egg, as others pay."
            yield from asked(draft, row, "price", text, "Look at the point", usual=near)


#: Where no two counts of a fish tell, eggs that cost less than this part of the cheapest postage. Assumed.
CHEAPEST_EGG = 0.015


def _are_of_an_egg(priced: Sequence[OrderRow], post: float) -> bool:
    """Do lines cost little, and those of one fish no more for many eggs than for few, as no cheap eggs do?"""
    if median(float(row.price or 0) for row in priced) * 2 >= post:
        return False
    votes = []
    for rows in grouped((row.species, row) for row in priced).values():
        for few, many in pairwise(sorted(rows, key=lambda row: row.eggs)):
            if few.eggs < many.eggs:
                dearer = math.log(float(many.price or 0) / float(few.price or 0))
                votes.append(abs(dearer) <= abs(dearer - math.log(many.eggs / few.eggs)))
    if not votes:
        return median(float(row.price or 0) / row.eggs for row in priced) < CHEAPEST_EGG * post
    return 2 * sum(votes) > len(votes)


#: A count and a price are turned round where each egg would cost so many times the usual, and, turned round
#: again, so near to it. Assumed.
TURNED_TIMES, TURNED_NEAR = 1.8, 1.15


def counts_and_prices_stand_in_their_columns(draft: Draft) -> Iterator[Problem]:
    """A count and a price that fit others of the fish only when turned round: fewer eggs would be packed."""
    for rows in grouped((row.species, row) for row in draft.order_rows if row.price).values():
        by_price = sorted(float(row.price or 0) / row.eggs for row in rows)
        for row in rows if len(rows) > LEAST_OF_A_FISH else ():
            price = float(row.price or 0)
            usual = median_of_others(by_price, price / row.eggs)
            each, turned = price / row.eggs, row.eggs / price
            is_off = not usual / TURNED_TIMES <= each <= usual * TURNED_TIMES
            if is_off and price.is_integer() and usual / TURNED_NEAR <= turned <= usual * TURNED_NEAR:
                text = say(
                    "{eggs} for {price} is far from {usual:.2f} an egg, and turned round it is not.",
                    row.eggs,
                    row.price,
                    usual,
                )
                yield from asked(draft, row, "eggs", text, say("Look at eggs and price"))


def median_of_others(values: list[float], one: float) -> float:
    """The median of sorted values without one of them."""
    gone, most = bisect_left(values, one), len(values) - 2
    middle = (values[place + (place >= gone)] for place in (most // 2, (most + 1) // 2))
    return sum(middle) / 2


def prices_are_all_or_none(draft: Draft) -> Iterator[Problem]:
    """One line without a price makes the week weigh all lines by their eggs; a sheet may have none at all."""
    for rows in grouped((row.at.file, row) for row in draft.order_rows).values():
        blank = [row for row in rows if row.price is None and row.cancelled_on is None]
        if blank and 2 * len(blank) < len(rows):
            text = "is blank, so that the week is planned by eggs and not by money."
            yield noted(blank[0], "price", "asked", text, "Write it, 0 for a gift.")


def populations_stand_with_one_species(draft: Draft) -> Iterator[Problem]:
    """A population that this row alone gives to a fish, and others to another, or the fish, is a slip."""
    rows: list[Lot | Group | OrderRow] = [*draft.lots, *draft.groups, *draft.order_rows]
    by_population: dict[str, Counter[str]] = {}
    for row in rows:
        by_population.setdefault(folded(row.population), Counter())[row.species] += 1
    for row in rows:
        counts = by_population[folded(row.population)]
        other = counts.most_common(1)[0][0]
        if row.population and counts[row.species] == 1 and other != row.species and counts[other] > 1:
            text = "'{population}' is a population of '{other}' elsewhere."
            yield from asked(draft, row, "population", text, "Look at fish and population", other=other)
    named = grouped((row.species, bool(row.population)) for row in rows)
    for lot in draft.lots:
        if (
            not lot.population
            and len(named[lot.species]) > 2
            and sum(not one for one in named[lot.species]) == 1
        ):
            text = "is blank, and every other row of '{species}' names one: its eggs go for none of them."
            yield from asked(draft, lot, "population", text, "Look at fish and population")
    for order in draft.choosy_rows:
        for fish in order.instead:
            species, _, population = fish.partition("/")
            known = by_population.get(folded(population), Counter())
            if folded(fish) == folded(f"{order.species}/{order.population}"):
                text = say("'{fish}' is what is ordered.", fish)
                yield from asked(draft, order, "instead", text, say("Look at fish and population"))
            elif population and known and species.strip() not in known:
                text = say(
                    "'{population}' is a population of '{other}' elsewhere.", population, next(iter(known))
                )
                yield from asked(draft, order, "instead", text, say("Look at fish and population"))


def genera_have_one_family(draft: Draft) -> Iterator[Problem]:
    """Species of one genus are of one family, as rules may name it."""
    by_genus: dict[str, Counter[str]] = {}
    for row in draft.species:
        by_genus.setdefault(row.genus, Counter())[row.family] += 1
    for row in draft.species:
        (family, times), *others = by_genus[row.genus].most_common()
        if others and row.family != family and times > 1:
            text = "'{family}' here, and '{other}' for others of '{genus}'."
            yield from asked(draft, row, "family", text, "Write '{kind}'", other=family, kind=family)


def lots_say_where_they_are_from(draft: Draft) -> Iterator[Problem]:
    """Who bred the eggs is no country, and what they were treated with is no number."""
    for row in draft.lots:
        if is_country(row.origin.strip().upper()) and len(row.origin.strip()) == 2:
            text = "'{origin}' is a country, and origin is from whom the eggs were bought."
            yield from asked(draft, row, "origin", text, "Write it in origin_country")
        elif row.origin and not any(letter.isalpha() for letter in row.origin):
            text = "'{origin}' is nobody's name."
            yield from asked(draft, row, "origin", text, "Write from whom the eggs came, or empty it")
        if row.treatment and not any(letter.isalpha() for letter in row.treatment):
            text = "'{treatment}' names no treatment."
            yield from asked(draft, row, "treatment", text, "Write what was given, or empty it")


def fry_have_had_eyes(draft: Draft) -> Iterator[Problem]:
    """Where fry have hatched, eggs show eyes."""
    for row in draft.looks:
        if row.hatched and row.stage in ("laid", "fertile"):
            text = "{hatched} fry, and the stage of that day is '{stage}'."
            yield from asked(draft, row, "hatched", text, "Look at both")


def groups_begin_soon(draft: Draft) -> Iterator[Problem]:
    """A group that lays from a day far ahead has its year mistyped: nothing is expected of it till then."""
    for row in draft.groups:
        if row.from_day and (days := (row.from_day - draft.today).days) > LATEST_GROUP_D:
            text = "{day} is {days} days ahead."
            yield from asked(draft, row, "from_day", text, "Look at the year", day=row.from_day, days=days)


Cells = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Near:
    """How far a figure may lie from the starter's: by ``times``, or by ``steps`` up or down."""

    column: str
    times: float = 0.0
    steps: float = 0.0

    def holds(self, mine: float, theirs: float) -> bool:
        if self.times:
            return theirs / self.times <= mine <= theirs * self.times
        return abs(mine - theirs) <= self.steps


#: Farther apart than breeders and papers differ on one fish: digits lost, weeks or hours for days. Assumed.
_NEAR = (
    _Near("zero_c", steps=3.5),
    _Near("eyed_at", steps=0.25),
    _Near("keep_min_c", steps=7),
    _Near("keep_max_c", steps=6),
    _Near("egg_mm", times=2),
    _Near("o2_ug_egg_h", times=5),
    _Near("adult_cm", times=2.5),
)
#: The same of the days to hatching, as days or as degree-days, as the warmth may be another. Assumed.
MOST_OTHER_DAYS = 2.5
#: The same of eggs in water that would hatch later than published: they would hatch on the way.
MOST_LATER_DAYS = 1.4
_DAYS = ("hatch_early_d", "hatch_usual_d", "hatch_late_d")


@lru_cache(maxsize=2)
def _starter(table: str) -> tuple[Cells, ...]:
    path = shipped_folder("templates") / "starter" / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@lru_cache(maxsize=1)
def _fish() -> Mapping[str, Cells]:
    """The starter's species by key and by every scientific name; rows of a whole genus are none."""
    rows = [row for row in _starter("species") if not row["scientific_name"].endswith(" sp.")]
    names = ((row, (row["scientific_name"], *row["synonyms"].split(";"))) for row in rows)
    by_name = {folded(name.strip()): row for row, every in names for name in every if name.strip()}
    return {**{folded(row["species"]): row for row in rows}, **by_name}


def texts_of_services_are_out(draft: Draft) -> Iterator[Problem]:
    """The day of a text or figure on a service has come; that of the starter is known to."""
    shipped = {row["as_of"] for row in _starter("services")}
    for row in draft.services:
        for ahead in after_today(draft, row, "as_of", "Write the day of that text or figure."):
            if str(row.as_of) not in shipped:
                yield replace(ahead, level=Level.NOTICE)


def fish_are_as_published(draft: Draft) -> Iterator[Problem]:
    """A figure or word far from what the starter table has of the same fish, or of its genus; each row's
    first.
    """
    bears = {column for row in draft.species for column in _BORNE if getattr(row, column) is not None}
    for row in draft.species:
        known = _fish().get(folded(row.species)) or _fish().get(folded(row.scientific_name))
        unlike = _beside_kin(draft, row) if known is None else _beside(draft, row, known)
        yield from list(unlike)[:1]
        for column in sorted(bears):
            if getattr(row, column) is None:
                text = "is blank, and other fish have it: nothing is too hot or too cold that way."
                yield from asked(draft, row, column, text, "Write what the eggs bear", code="blank")


_BORNE = ("keep_min_c", "keep_max_c")
#: How a source says that a value is assumed, by the column of what is claimed of it.
_SAYS_ASSUMED = {
    "zero_basis": re.compile(r"\bzero\b:?[^;,.]*\bassumed\b", re.IGNORECASE),
    "o2_basis": re.compile(r"\b(?:oxygen|o2)\b:?[^;,.]*\bassumed\b", re.IGNORECASE),
}


def claims_are_those_of_the_source(draft: Draft) -> Iterator[Problem]:
    """A value called published, or learned, whose own source says that it is assumed."""
    mend = say("Write assumed, or who says so in source")
    for row in draft.species:
        for column, says in _SAYS_ASSUMED.items():
            if getattr(row, column) == "published" and (word := says.search(row.source)):
                text = say("'published', and its source says '{words}'.", word[0])
                yield from asked(draft, row, column, text, mend, code="no-source")
    ours = {row["source"] for row in _starter("services") if row["basis"] == "assumed"}
    for service in draft.services:
        if service.basis not in ("", "assumed") and service.source in ours:
            text = "'{basis}', with the source of the starter table, which has it assumed."
            yield from asked(draft, service, "basis", text, mend, code="no-source")


#: Days to hatching so many times those of any kin kept that way, or a part of them, are weeks, months or
#: hours; of a genus that nobody knows, the fewest and most of fish kept that way. Assumed.
MOST_KIN_DAYS = 1.65
MOST_ASLEEP = 3.0
_DAYS_OF_KIND = {"water": (1.5, 60.0), "damp": (10.0, 600.0)}


def _beside_kin(draft: Draft, row: Species) -> Iterator[Problem]:
    """The same of a fish that the starter table has not, beside those of its genus."""
    kin = [
        one for one in _starter("species") if folded(one["scientific_name"].split()[0]) == folded(row.genus)
    ]
    mend = say("Look at both")
    for column in ("family", "incubation"):
        mine, theirs = getattr(row, column), {one[column] for one in kin}
        if kin and "either" not in {mine, *theirs} and len(theirs) == 1 and mine not in theirs:
            text = "'{value}', and others of '{genus}' have '{other}' in the starter table."
            told = {"value": mine, "genus": row.genus, "other": min(theirs)}
            yield from asked(draft, row, column, text, mend, code="unlike-published", **told)
    if row.send_from == "fertile" and kin and all(one["send_from"] in ("", "eyed") for one in kin):
        text = say("'fertile', and others of '{genus}' are sent once they have eyes.", row.genus)
        yield from asked(draft, row, "send_from", text, mend, code="unlike-published")
    low, high = _days_of_kin(row.incubation, kin)
    for column in ("hatch_early_d", "hatch_late_d") if row.hatch_early_d <= row.hatch_late_d else ():
        if not low <= (days := getattr(row, column)) <= high:
            text = say("{days:g} days, and fish like it take {low:.0f} to {high:.0f}.", days, low, high)
            yield from asked(draft, row, column, text, say("Write it in days"), code="unlike-published")
    for near in _NEAR:
        value, others = (
            getattr(row, near.column),
            [float(one[near.column]) for one in kin if one[near.column]],
        )
        if value is not None and others and not any(near.holds(value, other) for other in others):
            text = say("{mine:g} is far from {other:g} of its genus.", value, median(others))
            yield from asked(draft, row, near.column, text, mend, code="unlike-published")


def _days_of_kin(incubation: str, kin: Sequence[Cells]) -> tuple[float, float]:
    """The fewest days to hatching and the most that a fish of that kind and genus may take."""
    alike = [one for one in kin if one["incubation"] == incubation] or kin
    if not alike:
        return _DAYS_OF_KIND.get(incubation, (_DAYS_OF_KIND["water"][0], _DAYS_OF_KIND["damp"][1]))
    early = min(float(one["hatch_early_d"]) for one in alike)
    late = max(float(one["hatch_late_d"]) for one in alike)
    return early / MOST_KIN_DAYS, late * (MOST_ASLEEP if incubation == "damp" else MOST_KIN_DAYS)


def _beside(draft: Draft, row: Species, known: Cells) -> Iterator[Problem]:
    mend = say("Look at both")
    names = {folded(name) for name in (known["scientific_name"], *known["synonyms"].split(";"))}
    words = [] if folded(row.scientific_name) in names else ["scientific_name"]
    words += ["family", "send_from"] + ["incubation"] * (known["incubation"] != "either")
    for column in words:
        mine, word = getattr(row, column), known[column] or "eyed" * (column == "send_from")
        if mine and word and folded(mine) != folded(word):
            text = "'{value}' is '{other}' in the starter table."
            yield from asked(draft, row, column, text, mend, code="unlike-published", value=mine, other=word)
    for column, mine, theirs, is_near in _figures(row, known):
        if not is_near:
            text = say("{value:g} is far from {other:g}, which the starter table has.", mine, theirs)
            yield from asked(draft, row, column, text, mend, code="unlike-published")


def _figures(row: Species, known: Cells) -> Iterator[tuple[str, float, float, bool]]:
    """(column, here, in the starter, near?) of figures both have; none of a row at odds with itself."""
    if row.hatch_early_d > row.hatch_late_d or (row.keep_min_c or -99) >= (row.keep_max_c or 99):
        return
    warmth, theirs_c = row.incubation_c - row.zero_c, float(known["incubation_c"]) - float(known["zero_c"])
    for column in _DAYS if warmth > 0 else ():
        mine, theirs = getattr(row, column), known[column]
        if mine and theirs:
            alike = _Near(column, times=MOST_OTHER_DAYS)
            scales = (1.0, theirs_c / warmth)
            is_near = any(alike.holds(mine, float(theirs) * scale) for scale in scales)
            most = max(scales) * float(theirs) * (MOST_OTHER_DAYS if row.is_damp else MOST_LATER_DAYS)
            yield column, mine, float(theirs), is_near and mine <= most
    for near in _NEAR:
        mine, theirs = getattr(row, near.column), known[near.column]
        is_default = Species.model_fields[near.column].default == mine
        if mine is not None and theirs and not is_default:
            yield near.column, mine, float(theirs), near.holds(mine, float(theirs))


def _rules(draft: Draft) -> Iterator[Cells]:
    """The starter's rules but those about what comes into the breeder's own country from abroad."""
    home = draft.settings.home if draft.settings else None
    for row in _starter("rules"):
        if home is None or not is_of_coming_home(row, home.country, home.subdivision):
            yield row


def _closed(draft: Draft) -> Mapping[tuple[str, str], str]:
    """The source of what the starter's rules forbid, by (place, taxon); zones as their countries."""
    zones = {row["zone"]: row["countries"].split() for row in _starter("zones")}
    return {
        (place, folded(row["taxon"])): row["source"]
        for row in _rules(draft)
        if row["verdict"] == "closed"
        for name in row["to"].split()
        for place in zones.get(name, [name])
    }


def parts_of_their_own(draft: Draft) -> Mapping[str, str]:
    """The parts of countries that have a row of their own in the starter's rules, with its source."""
    return {place: row["source"] for row in _rules(draft) for place in row["to"].split() if "-" in place}


def what_is_forbidden_stays_closed(draft: Draft) -> Iterator[Problem]:
    """A row that opens what the starter's rules forbid by a law they name, and a row for everywhere."""
    closed = _closed(draft)
    for rule in draft.rules:
        if rule.verdict not in ("open", "papers"):
            continue
        forbidden = ((place, closed.get((place, folded(rule.taxon)))) for place in rule.places)
        for place, source in forbidden:
            if source:
                text = say(
                    "'{verdict}' for {place}, which the starter table has closed.", rule.verdict, place
                )
                mend = say("Look at '{source}'", source)
                level = Level.ERROR if rule.verdict == "open" else Level.NOTICE
                yield from asked(draft, rule, "verdict", text, mend, level, code="unlike-published")
                break
        if rule.verdict == "open" and rule.to.strip() == "*" and rule.taxon == "*":
            text = "opens every country to every fish, and no authority has said so."
            mend = say("Write a row for each country you asked")
            yield from asked(draft, rule, "verdict", text, mend, code="open-everywhere")


@lru_cache(maxsize=1)
def _asking() -> frozenset[tuple[str, str, str]]:
    """(place, taxon, source) of the starter's rows that say to ask."""
    rows = [row for row in _starter("rules") if row["verdict"] == "ask"]
    return frozenset((row["to"], folded(row["taxon"]), folded(row["source"])) for row in rows)


def what_is_to_be_asked_was_answered(draft: Draft) -> Iterator[Problem]:
    """A row of the starter's that says to ask, opened with its source left as it was: nobody answered."""
    for rule in draft.rules:
        key = (rule.to.strip(), folded(rule.taxon), folded(rule.source))
        if rule.verdict == "open" and key in _asking():
            text = say("'open' with the source of the starter table, which says to ask.")
            mend = say("Write in source who answered")
            yield from asked(draft, rule, "verdict", text, mend, code="no-source")


def papers_are_all_named(draft: Draft) -> Iterator[Problem]:
    """A row that asks for fewer papers than the starter's of the same place and fish, or for none."""
    with_papers = (row for row in _rules(draft) if row["verdict"] == "papers")
    asked_for = {(row["to"], folded(row["taxon"])): row for row in with_papers}
    for rule in draft.rules:
        known = asked_for.get((rule.to.strip(), folded(rule.taxon)))
        if known is None or rule.verdict not in ("open", "papers"):
            continue
        held = {folded(paper) for paper in rule.papers} if rule.verdict == "papers" else set[str]()
        missing = [paper for paper in known["papers"].split(";") if folded(paper) not in held]
        if missing:
            column = "papers" if rule.verdict == "papers" else "verdict"
            text = say("does not ask for '{papers}', which the starter table does.", "; ".join(missing))
            mend = say("Look at '{source}'", known["source"])
            yield from asked(draft, rule, column, text, mend, code="unlike-published")


def open_zones_are_of_one_ground(draft: Draft) -> Iterator[Problem]:
    """A row that opens a zone of the Union's countries and one or two that are none: their law is another."""
    for rule in draft.rules:
        if rule.verdict != "open":
            continue
        zones = {place: frozenset(draft.zone_countries.get(place, ())) for place in rule.places}
        named = {place for place in rule.places if place not in draft.zone_countries and is_country(place)}
        for place, countries in {**zones, rule.to: named.union(*zones.values())}.items():
            members = EU & countries
            others = sorted(countries - members)
            if others and len(members) > 2 * len(others):
                text = say(
                    "opens {places} too, which '{zone}' holds beside countries of the Union.",
                    " ".join(others),
                    place,
                )
                yield from asked(
                    draft,
                    rule,
                    "to",
                    text,
                    say("Write a row for each country you asked"),
                    code="unlike-published",
                )


def closed_fish_have_a_rule(draft: Draft) -> Iterator[Problem]:
    """A fish that a law forbids where an order goes, or at home, and no row closes it there: said once."""
    if "rules" not in draft.complete or draft.settings is None:
        return
    home, closed = draft.settings.home.country, _closed(draft)
    wanted = {(row.species, row.country) for row in draft.order_rows if row.cancelled_on is None}
    wanted |= {(lot.species, home) for lot in draft.lots}
    for fish in draft.species:
        names = {
            folded(name) for name in (fish.species, fish.binomial, fish.genus, fish.family, *fish.synonyms)
        }
        places = sorted(
            country
            for species, country in wanted
            if species == fish.species
            and (country, folded(fish.binomial)) in closed
            and not any(_closes(draft, rule, country, names) for rule in draft.rules)
        )
        if places:
            text = say(
                "'{fish}' is closed in {places} by the starter table, and no row of rules says so.",
                *(fish.species, " ".join(places)),
            )
            mend = say("Look at '{source}'", closed[places[0], folded(fish.binomial)])
            yield from asked(draft, fish, "species", text, mend, code="unlike-published")


def _closes(draft: Draft, rule: Rule, country: str, names: set[str]) -> bool:
    """Does the row forbid all of a fish in a country, in water or damp?"""
    zones = (draft.zone_countries.get(place, ()) for place in rule.places)
    there = country in rule.places or "*" in rule.places or any(country in zone for zone in zones)
    is_on = rule.medium is None and rule.holds_on(draft.today)
    return rule.verdict in ("closed", "ask") and there and is_on and folded(rule.taxon) in names | {"*"}


def starter_species_were_read_again(draft: Draft) -> Iterator[Problem]:
    """Values of the first starter tables that may kill eggs: one message a column, today's counts instead."""
    changed: dict[str, dict[tuple[float, float], list[Species]]] = {}
    for row in draft.species:
        for column, was, now in withdrawn_values(row):
            changed.setdefault(column, {}).setdefault((was, now), []).append(row)
    for column, rows_by_change in changed.items():
        first = min((row for rows in rows_by_change.values() for row in rows), key=lambda row: row.at.row)
        each = (
            say("{now:g} instead of {was:g} for {fish}", now, was, ", ".join(row.species for row in rows))
            for (was, now), rows in rows_by_change.items()
        )
        text = "came with the first starter tables and was withdrawn. What counts: {values}."
        mend = "Write the value you want, and in source who says so."
        yield noted(first, column, "withdrawn", text, mend, values=joined(each, "; "))

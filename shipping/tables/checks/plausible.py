"""Figures that no breeder means, alone or beside others: each is asked about, as a slip."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median

from shipping.tables.cells import Row
from shipping.tables.checks.row_problems import asked, noted
from shipping.tables.country_codes import is_country
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.packings import KIND_BY_WORD, Box, Packing
from shipping.tables.rows.settings import Settings
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import LANGUAGES, say

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
    Bounds("species", "female_share", 0.15, 0.85, SHARE_SAID),
    Bounds("species", "eyed_at", 0.15, 0.84, SHARE_SAID),
    Bounds("species", "hatch_depth_mm", 3, 250, "millimetres"),
    Bounds("species", "ready_keeps_d", 1, 400, "days"),
    Bounds("lots", "fertile_share", 0.1, 1, SHARE),
    Bounds("lots", "salt_g_l", 0, 50, "grams a litre"),
    Bounds("groups", "eggs_a_day", 0, 200, "eggs a day"),
    Bounds("packings", "hatch_ceiling", 0, 0.25, SHARE),
    Bounds("packings", "hatch_ceiling", 0, 0.12, SHARE_SAID),
    Bounds("packings", "loss_handling", 0, 0.2, SHARE_SAID),
    Bounds("packings", "loss_per_day", 0.0005, 0.06, SHARE_SAID),
    Bounds("packings", "hatch_held", 0, 0.98, SHARE_SAID),
    Bounds("packings", "eggs_max", 1, 1000, "eggs"),
    Bounds("packings", "volume_ml", 1, 10_000, "millilitres"),
    Bounds("packings", "water_ml", 0.5, 10_000, "millilitres"),
    Bounds("packings", "weight_g", 1, 10_000, "grams"),
    Bounds("packings", "thick_mm", 3, 300, "millimetres"),
    Bounds("packings", "heat_pack_h", 8, 150, "hours"),
    Bounds("packings", "fry_live", 0, 0.8, SHARE_SAID),
    Bounds("packings", "insulated_h", 0.1, 36, "hours"),
    Bounds("boxes", "insulated_h", 0.1, 72, "hours"),
    Bounds("boxes", "tare_g", 1, 10_000, "grams"),
    Bounds("boxes", "holds", 1, 150, "units"),
    Bounds("boxes", "length_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "width_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "thick_mm", 3, 1000, "millimetres"),
    Bounds("boxes", "wall_mm", 3, 100, "millimetres"),
    Bounds("boxes", "bottle_ml", 10, 10_000, "millilitres"),
    Bounds("services", "late_d", 0, 60, "working days"),
    Bounds("services", "early_d", 0, 15, "working days"),
    Bounds("services", "border_late_d", 0, 90, "working days"),
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


def packings_weigh_their_water(draft: Draft) -> Iterator[Problem]:
    """A packed unit weighs at least its water, else postage is too low; one without a weight is said."""
    for row in draft.packings:
        mend = say("Write what a packed unit weighs")
        if row.weight_g == 0:
            text = "is 0: postage is reckoned as if a packed unit weighed nothing."
            yield noted(row, "weight_g", "no-weight", text, say("{text}.", mend))
        elif 1 <= row.weight_g < (row.water_ml or 0):
            text = "{weight:g} grams is less than the {water:g} ml of water in it."
            yield from asked(draft, row, "weight_g", text, mend, weight=row.weight_g, water=row.water_ml)


@dataclass(frozen=True, slots=True)
class _Doubt:
    """A key of ``shelf.toml``, what is asked about where it is below ``low`` or above ``high``, and why."""

    section: str
    key: str
    low: float
    high: float
    why: str
    mend: str


_DAYS_MEND = "Write it in days."
_DEGREES_MEND = "Write degrees above 0."
_USUAL_MEND = "Leave it out: the usual value counts."
_DOUBTS = (
    _Doubt("plan", "promise", 0.7, 1, "most promises would be broken", "Write 0.95 for 95 %."),
    _Doubt("plan", "promise", 0, 0.995, "far more eggs would be packed than ordered", "Write 0.95 for 95 %."),
    _Doubt("plan", "fertile_share", 0.2, 1, "most eggs would count as clear", "Write 0.85 for 85 %."),
    _Doubt("plan", "fertile_share", 0, 0.99, "no egg would ever be clear", "Write 0.85 for 85 %."),
    _Doubt("plan", "shelf_loss_per_day", 0, 0.06, "a lot would be gone in days", "Write 0.01 for 1 %."),
    _Doubt("plan", "look_spread", 0.03, 0.4, "it is a spread, and 0.10 is usual", _USUAL_MEND),
    _Doubt("plan", "rule_age_days", 30, 800, "rules would count for years, or for days", _DAYS_MEND),
    _Doubt("plan", "answer_age_days", 60, 1500, "answers would count for years, or for days", _DAYS_MEND),
    _Doubt("plan", "waiting_weight", 0, 1, "a week's wait would count more than the eggs", _USUAL_MEND),
    _Doubt("plan", "short_cost", 0.1, 20, "eggs that fall short would cost nothing, or all", _USUAL_MEND),
    _Doubt("plan", "settle_d", 0, 10, "no egg would travel for days after a move", _DAYS_MEND),
    _Doubt("warmth", "trip_spread_c", 0.5, 20, "every parcel would be as warm as the table", _USUAL_MEND),
    _Doubt("warmth", "hot_margin_c", 1, 16, "no place is as mild, or as hot", _DEGREES_MEND),
    _Doubt("warmth", "cold_margin_c", 1, 16, "no place is as mild, or as cold", _DEGREES_MEND),
    _Doubt("customs", "form_limit_sdr", 100, 1000, "the postal union's limit is 300", _USUAL_MEND),
    _Doubt("claims", "report_within_days", 1, 60, "no buyer could report in time, or all year", _DAYS_MEND),
    _Doubt("plan", "parcels_per_day", 1, math.inf, "no parcel would go", "Leave it out: no limit."),
    _Doubt("customs", "sdr", 0.3, math.inf, "it is your money for 1 SDR", "Turn the rate round."),
)


def settings_can_be_meant(draft: Draft) -> Iterator[Problem]:
    """A setting that no breeder means is said."""
    if draft.settings is None:
        return
    where, told = Where(SETTINGS_FILE), set[str]()
    for doubt in _DOUBTS:
        value = getattr(getattr(draft.settings, doubt.section), doubt.key)
        if value is not None and not doubt.low <= value <= doubt.high and doubt.key not in told:
            told.add(doubt.key)
            text = say("{value:g} cannot be meant: {why}.", value, say(doubt.why))
            yield Problem(where, f"{doubt.section}.{doubt.key}", "asked", text, doubt.mend, Level.NOTICE)
    day = draft.settings.customs.sdr_on
    if day is not None and day > draft.today:
        text = say("{day} is after today, {today}.", day, draft.today)
        yield Problem(where, "customs.sdr_on", "future", text, "Write the day of the rate.", Level.NOTICE)
    elif day is not None and (days := (draft.today - day).days) > OLDEST_RATE_D:
        text = say("{day} is {days} days ago.", day, days)
        yield Problem(where, "customs.sdr_on", "asked", text, "Look at the year.", Level.NOTICE)
    yield from _money_settings(draft.settings, where)


#: Home money for 1 SDR, by the International Monetary Fund's rates of 2026 in round figures; only a rate that
#: is half or twice as much is asked about.
_SDR_ABOUT = {
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
OLDEST_RATE_D = 400
#: Animal products not for eating, eggs of fish among them, in the Harmonized System.
FISH_EGGS = "051191"


def _money_settings(settings: Settings, where: Where) -> Iterator[Problem]:
    """A rate that is another currency's, a weekend for posting, a tariff that is no eggs'."""
    rate, currency = settings.customs.sdr, settings.plan.currency
    about = _SDR_ABOUT.get(currency)
    if rate and about and rate >= 0.3 and not about / 2 <= rate <= about * 2:
        text = say(
            "{value:g} is far from {other:g}, about what 1 SDR is in {currency}.", rate, about, currency
        )
        mend = "Look at the point, and at the currency."
        yield Problem(where, "customs.sdr", "asked", text, mend, Level.NOTICE)
    digits = "".join(filter(str.isdigit, settings.customs.tariff))
    if digits and not digits.startswith(FISH_EGGS):
        text = say(
            "'{value}' is not of {tariff}, under which eggs of fish go.", settings.customs.tariff, FISH_EGGS
        )
        yield Problem(where, "customs.tariff", "asked", text, _USUAL_MEND, Level.NOTICE)
    if set(settings.plan.dispatch_days) <= {"Sat", "Sun"}:
        text = say("{days}: nothing is taken in but at the weekend.", " ".join(settings.plan.dispatch_days))
        mend = "Write the days on which you post."
        yield Problem(where, "plan.dispatch_days", "asked", text, mend, Level.NOTICE)


def papers_speak_their_languages(draft: Draft) -> Iterator[Problem]:
    """A language that the papers are not written in gives English ones, and that is said."""
    if draft.settings is None:
        return
    for language in draft.settings.papers.languages:
        if language not in LANGUAGES:
            text = say("'{language}' is not written yet: papers in it are English.", language)
            mend = say("Write those of {languages}.", ", ".join(LANGUAGES))
            yield Problem(Where(SETTINGS_FILE), "papers.languages", "asked", text, mend, Level.NOTICE)


def learned_values_hold(draft: Draft) -> Iterator[Problem]:
    """A value from a day ahead does not hold yet, one outside its own interval is a slip."""
    for row in draft.rates:
        if row.from_day > draft.today:
            text = "{day} is after today, {today}: until then the value does not hold."
            mend = "Look at the year."
            yield noted(row, "from_day", "future", text, mend, day=row.from_day, today=draft.today)
        low = row.value if row.low is None else row.low
        high = row.value if row.high is None else row.high
        if not low <= row.value <= high:
            text = "{value:g} is not between low and high, {low:g} and {high:g}."
            yield noted(row, "value", "order", text, "Mend one of the three.", low=low, high=high)


#: Between the month's extremes and the next month's lie fewer degrees, wherever people live. Assumed.
MONTHLY_STEP_C = 12
#: Warmth above zero_c below which a species' days would hang on tenths of a degree. Assumed.
LEAST_DEGREES_C = 4
#: So many times the usual days is late for a service whose days are known. Assumed.
LATEST_TIMES = 5
#: Days from the order to its payment, after which one of them has its year or its month mistyped. Assumed.
LONGEST_UNPAID_D = 150
#: So many times the price of other eggs, or of the same fish's, or a part of it, is a slip of price or count.
#: Assumed.
DEARER_TIMES = 8
DEARER_TIMES_OF_A_FISH = 3.5
#: With fewer prices than this nobody knows what eggs, or those of a fish, cost. Assumed.
LEAST_PRICES = 5
LEAST_OF_A_FISH = 3
#: The most of a sealed tube's eggs that may be meant to hatch in it, and the most eggs in a ml. Assumed.
MOST_SEALED_HATCH = 0.03
MOST_EGGS_ML = 10
#: More of a sealed tube than this is not filled, as the air above is the store of oxygen; less than
#: that is a slip. Assumed.
MOST_WATER, LEAST_WATER = 0.75, 0.15
#: The heaviest a packed unit is [g]: for each ml it holds, and of itself. Assumed.
HEAVIEST_G_ML = 4
HEAVIEST_EMPTY_G = 50
#: A spawning group that begins to lay later than this has its year mistyped. Assumed.
LATEST_GROUP_D = 180
#: Salter water than this is brackish [g/l]. Assumed.
BRACKISH_G_L = 12
#: The lightest card a box is made of [g/m2]. Assumed.
LIGHTEST_CARD = 150


def species_develop_above_their_zero(draft: Draft) -> Iterator[Problem]:
    """incubation_c stands some degrees above zero_c."""
    for row in draft.species:
        if 0 < row.incubation_c - row.zero_c < LEAST_DEGREES_C:
            text = "{zero_c:g} is so near incubation_c, {incubation_c:g}, that a degree changes all days."
            yield from asked(draft, row, "zero_c", text, "Look at both")


def packings_are_what_they_are_called(draft: Draft) -> Iterator[Problem]:
    """A tube is not called a bag, and no fry live in what is sealed."""
    for row in draft.packings:
        called = [kind for kind in KIND_BY_WORD if _is_called(row.packing, kind)]
        if called and row.kind not in called:
            text = "'{packing}' is of the kind '{kind}'."
            yield from asked(draft, row, "kind", text, say("Write '{kind}'", called[0]))
        if (row.is_a.is_sealed or row.is_a.is_damp) and row.fry_live > 0:
            text = "{fry_live:g} of what hatches would live in a sealed tube."
            if row.is_a.is_damp:
                text = "{fry_live:g} of what hatches would live without water."
            yield from asked(draft, row, "fry_live", text, "Write 0")
        if row.is_a.is_sealed and row.hatch_ceiling > MOST_SEALED_HATCH:
            text = "{hatch_ceiling:g} of the eggs might hatch in a sealed tube."
            yield from asked(draft, row, "hatch_ceiling", text, "Write 0.01 for 1 %")
        if row.is_a.is_sealed and row.water_ml and row.eggs_max > MOST_EGGS_ML * row.water_ml:
            text = "{eggs_max} eggs in {water_ml:g} ml of water."
            yield from asked(draft, row, "eggs_max", text, "Look at both")
        if row.is_a.is_sealed and (row.water_ml or 0) > MOST_WATER * (row.volume_ml or math.inf):
            text = "{water_ml:g} of {volume_ml:g} ml are water: no air is left."
            yield from asked(draft, row, "water_ml", text, "Look at both")
        elif row.water_ml and row.water_ml < LEAST_WATER * (row.volume_ml or 0):
            text = "{water_ml:g} of {volume_ml:g} ml are little water."
            yield from asked(draft, row, "water_ml", text, "Look at both")
        if row.weight_g > HEAVIEST_G_ML * (row.volume_ml or math.inf) + HEAVIEST_EMPTY_G:
            text = "{weight_g:g} grams is much for a unit of {volume_ml:g} ml."
            yield from asked(draft, row, "weight_g", text, "Write what a packed unit weighs")
        if not row.is_a.is_damp and row.held > 0:
            text = "{hatch_held:g} of the due eggs would be held back in water."
            yield from asked(draft, row, "hatch_held", text, "Leave it blank", hatch_held=row.held)


def _is_called(packing: str, kind: str) -> bool:
    """Does its name begin like a kind: ``tube 15 ml``, ``damp bag with heat pack``?"""
    return re.match(rf"\W*{re.escape(kind.split()[0])}", packing, re.IGNORECASE) is not None


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


def boxes_weigh_their_card(draft: Draft) -> Iterator[Problem]:
    """A box weighs at least the card it is made of, else postage is too low."""
    for row in draft.boxes:
        if 0 < row.tare_g < (least := _lightest(row)):
            text = "{tare_g:g} grams is less than {least:.0f}, what card of its size weighs."
            yield from asked(draft, row, "tare_g", text, "Weigh it", least=least)


def _lightest(box: Box) -> float:
    """What six sides of light card weigh [g]; 0 where a size is not known."""
    length, width, height = box.length_mm or 0, box.width_mm or 0, box.thick_mm or 0
    if not (length and width and height):
        return 0.0
    return 2 * (length * width + length * height + width * height) / 1e6 * LIGHTEST_CARD


def months_follow_each_other(draft: Draft) -> Iterator[Problem]:
    """A place's month is not another season than the month before it."""
    by_place: dict[str, dict[int, Weather]] = {}
    for row in draft.weather:
        if row.month is not None:
            by_place.setdefault(row.to, {}).setdefault(row.month, row)
    for months in by_place.values():
        for month, row in months.items():
            beside = (month % 12 + 1, (month - 2) % 12 + 1)
            neighbours = [months[near] for near in beside if near in months]
            for column in ("low_c", "high_c"):
                here = getattr(row, column)
                step = min((abs(here - getattr(near, column)) for near in neighbours), default=0.0)
                if step > MONTHLY_STEP_C:
                    text = say("{here:g} is {step:g} degrees from the month beside it.", here, round(step, 1))
                    yield from asked(draft, row, column, text, "Look at sign and point")


def services_days_hang_together(draft: Draft) -> Iterator[Problem]:
    """The late day is some times the usual at most; no stretch outside is longer than the whole way; what is
    not fetched costs something.
    """
    for row in draft.services:
        if row.late_d > LATEST_TIMES * max(1, row.usual_d):
            text = "{late_d:g} is more than {times} times usual_d, {usual_d:g}."
            yield from asked(draft, row, "late_d", text, "Look at both days", times=LATEST_TIMES)
        if not row.is_collection and row.exposed_h > 24 * (row.usual_d + 1):
            text = "{exposed_h:g} hours outside are longer than its way of {days:g} days."
            mend = say("Write the longest single stretch")
            yield from asked(draft, row, "exposed_h", text, mend, days=row.usual_d)
    fetched = {row.service for row in draft.services if row.early_d == 0}
    for postage in draft.postage:
        if postage.price == 0 and postage.service not in fetched:
            text = "is 0: parcels by '{service}' would go free."
            yield from asked(draft, postage, "price", text, "Write the postage")


def orders_are_paid_within_months(draft: Draft) -> Iterator[Problem]:
    """Day and month turned round, or a wrong year, sends an order to the front of the queue."""
    for row in draft.first_rows:
        if row.paid_on and (days := (row.paid_on - row.placed_on).days) > LONGEST_UNPAID_D:
            text = say("{day} is {days} days before it was paid, and waits count.", row.placed_on, days)
            yield from asked(draft, row, "placed_on", text, "Look at day, month and year")


def buyers_have_a_mail_of_their_own(draft: Draft) -> Iterator[Problem]:
    """An address drawn down over the next buyer's row sends one buyer's mail to another."""
    first: dict[str, OrderRow] = {}
    for row in draft.first_rows:
        if not row.mail:
            continue
        earlier = first.setdefault(row.mail.casefold(), row)
        if earlier.addressee.casefold() != row.addressee.casefold() and earlier.postcode != row.postcode:
            text = "'{mail}' is the mail of '{buyer}' on row {row} too."
            mend = say("Write this buyer's")
            yield from asked(draft, row, "mail", text, mend, buyer=earlier.addressee, row=earlier.at.row)


def prices_are_of_a_size(draft: Draft) -> Iterator[Problem]:
    """A price far from what other eggs cost: customs forms show it."""
    priced = [row for row in draft.order_rows if row.price]
    usual = median(float(row.price or 0) / row.eggs for row in priced) if len(priced) >= LEAST_PRICES else 0.0
    each_of = grouped((row.species, float(row.price or 0) / row.eggs) for row in priced)
    near_of = {
        fish: (median(prices), DEARER_TIMES_OF_A_FISH)
        if len(prices) >= LEAST_OF_A_FISH
        else (usual, DEARER_TIMES)
        for fish, prices in each_of.items()
    }
    for row in priced if usual else ():
        each, (near, times) = float(row.price or 0) / row.eggs, near_of[row.species]
        if not near / times <= each <= near * times:
            text = "{price} for {eggs} is far from {usual:.2f} an egg, as others pay."
            yield from asked(draft, row, "price", text, "Look at the point", usual=near)


#: A count and a price are turned round where each egg would cost so many times the usual, and, turned round
#: again, so near to it. Assumed.
TURNED_TIMES, TURNED_NEAR = 1.8, 1.15


def counts_and_prices_stand_in_their_columns(draft: Draft) -> Iterator[Problem]:
    """A count and a price that fit others of the fish only when turned round: fewer eggs would be packed."""
    for rows in grouped((row.species, row) for row in draft.order_rows if row.price).values():
        by_price = sorted(float(row.price or 0) / row.eggs for row in rows)
        for row in rows if len(rows) > LEAST_OF_A_FISH else ():
            price = float(row.price or 0)
            usual = _median_of_others(by_price, price / row.eggs)
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


def _median_of_others(values: list[float], one: float) -> float:
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


def packings_cost_less_than_the_post(draft: Draft) -> Iterator[Problem]:
    """What a unit or a box costs is less than the dearest postage: cents are written for whole money."""
    dearest = max((postage.price for postage in draft.postage), default=None)
    rows: list[Packing | Box] = [*draft.packings, *draft.boxes]
    for row in rows:
        if dearest and row.cost > dearest:
            text = "{cost} is more than the dearest postage, {price}."
            yield from asked(draft, row, "cost", text, "Write what one costs", price=dearest)


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


#: Likeness of eggs of one parcel (kappa), as far apart as arrivals teach. Assumed.
LEAST_KAPPA, MOST_KAPPA = 5, 300
#: A chance of any fry in a sealed unit above this is no limit. Assumed.
MOST_ANY = 0.3
_ML_IN_NAME = re.compile(r"([0-9]+(?:[.,][0-9]+)?) ?ml\b", re.IGNORECASE)


def packings_lose_some(draft: Draft) -> Iterator[Problem]:
    """A packing in which no egg dies or all fare alike, that holds other millilitres than it is called, or
    whose heat pack lies in a box without vents: it would never be chosen, or always.
    """
    vented = {box.box: box.vented for box in draft.boxes}
    least_any = min((row.any_ceiling for row in draft.packings if row.is_a.is_sealed), default=1.0)
    for rate in draft.rates:
        if rate.what == "kappa":
            yield from _kappa(draft, rate, "value", rate.value)
        elif rate.what in ("loss_handling", "loss_per_day") and rate.value == 0:
            yield from _no_loss(draft, rate, "value")
    for row in draft.packings:
        for column in ("loss_handling", "loss_per_day"):
            if getattr(row, column) == 0 < row.loss_handling + row.loss_per_day:
                yield from _no_loss(draft, row, column)
        if row.loss_per_day > row.loss_handling > 0:
            text = "{day:g} a day is more than {handling:g}, which handling costs."
            mend = say("Look at both")
            yield from asked(
                draft, row, "loss_per_day", text, mend, day=row.loss_per_day, handling=row.loss_handling
            )
        yield from _kappa(draft, row, "kappa", row.kappa)
        if row.is_a.is_sealed and row.any_ceiling > MOST_ANY >= least_any:
            text = "{any_ceiling:g}, and other sealed packings have {least:g} at least."
            mend = say("Write the share, as 0.01 for 1 %")
            yield from asked(draft, row, "any_ceiling", text, mend, least=least_any)
        named = _ML_IN_NAME.search(row.packing)
        if named and row.volume_ml and float(named[1].replace(",", ".")) != row.volume_ml:
            text = "{volume_ml:g} millilitres in '{packing}'."
            yield from asked(draft, row, "volume_ml", text, "Look at both")
        if row.heat_pack_h and vented.get(row.box or "") is False:
            text = "'{box}' is not vented, and a heat pack needs air: the packing never goes."
            yield from asked(draft, row, "box", text, "Name a vented box, or empty heat_pack_h", code="box")


#: So many times the eggs of a unit of the same kind and size is a digit too many. Assumed.
MORE_EGGS_TIMES = 5
#: Longer than this nothing holds its warmth without walls of foam [h]. Assumed.
LONGEST_BARE_H = 4


def units_are_like_others(draft: Draft) -> Iterator[Problem]:
    """A unit with far more eggs than another of its kind and size; hours of warmth in a box without walls."""
    foam = {box.box for box in draft.boxes if box.wall_mm}
    for alike in grouped(((row.kind, row.volume_ml), row) for row in draft.packings).values():
        least = min(row.eggs_max for row in alike)
        for row in alike:
            if row.eggs_max >= MORE_EGGS_TIMES * least:
                text = say("{eggs_max} eggs, and a unit alike holds {least}.", row.eggs_max, least)
                yield from asked(draft, row, "eggs_max", text, say("Look at both"))
    rows: list[Packing | Box] = [*draft.packings, *draft.boxes]
    for unit in rows:
        if (unit.insulated_h or 0) > LONGEST_BARE_H and unit.box and unit.box not in foam:
            text = say(
                "{hours:g} hours warm in '{box}', whose walls have no thickness.", unit.insulated_h, unit.box
            )
            yield from asked(
                draft, unit, "insulated_h", text, say("Write the hours measured, or wall_mm of the box")
            )


def _no_loss(draft: Draft, row: Row, column: str) -> Iterator[Problem]:
    yield from asked(draft, row, column, "is 0: no egg would ever be lost.", "Write the share that is lost")


def _kappa(draft: Draft, row: Row, column: str, kappa: float) -> Iterator[Problem]:
    if not LEAST_KAPPA <= kappa <= MOST_KAPPA:
        text = "{kappa:g} is far from 40, which is assumed where nothing is known."
        yield from asked(draft, row, column, text, "Look at the point", kappa=kappa)


#: The heaviest a box is for its outside [g/ml]. Assumed.
HEAVIEST_BOX_G_ML = 0.15


def boxes_are_of_their_size(draft: Draft) -> Iterator[Problem]:
    """A box heavier than anything that is mostly air, taller than long, or that holds more than fits in."""
    units: dict[str, float] = {}
    for packing in draft.packings:
        if packing.box:
            units[packing.box] = max(units.get(packing.box, 0.0), packing.volume_ml or 0.0)
    for row in draft.boxes:
        length, width, height = row.length_mm or 0.0, row.width_mm or 0.0, row.thick_mm or 0.0
        ml = length * width * height / 1000
        if ml and row.tare_g > HEAVIEST_BOX_G_ML * ml:
            text = "{tare_g:g} grams is much for an empty box of {ml:.0f} ml."
            yield from asked(draft, row, "tare_g", text, "Weigh it", ml=ml)
        if row.inside_mm and min(row.inside_mm) <= 0:
            text = "walls of {wall_mm:g} mm leave no room inside."
            yield from asked(draft, row, "wall_mm", text, "Look at both")
        if height > length > 0:
            text = "{thick:g} mm is more than its length, {length:g}."
            yield from asked(draft, row, "thick_mm", text, "Look at both", thick=height, length=length)
        if ml and row.holds * units.get(row.box, 0.0) > ml:
            text = "{holds} units of {each:g} ml are more than its {ml:.0f} ml."
            yield from asked(draft, row, "holds", text, "Look at both", each=units[row.box], ml=ml)

"""Figures that no breeder means, by table and column: each is asked about, as a slip of unit or percent."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shipping.tables.cells import Row
from shipping.tables.draft import Draft, asked, noted
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import LANGUAGES, say

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
    Bounds("species", "eyed_at", 0.15, 0.95, SHARE_SAID),
    Bounds("species", "ready_keeps_d", 1, 400, "days"),
    Bounds("lots", "fertile_share", 0.1, 1, SHARE),
    Bounds("lots", "salt_g_l", 0, 50, "grams a litre"),
    Bounds("groups", "eggs_a_day", 0, 500, "eggs a day"),
    Bounds("packings", "hatch_ceiling", 0, 0.25, SHARE),
    Bounds("packings", "loss_handling", 0, 0.2, SHARE_SAID),
    Bounds("packings", "loss_per_day", 0, 0.06, SHARE_SAID),
    Bounds("packings", "eggs_max", 1, 1000, "eggs"),
    Bounds("packings", "volume_ml", 1, 10_000, "millilitres"),
    Bounds("packings", "water_ml", 0.5, 10_000, "millilitres"),
    Bounds("packings", "weight_g", 1, 10_000, "grams"),
    Bounds("packings", "thick_mm", 3, 300, "millimetres"),
    Bounds("packings", "heat_pack_h", 1, 150, "hours"),
    Bounds("boxes", "tare_g", 1, 10_000, "grams"),
    Bounds("boxes", "holds", 1, 150, "units"),
    Bounds("boxes", "length_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "width_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "thick_mm", 3, 1000, "millimetres"),
    Bounds("boxes", "wall_mm", 3, 150, "millimetres"),
    Bounds("boxes", "bottle_ml", 10, 10_000, "millilitres"),
    Bounds("services", "late_d", 0, 60, "working days"),
    Bounds("services", "early_d", 0, 15, "working days"),
    Bounds("services", "border_late_d", 0, 90, "working days"),
    Bounds("services", "exposed_h", 1, 240, "hours"),
    Bounds("services", "parcel_lost_share", 0, 0.5, SHARE),
    Bounds("postage", "up_to_g", 15, 70_000, "grams"),
    Bounds("postage", "up_to_mm", 3, 1500, "millimetres"),
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
            for question in asked(draft, row, bounds.column, "asked", text, bounds.mend, bounds.level):
                told.add((row.at, bounds.unit))
                yield question


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
        yield from asked(draft, row, column, "asked", text, mend, Level.ERROR)


def packings_weigh_their_water(draft: Draft) -> Iterator[Problem]:
    """A packed unit weighs at least its water, else postage is too low; one without a weight is said."""
    for row in draft.packings:
        mend = say("Write what a packed unit weighs")
        if row.weight_g == 0:
            text = "is 0: postage is reckoned as if a packed unit weighed nothing."
            yield noted(row, "weight_g", "no-weight", text, say("{text}.", mend))
        elif 1 <= row.weight_g < (row.water_ml or 0):
            told = (row.weight_g, row.water_ml)
            text = say("{weight:g} grams is less than the {water:g} ml of water in it.", *told)
            yield from asked(draft, row, "weight_g", "asked", text, mend)


@dataclass(frozen=True, slots=True)
class _Doubt:
    """A key of ``shelf.toml``, what is asked about where it is below ``low`` or above ``high``, and why."""

    section: str
    key: str
    low: float
    high: float
    why: str
    mend: str


_DOUBTS = (
    _Doubt("plan", "promise", 0.5, 1, "most promises would be broken", "Write 0.95 for 95 %."),
    _Doubt("plan", "fertile_share", 0.2, 1, "most eggs would count as clear", "Write 0.85 for 85 %."),
    _Doubt("plan", "shelf_loss_per_day", 0, 0.06, "a lot would be gone in days", "Write 0.01 for 1 %."),
    _Doubt("plan", "parcels_per_day", 1, math.inf, "no parcel would go", "Leave it out: no limit."),
    _Doubt("warmth", "hot_margin_c", 0, 25, "it makes a place warmer", "Write degrees above 0."),
    _Doubt("warmth", "cold_margin_c", 0, 25, "it makes a place colder", "Write degrees above 0."),
    _Doubt("customs", "sdr", 0.3, math.inf, "it is your money for 1 SDR", "Turn the rate round."),
)


def settings_can_be_meant(draft: Draft) -> Iterator[Problem]:
    """A setting that no breeder means is said."""
    if draft.settings is None:
        return
    where = Where(SETTINGS_FILE)
    for doubt in _DOUBTS:
        value = getattr(getattr(draft.settings, doubt.section), doubt.key)
        if value is not None and not doubt.low <= value <= doubt.high:
            text = say("{value:g} cannot be meant: {why}.", value, say(doubt.why))
            yield Problem(where, f"{doubt.section}.{doubt.key}", "asked", text, doubt.mend, Level.NOTICE)
    day = draft.settings.customs.sdr_on
    if day is not None and day > draft.today:
        text = say("{day} is after today, {today}.", day, draft.today)
        yield Problem(where, "customs.sdr_on", "future", text, "Write the day of the rate.", Level.NOTICE)


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
            told = (row.from_day, draft.today)
            text = say("{day} is after today, {today}: until then the value does not hold.", *told)
            yield noted(row, "from_day", "future", text, "Look at the year.")
        low = row.value if row.low is None else row.low
        high = row.value if row.high is None else row.high
        if not low <= row.value <= high:
            text = say("{value:g} is not between low and high, {low:g} and {high:g}.", row.value, low, high)
            yield noted(row, "value", "order", text, "Mend one of the three.")

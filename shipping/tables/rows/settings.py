"""The settings in ``shelf.toml``: who sends, from where, and what the plan promises."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from shipping.tables import cells, typed_days
from shipping.tables.rows.orders import parse_language
from shipping.tables.rows.services import Weekdays
from shipping.tables.rows.species import SendFrom
from shipping.words.sentence import say

promise_between = cells.NumberParser(0.01, 0.9999, "a chance")
Promise = Annotated[float, BeforeValidator(promise_between)]


def parse_subdivision(cell: object) -> str:
    """A subdivision without its country: ``ENG`` from ``GB-ENG``; blank is none."""
    return cells.as_text(cell).upper().rpartition("-")[2]


def parse_lines(cell: object) -> tuple[str, ...]:
    """A list of address lines."""
    lines = cell if isinstance(cell, list | tuple) else ()
    if not lines or not all(isinstance(line, str) and line for line in lines):
        raise cells.BadCell(say("is not a list of lines"), 'Write ["Havnegade 1", "8000 Aarhus C"].')
    return tuple(lines)


#: Signs that stand for one currency alone; of kr, $ and ¥ several are meant.
_CURRENCY_SIGNS = {"€": "EUR", "£": "GBP", "ZŁ": "PLN", "KČ": "CZK"}


#: Signs of several currencies, which a breeder of one of them writes for it.
_OF_SEVERAL = {
    "KR": ("DKK", "SEK", "NOK", "ISK"),
    "$": ("USD", "CAD", "AUD", "NZD"),
    "EURO": ("EUR",),
    "FR": ("CHF",),
}


def is_sign_of(sign: str, currency: str) -> bool:
    """Does a sign or a code beside an amount stand for that currency, to one who reckons in it?"""
    plain = sign.strip().rstrip(".").upper()
    return _CURRENCY_SIGNS.get(plain, plain) == currency or currency in _OF_SEVERAL.get(plain, ())


def is_money(sign: str) -> bool:
    """Is it the sign or the code of any currency?"""
    from babel.numbers import list_currencies

    plain = sign.strip().rstrip(".").upper()
    return plain in _CURRENCY_SIGNS or plain in _OF_SEVERAL or plain in list_currencies()


def parse_currency(cell: object) -> str:
    """The three letters of ISO 4217, or a sign that stands for them."""
    from babel.numbers import list_currencies

    text = cells.as_text(cell).upper()
    text = _CURRENCY_SIGNS.get(text, text)
    if text not in list_currencies():
        mend = "Write the three letters of ISO 4217, such as EUR."
        raise cells.BadCell(say("'{cell}' is not a currency", cells.shortened(cells.as_text(cell))), mend)
    return text


def parse_languages(cell: object) -> tuple[str, ...]:
    """A list of languages of ISO 639, at least one."""
    if not isinstance(cell, list | tuple) or not cell:
        raise cells.BadCell(say("is not a list of languages"), 'Write ["en", "de"].')
    return tuple(parse_language(language) for language in cell)


class Section(BaseModel):
    """A section of the settings: frozen, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Home(Section):
    """Where parcels are handed over."""

    country: cells.Country
    subdivision: Annotated[str, BeforeValidator(parse_subdivision)] = ""


class Sender(Section):
    """Who sends."""

    name: cells.Text
    address: Annotated[tuple[str, ...], BeforeValidator(parse_lines)]
    mail: cells.Text = ""
    tel: cells.Text = ""
    customs_ref: cells.Text = ""

    @property
    def is_invented(self) -> bool:
        """Is it still the sender that a new shelf begins with, who must not be printed?"""
        return "invented name" in self.name.casefold() or any(
            "inventedtown" in line.casefold() for line in self.address
        )


#: What is said of a sender that is still the invented one of a new shelf.
INVENTED_SENDER = (
    "is still the invented sender of a new shelf: nothing is printed with it.",
    "Write your own name and address below [sender] in shelf.toml.",
)


class PlanSettings(Section):
    """What the week's plan promises and may do."""

    currency: Annotated[str, BeforeValidator(parse_currency)] = "EUR"
    promise: Promise = 0.95
    fertile_share: cells.ShareAbove = 0.85
    send_from: SendFrom = "eyed"
    look_spread: Annotated[float, BeforeValidator(cells.NumberParser(0.005, 1, "a spread"))] = 0.10
    shelf_loss_per_day: cells.Rate = 0.01
    lots_a_line: Annotated[int, BeforeValidator(cells.whole_between(1, 3))] = 3
    rule_age_days: Annotated[int, BeforeValidator(cells.whole_between(1, 3650))] = 180
    parcels_per_day: Annotated[int, BeforeValidator(cells.whole_between(0, 100_000))] | None = None
    dispatch_days: Weekdays = ("Mon", "Tue", "Wed", "Thu", "Fri")
    waiting_weight: cells.Rate = 0.05
    short_cost: Annotated[float, BeforeValidator(cells.NumberParser(0, 1000, "a weight"))] = 1.0
    egg_value: cells.Money | None = None
    settle_d: Annotated[int, BeforeValidator(cells.whole_between(0, 60))] = 2
    answer_age_days: Annotated[int, BeforeValidator(cells.whole_between(1, 3650))] = 365


DayOrder = Annotated[Literal["day first", "month first"], cells.OneWord()]
Decimals = Annotated[Literal["point", "comma"], cells.OneWord()]


def parse_encoding(cell: object) -> str:
    from shipping.tables.files.csv_file import OLD_ENCODINGS

    return cells.WordParser(tuple(OLD_ENCODINGS))(cell)


Encoding = Annotated[str, BeforeValidator(parse_encoding)]


class ReadingRules(Section):
    """How the breeder's cells are to be read, where that was asked once: section ``reading``.

    ``meant`` are cells confirmed as they stand, each as the question printed it.
    """

    dates: DayOrder | None = None
    encoding: Encoding | None = None
    decimals: Decimals | None = None
    meant: tuple[str, ...] = ()


class Warmth(Section):
    """How unlike parcels travel, and margins around a climate normal where no weather row is given."""

    trip_spread_c: Annotated[float, BeforeValidator(cells.NumberParser(0, 20, "degrees"))] = 2.5
    hot_margin_c: cells.Celsius = 8.0
    cold_margin_c: cells.Celsius = 5.0


class Stickers(Section):
    """The geometry of a sheet of stickers, in millimetres."""

    rows: Annotated[int, BeforeValidator(cells.whole_between(1, 60))]
    columns: Annotated[int, BeforeValidator(cells.whole_between(1, 20))]
    top_mm: cells.Millimetres = 0.0
    left_mm: cells.Millimetres = 0.0
    width_mm: cells.Millimetres
    height_mm: cells.Millimetres
    gap_x_mm: cells.Millimetres = 0.0
    gap_y_mm: cells.Millimetres = 0.0

    @property
    def span_mm(self) -> tuple[float, float]:
        """What they take of a sheet from its left and top edge [mm]."""
        wide = self.left_mm + self.columns * self.width_mm + (self.columns - 1) * self.gap_x_mm
        return wide, self.top_mm + self.rows * self.height_mm + (self.rows - 1) * self.gap_y_mm


#: Where letter paper is usual, not A4 (Unicode CLDR, measurement data).
LETTER_PAPER = frozenset(["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"])


class Papers(Section):
    """How the papers are printed."""

    paper: Annotated[Literal["A4", "letter"], BeforeValidator(lambda cell: _paper(cell))] = "A4"
    label: Annotated[Literal["A6", "102x152", "4x6", "flat"], BeforeValidator(lambda cell: _label(cell))] = (
        "A6"
    )
    label_on: Annotated[Literal["sheet", "printer"], cells.OneWord()] | None = None
    tags: Annotated[Literal["usual", "slim"], cells.OneWord()] = "usual"
    sides: Annotated[int, BeforeValidator(cells.whole_between(1, 2))] = 2
    stickers: Stickers | None = None
    languages: Annotated[tuple[str, ...], BeforeValidator(parse_languages)] = ("en",)
    font: cells.Text = ""


def _paper(cell: object) -> str:
    return {"a4": "A4"}.get(word := cells.WordParser(("a4", "letter"))(cell), word)


def _label(cell: object) -> str:
    return {"a6": "A6"}.get(word := cells.WordParser(("a6", "102x152", "4x6", "flat"))(cell), word)


class Customs(Section):
    """What the customs declaration says, and when the longer form is needed."""

    tariff: cells.Text = "051191"
    national: dict[str, str] = Field(default_factory=dict)
    description: cells.Text = "Fertile fish eggs for hatching, not for consumption"
    sdr: cells.Positive | None = None
    sdr_on: typed_days.Day | None = None
    form_limit_sdr: cells.Positive = 300.0


class Claims(Section):
    """What the seller promises about a short or hatched parcel."""

    report_within_days: Annotated[int, BeforeValidator(cells.whole_between(0, 365))] = 3
    short_policy: cells.Note = ""
    hatched_policy: cells.Note = ""


class Settings(Section):
    """All of ``shelf.toml``."""

    home: Home
    sender: Sender
    plan: PlanSettings = PlanSettings()
    reading: ReadingRules = ReadingRules()
    warmth: Warmth = Warmth()
    papers: Papers = Papers()
    customs: Customs = Customs()
    claims: Claims = Claims()

    @property
    def egg_value(self) -> Decimal | None:
        return self.plan.egg_value

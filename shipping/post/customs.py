"""What customs is told: a parcel's contents in, the form and its fields as data out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from shipping.tables.countries import EU
from shipping.tables.rows.orders import Address
from shipping.tables.rows.services import Service
from shipping.tables.rows.settings import Customs, Home, Settings
from shipping.words.sentence import say

#: What Northern Ireland is to customs: goods move between it and the EU without a form, and to Great Britain
#: with one (Windsor Framework, from memory).
NORTHERN_IRELAND = "GB-NIR"
#: Pairs and groups without a customs border between them (from memory).
UNIONS = (EU | {"MC", NORTHERN_IRELAND}, *map(frozenset, (("CH", "LI"), ("GB", "IM"), ("US", "PR"))))
#: Parts of a country outside its customs or tax union, so that a form is still needed (from memory).
OUTSIDE = frozenset({"ES-CN", "ES-GC", "ES-TF", "ES-CE", "ES-ML"})
#: Places so small that only their postcode tells them: Büsingen, Helgoland, Livigno, Campione d'Italia
#: (customs, Reg. (EU) 952/2013, article 4; tax, Directive 2006/112/EC, article 6; postcodes from memory).
OUTSIDE_BY_POSTCODE = frozenset({("DE", "78266"), ("DE", "27498"), ("IT", "23041"), ("IT", "22061")})
SHORT_FORM = "CN 22"
LONG_FORM = "CN 23"
#: A rate for SDR older than this is worth a new look.
_SDR_AGE_DAYS = 92


def needs_declaration(
    home_country: str, country: str, subdivision: str = "", home_subdivision: str = "", postcode: str = ""
) -> bool:
    """Does a parcel cross a border of customs or of their taxes? Where in doubt it does."""
    if (country, postcode.strip()) in OUTSIDE_BY_POSTCODE:
        return True
    ends = {f"{home_country}-{home_subdivision}", f"{country}-{subdivision}"}
    if ends & OUTSIDE and len(ends) > 1:
        return True
    apart = ends & {NORTHERN_IRELAND}
    areas = apart | {end.partition("-")[0] for end in ends - apart}
    return len(areas) > 1 and not any(areas <= union for union in UNIONS)


def is_held_unknown(
    service: Service, home: Home, country: str, subdivision: str = "", postcode: str = ""
) -> bool:
    """Would a parcel cross such a border by its part of the country alone, and the service knows no hold?"""
    part = home.subdivision
    return (
        not (service.is_collection or service.border_share)
        and not needs_declaration(home.country, country, "", part)
        and needs_declaration(home.country, country, subdivision, part, postcode)
    )


def tariff_for(country: str, customs: Customs) -> str:
    """The tariff number for a destination, digits only: the six of the world list, and its national ending if
    set.

    ``national`` is looked up by country code, then ``EU``; it holds the ending (``90``) or the whole number.

    References
    ----------
    Harmonized System 0511.91; "ex 0511 91 90 (fertile fish eggs for hatching)", Impl. Reg. (EU) 2019/1262,
    annex.
    """
    base = _digits(customs.tariff)
    national = customs.national.get(country) or (customs.national.get("EU") if country in EU else None)
    ending = _digits(national or "")
    return ending if ending.startswith(base) else base + ending


def tariff_text(tariff: str) -> str:
    """A tariff number as people write it: ``0511.91``, ``0511.91.90``."""
    pairs = [tariff[n : n + 2] for n in range(4, len(tariff), 2)]
    return ".".join([tariff[:4], *pairs])


def _digits(text: str) -> str:
    return "".join(letter for letter in text if letter.isdigit() and letter.isascii())


@dataclass(frozen=True, slots=True)
class FormChoice:
    """Which form, why, and does the value decide?"""

    form: str
    why: str
    by_value: bool = True


def form_for(
    value: Decimal | None, settings: Settings, *, by_parcel_post: bool = False, needs_papers: bool = False
) -> FormChoice:
    """The customs form for a parcel's total value; whatever is not known leads to the longer form.

    Notes
    -----
    Under the limit CN 22, at or above it CN 23. The limit is 300 SDR unless the sender's operator sets its
    own. Parcels and express items always take CN 23; so do goods with a licence or certificate (common
    practice).

    References
    ----------
    Japan Post and Hongkong Post, customs form pages; operators that say "exceeds 300 SDR" put exactly 300 in
    CN 22.
    """
    customs, currency = settings.customs, settings.plan.currency
    limit = (
        None if customs.sdr is None else Decimal(repr(customs.form_limit_sdr)) * Decimal(repr(customs.sdr))
    )
    if by_parcel_post:
        return FormChoice(LONG_FORM, say("parcels and express items always take it"), False)
    if needs_papers:
        return FormChoice(LONG_FORM, say("the goods go with papers (common practice)"), False)
    if value is None:
        return FormChoice(LONG_FORM, say("the value is not known"))
    if limit is None:
        unknown = say("no rate for SDR is set (shelf.toml: customs: sdr), so the limit is unknown")
        return FormChoice(LONG_FORM, unknown)
    shown = (f"{customs.form_limit_sdr:g}", limit.quantize(Decimal("0.01")), currency)
    if value >= limit:
        return FormChoice(LONG_FORM, say("the value reaches {limit} SDR ({own} {currency})", *shown))
    return FormChoice(SHORT_FORM, say("the value is under {limit} SDR ({own} {currency})", *shown))


@dataclass(frozen=True, slots=True)
class Goods:
    """What one line of a parcel holds: eggs packed (with the extra ones), its price, and net weight [g].

    ``origin`` is the country of the eggs, "" where the lot does not say; ``is_captive``: bred in captivity,
    as the lot says; ``about``: counted by estimate.
    """

    scientific_name: str
    eggs: int
    price: Decimal | None
    net_weight_g: float | None
    origin: str
    is_captive: bool
    about: bool


@dataclass(frozen=True, slots=True)
class Declaration:
    """What CN 22 and CN 23 ask of one parcel; the short form shows less of it. Weights in grams, money in the
    settings' currency.

    Extra eggs add no value; nothing is said of their breeding or origin that the lots do not say.
    """

    settings: Settings
    addressee: Address
    goods: tuple[Goods, ...]
    gross_weight_g: float
    postage: Decimal | None
    posted_on: date
    tel: str = ""
    mail: str = ""
    importer_ref: str = ""
    papers: tuple[str, ...] = ()
    item_id: str = ""
    by_parcel_post: bool = False
    is_sent_again: bool = False

    @property
    def category(self) -> str:
        """What the form calls it: eggs sent again for nothing are sold to nobody."""
        return "other" if self.is_sent_again else "sale of goods"

    @property
    def form(self) -> FormChoice:
        return form_for(
            self.total_value,
            self.settings,
            by_parcel_post=self.by_parcel_post,
            needs_papers=bool(self.papers),
        )

    @property
    def tariff(self) -> str:
        """The tariff number of all its goods, digits only."""
        return tariff_for(self.addressee.country, self.settings.customs)

    @property
    def total_value(self) -> Decimal | None:
        """None where the price of any goods is not known."""
        known = [goods.price for goods in self.goods if goods.price is not None]
        return sum(known, Decimal(0)) if len(known) == len(self.goods) else None

    @property
    def comments(self) -> str:
        captive = ", captive-bred" if self.goods and all(goods.is_captive for goods in self.goods) else ""
        return f"Live fish eggs for breeding in aquaria{captive}. Keep from heat and frost."

    def description(self, goods: Goods) -> str:
        """What some goods are called on the form."""
        return f"{self.settings.customs.description} ({goods.scientific_name})"


def missing_facts(made: Declaration) -> tuple[str, ...]:
    """What the form still lacks, a sentence each with where to write it; empty where it is complete."""
    sender, customs, form = made.settings.sender, made.settings.customs, made.form
    checks = (
        (
            made.total_value is None,
            say("A line has no price, so it has no value to declare (orders: price)."),
        ),
        (
            any(goods.price == 0 for goods in made.goods),
            say("A line is sold for nothing: ask what value to declare, and write it (orders: price)."),
        ),
        (
            any(goods.net_weight_g is None for goods in made.goods),
            say("A net weight is not known (packings: weight_g)."),
        ),
        (
            any(not goods.origin for goods in made.goods),
            say("The country of origin of a lot that was bought in is not known (lots: origin_country)."),
        ),
        (
            not (sender.tel or sender.mail),
            say("The sender has neither telephone nor e-mail (shelf.toml: sender: tel, mail)."),
        ),
        (
            not (made.tel or made.mail),
            say("The addressee has neither telephone nor e-mail (orders: tel, mail)."),
        ),
        (
            form.by_value and customs.sdr is None,
            say("No rate for SDR is set, so the longer form is taken (shelf.toml: customs: sdr)."),
        ),
        (
            form.by_value
            and customs.sdr is not None
            and (customs.sdr_on is None or (made.posted_on - customs.sdr_on).days > _SDR_AGE_DAYS),
            say(
                "The rate for SDR has no date, or an old one; look it up again"
                " (shelf.toml: customs: sdr, sdr_on)."
            ),
        ),
        (
            form.form == LONG_FORM and not made.item_id,
            say("The item's number is written in once the post has given it."),
        ),
    )
    return tuple(text for is_missing, text in checks if is_missing)

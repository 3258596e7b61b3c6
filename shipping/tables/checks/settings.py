"""Checks of settings: home, sender, what the rules close at home, and values that nobody means."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from shipping.tables import countries, country_parts
from shipping.tables.checks.orders import SDR_ABOUT
from shipping.tables.checks.row_problems import asked_of_setting, problem
from shipping.tables.country_parts import nearness, serves
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.tables.rows.rules import Rule, nearest_rules, taxon_names
from shipping.tables.rows.settings import (
    INVENTED_SENDER,
    LETTER_PAPER,
    Customs,
    Papers,
    PlanSettings,
    Settings,
)
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import LANGUAGES, say


def the_home_is_known(draft: Draft) -> Iterator[Problem]:
    """The home is a country, with the part that its public holidays need."""
    if draft.settings is None:
        return
    country, part = draft.settings.home.country, draft.settings.home.subdivision
    where = Where(SETTINGS_FILE)
    if not countries.is_country(country):
        text = say("'{country}' is no country of ISO 3166.", country)
        yield Problem(where, "home.country", "unknown-country", text, countries.country_mend(country, []))
    elif country in country_parts.NEEDS_SUBDIVISION and not part:
        text = say("is blank, and public holidays differ within {country}.", country)
        write = say(
            'Write subdivision = "{part}" or the part you post from below [home].',
            country_parts.NEEDS_SUBDIVISION[country],
        )
        yield Problem(where, "home.subdivision", "no-subdivision", text, write)
    elif part and (parts := country_parts.calendar_parts(country)) and part not in parts:
        text = say("'{subdivision}' is no part of {country} with holidays of its own.", part, country)
        write = say("Write one of {parts}.", ", ".join(parts))
        yield Problem(where, "home.subdivision", "unknown-subdivision", text, write)


#: From this share of the orders on, their buyers' money may be the one that is asked for. Assumed.
LEAST_PAYING = 0.1


def the_currency_is_in_use(draft: Draft) -> Iterator[Problem]:
    """Prices are in money that somebody is paid in that day, as CLDR has it (the Croatian kuna is not), and
    that some buyer or the breeder pays with.
    """
    if draft.settings is None:
        return
    currency, today = draft.settings.plan.currency, draft.today
    home = draft.settings.home.country
    reached = {place for service in draft.services for place in service.to}
    buyers = [row.country for row in draft.first_rows]
    if not buyers:
        buyers = [one for place in reached for one in draft.countries_of(place)]
    paying = sum(currency in countries.money_of(country, today, today) for country in buyers)
    if currency in countries.money_of(home, today, today) or paying > LEAST_PAYING * len(buyers):
        return
    in_use, before = set[str](), Counter[str]()
    for country in countries.country_codes():
        now = countries.money_of(country, today, today)
        in_use.update(now)
        before.update(now if currency in countries.money_of(country, date.min, today) else ())
    is_anywhere = "*" in reached or (currency == "EUR" and home in countries.EU)
    if currency in in_use and draft.first_rows and not is_anywhere:
        text = say("'{currency}' is the money neither of home nor of most buyers.", currency)
        mend = say("Look at the currency: customs forms show it")
        yield from asked_of_setting(draft, "plan.currency", currency, text, mend)
    elif currency not in in_use:
        mend = "Write the three letters of ISO 4217, such as EUR."
        if before:
            mend = say("Write {value}.", min(before, key=lambda code: (-before[code], code)))
        text = say("'{currency}' is no money in use on {today}.", currency, today)
        yield Problem(Where(SETTINGS_FILE), "plan.currency", "currency", text, mend)


def the_sender_is_the_breeders(draft: Draft) -> Iterator[Problem]:
    """The sender that a new shelf begins with is named before papers are asked for."""
    if draft.settings is not None and draft.settings.sender.is_invented:
        yield Problem(Where(SETTINGS_FILE), "sender", "invented-sender", *INVENTED_SENDER, Level.NOTICE)


def lots_may_go_from_home(draft: Draft) -> Iterator[Problem]:
    """A lot of a species closed at home goes nowhere, and is said."""
    if draft.settings is None:
        return
    rules: dict[tuple[str, str], Rule | None] = {}
    for lot in draft.lots:
        kind = (lot.species, lot.medium)
        rule = rules[kind] = rules[kind] if kind in rules else _rule_at_home(draft, *kind)
        if rule is not None and rule.verdict == "closed":
            text = "'{species}' is closed at home ({at})."
            mend = "See {source}; the lot goes nowhere."
            yield problem(lot, "species", "closed", text, mend, Level.LOT, at=rule.at, source=rule.source)


def _rule_at_home(draft: Draft, species_key: str, medium: str) -> Rule | None:
    """The row that wins at home."""
    fish = draft.species_by_name.get(species_key)
    if fish is None or draft.settings is None:
        return None
    home = draft.settings.home
    zones = tuple(zone for zone, within in draft.zone_countries.items() if home.country in within)
    near = nearness(home.country, home.subdivision, zones)
    placed = ((rank, rule) for rule in draft.rules if (rank := serves(rule.places, near)))
    names = taxon_names(fish.species, fish.scientific_name, fish.synonyms, fish.family)
    return next(iter(nearest_rules(placed, names, medium, draft.today)), None)


@dataclass(frozen=True, slots=True)
class _Doubt:
    """A key of ``shelf.toml``, what is asked about where it is below ``low`` or above ``high``, and why."""

    section: str
    key: str
    low: float
    high: float
    why: str
    mend: str


_DAYS_MEND = "Write it in days"
_DEGREES_MEND = "Write degrees above 0"
_USUAL_MEND = "Leave it out: the usual value counts"
_DOUBTS = (
    _Doubt("plan", "promise", 0.8, 1, "most promises would be broken", "Write 0.95 for 95 %"),
    _Doubt("plan", "promise", 0, 0.99, "far more eggs would be packed than ordered", "Write 0.95 for 95 %"),
    _Doubt("plan", "fertile_share", 0.2, 1, "most eggs would count as clear", "Write 0.85 for 85 %"),
    _Doubt("plan", "fertile_share", 0, 0.99, "no egg would ever be clear", "Write 0.85 for 85 %"),
    _Doubt("plan", "shelf_loss_per_day", 0, 0.06, "a lot would be gone in days", "Write 0.01 for 1 %"),
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
    _Doubt("plan", "parcels_per_day", 1, math.inf, "no parcel would go", "Leave it out: no limit"),
    _Doubt("customs", "sdr", 0.3, math.inf, "it is your money for 1 SDR", "Turn the rate round"),
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
            yield from asked_of_setting(
                draft, f"{doubt.section}.{doubt.key}", f"{value:g}", text, say(doubt.mend)
            )
    day = draft.settings.customs.sdr_on
    if day is not None and day > draft.today:
        text = say("{day} is after today, {today}.", day, draft.today)
        yield Problem(where, "customs.sdr_on", "future", text, "Write the day of the rate.", Level.NOTICE)
    elif day is not None and (days := (draft.today - day).days) > OLDEST_RATE_D:
        text = say("{day} is {days} days ago.", day, days)
        yield from asked_of_setting(draft, "customs.sdr_on", day, text, say("Look at the year"))
    yield from _customs_settings(draft, draft.settings.customs, draft.settings.plan.currency)
    yield from _days_and_stage(draft, draft.settings.plan)
    yield from _sender(draft, draft.settings)
    yield from _stickers(draft, draft.settings.papers)


#: A rate so many times what 1 SDR is about, or a part of it: turned round, it is 0.85 for 1.18.
MOST_OFF_RATE = 1.35
OLDEST_RATE_D = 400
#: Animal products not for eating, eggs of fish among them, in the Harmonized System.
FISH_EGGS = "051191"
#: What a parcel of eggs is not.
_NO_EGGS = re.compile(
    r"\b(?:gifts?|presents?|samples?|toys?|caviar|roe|food|fish ?food|documents?|geschenk|cadeau)\b", re.I
)


def _customs_settings(draft: Draft, customs: Customs, currency: str) -> Iterator[Problem]:
    """A rate that is another currency's or turned round, a tariff or words that are no eggs'."""
    rate, about = customs.sdr, SDR_ABOUT.get(currency)
    if rate and about and rate >= 0.3 and not about / MOST_OFF_RATE <= rate <= about * MOST_OFF_RATE:
        told = (rate, about, currency)
        text = say("{value:g} is far from {other:g}, about what 1 SDR is in {currency}.", *told)
        mend = say("Look at the point, and at the currency")
        yield from asked_of_setting(draft, "customs.sdr", rate, text, mend)
    digits = "".join(filter(str.isdigit, customs.tariff))
    if digits and not digits.startswith(FISH_EGGS):
        text = say("'{value}' is not of {tariff}, under which eggs of fish go.", customs.tariff, FISH_EGGS)
        yield from asked_of_setting(draft, "customs.tariff", customs.tariff, text, say(_USUAL_MEND))
    for code in sorted(customs.national):
        if code != "EU" and not countries.is_country(code):
            text = say("'{country}' is no country of ISO 3166.", code)
            mend = countries.country_mend(code, ["EU"])
            yield Problem(Where(SETTINGS_FILE), "customs.national", "asked", text, mend, Level.NOTICE)
    if word := _NO_EGGS.search(customs.description):
        text = say("'{word}' is what customs would read of a parcel of eggs.", word[0])
        yield from asked_of_setting(draft, "customs.description", customs.description, text, say(_USUAL_MEND))


def _days_and_stage(draft: Draft, plan: PlanSettings) -> Iterator[Problem]:
    """Days on which a service is never handed over or nobody fetches; eggs without eyes for every fish."""
    wanted = {row.service for row in draft.first_rows if row.cancelled_on is None}
    posted = [
        row
        for row in draft.services
        if (row.service in wanted if row.is_collection else set(row.hand_over) - {"Sat", "Sun"})
    ]
    never = sorted({row.service for row in posted if not set(row.hand_over) & set(plan.dispatch_days)})
    if never:
        days = " ".join(plan.dispatch_days)
        text = say("{days}: nothing would ever go by {services}.", days, ", ".join(never))
        mend = say("Write the days on which you post or hand over")
        yield from asked_of_setting(draft, "plan.dispatch_days", days, text, mend)
    taken = {day for row in posted for day in row.hand_over}
    idle = [day for day in plan.dispatch_days if day in ("Sat", "Sun") and day not in taken]
    if idle and posted and not never:
        text = say(
            "{days}: no service takes parcels in on {idle}.", " ".join(plan.dispatch_days), " ".join(idle)
        )
        mend = say("Write the days on which you post or hand over")
        yield from asked_of_setting(draft, "plan.dispatch_days", " ".join(plan.dispatch_days), text, mend)
    if plan.send_from == "fertile" and any(fish.send_from is None for fish in draft.species):
        text = say("'fertile' lets eggs go before they have eyes, of every fish whose send_from is blank.")
        mend = say("Write it in send_from of the fish it is meant for")
        yield from asked_of_setting(draft, "plan.send_from", plan.send_from, text, mend)


#: The sides of a sheet [mm], and the smallest sticker that anything is read on. Assumed.
_SHEETS = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
LEAST_STICKER_MM = 10
#: So much more than the sheet a sheet's rows may measure, as rounded figures do [mm].
ROUNDED_MM = 2.0


def _stickers(draft: Draft, papers: Papers) -> Iterator[Problem]:
    """Stickers in inches or centimetres, or more of them than a sheet is wide or long."""
    if (one := papers.stickers) is None:
        return
    (wide, long), (width, length) = one.span_mm, _SHEETS[papers.paper]
    shown = f"{one.rows} x {one.columns} ({one.width_mm:g} x {one.height_mm:g})"
    text, mend = "", say("Write it in {unit}", say("millimetres"))
    if min(one.width_mm, one.height_mm) < LEAST_STICKER_MM:
        text = say("{shown} mm: nothing could be read on them.", shown)
    elif wide > width + ROUNDED_MM or long > length + ROUNDED_MM:
        told = (shown, f"{wide:g} x {long:g}", papers.paper, f"{width:g} x {length:g}")
        text = say("{shown} mm are {size} mm, and {paper} is {sheet}.", *told)
        mend = say("Look at rows and columns, width and height")
    if text:
        yield from asked_of_setting(draft, "papers.stickers", shown, text, mend)


def _sender(draft: Draft, settings: Settings) -> Iterator[Problem]:
    """A sender whose postcode is not of home, or its part: returns go astray, holidays are another's."""
    home = settings.home.country
    buyer = next((row for row in draft.first_rows if row.mail and row.mail == settings.sender.mail), None)
    if buyer and folded(buyer.addressee) != folded(settings.sender.name):
        text = say(
            "'{mail}' is the mail of '{buyer}' on row {row} too.", buyer.mail, buyer.addressee, buyer.at.row
        )
        yield from asked_of_setting(draft, "sender.mail", buyer.mail, text, say("Write your own"))
    paper, usual = settings.papers.paper, "letter" if home in LETTER_PAPER else "A4"
    if "paper" in settings.papers.model_fields_set and paper != usual:
        text = say("'{paper}' is no paper of {country} ({home}).", paper, countries.in_text(home), home)
        yield from asked_of_setting(draft, "papers.paper", paper, text, say("Write {value}", usual))
    form = country_parts.postcode_form(home) if countries.is_country(home) else None
    lines, whole = ", ".join(settings.sender.address), rf"(?<![^\W_])(?:{form})(?![^\W_])"
    if not form or settings.sender.is_invented:
        return
    found = [match[0] for match in re.finditer(whole, lines.upper())]
    if not found:
        text = say("no line has a postcode of {country} ({home}).", countries.in_text(home), home)
        yield from asked_of_setting(draft, "sender.address", lines, text, say("Look at address and home"))
        return
    part, postcode = settings.home.subdivision, found[-1]
    told = (
        country_parts.nation_of_postcode(postcode)
        if part in country_parts.NATIONS
        else country_parts.region_of_postcode(home, postcode)
    )
    if country_parts.is_at_odds(home, part, told) or not country_parts.may_lie_in(home, part, postcode):
        text = say("'{postcode}' is not in '{region}'.", postcode, part)
        mend = say("Look at both: rules, weather and holidays go by the part")
        yield from asked_of_setting(draft, "home.subdivision", part, text, mend)


def papers_speak_their_languages(draft: Draft) -> Iterator[Problem]:
    """A language that the papers are not written in gives English ones, and that is said."""
    if draft.settings is None:
        return
    for language in draft.settings.papers.languages:
        if language not in LANGUAGES:
            text = say("'{language}' is not written yet: papers in it are English.", language)
            mend = say("Write those of {languages}.", ", ".join(LANGUAGES))
            yield Problem(Where(SETTINGS_FILE), "papers.languages", "asked", text, mend, Level.NOTICE)

"""Figures that may each be meant and hardly together: rows in, questions out, which stop nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from statistics import median

from shipping.tables.draft import Draft, asked
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.packings import KIND_BY_WORD, Box
from shipping.tables.rows.weather import Weather
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: Between the month's extremes and the next month's lie fewer degrees, wherever people live. Assumed.
MONTHLY_STEP_C = 12
#: Warmth above zero_c below which a species' days would hang on tenths of a degree. Assumed.
LEAST_DEGREES_C = 4
#: So many times the usual days is late for a service whose days are known. Assumed.
LATEST_TIMES = 5
#: Days from the order to its payment, after which one of them has its year or its month mistyped. Assumed.
LONGEST_UNPAID_D = 150
#: So many times the price of other eggs, or a part of it, is a slip of the point. Assumed.
DEARER_TIMES = 12
#: With fewer prices than this nobody knows what eggs cost. Assumed.
LEAST_PRICES = 5
#: The most of a sealed tube's eggs that may be meant to hatch in it, and the most eggs in a ml. Assumed.
MOST_SEALED_HATCH = 0.05
MOST_EGGS_ML = 20
#: Salter water than this is brackish [g/l]. Assumed.
BRACKISH_G_L = 12
#: The lightest card a box is made of [g/m2]. Assumed.
LIGHTEST_CARD = 150

_asked = partial(asked, code="asked")


def species_develop_above_their_zero(draft: Draft) -> Iterator[Problem]:
    """incubation_c stands some degrees above zero_c."""
    for row in draft.species:
        if 0 < row.incubation_c - row.zero_c < LEAST_DEGREES_C:
            text = say(
                "{zero_c:g} is so near incubation_c, {incubation_c:g}, that a degree changes all days.",
                row.zero_c,
                row.incubation_c,
            )
            yield from _asked(draft, row, "zero_c", text=text, mend=say("Look at both"))


def packings_are_what_they_are_called(draft: Draft) -> Iterator[Problem]:
    """A tube is not called a bag, and no fry live in what is sealed."""
    for row in draft.packings:
        called = [kind for kind in KIND_BY_WORD if _is_called(row.packing, kind)]
        if called and row.kind not in called:
            text = say("'{packing}' is of the kind '{kind}'.", row.packing, row.kind)
            yield from _asked(draft, row, "kind", text=text, mend=say("Write '{kind}'", called[0]))
        if row.is_a.is_sealed and row.fry_live > 0:
            text = say("{fry_live:g} of what hatches would live in a sealed tube.", row.fry_live)
            yield from _asked(draft, row, "fry_live", text=text, mend=say("Write 0"))
        if row.is_a.is_sealed and row.hatch_ceiling > MOST_SEALED_HATCH:
            text = say("{hatch_ceiling:g} of the eggs might hatch in a sealed tube.", row.hatch_ceiling)
            yield from _asked(draft, row, "hatch_ceiling", text=text, mend=say("Write 0.01 for 1 %"))
        if row.is_a.is_sealed and row.water_ml and row.eggs_max > MOST_EGGS_ML * row.water_ml:
            text = say("{eggs_max} eggs in {water_ml:g} ml of water.", row.eggs_max, row.water_ml)
            yield from _asked(draft, row, "eggs_max", text=text, mend=say("Look at both"))
        if row.is_a.is_sealed and row.held > 0:
            text = say("{hatch_held:g} of the due eggs would be held back in water.", row.held)
            yield from _asked(draft, row, "hatch_held", text=text, mend=say("Leave it blank"))


def _is_called(packing: str, kind: str) -> bool:
    """Does its name begin like a kind: ``tube 15 ml``, ``damp bag with heat pack``?"""
    return re.match(rf"\W*{re.escape(kind.split()[0])}", packing, re.IGNORECASE) is not None


def fresh_water_fish_are_kept_fresh(draft: Draft) -> Iterator[Problem]:
    """Eggs kept in brackish water are of fish whose water note speaks of salt."""
    fish = {row.species: row for row in draft.species}
    for lot in draft.lots:
        species = fish.get(lot.species)
        if lot.salt_g_l > BRACKISH_G_L and species and not _SALT.search(species.water_note):
            text = say(
                "{salt_g_l:g} grams a litre is brackish, and the water note of '{species}' does not say so.",
                lot.salt_g_l,
                species.species,
            )
            yield from _asked(draft, lot, "salt_g_l", text=text, mend=say("Look at both"))


_SALT = re.compile(r"brack|salt|sea|marine|salz|meer|saum|sel\b|salobre|sal\b|mar\b", re.IGNORECASE)


def boxes_weigh_their_card(draft: Draft) -> Iterator[Problem]:
    """A box weighs at least the card it is made of, else postage is too low."""
    for row in draft.boxes:
        if 0 < row.tare_g < (least := _lightest(row)):
            text = say(
                "{tare_g:g} grams is less than {least:.0f}, what card of its size weighs.", row.tare_g, least
            )
            yield from _asked(draft, row, "tare_g", text=text, mend=say("Weigh it"))


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
                    yield from _asked(draft, row, column, text=text, mend=say("Look at sign and point"))


def services_days_hang_together(draft: Draft) -> Iterator[Problem]:
    """The late day is some times the usual at most; no stretch outside is longer than the whole way; what is
    not fetched costs something.
    """
    for row in draft.services:
        if row.late_d > LATEST_TIMES * max(1, row.usual_d):
            text = say(
                "{late_d:g} is more than {times} times usual_d, {usual_d:g}.",
                row.late_d,
                LATEST_TIMES,
                row.usual_d,
            )
            yield from _asked(draft, row, "late_d", text=text, mend=say("Look at both days"))
        if not row.is_collection and row.exposed_h > 24 * (row.usual_d + 1):
            text = say(
                "{exposed_h:g} hours outside are longer than its way of {days:g} days.",
                row.exposed_h,
                row.usual_d,
            )
            yield from _asked(
                draft, row, "exposed_h", text=text, mend=say("Write the longest single stretch")
            )
    fetched = {row.service for row in draft.services if row.early_d == 0}
    for postage in draft.postage:
        if postage.price == 0 and postage.service not in fetched:
            text = say("is 0: parcels by '{service}' would go free.", postage.service)
            yield from _asked(draft, postage, "price", text=text, mend=say("Write the postage"))


def orders_are_paid_within_months(draft: Draft) -> Iterator[Problem]:
    """Day and month turned round, or a wrong year, sends an order to the front of the queue."""
    for row in draft.first_rows:
        if row.paid_on and (days := (row.paid_on - row.placed_on).days) > LONGEST_UNPAID_D:
            text = say("{day} is {days} days before it was paid, and waits count.", row.placed_on, days)
            yield from _asked(draft, row, "placed_on", text=text, mend=say("Look at day, month and year"))


def buyers_have_a_mail_of_their_own(draft: Draft) -> Iterator[Problem]:
    """An address drawn down over the next buyer's row sends one buyer's mail to another."""
    first: dict[str, OrderRow] = {}
    for row in draft.first_rows:
        if not row.mail:
            continue
        earlier = first.setdefault(row.mail.casefold(), row)
        if earlier.addressee.casefold() != row.addressee.casefold() and earlier.postcode != row.postcode:
            text = say(
                "'{mail}' is the mail of '{buyer}' on row {row} too.",
                row.mail,
                earlier.addressee,
                earlier.at.row,
            )
            yield from _asked(draft, row, "mail", text=text, mend=say("Write this buyer's"))


def prices_are_of_a_size(draft: Draft) -> Iterator[Problem]:
    """A price far from what other eggs cost: customs forms show it."""
    priced = [row for row in draft.order_rows if row.price]
    usual = median(float(row.price or 0) / row.eggs for row in priced) if len(priced) >= LEAST_PRICES else 0.0
    for row in priced if usual else ():
        each = float(row.price or 0) / row.eggs
        if not usual / DEARER_TIMES <= each <= usual * DEARER_TIMES:
            text = say(
                "{price} for {eggs} is far from {usual:.2f} an egg, as others pay.",
                row.price,
                row.eggs,
                usual,
            )
            yield from _asked(draft, row, "price", text=text, mend=say("Look at the point"))

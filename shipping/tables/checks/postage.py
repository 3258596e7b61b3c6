"""Postage: each way has some, steps rise by weight and thickness, and prices are of a size with others."""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import pairwise
from statistics import median

from shipping.tables.checks.row_problems import asked, noted, problem
from shipping.tables.countries import is_country
from shipping.tables.rows.services import Postage, Service
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: So many times the thickness of a heavier step is a slip. Assumed.
THICKER_TIMES = 2
#: So many times the thickness of a lighter step is one too. Assumed.
FAR_THICKER_TIMES = 5


def places_are_named_once(draft: Draft) -> Iterator[Problem]:
    """Services, and postage of one weight and thickness, name a country once by code, once by zone."""
    yield from _named_once(draft, [(row, row.service) for row in draft.services])
    priced = [(row, f"{row.service} {row.up_to_g:g} {row.up_to_mm}") for row in draft.postage]
    yield from _named_once(draft, priced)


def _named_once(draft: Draft, rows: Iterable[tuple[Service | Postage, str]]) -> Iterator[Problem]:
    first: dict[tuple[str, str, str], Service | Postage] = {}
    for row, name in rows:
        yield from list(_named_before(draft, row, name, first))[:1]


def _named_before(
    draft: Draft, row: Service | Postage, name: str, first: dict[tuple[str, str, str], Service | Postage]
) -> Iterator[Problem]:
    for place in row.to:
        zone = draft.zone_countries.get(place)
        level, countries = ("zone", zone) if zone is not None else ("code", (place,))
        for country in countries:
            earlier = first.setdefault((name, level, country), row)
            if earlier is not row or (level == "code" and row.to.count(place) > 1):
                where = say("on row {row} too", earlier.at.row) if earlier is not row else say("twice here")
                text = say("'{country}' is named for '{service}' {where}.", country, row.service, where)
                yield problem(row, "to", "twice", text, "Name each country once a service.")


def services_have_postage(draft: Draft) -> Iterator[Problem]:
    """A service has postage for each place it names (code, zone, or ``*``), unless it is collected."""
    if "postage" not in draft.complete or "zones" not in draft.complete:
        return
    places: dict[str, set[str]] = {}
    for postage in draft.postage:
        for place in postage.to:
            places.setdefault(postage.service, set()).update((place, *draft.zone_countries.get(place, ())))
    zones = draft.names.get("zones", frozenset())
    unread = draft.failed.get("postage", frozenset()) | {
        row.service  # one of its places is none, which is said already
        for row in draft.postage
        if not all(_is_place_of_post(place, zones) for place in row.to)
    }
    if any(draft.lacks("services", row.service) for row in draft.postage):
        return  # a service misspelt there may be the very one
    for service in draft.services:
        have = places.get(service.service, set())
        if "*" in have or service.service in unread or service.is_collection:
            continue
        known = (place for place in service.to if _is_place_of_post(place, draft.zone_countries))
        lacking = [place for place in known if place not in have and not _zone_within(draft, place, have)]
        if lacking:
            text = say("'{service}' has no postage to {lacking}.", service.service, " ".join(lacking))
            yield problem(service, "to", "no-postage", text, "Add a row to postage.")


def _is_place_of_post(place: str, zones: Container[str]) -> bool:
    return place == "*" or place in zones or is_country(place)


def _zone_within(draft: Draft, place: str, have: set[str]) -> bool:
    countries = draft.zone_countries.get(place)
    return countries is not None and all(country in have for country in countries)


def heavier_is_not_cheaper(draft: Draft) -> Iterator[Problem]:
    """A heavier parcel, as thick or thicker, that costs less to the very same places is mostly a slip in a
    price.
    """
    for same in grouped(((row.service, row.to), row) for row in draft.postage).values():
        for lighter, heavier in pairwise(sorted(same, key=lambda row: row.up_to_g)):
            is_thicker = (heavier.up_to_mm or math.inf) >= (lighter.up_to_mm or math.inf)
            if is_thicker and heavier.price < lighter.price:
                text = "{price} is less than row {row} asks for lighter parcels."
                mend = "Mend one of the two prices."
                yield noted(heavier, "price", "cheaper", text, mend, row=lighter.at.row)


def heavier_is_not_thinner(draft: Draft) -> Iterator[Problem]:
    """A lighter step that may be much thicker than a heavier one: a digit too many."""
    for steps in grouped(((row.service, row.to), row) for row in draft.postage if row.up_to_mm).values():
        for lighter, heavier in pairwise(sorted(steps, key=lambda row: row.up_to_g)):
            thick, thin = lighter.up_to_mm or 0.0, heavier.up_to_mm or 0.0
            if lighter.up_to_g < heavier.up_to_g and thick > THICKER_TIMES * thin:
                beside = (thick, heavier.at.row, thin)
                text = say("{thick:g} mm, and row {row} takes heavier parcels up to {thin:g} mm.", *beside)
                yield from asked(draft, lighter, "up_to_mm", text, say("Look at both"))
            elif thin > FAR_THICKER_TIMES * thick:
                beside = (thin, lighter.at.row, thick)
                text = say("{thin:g} mm, and row {row} takes lighter parcels up to {thick:g} mm.", *beside)
                yield from asked(draft, heavier, "up_to_mm", text, say("Look at both"))


#: So many times what other services ask for a place and weight, or a part of it, is a slip. Assumed.
DEARER_TIMES = 5
#: So many times the next lighter step of the same service. Assumed.
STEP_TIMES = 8


def postage_is_like_others(draft: Draft) -> Iterator[Problem]:
    """Postage far from what other services ask for the same place and weight, or from its own next step."""
    asks = grouped(
        ((country, row.up_to_g), row)
        for row in draft.postage
        for place in (row.to if row.price else ())
        for country in draft.zone_countries.get(place, (place,))
    )
    told: set[int] = set()
    for beside in asks.values():
        for row in beside:
            others = [float(other.price) for other in beside if other.service != row.service]
            price = float(row.price)
            is_near = any(price / DEARER_TIMES <= other <= price * DEARER_TIMES for other in others)
            if others and not is_near and row.at.row not in told:
                told.update(one.at.row for one in (beside if len(beside) == 2 else (row,)))
                text = "{price} is far from {other:.2f}, what others ask for that weight."
                yield from asked(draft, row, "price", text, "Look at the point", other=median(others))
    for steps in grouped(((row.service, row.to), row) for row in draft.postage if row.price).values():
        by_weight = sorted(steps, key=lambda row: row.up_to_g)
        for lighter, heavier in pairwise(by_weight):
            if float(heavier.price) > STEP_TIMES * float(lighter.price) and lighter.at.row not in told:
                text = "{price} is far from {other:.2f}, the next step's."
                mend = say("Look at the point")
                yield from asked(draft, lighter, "price", text, mend, other=float(heavier.price))


def postage_abroad_is_dearer(draft: Draft) -> Iterator[Problem]:
    """One step of a way abroad that costs no more than any way at home takes for that weight, where the
    others of it do: the price is a copy of another row's.
    """
    home = draft.settings.home.country if draft.settings else ""
    at_home = [row for row in draft.postage if row.price and home in _countries_of(draft, row)]
    abroad = (row for row in draft.postage if row.price and not {home, "*"} & _countries_of(draft, row))
    for steps in grouped(((row.service, row.to), row) for row in abroad).values():
        odd = [row for row in steps if row.price <= _at_home(row, at_home)]
        if len(odd) == 1 < len(steps):
            (row,) = odd
            text = say("{price}, and at home that weight costs {other}.", row.price, _at_home(row, at_home))
            yield from asked(draft, row, "price", text, say("Look at both"))


def _at_home(row: Postage, at_home: Sequence[Postage]) -> Decimal:
    """The least that a parcel of that weight costs at home; 0 where none takes it."""
    return min((other.price for other in at_home if other.up_to_g >= row.up_to_g), default=Decimal(0))


def _countries_of(draft: Draft, row: Postage) -> set[str]:
    return {one for place in row.to for one in draft.zone_countries.get(place, (place,))}


def postage_carries_something(draft: Draft) -> Iterator[Problem]:
    """A service that takes no parcel there is, by weight or thickness: ounces or inches."""
    boxes = {box.box: box for box in draft.boxes}
    packed = [(row, boxes.get(row.box or "")) for row in draft.packings]
    if not packed or not {"packings", "boxes"} <= draft.complete:
        return
    grams = min(
        row.weight_g + (box.tare_g + box.bottle_ml if box else row.box_g or 0.0) for row, box in packed
    )
    mm = min(max(row.thick_mm or 0.0, box.thick_mm or 0.0 if box else 0.0) for row, box in packed)
    for steps in grouped(((row.service, row.to), row) for row in draft.postage).values():
        heaviest = max(steps, key=lambda row: row.up_to_g)
        thickest = max(steps, key=lambda row: row.up_to_mm or math.inf)
        for row, column, most, least, unit in (
            (heaviest, "up_to_g", heaviest.up_to_g, grams, "grams"),
            (thickest, "up_to_mm", thickest.up_to_mm or math.inf, mm, "millimetres"),
        ):
            if most < least:
                told = (most, say(unit), row.service, least)
                text = say(
                    "{most:g} {unit} at most by '{service}', and no parcel has less than {least:g}.", *told
                )
                yield from asked(draft, row, column, text, say("Write it in {unit}", say(unit)))


#: Ounces to a pound; so many pounds may be the first step of a service.
OUNCES, FIRST_POUNDS = 16, 4


def postage_is_in_grams(draft: Draft) -> Iterator[Problem]:
    """Steps of a service that are whole pounds in ounces (16, 32, 48), as none in grams are from so little
    on; lighter ones are below what is meant for grams at all.
    """
    for steps in grouped(((row.service, row.to), row) for row in draft.postage).values():
        lightest = min(steps, key=lambda row: row.up_to_g)
        in_pounds = all(row.up_to_g > 0 and row.up_to_g % OUNCES == 0 for row in steps)
        if in_pounds and lightest.up_to_g <= FIRST_POUNDS * OUNCES:
            text = say(
                "{most:g} grams, and all steps of '{service}' are whole pounds, written in ounces.",
                *(lightest.up_to_g, lightest.service),
            )
            yield from asked(draft, lightest, "up_to_g", text, say("Write it in {unit}", say("grams")))


#: So many ways with the same steps of weight tell that one that lacks a step has lost it.
LIKE_WAYS = 3
#: A step so many times another has a digit too many, or too few.
A_DIGIT = 10


def ways_of_a_service_have_its_steps(draft: Draft) -> Iterator[Problem]:
    """A way without a step of weight that the service has elsewhere: parcels of it cost more, or stay."""
    rows = grouped(((row.service, place), row) for row in draft.postage for place in row.to)
    steps = {way: frozenset(row.up_to_g for row in of_way) for way, of_way in rows.items()}
    for way, mine in steps.items():
        for theirs in {steps[other] for other in steps if other != way and other[0] == way[0]}:
            missing, odd = sorted(theirs - mine), sorted(mine - theirs)
            if len(missing) != 1:
                continue
            (grams,) = missing
            has_digit_off = len(odd) == 1 and odd[0] in (grams * A_DIGIT, grams / A_DIGIT)
            is_lost = not odd and list(steps.values()).count(theirs) >= LIKE_WAYS
            if has_digit_off or is_lost:
                row = next(row for row in rows[way] if not odd or row.up_to_g == odd[0])
                text = say(
                    "'{service}' has no step up to {grams:g} grams to {place}, as it has elsewhere.",
                    *(way[0], grams, way[1]),
                )
                yield from asked(draft, row, "up_to_g", text, say("Look at weight and place"))
                break

"""Checks of services, postage, packings, boxes and rules: what the post needs is there and fits."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator
from dataclasses import replace
from itertools import pairwise

from shipping.tables.checks.row_problems import after_today, asked, before, noted, problem, twice
from shipping.tables.country_codes import is_country
from shipping.tables.rows.lots import DAMP_MEDIA
from shipping.tables.rows.packings import MOST_FILLED, is_withdrawn
from shipping.tables.rows.rules import RULE_WORDS, Rule
from shipping.tables.rows.services import Postage, Service
from shipping.tables.rows.species import Species, withdrawn_values
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import joined, say

#: So many times the thickness of a heavier step is a slip. Assumed.
THICKER_TIMES = 2
#: So many times the thickness of a lighter step is one too. Assumed.
FAR_THICKER_TIMES = 5


def service_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """0 < early <= usual <= late, or all three 0 where it is collected in person; the same at the border."""
    for row in draft.services:
        days = (row.early_d, row.usual_d, row.late_d)
        if not _in_order(*days):
            text = say("{early_d:g}, {usual_d:g}, {late_d:g} do not run from early to late.", *days)
            mend = "Write working days from 1 up, the early first; 0 0 0 where it is collected in person."
            yield problem(row, "early_d", "order", text, mend)
        early, usual, late = row.border_early_d, row.border_usual_d, row.border_late_d
        if row.border_share == 0:
            if late:
                text = "has {border_late_d:g} working days, and border_share is 0: they never happen."
                mend = "Write the share of parcels held, or empty the days."
                yield noted(row, "border_late_d", "border", text, mend, border_late_d=late)
        elif early is None or late is None:
            column = "border_early_d" if early is None else "border_late_d"
            text = "is blank, though {border_share:g} of parcels are held."
            yield problem(row, column, "border", text, "Write working days.")
        elif not _in_order(early, early if usual is None else usual, late):
            text = "{early:g} to {late:g} do not run from early to late."
            mend = "Write working days from 1 up, the early first."
            yield problem(row, "border_early_d", "order", text, mend, early=early, late=late)


def _in_order(early: float, usual: float, late: float) -> bool:
    return early == usual == late == 0 or 0 < early <= usual <= late


def answers_have_happened(draft: Draft) -> Iterator[Problem]:
    """answered_on <= today."""
    for row in draft.services:
        yield from after_today(draft, row, "answered_on", "Write the day the operator answered.")


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
    """A heavier parcel that costs less, to the very same places, is mostly a slip in a price."""
    rows = grouped(((row.service, row.to, row.up_to_mm), row) for row in draft.postage)
    for same in rows.values():
        for lighter, heavier in pairwise(sorted(same, key=lambda row: row.up_to_g)):
            if heavier.price < lighter.price:
                text = "{price} is less than row {row} asks for lighter parcels."
                mend = "Mend one of the two prices."
                yield noted(heavier, "price", "cheaper", text, mend, row=lighter.at.row)


def heavier_is_not_thinner(draft: Draft) -> Iterator[Problem]:
    """A lighter step that may be much thicker than a heavier one: a digit too many."""
    for steps in grouped(((row.service, row.to), row) for row in draft.postage if row.up_to_mm).values():
        for lighter, heavier in pairwise(sorted(steps, key=lambda row: row.up_to_g)):
            thick, thin = lighter.up_to_mm or 0.0, heavier.up_to_mm or 0.0
            if lighter.up_to_g < heavier.up_to_g and thick > THICKER_TIMES * thin:
                text = say(
                    "{thick:g} mm, and row {row} takes heavier parcels up to {thin:g} mm.",
                    thick,
                    heavier.at.row,
                    thin,
                )
                yield from asked(draft, lighter, "up_to_mm", text, say("Look at both"))
            elif thin > FAR_THICKER_TIMES * thick:
                text = say(
                    "{thin:g} mm, and row {row} takes lighter parcels up to {thick:g} mm.",
                    thin,
                    lighter.at.row,
                    thick,
                )
                yield from asked(draft, heavier, "up_to_mm", text, say("Look at both"))


def packings_hold_their_water(draft: Draft) -> Iterator[Problem]:
    """water_ml <= volume_ml."""
    for row in draft.packings:
        if row.water_ml is not None and row.volume_ml is not None and row.water_ml > row.volume_ml:
            text = "{water_ml:g} is more than volume_ml, {volume_ml:g}."
            mend = "Write the water, and the whole of the unit in volume_ml."
            yield problem(row, "water_ml", "order", text, mend)


def packings_suit_their_media(draft: Draft) -> Iterator[Problem]:
    """Eggs in a damp bag travel damp."""
    for row in draft.packings:
        if row.is_a.is_damp and any(row.travels_in(medium) not in DAMP_MEDIA for medium in row.media):
            text = "eggs would travel in water in a damp bag."
            mend = "Write moss, peat or coir as the medium they travel in."
            yield problem(row, "medium", "medium", text, mend)
        elif not row.is_a.is_damp and row.water_ml:
            damp = [medium for medium in row.media if row.travels_in(medium) in DAMP_MEDIA]
            if damp:
                text = "'{media}' would travel in {water_ml:g} ml of water."
                mend = say("Write the media of lots kept in water")
                yield from asked(draft, row, "media", text, mend, media=" ".join(damp))


def bags_are_in_fit_boxes(draft: Draft) -> Iterator[Problem]:
    """Bags only in rigid, and breathing bags only in vented, boxes."""
    boxes = {box.box: box for box in draft.boxes}
    for row in draft.packings:
        box = boxes.get(row.box or "")
        if row.is_a.is_soft and row.box is None and boxes:
            text = "is blank, and a {kind} is crushed without a rigid box."
            yield noted(row, "box", "box", text, "Name a rigid box of boxes.", kind=say(row.kind))
        if box is None or not row.is_a.is_soft:
            continue
        if not box.rigid:
            text = say("a {kind} is crushed in '{box}', which is not rigid.", say(row.kind), box.box)
            yield problem(row, "box", "box", text, say("Name a rigid box, or mend rigid on {at}.", box.at))
        elif row.is_a.breathes and not box.vented:
            text = say("a breathing bag cannot breathe in '{box}', which is not vented.", box.box)
            yield problem(row, "box", "box", text, say("Name a vented box, or mend vented on {at}.", box.at))


def rules_are_whole(draft: Draft) -> Iterator[Problem]:
    """from <= until, looked up not after today, and ``papers`` names them."""
    for rule in draft.rules:
        yield from before(rule, "until", "from_", "Write the last day it holds.")
        yield from after_today(draft, rule, "checked_on", "Write the day it was looked up.")
        papers = "; ".join(rule.papers)
        if rule.verdict == "papers" and not rule.papers:
            text = "is blank, though the verdict is papers."
            yield problem(rule, "papers", "blank", text, "Name the papers, with ; between.")
        elif "," in papers:
            text = say("'{papers}' is read as one paper where a comma stands.", papers)
            mend = say("Put ; between them: {parts}.", "; ".join(re.split("[,;] *", papers)))
            yield noted(rule, "papers", "papers", text, mend)
        elif rule.papers and rule.verdict == "open":
            text = "names '{papers}', and open asks for none."
            mend = say("Write papers as the verdict, or empty them")
            yield from asked(draft, rule, "verdict", text, mend, code="papers", papers=papers)
        if rule.until is not None and rule.until < draft.today:
            text = "{day} is past: '{verdict}' for {to} no longer holds."
            yield from asked(draft, rule, "until", text, "Look at the year", day=rule.until)
        if _NO_SOURCE.fullmatch(rule.source):
            text = "'{source}' names nobody who said so."
            yield from asked(draft, rule, "source", text, "Write the law, page or person", code="no-source")
        farthest = FARTHEST_RULE_D if rule.verdict == "open" else FARTHEST_BAN_D
        if rule.from_ is not None and (rule.from_ - draft.today).days > farthest:
            text = "{day} is far ahead: until then the rule does not hold."
            yield from asked(draft, rule, "from_", text, "Look at the year", day=rule.from_)


_NO_SOURCE = re.compile(r"\W*|to ?do|tb[ad]|n/?a|none|unknown|me|x+|test", re.IGNORECASE)


def rules_do_not_contradict(draft: Draft) -> Iterator[Problem]:
    """Two verdicts for one place, fish and medium at one time: the strictest counts, and it is said."""
    first: dict[tuple[str, str, str | None], Rule] = {}
    for rule in draft.rules:
        if not rule.holds_on(draft.today):
            continue
        for place in rule.places:
            earlier = first.setdefault((place, rule.taxon.casefold(), rule.medium), rule)
            if earlier.verdict != rule.verdict:
                strictest = max(earlier.verdict, rule.verdict, key=RULE_WORDS.index)
                text = say(
                    "'{verdict}' for {place} and {taxon} stands beside '{other}' on row"
                    " {row}: '{strictest}' counts.",
                    *(rule.verdict, place, rule.taxon, earlier.verdict, earlier.at.row, strictest),
                )
                yield from asked(draft, rule, "verdict", text, "Keep one", code="two-verdicts")
                break


def services_are_fetched_or_posted(draft: Draft) -> Iterator[Problem]:
    """A service both collected in person and posted, or with a cut-off at night, is asked about."""
    for row in draft.services:
        posted = [other for other in draft.services if other.service == row.service and other.late_d > 0]
        if row.late_d == 0 and posted:
            text = "is 0: '{service}' is collected in person here, and posted on row {row}."
            yield from asked(draft, row, "late_d", text, "Write the working days", row=posted[0].at.row)
        hour, _, minutes = (row.cut_off or "12:00").partition(":")
        if int(hour) < EARLIEST_CUT_OFF_H:
            text = "{cut_off} is in the night."
            yield from asked(
                draft, row, "cut_off", text, say("Write {hour}:{minutes}", int(hour) + 12, minutes)
            )
        elif int(hour) >= LATEST_CUT_OFF_H:
            text = "{cut_off} is in the night."
            yield from asked(draft, row, "cut_off", text, "Write the counter's last hour")
        if row.late_d > 0 and set(row.hand_over) <= {"Sat", "Sun"}:
            text = "{days}: nothing is taken in but at the weekend."
            mend = say("Write the days on which the counter is open")
            yield from asked(draft, row, "hand_over", text, mend, days=" ".join(row.hand_over))


#: No counter takes parcels last before this hour. Assumed.
EARLIEST_CUT_OFF_H = 6
#: Nor from this hour on. Assumed.
LATEST_CUT_OFF_H = 22


def boxes_hold_their_units(draft: Draft) -> Iterator[Problem]:
    """A box is as thick as the unit in it, else the postage by thickness is too low."""
    boxes = {box.box: box for box in draft.boxes}
    for row in draft.packings:
        box = boxes.get(row.box or "")
        if box and box.thick_mm and row.thick_mm and box.thick_mm < row.thick_mm:
            told = (row.thick_mm, box.box, box.thick_mm)
            text = say("{thick:g} mm is thicker than its box '{box}', {inside:g} mm.", *told)
            mend = say("Mend one of the two, here or on {at}", box.at)
            yield from asked(draft, row, "thick_mm", text, mend)


#: A rule that begins later is asked about: mostly its year is a slip. Assumed.
FARTHEST_RULE_D = 3 * 366
#: The same of one that forbids or asks for something. Assumed.
FARTHEST_BAN_D = 200


def weather_runs_from_low_to_high(draft: Draft) -> Iterator[Problem]:
    """low_c <= high_c."""
    for row in draft.weather:
        if row.low_c > row.high_c:
            text = "{low_c:g} is above high_c, {high_c:g}."
            yield problem(row, "low_c", "order", text, "Write the lower of the two.")


def weather_is_of_a_month_or_of_days(draft: Draft) -> Iterator[Problem]:
    """Each row names a month, or the days from and until; days of one place do not overlap."""
    days: dict[str, list[Weather]] = {}
    for row in draft.weather:
        if row.month is not None and (row.from_ or row.until):
            text = "{month} stands beside days, and a row is of a month or of days."
            yield problem(row, "month", "order", text, "Leave month blank, or from and until.")
        elif row.month is None and not (row.from_ and row.until):
            lacks = "until" if row.from_ else "from" if row.until else "month"
            text = "is blank, and so nothing says when the row holds."
            mend = "Write a month from 1 to 12, or the days from and until."
            yield problem(row, lacks, "blank", text, mend)
        elif row.from_ and row.until and row.until < row.from_:
            yield from before(row, "until", "from_", "Write the last day it holds.")
        elif row.month is None:
            days.setdefault(row.to.casefold(), []).append(row)
    for rows in days.values():
        by_day = sorted(rows, key=lambda row: (str(row.from_), row.at.row))
        for earlier, later in pairwise(by_day):
            if earlier.until and later.from_ and later.from_ <= earlier.until:
                text = say("{day} lies within the days of row {row} too.", later.from_, earlier.at.row)
                yield problem(later, "from", "twice", text, "Keep one row a place and day.")


def disruptions_are_whole(draft: Draft) -> Iterator[Problem]:
    """from <= until, and each says by how much or that it stops; none is very long or stands twice."""
    named = ((row, f"{' '.join(row.to)} {row.service or '*'} from {row.from_}") for row in draft.disruptions)
    for same in twice(named, "from", "Keep one row a place, service and day."):
        yield replace(same, level=Level.NOTICE)
    for row in draft.disruptions:
        if (days := (row.until - row.from_).days) > LONGEST_DISRUPTION_D:
            text = "{day} is {days} days after from, {from}."
            yield from asked(draft, row, "until", text, "Look at the year", day=row.until, days=days)
        if row.until < row.from_:
            yield from before(row, "until", "from_", "Write the last day it holds.")
        elif not row.days and not row.stopped:
            text = "is blank, and so is stopped: the row changes nothing."
            mend = "Write how many working days longer, or yes in stopped."
            yield problem(row, "days", "blank", text, mend)


#: A disruption that lasts longer is asked about: mostly its year is a slip. Assumed.
LONGEST_DISRUPTION_D = 300


def starter_insulation_is_measured(draft: Draft) -> Iterator[Problem]:
    """The 12 hours of the first starter boxes do not count until somebody measured them."""
    for row in draft.boxes:
        if is_withdrawn(row):
            text = (
                "{hours:g} of '{box}' came with the first starter tables and was not"
                " measured: it does not count."
            )
            mend = (
                "Write wall_mm (and bottle_ml, a bottle of warm water) and leave insulated_h blank, or write"
                " wall_mm and the hours you measured in which half of the warmth is gone."
            )
            yield noted(row, "insulated_h", "withdrawn", text, mend, hours=row.insulated_h)


def starter_rules_were_looked_up(draft: Draft) -> Iterator[Problem]:
    """Rows of the first starter tables that let eggs go although nobody had looked them up: one message."""
    rows = [rule for rule in draft.rules if rule.is_withdrawn]
    if not rows:
        return
    first, more = rows[0], len(rows) - 1
    text = say(
        "'{verdict}' for {to} came with the first starter tables, and nobody had looked it up: it"
        " does not count.",
        *(first.verdict, first.to),
    )
    if more:
        text = say(
            "'{verdict}' for {to} came with the first starter tables, and nobody had looked it up (and"
            " {count} more rows like it): it does not count.",
            *(first.verdict, first.to, more),
        )
    mend = (
        "Ask the authority, and write its answer with source and day; one row may name a zone, such as"
        " EU, or several countries."
    )
    yield noted(first, "verdict", "withdrawn", text, mend)


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


def boxes_hold_their_bottle(draft: Draft) -> Iterator[Problem]:
    """Bottle and units fill at most 0.8 of the inside, so the bottle alone does not fill more."""
    for row in draft.boxes:
        inside = row.inside_ml
        if row.bottle_ml and inside is not None and row.bottle_ml > MOST_FILLED * inside:
            told = (row.bottle_ml, MOST_FILLED, inside)
            text = say("{bottle:g} is more than {share:g} of the {inside:.0f} ml inside.", *told)
            yield problem(row, "bottle_ml", "order", text, "Write a smaller bottle, or 0 for none.")

"""Checks of services, postage, rules, weather and disruptions: what the post needs is there, and fits."""

from __future__ import annotations

import math
import re
from collections.abc import Container, Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from shipping.tables.checks.plausible import BOUNDS
from shipping.tables.checks.row_problems import after_today, asked, before, noted, problem, twice
from shipping.tables.climate import climate_places, km_between_countries, parcel_mean_c
from shipping.tables.country_codes import EU, is_country, name_of
from shipping.tables.rows.rules import RULE_WORDS, Rule
from shipping.tables.rows.services import Postage, Service
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

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
        if rule.verdict == "open" and (word := _IS_CLOSED.search(rule.source) or _IS_CLOSED.match(rule.note)):
            text = say("'open', and its own words say '{words}'.", word[0].strip(" ,.:;-"))
            yield from asked(draft, rule, "verdict", text, "Write closed, if it is", code="unlike-published")
        elif rule.verdict in ("open", "papers") and (
            word := _IS_UNANSWERED.search(f"{rule.source}; {rule.note}")
        ):
            text = say("'{verdict}', and its own words say '{words}'.", rule.verdict, word[0])
            mend = say("Write ask, until somebody answers")
            yield from asked(draft, rule, "verdict", text, mend, code="no-source")
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


#: What an answer says that lets nothing in.
_IS_CLOSED = re.compile(
    r"\W*\b(?:(?:is|are|was|were) (?:prohibited|forbidden|banned)|not (?:allowed|permitted)|"
    r"(?:ist|sind) (?:verboten|untersagt)|nicht (?:erlaubt|gestattet|zulässig)|(?:est|sont) interdite?s?|"
    r"est[aá]n? prohibid[oa]s?|er forbudt|only (?:through|via|by) a border post|"
    r"nur über eine grenzkontrollstelle|uniquement par un poste (?:de contrôle )?frontalier)\b",
    re.IGNORECASE,
)
#: What stands for an answer where nobody gave one.
_IS_UNANSWERED = re.compile(
    r"\b(?:no (?:answer|reply)|not (?:yet )?answered|unanswered|keine antwort|(?:noch )?nicht beantwortet|"
    r"sans réponse|pas (?:encore )?de réponse|sin respuesta|sin contestar|intet svar|geen antwoord)\b",
    re.IGNORECASE,
)
_NO_SOURCE = re.compile(
    r"\W*|to ?do|tb[ad]|n/?a|none|unknown|me|x+|test|yes|no|ok(?:ay)?|ja|oui|s[ií]|internet|google|web|"
    r"(?:same as|like) .*|(?:.* )?(?:a friend|friends|forum|facebook|i think|i guess|heard|probably)(?: .*)?",
    re.IGNORECASE,
)


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
    posted = {row.service: row for row in reversed(draft.services) if row.late_d > 0}
    for row in draft.services:
        if row.late_d == 0 and (other := posted.get(row.service)):
            text = "is 0: '{service}' is collected in person here, and posted on row {row}."
            yield from asked(draft, row, "late_d", text, "Write the working days", row=other.at.row)
        hour, _, minutes = (row.cut_off or "12:00").partition(":")
        if int(hour) < EARLIEST_CUT_OFF_H:
            text = "{cut_off} is in the night."
            if int(hour) >= MORNING_H:
                text = "{cut_off} is early in the morning."
            yield from asked(
                draft, row, "cut_off", text, say("Write {hour}:{minutes}", int(hour) + 12, minutes)
            )
        elif int(hour) >= LATEST_CUT_OFF_H:
            text = "{cut_off} is in the night."
            yield from asked(draft, row, "cut_off", text, "Write the counter's last hour")
        is_of_weekends = set(row.hand_over) <= {"Sat", "Sun"}
        if row.late_d > 0 and (is_of_weekends or ("Sun" in row.hand_over and "Mon" not in row.hand_over)):
            text = "{days}: Sunday, and not Monday."
            if is_of_weekends:
                text = "{days}: nothing is taken in but at the weekend."
            mend = say("Write the days on which the counter is open")
            yield from asked(draft, row, "hand_over", text, mend, days=" ".join(row.hand_over))


#: No counter takes parcels last before this hour. Assumed.
EARLIEST_CUT_OFF_H, MORNING_H = 8, 5
#: Nor from this hour on. Assumed.
LATEST_CUT_OFF_H = 22
#: A rule that begins later is asked about: mostly its year is a slip. Assumed.
FARTHEST_RULE_D = 3 * 366
#: The same of one that forbids or asks for something. Assumed.
FARTHEST_BAN_D = 200


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


#: A service that loses more parcels is nobody's choice; more than half is asked about by its bounds. Assumed.
LEAST_LOST, MOST_LOST = 0.08, 0.5
#: So many times the least share of parcels held at a border, all others' mean that the least has its point
#: misplaced. Assumed.
LIKE_OTHERS = 5
#: From so many usual days on, a way has a late day that differs; one out of the country has it always, where
#: any way has. Assumed.
SPREAD_FROM_D = 3
#: A parcel is outside in one stretch for at least so many hours, and so many a day of its way, of which so
#: many days count. Assumed.
LEAST_EXPOSED_H, EXPOSED_H_A_DAY, MOST_EXPOSED_D = 4, 1.5, 6
#: So many times what other services ask for a place and weight, or a part of it, is a slip. Assumed.
DEARER_TIMES = 5
#: So many times the next lighter step of the same service. Assumed.
STEP_TIMES = 8
#: Further than this nothing goes overnight [km], or in two days; nearer than this nothing takes
#: more than two weeks of working days as a rule. Assumed.
OVERNIGHT_KM, TWO_DAYS_KM, NEAR_KM, LONGEST_NEAR_D = 2500, 5000, 1500, 10


def services_are_whole_ways(draft: Draft) -> Iterator[Problem]:
    """Days that never differ, a stretch outdoors of no hours, a hand-over before every weekend only, a
    collection that costs postage, and an answer by nobody.
    """
    home = draft.settings.home.country if draft.settings else ""
    posted = {row.service for row in draft.services if not row.is_collection}
    fetched = {postage.service for postage in draft.postage if postage.price} - posted
    is_spread = any(row.early_d < row.late_d for row in draft.services)
    for row in draft.services:
        if row.is_collection:
            if row.service in fetched:
                text = "is 0: '{service}' would be collected in person, and it has postage."
                yield from asked(draft, row, "late_d", text, "Write the working days")
            continue
        abroad = [place for place in row.to if place not in (home, "*")] if home else []
        differs = row.early_d == row.late_d and (row.usual_d >= SPREAD_FROM_D or (abroad and is_spread))
        if differs or row.late_d == row.usual_d >= SPREAD_FROM_D:
            text = "{late_d:g} days usual and late: no parcel would ever be slower."
            yield from asked(draft, row, "late_d", text, "Look at both days")
        if row.exposed_h == 0:
            text = "is 0: no parcel of '{service}' would be outside for an hour."
            yield from asked(draft, row, "exposed_h", text, "Write the longest single stretch")
        elif row.exposed_h < max(LEAST_EXPOSED_H, EXPOSED_H_A_DAY * min(row.usual_d, MOST_EXPOSED_D)):
            text = "{exposed_h:g} hours outside are few for a way of {days:g} days."
            mend = say("Write the longest single stretch")
            yield from asked(draft, row, "exposed_h", text, mend, days=row.usual_d)
        if row.border_share and row.border_early_d == row.border_late_d is not None:
            text = "{border_late_d:g} days early and late: no parcel would ever be held longer."
            yield from asked(draft, row, "border_late_d", text, say("Look at both days"))
        if set(row.hand_over) <= {"Fri", "Sat", "Sun"} and {"Fri"} & set(row.hand_over):
            text = "{days}: every parcel would lie over a weekend."
            mend = say("Write the days on which the counter is open")
            yield from asked(draft, row, "hand_over", text, mend, days=" ".join(row.hand_over))
        if LEAST_LOST < row.parcel_lost_share <= MOST_LOST:
            text = say("{share:g} of all parcels would be lost on the way.", row.parcel_lost_share)
            yield from asked(draft, row, "parcel_lost_share", text, "Write the share, as 0.01 for 1 %")
        if row.live_eggs == "yes" and _NOBODY.fullmatch(row.answered_by):
            text = "'{source}' names nobody who said so."
            mend = say("Write who answered for the operator")
            yield from asked(draft, row, "answered_by", text, mend, code="no-source", source=row.answered_by)


_NOBODY = re.compile(r"me|myself|i|ich|moi|yo|nobody|none|tb[ad]|\?+|x+|test", re.IGNORECASE)


def answers_still_count(draft: Draft) -> Iterator[Problem]:
    """A yes to live eggs without a day, or too old, holds every parcel of the service."""
    most = draft.settings.plan.answer_age_days if draft.settings else 0
    for row in draft.services:
        if row.live_eggs != "yes" or row.is_collection or not most:
            continue
        if row.answered_on is None:
            text = "is blank: the operator's yes does not count."
            yield noted(row, "answered_on", "ask-post", text, "Write the day the operator answered.")
        elif most < (days := (draft.today - row.answered_on).days):
            text = "{day} is {days} days ago: the operator's yes no longer counts."
            mend = "Ask again, or look at the year."
            yield noted(row, "answered_on", "ask-post", text, mend, day=row.answered_on, days=days)


def borders_hold_parcels(draft: Draft) -> Iterator[Problem]:
    """A way into another customs ground on which nothing is ever held, where on others some is."""
    if draft.settings is None or not any(row.border_share for row in draft.services):
        return
    home = draft.settings.home.country
    ground = EU if home in EU else frozenset({home})
    least = min(row.border_share for row in draft.services if row.border_share)
    shares = [row.border_share for row in draft.services if row.border_share >= LIKE_OTHERS * least]
    for row in draft.services:
        abroad = [place for place in row.to if place not in ground and is_country(place)]
        if row.border_share == least and len(shares) > 1:
            text = say("{share:g}, and other services have {other:g} at least.", least, min(shares))
            yield from asked(draft, row, "border_share", text, say("Look at the point"))
        if abroad and row.border_share == 0 and not row.is_collection:
            text = "is 0: no parcel to {places} would ever be held at the border."
            mend = say("Write the share of parcels held, and border days")
            yield from asked(draft, row, "border_share", text, mend, places=" ".join(abroad))


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
        others = {
            service: [float(other.price) for other in beside if other.service != service]
            for service in {row.service for row in beside}
        }
        usual = {service: median(prices) for service, prices in others.items() if prices}
        for row in beside if usual else ():
            near = usual[row.service] / DEARER_TIMES, usual[row.service] * DEARER_TIMES
            if row.at.row not in told and not near[0] <= float(row.price) <= near[1]:
                told.update(one.at.row for one in (beside if len(beside) == 2 else (row,)))
                text = "{price} is far from {other:.2f}, what others ask for that weight."
                yield from asked(draft, row, "price", text, "Look at the point", other=usual[row.service])
    for steps in grouped(
        ((row.service, row.to, row.up_to_mm), row) for row in draft.postage if row.price
    ).values():
        by_weight = sorted(steps, key=lambda row: row.up_to_g)
        for lighter, heavier in pairwise(by_weight):
            if float(heavier.price) > STEP_TIMES * float(lighter.price) and lighter.at.row not in told:
                text = "{price} is far from {other:.2f}, the next step's."
                mend = say("Look at the point")
                yield from asked(draft, lighter, "price", text, mend, other=float(heavier.price))


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


#: A zone's country farther than this from all its others, which lie so near each other, has a code mistyped
#: [km].
LONELY_KM, TOGETHER_KM, LEAST_OF_A_ZONE = 5000, 2500, 4


def zones_lie_together(draft: Draft) -> Iterator[Problem]:
    """One country of a zone an ocean away from all others: AU for AT."""
    for zone in draft.zones:
        if len(zone.countries) < LEAST_OF_A_ZONE:
            continue
        nearest = {
            one: min((_km(one, other) for other in zone.countries if other != one), default=0.0)
            for one in zone.countries
        }
        far = [one for one, km in nearest.items() if km > LONELY_KM]
        if len(far) == 1 and all(km < TOGETHER_KM for one, km in nearest.items() if one != far[0]):
            text = say("{country} ({name}) lies far from all others of the zone.", far[0], name_of(far[0]))
            yield from asked(draft, zone, "countries", text, say("Look at the code"))


def _km(one: str, other: str) -> float:
    km = km_between_countries(one.partition("-")[0], other.partition("-")[0])
    return 0.0 if km is None else km


def days_are_of_the_distance(draft: Draft) -> Iterator[Problem]:
    """A service overnight across an ocean, or weeks on the way next door."""
    home = draft.settings.home.country if draft.settings else ""
    for row in draft.services:
        countries = {one for place in row.to for one in draft.zone_countries.get(place, (place,))}
        far = [km_between_countries(home, one.partition("-")[0]) for one in sorted(countries)]
        known = [km for km in far if km is not None]
        if row.is_collection or not known:
            continue
        km = median(known)
        if (row.usual_d <= 1 and km > OVERNIGHT_KM) or (row.usual_d <= 2 and km > TWO_DAYS_KM):
            text = say("{days:g} is short for some {km:.0f} km.", row.usual_d, round(km, -2))
            yield from asked(draft, row, "usual_d", text, "Write the working days")
        if row.usual_d > LONGEST_NEAR_D and len(known) == len(far) and max(known) < NEAR_KM:
            text = say("{days:g} is long within {km} km.", row.usual_d, NEAR_KM)
            yield from asked(draft, row, "usual_d", text, "Write the working days")


#: So many times the usual days is late for a service whose days are known. Assumed.
LATEST_TIMES = 5


def services_days_hang_together(draft: Draft) -> Iterator[Problem]:
    """The late day is at most some times the usual, no stretch longer than the way; what is posted costs."""
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


#: The widest span of a parcel's warmth in one month, and how long one spell of weather lasts. Assumed.
WIDEST_SPAN_C = 30
LONGEST_SPELL_D = 62
#: How far ahead a row of days is written, and how long ago one stays. Assumed.
AHEAD_D = 75
#: So far above what the program would take, or so far below the mean outdoors, the low and the high of a row
#: of weather have their unit, sign or month mistyped; a part of a country may be so much further off [K].
#: Assumed.
LOW_OF_HEATED_C, HEATED_SPAN_C = 4, 4  # where low and high are so near, the way is heated all along
LOW_ABOVE_C, HIGH_ABOVE_C, LOW_BELOW_C, HIGH_BELOW_C, OF_A_PART_C = -2, 12, 28, 8, 10
#: A disruption that begins later is written for the year before. Assumed.
FARTHEST_AHEAD_D = 270
#: A disruption longer than this is a way that is closed. Assumed.
MOST_DAYS_LONGER = 15


def weather_is_of_this_year(draft: Draft) -> Iterator[Problem]:
    """A span no month has, a spell of months, and days a year ago that mean those ahead."""
    for row in draft.weather:
        if row.high_c - row.low_c > WIDEST_SPAN_C:
            text = "{low_c:g} to {high_c:g} °C within one parcel's days."
            yield from asked(draft, row, "low_c", text, "Look at sign and point")
        if row.from_ and row.until and (days := (row.until - row.from_).days) > LONGEST_SPELL_D:
            text = say("{day} is {days} days after from, {from}.", row.until, days, row.from_)
            yield from asked(draft, row, "until", text, "Look at day, month and year")
    dated: tuple[Weather | Disruption, ...] = (*draft.weather, *draft.disruptions)
    for spell in dated:
        if spell.from_ and spell.until and _means_next(draft.today, spell.from_, spell.until):
            text = "{day} is past, and the same days are ahead of the year after."
            yield from asked(draft, spell, "until", text, "Look at the year", day=spell.until)


def _means_next(today: date, begin: date, until: date) -> bool:
    """Past days that a year later lie in the weeks ahead."""
    ahead = begin + timedelta(days=365)
    return until < today <= until + timedelta(days=366) and today <= ahead <= today + timedelta(days=AHEAD_D)


def weather_is_of_its_place(draft: Draft) -> Iterator[Problem]:
    """A row far off the normals of its place and month: degrees Fahrenheit, another month, a sign."""
    if draft.settings is None:
        return
    margins, bounds = draft.settings.warmth, [one for one in BOUNDS if one.table == "weather"]
    coldest = _coldest_of_all_others(draft)
    for row in draft.weather:
        is_asked_about = any(one.text(getattr(row, one.column)) for one in bounds)
        if is_asked_about or row.high_c - row.low_c > WIDEST_SPAN_C:
            continue
        country, _, part = (coldest if row.to == "*" else row.to).partition("-")
        countries = draft.zone_countries.get(row.to, (country,))
        places = [place for one in countries for place in climate_places().get(one, ())]
        months = _months_of(row)
        means = [place.means_c[month - 1] for place in places for month in months]
        if not means:
            continue
        low = parcel_mean_c(min(means)) - margins.cold_margin_c
        high = parcel_mean_c(max(means)) + margins.hot_margin_c
        wider = OF_A_PART_C if part else 0
        is_hot = row.high_c > high + HIGH_ABOVE_C + wider
        is_wintry = row.high_c < min(means) - HIGH_BELOW_C - wider
        is_cold = row.low_c < min(means) - LOW_BELOW_C - wider
        above = LOW_ABOVE_C if row.high_c - row.low_c > HEATED_SPAN_C else LOW_OF_HEATED_C
        if is_hot or is_wintry or is_cold or row.low_c > high + above + wider:
            column = "high_c" if is_hot or is_wintry else "low_c"
            text = "{value:g} °C is far from {low:.0f} to {high:.0f}, usual there at that time of year."
            mend = say("Look at unit, sign and month")
            yield from asked(draft, row, column, text, mend, value=getattr(row, column), low=low, high=high)


def _coldest_of_all_others(draft: Draft) -> str:
    """Of the countries that orders go to, and no row names, the coldest: a row for everywhere is its row."""
    named = {one for row in draft.weather for one in _countries_of(draft, row.to)}
    means = {
        country: min(min(place.means_c) for place in places)
        for country in {row.country for row in draft.first_rows} - named
        if (places := climate_places().get(country, ()))
    }
    return min(sorted(means), key=means.__getitem__, default="*")


def _months_of(row: Weather) -> tuple[int, ...]:
    """The months that a row is of: its own, or those in which its days lie."""
    if row.month is not None:
        return (row.month,)
    if row.from_ is None or row.until is None:
        return ()
    days = range((row.until - row.from_).days + 1)
    return tuple(sorted({(row.from_ + timedelta(days=day)).month for day in days}))


def disruptions_meet_a_way(draft: Draft) -> Iterator[Problem]:
    """A disruption or postage of a place or a service that nothing goes by changes nothing."""
    reached: dict[str | None, set[str]] = {None: set()}
    for way in draft.services:
        places = {one for to in way.to for one in _countries_of(draft, to)}
        reached[None] |= places
        reached[way.service] = reached.get(way.service, set()) | places
    home = draft.settings.home.country if draft.settings else ""
    for row in draft.disruptions:
        if row.days > MOST_DAYS_LONGER:
            text = "{days:g} working days longer."
            yield from asked(draft, row, "days", text, "Write it in working days, or yes in stopped")
        if (days := (row.from_ - draft.today).days) > FARTHEST_AHEAD_D:
            text = "{day} is {days} days ahead."
            yield from asked(draft, row, "from_", text, say("Look at the year"), day=row.from_, days=days)
    told: tuple[Disruption | Postage, ...] = (*draft.disruptions, *draft.postage)
    for named in told:
        ways = reached.get(named.service)
        if not ways or {home, "*"} & set(named.to) or "services" not in draft.complete:
            continue
        there = {one for place in named.to for one in _countries_of(draft, place)}
        if "*" not in ways and not there & ways:
            text = "no service goes to {places} that way: the row changes nothing."
            mend = say("Look at place and service")
            yield from asked(draft, named, "to", text, mend, places=" ".join(named.to))


def _countries_of(draft: Draft, place: str) -> tuple[str, ...]:
    return draft.zone_countries.get(place, (place.partition("-")[0],))


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
#: Between the month's extremes and the next month's lie fewer degrees, wherever people live. Assumed.
MONTHLY_STEP_C = 9


def months_by_place(draft: Draft) -> dict[str, dict[int, Weather]]:
    """The first row of each month of each place."""
    places: dict[str, dict[int, Weather]] = {}
    for row in draft.weather:
        if row.month is not None:
            places.setdefault(row.to, {}).setdefault(row.month, row)
    return places


def months_follow_each_other(draft: Draft) -> Iterator[Problem]:
    """A place's month is not another season than the month before it."""
    for months in months_by_place(draft).values():
        for month, row in months.items():
            beside = (month % 12 + 1, (month - 2) % 12 + 1)
            neighbours = [months[near] for near in beside if near in months]
            for column in ("low_c", "high_c"):
                here = getattr(row, column)
                step = min((abs(here - getattr(near, column)) for near in neighbours), default=0.0)
                if step > MONTHLY_STEP_C:
                    text = say("{here:g} is {step:g} degrees from the month beside it.", here, round(step, 1))
                    yield from asked(draft, row, column, text, "Look at sign and point")

"""The care of a parcel's fish: a parcel in, pages out, from the species' table and the wording."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING

from shipping.eggs.pairs import pair_chances
from shipping.papers.documents.contents import (
    MARKS,
    PaperInputs,
    Unit,
    basis,
    dates_for_buyer,
    is_ours,
    is_wetted_on_arrival,
    keep_basis,
    marks_key,
    own_words,
    units_of,
)
from shipping.papers.documents.slip import eggs_words, footer, kept_words, lot_words, population_words
from shipping.papers.page.layout import BODY
from shipping.papers.page.pdf_file import PaperSheet, fitted
from shipping.papers.page.typesetter import Typesetter
from shipping.papers.wording.language import clean, dated_day, full_day, number, share
from shipping.papers.wording.phrases import Wording, escaped
from shipping.tables.rows.species import Species
from shipping.week.plan_data import Parcel
from shipping.words.keys import grouped

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

#: Fine cultures take about a week, brine-shrimp eggs about two days (common practice, no source).
CULTURE_DAYS = 7
SHRIMP_DAYS = 2
#: Fry from eggs under this diameter mostly cannot take nauplii at once [mm] (common practice, no source).
SMALL_EGG_MM = 1.1
#: Fry of this genus take nauplii from their first day (common practice, from memory).
NAUPLII_AT_ONCE = "Nothobranchius"
#: Full length up to so many cm -> litres for a pair or trio (common practice, no source).
TANKS = ((4.0, 12), (6.0, 25), (9.0, 50), (15.0, 100))
#: Chances of pairs are reckoned from at most so many eggs: beyond, they are as good as certain.
MOST_EGGS = 300
#: The first word of a water note, in the papers' languages.
_WATER_WORDS = {
    "soft": ("soft", "weich", "weiches", "douce", "blanda"),
    "hard": ("hard", "hart", "hartes", "dure", "dura"),
    "brackish": ("brackish", "brackig", "brackiges", "saumâtre", "salobre"),
}
_FINE_FOODS = ("infusoria", "paramecia", "vinegar eels", "rotifers")
#: So many fish stand on one page; of more, as few pages are filled as are read with ease.
_ON_A_PAGE = 2


def care_sheet(parcel: Parcel, inputs: PaperInputs) -> PaperSheet:
    """How to care for all in a parcel: a part a fish and way of keeping, then what holds for all."""
    wording = inputs.wording_for(parcel)
    groups = fish_of(parcel, inputs)
    told: dict[str, str] = {}
    parts = []
    for units in groups:
        text = fish_markdown(units, parcel, inputs, wording, told)
        parts.append((_fish_title(units, inputs, wording), text))
    heat = any(unit.packing.heat_pack_h for units in groups for unit in units)
    shared = wording.markdown("care-shared", heat_pack=heat)
    marks = marks_key(" ".join(text for _, text in parts), wording)
    key = wording.term("figures_key", marks=marks or "–")

    def build(setter: Typesetter) -> list[Flowable]:
        blocks: list[Flowable] = []
        for (name, below), text in parts:
            blocks += [setter.heading(name, BODY + 2.6), setter.small(below, after=1.0, keep=True)]
            blocks += setter.markdown(text, BODY * 0.94)
        return [*blocks, *setter.markdown(shared, BODY * 0.94), setter.small(key)]

    title = wording.term("care_title")
    return PaperSheet(
        title=title,
        below=wording.term("water_hatched"),
        corner=parcel.parcel,
        story=fitted(build, inputs.typeface, inputs.paper, 2, 1 if len(parts) <= _ON_A_PAGE else 2),
        foot=footer(parcel.parcel, title, inputs.today, wording),
        paper=inputs.paper,
        language=wording.language,
        columns=2,
        outline=(clean(f"{parcel.parcel} {parcel.address.addressee}"), title),
        fresh_leaf=False,
    )


def fish_of(parcel: Parcel, inputs: PaperInputs) -> tuple[tuple[Unit, ...], ...]:
    """The units of a parcel, by species, way of care and days to wet, in the order they are packed."""

    def kind(unit: Unit) -> tuple[object, ...]:
        damp = unit.care == "damp"
        return unit.species.species, unit.care, dates_for_buyer(unit, parcel) if damp else None

    return tuple(map(tuple, grouped((kind(unit), unit) for unit in units_of(parcel, inputs.shelf)).values()))


def fish_markdown(
    units: tuple[Unit, ...], parcel: Parcel, inputs: PaperInputs, wording: Wording, told: dict[str, str]
) -> str:
    """What the sheet says of one fish that is cared for in one way.

    ``told`` is which fish of the sheet said a point first, with its lots where it has several parts: others
    point to it; those of this one are added.
    """
    species = units[0].species
    fields = _fields(parcel, units, inputs, wording)
    note = own_words(species.water_note, inputs, wording)
    water = {"water_note": note + basis(species, "water") if note else "", "salt": _salt(units, wording)}
    care, kind = _template(units[0], wording), f"water-{water_kind(species)}"
    texts = [wording.markdown(care, **fields), wording.markdown(kind, **water)]
    parts = sum(other[0].species is species for other in fish_of(parcel, inputs))
    fish = f"{fields['scientific']} {fields['lot']}" if parts > 1 else str(fields["scientific"])
    lines = _pointing_back("\n".join(texts), fish, fields, told, wording)
    lines += [wording.markdown("care-chances", **said) for said in _chances_of_each(units, wording)]
    return "\n".join(lines)


#: What a point of a sheet is about: its words in bold, or those before a colon.
_LEAD = re.compile(r"- (?:\*\*(.+?)\*\*|([^:*]+?)\s?:)")
#: The fish's own days and figures: a point with one of them is said in full at every fish.
_OWN = ("hatch_from", "hatch_until", "culture_on", "shrimp_on", "kept_at", "adult")


def _pointing_back(
    text: str, fish: str, fields: Mapping[str, object], told: dict[str, str], wording: Wording
) -> list[str]:
    """The lines of the text; those that an earlier fish has word for word are named in the first."""
    own = [str(escaped(fields[name])) for name in _OWN if fields[name]]
    kept: list[str] = []
    back: dict[str, list[str]] = {}
    for line in text.splitlines():
        lead = _LEAD.match(line)
        first = told.setdefault(line, fish)
        if lead is None or first == fish or any(figure in line for figure in own):
            kept.append(line)
        else:
            back.setdefault(first, []).append((lead[1] or lead[2]).rstrip(" .:\u00a0"))
    return [
        _point(wording.term("as_for", fish=first), leads, wording) for first, leads in back.items()
    ] + kept


def _point(topic: str, leads: Sequence[str], wording: Wording) -> str:
    said = wording.term("of_topic", topic=topic[0].upper() + topic[1:], said="")
    return f"- **{escaped(said)}** {' · '.join(leads)}"


def _fish_title(units: tuple[Unit, ...], inputs: PaperInputs, wording: Wording) -> tuple[str, str]:
    """The fish's name, and below it its common name, population, lots and count."""
    species = units[0].species
    lots = ", ".join(dict.fromkeys(clean(unit.lot.lot) for unit in units))
    population = ", ".join(dict.fromkeys(population_words(unit.lot.population, wording) for unit in units))
    count = wording.term("care_corner", count=eggs_words(units, wording))
    common = common_words(species, inputs, wording)
    below = (common, population, lot_words(lots, wording), count)
    return clean(species.scientific_name), " · ".join(part for part in below if part)


def _template(unit: Unit, wording: Wording) -> str:
    """The breeder's own wording if the species names one that exists, else the one for its way of care."""
    care = unit.species.care
    return f"care-{care}" if care and wording.has(f"care-{care}") else f"care-{unit.care}"


def common_words(species: Species, inputs: PaperInputs, wording: Wording) -> str:
    """The fish's common name in the page's language; "" where only another language's name is known."""
    name = clean(species.common_name)
    known = wording.said(name) if name else None
    if known is not None or not name:
        return "" if known in (None, "–") else str(known)
    is_its_own = wording.language == inputs.own_language or (
        is_ours(name, inputs) and wording.language == "en"
    )
    return name if is_its_own else ""


def water_kind(species: Species) -> str:
    """``soft``, ``hard`` or ``brackish`` by the first word of the water note, else ``any``."""
    first = species.water_note.replace(",", " ").casefold().split()[:1]
    return next((kind for kind, words in _WATER_WORDS.items() if first and first[0] in words), "any")


def _salt(units: tuple[Unit, ...], wording: Wording) -> str:
    salts = sorted({unit.lot.salt_g_l for unit in units if unit.lot.salt_g_l})
    return " / ".join(number(salt, wording.language) for salt in salts)


def _fields(
    parcel: Parcel, units: tuple[Unit, ...], inputs: PaperInputs, wording: Wording
) -> dict[str, object]:
    """What a care template may say; "" where it is not known."""
    species, language = units[0].species, wording.language

    def figure(value: float | None, unit: str, mark: str) -> str:
        return f"{number(value, language)}\u00a0{unit}{mark}" if value is not None else ""

    def words(text: str, topic: str) -> str:
        return own_words(text, inputs, wording) + basis(species, topic) if text else ""

    cue_wets = "after wetting" in species.cue
    said_day = dated_day if units[0].care == "damp" else full_day
    first, middle, last = hatch_span(units, parcel)
    span = {"hatch_from": first, "hatch_usual": middle, "hatch_until": last}
    arrives = parcel.arrive.p05 or parcel.dispatch_on
    treatments = dict.fromkeys(own_words(u.lot.treatment, inputs, wording) for u in units if u.lot.treatment)
    low_mark, high_mark = keep_basis(species)
    is_assumed = species.zero_basis == "assumed" and not all(unit.has_own_days for unit in units)
    media = dict.fromkeys(wording.term(f"medium_{unit.medium}") for unit in units)
    return {name: said_day(when, language) if when else "" for name, when in span.items()} | {
        "wet_at_once": all(is_wetted_on_arrival(unit, parcel) for unit in units),
        "hatch_basis": MARKS["assumed"] if is_assumed else "",
        "fish": common_words(species, inputs, wording) or clean(species.scientific_name),
        "scientific": clean(species.scientific_name),
        "population": population_words(units[0].lot.population, wording),
        "count": eggs_words(units, wording),
        "lot": ", ".join(dict.fromkeys(clean(unit.lot.lot) for unit in units)),
        "medium": " / ".join(media),
        "kept_at": kept_words(units, wording),
        "low": figure(species.keep_min_c, "°C", low_mark),
        "high": figure(species.keep_max_c, "°C", high_mark),
        "depth": figure(species.hatch_depth_mm, "mm", basis(species, "hatching depth")),
        "salt": _salt(units, wording),
        "treatment": ", ".join(treatments),
        "cue": words(species.cue, "cue") if units[0].care != "water" or not cue_wets else "",
        "cue_wets": cue_wets,
        "first_food": words(species.first_food, "first food"),
        "small_fry": has_small_fry(species),
        "egg_size": figure(species.egg_mm, "mm", basis(species, "egg size")),
        "culture_on": _start(first or arrives, CULTURE_DAYS, arrives, said_day, wording),
        "shrimp_on": _start(first or arrives, SHRIMP_DAYS, arrives, said_day, wording),
        "adult": figure(species.adult_cm, "cm", basis(species, "adult size")),
        "tank": tank_litres(species.adult_cm),
        "water_note": own_words(species.water_note, inputs, wording),
    }


def hatch_span(units: tuple[Unit, ...], parcel: Parcel) -> tuple[date | None, date | None, date | None]:
    """First 5 %, egg-weighted middle and last 95 % day of units with dates; three None where none has."""
    days = [(dates_for_buyer(unit, parcel), unit.eggs) for unit in units]
    dated = sorted((each.p50, eggs) for each, eggs in days if each.p50)
    firsts = [each.p05 for each, _ in days if each.p05]
    lasts = [each.p95 for each, _ in days if each.p95]
    if not (firsts and lasts):
        return None, None, None
    if not dated:
        return min(firsts), None, max(lasts)
    half, so_far = sum(eggs for _, eggs in dated) / 2, 0
    for middle, eggs in dated:
        so_far += eggs
        if so_far >= half:
            return min(firsts), middle, max(lasts)
    raise AssertionError("the halves of a count do not reach its middle")


def has_small_fry(species: Species) -> bool:
    """Do the fry need finer food than nauplii at first? By the first food, else by the egg's size."""
    food = species.first_food.casefold()
    if species.scientific_name.split()[:1] == [NAUPLII_AT_ONCE]:
        return False
    if food:
        return any(fine in food for fine in _FINE_FOODS)
    return species.egg_mm is not None and species.egg_mm < SMALL_EGG_MM


def tank_litres(adult_cm: float | None) -> str:
    """Litres for a pair or trio of fish of that full length; "" where it is not known."""
    if adult_cm is None:
        return ""
    return str(next((litres for up_to, litres in TANKS if adult_cm <= up_to), 200))


def _start(
    due: date, days: int, arrives: date, said_day: Callable[[date, str], str], wording: Wording
) -> str:
    """The day to begin something that takes so many days; the day of arrival where that is later."""
    when = due - timedelta(days=days)
    if when <= arrives:
        return wording.term("at_once")
    return wording.term("on_day", day=said_day(when, wording.language))


def _chances_of_each(units: tuple[Unit, ...], wording: Wording) -> list[dict[str, object]]:
    """The chances of pairs of each population by itself, since they are never mixed; named where several."""
    populations = grouped((population_words(unit.lot.population, wording), unit) for unit in units)
    return [
        _chances(own[0].species, sum(unit.eggs for unit in own), eggs_words(own, wording), wording)
        | {"population": name if len(populations) > 1 else ""}
        for name, own in populations.items()
    ]


def _chances(species: Species, eggs: int, count: str, wording: Wording) -> dict[str, object]:
    shares = (species.hatch_share, species.raise_share, species.female_share)
    names = ("hatch_share", "raise_share", "female_share")
    fields: dict[str, object] = dict.fromkeys((*names, "one_pair", "two_pairs", "trio"), "")
    fields["count"] = count
    if None in shares:
        return fields
    hatch, grow, female = (value for value in shares if value is not None)
    chances = _pairs(min(eggs, MOST_EGGS), hatch * grow, female, species.sex_kappa)
    mark = basis(species, "shares")
    for name, value in zip(names, (hatch, grow, female), strict=True):
        fields[name] = share(value, wording.language) + mark
    for name, value in zip(("one_pair", "two_pairs", "trio"), chances, strict=True):
        fields[name] = share(value, wording.language)
    return fields


@lru_cache(maxsize=4096)
def _pairs(eggs: int, grown: float, female: float, sex_kappa: float) -> tuple[float, float, float]:
    chances = pair_chances(eggs, grown, female, sex_kappa)
    return chances["pair"], chances["two pairs"], chances["trio"]

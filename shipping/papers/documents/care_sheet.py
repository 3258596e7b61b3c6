"""The care sheet: one species of a parcel in, a sheet out, put together from the species' table and the
wording.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache

from shipping.eggs.pairs import pair_chances
from shipping.papers.documents.contents import Desk, Unit, basis, is_ours, own_words, source_words, units_of
from shipping.papers.documents.slip import count_words, footer, population_words
from shipping.papers.page import layout
from shipping.papers.page.blocks import Block, Heading, Panel, Paragraph, Sheet, plain
from shipping.papers.wording.language import clean, full_day, number, paper_language, share
from shipping.papers.wording.markdown import blocks_of
from shipping.papers.wording.phrases import Wording
from shipping.tables.rows.species import Species
from shipping.week.plan_data import Parcel

#: Fine cultures take about a week, brine-shrimp eggs about two days (common practice, no source).
CULTURE_DAYS = 7
SHRIMP_DAYS = 2
#: Fry from eggs under this diameter mostly cannot take nauplii at once [mm] (common practice, no source).
SMALL_EGG_MM = 1.1
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


def care_sheets(parcel: Parcel, desk: Desk) -> tuple[tuple[str, Sheet], ...]:
    """(species key, its care sheet) for each species of the parcel, in the order they are packed."""
    groups: dict[str, list[Unit]] = {}
    for unit in units_of(parcel, desk.shelf):
        groups.setdefault(unit.species.species, []).append(unit)
    return tuple((key, _sheet(parcel, tuple(units), desk)) for key, units in groups.items())


def _sheet(parcel: Parcel, units: tuple[Unit, ...], desk: Desk) -> Sheet:
    wording = desk.wording(paper_language(parcel.language))
    species, language = units[0].species, wording.language
    eggs = sum(unit.eggs for unit in units)
    count = count_words(eggs, any(unit.about for unit in units), wording)
    title = wording.term("care_title")
    name = clean(species.scientific_name)
    lots = ", ".join(dict.fromkeys(clean(unit.lot.lot) for unit in units))
    blocks: list[Block] = []
    kinds = dict.fromkeys(unit.lot.kept_damp for unit in units)
    for damp in kinds:
        own = tuple(unit for unit in units if unit.lot.kept_damp == damp)
        template = _template(species, damp, wording)
        blocks += blocks_of(wording.markdown(template, **_fields(parcel, own, desk, wording)))
    blocks.insert(0, _water(species, units, desk, wording))
    blocks += blocks_of(wording.markdown("care-chances", **_chances(species, eggs, count, wording)))
    blocks += blocks_of(wording.markdown("care-cautions"))
    blocks += _sources(species, desk, wording)
    common_name = common_words(species, desk, wording)
    common = f" · {common_name}" if common_name else ""
    population = ", ".join(dict.fromkeys(population_words(unit.lot.population, wording) for unit in units))
    return Sheet(
        title=name,
        below=f"{title}{common} · {population} · {wording.term('lot')} {lots}",
        corner=wording.term("care_corner", count=count),
        blocks=tuple(blocks),
        footer=footer(parcel.parcel, wording.term("of_topic", topic=title, said=name), desk.today, wording),
        paper=desk.shelf.settings.papers.paper,
        language=language,
    )


def _template(species: Species, damp: bool, wording: Wording) -> str:
    """The breeder's own wording if the species names one that exists, else the one for its way of
    incubation.
    """
    if species.care and wording.has(f"care-{species.care}"):
        return f"care-{species.care}"
    return "care-damp" if damp else "care-water"


def common_words(species: Species, desk: Desk, wording: Wording) -> str:
    """The fish's common name in the page's language; "" where only another language's name is known."""
    name = clean(species.common_name)
    known = wording.said(name) if name else None
    if known is not None or not name:
        return "" if known in (None, "–") else str(known)
    return (
        name
        if wording.language == desk.own_language or (is_ours(name, desk) and wording.language == "en")
        else ""
    )


def water_kind(species: Species) -> str:
    """``soft``, ``hard`` or ``brackish`` by the first word of the water note, else ``any``."""
    first = species.water_note.replace(",", " ").casefold().split()[:1]
    return next((kind for kind, words in _WATER_WORDS.items() if first and first[0] in words), "any")


def _water(species: Species, units: tuple[Unit, ...], desk: Desk, wording: Wording) -> Block:
    note = own_words(species.water_note, desk, wording)
    fields = {
        "water_note": note + basis(species, "water", wording) if note else "",
        "salt": _salt(units, wording),
    }
    return Panel(blocks_of(wording.markdown(f"water-{water_kind(species)}", **fields)))


def _salt(units: tuple[Unit, ...], wording: Wording) -> str:
    salts = sorted({unit.lot.salt_g_l for unit in units if unit.lot.salt_g_l})
    return " / ".join(number(salt, wording.language) for salt in salts)


def _fields(parcel: Parcel, units: tuple[Unit, ...], desk: Desk, wording: Wording) -> dict[str, object]:
    """What a care template may say; "" where it is not known."""
    species, language = units[0].species, wording.language

    def figure(value: float | None, unit: str, topic: str) -> str:
        return (
            f"{number(value, language)}\u00a0{unit}{basis(species, topic, wording)}"
            if value is not None
            else ""
        )

    first, middle, last = hatch_span(units)
    days = {"hatch_from": first, "hatch_usual": middle, "hatch_until": last}
    about = any(unit.about for unit in units)
    fields: dict[str, object] = {
        name: full_day(when, language) if when else "" for name, when in days.items()
    }
    due = first or parcel.arrive.p50 or parcel.dispatch_on
    fields |= {
        "hatch_basis": wording.term("dates_assumed") if species.zero_basis == "assumed" else "",
        "fish": common_words(species, desk, wording) or clean(species.scientific_name),
        "scientific": clean(species.scientific_name),
        "population": population_words(units[0].lot.population, wording),
        "count": count_words(sum(unit.eggs for unit in units), about, wording),
        "lot": ", ".join(dict.fromkeys(clean(unit.lot.lot) for unit in units)),
        "medium": wording.term(f"medium_{units[0].lot.medium}"),
        "kept_at": " / ".join(
            f"{number(c, language)}\u00a0°C" for c in sorted({unit.lot.kept_at_c for unit in units})
        ),
        "low": f"{number(species.keep_min_c, language)}\u00a0°C" if species.keep_min_c is not None else "",
        "high": figure(species.keep_max_c, "°C", "keep range"),
        "depth": figure(species.hatch_depth_mm, "mm", "hatching depth"),
        "salt": _salt(units, wording),
        "treatment": ", ".join(
            dict.fromkeys(own_words(u.lot.treatment, desk, wording) for u in units if u.lot.treatment)
        ),
        "cue": own_words(species.cue, desk, wording) + basis(species, "cue", wording) if species.cue else "",
        "first_food": (
            own_words(species.first_food, desk, wording) + basis(species, "first food", wording)
            if species.first_food
            else ""
        ),
        "small_fry": has_small_fry(species),
        "egg_size": figure(species.egg_mm, "mm", "egg size"),
        "culture_on": _start(due, CULTURE_DAYS, desk.today, wording),
        "shrimp_on": _start(due, SHRIMP_DAYS, desk.today, wording),
        "adult": figure(species.adult_cm, "cm", "adult size"),
        "tank": tank_litres(species.adult_cm),
        "water_note": own_words(species.water_note, desk, wording),
    }
    return fields


def hatch_span(units: tuple[Unit, ...]) -> tuple[date | None, date | None, date | None]:
    """First 5 %, egg-weighted middle, and last 95 % day of the units that have dates; three None where none
    has.
    """
    dated = sorted((unit.draw.hatch.p50, unit.eggs) for unit in units if unit.draw.hatch.p50)
    firsts = [unit.draw.hatch.p05 for unit in units if unit.draw.hatch.p05]
    lasts = [unit.draw.hatch.p95 for unit in units if unit.draw.hatch.p95]
    if not (dated and firsts and lasts):
        return None, None, None
    half, so_far = sum(eggs for _, eggs in dated) / 2, 0
    for middle, eggs in dated:
        so_far += eggs
        if so_far >= half:
            return min(firsts), middle, max(lasts)
    raise AssertionError("the halves of a count do not reach its middle")


def has_small_fry(species: Species) -> bool:
    """Do the fry need finer food than nauplii at first? By the species' first food, else by its egg's
    size.
    """
    food = species.first_food.casefold()
    if food:
        return any(fine in food for fine in _FINE_FOODS)
    return species.egg_mm is not None and species.egg_mm < SMALL_EGG_MM


def tank_litres(adult_cm: float | None) -> str:
    """Litres for a pair or trio of fish of that full length; "" where it is not known."""
    if adult_cm is None:
        return ""
    return str(next((litres for up_to, litres in TANKS if adult_cm <= up_to), 200))


def _start(due: date, days: int, today: date, wording: Wording) -> str:
    """The day to begin something that takes so many days, or ``at once``."""
    when = due - timedelta(days=days)
    return (
        wording.term("on_day", day=full_day(when, wording.language))
        if when > today
        else wording.term("at_once")
    )


def _chances(species: Species, eggs: int, count: str, wording: Wording) -> dict[str, object]:
    shares = (species.hatch_share, species.raise_share, species.female_share)
    names = ("hatch_share", "raise_share", "female_share")
    fields: dict[str, object] = dict.fromkeys((*names, "one_pair", "two_pairs", "trio"), "")
    fields["count"] = count
    if None in shares:
        return fields
    hatch, grow, female = (value for value in shares if value is not None)
    chances = _pairs(min(eggs, MOST_EGGS), hatch * grow, female)
    mark = basis(species, "shares", wording)
    for name, value in zip(names, (hatch, grow, female), strict=True):
        fields[name] = share(value, wording.language) + mark
    for name, value in zip(("one_pair", "two_pairs", "trio"), chances, strict=True):
        fields[name] = share(value, wording.language)
    return fields


@lru_cache(maxsize=4096)
def _pairs(eggs: int, grown: float, female: float) -> tuple[float, float, float]:
    chances = pair_chances(eggs, grown, female)
    return chances["pair"], chances["two pairs"], chances["trio"]


def _sources(species: Species, desk: Desk, wording: Wording) -> list[Block]:
    blocks: list[Block] = [Heading(wording.term("figures"))]
    for said in (wording.term("figures_note"), source_words(species.source, desk, wording)):
        if said:
            blocks.append(Paragraph(plain(said[0].upper() + said[1:]), size=layout.SMALL, quiet=True))
    return blocks

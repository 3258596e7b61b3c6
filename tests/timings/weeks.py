"""Weeks made up for timing and comparing planners: counts of orders and lots, a seed and a supply in, a shelf
in a folder out.

The same numbers give the same bytes. Buyers, streets, localities, prices and services are invented; species,
towns and holidays are real. Rules are those of the demo week; its weather is winter as the program itself
would assume it, in which little could go anywhere, so packings, boxes and a milder weather stand beside this
module. How a week is made:

- Orders first, placed over the last six weeks, of 1 to 3 lines of 10 to 50 eggs, priced by eggs with noise (a
  little less
  an egg for more), to 25 open countries; home and near buyers have three services each, of very different
  price and speed.
- `BLOCKED` shares of them cannot be served by anybody, whatever their age; with those whom no lot can reach
  alive and those
  who want more than any lot has, that is 10 to 14 in 100.
- Then lots, locality by locality with noise, so that some are short. Lots of one locality differ in age as a
  pair's weekly
  lots do: the youngest show eyes in mid-week only and can reach far buyers, the oldest reach near ones only,
  by quick and dear services in the first days. Whoever sends each order the cheapest way, oldest first,
  spends young lots and early days on buyers who could have had others.
- A `Supply` says how many eggs lots hold for each that the other orders want, and how many parcels a day
  takes for a fifth
  of those orders. In a `USUAL` week nearly all of them can go where lots and days are chosen well, and oldest
  order first leaves 17 to 22 in 100 of them. In a `SHORT` one lots hold about what is wanted with its extra,
  so that some must stay, and oldest order first leaves 26 to 31 in 100. Most far services are not handed over
  every day.
"""

from __future__ import annotations

import csv
import math
import random
import shutil
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate
from pathlib import Path

from shipping.words.units import shipped_folder

#: (orders, lots) of the weeks that are timed; and the Monday they begin on.
WEEKS = ((40, 30), (100, 60), (300, 150), (1000, 400), (10_000, 2_000), (100_000, 10_000))
TODAY = date(2026, 11, 30)
#: Tables of packings, boxes and weather.
MILD = Path(__file__).parent / "mild_weather"
#: Shares of the orders that nobody can serve: no such locality, a place closed, to be asked or not looked up
#: of late, a
#: species closed there, not paid, not to be posted before next week, more eggs than a scarce locality has.
BLOCKED = {"no-lot": 0.03, "place": 0.03, "species": 0.01, "unpaid": 0.02, "later": 0.01, "scarce": 0.02}
#: The share of the way to hatching that the youngest and the oldest lot of a locality have gone today.
YOUNGEST, OLDEST = 0.4, 0.75
#: Country: how often it orders, language, postcode, town, region. Below, countries that nothing goes to.
OPEN = {
    "DK": (20, "da", "8800", "Viborg", ""),
    "DE": (14, "de", "23552", "Lübeck", "DE-SH"),
    "NL": (7, "nl", "9401 AA", "Assen", ""),
    "FR": (7, "fr", "44000", "Nantes", ""),
    "BE": (4, "nl", "9000", "Gent", ""),
    "AT": (4, "de", "8010", "Graz", ""),
    "CZ": (4, "cs", "602 00", "Brno", ""),
    "HU": (2, "hu", "6720", "Szeged", ""),
    "IE": (2, "en", "T12 X70A", "Cork", ""),
    "LU": (1, "fr", "4001", "Esch", ""),
    "SE": (5, "sv", "211 20", "Malmö", ""),
    "FI": (2, "fi", "33100", "Tampere", ""),
    "EE": (1, "et", "51003", "Tartu", ""),
    "LT": (1, "lt", "01100", "Vilnius", ""),
    "LV": (1, "lv", "1050", "Riga", ""),
    "ES": (4, "es", "46001", "Valencia", "ES-VC"),
    "IT": (5, "it", "40121", "Bologna", ""),
    "PT": (2, "pt", "4000", "Porto", ""),
    "GR": (1, "el", "712 01", "Heraklion", ""),
    "SK": (2, "sk", "010 01", "Žilina", ""),
    "SI": (1, "sl", "2000", "Maribor", ""),
    "HR": (1, "hr", "10000", "Zagreb", ""),
    "RO": (2, "ro", "400001", "Cluj", ""),
    "GB": (4, "en", "YO99 9ZZ", "York", "GB-ENG"),
    "US": (3, "en", "97201", "Portland", "US-OR"),
}
SHUT = {
    "AU": (0, "en", "6000", "Perth", "AU-WA"),
    "JP": (0, "ja", "530-0001", "Osaka", ""),
    "PL": (0, "pl", "30-001", "Kraków", ""),
    "CH": (0, "de", "8001", "Zürich", "CH-ZH"),
    "TR": (0, "tr", "35010", "İzmir", ""),
}
PAPERS = {
    "GB": "importer authorisation;health certificate;import notice;licence to keep",
    "US": "import declaration;importer licence",
}
ZONES = {
    "NEAR": "AT BE CZ DE FR HU IE LU NL",
    "NORTH": "EE FI LT LV PL SE",
    "SOUTH": "ES GR IT PT",
    "EAST": "HR RO SI SK",
}
#: Service, to, early_d, usual_d, late_d, hand_over, exposed_h, border_share, and its price to 500 g and
#: above.
SERVICES = (
    ("quick letter", "DK", 1, 2, 3, "Mon Tue Wed Thu Fri", 12, 0, 4, 6),
    ("home parcel", "DK", 1, 2, 2, "Mon Tue Wed Thu Fri", 12, 0, 8, 11),
    ("courier", "DK", 1, 1, 1, "Mon Tue Wed Thu", 6, 0, 13, 17),
    ("letter abroad", "NEAR NORTH", 2, 4, 6, "Mon Tue Wed Thu Fri", 12, 0, 7, 10),
    ("parcel", "NEAR NORTH", 2, 3, 5, "Mon Tue Wed Thu Fri", 12, 0, 14, 19),
    ("courier", "NEAR", 1, 2, 2, "Mon Tue Wed Thu", 6, 0, 26, 32),
    ("parcel", "SOUTH EAST", 2, 4, 6, "Mon Tue Wed Thu", 12, 0, 17, 24),
    ("courier", "SOUTH EAST", 2, 2, 3, "Mon Tue Wed", 6, 0, 31, 38),
    ("parcel", "GB CH TR", 3, 5, 7, "Mon Tue Wed", 12, 0.3, 21, 29),
    ("courier", "GB CH TR", 2, 2, 4, "Mon Tue Wed", 6, 0.2, 38, 46),
    ("far parcel", "AU JP US", 4, 6, 9, "Mon Tue", 12, 0.3, 32, 48),
)
#: Species beside the demo's: key, name, family, incubation, hatch days early, usual, late, incubation_c,
#: source.
SPECIES = (
    (
        "bualanum",
        "Aphyosemion bualanum",
        "Nothobranchiidae",
        "either",
        12,
        13,
        14,
        20,
        "society sheet; temperature assumed",
    ),
    (
        "ogoense",
        "Aphyosemion ogoense",
        "Nothobranchiidae",
        "water",
        14,
        17,
        21,
        20,
        "common practice, no source",
    ),
    (
        "apiamici",
        "Melanorivulus apiamici",
        "Rivulidae",
        "water",
        12,
        14,
        16,
        24,
        "common practice, no source; spread assumed",
    ),
    ("annulatus", "Pseudepiplatys annulatus", "Nothobranchiidae", "water", 10, 12, 14, 25, "from memory"),
    ("lineatus", "Aplocheilus lineatus", "Aplocheilidae", "water", 12, 13, 14, 25, "from memory"),
    ("goodei", "Lucania goodei", "Fundulidae", "water", 10, 12, 14, 21, "from memory"),
)
SPECIES_COLUMNS = (
    "species scientific_name family incubation hatch_early_d hatch_usual_d hatch_late_d incubation_c source"
)
#: Listed as invasive in the EU (Impl. Reg. (EU) 2022/1203): ordered now and then, never kept.
NEVER_KEPT = "heteroclitus"
FIRST = (
    "Ada",
    "Bo",
    "Cleo",
    "Dag",
    "Edda",
    "Finn",
    "Gro",
    "Hugo",
    "Ida",
    "Jens",
    "Kaja",
    "Leo",
    "Mia",
    "Nils",
    "Oda",
    "Per",
)
LAST = (
    "Madeup",
    "Example",
    "Eksempel",
    "Beispiel",
    "Voorbeeld",
    "Exemple",
    "Ejemplo",
    "Esempio",
    "Sample",
    "Specimen",
)
ORDER_COLUMNS = (
    "order placed_on paid_on not_before not_after parts service addressee delivery_1 mail language postcode"
    " town region country papers species population eggs price instead"
)
LOT_COLUMNS = "lot species population laid_from laid_to medium kept_at_c eggs counted_on stage stage_on"
TOML = """[home]\ncountry = "DK"\nsubdivision = ""\n
[sender]\nname = "Invented Killifish Room"
address = ["Opdigtet Vej 999", "8000 Aarhus C"]\nmail = "room@example.org"\n
[plan]\ncurrency = "EUR"\nparcels_per_day = {limit}\n"""
Cells = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Supply:
    """How short and how tangled a week is.

    Eggs laid by for each ordered, extra included, and a day's parcels for a fifth of the orders; how many
    orders have one line, two and three, which share of them may split, and which share of lines names no
    population; the fewest and the most eggs of a lot.
    """

    eggs_for_one: float
    room: float
    lines: tuple[int, int, int] = (68, 24, 8)
    may_split: float = 0.05
    unnamed: float = 0.0
    lot_eggs: tuple[int, int] = (8, 10**9)


USUAL, SHORT = Supply(1.7, 1.15), Supply(1.33, 1.05)
#: Most orders go together over several populations, many of them unnamed, so that lots are linked far and
#: wide.
TANGLED = Supply(1.05, 1.5, lines=(1, 1, 1), may_split=0.2, unnamed=0.4, lot_eggs=(25, 160))
#: By the name that `week_peers` asks for.
SUPPLIES = {"usual": USUAL, "short": SHORT, "tangled": TANGLED}


@dataclass
class _Locality:
    """A population: how much it is wanted, the eggs ordered of it so far, its lots, and whether they are kept
    too small.
    """

    species: Mapping[str, str]
    code: str
    weight: float
    is_scarce: bool
    wanted: int = 0
    lots: int = 1


def generated_week(orders: int, lots: int, seed: int, folder: Path, supply: Supply = USUAL) -> Path:
    """The folder, now holding a shelf of so many orders and lots, all from the one seed; its day is
    `TODAY`.
    """
    chance, demo = random.Random(seed), shipped_folder("demo_orders")
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(demo / "rules.csv", folder / "rules.csv")
    for name in ("packings.csv", "boxes.csv", "weather.csv"):
        shutil.copyfile(MILD / name, folder / name)
    with (folder / "weather.csv").open("a", encoding="utf-8") as file:
        file.writelines(
            f"*,{month},11,19\n" for month in (11, 12, 1)
        )  # what parcels feel is known everywhere
    with (demo / "species.csv").open(encoding="utf-8", newline="") as file:
        # fish of the demo that bear less cold would stay at home in the week that is generated
        species = [row | {"keep_min_c": str(min(10, int(row["keep_min_c"])))} for row in csv.DictReader(file)]
    assumed = dict.fromkeys(species[0], "") | {
        "zero_c": "10",
        "zero_basis": "assumed",
        "keep_min_c": "10",
        "keep_max_c": "27",
    }
    species += [assumed | dict(zip(SPECIES_COLUMNS.split(), map(str, one), strict=True)) for one in SPECIES]
    localities = _localities(chance, orders, lots, [row for row in species if row["species"] != NEVER_KEPT])
    kinds = [kind for kind, share in BLOCKED.items() for _ in range(round(share * orders))]
    kinds += ["open"] * (orders - len(kinds))
    chance.shuffle(kinds)
    _write(folder / "orders.csv", ORDER_COLUMNS, _order_lines(chance, kinds, localities, supply))
    _write(folder / "lots.csv", LOT_COLUMNS, _lots(chance, localities, supply))
    _write(folder / "species.csv", " ".join(species[0]), (tuple(row.values()) for row in species))
    _write(folder / "zones.csv", "zone countries", ZONES.items())
    held = {share: (share, 1, 2, 5) if share else ("", "", "", "") for *_, share, _, _ in SERVICES}
    services = ((*one[:7], *held[one[7]], "yes", "2026-10-12", "invented: the counter") for one in SERVICES)
    border = "border_share border_early_d border_usual_d border_late_d live_eggs answered_on answered_by"
    _write(
        folder / "services.csv", f"service to early_d usual_d late_d hand_over exposed_h {border}", services
    )
    steps = ((one, "letter" in one[0], step) for one in SERVICES for step in (0, 1))
    postage = (
        (*one[:2], (500, 1000 if thin else 5000)[step], 30 if thin else "", one[8 + step])
        for one, thin, step in steps
    )
    _write(folder / "postage.csv", "service to up_to_g up_to_mm price", postage)
    limit = math.ceil(supply.room * kinds.count("open") / 5)
    (folder / "shelf.toml").write_text(TOML.format(limit=limit), encoding="utf-8", newline="\n")
    return folder


def _write(file: Path, columns: str, rows: Iterable[Cells]) -> None:
    with file.open("w", encoding="utf-8", newline="") as open_file:
        csv.writer(open_file, lineterminator="\n").writerows((columns.split(), *rows))


def _localities(
    chance: random.Random, orders: int, lots: int, species: Sequence[Mapping[str, str]]
) -> list[_Locality]:
    """Localities with their numbers of lots: about 2.4 each in the smallest week, 15 in the largest; some
    wanted far more.
    """
    count = max(2, round(lots / (2.4 * (orders / 40) ** 0.23)))
    found = []
    for n in range(count):
        code = (
            f"{chance.choice('BCGKLMNRTZ')}{chance.choice('ADEIMOU')}{chance.choice('BKMNRT')}"
            f" {7 + n // 20}/{n + 1}"
        )
        weight = (n // 20 + 1) ** -0.5 * chance.uniform(0.6, 1.6)
        found.append(_Locality(species[n % len(species)], code, weight, is_scarce=n % 25 == 7))
    plenty = [one for one in found if not one.is_scarce]
    for one in chance.choices(plenty, [one.weight for one in plenty], k=lots - count):
        one.lots += 1
    return found


def _order_lines(
    chance: random.Random, kinds: Sequence[str], localities: list[_Locality], supply: Supply
) -> Iterable[Cells]:
    """A row for each line, oldest order first; what orders that can go need is noted with the localities."""
    waited = sorted((chance.randint(0, 42) for _ in kinds), reverse=True)
    pools = {
        scarce: [one for one in localities if one.is_scarce == scarce] or localities
        for scarce in (True, False)
    }
    sums = {scarce: list(accumulate(one.weight for one in pool)) for scarce, pool in pools.items()}
    buyer: Cells = ()
    for n, (kind, days) in enumerate(zip(kinds, waited, strict=True), start=1):
        is_same = kind == "open" and buyer != () and chance.random() < 0.04  # the same buyer orders again
        buyer = buyer if is_same else _buyer(chance, n, kind)
        head = (
            f"W{n:06d}",
            *_terms(chance, kind, TODAY - timedelta(days=days), str(buyer[7]), supply),
            *buyer,
        )
        wishes = chance.choices(pools[kind == "scarce"], cum_weights=sums[kind == "scarce"], k=3)
        yield from ((*head, *line) for line in _wishes(chance, kind, wishes, supply))
        buyer = buyer if kind == "open" else ()


def _buyer(chance: random.Random, number: int, kind: str) -> Cells:
    """Addressee to papers."""
    weights = list(accumulate(row[0] for row in OPEN.values()))
    country = {"place": chance.choice(list(SHUT)), "species": "DE"}.get(kind) or chance.choices(
        list(OPEN), cum_weights=weights
    )[0]
    _, language, postcode, town, region = (OPEN | SHUT)[country]
    who, mail = f"{chance.choice(FIRST)} {chance.choice(LAST)}", f"w{number:06d}@example.org"
    return (
        who,
        f"Invented Street {number}",
        mail,
        language,
        postcode,
        town,
        region,
        country,
        PAPERS.get(country, ""),
    )


def _terms(chance: random.Random, kind: str, placed: date, country: str, supply: Supply) -> Cells:
    """Day placed to service named."""
    asked, early, late, service = chance.random(), "", "", ""
    if kind == "later" or asked < 0.04:
        early = str(
            TODAY + timedelta(days=chance.randint(7, 20) if kind == "later" else chance.randint(1, 3))
        )
    elif asked < 0.07 and country in ("DK", "DE", "NL"):
        late = str(TODAY + timedelta(days=chance.randint(7, 11)))
    elif asked > 0.95:
        here = {country, *(zone for zone, countries in ZONES.items() if country in countries.split())}
        service = chance.choice([one[0] for one in SERVICES if here & set(one[1].split())])
    paid = "" if kind == "unpaid" else str(min(TODAY, placed + timedelta(days=chance.randint(0, 3))))
    return str(placed), paid, early, late, "may split" if chance.random() < supply.may_split else "", service


def _wishes(chance: random.Random, kind: str, wishes: Sequence[_Locality], supply: Supply) -> Iterable[Cells]:
    """Species to instead, of 1 to 3 lines; one line only where that line is what cannot go."""
    many = 1 if kind in ("no-lot", "species", "scarce") else chance.choices((1, 2, 3), supply.lines)[0]
    seen: set[str] = set()
    for wish in wishes[:many]:
        eggs = chance.choices((10, 12, 15, 20, 25, 30, 50), (22, 12, 20, 26, 8, 9, 3))[0]
        price = (
            (4 + 0.6 * eggs)
            * chance.uniform(0.8, 1.2)
            * (1.3 if wish.species["incubation"] == "damp" else 1.0)
        )
        if wish.code in seen:
            continue
        seen.add(wish.code)
        species, code, instead = wish.species["species"], wish.code, ""
        if kind == "open" and supply.unnamed and chance.random() < supply.unnamed:
            code = ""
        if f"{species}/{code}" in seen:
            continue
        seen.add(f"{species}/{code}")
        if kind == "open":
            wish.wanted += eggs
            instead = (
                f"{wishes[-1].species['species']}/{wishes[-1].code}"
                if chance.random() < 0.06 and wish != wishes[-1]
                else ""
            )
        elif kind == "no-lot":
            code = f"{code[:3]} 99/{chance.randint(1, 9)}"
        elif kind == "species":
            species, code = NEVER_KEPT, ""
        yield species, code, max(eggs, 30) if kind == "scarce" else eggs, f"{price:.2f}", instead


def _lots(chance: random.Random, localities: Sequence[_Locality], supply: Supply) -> list[Cells]:
    """The lots: eggs by what is wanted of the locality, ages from `YOUNGEST` to `OLDEST` spread evenly over
    its lots.
    """
    rows: list[Cells] = []
    for one in localities:
        parts = [chance.uniform(0.5, 1.5) for _ in range(one.lots)]
        need = one.wanted * supply.eggs_for_one * chance.uniform(0.8, 1.2)
        for n, part in enumerate(parts):
            gone = YOUNGEST + (OLDEST - YOUNGEST) * (n + chance.random()) / one.lots
            eggs = (
                chance.randint(9, 13)
                if one.is_scarce
                else min(max(supply.lot_eggs[0], round(need * part / math.fsum(parts))), supply.lot_eggs[1])
            )
            rows.append(
                (
                    f"L{len(rows) + 1:05d}",
                    one.species["species"],
                    one.code,
                    *_laid(chance, one.species, gone, eggs),
                )
            )
    return rows


def _laid(chance: random.Random, species: Mapping[str, str], gone: float, eggs: int) -> Cells:
    """laid_from to stage_on of a lot that has gone so much of the way; eggs kept damp are of any age."""
    early, late, warm = (
        float(species[column]) for column in ("hatch_early_d", "hatch_late_d", "incubation_c")
    )
    kept = warm + chance.choice((-1, -0.5, 0, 0, 0.5))
    days = float(species["hatch_usual_d"] or math.sqrt(early * late)) * (warm - 10) / (kept - 10)
    is_damp = species["incubation"] == "damp"
    age = chance.randint(20, 50) if is_damp else max(1, round(gone * days))
    counted = chance.choice((0, 0, 0, 1)) if age > 1 else 0
    stage = "eyed" if (age - counted) / days >= 0.52 and not is_damp else "fertile"
    laid = (
        TODAY - timedelta(days=age + chance.choice((0, 1) if days > 9 else (0,))),
        TODAY - timedelta(days=age),
    )
    seen = TODAY - timedelta(days=counted)
    return *laid, "peat" if is_damp else "water", kept, eggs, seen, stage, seen

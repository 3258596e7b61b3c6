"""Invented shelves of every kind, by number: a folder and a number in, its tables written out; no room is
imported.

Each number gives the same rows for ever. Numbers choose which oddities a shelf has, so that all of them come
round.
"""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path
from random import Random

#: Days on which the shelves are read: before Christmas, before Easter, in a sub-zero January, in a hot July,
#: an ordinary week.
DAYS = (
    date(2026, 12, 21),
    date(2026, 3, 30),
    date(2026, 1, 12),
    date(2026, 7, 13),
    date(2026, 11, 30),
    date(2026, 4, 29),
)
HOMES = (("DK", ""), ("DE", "BY"), ("GB", "SCT"), ("US", "CA"), ("PL", ""))
COUNTRIES = ("DK", "DE", "GB", "US", "AU", "FR", "ES", "PL", "JP", "IT")
SPECIES = (
    # key, incubation, early, usual, late, incubation_c, zero_c, keep_min, keep_max, eyed_at, send_from, o2
    # rate, o2 basis
    ("quick", "water", 6, 7.5, 9, 24, 10, 5, 27, 0.5, "", 0.21, "assumed"),
    ("plain", "water", 12, "", 21, 23.3, 10, 10, 27, 0.5, "", 0.3, "published"),
    ("early", "water", 10, 14, 14, 25, 10.4, 12, 24, 0.64, "fertile", 0.21, "learned"),
    ("sure", "water", 14, 14, 14, 24, 9, "", "", 0.4, "", 0.21, "assumed"),
    ("either", "either", 14, "", 17, 20, 8, 10, 24, 0.5, "", 0.42, "published"),
    ("annual", "damp", 30, 60, 112, 24, 10, 10, 28, 0.5, "fertile", 0.21, "assumed"),
)
HEADERS = {
    "species": (
        "species,scientific_name,family,incubation,hatch_early_d,hatch_usual_d,hatch_late_d,incubation_c,zero_c,"
        "keep_min_c,keep_max_c,eyed_at,send_from,o2_ug_egg_h,o2_basis"
    ),
    "lots": (
        "lot,species,laid_from,laid_to,medium,kept_at_c,eggs,counted_on,count_basis,stage,stage_on,keep_back,salt_g_l,"
        "wet_from,wet_until,fertile_share"
    ),
    "inspections": "lot,on,stage,alive,hatched,removed,kept_at_c",
    "services": (
        "service,to,early_d,usual_d,late_d,hand_over,saturday,exposed_h,border_share,border_early_d,border_usual_d,"
        "border_late_d,live_eggs,answered_on,answered_by"
    ),
    "postage": "service,to,up_to_g,price",
    "packings": (
        "packing,kind,media,medium,volume_ml,water_ml,eggs_max,hatch_ceiling,any_ceiling,hatch_held,fry_live,loss_handling,"
        "loss_per_day,kappa,insulated_h,heat_pack_h,weight_g,cost,box"
    ),
    "boxes": ("box,length_mm,width_mm,thick_mm,tare_g,holds,rigid,vented,wall_mm,bottle_ml,insulated_h,cost"),
    "rules": "to,taxon,verdict,source,checked_on",
    "zones": "zone,countries",
    "weather": "to,month,from,until,low_c,high_c",
    "disruptions": "to,service,from,until,days,stopped,source",
    "orders": "order,placed_on,addressee,delivery_1,postcode,town,country,species,eggs,price,overpack",
}
STAGES = ("laid", "fertile", "eyed", "ready")


def write_shelf(folder: Path, number: int) -> date:
    """The day on which to read the shelf written."""
    draw = Random(number)
    today = DAYS[number % len(DAYS)]
    home, part = HOMES[number % len(HOMES)]
    tables = {
        "species": [_species(row) for row in SPECIES],
        "services": _services(draw, home),
        "packings": _packings(draw),
        "boxes": [
            ("flat", 160, 110, 25, 40, 50, "yes", "yes", "", "", "", "0.5"),
            ("foam", 320, 250, 170, 180, 50, "yes", "yes", draw.choice([20, 25, 35]), *_water(draw), "2.5"),
        ],
        "zones": [("NEAR", "DE FR PL"), ("FAR", "US AU JP")],
        "rules": [("*", "*", "open", "an office", (today - timedelta(days=10)).isoformat())],
        "weather": _weather(draw, today) if number % 3 else [],
        "disruptions": _disruptions(draw, today) if number % 4 == 1 else [],
    }
    tables["postage"] = [
        (row[0], place, 20000, "5") for row in tables["services"] for place in str(row[1]).split()
    ]
    tables["lots"], tables["inspections"] = _lots(draw, today)
    tables["orders"] = _orders(draw, today, [str(row[1]) for row in tables["lots"]])
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            out = csv.writer(file)
            out.writerow(HEADERS[name].split(","))
            out.writerows(rows)
    (folder / "shelf.toml").write_text(_settings(draw, home, part), encoding="utf-8")
    return today


def _water(draw: Random) -> tuple[object, object]:
    """A bottle, and the hours measured in which half of its warmth is gone, or none."""
    return draw.choice([(0, ""), (500, ""), (1500, ""), (2500, ""), (500, 9), (0, 0)])


def _disruptions(draw: Random, today: date) -> list[tuple[object, ...]]:
    start = today + timedelta(days=draw.randint(-3, 6))
    end = start + timedelta(days=draw.randint(0, 5))
    return [
        ("DE FAR", "", start, end, draw.choice([1, 2, 5]), "", "an invented strike"),
        ("GB", "letter", start, end, "", "yes", "an invented closed sorting centre"),
        ("*", "parcel", end, end, 1, "no", "an invented backlog"),
    ]


def _settings(draw: Random, home: str, part: str) -> str:
    return (
        f'[home]\ncountry = "{home}"\nsubdivision = "{part}"\n\n[sender]\nname = "Invented Room"\naddress ='
        ' ["Nowhere 1"]\n\n[plan]\ncurrency = "EUR"\npromise ='
        f" {draw.choice([0.9, 0.95, 0.99])}\nfertile_share = {draw.choice([0.7, 0.85, 1.0])}\nlook_spread ="
        f" {draw.choice([0.05, 0.1, 0.2])}\nshelf_loss_per_day ="
        f" {draw.choice([0, 0.01, 0.03])}\n\n[warmth]\nhot_margin_c = {draw.choice([4, 8])}\ncold_margin_c ="
        f" {draw.choice([2, 5])}\ntrip_spread_c = {draw.choice([0, 2.5, 4])}\n"
    )


def _species(row: tuple[object, ...]) -> tuple[object, ...]:
    key, *rest = row
    return (key, f"Invented {key}", "Inventidae", *rest)


def _services(draw: Random, home: str) -> list[tuple[object, ...]]:
    yes = ("yes", "2026-01-05", "invented")
    return [
        ("letter", "*", 1, 2, draw.choice([3, 4, 6]), "Mon Tue Wed Thu Fri", "yes", 12, "", "", "", "", *yes),
        ("parcel", "NEAR", 2, 3, draw.choice([5, 7]), "Mon Tue Wed", "no", 16, "", "", "", "", *yes),
        (
            "parcel",
            "FAR GB",
            3,
            5,
            8,
            "Mon Tue",
            "no",
            24,
            draw.choice([0.3, 0.5]),
            1,
            draw.choice(["", 2]),
            6,
            *yes,
        ),
        ("sure", f"{home} *", 1, 1, 1, "Mon Tue Wed Thu Fri", "no", 6, "", "", "", "", *yes),
        ("collect", home, 0, 0, 0, "Mon Tue Wed Thu Fri", "no", 0, "", "", "", "", *yes),
    ]


def _packings(draw: Random) -> list[tuple[object, ...]]:
    loss = draw.choice([0.01, 0.03, 0.08])
    a_day = draw.choice([0.0, 0.01, 0.03])
    pack = draw.choice(["", 8])
    return [
        (
            "tube",
            "tube",
            "water",
            "",
            15,
            5,
            30,
            0.01,
            0.1,
            "",
            0,
            loss,
            a_day,
            "",
            "",
            0,
            18,
            "0.4",
            "flat",
        ),
        (
            "small tube",
            "tube",
            "water",
            "",
            2,
            1.5,
            10,
            0.02,
            0.3,
            "",
            0,
            loss,
            a_day,
            12,
            "",
            0,
            5,
            "0.2",
            "flat",
        ),
        (
            "blind tube",
            "tube",
            "water",
            "",
            "",
            "",
            30,
            0.01,
            0.1,
            "",
            0,
            loss,
            a_day,
            200,
            "",
            0,
            18,
            "0.4",
            "foam",
        ),
        (
            "bag",
            "breathing bag",
            "water",
            "",
            300,
            250,
            60,
            0.05,
            1,
            "",
            0.5,
            loss,
            a_day,
            40,
            pack,
            0,
            260,
            "0.6",
            "foam",
        ),
        (
            "hot bag",
            "breathing bag",
            "water",
            "",
            300,
            250,
            60,
            0.05,
            1,
            "",
            0,
            loss,
            a_day,
            "",
            10,
            30,
            300,
            "1.6",
            "foam",
        ),
        (
            "damp",
            "damp bag",
            "moss peat coir",
            "",
            "",
            "",
            60,
            0.05,
            1,
            "",
            0,
            loss,
            a_day,
            "",
            "",
            0,
            20,
            "0.2",
            "flat",
        ),
        (
            "sent damp",
            "damp bag",
            "water",
            "moss",
            "",
            "",
            40,
            0.05,
            0.9,
            0.8,
            0.2,
            loss,
            a_day,
            25,
            "",
            0,
            20,
            "0.2",
            "",
        ),
    ]


def _weather(draw: Random, today: date) -> list[tuple[object, ...]]:
    """Breeder's rows for some places: a country, a zone, everywhere else; this month and the next."""
    rows: list[tuple[object, ...]] = []
    for month in (today.month, today.month % 12 + 1):
        low = draw.randint(-12, 18)
        rows += [
            ("DE", month, "", "", low, low + draw.randint(0, 14)),
            ("FAR", month, "", "", low + 6, low + 20),
            ("GB", month, "", "", 12, 20),
        ]
        if draw.random() < 0.5:
            rows.append(("JP", month, "", "", 14, 21))
    start = today + timedelta(days=draw.randint(0, 5))
    end = start + timedelta(days=draw.randint(0, 4))
    rows.append((draw.choice(["DE", "FAR", "*"]), "", start, end, -15, draw.choice([-2, 12, 36])))
    return rows


def _lots(draw: Random, today: date) -> tuple[list[tuple[object, ...]], list[tuple[object, ...]]]:
    lots: list[tuple[object, ...]] = []
    looks: list[tuple[object, ...]] = []
    for n in range(9):
        species = SPECIES[(n + draw.randint(0, 1)) % len(SPECIES)]
        is_annual = species[0] == "annual"
        medium = (
            draw.choice(["peat", "coir"])
            if is_annual
            else "moss"
            if species[0] == "either" and n % 2
            else "water"
        )
        usual = float(species[3] or (float(species[2]) * float(species[4])) ** 0.5)
        age = round(usual * draw.uniform(0.2, 0.95)) + (round(usual) if draw.random() < 0.12 else 0)
        first = today - timedelta(days=age + draw.randint(0, 3 if usual < 30 else 12))
        last = min(today - timedelta(days=max(1, age - 1)), first + timedelta(days=draw.choice([0, 0, 1, 3])))
        counted = last + timedelta(days=round((today - last).days * draw.uniform(0, 1)))
        share = age / usual
        stage = (
            "" if draw.random() < 0.3 else "ready" if share > 0.9 else "eyed" if share > 0.55 else "fertile"
        )
        stage = "laid" if stage == "fertile" and draw.random() < 0.3 else stage
        eggs = draw.randint(20, 250)
        salt = draw.choice(["", "", 5, 20])
        keep = draw.choice(["", 0, 10])
        kept_at = round(draw.uniform(18, 27), 1)
        name = f"{chr(65 + n)}-{n:02d}"
        basis = "estimated" if is_annual else "counted"
        on = counted if stage else ""
        wet = ("", "")
        if medium != "water" and draw.random() < 0.5:
            begin = counted + timedelta(days=draw.randint(0, 20))
            wet = (str(begin), str(begin + timedelta(days=draw.randint(0, 12))))
        of_laying = (name, species[0], first, last, medium, kept_at, eggs, counted, basis, stage, on)
        lots.append((*of_laying, keep, salt, *wet, draw.choice(["", "", 0.6])))
        looks += _looks(draw, name, counted, today, eggs, stage)
    return lots, looks


def _looks(
    draw: Random, name: str, counted: date, today: date, eggs: int, stage: str
) -> list[tuple[object, ...]]:
    """None, or a look or two after the count: a later stage, a recount, fry, dead eggs, a new temperature."""
    days = sorted({counted + timedelta(days=draw.randint(1, 6)) for _ in range(draw.randint(0, 2))})
    rows: list[tuple[object, ...]] = []
    left = eggs
    for on in (day for day in days if day <= today):
        kind = draw.randrange(5)
        later = STAGES[min(len(STAGES) - 1, STAGES.index(stage or "laid") + draw.randint(0, 1))]
        gone = draw.randint(0, 4)
        left -= gone
        cells = {
            0: (later, "", "", "", ""),
            1: ("", left, "", gone, ""),
            2: ("", "", gone, "", draw.choice(["", 21])),
            3: (later, "", "", gone, draw.choice(["", 19.5])),
            4: ("", "", "", "", draw.choice([16, 26])),
        }[kind]
        stage = cells[0] or stage
        rows.append((name, on, *cells))
    return rows


def _orders(draw: Random, today: date, species: list[str]) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for n in range(4):
        country = COUNTRIES[draw.randrange(len(COUNTRIES))]
        overpack = "none" if n == 3 else "usual"
        buyer = (f"Buyer {n}", f"Street {n}", "1000", "Town", country)
        rows.append(
            (
                f"O{n}",
                today - timedelta(days=9),
                *buyer,
                species[n * 2],
                draw.choice([5, 12, 20]),
                "20",
                overpack,
            )
        )
    return rows

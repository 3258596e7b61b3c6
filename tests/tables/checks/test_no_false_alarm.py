"""No good shelf is asked about anything: a question about what is right is not read the next time."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from shipping.questions.reckoned_checks import shelf_checks
from shipping.tables.editing.starter import write_shelf
from shipping.tables.reader import read_shelf
from shipping.words.units import shipped_folder
from tests.tables.mistakes import shelf_with
from tests.tables.shelves import TODAY
from tests.timings.weeks import SUPPLIES, generated_week

WEEKS = Path(__file__).resolve().parents[2] / "weeks"


def questions(folder: Path, today: date = TODAY) -> list[str]:
    """What a folder is asked; a buyer that a made-up week has twice for one fish is asked about rightly."""
    problems = read_shelf(folder, today).problems
    return [str(problem) for problem in problems if problem.answers and problem.code != "line-twice"]


def test_the_demo_week_is_asked_nothing() -> None:
    assert questions(shipped_folder("demo_orders"), date(2026, 11, 30)) == []


@pytest.mark.parametrize("week", sorted(folder.parent.name for folder in WEEKS.glob("*/tables")))
def test_a_week_checked_by_hand_is_asked_nothing(week: str) -> None:
    today = date.fromisoformat((WEEKS / week / "today.txt").read_text(encoding="utf-8").strip())
    assert questions(WEEKS / week / "tables", today) == []


@pytest.mark.parametrize("home", ["DK", "DE-BY", "GB-ENG", "US-OR", "CH-ZH"])
def test_a_new_shelf_is_asked_nothing(home: str, tmp_path: Path) -> None:
    country, _, part = home.partition("-")
    write_shelf(tmp_path / "shelf", country, part, TODAY)
    assert questions(tmp_path / "shelf") == []


@pytest.mark.parametrize(
    ("home", "to"), [("AU-QLD", "AU"), ("GB-ENG", "GB-ENG"), ("US-HI", "US-HI"), ("SG", "SG")]
)
def test_a_law_of_what_comes_in_from_abroad_is_no_doubt_about_mail_at_home(
    home: str, to: str, tmp_path: Path
) -> None:
    country, _, part = home.partition("-")
    write_shelf(tmp_path / "shelf", country, part, TODAY)
    rules = tmp_path / "shelf" / "rules.csv"
    text = rules.read_text(encoding="utf-8-sig")
    rules.write_text(f"{text}{to},*,,open,,a letter of the authority,{TODAY}\n", encoding="utf-8")
    assert [said for said in questions(tmp_path / "shelf") if "stands beside" not in said] == []


def test_eggs_whose_own_days_of_wetting_passed_since_their_count_are_asked_nothing(tmp_path: Path) -> None:
    edit = "lots 4 wet_from = 2026-11-26 && lots 4 wet_until = 2026-11-28"
    assert questions(shelf_with(tmp_path / "shelf", edit)) == []


NIGHT = "services + night courier,DK,1,1,1,{},14:30,yes,6,,,,,yes,yes,2026-10-19,invented: the night desk"
VIAL = "packings + {},0.01,0.1,,0,0.03,0.01,40,,0,,3,11,0.03,flat box,,own"
BAG = "packings + {},0.05,1,0.9,0,0.03,0.005,40,,0,,60,25,0.30,flat box,,own"
PUPFISH = "Cyprinodon macularius,,,Cyprinodontidae,water,5,7,12,29,10,,0.5,,5,40,,,,,,,,,,,,,own notes"


@pytest.mark.parametrize(
    "edit",
    [
        "orders 5 addressee = Killi Stammtisch 12 Hamburg",
        "orders 5 addressee = Vera 3M Fish Club",
        'orders 5 delivery_1 = "Villa Sol", Probeweg 3',
        "orders 7 language = de",
        "inspections + GA-12,2026-11-30,,0,,100,,all white",
        f"{NIGHT.format('Fri')} && postage + night courier,DK,1000,,12.00",
        VIAL.format("small vial,tube,water,,2,1,5"),
        BAG.format("large peat bag,damp bag,peat,,,,300"),
        "lots + N8,nigripinnis,Villa Soriano,2026-10-01,2026-10-07,coir,20,400,2026-11-20,,,",
        f"species + pupfish,{PUPFISH}",
    ],
)
def test_what_is_right_and_unusual_is_asked_nothing(edit: str, tmp_path: Path) -> None:
    folder = shelf_with(tmp_path / "shelf", edit, shipped_folder("demo_orders"))
    assert questions(folder, date(2026, 11, 30)) == []
    assert read_shelf(folder, date(2026, 11, 30)).shelf is not None


@pytest.mark.parametrize(
    ("edit", "code"),
    [
        ("orders 2 delivery_1 =  && orders 2 postcode =  && orders 2 town = ", "address"),
        (
            "orders 5 country = US && orders 5 region = US-AE && orders 5 postcode = 09499",
            "national-calendar",
        ),
    ],
)
def test_what_is_fetched_needs_no_address_and_soldiers_no_state(edit: str, code: str, tmp_path: Path) -> None:
    today = date(2026, 11, 30)
    reading = read_shelf(shelf_with(tmp_path / "shelf", edit, shipped_folder("demo_orders")), today)
    assert reading.shelf is not None
    assert {problem.code for problem in shelf_checks(reading.shelf)} & {code} == set()


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("supply", sorted(SUPPLIES))
def test_a_made_up_week_is_asked_nothing(supply: str, seed: int, tmp_path: Path) -> None:
    assert questions(generated_week(60, 40, seed, tmp_path / "week", SUPPLIES[supply])) == []


@pytest.mark.parametrize("each", ["0.2", "0.08"])
def test_eggs_that_are_cheap_on_every_row_are_asked_nothing(each: str, tmp_path: Path) -> None:
    folder = generated_week(60, 40, 4, tmp_path / "week")
    with (folder / "orders.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with (folder / "orders.csv").open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, fieldnames=list(rows[0]))
        table.writeheader()
        table.writerows({**row, "price": f"{int(row['eggs']) * float(each):.2f}"} for row in rows)
    assert questions(folder) == []


@pytest.mark.parametrize(
    "fish",
    [
        "nonoiuliensis,Nothobranchius nonoiuliensis,,Nothobranchiidae,damp,40,,240,24,10,14,30,0.5,own notes",
        "wolterstorffi,Austrolebias wolterstorffi,,Rivulidae,damp,150,,300,20,10,8,26,0.5,own notes",
        "lacortei,Maratecoara lacortei,,Rivulidae,damp,90,,400,24,10,14,30,0.5,own notes",
        "oeseri,Aphyosemion oeseri,,Nothobranchiidae,either,12,,20,22,10,14,26,0.5,own notes",
        "paleatus,Corydoras paleatus,,Callichthyidae,water,3,,6,24,10,14,30,0.5,own notes",
    ],
)
def test_an_honest_fish_that_no_starter_table_has_is_asked_nothing(fish: str, tmp_path: Path) -> None:
    asked = [
        said
        for said in questions(shelf_with(tmp_path / "shelf", f"species + {fish}"))
        if "family" not in said
    ]
    assert asked == []


def test_a_slow_payer_and_long_days_of_wetting_are_asked_nothing(tmp_path: Path) -> None:
    edit = (
        "orders 2 placed_on = 2026-09-05 && orders 2 paid_on = 2026-11-21 && lots 4 wet_from = 2026-12-05"
        " && lots 4 wet_until = 2027-06-10"
    )
    assert questions(shelf_with(tmp_path / "shelf", edit)) == []


def test_a_second_address_is_asked_about_until_the_buyer_has_it_twice(tmp_path: Path) -> None:
    row = "orders + {},Ida Prøve,Werkweg 9,20095,Hamburg,,DE,de,guentheri,,{},,,,,,,ida@example.org"
    edit = f"orders 2 mail = ida@example.org && {row.format('A3,2026-11-21,2026-11-22', '10,7.50')}"
    (asked,) = questions(shelf_with(tmp_path / "once", edit))
    assert "'Werkweg 9' is not where order 'A1' of the same buyer goes." in asked
    again = f"{edit} && {row.format('A4,2026-11-25,2026-11-26', '20,15.00')}"
    assert questions(shelf_with(tmp_path / "twice", again)) == []


def test_prices_of_another_currency_are_asked_about_once(tmp_path: Path) -> None:
    folder = generated_week(60, 40, 5, tmp_path / "week")
    toml = folder / "shelf.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(text.replace('"EUR"', '"JPY"'), encoding="utf-8")
    (asked,) = questions(folder)
    assert asked.startswith("shelf.toml: plan.currency: an egg of the orders usually costs ")
    toml.write_text(
        f'{text.replace("EUR", "JPY")}\n[reading]\nmeant = ["settings plan.currency JPY"]\n', encoding="utf-8"
    )
    assert questions(folder) == []

"""Slips that leave every cell readable: each is asked about, and the week without it is asked nothing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.questions.reckoned_checks import shelf_checks
from shipping.tables.reader import read_shelf
from shipping.words.units import shipped_folder
from tests.tables.mistakes import shelf_with

TODAY = date(2026, 11, 30)
DEMO = shipped_folder("demo_orders")
_LOTS = "lot,species,population,laid_from,laid_to,medium,kept_at_c,eggs,counted_on,stage,stage_on"
_FEW = [
    f"{name},{fish},,2026-11-{day},2026-11-{day},water,{warm},40,2026-11-29,fertile,2026-11-29"
    for fish, warm in (
        ("australe", 21),
        ("chaperi", 24),
        ("floridae", 22),
        ("gardneri", 23),
        ("scheeli", 21.5),
    )
    for name, day in ((f"{fish[:2].upper()}-1", 26), (f"{fish[:2].upper()}-2", 27))
]
FEW_LOTS = "write lots.csv = " + r"\n".join((_LOTS, *_FEW)) + r"\n && without inspections.csv"
_SLOW = [
    f"NI-{n},nigripinnis,{place},2026-10-01,2026-10-20,peat,20,{120 + 37 * n % 50},2026-11-20,fertile,"
    "2026-11-20"
    for n, place in enumerate(("Villa Soriano", "Zarate", "Cufre", "Castillos") * 2, start=1)
]
SLOW_LOTS = "write lots.csv = " + r"\n".join((_LOTS, *_SLOW)) + r"\n && without inspections.csv"
ARRIVALS = (
    r"write arrivals.csv = parcel,line,arrived_on,alive,hatched_alive,dead,missing\n"
    r"2026-W46-01,1,2026-11-13,20,,,\n2026-W46-02,1,2026-11-13,31,,,\n2026-W47-01,1,2026-11-20,25,,,\n"
    r"2026-W47-02,1,2026-11-20,{}\n"
)
HOLIDAY = r"write disruptions.csv = to,from,until,days,source\nDK,{},2,{}\n"
SPELL = "weather 2 month =  && weather 2 from = {0}-12-05 && weather 2 until = {0}-12-09"
SLOW_VAN = (
    "services + slow van,DK,3,4,6,Mon Tue Wed Thu,14:30,no,8,,,,,yes,yes,2026-10-19,invented: the night desk"
    " && postage + slow van,DK,5000,,{}"
)


def told(folder: Path, edit: str) -> list[str]:
    reading = read_shelf(shelf_with(folder, edit, DEMO), TODAY)
    return [str(one) for one in reading.problems]


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (
            'shelf.toml: "EUR" -> "THB"',
            "plan.currency: 'THB' is the money neither of home nor of most buyers.",
        ),
        (ARRIVALS.format("310,,,"), "alive: 310, and no other line has more than 31."),
        ("orders 3 eggs = 9000", "eggs: 9000 eggs, and all lots together hold "),
        ("orders 12 not_after = 2026-11-13", "not_after: 2026-11-13 leaves no day for the way"),
        (
            "services 5 early_d = 3 && services 5 usual_d = 5 && services 5 late_d = 7",
            "usual_d: 5 days, and 'tracked parcel' takes 4 on row 6, to places farther away.",
        ),
        (SLOW_VAN.format("20.00"), "usual_d: 4 days, and 'courier next day' takes 1 and costs less."),
        ("services 6 usual_d = 40 && services 6 late_d = 50", "usual_d: 40 working days is more than 25"),
        ("postage 13 price = 11.00", "price: 11.00, and at home that weight costs 11.00."),
        ("packings 3 weight_g = 90", "weight_g: 90, and 'tube 15 ml' of the same size has 18."),
        (
            "packings 6 loss_handling = 0.19",
            "loss_handling: 0.19, and 'damp bag in foam box' of the same size",
        ),
        ("packings 3 packing = vented tube", "box: 'foam box', and the packing is called 'vented tube'."),
        ("packings 6 weight_g = 79", "holds: 6 units of 79 ml are more than its 440 ml."),
        ("boxes 4 bottle_ml = 22", "bottle_ml: 22 of 3520 ml inside warm nothing."),
        (
            r"weather.csv: DK,11,6,20,invented: loggers on the outside of last winter's boxes\n -> ",
            "to: no row has month 11 of 'DK', and all other places have it.",
        ),
        (
            r"weather.csv: DK,12,5,18,invented: loggers on the outside of last winter's boxes\n -> ",
            "to: no row has month 12 of 'DK', and all other places have it.",
        ),
        ("packings 6 weight_g = 2", "weight_g: 2, and other packings like it have 20."),
        (
            "packings 6 loss_handling = 0.06 && packings 6 loss_per_day = 0.05",
            "loss_per_day: 0.05, and other packings like it have 0.005.",
        ),
        (
            "packings + damp bag two,damp bag,peat,,,,50,0.05,1,0.9,0,0.03,0.005,40,,0,,20,15,4.00,flat box",
            "cost: 4.00, and other packings like it have 0.2.",
        ),
        (
            f"{SPELL.format(2026)} && weather 2 low_c = 24 && weather 2 high_c = 30",
            "low_c: 24 to 30 °C, and the row of that month has 5 to 18.",
        ),
        (
            f"{SPELL.format(2027)} && weather 2 low_c = 5 && weather 2 high_c = 18",
            "from: 2027-12-05 is 370 days ahead.",
        ),
        (
            "sort orders placed_on && orders 20 placed_on = 2026-08-20",
            "placed_on: 2026-08-20 stands between rows of 2026-11-",
        ),
        (
            "sort orders placed_on && sort alone orders price",
            "price: all 38 rows run from the least up: was the column sorted alone?",
        ),
        ("sort lots lot && sort alone lots eggs", "eggs: all 18 rows run from the least up"),
        ("move orders price", "of the prices fit the eggs of another row: that below."),
        (
            "lots 2 kept_at_c = 23 && lots 9 kept_at_c = 21",
            "kept_at_c: 23 °C, as other lots of 'gardneri', and lot 'GA-12' of it is kept at 21.",
        ),
        (
            f"{SLOW_LOTS} && lots 4 kept_at_c = 24.5",
            "kept_at_c: 24.5 °C, and other lots of 'nigripinnis' are",
        ),
        (
            f"{FEW_LOTS} && move lots kept_at_c",
            "kept_at_c: the first lot of 4 fish is as warm as the lot above it.",
        ),
        (
            f"{SLOW_LOTS} && lots 4 eggs = 1230",
            "eggs: 62 eggs a day of laying, and lots like it have 8 at most.",
        ),
        (
            "lots + FU-41,furzeri,Gona Re Zhou,2026-10-05,2026-10-18,peat,24,190,2026-11-29,estimated,"
            "fertile,2026-11-29,,,,,,,",
            "lot: 'FU-41' may be lot 'FU-40' of row 8 again.",
        ),
        ("lots 14 stage = ready", "laid_to: 'ready' 31 days after the last were laid, 2026-10-20."),
        ("orders 12 price = 32.00", "eggs: 32.00 for 20 is far from 0.90 an egg, as others pay."),
        (
            "orders 35 eggs = 21 && orders 35 price = 30.00",
            "eggs: 21 for 30.00 is far from 0.70 an egg, and turned round it is not.",
        ),
        (
            "orders 13 mail =  && rules 13 verdict = open",
            "verdict: 'open' with the source of the starter table,",
        ),
        (
            "orders 28 importer_ref = invented reference 925",
            "importer_ref: 'invented reference 925' stands for",
        ),
        ("species 8 keep_max_c = 32", "keep_max_c: 32 is far from 27, which the starter table has."),
        ("species 8 keep_min_c = 9", "keep_min_c: 9 is far from 15, which the starter table has."),
        ("orders 3 price = 104", "price: 104 for 20 is far from 0.70 an egg"),
        ("packings 2 cost = 40", "cost: 40, and 'tube in foam box' of the same size has 0.4."),
        ("boxes 4 tare_g = 2980", "tare_g: 2980 grams is much for an empty box of 20944 ml."),
        ("boxes 4 bottle_ml = 74", "bottle_ml: 74 of 3520 ml inside warm nothing."),
        ("lots 10 population = Akuro", "population: 'Akuro' is spelt almost as 'Akure'"),
        (
            "species 8 hatch_late_d = 12 && species 8 hatch_usual_d = ",
            "hatch_late_d: 12 days early and late: no egg would ever take longer.",
        ),
        (ARRIVALS.format("0,,,210"), "missing: 210, and no other line has more than 31."),
        (
            HOLIDAY.format("2024-12-24,2024-12-26", "Christmas of every year"),
            "until: 2024-12-26 is past, and the same days are ahead",
        ),
        ("rules 5 source = nie pytano", "verdict: 'open', and its own words say 'nie pytano'."),
        (
            "rules 13 source = Invasive Alien Species Act && rules 13 verdict = open",
            "verdict: 'open' with the source of the starter table, which says to ask.",
        ),
        (
            "orders 22 country = AR && orders 22 region = AR-M && orders 22 postcode = T4000ABD",
            "region: 'T4000ABD' is in AR-T, not in 'AR-M'.",
        ),
        (
            "groups 2 from_day = 2025-11-22 && groups 2 until_day = 2026-02-28",
            "until_day: 2026-02-28 is past, and the same days are ahead of the year after.",
        ),
    ],
)
def test_a_slip_that_can_be_read_is_asked_about(edit: str, words: str, tmp_path: Path) -> None:
    said = told(tmp_path / "slip", edit)
    assert any(words in one for one in said), said


@pytest.mark.parametrize(
    "edit",
    [
        ARRIVALS.format("60,,,"),
        SLOW_VAN.format("9.00"),
        FEW_LOTS,
        SLOW_LOTS,
        "sort orders placed_on",
        "sort orders placed_on && sort orders order && sort lots lot",
        "lots 11 medium = moss",
        "orders 15 not_before =  && orders 15 not_after = 2026-12-04",
        "lots 9 eggs = 180 && lots 10 eggs = 6 && lots 10 laid_from = 2026-11-20",  # what is left of a lot
        "inspections + SC-07,2026-11-29,,,,2,,deux œufs morts retirés; rien d'éclos",
        "orders 5 delivery_1 = Postlagernd",
        "orders 5 addressee = Killifreunde Musterstadt 1974 e.V.",
        "orders 8 delivery_1 = Lieu-dit Kermoulin && orders 8 town = Nantes Cedex 7",
        "orders 5 note = moved here in 2024",
        "orders + D40,2026-11-10,2026-11-10,Piet Voorbeeld,Verzonnen Laan 905,,,,3511 AB,Utrecht,,NL,,"
        "d40@example.org,nl,scheeli,Korup,10,10.00,,,,,,,,,",  # two buyers of one house
        "services + show,DE,0,0,0,Sat Sun,,yes,0,,,,,no,yes,, && postage + show,DE,5000,,0",
        HOLIDAY.format("2025-12-20,2026-01-04", "own") + r"DK,2026-12-19,2027-01-03,2,own\n",
        "rules + SE,*,,closed,,an order of the board,2026-11-01,2025-03-01,2025-09-30,",
        "groups + harem,gardneri,Akure,8,2026-03-01,2026-10-31,",
        "orders + D40,2026-11-10,2026-11-10,Nikos Exempel,Odos Fantasias 17,,,,712 01,Iraklio,,GR,,"
        "d40@example.org,el,scheeli,Korup,10,10.00,,,,,,,,,",
        "rules + HR,*,,open,,no answer needed: Reg. (EU) 2016/429,2026-11-01,,,",
    ],
)
def test_what_is_right_is_asked_nothing(edit: str, tmp_path: Path) -> None:
    reading = read_shelf(shelf_with(tmp_path / "right", edit, DEMO), TODAY)
    assert [str(one) for one in reading.problems if one.answers] == []


def test_one_cause_is_one_question(tmp_path: Path) -> None:
    def added(edit: str) -> list[str]:
        return sorted(set(told(tmp_path / edit[:10], edit)) - set(told(tmp_path / "demo", "")))

    (price,) = added("orders 7 price = 2000")
    assert "price: 2000 for 20 is far from 1.00 an egg" in price
    (far,) = added("orders 7 not_before = 2027-10-15 && orders 8 not_before = 2027-10-15")
    assert "not_before: 2027-10-15 is 319 days ahead (and on 1 more row)." in far
    (month,) = added("weather 9 low_c = -9.5")
    assert "weather.csv:9: low_c: -9.5 is 12.5 degrees from the month beside it." in month
    (step,) = added("postage 16 price = 2700")
    assert "postage.csv:16: price: 2700 is far from 31.50" in step


def test_eggs_that_hatched_on_the_day_of_the_count_are_no_losses(tmp_path: Path) -> None:
    edit = "inspections + ME-05,2026-11-30,,66,4,,,"
    assert not [said for said in told(tmp_path / "hatched", edit) if "fewer than reckoned" in said]


def test_an_order_that_nothing_brings_in_time_is_told_until_a_parcel_of_it_is_kept(tmp_path: Path) -> None:
    shelf = read_shelf(shelf_with(tmp_path / "late", "orders 38 not_after = 2026-12-01", DEMO), TODAY).shelf
    assert shelf is not None
    (late,) = (str(one) for one in shelf_checks(shelf) if one.code == "too-late")
    assert "nothing arrives by 2026-12-01: order D35 would be there on 2026-12-03 at the soonest." in late
    assert [one for one in shelf_checks(shelf, {"D35"}) if one.code == "too-late"] == []


def test_a_part_of_a_country_in_which_no_holiday_differs_is_not_asked_for(tmp_path: Path) -> None:
    def calendars(edit: str) -> list[str]:
        shelf = read_shelf(shelf_with(tmp_path / edit[-5:], edit, DEMO), TODAY).shelf
        assert shelf is not None
        return [str(one) for one in shelf_checks(shelf) if one.code == "national-calendar"]

    assert calendars("orders 16 region = PL-MZ") == []
    assert len(calendars("orders 23 region = DE-XX && orders 5 region = Nordsee")) == 1
    assert calendars("orders 8 region = Loire-Atlantique") == []  # its postcode is of no part with its own


@pytest.mark.parametrize(
    ("country", "postcode", "goes_to"),
    [
        ("FR", "97410", "RE"),
        ("FR", "97110", "GP"),
        ("FR", "97133", "BL"),
        ("FR", "97150", "MF"),
        ("FR", "98000", "MC"),
        ("FR", "98413", "TF"),
        ("FR", "98800", "NC"),
        ("US", "96799", "AS"),
        ("FI", "22100", "AX"),
        ("FR", "75001", "FR"),
    ],
)
def test_an_order_goes_to_the_place_whose_postcode_it_has_unless_that_is_said_to_be_right(
    country: str, postcode: str, goes_to: str, tmp_path: Path
) -> None:
    """To Saint-Pierre (97410) an order was planned as within France: two days, and no customs."""
    edit = f"orders 2 country = {country} && orders 2 postcode = {postcode} && orders 2 service = "
    shelf = read_shelf(shelf_with(tmp_path / "as-typed", edit), TODAY).shelf
    assert shelf is not None
    assert {order.country for order in shelf.orders if order.order == "A1"} == {goes_to}
    (cell,) = {one.answers[0].value for one in shelf.notices if one.code == "other-country"} or {""}
    meant = f'shelf.toml: [plan] -> [reading]\\nmeant = ["{cell}"]\\n[plan] && {edit}'
    shelf = read_shelf(shelf_with(tmp_path / "meant", meant), TODAY).shelf
    assert shelf is not None
    assert {order.country for order in shelf.orders if order.order == "A1"} == {country}

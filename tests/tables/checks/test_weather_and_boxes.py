"""Rows for days, disruptions and boxes, mistyped: one line that says where, what and how."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from shipping.tables.climate import climate_places, parcel_mean_c
from shipping.tables.reader import read_shelf
from tests.tables.shelves import TODAY, errors, good_shelf, notices, read

WEATHER = "to,month,from,until,low_c,high_c,source\n"
DISRUPTIONS = "to,service,from,until,days,stopped,source\n"
BOXES = "box,length_mm,width_mm,thick_mm,tare_g,holds,rigid,vented,wall_mm,bottle_ml,insulated_h,cost\n"


@pytest.mark.parametrize(
    ("file", "text", "message"),
    [
        (
            "weather.csv",
            WEATHER + "DE,7,2026-12-01,2026-12-03,-9,2,forecast\n",
            "weather.csv:2: month: 7 stands beside days, and a row is of a month or of days.",
        ),
        (
            "weather.csv",
            WEATHER + "DE,,2026-12-01,,-9,2,forecast\n",
            "weather.csv:2: until: is blank, and so nothing says when the row holds.",
        ),
        (
            "weather.csv",
            WEATHER + "DE,,2026-12-04,2026-12-01,-9,2,forecast\n",
            "weather.csv:2: until: 2026-12-01 is before from, 2026-12-04.",
        ),
        (
            "weather.csv",
            WEATHER + "DE,,2026-12-01,2026-12-04,-9,2,a\nDE,,2026-12-04,2026-12-09,-9,2,b\n",
            "weather.csv:3: from: 2026-12-04 lies within the days of row 2 too.",
        ),
        (
            "disruptions.csv",
            DISRUPTIONS + "DE,,2026-12-04,2026-12-01,2,,a strike\n",
            "disruptions.csv:2: until: 2026-12-01 is before from, 2026-12-04.",
        ),
        (
            "disruptions.csv",
            DISRUPTIONS + "DE,,2026-12-01,2026-12-04,,no,a strike\n",
            "disruptions.csv:2: days: is blank, and so is stopped: the row changes nothing.",
        ),
        (
            "disruptions.csv",
            DISRUPTIONS + "QQ,,2026-12-01,2026-12-04,2,,a strike\n",
            "disruptions.csv:2: to: 'QQ' is no country, country and subdivision, or zone.",
        ),
        (
            "disruptions.csv",
            DISRUPTIONS + "DE,rocket,2026-12-01,2026-12-04,2,,a strike\n",
            "disruptions.csv:2: service: 'rocket' is not in services.",
        ),
        (
            "boxes.csv",
            BOXES + "mailer,200,150,20,20,4,no,no,,,,0.5\ncarton,250,200,90,90,4,yes,yes,25,1000,,1\n",
            "boxes.csv:3: bottle_ml: 1000 is more than 0.8 of the 1200 ml inside.",
        ),
    ],
)
def test_a_mistake_is_one_line(file: str, text: str, message: str, tmp_path: Path) -> None:
    (good_shelf(tmp_path) / file).write_text(text, encoding="utf-8")
    said = errors(read_shelf(tmp_path, TODAY))
    assert len(said) == 1
    assert said[0].startswith(message)


def test_rows_of_days_and_of_months_stand_side_by_side(tmp_path: Path) -> None:
    text = WEATHER + "DE,12,,,2,12,\nDE,,2026-12-01,2026-12-03,-9,2,forecast\n*,,2026-12-01,2026-12-03,0,9,\n"
    (good_shelf(tmp_path) / "weather.csv").write_text(text, encoding="utf-8")
    assert [row.month for row in read(tmp_path).weather] == [None, 12, None]


def test_a_heat_pack_written_with_yes_counts_for_forty_hours_and_that_is_said(tmp_path: Path) -> None:
    packings = good_shelf(tmp_path) / "packings.csv"
    lines = packings.read_text(encoding="utf-8").splitlines()
    rows = [
        lines[0] + ",heat_pack",
        *(line + f",{word}" for line, word in zip(lines[1:], ("no", "yes", "no"), strict=True)),
    ]
    packings.write_text("\n".join(rows) + "\n", encoding="utf-8")
    shelf = read(tmp_path)
    assert {one.packing: one.heat_pack_h for one in shelf.packings} == {"tube": 0, "breather": 40, "damp": 0}
    assert notices(read_shelf(tmp_path, TODAY))[:1] == [
        "packings.csv:1: heat_pack: is the former name of heat_pack_h, and is read as it. Write heat_pack_h."
    ]


def test_the_hours_of_the_first_starter_boxes_are_named_as_withdrawn(tmp_path: Path) -> None:
    boxes = good_shelf(tmp_path) / "boxes.csv"
    header = "box,length_mm,width_mm,thick_mm,tare_g,holds,rigid,vented,insulated_h,cost\n"
    rows = "mailer,200,150,20,20,4,no,no,,0.5\ncarton,250,200,90,90,4,yes,yes,,1\n"
    boxes.write_text(header + rows + "foam box,250,180,120,180,10,yes,yes,12,2.5\n", encoding="utf-8")
    (said,) = notices(read_shelf(tmp_path, TODAY))
    assert said.startswith("boxes.csv:4: insulated_h: 12 of 'foam box' came with the first starter tables")


@pytest.mark.parametrize("outdoors", [True, False])
def test_no_normal_of_a_listed_place_is_asked_about_nor_what_is_12_degrees_off_it(
    outdoors: bool, tmp_path: Path
) -> None:
    rows = []
    for country, places in climate_places().items():
        place = min(places, key=lambda place: min(place.means_c)) if outdoors else places[-1]
        for month, mean in enumerate(place.means_c, 1):
            low, high = (mean - 12, mean + 12) if outdoors else (parcel_mean_c(mean), parcel_mean_c(mean) + 8)
            rows.append(f"{country},{month},,,{low:.1f},{high:.1f},")
    (good_shelf(tmp_path) / "weather.csv").write_text(WEATHER + "\n".join(rows) + "\n", encoding="utf-8")
    far = [said for said in notices(read_shelf(tmp_path, TODAY)) if "is far from" in said]
    assert len(rows) > 1300
    assert far == []


def test_a_part_of_a_country_may_be_colder_than_the_places_listed_of_it(tmp_path: Path) -> None:
    text = WEATHER + "CA-YT,1,,,-40,-20,\nCA,1,,,-40,-20,\n"
    (good_shelf(tmp_path) / "weather.csv").write_text(text, encoding="utf-8")
    (said,) = notices(read_shelf(tmp_path, TODAY))
    assert said.startswith("weather.csv:3: high_c: -20 °C is far from -1 to 19, usual there")


@pytest.mark.parametrize(("row", "region"), [("US-IL,12,,,20,26,", ""), ("US,12,,,20,26,", "Minnesota")])
def test_warmth_that_no_parcel_to_a_northern_state_has_in_december_is_asked_about(
    row: str, region: str, tmp_path: Path
) -> None:
    shelf = good_shelf(tmp_path)
    (shelf / "weather.csv").write_text(f"{WEATHER}{row}\n", encoding="utf-8")
    if region:
        orders = (shelf / "orders.csv").read_text(encoding="utf-8")
        header, first, *_ = orders.splitlines()
        cells = dict(zip(header.split(","), next(csv.reader([first])), strict=True))
        cells |= {"order": "US1", "country": "US", "region": region, "postcode": ""}
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerow(cells[name] for name in header.split(","))
        (shelf / "orders.csv").write_text(orders + out.getvalue(), encoding="utf-8")
    said = [one for one in notices(read_shelf(tmp_path, TODAY)) if "is far from" in one]
    assert len(said) == 1, said
    assert said[0].startswith("weather.csv:2: low_c: 20 °C is far from ")


@pytest.mark.parametrize("typed", ["12", "décembre", "Dez", "December", "dic."])
def test_a_month_is_read_by_its_number_or_its_name(tmp_path: Path, typed: str) -> None:
    folder = good_shelf(tmp_path)
    (folder / "weather.csv").write_text(f"{WEATHER}DE,{typed},,,-9,2,a logger\n", encoding="utf-8")
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf
    assert [row.month for row in shelf.weather] == [12]

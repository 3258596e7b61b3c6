"""A look typed at the bench goes to the breeder's own table, in its own format, and the forecast moves."""

from __future__ import annotations

import re

import pytest

from shipping.tables.reader import read_shelf
from shipping.tables.rows.lots import Look
from shipping.worktop.page_language import shown, with_names_whole
from tests.worktop.conftest import TODAY, Desk, plain, said

LOOK = "/lots/GA-13/look"


def test_a_name_is_not_broken_at_its_hyphens_but_where_it_is_sent(desk: Desk) -> None:
    """A lot of letters alone would be parted in a narrow column; what a form sends stays as it is."""
    page = desk.get("/lots").text
    assert '<h2 id="h-FL-31" tabindex="-1" data-next><bdi>FL-31</bdi> ' in page
    assert 'href="/ask?lot=FL-31"' in page
    assert ">FL-31</option>" in desk.get("/ask").text
    template = "{{ name }}<option>{{ name }}</option>"
    assert with_names_whole(template) == "{{ (name)|shown }}<option>{{ name }}</option>"
    assert [str(shown(name)) for name in ("GA-NSU", "GA<-B", "half-moon", "D02")] == [
        "<bdi>GA-NSU</bdi>",
        "GA&lt;-B",
        "half-moon",
        "D02",
    ]


@pytest.mark.parametrize(("alive", "is_written"), [(140, True), (141, False)])
def test_far_more_live_eggs_than_were_counted_are_not_written(
    desk: Desk, alive: int, is_written: bool
) -> None:
    """GA-13 was counted as 70; where more are written, its lot stays out until that is mended."""
    answer = desk.post(LOOK, alive=str(alive), on="2026-11-30")
    table = desk.folder.joinpath("inspections.csv").read_text(encoding="utf-8")
    assert (answer.status_code == 200) == (f",{alive}," in table) == is_written
    assert ("141 live eggs are far more than the 70 counted in lot GA-13." in said(answer)) is not is_written


def test_a_stage_is_told_with_the_day_of_its_look_not_of_a_later_count(desk: Desk) -> None:
    """GA-13 was counted on the 29th; what was seen of it was seen on the 27th."""
    assert "in water at 23 °C; seen Fri 27 Nov: live, no eyes." in desk.text("/lots").replace("\u00a0", " ")


def test_seeing_eyes_moves_stage_and_dates_and_says_how(desk: Desk) -> None:
    answer = desk.post(LOOK, stage="eyed", on="Mon 30 Nov 2026")
    text = plain(answer.text)
    assert answer.status_code == 200
    assert "Stage: live, no eyes → eyes show" in text
    assert re.search(r"Hatches: .* → ", text)
    for page in ("/week", "/packing?day=2026-12-01"):
        assert "Look first at lot GA-13" not in desk.text(page)


def test_the_row_is_added_at_the_end_and_nothing_else_changes(desk: Desk) -> None:
    table = desk.folder / "inspections.csv"
    table.write_bytes(
        '# my looks\r\nlot;on;note;stage;kept_at_c\r\nCY-09;2026-11-24;"a; b";eyed;\r\n'.encode("utf-8-sig")
    )
    before = table.read_bytes()
    assert (
        desk.post(LOOK, stage="eyed", on="2026-11-30", kept_at_c="22.5", note="two; three").status_code == 200
    )
    assert table.read_bytes() == before + b'GA-13;2026-11-30;"two; three";eyed;22,5\r\n'
    copies = list((desk.folder / "table-copies").iterdir())
    assert [copy.read_bytes() for copy in copies] == [before]
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert "GA-13" in {look.lot for look in shelf.looks}


def test_a_column_the_table_lacks_is_added_for_what_was_typed_and_a_copy_is_kept_first(desk: Desk) -> None:
    table = desk.folder / "inspections.csv"
    table.write_text("lot,on,stage\nCY-09,2026-11-24,eyed\n", encoding="utf-8")
    before = table.read_bytes()
    answer = desk.post(LOOK, alive="60", on="2026-11-30")
    assert answer.status_code == 200
    assert table.read_text(encoding="utf-8").splitlines() == [
        "lot,on,stage,alive",
        "CY-09,2026-11-24,eyed",
        "GA-13,2026-11-30,,60",
    ]
    (copy,) = (desk.folder / "table-copies").iterdir()
    assert copy.read_bytes() == before


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"alive": "2.5"}, "is not a whole number"),
        ({"stage": "eyed", "on": "2026-12-01"}, "2026-12-01"),
        ({"stage": "laid"}, "laid"),
        ({"kept_at_c": "220"}, "220"),
        ({"stage": "hatched"}, "nothing was seen"),
        ({}, "nothing was seen"),
    ],
)
def test_a_look_that_the_checks_refuse_is_not_written(desk: Desk, fields: dict[str, str], why: str) -> None:
    table = desk.folder / "inspections.csv"
    before = table.read_bytes()
    answer = desk.post(LOOK, **{"on": "2026-11-30", **fields})
    assert answer.status_code in (409, 422)
    assert why in said(answer)
    assert table.read_bytes() == before
    assert not (desk.folder / "table-copies").exists()


def test_a_recount_that_cannot_be_is_written_and_said(desk: Desk) -> None:
    answer = desk.post(LOOK, alive="100", on="2026-11-30")
    assert answer.status_code == 200
    told = plain(answer.text)
    assert "more eggs were counted than can be there" in told
    assert "inspections.csv" not in told
    assert said(answer).startswith("Written: look GA-13 Mon 30 Nov 2026."), "it is said once, in the bar"


def test_a_text_that_a_spreadsheet_would_take_for_a_formula_stays_text(desk: Desk) -> None:
    desk.post(LOOK, stage="eyed", on="2026-11-30", note="=1+1")
    assert (
        desk.folder.joinpath("inspections.csv").read_text(encoding="utf-8").splitlines()[-1].endswith("'=1+1")
    )


def test_a_workbook_is_never_written_to_and_the_row_is_named(desk: Desk) -> None:
    desk.folder.joinpath("inspections.csv").unlink()
    from openpyxl import Workbook

    book = Workbook()
    assert book.active is not None
    book.active.title = "inspections"
    book.active.append(["lot", "on", "stage"])
    book.save(desk.folder / "shelf.xlsx")
    before = desk.folder.joinpath("shelf.xlsx").read_bytes()
    answer = desk.post(LOOK, stage="eyed", on="2026-11-30")
    assert answer.status_code == 409
    assert "Type into a new row of its sheet inspections: lot GA-13, on 2026-11-30, stage eyed." in said(
        answer
    )
    assert desk.folder.joinpath("shelf.xlsx").read_bytes() == before
    assert "type the row there, in the sheet inspections" in desk.text("/lots")


def test_a_shelf_without_looks_gets_a_table_with_its_header(desk: Desk) -> None:
    desk.folder.joinpath("inspections.csv").unlink()
    assert desk.post(LOOK, stage="eyed", on="2026-11-30").status_code == 200
    lines = desk.folder.joinpath("inspections.csv").read_text(encoding="utf-8-sig").splitlines()
    assert lines[0].startswith("lot,on,stage")
    assert lines[1].startswith("GA-13,2026-11-30,eyed")


def test_a_lot_that_is_none_is_not_found(desk: Desk) -> None:
    for name in ("GA-99", "..", "%2e%2e%2flots"):
        assert desk.post(f"/lots/{name}/look", stage="eyed").status_code == 404


def test_eggs_kept_back_are_told_beside_those_that_are_free(desk: Desk) -> None:
    assert re.search(r"99 eggs here: 23 held for parcels, \d+ free, 10 kept back\.", desk.text("/lots"))


def test_eggs_held_for_parcels_are_still_counted_in_their_lot(desk: Desk) -> None:
    """80 were counted; a parcel kept holds 23 of them, which is in the tank until it is packed."""
    assert "80 eggs here: 23 held for parcels, 57 free." in desk.text("/lots")
    desk.pack()
    assert "57 eggs here, held for no parcel. 23 more are packed. Hatches" in desk.text("/lots?find=FL-31")


@pytest.mark.parametrize(
    ("own", "shown"),
    [
        (",2026-12-12,2027-01-31,", "Wet Sat 12 Dec to Sun 31 Jan, your own dates. Laid"),
        (
            ",2026-11-20,2026-11-29,",
            "Wet now, due by Sun 29 Nov; Thu 28 Jan at the latest.",
        ),  # ready eggs keep 60 days
    ],
)
def test_the_breeders_own_days_of_wetting_are_those_of_the_card(desk: Desk, own: str, shown: str) -> None:
    """The clock's were shown on the card, and the breeder's everywhere else."""
    table = desk.folder / "lots.csv"
    words = table.read_text(encoding="utf-8").replace(",2026-12-12,2027-01-31,", own)
    table.write_text(words, encoding="utf-8")
    assert shown in desk.text("/lots?find=KO-11")


def test_days_of_wetting_that_rest_on_a_look_say_so_on_the_card(desk: Desk) -> None:
    card = desk.text("/lots?find=FU-40")
    assert re.search(r"half by [^.]*, by the look of Sun 22 Nov\.", card)
    assert "by the look" not in desk.text("/lots?find=NI-06")


def test_a_lot_presumed_hatched_has_no_days_to_hatch_on(desk: Desk) -> None:
    """The day of those that might still be whole stood beside the words that all have hatched."""
    table = desk.folder / "lots.csv"
    with table.open("a", encoding="utf-8") as rows:
        rows.write("OLD-1,gardneri,Nsukka,2026-10-25,2026-10-26,water,23,60,2026-11-03,,eyed,2026-11-03\n")
    moved = plain(desk.post("/lots/OLD-1/look", alive="12", on="2026-11-30").text)
    assert "Hatches: no dates before someone looks, as before" in moved


def test_a_second_look_of_a_day_fills_what_the_first_left_blank(desk: Desk) -> None:
    """Eyes are seen in the morning and the eggs counted at night: the day's row was refused its count."""
    desk.post(LOOK, stage="eyed", on="2026-11-30")
    table = desk.folder / "inspections.csv"
    rows = table.read_text(encoding="utf-8").count("GA-13")
    assert "→ 50" in plain(desk.post(LOOK, alive="50", on="2026-11-30").text)
    assert table.read_text(encoding="utf-8").count("GA-13") == rows
    (look,) = (one for one in desk_looks(desk) if one.lot == "GA-13" and one.on == TODAY)
    assert (look.stage, look.alive) == ("eyed", 50)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"stage": "fertile"}, {"stage": "eyed"}),
        ({"alive": "50"}, {"alive": "50"}),
        ({"alive": "50"}, {"removed": "3"}),  # one row would say that 50 lived without those 3
        ({"alive": "50"}, {"hatched": "3"}),
    ],
)
def test_what_a_look_of_that_day_says_already_is_changed_where_it_stands(
    desk: Desk, first: dict[str, str], second: dict[str, str]
) -> None:
    desk.post(LOOK, **{"on": "2026-11-30", **first})
    table = desk.folder / "inspections.csv"
    before = table.read_bytes()
    answer = desk.post(LOOK, **{"on": "2026-11-30", **second})
    assert "Change it under More, What was seen before." in said(answer)
    assert table.read_bytes() == before


def test_eggs_taken_out_before_a_count_go_into_its_row(desk: Desk) -> None:
    desk.post(LOOK, removed="3", on="2026-11-30")
    assert said(desk.post(LOOK, alive="50", on="2026-11-30")).startswith("Written: look GA-13")
    (look,) = (one for one in desk_looks(desk) if one.lot == "GA-13" and one.on == TODAY)
    assert (look.removed, look.alive) == (3, 50)


def desk_looks(desk: Desk) -> tuple[Look, ...]:
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    return shelf.looks

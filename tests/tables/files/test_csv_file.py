"""What a CSV file may look like and still be read, and that the row numbers hold."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.tables.reader import read_shelf
from tests.tables.shelves import GOOD, TODAY, errors, good_shelf, notices, order, read

ORDERS = (GOOD / "orders.csv").read_text(encoding="utf-8")


def write(folder: Path, name: str, text: str, encoding: str = "utf-8") -> Path:
    shelf = good_shelf(folder)
    (shelf / name).write_bytes(text.encode(encoding))
    return shelf


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_utf8_with_and_without_mark_and_utf16_with_its_mark_read_alike(tmp_path: Path, encoding: str) -> None:
    assert read(write(tmp_path, "orders.csv", ORDERS, encoding)).orders == read(GOOD).orders


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_every_kind_of_line_end_reads_alike(tmp_path: Path, ends: str) -> None:
    assert read(write(tmp_path, "orders.csv", ORDERS.replace("\n", ends))).orders == read(GOOD).orders


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_found_in_the_header(tmp_path: Path, separator: str) -> None:
    assert read(write(tmp_path, "orders.csv", ORDERS.replace(",", separator))).orders == read(GOOD).orders


def test_a_decimal_comma_is_read_where_the_separator_is_a_semicolon_and_said(tmp_path: Path) -> None:
    text = ORDERS.replace(",", ";").replace("25.00", "25,50")
    reading = read_shelf(write(tmp_path, "orders.csv", text), TODAY)
    assert reading.shelf is not None
    assert str(order(reading.shelf, "A1").lines[0].price) == "25.50"
    assert not reading.read_as
    (told,) = (file for file in reading.files if file.file == "orders.csv")
    assert told.form == "UTF-8, semicolons between cells, decimal comma or point"


def test_a_zero_in_front_stays_and_namibia_is_a_country(tmp_path: Path) -> None:
    shelf = read(write(tmp_path, "orders.csv", ORDERS.replace("A2,", "007,").replace(",DK,da", ",NA,da")))
    assert order(shelf, "007").country == "NA"
    assert order(shelf, "A1").address.postcode == "01067"


def test_words_that_mean_nothing_to_a_computer_are_names_like_any_other(tmp_path: Path) -> None:
    shelf = read(write(tmp_path, "orders.csv", ORDERS.replace("Bo Eksempel", "None").replace("A2,", "NaN,")))
    assert order(shelf, "NaN").address.addressee == "None"


def test_markup_and_formulas_in_a_name_are_text(tmp_path: Path) -> None:
    text = ORDERS.replace("Bo Eksempel", "<b>Bo & Co</b>").replace("Åvej 9", "=HYPERLINK(1)")
    address = order(read(write(tmp_path, "orders.csv", text)), "A2").address
    assert address.addressee == "<b>Bo & Co</b>"
    assert address.delivery == ("=HYPERLINK(1)",)


def test_the_apostrophe_that_guards_a_formula_is_not_part_of_the_text(tmp_path: Path) -> None:
    address = order(read(write(tmp_path, "orders.csv", ORDERS.replace("Åvej 9", "'+45 11 11"))), "A2").address
    assert address.delivery == ("+45 11 11",)


def test_blank_lines_and_comments_are_skipped_and_keep_the_row_numbers(tmp_path: Path) -> None:
    header, first, *rest = ORDERS.splitlines()
    text = "\n".join(['# my orders, "so far', header, "", "# paid", first, "   ", *rest]) + "\n\n"
    shelf = read(write(tmp_path, "orders.csv", text))
    assert order(shelf, "A1").lines[0].row.at.row == 5
    assert order(shelf, "A2").lines[0].row.at.row == 8


def test_a_line_break_inside_quotes_does_not_shift_the_rows_below(tmp_path: Path) -> None:
    shelf = read(
        write(
            tmp_path,
            "lots.csv",
            (GOOD / "lots.csv")
            .read_text(encoding="utf-8")
            .replace(",wet_until\n", ",wet_until,note\n")
            .replace("10,,\n", '10,,,"two\nlines"\n'),
        )
    )
    assert [lot.at.row for lot in shelf.lots] == [2, 3, 4]
    assert shelf.lots[0].note == "two\nlines"


def test_columns_of_the_breeders_own_are_passed_over(tmp_path: Path) -> None:
    text = "\n".join(
        line + (",_mine" if number == 0 else ",whatever, the breeder")
        for number, line in enumerate(ORDERS.split("\n")[:-1])
    )
    reading = read_shelf(write(tmp_path, "orders.csv", text.replace(", the", " the")), TODAY)
    assert errors(reading) == []


def test_trailing_separators_and_missing_trailing_cells_are_blank(tmp_path: Path) -> None:
    text = "box,tare_g,holds\nmailer,20,4,,,\ncarton,90\n"
    boxes = read_shelf(write(tmp_path, "boxes.csv", text), TODAY)
    assert not any(message.startswith("boxes.csv") for message in errors(boxes))


def test_a_comma_at_the_end_of_every_row_hides_no_number_parted_at_its_own(tmp_path: Path) -> None:
    text = "box,tare_g,holds\nmailer,20,4,\ncarton,90,3,\n"
    boxes = read_shelf(write(tmp_path, "boxes.csv", text), TODAY)
    assert not any(message.startswith("boxes.csv") for message in errors(boxes))
    boxes = read_shelf(write(tmp_path, "boxes.csv", text.replace("4,", "4")), TODAY)
    doubts = [message for message in errors(boxes) if message.startswith("boxes.csv")]
    (said,) = doubts
    assert said.startswith(
        "boxes.csv:3: tare_g: has 1 cell more than the header ('3'). Write 90.3; or remove"
    )


def test_names_are_composed_so_that_two_spellings_of_one_letter_are_one(tmp_path: Path) -> None:
    shelf = read(write(tmp_path, "orders.csv", ORDERS.replace("Åvej", "A\u030avej")))
    assert order(shelf, "A2").address.delivery == ("Åvej 9",)


def test_marks_that_turn_the_direction_of_writing_are_removed_and_said(tmp_path: Path) -> None:
    reading = read_shelf(write(tmp_path, "orders.csv", ORDERS.replace("Bo Eks", "Bo\u202e\x07 Eks")), TODAY)
    assert reading.shelf is not None
    assert order(reading.shelf, "A2").address.addressee == "Bo Eksempel"
    assert notices(reading) == [
        "orders.csv:4: addressee: held marks that cannot be seen or a line break; they were left out."
    ]


def test_a_file_that_cannot_be_opened_says_so_and_nothing_else(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    (shelf / "orders.csv").unlink()
    (shelf / "orders.csv").mkdir()
    assert errors(read_shelf(shelf, TODAY)) == [
        "orders.csv: cannot be opened (is a directory). If it is open in another program, close it there; "
        "else see that you may read it."
    ]


def test_more_rows_than_any_breeder_has_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shipping.tables.files.sheet.MOST_ROWS", 2)
    assert (
        errors(read_shelf(good_shelf(tmp_path), TODAY))[0]
        == "lots.csv:4: has more than 2 rows. Move old rows elsewhere."
    )


def test_a_file_larger_than_any_breeder_has_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = good_shelf(tmp_path)
    monkeypatch.setattr("shipping.tables.files.sheet.MOST_BYTES", (shelf / "species.csv").stat().st_size)
    assert errors(read_shelf(shelf, TODAY)) == [
        "orders.csv: is larger than 50 MB. Move old rows to another folder."
    ]


def test_all_mistakes_of_all_files_are_reported_in_one_go(tmp_path: Path) -> None:
    shelf = write(
        tmp_path, "orders.csv", ORDERS.replace(",20,25.00", ",2.5,25 USD").replace(",30,20", ",none,20")
    )
    (shelf / "weather.csv").write_text("to,month,low_c,high_c\nDE,13,4,18\n", encoding="utf-8")
    assert errors(read_shelf(shelf, TODAY)) == [
        "orders.csv:2: price: '25 USD' is not in EUR. Write what it is worth in EUR, the number alone.",
        "orders.csv:2: eggs: '2.5' is not a whole number. Write 2 or 3.",
        "orders.csv:4: eggs: 'none' is not a number. Write a whole number from 1 to 1000000.",
        "weather.csv:2: month: '13' is out of range. Write a whole number from 1 to 12.",
    ]


def test_what_a_row_with_a_mistake_names_is_looked_for_in_the_same_round(tmp_path: Path) -> None:
    orders = ORDERS.replace(",20,25.00", ",2.5,25.00").replace("gardneri", "gardnerix", 1)
    shelf = write(tmp_path, "orders.csv", orders)
    species = (shelf / "species.csv").read_text(encoding="utf-8")
    (shelf / "species.csv").write_text(species.replace("water,", "watr,", 1), encoding="utf-8")
    lots = (shelf / "lots.csv").read_text(encoding="utf-8")
    (shelf / "lots.csv").write_text(lots.replace("gardneri", "A. gardneri", 1), encoding="utf-8")
    said = errors(read_shelf(shelf, TODAY))
    assert [line.partition(" ")[0] for line in said] == [
        "species.csv:2:",
        "lots.csv:2:",
        "orders.csv:2:",
        "orders.csv:2:",
    ]
    assert "'A. gardneri' is not in species" in said[1]
    assert "'gardnerix' is not in species" in "".join(said[2:])


def test_the_units_that_a_column_is_in_are_read_and_no_other(tmp_path: Path) -> None:
    text = ORDERS.replace("25.00", "€ 25.50")
    reading = read_shelf(write(tmp_path, "orders.csv", text), TODAY)
    assert reading.shelf is not None
    assert str(order(reading.shelf, "A1").lines[0].price) == "25.50"
    good = (GOOD / "lots.csv").read_text(encoding="utf-8")
    for unit in ("°C", "º", "ºC", "° C", "grados", "Grad", "degrés C"):
        lots = read(write(tmp_path / unit, "lots.csv", good.replace(",23,", f",23 {unit},"))).lots
        assert {lot.kept_at_c for lot in lots} == {23}
    fahrenheit = read_shelf(write(tmp_path / "F", "lots.csv", good.replace(",23,", ",73 °F,")), TODAY)
    assert "lots.csv:2: kept_at_c: '73 °F' is not a number. Write 22.8 for 73 °F." in errors(fahrenheit)
    packings = (GOOD / "packings.csv").read_text(encoding="utf-8").replace(",0.01,", ",1 %,")
    assert read(write(tmp_path / "packings", "packings.csv", packings)) == read(GOOD)


def test_decimals_with_points_stay_readable_where_commas_are_said_to_be_the_rule(tmp_path: Path) -> None:
    species = (GOOD / "species.csv").read_text(encoding="utf-8")
    shelf = write(tmp_path, "species.csv", species.replace(",24,10,", ",24,10.364,", 1))
    assert read(shelf).species["gardneri"].zero_c == 10.364
    settings = (shelf / "shelf.toml").read_text(encoding="utf-8")
    (shelf / "shelf.toml").write_text(settings + '\n[reading]\ndecimals = "comma"\n', encoding="utf-8")
    assert read(shelf).species["gardneri"].zero_c == 10.364
    learned = (
        "what,for,value,unit,from_day,basis,n,low,high\nkappa,*,39.5,,2026-11-01,learned,12,19.912,60.5\n"
    )
    (shelf / "learned.csv").write_text(learned, encoding="utf-8")
    assert read(shelf).rates[0].low == 19.912
    (shelf / "learned.csv").write_text(
        learned.replace("39.5", '"39,5"').replace("60.5", '"60,5"'), encoding="utf-8"
    )
    assert "'19.912' has two readings here" in errors(read_shelf(shelf, TODAY))[0]


@pytest.mark.parametrize(
    ("currency", "separator", "typed", "price"),
    [
        ("KWD", ",", "5.857", "5.857"),
        ("TND", ",", "TND 5.857", "5.857"),
        ("KWD", ";", "5,857", "5.857"),
        ("KWD", ";", "5.857", None),
        ("KWD", ",", "5857", "5857"),
        ("EUR", ",", "5.857", None),
        ("JPY", ",", "5.857", None),
    ],
)
def test_a_price_with_the_decimals_of_its_currency_has_one_reading(
    tmp_path: Path, currency: str, separator: str, typed: str, price: str | None
) -> None:
    text = ORDERS.replace(",", separator).replace("25.00", typed, 1)
    shelf = write(tmp_path, "orders.csv", text)
    settings = (shelf / "shelf.toml").read_text(encoding="utf-8")
    changed = settings.replace("[plan]", f'[plan]\ncurrency = "{currency}"')
    (shelf / "shelf.toml").write_text(changed, encoding="utf-8")
    reading = read_shelf(shelf, TODAY)
    if price is None:
        assert "has two readings" in errors(reading)[0]
    else:
        assert reading.shelf is not None, errors(reading)
        assert str(order(reading.shelf, "A1").lines[0].price) == price


def test_a_row_with_a_mistake_still_lends_its_name_to_others(tmp_path: Path) -> None:
    text = (GOOD / "lots.csv").read_text(encoding="utf-8").replace("23,120", "23,many")
    assert errors(read_shelf(write(tmp_path, "lots.csv", text), TODAY)) == [
        "lots.csv:2: eggs: 'many' is not a number. Write a whole number from 0 to 1000000."
    ]


def test_a_table_with_a_wrong_header_makes_no_second_message_elsewhere(tmp_path: Path) -> None:
    text = (GOOD / "species.csv").read_text(encoding="utf-8").replace("family", "famly")
    assert errors(read_shelf(write(tmp_path, "species.csv", text), TODAY)) == [
        "species.csv:1: famly: is no column of species. Did you mean 'family'?"
    ]

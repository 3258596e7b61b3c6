"""A sheet of other headers becomes orders by the breeder's own mapping, and changes in it are asked about
once.
"""

from __future__ import annotations

import errno
from pathlib import Path

import openpyxl
import pytest

from shipping.tables import reader
from shipping.tables.files.find_sheets import SEEN_FILE
from shipping.tables.mapped_orders.combined_cells import names_of_fish, split_wish
from shipping.tables.mapped_orders.mapped_sheet import day_in_order
from shipping.tables.mapped_orders.mapping import MappedSheet
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.words.problems import ShelfProblems
from tests.post.a_shelf import a_species
from tests.tables.shelves import TODAY, errors, good_shelf, notices, order, read

MAP = """
[[sheet]]
file = "form.csv"
dates = "dmy"
decimals = "comma"
prefix = "w-"

[sheet.columns]
order = "No."
placed_on = "Day"
addressee = ["First name", "Last name"]
delivery_1 = ["Street", "House"]
country = "Country"
price = "Sum"
wish = "What would you like?"

[sheet.always]
language = "da"

[sheet.names]
"steel-blue" = "gardneri/Akure"

[sheet.countries]
"Danmark" = "DK"
"""
HEADER = "No.;Day;First name;Last name;Street;House;Country;Sum;What would you like?;Mood\n"
ROW = "#1001;05.11.2026 14:03;Ina;Prøve;Ågade;9;Danmark;12,50;20 x Steel-blue;good\n"


def mapped_shelf(folder: Path, rows: str, mapping: str = MAP) -> Path:
    shelf = good_shelf(folder)
    (shelf / "orders.toml").write_text(mapping, encoding="utf-8")
    (shelf / "form.csv").write_text(HEADER + rows, encoding="utf-8")
    return shelf


def test_every_column_arrives_under_our_header(tmp_path: Path) -> None:
    found = order(read(mapped_shelf(tmp_path, ROW)), "w-#1001")
    assert found.placed_on.isoformat() == "2026-11-05"
    assert (found.address.addressee, found.address.delivery) == ("Ina Prøve", ("Ågade 9",))
    assert (found.country, found.language) == ("DK", "da")
    line = found.lines[0]
    assert (line.species, line.population, line.eggs, str(line.price)) == ("gardneri", "Akure", 20, "12.50")


def test_the_orders_of_the_table_are_there_too(tmp_path: Path) -> None:
    assert [one.order for one in read(mapped_shelf(tmp_path, ROW)).orders] == ["A1", "A2", "w-#1001"]


def test_a_sheet_without_payments_leaves_its_orders_paid_while_the_table_keeps_them(tmp_path: Path) -> None:
    shelf = read(mapped_shelf(tmp_path, ROW))
    assert order(shelf, "w-#1001").lines[0].paid
    assert not order(shelf, "A2").lines[0].paid


def test_a_wish_of_several_fish_is_several_lines(tmp_path: Path) -> None:
    row = ROW.replace("20 x Steel-blue", '"20 x Steel-blue, 15 Nothobranchius guentheri"')
    lines = order(read(mapped_shelf(tmp_path, row)), "w-#1001").lines
    assert [(line.number, line.species, line.eggs) for line in lines] == [
        (1, "gardneri", 20),
        (2, "guentheri", 15),
    ]


def test_a_price_parted_at_its_comma_is_asked_about_and_a_comma_behind_every_row_is_none(
    tmp_path: Path,
) -> None:
    shelf = good_shelf(tmp_path)
    mapping = MAP.replace('["First name", "Last name"]', '"Name"').replace('["Street", "House"]', '"Street"')
    (shelf / "orders.toml").write_text(mapping, encoding="utf-8")
    rows = "#1,05.11.2026,Ina,Gade 9,DK,20 x Steel-blue,12,3,\n#2,06.11.2026,Bo,Gade 8,DK,20 x Steel-blue,12,"
    header = "No.,Day,Name,Street,Country,What would you like?,Sum,Mood\n"
    (shelf / "form.csv").write_text(f"{header}{rows}50,\n", encoding="utf-8")
    assert errors(read_shelf(shelf, TODAY)) == []
    (shelf / "form.csv").write_text(f"{header}{rows}50,,\n", encoding="utf-8")
    (said,) = errors(read_shelf(shelf, TODAY))
    assert said.startswith(
        "form.csv:3: price ('Sum'): has more cells than the header. Write 12.50; or remove"
    )


def test_what_was_read_as_something_else_is_shown(tmp_path: Path) -> None:
    reading = read_shelf(mapped_shelf(tmp_path, ROW), TODAY)
    assert "form.csv:2: placed_on ('Day'): '05.11.2026 14:03' was read as '2026-11-05'." in map(
        str, reading.read_as
    )
    assert (
        "form.csv:2: wish ('What would you like?'): '20 x Steel-blue' was read as '20 gardneri/Akure'."
        in map(str, reading.read_as)
    )


def test_the_orders_table_is_not_needed_beside_a_mapped_sheet(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW)
    (shelf / "orders.csv").unlink()
    assert [one.order for one in read(shelf).orders] == ["w-#1001"]


def test_a_mapped_workbook_gives_the_same_order(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW, MAP.replace('"form.csv"', '"form.xlsx"\ntab = "Answers"'))
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Answers"
    for line in (HEADER + ROW).strip().split("\n"):
        sheet.append(line.split(";"))
    sheet["H2"] = 12.5
    book.save(shelf / "form.xlsx")
    (shelf / "form.csv").unlink()
    found = order(read(shelf), "w-#1001")
    assert (found.lines[0].eggs, str(found.lines[0].price)) == (20, "12.5")
    assert found.lines[0].row.at.file == "form.xlsx[Answers]"


def test_two_sheets_are_read_as_one_table(tmp_path: Path) -> None:
    second = MAP.replace("form.csv", "fair.csv").replace('"w-"', '"f-"')
    shelf = mapped_shelf(tmp_path, ROW, MAP + second)
    (shelf / "fair.csv").write_text(HEADER + ROW.replace("20 x", "30 x"), encoding="utf-8")
    eggs = {one.order: one.lines[0].eggs for one in read(shelf).orders}
    assert (eggs["w-#1001"], eggs["f-#1001"]) == (20, 30)


def test_the_same_order_in_two_sheets_counts_once_if_it_is_the_same(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW, MAP + MAP.replace("form.csv", "again.csv"))
    (shelf / "again.csv").write_text(HEADER + ROW, encoding="utf-8")
    assert len(order(read(shelf), "w-#1001").lines) == 1


def test_the_same_order_in_two_sheets_with_other_values_is_an_error(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW, MAP + MAP.replace("form.csv", "again.csv"))
    (shelf / "again.csv").write_text(HEADER + ROW.replace("20 x", "30 x"), encoding="utf-8")
    assert errors(read_shelf(shelf, TODAY)) == [
        "again.csv:2: order ('No.'): 'w-#1001' stands in form.csv:2 too, with other values. Give one of the"
        " sheets a prefix."
    ]


def test_looking_writes_nothing_and_taking_writes_what_was_seen(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW)
    read(shelf)
    assert not (shelf / SEEN_FILE).exists()
    read(shelf, take=True)
    assert (shelf / SEEN_FILE).exists()


def test_reading_the_same_sheet_again_changes_nothing(tmp_path: Path) -> None:
    shelf = mapped_shelf(
        tmp_path, ROW + ROW.replace("1001", "1002").replace("Ina", "Ona").replace("Ågade", "=1+1")
    )
    first = read(shelf, take=True)
    seen = (shelf / SEEN_FILE).read_bytes()
    second = read(shelf, take=True)
    assert second.orders == first.orders
    assert (shelf / SEEN_FILE).read_bytes() == seen
    assert notices(read_shelf(shelf, TODAY)) == []


def test_a_changed_row_is_shown_before_and_after_until_it_is_taken(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW)
    read(shelf, take=True)
    (shelf / "form.csv").write_text(HEADER + ROW.replace("20 x", "25 x"), encoding="utf-8")
    assert errors(read_shelf(shelf, TODAY)) == [
        "form.csv:2: wish ('What would you like?'): was '20' when it was read before, and is now '25'. "
        "If that is right, run check --take."
    ]
    assert order(read(shelf, take=True), "w-#1001").lines[0].eggs == 25
    assert errors(read_shelf(shelf, TODAY)) == []


@pytest.mark.parametrize(("before", "after"), [(1, 2), (2, 1)])
def test_an_order_of_more_or_fewer_lines_than_were_taken_is_asked_about(
    tmp_path: Path, before: int, after: int
) -> None:
    two = ROW.replace("20 x Steel-blue", '"20 x Steel-blue, 15 Nothobranchius guentheri"')
    rows = {1: ROW, 2: two}
    shelf = mapped_shelf(tmp_path, rows[before])
    read(shelf, take=True)
    (shelf / "form.csv").write_text(HEADER + rows[after], encoding="utf-8")
    assert (
        f"form.csv:2: order ('No.'): lines of order 'w-#1001': {before} when it was read before, and now"
        f" {after}. If that is right, run check --take."
    ) in errors(read_shelf(shelf, TODAY))


def test_a_new_order_needs_no_taking(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW)
    read(shelf, take=True)
    another = ROW.replace("1001", "1002").replace("Ina", "Oda").replace("Ågade", "Strandvej")
    (shelf / "form.csv").write_text(HEADER + ROW + another, encoding="utf-8")
    reading = read_shelf(shelf, TODAY)
    assert reading.shelf is not None
    assert "w-#1002" in reading.shelf.order_by_name
    assert notices(reading) == ["form.csv: 1 order is new. Run check --take to be told of later changes."]


def test_a_broken_sheet_does_not_make_its_orders_gone(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW)
    read(shelf, take=True)
    (shelf / "form.csv").unlink()
    assert errors(read_shelf(shelf, TODAY)) == [
        "form.csv: is missing. Put it in the folder, or mend orders.toml."
    ]


def test_nothing_is_taken_while_there_are_errors(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW.replace("Danmark", "Midgard"))
    assert read_shelf(shelf, TODAY, take=True).shelf is None
    assert not (shelf / SEEN_FILE).exists()


def test_on_a_full_disk_the_file_of_what_was_taken_is_named_and_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was told of "file", or of a file that was gone by then."""
    shelf = mapped_shelf(tmp_path, ROW)
    read(shelf, take=True)
    before = (shelf / SEEN_FILE).read_bytes()

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(reader, "write_whole", full)
    with pytest.raises(ShelfProblems, match=rf"{SEEN_FILE}: cannot be written \(no space left"):
        read_shelf(shelf, TODAY, take=True)
    assert (shelf / SEEN_FILE).read_bytes() == before


@pytest.mark.parametrize(
    ("text", "order_of_parts", "iso"),
    [
        ("05/11/2026", "dmy", "2026-11-05"),
        ("05/11/2026", "mdy", "2026-05-11"),
        ("5.11.26", "dmy", "2026-11-05"),
        ("2026/11/05", "dmy", "2026-11-05"),
        ("2026-11-05 08:15:00", "mdy", "2026-11-05"),
        ("26-11-05", "ymd", "2026-11-05"),
        ("13/13/2026", "dmy", "13/13/2026"),
        ("soon", "dmy", "soon"),
    ],
)
def test_dates_are_read_in_the_one_order_the_mapping_names(text: str, order_of_parts: str, iso: str) -> None:
    assert day_in_order(text, order_of_parts) == iso


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("20 x gardneri", (20, "gardneri")),
        ("20x Gardneri", (20, "gardneri")),
        ("20 GARDNERI", (20, "gardneri")),
        ("gardneri x 20", (20, "gardneri")),
        ("gardneri: 20", (20, "gardneri")),
        ("20 eggs of red 2", (20, "red 2")),
        ("red 2 x 20", (20, "red 2")),
        ("gardneri", None),
        ("20 x nigerian", None),
        ("2.5 x gardneri", None),
    ],
)
def test_a_wish_is_a_count_and_a_known_name(text: str, found: tuple[int, str] | None) -> None:
    assert split_wish(text, {"gardneri": "gardneri", "red 2": "red 2"}) == found


def test_rows_taken_before_a_column_was_added_are_still_known(tmp_path: Path) -> None:
    shelf = mapped_shelf(tmp_path, ROW)
    read(shelf, take=True)
    lines = (shelf / SEEN_FILE).read_text(encoding="utf-8-sig").splitlines()
    assert lines[0].endswith(",note,local_1,local_2,local_3,local_4")
    older = "\n".join(
        [lines[0].removesuffix(",local_1,local_2,local_3,local_4"), *(line[:-4] for line in lines[1:])]
    )
    (shelf / SEEN_FILE).write_text(older + "\n", encoding="utf-8-sig")
    assert read_shelf(shelf, TODAY).problems == ()


def shop(folder: Path, header: str, rows: str, mapping: str) -> Shelf:
    """The good shelf with a sheet of another shop."""
    good_shelf(folder)
    (folder / "shop.csv").write_text(f"{header}\n{rows}\n", encoding="utf-8")
    (folder / "orders.toml").write_text(mapping, encoding="utf-8")
    return read(folder)


_SHOP = (
    '[[sheet]]\nfile = "shop.csv"\ndates = "mdy"\nprefix = "s"\n[sheet.columns]\n'
    'order = "No"\nplaced_on = "Date"\n'
    'addressee = "Name"\ncountry = "Country"\n'
)


def test_a_name_of_a_mapped_species_column_keeps_its_population(tmp_path: Path) -> None:
    mapping = f'{_SHOP}species = "Item"\neggs = "Qty"\n[sheet.names]\n"Steel-blue" = "gardneri/Akure"\n'
    shelf = shop(tmp_path, "No,Date,Name,Country,Item,Qty", "7,11/20/2026,Ida,DK,steel-blue,20", mapping)
    line = order(shelf, "s7").lines[0]
    assert (line.species, line.population, line.eggs) == ("gardneri", "Akure", 20)


def test_a_species_and_a_population_kept_here_may_stand_in_one_cell(tmp_path: Path) -> None:
    mapping = f'{_SHOP}species = "Item"\neggs = "Qty"\n'
    rows = "No,Date,Name,Country,Item,Qty", "7,11/20/2026,Ida,DK,Gardneri  akure,20"
    shelf = shop(tmp_path / "column", *rows, mapping)
    wish = ROW.replace("20 x Steel-blue", "20 x gardneri Akure")
    lines = order(shelf, "s7").lines + order(read(mapped_shelf(tmp_path / "wish", wish)), "w-#1001").lines
    assert [(line.species, line.population, line.eggs) for line in lines] == [("gardneri", "Akure", 20)] * 2


def test_a_name_with_a_population_that_two_fish_have_or_none_is_asked_about() -> None:
    fish = (
        a_species(species="gardneri"),
        a_species(species="gardneri minor", scientific_name="Fundulopanchax minor"),
    )
    kept = frozenset({("gardneri", "minor Akure"), ("gardneri minor", "Akure"), ("gardneri", "Nsukka")})
    names = names_of_fish(MappedSheet(file="form.csv"), fish, kept)
    assert names["gardneri nsukka"] == "gardneri/Nsukka"
    assert "gardneri minor akure" not in names
    assert "gardneri kumba" not in names


def test_packs_times_their_size_are_the_eggs_and_each_price_is_multiplied(tmp_path: Path) -> None:
    mapping = f'{_SHOP}wish = "Item"\npacks = "Qty"\nprice_each = "Price"\n'
    rows = "7,Nov-20-26,Ida,DK,20 eggs gardneri,2,$18.00"
    line = order(shop(tmp_path, "No,Date,Name,Country,Item,Qty,Price", rows, mapping), "s7").lines[0]
    assert (line.eggs, str(line.price)) == (40, "36.00")


def test_a_title_above_the_header_and_rows_by_their_status_are_left_out(tmp_path: Path) -> None:
    mapping = f'{_SHOP}wish = "Item"\n[sheet.leave_out]\nStatus = ["refunded"]\nNo = ["Total"]\n'
    rows = (
        "No,Date,Name,Country,Item,Status\n7,11/20/2026,Ida,DK,20 x gardneri,ok\n"
        "8,11/20/2026,Bo,DK,30 x gardneri,Refunded\nTotal,,,,50,"
    )
    shelf = shop(tmp_path, "Our little shop,,,,,", rows, mapping)
    assert [one.order for one in shelf.orders] == ["A1", "A2", "s7"]


def test_a_column_of_yes_and_no_says_what_is_paid_on_the_day_of_the_order(tmp_path: Path) -> None:
    mapping = f'{_SHOP}paid_on = "Pagado"\nwish = "Item"\n'
    rows = (
        "1,11/20/2026,Ida,DK,20 x gardneri,Sí\n2,11/20/2026,Bo,DK,20 x gardneri,no\n"
        "3,11/20/2026,Cy,DK,20 x gardneri,\n1,,,,30 x gardneri,sí"
    )
    shelf = shop(tmp_path, "No,Date,Name,Country,Item,Pagado", rows, mapping)
    paid = {name: [str(line.row.paid_on) for line in order(shelf, name).lines] for name in ("s1", "s2", "s3")}
    assert paid == {"s1": ["2026-11-20"] * 2, "s2": ["None"], "s3": ["None"]}
    assert [order(shelf, name).lines[0].paid for name in paid] == [True, False, False]


def test_a_payment_left_blank_beside_words_that_leave_rows_out_is_asked_about(tmp_path: Path) -> None:
    mapping = f'{_SHOP}wish = "Item"\n[sheet.leave_out]\nPagado = ["no"]\n'
    rows = "1,11/20/2026,Ida,DK,20 x gardneri,sí\n2,11/20/2026,Bo,DK,20 x gardneri,"
    shelf = shop(tmp_path, "No,Date,Name,Country,Item,Pagado", rows, mapping)
    assert [one.where.row for one in shelf.notices if "counts as paid" in one.text] == [3]


def test_a_text_file_with_tabs_may_be_mapped(tmp_path: Path) -> None:
    good_shelf(tmp_path)
    text = "No\tDate\tName\tCountry\tItem\n7\t11/20/2026\tIda\tDK\t20 x gardneri\n"
    (tmp_path / "shop.txt").write_text(text, encoding="utf-8")
    mapping = f'{_SHOP}wish = "Item"\n'.replace("shop.csv", "shop.txt")
    (tmp_path / "orders.toml").write_text(mapping, encoding="utf-8")
    assert order(read(tmp_path), "s7").lines[0].eggs == 20

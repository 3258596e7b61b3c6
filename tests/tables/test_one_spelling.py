"""Names are compared as a person reads them: one spelling of each on the shelf, and what was read is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.tables.one_spelling import FishNames
from shipping.tables.reader import Reading, read_shelf
from shipping.tables.spelling import folded, folded_place, unseen_in
from tests.tables.mistakes import shelf_with
from tests.tables.shelves import TODAY


def reading_of(folder: Path, edits: str) -> Reading:
    reading = read_shelf(shelf_with(folder, edits), TODAY)
    assert reading.shelf is not None, list(map(str, reading.problems))
    assert reading.problems == ()
    return reading


@pytest.mark.parametrize(
    "written",
    [
        *(
            "Gardneri",
            "GARDNERI",
            "Fundulopanchax gardneri",
            "fundulopanchax  gardneri",
            "Steel-Blue Killifish",
        ),
        *("Aphyosemion gardneri", "g\u00adardneri", "gardneri\u200d", "Fundulopanchax\u00a0gardneri"),
    ],
)
def test_a_species_is_known_by_each_of_its_names(written: str, tmp_path: Path) -> None:
    edits = (
        f"species 2 synonyms = Aphyosemion gardneri; Aphyosemion calabaricus && orders 2 species = {written}"
    )
    reading = reading_of(tmp_path, edits)
    assert reading.shelf is not None
    line = reading.shelf.order_by_name["A1"].lines[0]
    assert (line.species, line.population) == ("gardneri", "Akure")
    assert {one.read for one in reading.read_as} <= {"gardneri"}


def test_genus_species_and_place_may_stand_in_one_cell(tmp_path: Path) -> None:
    edits = "orders 4 species = Fundulopanchax gardneri akure && orders 4 population = "
    reading = reading_of(tmp_path, edits)
    assert reading.shelf is not None
    line = reading.shelf.order_by_name["A2"].lines[0]
    assert (line.species, line.population) == ("gardneri", "Akure")
    assert [one.read for one in reading.read_as] == ["gardneri", "akure", "Akure"]


@pytest.mark.parametrize(
    ("written", "read"),
    [("Danemark SE", ("DK", "SE")), ("Vereinigtes Königreich", ("GB",))],
)
def test_where_a_service_goes_may_name_countries_in_any_language(
    written: str, read: tuple[str, ...], tmp_path: Path
) -> None:
    reading = read_shelf(shelf_with(tmp_path, f"services 2 to = {written}"), TODAY)
    assert reading.shelf is not None
    assert read in {service.to for service in reading.shelf.services}


@pytest.mark.parametrize("written", ["akure", "AKURE", "A-kure", "Aku re", "\u0410kure", "Akuré"])
def test_a_population_is_one_whatever_its_case_spaces_and_hyphens(written: str, tmp_path: Path) -> None:
    reading = reading_of(tmp_path, f"orders 2 population = {written}")
    assert reading.shelf is not None
    assert reading.shelf.order_by_name["A1"].lines[0].population == "Akure"


@pytest.mark.parametrize("written", ["any", "-", "Egal"])
def test_any_population_is_none_in_particular(written: str, tmp_path: Path) -> None:
    reading = reading_of(tmp_path, f"orders 2 population = {written}")
    assert reading.shelf is not None
    assert reading.shelf.order_by_name["A1"].lines[0].population == ""
    assert [(one.written, one.read) for one in reading.read_as] == [(written, "")]


def test_codes_of_localities_that_differ_in_a_figure_are_two() -> None:
    assert folded_place("TZ 11-3") == folded_place("tz11/3") != folded_place("TZ 113")
    assert folded_place("CI 2023") != folded_place("CI 2024")


@pytest.mark.parametrize("written", ["g1", "G\u00ad1", "\uff271"])
def test_a_look_finds_its_lot(written: str, tmp_path: Path) -> None:
    reading = reading_of(tmp_path, f"inspections 2 lot = {written}")
    assert reading.shelf is not None
    assert [look.lot for look in reading.shelf.looks] == ["G1", "G2"]


@pytest.mark.parametrize("written", ["a1", "A\u00ad1", "\u04101", "A1 "])
def test_rows_of_one_order_are_one_order(written: str, tmp_path: Path) -> None:
    reading = reading_of(tmp_path, f"orders 3 order = {written}")
    assert reading.shelf is not None
    assert {order.order: len(order.lines) for order in reading.shelf.orders} == {"A1": 2, "A2": 1}


def test_a_payment_on_one_row_pays_the_order(tmp_path: Path) -> None:
    for edits in ("orders 3 paid_on = ", "orders 2 paid_on = "):
        reading = reading_of(tmp_path / edits[7], edits)
        assert reading.shelf is not None
        assert [line.paid for line in reading.shelf.order_by_name["A1"].lines] == [True, True]
        assert [line.paid for line in reading.shelf.order_by_name["A2"].lines] == [False]


def test_services_boxes_zones_and_codes_are_found_whatever_their_case(tmp_path: Path) -> None:
    edits = (
        "orders 2 service = Letter && rules 2 to = DK, && services 4 to = *,"
        " && packings 2 box = Mailer && services 3 to = Near && rules 3 to = de"
        " && rules 4 taxon = Redtail Notho && zones 2 countries = de SE no"
    )
    reading = reading_of(tmp_path, edits)
    shelf = reading.shelf
    assert shelf is not None
    assert shelf.order_by_name["A1"].service == "letter"
    assert shelf.packing_by_name["tube"].box == "mailer"
    assert ("near",) in [service.to for service in shelf.services]
    assert {rule.to: rule.taxon for rule in shelf.rules} == {"DE": "*", "DK": "*", "SE": "guentheri"}
    assert shelf.zones["near"] == {"DE", "SE", "NO"}
    assert {one.written for one in reading.read_as} == {
        *("Letter", "Mailer", "Near", "de", "Redtail Notho", "de SE no", "DK,"),
    }


def test_a_genus_with_spp_is_the_genus(tmp_path: Path) -> None:
    reading = reading_of(tmp_path, "rules 4 taxon = Nothobranchius spp.")
    assert reading.shelf is not None
    assert reading.shelf.rules[-1].taxon == "Nothobranchius"


def test_what_differs_unseen_is_named() -> None:
    assert unseen_in("Jos\u00a0Plateau") == "no-break space"
    assert unseen_in("\u0410kure") == "Cyrillic capital letter A"
    assert unseen_in("Jos Plateau") == unseen_in("Åvej 9") == unseen_in("Сосново") == ""
    assert folded("SC-07") == folded("sc\u00ad-07") != folded("SC-70")


def fish(*names: str) -> FishNames:
    """The names of fish that are called by science alone, each with its second word as its key."""
    return FishNames(
        {name.casefold(): frozenset([name.split()[1]]) for name in names}, frozenset(map(str.casefold, names))
    )


#: Killifish of one genus whose names come nearest each other, and of genera that sound alike.
APART = (
    *("Fundulopanchax gardneri", "Fundulopanchax sjostedti", "Fundulopanchax scheeli"),
    *("Nothobranchius guentheri", "Nothobranchius rachovii", "Nothobranchius eggersi"),
    *("Nothobranchius seegersi", "Nothobranchius neumanni", "Nothobranchius ottoneumanni"),
    *("Nothobranchius kafuensis", "Nothobranchius ugandensis", "Nothobranchius usanguensis"),
    *("Aphyosemion australe", "Aphyosemion bivittatum", "Aphyosemion bitaeniatum", "Aphyosemion ogoense"),
    *("Aphyosemion rectogoense", "Aphyosemion elberti", "Aphyosemion lamberti", "Aphyosemion fulgens"),
    *("Aphyosemion lugens", "Aphyosemion auratum", "Aphyosemion aureum", "Aphyosemion cameronense"),
    *("Epiplatys bifasciatus", "Epiplatys fasciolatus", "Epiplatys sexfasciatus", "Epiplatys annulatus"),
    *("Hypsolebias ocellatus", "Hypsolebias stellatus", "Rachovia brevis", "Aplocheilus lineatus"),
    *("Austrolebias nigripinnis", "Austrolebias univentripinnis", "Austrofundulus limnaeus"),
)


def test_no_killifish_is_taken_for_a_slip_of_another() -> None:
    for name in APART:
        others = fish(*(other for other in APART if other != name))
        assert others.mend(name) == "", name
        assert others.mend(name.split()[1]) == "", name


@pytest.mark.parametrize(
    ("written", "mend"),
    [
        *(
            (name, "Did you mean Nothobranchius guentheri? Write guentheri.")
            for name in (
                "N. guentheri",
                "N.guentheri",
                "N guentheri",
                "Noth. guentheri",
                "Nothos guentheri",
                "N. günteri",
                "guenteri",
                "Nothobranchus guntheri",
                "Notobranchius guentheri",
            )
        ),
        (
            "Fp. gardneri Akure",
            "Did you mean Fundulopanchax gardneri? Write gardneri here, and Akure in population.",
        ),
        ("Aphyosemion gardneri", "Write gardneri (Fundulopanchax gardneri), if it is the same fish."),
        ("Rachovia", "Did you mean Rachovia brevis? Write brevis."),
        ("Fundulop. gardnery", "Did you mean Fundulopanchax gardneri? Write gardneri."),
        ("A. ocellatum", ""),
        ("N. furzeri", ""),
        ("Nothobranchius", ""),
        ("garden", ""),
        ("", ""),
    ],
)
def test_a_slip_or_a_short_form_of_a_fish_is_named_with_what_to_write(written: str, mend: str) -> None:
    assert fish(*APART).mend(written) == mend

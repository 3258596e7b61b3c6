"""A first shelf from nothing, settings changed line by line, and a workbook unfolded once."""

from __future__ import annotations

import errno
import os
import re
import tomllib
from datetime import date
from functools import partial
from pathlib import Path

import pytest
from werkzeug.test import Client, TestResponse

from shipping.tables.editing import settings_writer
from shipping.tables.editing.settings_writer import with_setting
from shipping.tables.editing.starter import write_shelf
from shipping.tables.editing.workbook_to_csv import unfold_workbook
from shipping.tables.files import whole_file
from shipping.tables.reader import read_shelf
from shipping.tables.rows.settings import parse_currency
from shipping.words.problems import ShelfProblems
from shipping.worktop.app import make_app
from shipping.worktop.last_shelf import known_shelves, new_shelf_folder, remember_shelf
from shipping.worktop.serving import ServedShelves
from tests.worktop.conftest import HOME, TODAY, Desk, plain

FIRST_SHELF = {
    "name": "Ada Example",
    "address": "Havnegade 1\n8000 Aarhus C",
    "country": "DK",
    "currency": "dkk",
    "parcels_per_day": "6",
    "fish": "gardneri",
}


@pytest.fixture
def empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return Desk(tmp_path / "Fische für Ä" / "shelf")


def token(desk: Desk) -> dict[str, str]:
    return {"token": desk.worktop.access.token}


def test_where_there_is_no_shelf_every_page_leads_to_the_first(empty: Desk) -> None:
    for path in ("/", "/packing", "/tables/orders"):
        assert empty.get(path).headers["Location"] == "/first"
    assert empty.get("/first").status_code == 200


def test_a_first_shelf_is_made_in_a_folder_with_spaces_and_umlauts_and_remembered(empty: Desk) -> None:
    folder = empty.folder
    answer = empty.post("/first", token(empty), card=False, folder=str(folder), **FIRST_SHELF)
    assert answer.status_code == 303, plain(answer.text)
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    assert shelf.settings.sender.address == ("Havnegade 1", "8000 Aarhus C")
    assert (shelf.settings.plan.currency, shelf.settings.plan.parcels_per_day) == ("DKK", 6)
    assert set(shelf.species) == {"gardneri"}
    assert known_shelves() == [folder.resolve()]
    assert "This shelf is new" in empty.text("/")


def test_a_first_shelf_may_name_the_e_mail_that_slips_name(empty: Desk) -> None:
    wrong = empty.post(
        "/first", token(empty), card=False, folder=str(empty.folder), **FIRST_SHELF, mail="at home"
    )
    assert "'at home' is no e-mail address." in plain(wrong.text)
    empty.post(
        "/first", token(empty), card=False, folder=str(empty.folder), **FIRST_SHELF, mail="ada@example.org"
    )
    shelf = read_shelf(empty.folder, TODAY).shelf
    assert shelf is not None
    assert shelf.settings.sender.mail == "ada@example.org"


def test_fish_of_one_name_are_told_apart_in_the_list_and_stand_by_the_name_shown(empty: Desk) -> None:
    page = empty.text("/first")
    assert "Aphyosemion sp. (genus, lowland) Aphyosemion sp. (genus, highland)" in page
    assert (
        page.index("Aphyosemion sp.") < page.index("Fundulopanchax gardneri") < page.index("Nothobranchius")
    )


def test_what_is_left_blank_is_as_the_country_has_it(empty: Desk) -> None:
    typed = {**FIRST_SHELF, "country": "US", "subdivision": "Texas", "currency": ""}
    assert (
        empty.post("/first", token(empty), card=False, folder=str(empty.folder), **typed).status_code == 303
    )
    shelf = read_shelf(empty.folder, TODAY).shelf
    assert shelf is not None
    assert (shelf.settings.plan.currency, shelf.settings.papers.paper) == ("USD", "letter")


def test_a_first_shelf_made_in_english_goes_on_in_english_whatever_its_country_speaks(empty: Desk) -> None:
    typed = {**FIRST_SHELF, "country": "AT", "subdivision": "", "currency": ""}
    made = empty.post("/first", token(empty), card=False, folder=str(empty.folder), **typed)
    assert made.status_code == 303
    assert "This shelf is new" in empty.text("/")


def test_a_country_stands_where_its_first_letter_is_looked_for(empty: Desk) -> None:
    page = empty.client.get("/first", base_url=HOME, headers={"Accept-Language": "de"}).text
    assert page.index("Oman") < page.index("Österreich") < page.index("Pakistan")


@pytest.mark.parametrize(("typed", "code"), [("€", "EUR"), ("£", "GBP"), ("zł", "PLN"), ("chf", "CHF")])
def test_a_sign_that_stands_for_one_currency_is_read_as_it(typed: str, code: str) -> None:
    assert parse_currency(typed) == code


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"country": "DE"}, "is blank, and public holidays differ within"),
        (
            {"country": "DE", "subdivision": "XX"},
            "no part of Germany with holidays of its own. Write one of BB (Brandenburg)",
        ),
        (
            {"country": "FI", "subdivision": "Q"},
            "no part of Finland with holidays of its own. Write one of 01 (Ahvenanmaan",
        ),
        ({"currency": "kr."}, "'kr.' is not a currency"),
        ({"parcels_per_day": "6 a day"}, "'6 a day' is no number of parcels"),
    ],
    ids=["no part", "unknown part", "parts by number", "currency", "parcels"],
)
def test_nothing_is_made_of_a_first_form_that_cannot_be_meant(
    empty: Desk, typed: dict[str, str], why: str
) -> None:
    """A shelf with the invented sender, or one that no page can show, would be all a stranger has."""
    answer = empty.post(
        "/first", token(empty), card=False, folder=str(empty.folder), **{**FIRST_SHELF, **typed}
    )
    assert answer.status_code == 422
    (at_field,) = re.findall(r'<small class="wrong">(.*?)</small>', answer.text)
    assert why in plain(at_field)
    assert 'value="Ada Example"' in answer.text
    assert not empty.folder.exists()


def test_the_part_of_a_country_may_be_typed_by_its_name(empty: Desk) -> None:
    typed = {**FIRST_SHELF, "country": "DE", "subdivision": "baden-wurttemberg"}
    assert (
        empty.post("/first", token(empty), card=False, folder=str(empty.folder), **typed).status_code == 303
    )
    shelf = read_shelf(empty.folder, TODAY).shelf
    assert shelf is not None
    assert (shelf.settings.home.country, shelf.settings.home.subdivision) == ("DE", "BW")
    told = "Country, printed below the address Germany Part of it, where holidays differ Baden-Württemberg"
    assert told in Desk(empty.folder).text("/setup"), "and the settings say so"


@pytest.mark.parametrize(
    ("said", "kept"), [("month first", "month first"), ("", "day first"), ("year", "day first")]
)
def test_how_days_are_written_may_be_said_with_the_first_shelf(
    empty: Desk, said: str, kept: str | None
) -> None:
    typed = {**FIRST_SHELF, "dates": said}
    made = empty.post("/first", token(empty), card=False, folder=str(empty.folder), **typed)
    assert made.status_code == 303
    shelf = read_shelf(empty.folder, TODAY).shelf
    assert shelf is not None
    assert shelf.settings.reading.dates == kept


def test_a_folder_that_holds_tables_is_never_written_over(empty: Desk, tmp_path: Path) -> None:
    there = tmp_path / "mine"
    there.mkdir()
    (there / "orders.csv").write_text("order\nmine\n", encoding="utf-8")
    answer = empty.post("/first", token(empty), card=False, folder=str(there), **FIRST_SHELF)
    assert answer.status_code == 422
    assert "already holds orders.csv" in plain(answer.text)
    assert 'value="Ada Example"' in answer.text
    assert [path.name for path in there.iterdir()] == ["orders.csv"]


class TwoShelves:
    """A page that may open another shelf, as it is served."""

    def __init__(self, folder: Path) -> None:
        self.shelves = ServedShelves(partial(make_app, today_of=lambda: TODAY, secret="a secret"))
        self.worktop = self.shelves.open(folder)
        self.client = Client(self.shelves)

    def get(self, path: str, address: str = "127.0.0.1") -> TestResponse:
        return self.client.get(path, base_url=HOME, environ_base={"REMOTE_ADDR": address})

    def post(self, path: str, **fields: str) -> TestResponse:
        token = re.search(r'name="token" value="(\w+)"', self.get("/setup").text)
        assert token
        data, here = {"token": token[1], **fields}, {"REMOTE_ADDR": "127.0.0.1"}
        answer = self.client.post(path, base_url=HOME, data=data, environ_base=here, headers={"Origin": HOME})
        if answer.status_code == 303:
            return self.get(answer.headers["Location"].partition("#")[0])
        return answer


def test_a_second_shelf_is_begun_on_the_page_and_the_first_is_opened_again(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    remember_shelf(shelf)
    page, second = TwoShelves(shelf), tmp_path / "second"
    assert 'href="/first"' in page.get("/tables").text
    old_form = page.worktop.access.token
    made = page.post("/first", folder=str(second), **FIRST_SHELF)
    assert f"Your shelf is made, in {second}." in plain(made.text)
    assert "FL-31" not in page.get("/lots").text
    assert "· second" in page.get("/lots").text, "which of two shelves it is"
    refused = page.post("/lots/FL-31/look", token=old_form)
    assert "another shelf opened, since that page was opened" in plain(refused.text)
    assert "It would be recorded in second." in plain(refused.text)
    back = page.post("/open", folder=str(shelf.resolve()))
    assert f"This is your shelf in {shelf.resolve()}." in plain(back.text)
    assert "FL-31" in page.get("/lots").text
    assert known_shelves() == [shelf.resolve(), second]
    page.shelves.close()


def test_a_shelf_is_opened_from_this_computer_only_and_only_where_one_was_open(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    page = TwoShelves(shelf)
    assert page.post("/open", folder=str(tmp_path)).status_code == 404
    tablet = "192.168.1.7"
    page.get(f"/?key={page.worktop.access.key}", tablet)
    assert page.get("/first", tablet).headers["Location"] == "/"
    assert 'href="/first"' not in page.get("/tables", tablet).text
    page.shelves.close()


def test_a_folder_for_another_shelf_is_proposed_where_none_lies(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    first = new_shelf_folder()
    write_shelf(first, "DK", "", TODAY)
    assert new_shelf_folder() == first.with_name(f"{first.name} 2")


def test_another_language_is_confirmed_in_that_language(desk: Desk) -> None:
    answer = desk.post("/setup", token(desk), card=False, language="fr")
    assert "Réglages inscrits." in desk.text(answer.headers["Location"])


def test_settings_are_changed_and_every_other_line_stays(desk: Desk) -> None:
    path = desk.folder / "shelf.toml"
    before = path.read_text(encoding="utf-8").splitlines()
    fields = {"sender.name": 'Ada "A" Example', "parcels_per_day": "9", "promise": "0.9"}
    answer = desk.post("/setup", token(desk), card=False, **fields)
    assert answer.status_code == 303, plain(answer.text)
    settings = desk.worktop.shelf_state.tables().shelf.settings
    assert (settings.sender.name, settings.plan.parcels_per_day, settings.plan.promise) == (
        'Ada "A" Example',
        9,
        0.9,
    )
    after = path.read_text(encoding="utf-8").splitlines()
    assert [
        line for line in before if line not in after and not line.startswith(("name", "parcels", "promise"))
    ] == []


def test_what_is_promised_to_buyers_is_written_on_the_page(desk: Desk) -> None:
    """A claim says that nothing is promised yet; here is where it is, for the slips print it."""
    said = 'Sent again, or "money back".'
    typed = said.replace(", ", ",\r\n")  # on a phone it is read on several lines, and may be typed so
    answer = desk.post("/setup", token(desk), card=False, **{"claims.short_policy": typed})
    assert answer.status_code == 303, plain(answer.text)
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert shelf.settings.claims.short_policy == said
    assert shelf.settings.claims.hatched_policy == "Fry alive in the tube or bag count as eggs."


def test_days_are_written_the_breeders_way_once_the_settings_say_so(desk: Desk) -> None:
    lot = {"lot": "X-1", "species": "gardneri", "medium": "water", "kept_at_c": "22", "eggs": "9"}
    days = {"laid_from": "8.11.2026", "laid_to": "9.11.2026", "counted_on": "10.11.2026"}
    unread = desk.post("/tables/lots/new", token(desk), card=False, **lot, **days)
    assert unread.status_code == 422
    assert "choose among the settings, under More, how days are written" in plain(unread.text)
    assert "shelf.toml" not in plain(unread.text)
    assert desk.post("/setup", token(desk), card=False, dates="day first").status_code == 303
    written = desk.post("/tables/lots/new", token(desk), card=False, **lot, **days)
    assert written.status_code == 303, plain(written.text)
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert shelf.lot_by_name["X-1"].laid_from == date(2026, 11, 8)


def test_what_order_days_are_written_in_is_said_once_for_days_already_written_would_move(desk: Desk) -> None:
    desk.post("/setup", token(desk), card=False, dates="day first")
    page = desk.get("/setup").text
    assert 'name="dates"' not in page
    assert "Days are written day first: 30.11.2026" in plain(page)
    desk.post("/setup", token(desk), card=False, dates="month first")
    assert desk.worktop.shelf_state.tables().shelf.settings.reading.dates == "day first"


@pytest.mark.parametrize(
    ("name", "typed", "why"),
    [
        ("plan.currency", "crowns", "'crowns' is not a currency"),
        ("promise", "NaN", "'NaN' is no promise. Write it in percent, such as 95."),
        ("promise", "100", "'100' is no promise. Write it in percent, such as 95."),
    ],
)
def test_a_setting_that_cannot_be_is_refused_and_nothing_is_written(
    desk: Desk, name: str, typed: str, why: str
) -> None:
    before = (desk.folder / "shelf.toml").read_bytes()
    answer = desk.post("/setup", token(desk), card=False, **{name: typed})
    assert answer.status_code == 422
    assert why in plain(answer.text)
    assert f'value="{typed}"' in answer.text
    assert (desk.folder / "shelf.toml").read_bytes() == before


def test_settings_that_a_full_disk_refuses_are_told_and_the_file_is_as_it_was(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path, content: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(settings_writer, "write_whole", full)
    answer = desk.post("/setup", token(desk), card=False, promise="90")
    assert answer.status_code == 422
    said = "Not written: cannot be written (no space left on device); it is as it was. Make room on the disk"
    assert said in plain(answer.text)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ('[sender]\nname = "A"  # mine\n', '[sender]\nname = "B"\n'),
        ('[sender]\naddress = ["1",\n  "2 [x]"]\nmail = "m"\n', None),
        ("[home]\n", '[home]\n\n[sender]\nname = "B"\n'),
    ],
)
def test_a_setting_is_one_line_wherever_it_stood(before: str, after: str | None) -> None:
    if after is not None:
        assert with_setting(before, "sender", "name", "B") == after
    else:
        found = tomllib.loads(with_setting(before, "sender", "address", ["3"]))
        assert found == {"sender": {"address": ["3"], "mail": "m"}}


def test_a_workbook_is_unfolded_once_and_says_the_same(tmp_path: Path) -> None:
    write_shelf(tmp_path / "book", "DK", "", TODAY, workbook=True)
    desk = Desk(tmp_path / "book")
    before = read_shelf(desk.folder, TODAY).shelf
    refused = desk.post("/tables/lots/new", token(desk), card=False, lot="A")
    assert "is a workbook, which is never written to" in plain(refused.text)
    form = desk.get("/tables/lots/new").text
    assert "Unfold the workbook" in form
    assert "<form" not in form, "nothing is asked that could not be written"
    book = (desk.folder / "shelf.xlsx").read_bytes()
    answer = desk.post("/setup/unfold", token(desk), card=False)
    assert "tables are files now" in desk.text(answer.headers["Location"])
    after = read_shelf(desk.folder, TODAY).shelf
    assert before is not None
    assert after is not None
    assert [row.model_dump(exclude={"at"}) for row in after.species.values()] == [
        row.model_dump(exclude={"at"}) for row in before.species.values()
    ]
    assert [rule.to for rule in after.rules] == [rule.to for rule in before.rules]
    assert (desk.folder / "table-copies" / "shelf.xlsx").read_bytes() == book


def test_a_workbook_whose_unfolding_was_cut_off_is_unfolded_whole_the_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a table stood beside the workbook, and taking one of the two away could lose the other half."""
    write_shelf(tmp_path, "DK", "", TODAY, workbook=True)
    before, put, places = read_shelf(tmp_path, TODAY).shelf, os.replace, iter(range(9))

    def cut_off(part: Path, place: Path) -> None:
        if next(places) == 3:
            raise KeyboardInterrupt
        put(part, place)

    monkeypatch.setattr(whole_file.os, "replace", cut_off)
    with pytest.raises(KeyboardInterrupt):
        unfold_workbook(tmp_path)
    monkeypatch.setattr(whole_file.os, "replace", put)
    assert len(list(tmp_path.glob("*.csv"))) == 3
    desk = Desk(tmp_path)
    assert 'action="/setup/unfold"' in desk.get("/").text, "every page says what is twice, and leads out"
    answer = desk.post("/setup/unfold", token(desk), card=False)
    assert "tables are files now" in desk.text(answer.headers["Location"])
    after = read_shelf(tmp_path, TODAY).shelf
    assert before is not None
    assert after is not None
    assert after.species.keys() == before.species.keys()


def test_a_table_of_other_rows_beside_a_workbook_is_not_written_over(tmp_path: Path) -> None:
    write_shelf(tmp_path, "DK", "", TODAY, workbook=True)
    (tmp_path / "lots.csv").write_text("lot,species\nA,gardneri\n", encoding="utf-8")
    with pytest.raises(ShelfProblems, match="is there beside the workbook"):
        unfold_workbook(tmp_path)
    assert [path.name for path in tmp_path.glob("*.csv")] == ["lots.csv"]
    assert "/setup/unfold" not in Desk(tmp_path).get("/").text, "which of the two holds is not known"


def test_paper_and_labels_are_chosen_among_the_settings(desk: Desk) -> None:
    assert 'value="A6" selected' in desk.get("/setup").text
    answer = desk.post("/setup", token(desk), card=False, paper="letter", label="4x6")
    assert answer.status_code == 303, plain(answer.text)
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert (shelf.settings.papers.paper, shelf.settings.papers.label) == ("letter", "4x6")
    assert 'value="4x6" selected' in desk.get("/setup").text

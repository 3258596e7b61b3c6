"""At the bench: what is counted is what is recorded, the chance follows the counts, and no form undoes
another.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.packing_day import pack
from shipping.worktop.parcel_cards import what_to_do
from tests.worktop.conftest import FIRST, TODAY, Desk, plain, said

ITEM = "RR473124829GB"


def test_a_parcel_packed_with_other_counts_is_recorded_as_counted(desk: Desk) -> None:
    answer = desk.pack(u0="24", u1="19")
    assert answer.status_code == 200
    assert "24 from FL-31" in said(answer)
    assert {count.lot: count.eggs for count in desk.parcel().counts} == {"FL-31": 24, "ME-05": 19}


def test_every_form_of_a_card_carries_the_marks_that_the_other_tests_post(desk: Desk) -> None:
    card = desk.get("/packing").text.partition("</article>")[0]
    shown = {name: set(re.findall(rf'name="{name}" value="([^"]*)"', card)) for name in desk.marks()}
    assert shown == {name: {value} for name, value in desk.marks().items()}
    assert shown.keys() == {"token", "seen", "plan"}


def test_a_parcel_that_breaks_the_promise_is_asked_about_before_it_is_recorded(desk: Desk) -> None:
    asked = desk.pack(u0="22", u1="18")
    assert asked.status_code == 409
    assert "too few of Jordanella floridae" in said(asked)
    assert 'name="short" value="yes"' in asked.text
    assert 'value="22"' in asked.text
    assert desk.parcel().state == "planned"
    assert desk.pack(u0="22", u1="18", short="yes").status_code == 200
    assert {count.lot: count.eggs for count in desk.parcel().counts} == {"FL-31": 22, "ME-05": 18}


def test_more_eggs_than_a_tube_or_bag_takes_are_asked_about_and_no_promise_stands_above_them(
    desk: Desk,
) -> None:
    asked = desk.pack(u0="60", u1="18")
    assert asked.status_code == 409
    assert " eggs, not 60: for 60 eggs use " in said(asked)
    first = asked.text.partition("</fieldset>")[0]
    assert "not 60" in first
    assert "Your promise holds" not in first
    assert "pack so many all the same" in asked.text
    assert desk.parcel().state == "planned"
    assert desk.pack(u0="60", u1="18", short="yes").status_code == 200


def test_a_postcode_that_lost_a_digit_is_asked_about_on_the_card_before_it_stands_on_a_label(
    desk: Desk,
) -> None:
    assert "Look at the address" not in desk.get("/packing").text
    table = desk.folder / "orders.csv"
    table.write_text(
        table.read_text(encoding="utf-8").replace(",5000,Odense", ",500,Odense"), encoding="utf-8"
    )
    card = desk.get("/packing").text.partition("</article>")[0]
    assert "'500' is no postcode of DK (Denmark). Look at the address" in plain(card)
    table.write_text(table.read_text(encoding="utf-8").replace(",500,Odense", ",,Odense"), encoding="utf-8")
    card = desk.get("/packing").text.partition("</article>")[0]
    assert "Addresses in Denmark usually have a postcode; this one has none." in plain(card)


def test_the_plans_figures_are_shown_as_the_plans_until_they_are_counted(desk: Desk) -> None:
    card = desk.get("/packing").text.partition("</article>")[0]
    assert card.count('class="asplan"') == 2
    assert plain(card).count("not counted yet") == 2
    counted = desk.post(f"/packing/{FIRST}/count", u0="24", u1="18").text.partition("</article>")[0]
    assert counted.count('class="asplan"') == 1
    assert "counted 24 plan 23" in plain(counted)


def test_what_should_be_gone_comes_before_the_parcels_of_today(desk: Desk) -> None:
    tomorrow = Desk(desk.folder, TODAY + timedelta(days=1))
    page = tomorrow.get("/packing").text
    assert "6 of Mon 30 Nov should be gone." in plain(page)
    assert page.count('class="big main"') == 0
    late = tomorrow.get("/packing", day="2026-11-30").text
    assert 'class="big main"' in late
    assert "Lot FL-31 hatches from Wed 2 Dec." in plain(late)


def test_a_packed_parcel_that_must_not_go_any_more_says_so_and_its_eggs_are_taken_out(desk: Desk) -> None:
    desk.pack(u0="23", u1="18")
    tomorrow = Desk(desk.folder, TODAY + timedelta(days=1))
    card = tomorrow.get("/packing", day="2026-11-30").text.partition("</article>")[0]
    assert "do not send" in plain(card)
    for eggs in ("Back into their lots: 23 into FL-31", "18 into ME-05", "Then plan the week again."):
        assert eggs in plain(card)
    assert "until 14:30" not in plain(card)
    assert card.index("Eggs taken out") < card.index('name="item"')
    assert 'class="main big" id="2026-W49-01-undo"' in card


def test_one_egg_fewer_than_planned_breaks_the_promise_and_one_more_keeps_it(desk: Desk) -> None:
    fewer = plain(desk.post(f"/packing/{FIRST}/count", u0="23", u1="18", step="0:-1").text)
    more = plain(desk.post(f"/packing/{FIRST}/count", u0="23", u1="18", step="0:1").text)
    assert "Your promise does not hold: 90 % sure that 20 or more arrive alive, 95 % promised." in fewer
    assert "promise does not hold" not in more
    assert desk.parcel().state == "planned"


def test_a_step_without_script_changes_an_address_and_nothing_else(desk: Desk) -> None:
    before = desk.entries()
    answer = desk.post(f"/packing/{FIRST}/count", card=False, u0="23", u1="18", step="1:1")
    assert answer.status_code == 303
    assert "counts=2026-W49-01~23.19" in answer.headers["Location"]
    assert answer.headers["Location"].endswith("#2026-W49-01-u1-more")
    assert desk.entries() == before
    assert 'value="19"' in desk.get(answer.headers["Location"].partition("#")[0]).text


def test_counts_of_one_parcel_outlast_the_packing_of_another_without_script(desk: Desk) -> None:
    answer = desk.post(f"/packing/{FIRST}/pack", card=False, u0="23", u1="18", counts="2026-W49-06~21")
    assert "counts=2026-W49-06~21" in answer.headers["Location"]
    assert desk.parcel().state == "packed"


def test_a_lot_is_never_packed_beyond_its_eggs_and_the_counts_stay_on_the_card(desk: Desk) -> None:
    answer = desk.pack("2026-W49-11", u0="57")
    assert answer.status_code == 409
    assert "SC-07 has 56 eggs left" in said(answer)
    assert 'value="57"' in answer.text
    assert desk.parcel("2026-W49-11").state == "planned"


def test_more_eggs_than_a_tube_takes_are_said(desk: Desk) -> None:
    answer = desk.post(f"/packing/{FIRST}/count", u0="31", u1="18").text
    assert "tube in foam box takes 30 eggs, not 31: for 31 eggs use 2 of it." in plain(answer)
    assert 'class="big short"' in answer


def test_what_is_no_count_is_refused_and_nothing_is_recorded(desk: Desk) -> None:
    for text in ("", "-1", "2.5", "٣", "1e3", "99999999"):
        assert desk.pack(u0=text, u1="18").status_code == 422, text
    assert desk.parcel().state == "planned"


def test_a_parcel_is_sent_with_its_item_number_however_it_was_typed(desk: Desk) -> None:
    desk.pack(u0="23", u1="18")
    answer = desk.post(f"/packing/{FIRST}/send", item=" rr 473124829 gb ")
    assert answer.status_code == 200
    assert desk.parcel().item == ITEM
    assert "ends in GB, and you post in DK" in plain(answer.text)


def test_a_wrong_digit_in_the_item_number_is_refused_and_the_number_stays_in_its_box(desk: Desk) -> None:
    desk.pack(u0="23", u1="18")
    answer = desk.post(f"/packing/{FIRST}/send", item="RR473124820GB")
    assert answer.status_code == 409
    assert "wrong digit" in said(answer)
    assert 'value="RR473124820GB"' in answer.text
    assert desk.parcel().state == "packed"


def test_one_item_number_is_not_put_on_two_parcels(desk: Desk) -> None:
    desk.pack(u0="23", u1="18")
    desk.pack("2026-W49-06", u0="24")
    desk.post(f"/packing/{FIRST}/send", item=ITEM)
    answer = desk.post("/packing/2026-W49-06/send", item=ITEM)
    assert "is on parcel 01 already" in said(answer)


def test_undo_takes_back_the_packing_and_the_counts_are_still_on_the_card(desk: Desk) -> None:
    desk.pack(u0="22", u1="20", short="yes")
    answer = desk.post(f"/packing/{FIRST}/undo", entry="2")
    assert desk.parcel().state == "planned"
    assert 'value="22"' in answer.text
    assert 'value="20"' in answer.text


def test_undo_takes_back_only_an_entry_of_its_own_parcel(desk: Desk) -> None:
    desk.pack(u0="23", u1="18")
    for entry in ("1", "2", "3", "x", ""):
        assert desk.post("/packing/2026-W49-06/undo", entry=entry).status_code == 409
    assert desk.parcel().state == "packed"


def test_a_form_made_before_another_packed_the_parcel_records_nothing_and_says_what_changed(
    desk: Desk,
) -> None:
    old = desk.marks()
    desk.pack(u0="22", u1="18", short="yes")
    answer = desk.pack(marks=old, u0="25", u1="18")
    assert answer.status_code == 409
    assert "since this page was opened, this was recorded: entry 2 of 2026-11-30: packed" in said(answer)
    assert {count.eggs for count in desk.parcel().counts} == {22, 18}


def test_a_form_sent_twice_is_recorded_once_and_that_is_said(desk: Desk) -> None:
    old = desk.marks()
    desk.pack(marks=old, u0="23", u1="18")
    again = desk.pack(marks=old, u0="23", u1="18")
    assert (again.status_code, said(again)) == (200, "It was recorded already; nothing was recorded twice.")
    assert desk.entries() == 2


def test_a_form_is_not_stale_because_another_parcel_was_packed_meanwhile(desk: Desk) -> None:
    old = desk.marks()
    desk.pack("2026-W49-06", u0="24")
    assert desk.pack(marks=old, u0="23", u1="18").status_code == 200


def test_a_form_made_on_another_ledger_is_stale(desk: Desk) -> None:
    marks = desk.marks() | {"seen": "1.00000000"}
    answer = desk.pack(marks=marks, u0="23", u1="18")
    assert (answer.status_code, desk.entries()) == (409, 1)


def test_counts_of_a_plan_kept_anew_meanwhile_are_not_taken_for_the_new_ones(desk: Desk) -> None:
    marks = desk.marks() | {"plan": "7"}
    answer = desk.pack(marks=marks, u0="23", u1="18")
    assert answer.status_code == 409
    assert "the plan was kept anew" in said(answer)


def test_what_the_command_line_records_is_seen_at_once(desk: Desk) -> None:
    with Ledger.open(desk.folder, TODAY) as other:
        other.pack(FIRST)
    assert "23 of lot FL-31 in tube" in desk.text("/packing")


def test_the_cards_stand_in_packing_order(desk: Desk) -> None:
    page = desk.get("/packing", day="2026-11-30").text
    order = re.findall(r'<article [^>]*id="p-2026-W49-(\d\d)"', page)
    assert order == ["01", "02", "03", "04", "05", "06"]  # a number is the place in the order of packing


@pytest.mark.parametrize(
    ("note", "head"),
    [
        (
            "Post: strike of the carriers, Mo. 14. Dez. bis Fr. 18. Dez. Es liegt so lange.",
            "Post: strike of the carriers, Mo. 14. Dez. bis Fr. 18. Dez",
        ),
        (
            "Vor der Abgabe die Vorhersage bis Mo. 28. Dez. ansehen: Für den Monat gilt mehr.",
            "Vor der Abgabe die Vorhersage bis Mo. 28. Dez. ansehen",
        ),
        (
            "Avant le dépôt, regardez la météo jusqu'au lun. 28 déc. ici : elle change.",
            "Avant le dépôt, regardez la météo jusqu'au lun. 28 déc. ici",
        ),
        (
            "Keep the tube upright and dark all the way. Light wakes them.",
            "Keep the tube upright and dark all the way",
        ),
        ("Short: it has no second part and no stop", "Short: it has no second part and no stop"),
    ],
)
def test_a_note_is_cut_where_its_sentence_ends_and_not_in_a_day(note: str, head: str) -> None:
    assert what_to_do(note) == head


def test_a_count_that_is_none_shows_no_promise_and_keeps_every_other_count(desk: Desk) -> None:
    for text in ("", "-5", "abc", "12.5"):
        page = desk.post(f"/packing/{FIRST}/count", u0=text, u1="20").text
        card = page.partition("</article>")[0]
        assert "Nothing is reckoned before" in card, text
        first_line = card[: card.index("Nothing is reckoned before")]
        assert "promise holds" not in first_line, text
        assert 'value="20"' in card, text
        refused = desk.pack(u0=text, u1="20")
        assert refused.status_code == 422
        assert 'aria-invalid="true"' in refused.text
        assert 'value="20"' in refused.text


def test_a_promise_that_does_not_hold_names_a_count_that_would_keep_it(desk: Desk) -> None:
    page = desk.post(f"/packing/{FIRST}/count", u0="20", u1="18").text
    assert "23 from lot FL-31 would do." in plain(page)
    assert 'class="big short"' in page


def test_too_few_eggs_are_refused_by_page_and_command_with_the_same_figures(desk: Desk) -> None:
    """Chance, promise and the count that would do; the command named no count."""
    shelf = desk.worktop.shelf_state.tables().shelf
    with Ledger.open(desk.folder, TODAY) as ledger:
        for kept in [one for one in ledger.parcels() if one.dispatch_on == TODAY]:
            first, *others = kept.planned_counts()
            few = [replace(first, eggs=first.eggs - 4), *others]
            with pytest.raises(LedgerError, match="too few of") as refused:
                pack(ledger, shelf, kept.parcel, few)
            figures = re.search(r"\d[\d.]* % sure that .* would do\.", refused.value.problem.text)
            assert figures, refused.value.problem.text
            counts = {f"u{n}": str(one.eggs) for n, one in enumerate(few)}
            page = plain(desk.post(f"/packing/{kept.parcel}/count", **counts).text)
            assert f"Your promise does not hold: {figures[0]}" in page


def test_a_parcel_of_wednesday_is_not_sent_on_monday_without_a_word(desk: Desk) -> None:
    name, counts = fetched(desk)
    desk.pack(name, **counts)
    refused = desk.post(f"/packing/{name}/send")
    assert refused.status_code == 409
    assert "Planned for Wed 2 Dec; today is Mon 30 Nov" in said(refused)
    assert 'name="on" value="Mon 30 Nov 2026"' in refused.text
    assert desk.post(f"/packing/{name}/send", other_day="yes", on="some day").status_code == 422
    assert desk.parcel(name).state == "packed"
    assert desk.post(f"/packing/{name}/send", other_day="yes", on="Mon 30 Nov 2026").status_code == 200
    assert desk.parcel(name).state == "sent"


def test_a_parcel_whose_eggs_would_hatch_by_now_is_sent_only_for_a_reason(desk: Desk) -> None:
    desk.pack()
    late = Desk(desk.folder, TODAY + timedelta(days=1))
    asked = late.post(f"/packing/{FIRST}/send", other_day="yes")
    assert asked.status_code == 409
    assert "of lot FL-31 would hatch on the way" in said(asked)
    assert "Your reason to send it all the same" in asked.text
    assert late.parcel().state == "packed"
    sent = late.post(f"/packing/{FIRST}/send", other_day="yes", anyway="the post is a street away")
    assert sent.status_code == 200
    assert late.parcel().state == "sent"


def test_a_packed_parcel_whose_buyer_moved_says_so_on_its_card(desk: Desk) -> None:
    desk.pack()
    assert "was changed after" not in desk.text("/packing")
    orders = desk.folder / "orders.csv"
    orders.write_text(
        orders.read_text(encoding="utf-8").replace("Pilestræde 902", "Vestergade 7"), encoding="utf-8"
    )
    told = plain(desk.text("/packing"))
    assert f"address of order D02 was changed after {FIRST} was packed" in told
    assert f"take the packing of {FIRST} back, print it anew" in told
    asked = desk.post(f"/packing/{FIRST}/send", other_day="yes")
    assert (asked.status_code, desk.parcel().state) == (409, "packed")
    assert "Your reason to send it all the same" in asked.text
    sent = desk.post(f"/packing/{FIRST}/send", other_day="yes", anyway="the label is written by hand")
    assert (sent.status_code, desk.parcel().state) == (200, "sent")


def test_a_look_is_written_from_a_parcel_only_for_a_lot_that_it_waits_for(desk: Desk) -> None:
    before = (desk.folder / "inspections.csv").read_bytes()
    answer = desk.post(f"/packing/{FIRST}/eyes", lot="FL-31")
    assert (answer.status_code, "waits for no look at that lot" in said(answer)) == (409, True)
    assert (desk.folder / "inspections.csv").read_bytes() == before


def fetched(desk: Desk) -> tuple[str, dict[str, str]]:
    """The parcel of Wednesday that its buyer fetches, and its counts as planned."""
    with Ledger.open(desk.folder, TODAY) as ledger:
        parcel = next(one for one in ledger.parcels() if one.service == "collect")
        return parcel.parcel, {f"u{n}": str(one.eggs) for n, one in enumerate(parcel.planned_counts())}


def test_an_order_raised_after_keeping_is_shown_and_its_promise_reckoned_anew(desk: Desk) -> None:
    orders = desk.folder / "orders.csv"
    rows = orders.read_text(encoding="utf-8").splitlines(keepends=True)
    place = rows[0].strip("\ufeff\r\n").split(",").index("eggs")
    row = next(n for n, text in enumerate(rows) if text.startswith("D02,"))
    cells = rows[row].split(",")
    cells[place] = "35"
    rows[row] = ",".join(cells)
    orders.write_text("".join(rows), encoding="utf-8")
    page = desk.text("/packing")
    assert "Order D02 now asks for 35, not 20" in page
    assert "Your promise does not hold: 0 % sure that 35 or more arrive alive, 95 % promised." in page


def test_the_answer_to_a_tap_brings_the_counters_of_the_days(desk: Desk) -> None:
    assert "6 left" in desk.text("/packing")
    desk.pack(u0="23", u1="18")
    answer = plain(desk.post(f"/packing/{FIRST}/send").text)
    assert "Mon 30 Nov 5 left" in answer


def test_a_parcel_is_found_by_name_order_lot_and_number(desk: Desk) -> None:
    for text in ("eksempel", "D02", "FL-31", "W49-01"):
        assert f'id="p-{FIRST}"' in desk.get("/packing", find=text).text, text
    assert "has “nobody-at-all” in its name" in desk.text("/packing?find=nobody-at-all")


def test_a_parcel_that_is_fetched_asks_for_no_item_number(desk: Desk) -> None:
    name, counts = fetched(desk)
    desk.pack(name, **counts)
    page = desk.get("/packing", at=name).text
    card = page[page.index(f'id="p-{name}"') :].partition("</article>")[0]
    assert 'name="item"' not in card
    assert "Handed over" in card


def test_a_name_that_is_no_kept_parcel_is_not_found_whatever_it_holds(desk: Desk) -> None:
    for name in (
        "2026-W49-99",
        "..",
        "%2e%2e",
        "..%2f..%2fetc%2fpasswd",
        "2026-W49-01%00",
        "'; drop table entry",
    ):
        assert desk.post(f"/packing/{name}/pack", u0="1").status_code in (404, 308), name
        assert desk.get(f"/papers/{name}.pdf").status_code == 404, name
    assert desk.get("/papers/day/2026-13-01.pdf").status_code == 404
    assert desk.get("/papers/day/2026-11-29.pdf").status_code == 404


def test_hidden_names_are_on_no_page(shelf: object, desk: Desk) -> None:
    hidden = Desk(desk.folder, hide_names=True)
    for path in ("/", "/plan", "/packing", "/arrivals"):
        page = hidden.get(path).text
        assert "Eksempel" not in page
        assert "Ejemplo" not in page
    assert "Eksempel" in desk.get("/packing").text


def test_the_forecast_to_look_at_before_a_late_parcel_goes_is_of_the_days_still_to_come(desk: Desk) -> None:
    """Packed days later it was told to look at the forecast up to a day that was past."""
    assert "look at the forecast here and in Denmark up to Tue 1 Dec" in desk.text(f"/packing?at={FIRST}")
    later = Desk(desk.folder, TODAY + timedelta(days=8)).text(f"/packing?at={FIRST}")
    assert "up to Tue 1 Dec" not in later
    assert "look at the forecast here and in Denmark up to Wed 9 Dec" in later


@pytest.mark.parametrize("card", [True, False])
def test_a_clock_that_runs_backwards_is_said_beside_what_was_recorded(desk: Desk, card: bool) -> None:
    with Ledger.open(desk.folder, TODAY + timedelta(days=2)) as ledger:
        ledger.drop("2026-W49-08")
    answer = desk.post(f"/packing/{FIRST}/pack", card=card)
    page = said(answer) if card else desk.text(answer.headers["Location"])
    assert "Today is 2026-11-30, but the ledger has an entry of 2026-12-02: is this clock right?" in page


def test_what_a_parcel_weighs_stands_on_its_card_in_grams_as_on_the_pick_list(desk: Desk) -> None:
    """Tens of grams were told as 0.0 kg."""
    facts = desk.worktop.shelf_state.entries()[0].body.plan["parcels"][0]
    assert f"about {facts['weight_g']:.0f} g" in desk.text(f"/packing?at={FIRST}")

"""A parcel past its day is reckoned anew: whether it may still go, until when, and what stops it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.ledger import Ledger
from shipping.worktop.kept_week import Kept, kept_parcel_now, kept_parcels_now
from shipping.worktop.page_language import day_words
from shipping.worktop.parcel_cards import parcel_card
from shipping.worktop.promise import Outlook, outlook, outlooks
from tests.worktop.conftest import FIRST, TODAY, Desk, said

TUESDAY, SATURDAY = date(2026, 12, 1), date(2026, 12, 5)


def kept_of(desk: Desk, name: str) -> Kept:
    kept = kept_parcel_now(desk.worktop.shelf_state, name)
    assert kept is not None
    return kept


def outlook_of(desk: Desk, name: str, day: date) -> Outlook:
    state = desk.worktop.shelf_state
    kept = kept_parcel_now(state, name)
    assert kept is not None
    return outlook(kept, state.tables(), day)


def test_a_parcel_whose_eggs_would_hatch_on_the_way_a_day_later_is_not_to_be_sent(desk: Desk) -> None:
    desk.pack()
    late = Desk(desk.folder, TUESDAY)
    found = outlook_of(late, FIRST, TUESDAY)
    assert [reason.code for reason in found.against] == ["would-hatch"]
    assert not found.may_go
    assert found.hatching == ("FL-31", date(2026, 12, 2))
    page = late.text("/")
    assert "of lot <bdi>FL-31</bdi> would hatch" in late.get("/").text.replace("\u00a0", " ")
    assert "Do this next Parcel 01 to Søren Eksempel, Denmark Packed, and due on Mon 30 Nov. Do not" in page
    assert "Open it, put the eggs back into their lot, and plan the week again. Take the eggs out" in page


def test_a_parcel_that_may_still_go_is_as_sure_as_the_ledger_finds_it_when_it_is_packed(desk: Desk) -> None:
    name = "2026-W49-03"
    late = Desk(desk.folder, TUESDAY)
    found = outlook_of(late, name, TUESDAY)
    assert (found.leaves, found.hour, found.may_go) == (TUESDAY, "15:00", True)
    answer = late.pack(name)
    assert answer.status_code == 200, answer.text
    with late.worktop.shelf_state.ledger() as ledger:
        assert ledger is not None
        assert found.chance == pytest.approx(min(ledger.parcel(name).chances.values()), abs=1e-6)
    card = late.get(f"/packing?at={name}").text
    assert '<input type="hidden" name="other_day" value="yes">' in card, "one button sends it"
    assert "on that day all the same" not in card
    assert "It may still go today by tracked parcel, until 15:00. 96 % sure" in Desk(
        desk.folder, TUESDAY
    ).text("/week")


def test_on_a_day_without_a_hand_over_the_next_one_is_named(desk: Desk) -> None:
    found = outlook_of(Desk(desk.folder, SATURDAY), "2026-W49-03", SATURDAY)
    assert found.leaves == date(2026, 12, 7)
    assert found.words(SATURDAY).startswith("It may still go on Mon 7 Dec by tracked parcel. 97 % sure")


def strike(folder: Path, until: str) -> None:
    """The disruptions table of the shelf, with one row: nothing is handed over from Tuesday on."""
    rows = f"to,service,from,until,days,stopped,source\n*,,2026-12-01,{until},,yes,strike\n"
    (folder / "disruptions.csv").write_text(rows, encoding="utf-8")


@pytest.mark.parametrize(("until", "leaves"), [("2026-12-03", "Mon 7 Dec"), ("2026-12-31", "Mon 4 Jan")])
def test_a_strike_lets_no_parcel_go_before_it_ends(desk: Desk, until: str, leaves: str) -> None:
    strike(desk.folder, until)
    found = outlook_of(Desk(desk.folder, TUESDAY), "2026-W49-04", TUESDAY)
    assert found.leaves is not None
    assert day_words(found.leaves) == leaves


def test_a_parcel_packed_in_a_strike_is_reckoned_for_its_end_and_the_bench_says_so(desk: Desk) -> None:
    """A parcel due on Tuesday says on its card that nothing is taken in; packed, the day reckoned is said."""
    strike(desk.folder, "2026-12-03")
    struck = Desk(desk.folder, TUESDAY)
    name = next(
        one.name for one in kept_parcels_now(desk.worktop.shelf_state) if one.parcel.dispatch_on == TUESDAY
    )
    page = struck.text("/packing?day=2026-12-01")
    assert "takes nothing in on Tue 1 Dec: the parcel would lie until it does. Move it to another day" in page
    assert "until 1" not in page
    assert "takes nothing in today." in struck.text("/")
    assert "Hand over until" not in struck.text("/week").partition("Wednesday")[0]
    answer = struck.pack(name)
    assert "takes nothing in on 2026-12-01; this is reckoned for 2026-12-07" in said(answer)


def test_only_parcels_past_their_day_have_an_outlook(desk: Desk) -> None:
    state = Desk(desk.folder, TUESDAY).worktop.shelf_state
    names = {name.rpartition("-")[2] for name in outlooks(kept_parcels_now(state), state)}
    assert names == {"01", "02", "03", "04", "05", "06"}


def test_a_parcel_whose_lot_is_gone_from_the_tables_says_so(desk: Desk) -> None:
    path = desk.folder / "lots.csv"
    rows = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(row for row in rows if not row.startswith("FU-40,")), encoding="utf-8")
    looks = desk.folder / "inspections.csv"
    rows = looks.read_text(encoding="utf-8").splitlines(keepends=True)
    looks.write_text("".join(row for row in rows if not row.startswith("FU-40,")), encoding="utf-8")
    found = outlook_of(Desk(desk.folder, TUESDAY), "2026-W49-03", TUESDAY)
    assert found.leaves is None
    assert "is not in your tables any more" in found.words(TUESDAY)


def test_the_card_of_a_late_parcel_promises_what_holds_from_now_on(desk: Desk) -> None:
    """A week later FL-31 has hatched: the card does not call its promise kept beside "do not send"."""
    monday = date(2026, 12, 7)
    assert "Your promise holds" in desk.text(f"/packing?at={FIRST}")
    late = parcel_card(Desk(desk.folder, monday).worktop.shelf_state, kept_of(desk, FIRST))
    fish = {line.line.species: line.promise for line in late.lines}
    assert not late.may_go
    assert not fish["floridae"].holds


def test_a_name_corrected_after_packing_is_on_round_and_bench_with_the_label_told(desk: Desk) -> None:
    desk.pack("2026-W49-07")
    orders = desk.folder / "orders.csv"
    text = orders.read_text(encoding="utf-8")
    orders.write_text(text.replace("Winifred Example", "Winifred Brook"), encoding="utf-8")
    with Ledger.open(desk.folder, TODAY) as ledger:
        ledger.correct_order("D25", date(2026, 11, 3), "Winifred Brook")
    now = Desk(desk.folder, TUESDAY)
    for page in ("/", "/packing?at=2026-W49-07"):
        shown = now.text(page)
        assert "Winifred Brook" in shown, page
        assert "Winifred Example" not in shown, page
        assert "Its label has the old one" in shown, page


def test_heat_that_came_after_the_plan_was_kept_stops_a_parcel_on_the_round_and_its_card(desk: Desk) -> None:
    """The round said to pack it, and its card that the promise holds; only the tap on packed refused."""
    assert "do not send" not in desk.text("/") + desk.text(f"/packing?at={FIRST}")
    table = desk.folder / "weather.csv"
    header, _, rows = table.read_text(encoding="utf-8").partition("\n")
    heat = "DK,,22,39,a forecast,2026-11-30,2026-12-07"
    table.write_text(f"{header},from,until\n{heat}\n{rows}", encoding="utf-8")
    page, card = desk.text("/"), desk.text(f"/packing?at={FIRST}").partition("Parcel 02")[0]
    for told in (page, card):
        assert "Do not send it as it is." in told
        assert "do not send" in told
    assert "Was to go on" not in card
    assert "Your promise holds" not in card

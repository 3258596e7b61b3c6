"""The papers of a kept parcel say what was counted into it."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import date

import pypdf

from shipping.ledger.planning_again import shelf_left
from shipping.week.plan import make_plan
from shipping.worktop.kept_week import kept_parcels_now
from shipping.worktop.views.packing import shown_parcel
from tests.worktop.conftest import FIRST, Desk, plain


def pdf_text(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages)


def test_a_parcel_kept_and_not_packed_is_set_as_the_plan_had_it(desk: Desk) -> None:
    shelf = shelf_left(desk.worktop.shelf_state.tables().shelf, None)
    plan = make_plan(shelf, "2026-W49")
    kept = {one.name: one for one in kept_parcels_now(desk.worktop.shelf_state)}
    for parcel in plan.parcels:
        made = shown_parcel(desk.worktop.shelf_state, kept[parcel.parcel])
        assert made.address == parcel.address
        assert (made.arrive, made.box, made.postage, made.cut_off) == (
            parcel.arrive,
            parcel.box,
            parcel.postage,
            parcel.cut_off,
        )
        for ours, theirs in zip(made.lines, parcel.lines, strict=True):
            assert abs(ours.p_enough - theirs.p_enough) < 1e-9
            bare = [
                replace(draw, cautions=(), h_per_egg=0, h_any=0, v_per_egg=0, h_at_p95=0)
                for draw in ours.draws
            ]
            assert bare == [
                replace(draw, cautions=(), h_per_egg=0, h_any=0, v_per_egg=0, h_at_p95=0)
                for draw in theirs.draws
            ]
            assert [draw.cautions for draw in ours.draws] == [draw.cautions for draw in theirs.draws]


def test_the_slip_of_a_packed_parcel_shows_the_eggs_counted(desk: Desk) -> None:
    desk.pack(u0="26", u1="19")
    content = desk.get(f"/papers/{FIRST}.pdf")
    assert content.headers["Content-Type"] == "application/pdf"
    text = pdf_text(content.data)
    assert "26" in text
    assert "19" in text
    shelf_state = desk.worktop.shelf_state
    parcel = shown_parcel(shelf_state, kept_parcels_now(shelf_state)[0])
    assert [line.pack for line in parcel.lines] == [26, 19]


def test_a_day_in_one_file_holds_every_parcel_of_that_day_and_its_pick_list(desk: Desk) -> None:
    text = pdf_text(desk.get("/papers/day/2026-12-01.pdf").data)
    named = {f"2026-W49-{number:02}" for number in range(1, 14) if f"2026-W49-{number:02}" in text}
    assert named == {f"2026-W49-{number:02}" for number in range(7, 13)}
    assert "Pick list" in text
    assert "The week" not in text, "it would tell of a week with these parcels alone"


def test_a_day_in_one_file_holds_its_late_parcels_though_their_services_go_on_other_days(desk: Desk) -> None:
    """On Thursday two of Monday's six would go by express, which takes in on Friday: they had no papers."""
    thursday = Desk(desk.folder, date(2026, 12, 3))
    text = pdf_text(thursday.get("/papers/day/2026-11-30.pdf").data)
    assert {number for number in range(1, 17) if f"2026-W49-{number:02}" in text} == set(range(1, 7))


def test_papers_of_an_order_that_left_the_tables_say_so(desk: Desk) -> None:
    orders = desk.folder / "orders.csv"
    rows = orders.read_text(encoding="utf-8").splitlines(keepends=True)
    orders.write_text("".join(row for row in rows if not row.startswith("D02,")), encoding="utf-8")
    answer = desk.get(f"/papers/{FIRST}.pdf")
    assert answer.status_code == 503
    assert "rder D02 of parcel 01 is no longer in the tables" in answer.text
    page = desk.text("/packing")
    assert "The chance cannot be reckoned again" in page


def test_a_parcel_that_no_font_prints_keeps_no_other_of_its_day_from_being_printed(
    desk: Desk,
) -> None:
    """The breeder has five parcels to pack in the morning, and one address in Chinese."""
    orders = desk.folder / "orders.csv"
    text = orders.read_text(encoding="utf-8")
    row = next(row for row in text.splitlines() if row.startswith("D09,"))
    orders.write_text(text.replace(row.split(",")[4], "人民路 1"), encoding="utf-8")
    answer = desk.get("/papers/day/2026-12-01.pdf")
    assert answer.status_code == 503
    found = plain(answer.text)
    (lacking,) = set(re.findall(r"2026-W49-\d\d", found))
    assert f"Papers of {lacking} cannot be set before this is mended; the others' can." in found
    assert "'人民路 1' has letters that cannot be printed" in found
    printed = pdf_text(desk.get("/papers/day/2026-12-01.pdf?others=yes").data)
    assert lacking not in printed
    assert "Pick list" in printed
    assert desk.get(f"/papers/{lacking}.pdf").status_code == 503


def test_names_hidden_on_the_page_are_hidden_on_its_papers(desk: Desk) -> None:
    hidden = Desk(desk.folder, hide_names=True)
    assert "Eksempel" not in pdf_text(hidden.get(f"/papers/{FIRST}.pdf").data)

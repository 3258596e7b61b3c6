"""Eggs that should be hatching, and of which nobody wrote: a look is asked for, no more."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.cli.print_answers import forecast_lines, reply_lines, why_lines
from shipping.cli.print_plan import plan_lines
from shipping.cli.terminal import Window
from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.should_have_hatched import should_have_hatched, unseen_text
from shipping.options.option import Destination
from shipping.questions.can_it_ship import ask
from shipping.questions.forecast import explained, lot_timeline, outlooks
from shipping.questions.offer import offer
from shipping.questions.offer_text import doubts_of
from shipping.questions.reckoned_checks import shelf_checks
from shipping.questions.why import why
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from tests.tables.mistakes import shelf_with
from tests.week.a_week import plan_of
from tests.worktop.conftest import Desk

HEAD = "lot,species,population,laid_from,laid_to,medium,kept_at_c,eggs,counted_on,stage,stage_on"
EYED = f"{HEAD}\\nG2,gardneri,Akure,2026-11-21,2026-11-22,water,24,60,2026-11-29,eyed,2026-11-29\\n"
LOOKS = "lot,on,stage,alive,hatched,removed"
ASKED = (
    "Of lot G2 about {} of 60 eggs should have hatched since {}. Look, feed the fry and count what is left."
)


def _folder(into: Path, looks: str = "", lots: str = EYED) -> Path:
    return shelf_with(into, f"write lots.csv = {lots} && write inspections.csv = {LOOKS}\\n{looks}")


def _shelf(folder: Path, day: int) -> Shelf:
    shelf = read_shelf(folder, date(2026, 12, day)).shelf
    assert shelf is not None
    return shelf


def _said(folder: Path, day: int) -> list[str]:
    """What `check` says of lots on a day of December."""
    of_lots = [problem for problem in shelf_checks(_shelf(folder, day)) if problem.where.file == "lots.csv"]
    return [f"{problem.text} {problem.mend}".strip() for problem in of_lots]


def test_a_lot_that_should_be_hatching_is_asked_about_until_it_is_presumed_hatched(tmp_path: Path) -> None:
    folder = _folder(tmp_path / "eyed")
    told = {day: _said(folder, day) for day in range(1, 21)}
    first = next(day for day in told if told[day])
    left = [
        lot_forecast(_shelf(folder, day), "G2").eggs_on(date(2026, 12, day)) for day in (first - 1, first)
    ]
    assert left[0] > 30 > left[1], "on the first day on which half of it should have hatched"
    asked = [said for said in told.values() if any("should have hatched" in one for one in said)]
    assert told[first] == [ASKED.format(34, "Fri 4 Dec")], "one sentence for one lot"
    assert all(len(told[day]) == 1 for day in range(first, 21)), "from then on there is always one"
    assert "presumed hatched" in told[20][0]
    assert len(asked) > 5


@pytest.mark.parametrize(
    ("looks", "lots", "day"),
    [
        ("G2,2026-12-07,,,50,\\n", EYED, 8),
        ("G2,2026-12-07,eyed,12,,\\n", EYED, 8),
        ("G2,2026-12-07,,0,,\\n", EYED, 12),
        ("G2,2026-11-30,,,,60\\n", EYED, 8),
        ("", EYED.replace(",60,", ",0,"), 8),
        ("", EYED.replace("water", "peat"), 8),
    ],
    ids=["fry counted", "counted again", "none left", "all taken out", "no eggs", "kept damp"],
)
def test_it_is_not_asked_where_somebody_looked_where_no_egg_is_here_or_of_eggs_that_wait(
    looks: str, lots: str, day: int, tmp_path: Path
) -> None:
    shelf = _shelf(_folder(tmp_path / "shelf", looks, lots), day)
    assert should_have_hatched(lot_forecast(shelf, "G2")) is None


def test_eggs_sent_are_not_asked_about(tmp_path: Path) -> None:
    from dataclasses import replace

    forecast = lot_forecast(_shelf(_folder(tmp_path / "shelf"), 8), "G2")
    sent = (date(2026, 12, 1), 60)
    assert should_have_hatched(replace(forecast, packed=(sent,))) is None
    some = should_have_hatched(replace(forecast, packed=((sent[0], 20),)))
    assert some is not None
    assert "of 40 eggs" in some[0]
    assert should_have_hatched(replace(forecast, held=(sent,))) is not None, "held eggs are still here"


def test_of_eggs_that_should_have_hatched_nobody_is_told_that_they_would_on_the_way(tmp_path: Path) -> None:
    """Plan, `why` and page headed what stops them with the share that would hatch on the way."""
    folder = _folder(tmp_path / "eyed")
    (folder / "orders.csv").write_text(
        "order,placed_on,paid_on,addressee,delivery_1,postcode,town,country,species,population,eggs,overpack\n"
        "A1,2026-11-20,2026-11-21,Ida,Vej 3,8000,Aarhus,DK,gardneri,Akure,3,none\n",
        encoding="utf-8",
    )
    shelf, window, page = _shelf(folder, 6), Window(400), Desk(folder, date(2026, 12, 6))
    plan = make_plan(shelf, "2026-W50")
    told = [plan_lines(plan, shelf, window, False)]
    told += [why_lines(why(shelf, "A1", "2026-W50", plan), window, every) for every in (False, True)]
    for said in (*map(" ".join, told), page.text("/week?week=2026-W50")):
        assert "of lot G2 should have hatched since Fri 4 Dec. Look, feed the fry" in said
        assert "would hatch" not in said
    assert 'href="/lots?at=G2#h-G2"' in page.get("/week?week=2026-W50").text
    assert (
        " ".join(reply_lines(ask(shelf, "G2", Destination("DK")), "EUR", window, False)).count("of 60") == 1
    )


@pytest.mark.parametrize("day", [1, 5])
def test_what_tells_of_the_lot_says_it_in_the_same_words(day: int, tmp_path: Path) -> None:
    """`forecast`, `ask` and `offer` showed days that slide on with every day, and said nothing."""
    folder = _folder(tmp_path / "eyed")
    shelf, window = _shelf(folder, day), Window(400)
    said = unseen_text(lot_forecast(shelf, "G2"))
    assert bool(said) == (day == 5)
    (outlook,) = outlooks(shelf)
    told = "\n".join(forecast_lines((outlook,), window))
    assert [said in one for one in (outlook.unseen, told, explained(shelf, "G2")[-1])] == [True] * 3
    assert ("look first" in told) == bool(said), "no days that slide on with every day"
    (row,) = lot_timeline((outlook,), shelf).rows
    assert (row.doubt, row.hatch.p50 is None) == (("should-have-hatched", True) if said else ("", False))
    reply = ask(shelf, "G2", Destination("DK"))
    answer = list(reply_lines(reply, "EUR", window, False))
    assert (reply.unseen, said in answer[1]) == (said, True), "before what would hatch of it on the way"
    assert list(doubts_of(offer(shelf))) == [said] * bool(said)
    assert (said in Desk(folder, date(2026, 12, day)).text("/ask?lot=G2&to=DK")) is True


def test_the_page_says_it_on_the_round_and_at_the_lot_once(tmp_path: Path) -> None:
    folder = _folder(tmp_path / "eyed")
    for day, is_asked in ((1, False), (8, True)):
        desk = Desk(folder, date(2026, 12, day))
        pages = [desk.text("/"), desk.text("/lots")]
        shelf = _shelf(folder, day)
        head = "\n".join(plan_lines(plan_of(shelf), shelf, Window(200), False, quiet=True))
        assert ("look today at G2" in head) == ("Look at lot G2" in pages[0]) == is_asked
        assert [page.count("should have hatched since Fri 4 Dec.") for page in pages] == [is_asked] * 2
        assert ("▲ look today" in pages[1]) == is_asked
        assert ("Hatches " in pages[1]) != is_asked, "no days that slide on with every day"

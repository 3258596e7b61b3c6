"""From a fresh shelf to a first week that goes: at most five answers, and each is asked for by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path

from shipping.cli.terminal import reason_text, step_text
from shipping.tables.editing.row_writer import append_row, change_row
from shipping.tables.editing.rule_dating import redate
from shipping.tables.editing.starter import write_shelf
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.words.reasons import decisive

TODAY = date(2026, 11, 30)
LOT = {
    "lot": "GA-1",
    "species": "gardneri",
    "laid_from": "2026-11-21",
    "laid_to": "2026-11-22",
    "medium": "water",
    "kept_at_c": "23",
    "eggs": "90",
    "counted_on": "2026-11-30",
    "stage": "eyed",
    "stage_on": "2026-11-30",
}
ORDER = {
    "order": "N1",
    "placed_on": "2026-11-25",
    "paid_on": "2026-11-25",
    "addressee": "Invented Buyer",
    "delivery_1": "Opdigtet Vej 1",
    "postcode": "5000",
    "town": "Odense",
    "country": "DK",
    "species": "gardneri",
    "eggs": "20",
    "price": "16",
}


def shelf_in(folder: Path) -> Shelf:
    reading = read_shelf(folder, TODAY)
    assert reading.shelf is not None, reading.problems
    return reading.shelf


def rule(folder: Path) -> None:
    redate(shelf_in(folder), folder, "the authority at home, in writing", "DK", None, verdict="open")


def operator(folder: Path) -> None:
    row = next(one for one in shelf_in(folder).services if (one.service, one.to) == ("letter", ("DK",)))
    answer = {"live_eggs": "yes", "answered_on": TODAY.isoformat(), "answered_by": "the counter"}
    change_row(folder / "services.csv", row.at.row, answer, was={"service": "letter"})


def weather(folder: Path) -> None:
    append_row(folder / "weather.csv", {"to": "DK", "month": "12", "low_c": "15", "high_c": "20"})


#: What answers each reason, and the word by which it is asked for.
ANSWERS: Mapping[str, tuple[Callable[[Path], None], str]] = {
    "ask-rule": (rule, "rules --to DK"),
    "stale-rule": (rule, "rules --to DK"),
    "ask-post": (operator, "services"),
    "too-cold": (weather, "weather"),
}


def test_a_fresh_shelf_goes_after_at_most_five_answers_asked_by_name(tmp_path: Path) -> None:
    folder = tmp_path / "shelf"
    write_shelf(folder, "DK", "", TODAY)
    append_row(folder / "lots.csv", LOT)
    append_row(folder / "orders.csv", ORDER)
    asked: list[str] = []
    while not (plan := make_plan(shelf_in(folder), "2026-W49")).parcels:
        (out,) = plan.lines_out
        reason = decisive(out.verdict, out.reasons)
        assert out.verdict.value == "hold", out
        answer, word = ANSWERS[reason.code]
        assert word in f"{reason_text(reason)}. {step_text(reason)}"
        assert " 1 Jan" not in reason_text(reason), "a day on which nobody looked is no day"
        assert reason.code not in asked, "an answer that is given is not asked for again"
        asked.append(reason.code)
        answer(folder)
    assert plan.parcels[0].lines[0].p_enough >= 0.95
    assert {"ask-post", "too-cold"} <= set(asked)
    # one more answer before anything is printed: who sends
    assert shelf_in(folder).settings.sender.is_invented
    assert len(asked) + 1 <= 5

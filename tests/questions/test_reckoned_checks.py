"""What check finds by reckoning is said once, and a lot it leaves out is left out of the plan too."""

from __future__ import annotations

import json
import shutil
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from shipping.cli.app import main
from shipping.options.option_factory import OptionFactory
from shipping.questions import reckoned_checks
from shipping.questions.reckoned_checks import answers_lacking, shelf_checks, warmth_lacking, warmth_needed
from shipping.tables.reader import read_shelf
from shipping.tables.rows.weather import Weather
from shipping.words.units import shipped_folder
from tests.post.a_shelf import a_rule, a_service, a_species
from tests.week.a_week import a_lot, a_row, a_week, plan_of

Facts = dict[str, list[dict[str, str]]]


def said(words: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Facts:
    monkeypatch.setattr(sys, "argv", ["spawnpost", "--today", "2026-11-30", "--json", *words])
    with pytest.raises(SystemExit):
        main()
    found: Facts = json.loads(capsys.readouterr().out)
    return found


def test_a_recount_that_cannot_be_is_one_problem_and_its_lot_goes_nowhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = tmp_path / "shelf"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    (shelf / "inspections.csv").write_text("lot,on,alive,removed\nSO-02,2026-11-30,71,4\n", encoding="utf-8")
    words = ["--shelf", str(shelf)]
    problems = said([*words, "check"], capsys, monkeypatch)["problems"]
    assert [(problem["code"], problem["level"]) for problem in problems] == [("recount", "lot")]
    (lot,) = said([*words, "forecast", "SO-02"], capsys, monkeypatch)["lots"]
    assert lot["free"] == 0
    assert "recount" in str(lot["reasons"])


def test_a_region_that_is_no_part_known_is_asked_about_with_what_could_be_meant(tmp_path: Path) -> None:
    """Its holidays would be missed; a part that is known by a name of ours is not asked about."""
    from tests.tables.mistakes import shelf_with
    from tests.tables.shelves import TODAY

    def asked(region: str) -> list[str]:
        folder = shelf_with(tmp_path / region, f"orders 2 region = {region}")
        shelf = read_shelf(folder, TODAY).shelf
        assert shelf is not None
        return [one.mend for one in reckoned_checks.shelf_checks(shelf) if one.code == "national-calendar"]

    assert asked("Bavarria") == ["Write DE-BY."]
    assert asked("Fantasia") == ["Write its part of the country, such as DE-BB."]
    assert asked("Bavaria") == asked("Bayern") == asked("DE-BY") == []


def test_what_holds_every_line_of_a_first_week_is_said_by_check_once(tmp_path: Path) -> None:
    from tests.tables.mistakes import shelf_with
    from tests.tables.shelves import TODAY

    def lacking(edit: str) -> list[tuple[str, str]]:
        shelf = read_shelf(shelf_with(tmp_path / str(len(list(tmp_path.iterdir()))), edit), TODAY).shelf
        assert shelf is not None
        return [(str(one.where), one.code) for one in answers_lacking(shelf)]

    assert lacking("") == []
    no_yes = " && ".join(f"services {row} live_eggs = ask" for row in (2, 3, 4))
    assert lacking(no_yes) == [("services.csv:2", "ask-post")]
    assert lacking(no_yes.replace("services 2 live_eggs = ask && ", "")) == [], "one operator said yes"
    assert lacking("rules 2 checked_on = 2020-01-01") == [("rules.csv:2", "stale-rule")]
    assert lacking("rules 3 to = AT") == [("rules.csv", "no-rule")], "two lines go there, and it is said once"


def test_a_lot_most_of_which_is_reckoned_gone_is_to_be_counted_again(tmp_path: Path) -> None:
    """Nine days after its count under half of GA-13 is left by the clock and losses: what is left is a guess.
    FL-31, most of which should have hatched, is asked about in one sentence, and that is another.
    """
    from shipping.questions.reckoned_checks import shelf_checks
    from shipping.tables.reader import read_shelf

    said_on = {}
    for day in (date(2026, 11, 30), date(2026, 12, 4), date(2026, 12, 8)):
        shelf = read_shelf(shipped_folder("demo_orders"), day).shelf
        assert shelf is not None
        said_on[day] = [str(problem) for problem in shelf_checks(shelf) if problem.code == "count-again"]
    assert said_on[date(2026, 11, 30)] == said_on[date(2026, 12, 4)] == []
    (said,) = said_on[date(2026, 12, 8)]
    assert "By reckoning 47 % of lot GA-13 is left since the count of 2026-11-29." in said


def test_eggs_reckoned_gone_are_shown_beside_those_counted() -> None:
    from shipping.cli.print_answers import forecast_lines
    from shipping.cli.terminal import Window
    from shipping.questions.forecast import outlooks
    from shipping.tables.reader import read_shelf

    shelf = read_shelf(shipped_folder("demo_orders"), date(2026, 12, 4)).shelf
    assert shelf is not None
    told = list(forecast_lines(outlooks(shelf), Window(200)))
    (mostly_gone,) = (line for line in told if line.startswith("FL-31"))
    (mostly_there,) = (line for line in told if line.startswith("SJ-02"))
    assert " 12 of 80 " in mostly_gone
    assert " of " not in mostly_there


def test_days_to_wet_that_rest_on_an_unlikely_look_without_eyes_are_asked_about(tmp_path: Path) -> None:
    """Of sjostedti laid two months ago hardly any shows no eyes: one late look moves January to April."""
    from shipping.cli.print_answers import forecast_lines
    from shipping.cli.terminal import Window
    from shipping.questions.forecast import outlooks
    from shipping.questions.reckoned_checks import shelf_checks
    from shipping.tables.reader import read_shelf

    def asked(folder: Path) -> list[str]:
        shelf = read_shelf(folder, date(2026, 11, 30)).shelf
        assert shelf is not None
        told = "\n".join(forecast_lines(outlooks(shelf), Window(200)))
        assert "wet 2 Jan 2027-20 Jan 2028, by the look of 22 Nov" in told
        assert "wet 9 Jan-11 Apr\n" in told
        return [str(one) for one in shelf_checks(shelf) if one.code == "rests-on-look"]

    late = tmp_path / "late"
    shutil.copytree(shipped_folder("demo_orders"), late)
    lots = (late / "lots.csv").read_text(encoding="utf-8")
    (late / "lots.csv").write_text(
        lots.replace("Niger Delta,2026-10-20,2026-10-28", "Niger Delta,2026-09-20,2026-09-28"),
        encoding="utf-8",
    )
    assert asked(shipped_folder("demo_orders")) == []
    (question,) = asked(late)
    assert "SJ-02 is to be wetted from 2027-01-14 to 2027-04-05: 'fertile' on 2026-11-25 moves it" in question
    assert "it would be from 2026-10-24 to 2027-01-18" in question


@pytest.mark.parametrize(("medium", "lacks"), [("water", []), ("peat", ["no-rule"])])
def test_rules_are_wanted_for_the_media_that_lots_of_the_fish_ordered_are_kept_in(
    medium: str, lacks: list[str]
) -> None:
    """Another fish lies in peat, and nobody has ordered it."""
    lots = (a_lot("G1"), a_lot("N1", species="aus", medium="peat"))
    species = {"gar": a_species(), "aus": a_species(species="aus")}
    shelf = a_week(a_row("A"), lots=lots, species=species, rules=(a_rule(2, medium=medium),))
    assert [problem.code for problem in answers_lacking(shelf)] == lacks


@pytest.mark.parametrize(
    ("bears", "rows", "said_of"),
    [
        (
            {"keep_min_c": 15, "keep_max_c": 27},
            (),
            ["to DK 5.8 °C is assumed", "need at least 15 °C.", "Else a heat pack with a faster service"],
        ),
        ({"keep_min_c": -9, "keep_max_c": 12}, (), ["to DK 18.8 °C is assumed", "bear at most 12 °C."]),
        ({"keep_min_c": -9, "keep_max_c": 27}, (), []),
        ({}, (), []),
        ({"keep_min_c": 15, "keep_max_c": 27}, (Weather(to="*", month=11, low_c=1, high_c=9),), []),
    ],
    ids=["cold", "hot", "borne", "not judged", "said"],
)
def test_what_parcels_feel_is_asked_for_before_anything_is_planned(
    bears: dict[str, float], rows: tuple[Weather, ...], said_of: list[str]
) -> None:
    """A first December sent nothing, and its reason came to light one answer after the other."""
    shelf = a_week(a_row("A"), species={"gar": a_species(**bears)}, weather=rows)
    found = [f"{one.text} {one.mend}" for one in warmth_lacking(shelf)]
    assert bool(found) == bool(said_of)
    assert all(part in text for text in found for part in (*said_of, "DK or *, month 11"))
    assert all(("heat pack" in text) == ("5.8 °C is assumed" in text) for text in found)
    warmed = tuple(packing.model_copy(update={"heat_pack_h": 40.0}) for packing in shelf.packings)
    with_packs = [one.mend for one in warmth_lacking(replace(shelf, packings=warmed))]
    assert all(("longer than your 40 h" in mend) == ("heat pack" in mend) for mend in with_packs)


def test_warmth_is_asked_of_the_month_in_which_an_order_may_go_first() -> None:
    """In the last days of November the answer about November changed nothing of a December's parcel."""
    cells = {"keep_min_c": 15, "keep_max_c": 27}
    shelf = a_week(a_row("A", not_before="2027-01-02"), species={"gar": a_species(**cells)}, weather=())
    (found,) = warmth_lacking(shelf)
    assert "DK or *, month 1," in found.mend
    assert [(one.on, one.orders) for one in warmth_needed(shelf)] == [(date(2027, 1, 4), ("A",))]


def test_nobody_is_asked_how_warm_it_is_where_the_fish_may_not_go_or_has_gone() -> None:
    cells: dict[str, Any] = {"species": {"gar": a_species(keep_min_c=15, keep_max_c=27)}, "weather": ()}
    assert warmth_needed(a_week(a_row("A"), **cells))
    assert not warmth_needed(a_week(a_row("A"), rules=(a_rule(2, verdict="closed"),), **cells))
    codes = [[one.code for one in shelf_checks(a_week(a_row("A"), **cells), kept)] for kept in ((), ("A",))]
    assert ["assumed-warmth" in of for of in codes] == [True, False]


def test_the_temperature_asked_about_is_the_one_that_a_plan_stops_the_line_by() -> None:
    """The first day of the way was told before a plan, its coldest after it: two of one route."""
    shelf = a_week(
        a_row("A"),
        species={"gar": a_species(keep_min_c=15, keep_max_c=27)},
        weather=(),
        services=(
            a_service(service="slow", early_d=5, usual_d=9, late_d=12, live_eggs="yes"),
            a_service(early_d=3, usual_d=4, late_d=6, live_eggs="yes"),
        ),
    )
    (needed,) = warmth_needed(shelf)
    (out,) = plan_of(shelf).lines_out
    (cold,) = (one.facts for one in out.reasons if one.code == "too-cold")
    assert (round(needed.felt_c, 1), needed.bears_c) == (cold["low_c"], cold["limit_c"])
    assert (needed.on.isoformat(), needed.on > shelf.today) == (cold["on"], True)


def test_an_order_to_islands_behind_a_customs_border_names_the_service_that_is_held_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """D11 goes to Las Palmas: by its island parcel, which is held; by whichever, nothing would be."""
    shelf = tmp_path / "shelf"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    text = (shelf / "orders.csv").read_text(encoding="utf-8")
    for service, ways in ((",island parcel,", ""), (",,", "express, tracked parcel")):
        (shelf / "orders.csv").write_text(text.replace(",island parcel,", service), encoding="utf-8")
        monkeypatch.setattr(
            sys, "argv", ["spawnpost", "--today", "2026-11-30", "--json", "--shelf", str(shelf), "check"]
        )
        with pytest.raises(SystemExit) as left:
            main()
        found = json.loads(capsys.readouterr().out)["notices"]
        told = [notice["text"] for notice in found if notice["code"] == "no-border"]
        wanted = f"order D11 crosses a customs border, and {ways} would never be held there."
        assert told == ([wanted] if ways else [])
        mend = "Add a row to services for ES-CN, with its days and border_share."
        assert [notice["mend"] for notice in found if notice["code"] == "no-border"] == [mend] * len(told)
        read = read_shelf(shelf, date(2026, 11, 30)).shelf
        assert read is not None
        factory = OptionFactory(read)
        (order,) = (one for one in read.orders if one.order == "D11")
        legs = [
            factory.leg(one, factory.destination(order), read.today)
            for one in factory.services(order.place, order.service)
        ]
        noted = {leg.service.service for leg in legs if "no-border" in [note.code for note in leg.notes]}
        assert ", ".join(sorted(noted)) == ways, "as on the packing card"
        assert not left.value.code


def test_many_places_without_a_rule_are_one_line_and_the_first_line_counts_what_stands_below(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The row of three zones ended ten days ago: eighteen countries lack a rule by one cell."""
    shelf = tmp_path / "shelf"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    text = (shelf / "rules.csv").read_text(encoding="utf-8")
    ended = text.replace('the fish",2026-11-20,,,', 'the fish",2026-11-20,,2026-11-20,')
    (shelf / "rules.csv").write_text(ended, encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["spawnpost", "--today", "2026-11-30", "--shelf", str(shelf), "check"])
    with pytest.raises(SystemExit):
        main()
    first, *rest = capsys.readouterr().out.splitlines()
    notes = [line for line in rest if not line.startswith("Note: Read as")]
    assert len(notes) > 1
    assert first.endswith(f"shelf, but {len(notes)} things to look at.")
    (without,) = (line for line in rest if "no rule has been looked up" in line.casefold())
    assert "AT BE CH CZ DE" in without
    shelf_read = read_shelf(shelf, date(2026, 11, 30)).shelf
    assert shelf_read is not None
    told = []
    for few in (18, 17):
        monkeypatch.setattr(reckoned_checks, "FEW_PLACES", few)
        told.append(sum(one.code == "no-rule" for one in answers_lacking(shelf_read)))
    assert told == [18, 1]

"""Checks whose answer someone could dispute: which rule wins at home, which postage covers a place, what a
recount says.
"""

from __future__ import annotations

import inspect
import pkgutil
from importlib import import_module
from pathlib import Path

import pytest

from shipping.tables import checks
from shipping.tables.checks import row_problems
from shipping.tables.checks.all_checks import CHECKS
from shipping.tables.reader import read_shelf
from shipping.words.problems import Level
from tests.tables.shelves import TODAY, errors, good_shelf, notices

RULES = "to,taxon,medium,verdict,papers,source,checked_on,from,until\n"


def closed_lots(folder: Path, rules: str) -> set[str]:
    """The lots that the rules close at home."""
    shelf = good_shelf(folder)
    (shelf / "rules.csv").write_text(RULES + rules, encoding="utf-8")
    reading = read_shelf(shelf, TODAY)
    assert reading.shelf is not None, errors(reading)
    return {lot for lot, problem in reading.shelf.lots_stopped.items() if problem.code == "closed"}


@pytest.mark.parametrize(
    ("rules", "closed"),
    [
        ("DK,gardneri,,closed,,law,2026-11-01,,\n", {"G1", "G2"}),
        ("DK,Nothobranchiidae,,closed,,law,2026-11-01,,\n", {"G1", "G2", "N1"}),
        ("DK,Nothobranchiidae,,closed,,law,2026-11-01,,\nDK,gardneri,,open,,law,2026-11-01,,\n", {"N1"}),
        ("DK,gardneri,,open,,law,2026-11-01,,\nDK,gardneri,,closed,,law,2026-11-01,,\n", {"G1", "G2"}),
        ("*,*,,closed,,law,2026-11-01,,\nDK,*,,open,,law,2026-11-01,,\n", set()),
        ("DK,*,peat,closed,,law,2026-11-01,,\nDK,*,,open,,law,2026-11-01,,\n", {"N1"}),
        ("DK,*,,closed,,law,2026-11-01,2027-01-01,\n", set()),
        ("DE,*,,closed,,law,2026-11-01,,\n", set()),
        ("DK,fundulopanchax GARDNERI,,closed,,law,2020-01-01,,\n", {"G1", "G2"}),
    ],
)
def test_the_nearest_rule_wins_at_home_and_the_strictest_among_equals(
    tmp_path: Path, rules: str, closed: set[str]
) -> None:
    assert closed_lots(tmp_path, rules) == closed


@pytest.mark.parametrize(
    ("postage_to", "covered"), [("near", True), ("DE SE NO", True), ("DE SE", False), ("*", True)]
)
def test_a_zone_has_postage_by_its_name_by_all_its_countries_or_by_a_star(
    tmp_path: Path, postage_to: str, covered: bool
) -> None:
    shelf = good_shelf(tmp_path)
    text = (shelf / "postage.csv").read_text(encoding="utf-8").replace("letter,near", f"letter,{postage_to}")
    (shelf / "postage.csv").write_text(text, encoding="utf-8")
    told = read_shelf(shelf, TODAY).problems
    assert all(problem.level is Level.NOTICE for problem in told)
    assert any(problem.code == "no-postage" for problem in told) != covered


def test_a_service_may_name_a_country_by_code_by_zone_and_by_star_at_once(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    text = (shelf / "services.csv").read_text(encoding="utf-8").replace("letter,DK,", "letter,DK DE,")
    postage = (shelf / "postage.csv").read_text(encoding="utf-8").replace("letter,DK,", "letter,DK DE,")
    (shelf / "services.csv").write_text(text, encoding="utf-8")
    (shelf / "postage.csv").write_text(postage, encoding="utf-8")
    assert errors(read_shelf(shelf, TODAY)) == []


def test_a_second_recount_is_measured_against_the_first(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    looks = "lot,on,alive,hatched,removed\nG1,2026-11-27,100,,\nG1,2026-11-29,101,,\n"
    (shelf / "inspections.csv").write_text(looks, encoding="utf-8")
    problems = [problem for problem in read_shelf(shelf, TODAY).problems if problem.level is Level.LOT]
    assert [str(problem) for problem in problems] == [
        "inspections.csv:3: alive: 101 are 1 more than can be left of the 120 in lot 'G1'. "
        "Count again; until then the lot stays out."
    ]


def test_a_recount_that_lost_no_more_than_reckoned_is_not_said(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    (shelf / "inspections.csv").write_text("lot,on,alive\nG1,2026-11-27,118\n", encoding="utf-8")
    assert notices(read_shelf(shelf, TODAY)) == []


def test_every_check_says_nothing_of_a_shelf_that_has_no_rows_but_settings(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    for path in shelf.glob("*.csv"):
        path.write_text(path.read_text(encoding="utf-8").split("\n")[0] + "\n", encoding="utf-8")
    reading = read_shelf(shelf, TODAY)
    assert reading.shelf is not None
    assert {problem.code for problem in reading.problems} == {"no-rows"}
    assert len(CHECKS) > 30


def test_every_public_function_that_yields_problems_is_asked() -> None:
    for module in pkgutil.iter_modules(checks.__path__, f"{checks.__name__}."):
        for name, value in vars(import_module(module.name)).items():
            is_own = inspect.isfunction(value) and value.__module__ == module.name != row_problems.__name__
            if is_own and not name.startswith("_") and value.__annotations__["return"] == "Iterator[Problem]":
                assert value in CHECKS, name

"""Two processes make of a week's options exactly what one makes, and one does it all where there is no
second.
"""

from __future__ import annotations

import os
from datetime import date

import numpy as np
import pytest

from shipping.options import side_by_side
from shipping.options.option_arrays import OptionTable, tables_for
from shipping.options.option_factory import Reckoner
from shipping.options.side_by_side import of_each
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.objective import dispatch_days
from tests.timings.weeks import generated_week

Made = list[tuple[str, int, bytes, bytes]]


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    found = read_shelf(
        generated_week(25, 20, 3, tmp_path_factory.mktemp("week") / "shelf"), date(2026, 11, 30)
    ).shelf
    assert found is not None
    return found


def tables(shelf: Shelf) -> list[OptionTable]:
    wishes = [(order, line.species) for order in shelf.orders for line in order.lines]
    return list(tables_for(Reckoner(shelf), wishes, dispatch_days(shelf, "2026-W49")))


def made_of(shelf: Shelf, table: OptionTable, process: set[int]) -> Made:
    process.add(os.getpid())
    found = []
    for order in shelf.orders:
        for line in order.lines:
            if line.species == table.species.species:
                one = table.of(order, line, line.population)
                chances = np.ascontiguousarray(one.p_enough).tobytes()
                found.append((line.order, int((one.codes == 0).sum()), one.codes.tobytes(), chances))
    return found


def test_two_processes_make_what_one_makes(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(side_by_side, "MANY_ASKED", 1)
    alone: set[int] = set()
    one = of_each(tables(shelf), lambda table: made_of(shelf, table, alone), processes=1)
    two = of_each(tables(shelf), lambda table: made_of(shelf, table, set()), processes=2)
    assert one == two
    assert sum(passing for made in one for _, passing, _, _ in made) > 0
    assert alone == {os.getpid()}


def test_what_the_second_process_fails_to_do_is_done_here(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(side_by_side, "MANY_ASKED", 1)
    here = os.getpid()

    def only_here(table: OptionTable) -> str:
        if os.getpid() != here:
            os._exit(3)
        return table.species.species

    assert of_each(tables(shelf), only_here, processes=2) == [
        table.species.species for table in tables(shelf)
    ]


def test_a_small_week_is_left_to_one_process(shelf: Shelf) -> None:
    assert set(of_each(tables(shelf), lambda _: os.getpid(), processes=2)) == {os.getpid()}

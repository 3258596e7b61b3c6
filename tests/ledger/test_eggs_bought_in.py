"""Eggs bought in: they become a lot of the shelf, teach what they cost on the way, and count in no score."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from shipping.learning.lesson import learn
from shipping.learning.losses import Losses
from shipping.learning.outcomes import bought_outcomes
from shipping.learning.score import scores
from shipping.ledger.added_rows import bought_lot, shown_lot
from shipping.ledger.entries import Bought, Packed
from shipping.ledger.erasing import erase_buyer
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.words.problems import Where
from tests.ledger.desk import TODAY, draw, line, parcel, plan
from tests.ledger.invented import bought, drawn, lot, outcome, shelf
from tests.ledger.whole import audit


def recorded(folder: Path, *purchases: Bought) -> Ledger:
    ledger = Ledger.open(folder, TODAY, create=True)
    for one in purchases:
        ledger.buy(one, shelf())
    return ledger


def test_eggs_bought_in_become_a_lot_of_those_found_alive() -> None:
    row = bought_lot(bought(stage="eyed", keep_back=4, from_whom="Per Dam"), Where("ledger.sqlite", 3))
    assert (row.lot, row.eggs, row.counted_on, row.stage, row.stage_on) == ("L9", 28, TODAY, "eyed", TODAY)
    assert (row.keep_back, row.origin, row.at.row) == (4, "Per Dam", 3)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"lot": "L1"}, "there is a lot L1 already"),
        ({"species": "gardnerii"}, "'gardnerii' is not in species"),
        ({"alive": 31}, "30 eggs were sent, but 31 were found"),
        ({"dead": -1}, "a count is below zero"),
        ({"keep_back": 29}, "29 are kept back of 28 alive"),
        ({"laid_to": date(2026, 11, 27)}, "laid to 2026-11-27 is after posted 2026-11-26"),
        ({"posted_on": date(2026, 12, 1)}, "posted 2026-12-01 is after arrived 2026-11-30"),
        ({"packing": "tub"}, "'tub' is not in packings"),
        ({"service": "pigeon"}, "'pigeon' is not in services"),
        ({"medium": "gravel"}, "medium: 'gravel'"),
        ({"stage": "round"}, "stage: 'round'"),
        ({"arrived_on": date(2026, 12, 2)}, "after today"),
    ],
)
def test_a_purchase_that_cannot_be_is_refused_and_leaves_no_trace(
    tmp_path: Path, cells: dict[str, Any], words: str
) -> None:
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        with pytest.raises(LedgerError, match=words):
            ledger.buy(bought(**cells), shelf(lots=(lot("L1"),)))
        assert ledger.entries() == ()


def test_eggs_may_be_laid_posted_and_found_on_one_day(tmp_path: Path) -> None:
    with recorded(tmp_path, bought(laid_from=TODAY, laid_to=TODAY, posted_on=TODAY)) as ledger:
        assert [getattr(entry.body, "lot", "") for entry in ledger.bought_entries()] == ["L9"]


def test_all_that_were_sent_may_be_found_alive_and_all_of_them_kept_back(tmp_path: Path) -> None:
    with recorded(tmp_path, bought(sent=28, alive=28, dead=0, hatched_alive=None, keep_back=28)) as ledger:
        assert len(ledger.bought_entries()) == 1


def test_a_lot_is_bought_in_once(tmp_path: Path) -> None:
    with recorded(tmp_path, bought()) as ledger, pytest.raises(LedgerError, match="already"):
        ledger.buy(bought(), shelf())


def test_a_lot_bought_in_is_not_taken_back_while_a_parcel_holds_its_eggs(tmp_path: Path) -> None:
    with recorded(tmp_path, bought()) as ledger:
        ledger.keep_plan(plan(parcel("2026-W49-01", "Ida Holm", line("S10", 1, 20, draw("L9", 24)))))
        with pytest.raises(LedgerError, match="parcel 2026-W49-01 holds lot L9"):
            ledger.undo(1)
        ledger.undo()
        assert isinstance(ledger.undo().body.entry, int)
        assert ledger.bought_entries() == ()
        assert not any(isinstance(entry.body, Packed) for entry in ledger.entries())


def test_eggs_bought_in_teach_like_a_parcel_sent_but_count_in_no_score(tmp_path: Path) -> None:
    with recorded(tmp_path, bought(stage="eyed", dead=2)) as ledger:
        found = bought_outcomes(ledger.bought_entries(), shelf())
    (one,) = found
    assert (one.packed, one.living, one.days, one.packing, one.medium) == (30, 28, 4, "tube", "water")
    alike = outcome(1, packed=30, living=28, sent_on=one.sent_on, arrived_on=one.arrived_on)
    of_ours, of_theirs = (learn(shelf(), [each]) for each in (alike, one))
    assert [rate.after for rate in of_theirs.rates] == pytest.approx([rate.after for rate in of_ours.rates])
    assert (of_theirs.reported, of_theirs.unreported) == (0, 0)
    assert scores(found).all is None


def test_five_hundred_lots_bought_in_teach_their_losses() -> None:
    """Drawn with a loss of 0.08 at handling and 0.03 a day; over four days 0.20, within 0.02."""
    theirs = [replace(one, bought_from="DK") for one in drawn(500, Losses(0.08, 0.03, 15.0), 3)]
    after = {rate.what: rate.after for rate in learn(shelf(), theirs).rates}
    assert after["loss_handling"] + 4 * after["loss_per_day"] == pytest.approx(0.20, abs=0.02)


def test_a_lot_with_fry_in_it_teaches_days_only(tmp_path: Path) -> None:
    with recorded(tmp_path, bought(stage="eyed", alive=20, hatched_alive=3, dead=7)) as ledger:
        lesson = learn(shelf(), bought_outcomes(ledger.bought_entries(), shelf()))
    assert {rate.for_ for rate in lesson.rates} == {"letter"}


def test_without_the_day_of_posting_a_purchase_teaches_nothing(tmp_path: Path) -> None:
    with recorded(tmp_path, bought(posted_on=None)) as ledger:
        assert bought_outcomes(ledger.bought_entries(), shelf()) == ()


def test_what_a_purchase_teaches_is_said_as_it_is() -> None:
    assert "They took 4 days" in " ".join(shown_lot(bought()))
    assert "they teach nothing" in " ".join(shown_lot(bought(posted_on=None)))


def test_eggs_from_abroad_are_days_across_a_border() -> None:
    from shipping.learning.lesson import days_on_the_way

    home, abroad = outcome(1, bought_from="DK"), outcome(2, bought_from="DE")
    assert days_on_the_way(shelf(), [home, abroad]) == {"letter": ([2], [2])}
    untold = replace(home, day_untold=True)
    assert days_on_the_way(shelf(), [untold, abroad]) == {"letter": ([], [2])}


def test_who_sold_the_eggs_can_be_erased_and_the_counts_stay(tmp_path: Path) -> None:
    with recorded(tmp_path, bought(from_whom="Per Dam", note="nice eggs")) as ledger:
        erase_buyer(tmp_path, TODAY, "per dam")
        kept = ledger.bought_entries()[0].body
        assert (kept.from_whom, kept.note, kept.sent, kept.alive) == ("", "", 30, 28)
        assert audit(ledger.folder) == ()

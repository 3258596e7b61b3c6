"""The commands against the model written out a second time, naively: the demo week, and invented shelves of
every kind.

Shares agree to 1e-4, counts and dates exactly. The second reckoning is `letter_lots` and `letter_rides`; it
reads the same files and shares no code with ours.
"""

from __future__ import annotations

import json
import sys
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from shipping.cli.app import main
from shipping.words.units import shipped_folder
from tests.reference.letter_lots import LetterLot, LetterShelf, number
from tests.reference.letter_rides import LetterRide, first_by, is_smallest, nearest, option, ride
from tests.reference.letter_shelves import COUNTRIES, write_shelf
from tests.reference.several_lots import chance_of_several

DEMO = shipped_folder("demo_orders")
DEMO_DAY = date.fromisoformat((DEMO / "today.txt").read_text(encoding="utf-8").strip())
#: 0 is the demo week, the others are invented.
SHELVES = range(25)
#: Those asked with the quick tests, each with its share of options: the demo week has the most.
SOME = ((0, 33), (1, 33))
#: No share may be off by more.
SHARE = 1e-4
#: Of the options of an answer, each so many-th is reckoned again.
EVERY = tuple((number, 11) for number in SHELVES)
Json = dict[str, Any]
HELD = {"overdue", "misdated", "too-old", "recount", "past-wetting"}


@lru_cache(maxsize=2)
def by_the_letter(
    folder: Path, today: date
) -> tuple[LetterShelf, dict[str, LetterLot], dict[tuple[str, ...], LetterRide]]:
    """A shelf, its lots, and the journeys reckoned so far: once for all that is asked of it in a row."""
    letter = LetterShelf(folder, today)
    return letter, {row["lot"]: LetterLot(letter, row["lot"]) for row in letter.tables["lots"]}, {}


class TwoReckonings:
    """One shelf: our commands on it, and the second reckoning beside them."""

    def __init__(
        self,
        number: int,
        each: int,
        folder: Path,
        today: date,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        self.number, self.each, self.folder, self.today = number, each, folder, today
        self.capsys, self.monkeypatch = capsys, monkeypatch
        self.letter, self.lots, self._rides = by_the_letter(folder, today)
        self.home = self.letter.settings["home"]
        self.names = list(self.lots)

    def json(self, *words: object) -> Json:
        typed = ["spawnpost", "--shelf", self.folder, "--today", self.today.isoformat(), "--json", *words]
        self.monkeypatch.setattr(sys, "argv", [str(word) for word in typed])
        with pytest.raises(SystemExit) as end:
            main()
        said = self.capsys.readouterr()
        assert not end.value.code, (words, said.out, said.err)
        found = json.loads(said.out)
        assert isinstance(found, dict)
        return found

    def service(self, name: str, country: str) -> dict[str, str]:
        found = nearest(
            [row for row in self.letter.tables["services"] if row["service"] == name],
            country,
            self.letter.zones,
        )
        assert found is not None
        return found

    def ride(self, lot: str, packing: str, service: str, on: str, to: str) -> LetterRide:
        key = (lot, packing, service, on, to)
        if key not in self._rides:
            country, _, part = to.partition("-")
            of_packing = self.letter.row("packings", "packing", packing)
            of_service = self.service(service, country)
            self._rides[key] = ride(
                self.lots[lot], of_packing, of_service, date.fromisoformat(on), country, part
            )
        return self._rides[key]


@pytest.fixture(
    scope="module",
    params=[*SOME, *(pytest.param(one, marks=pytest.mark.slow) for one in EVERY if one not in SOME)],
    ids="shelf {0[0]}, each {0[1]}".format,
)
def written(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[int, int, Path, date]:
    """A shelf, written once for all tests of it, which run in a row: its number, the share of its options
    that is reckoned again, its folder and its day.
    """
    number, each = request.param
    if number == 0:
        return number, each, DEMO, DEMO_DAY
    folder = tmp_path_factory.mktemp("letter")
    return number, each, folder, write_shelf(folder, number)


@pytest.fixture
def both(
    written: tuple[int, int, Path, date],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> TwoReckonings:
    monkeypatch.delenv("SPAWNPOST_SHELF", raising=False)
    return TwoReckonings(*written, capsys, monkeypatch)


def test_every_lot_is_forecast_as_the_letter_says(both: TwoReckonings) -> None:
    for said in both.json("forecast")["lots"]:
        lot = both.lots[said["lot"]]
        where = (both.folder, said["lot"], said)
        assert (said["overdue"], said["misdated"]) == (lot.is_overdue, lot.is_misdated), where
        assert said["too_old"] == lot.is_too_old(both.today), where
        assert said["stage"] == lot.stage, where
        assert [(day["on"], day["eggs"], day["free"]) for day in said["days"]] == [
            (on.isoformat(), lot.eggs_on(on), lot.free_on(on))
            for on in (both.today + timedelta(days=n) for n in range(8))
        ], where
        assert (said["eggs_today"], said["free"]) == (lot.eggs_on(both.today), lot.free_on(both.today)), where
        if lot.is_overdue or lot.is_misdated:
            assert set(said["hatch"].values()) == {None}, where
            continue
        if lot.is_too_old(both.today):
            continue
        assert said["degree_days"] == pytest.approx(lot.degree_days(both.today), abs=0.02), where
        for name, share in (("p05", 0.05), ("p50", 0.5), ("p95", 0.95)):
            on = said["hatch"][name] and date.fromisoformat(said["hatch"][name])
            if on is None:
                assert lot.share_hatched(both.today + timedelta(days=3650)) < share, (where, name)
                continue
            first = lot.laying[0] if lot.is_damp else both.today
            assert lot.share_hatched(on) >= share - SHARE, (where, name)
            assert on == first or lot.share_hatched(on - timedelta(days=1)) < share + SHARE, (where, name)


def _agrees(both: TwoReckonings, one: LetterRide, said: Json, ordered: int, overpack: str = "usual") -> None:
    """Every figure of an option, and what stops it as far as lot, journey and packing go."""
    where = (str(both.folder), one.lot.row, one.packing["packing"], one.service, said)
    lot, promise = one.lot, both.letter.plan("promise")
    found = option(one, ordered, both.home, said["pack"])
    assert [said["arrive"][name] for name in ("p05", "p50", "p95")] == [
        day.isoformat() for day in found.arrive
    ], where
    is_told = said["p_enough"] is not None  # of eggs past their wetting no chance is told
    assert is_told or lot.is_damp or lot.is_overdue or lot.is_misdated or lot.is_too_old(one.on), where
    if is_told and not (lot.is_overdue or lot.is_misdated or lot.is_too_old(one.on)):
        # a chance of a whole count moves several times as far as the share it rests on
        assert said["p_enough"] == pytest.approx(found.p_enough, abs=5 * SHARE), where
        assert said["h_per_egg"] == pytest.approx(found.h_per_egg, abs=SHARE), where
        assert said["v_per_egg"] == pytest.approx(found.v_per_egg, abs=SHARE), where
        if said["pack"]:
            assert said["h_any"] == pytest.approx(found.h_any, abs=40 * SHARE), where
        if overpack == "usual":
            assert is_smallest(one, said["pack"], ordered, promise), where
        else:
            assert said["pack"] == ordered, where
    physical = HELD | {"closed-day", "would-hatch", "too-hot", "too-cold", "no-air", "short"}
    codes = {
        "short" if reason["code"] == "too-young" else reason["code"] for reason in said["reasons"]
    } & physical
    if codes & HELD or found.codes & HELD:
        assert codes & HELD == found.codes & HELD, where
        return
    # a count is only spoken of where nothing else stops lot, journey or packing
    wanted = found.codes
    if found.codes - {"short", "closed-day", "no-air"}:
        codes, wanted = codes - {"short"}, wanted - {"short"}
    near = abs(found.h_per_egg - float(one.packing["hatch_ceiling"])) < SHARE
    near |= abs(found.h_any - float(one.packing.get("any_ceiling") or 1)) < 40 * SHARE
    if near:
        codes, wanted = codes - {"would-hatch", "short"}, wanted - {"would-hatch", "short"}
    assert codes == wanted, (where, found)


def _destination(both: TwoReckonings, number: int) -> str:
    if both.folder == DEMO:
        return ("DK", "AU", "DE", "PL", "GB", "IT")[number % 6]
    return (*COUNTRIES, both.home["country"])[(number * 4 + both.number) % (len(COUNTRIES) + 1)]


def test_every_answer_gives_the_figures_of_the_letter(both: TwoReckonings) -> None:
    checked = 0
    for nth, name in enumerate(both.names):
        eggs, to = (5, 12, 20, 40)[nth % 4], _destination(both, nth)
        for said in both.json("ask", name, "--to", to, "--eggs", eggs)["options"][
            nth % both.each :: both.each
        ]:
            _agrees(
                both, both.ride(name, said["packing"], said["service"], said["dispatch_on"], to), said, eggs
            )
            assert (said["verdict"] == "go") == (not said["reasons"])
            checked += 1
    assert checked > 550 / both.each


def _stopped_by(both: TwoReckonings, one: LetterRide, ordered: int) -> frozenset[str]:
    promise = both.letter.plan("promise")
    pack = next(
        (n for n in range(ordered, 8 * ordered + 101) if one.p_enough(n, ordered) >= promise - 1e-12), None
    )
    return option(one, ordered, both.home, pack).codes


def test_the_last_safe_day_is_the_last_on_which_an_option_passes(both: TwoReckonings) -> None:
    name, to = both.names[2], both.home["country"]
    reply = both.json("ask", name, "--to", to, "--eggs", 5)
    ends = [days for days in reply["safe"] if days["until"]]
    if reply["no_last_day"] or not ends:
        assert reply["last_safe_day"] is None
        return
    assert reply["last_safe_day"] == max(days["until"] for days in ends)
    for days in ends[:2]:
        until = date.fromisoformat(days["until"])
        assert not _stopped_by(
            both, both.ride(name, days["packing"], days["service"], days["until"], to), 5
        ), days
        for later in (until + timedelta(days=n) for n in range(1, 11)):
            after = both.ride(name, days["packing"], days["service"], later.isoformat(), to)
            is_past = later > both.today + timedelta(days=60)
            assert is_past or later.weekday() > 4 or _stopped_by(both, after, 5), (days, later)


def test_every_option_of_an_order_gives_the_figures_of_the_letter(both: TwoReckonings) -> None:
    orders = both.letter.tables["orders"]
    for nth, row in enumerate(orders if both.folder != DEMO else orders[::6]):
        line_of = dict(enumerate((r for r in orders if r["order"] == row["order"]), start=1))
        region = (row.get("region") or "").partition("-")
        part = region[2] or region[0] if len(region[2] or region[0]) in (2, 3) else ""
        to = f"{row['country']}-{part}" if part else row["country"]
        for said in both.json("why", row["order"])["options"][nth % both.each :: both.each]:
            one = both.ride(said["lot"], said["packing"], said["service"], said["dispatch_on"], to)
            line = line_of[said["line"]]
            _agrees(both, one, said, int(line["eggs"]), line.get("overpack") or "usual")


def test_the_margin_of_a_route_is_the_letters(both: TwoReckonings) -> None:
    lot = next(lot for lot in both.lots.values() if not lot.is_damp)
    to, on = both.home["country"], both.today
    for packing in both.letter.tables["packings"]:
        for service in ("letter", "sure", "collect") if both.folder != DEMO else ("quick letter", "collect"):
            one = ride(lot, packing, both.service(service, to), on, to)
            for outcome in one.arrive:
                one.h[outcome] = 0.0
                t = (outcome[0] - on).days
                one.v[outcome] = 2.718281828459045 ** -(
                    float(packing["loss_handling"]) + float(packing["loss_per_day"]) * t
                )
            words = ("margin", 20, "--packing", packing["packing"], "--service", service, "--to", to)
            said = both.json(*words)
            assert is_smallest(one, said["pack"], 20, both.letter.plan("promise")), (said, packing, service)
            assert said["p_enough"] == pytest.approx(one.p_enough(said["pack"], 20), abs=SHARE)
            assert said["expected_alive"] == pytest.approx(said["pack"] * one.mean(one.v), abs=1e-3)
            assert said["extra"] == said["pack"] - 20


def _chance_of_all(rides: list[tuple[LetterRide, int]], ordered: int) -> float:
    """P(sum of the draws' survivors >= ordered): one journey, so all Betas stand at the same quantile."""
    if len(rides) == 1:
        return rides[0][0].p_enough(rides[0][1], ordered)
    total = 0.0
    for outcome, chance in rides[0][0].arrive.items():
        drawn = [(eggs, one.v[outcome], number(one.packing, "kappa", 40)) for one, eggs in rides]
        total += chance * chance_of_several(drawn, ordered, 200)
    return total


def _hatches_there(draw: Json, one: LetterRide) -> None:
    """The days a buyer is told are the first by which that share has hatched."""
    if one.lot.is_damp:
        assert draw["hatch_at_buyer"] is None
        first = first_by(one.dates, 0.05)
        for name, day in zip(("from", "until"), one.lot.wetting, strict=True):
            assert draw["wet"][name] == (max(day, first).isoformat() if day else None), draw
        return
    for name, share in (("p05", 0.05), ("p50", 0.5), ("p95", 0.95)):
        on = date.fromisoformat(draw["hatch_at_buyer"][name])
        assert one.hatched_there(on) >= share - SHARE, (draw, name)
        assert one.hatched_there(on - timedelta(days=1)) < share + SHARE, (draw, name)


def test_every_line_of_the_demo_plan_keeps_its_promise_by_the_letter(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SPAWNPOST_SHELF", raising=False)
    both = TwoReckonings(0, 1, DEMO, DEMO_DAY, capsys, monkeypatch)
    rows = both.letter.tables["orders"]
    several = 0
    for parcel in both.json("plan")["parcels"]:
        first = next(row for row in rows if row["order"] == parcel["orders"][0])
        part = (first.get("region") or "").rpartition("-")[2]
        to = f"{parcel['to']}-{part}" if part else parcel["to"]
        for line in parcel["lines"]:
            of_line = [row for row in rows if row["order"] == line["order"]][line["line"] - 1]
            drawn = []
            for draw in line["draws"]:
                one = both.ride(draw["lot"], draw["packing"], parcel["service"], parcel["dispatch_on"], to)
                for name, figure in (("h_per_egg", one.mean(one.h)), ("v_per_egg", one.mean(one.v))):
                    assert draw[name] == pytest.approx(figure, abs=SHARE), (draw, name)
                assert draw["h_any"] == pytest.approx(one.h_any(draw["pack"]), abs=40 * SHARE), draw
                assert draw["look_first"] == one.look_first
                assert parcel["warm_h"] == pytest.approx(one.warm_h, abs=1e-6), parcel
                _hatches_there(draw, one)
                assert draw["pack"] <= one.free
                drawn.append((one, draw["pack"]))
            several += len(drawn) > 1
            enough = _chance_of_all(drawn, line["ordered"])
            good_to = 5 * SHARE if len(drawn) == 1 else 1e-3
            assert line["p_enough"] == pytest.approx(enough, abs=good_to), line
            assert line["p_enough"] >= both.letter.plan("promise") or (of_line.get("overpack") == "none"), (
                line
            )
    assert several

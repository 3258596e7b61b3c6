"""The commands for claims and for eggs bought in, on the demo week: what is shown, recorded, refused, and
seen by plans.
"""

from __future__ import annotations

import csv
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import FIRST, Spawnpost, done, entries, refused
from tests.every_case import every

BUY = (
    *(
        "buy",
        "B-01",
        "--species",
        "australe",
        "--population",
        "Cap Esterias",
        "--sent",
        30,
        "--alive",
        26,
        "--dead",
        4,
    ),
    *(
        "--laid-from",
        "2026-11-25",
        "--medium",
        "water",
        "--kept-at",
        22.5,
        "--stage",
        "eyed",
        "--posted",
        "2026-11-27",
    ),
    *("--service", "tracked parcel", "--packing", "tube 15 ml", "--origin", "DE", "--from", "Per Dam"),
)


def short_parcel(spawnpost: Spawnpost, photo: Path | None = None, first: int = 15, second: int = 18) -> None:
    """The first parcel arrives with 15 of 20 eggs of its first line alive, and all 18 of its second."""
    done(spawnpost("pack", FIRST, *(("--photo", photo) if photo else ())))
    done(spawnpost("send", FIRST))
    done(
        spawnpost(
            "arrive",
            FIRST,
            "--alive",
            f"D02:1={first},D02:2={second}",
            "--dead",
            "D02:1=3",
            today="2026-12-01",
        )
    )


def facts_of(case: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return {fact["what"]: (fact["ours"], fact["theirs"]) for fact in case["facts"]}


def test_a_short_parcel_is_a_case_with_both_sides_and_the_sellers_own_policy(spawnpost: Spawnpost) -> None:
    short_parcel(spawnpost)
    (case,) = done(spawnpost("claim", "--json", today="2026-12-01")).facts["cases"]
    assert (case["order"], case["line"], case["about"], case["short_by"], case["state"]) == (
        "D02",
        1,
        ["short"],
        5,
        "new",
    )
    assert facts_of(case)["eggs"] == ("20 ordered, 23 packed", "15 alive, 3 dead")
    assert facts_of(case)["left of FL-31"] == ("0 kept back; nobody has looked since", "")
    assert "Eggs that fall short of the count are sent again with the next lot." in case["policy"]
    assert (case["suggested"], case["eggs_due"]) == ("send again", 5)


def test_arrive_alone_tells_what_was_lost_by_post_as_words_and_facts(spawnpost: Spawnpost) -> None:
    short_parcel(spawnpost)
    told = done(spawnpost("arrive", "--json", today="2026-12-01")).facts
    assert (told["alive"], told["gone"], told["known_lost"]) == (33, 3, 3)
    assert told["packed"] == sum(told[name] for name in ("alive", "gone", "untold", "silent"))
    (month,) = told["months"]
    assert (month["month"], month["routes"][0]["to"]) == ("2026-11", "DK")
    said = done(spawnpost("arrive", today="2026-12-01")).out
    assert "Lost by post: 3 eggs of the 36 whose end is known (8.3 %)" in said
    assert "courier next day" in said
    later = done(spawnpost("arrive", "--since", "2026-12-01", today="2026-12-01")).out
    assert later == "No parcel was sent since 2026-12-01.\n"
    refused(spawnpost("arrive", FIRST, "--since", "2026-11-01", today="2026-12-01"), "--since")


def test_a_claim_knows_a_parcel_by_its_number_in_the_week(spawnpost: Spawnpost) -> None:
    short_parcel(spawnpost)
    by_name = done(spawnpost("claim", FIRST, "--json", today="2026-12-01")).facts
    assert by_name["cases"]
    assert done(spawnpost("claim", 1, "--json", today="2026-12-01")).facts == by_name


def test_looks_since_packing_tell_the_fate_of_the_eggs_kept_back(spawnpost: Spawnpost, shelf: Path) -> None:
    short_parcel(spawnpost)
    looks = shelf / "inspections.csv"
    header = looks.read_text(encoding="utf-8-sig").splitlines()[0].split(",")
    seen = {"lot": "FL-31", "on": "2026-12-01", "alive": "50", "hatched": "2", "removed": "3"}
    looks.write_text(
        looks.read_text("utf-8-sig") + ",".join(seen.get(name, "") for name in header) + "\n", "utf-8"
    )
    (case,) = done(spawnpost("claim", FIRST, "--json", today="2026-12-01")).facts["cases"]
    assert facts_of(case)["left of FL-31"][0] == "0 kept back; 50 alive, 2 hatched, 3 dead by 2026-12-01"


def test_settling_by_sending_again_opens_the_claim_and_puts_an_order_into_plan_why_and_check(
    spawnpost: Spawnpost,
) -> None:
    short_parcel(spawnpost, first=20, second=10)
    settled = done(spawnpost("claim", FIRST, "--settle", "send again", "--json", today="2026-12-01")).facts
    assert settled["cases"][0]["owed"] == "D02-2-again"
    assert [entry["kind"] for entry in entries(spawnpost)][-2:] == ["claim opened", "claim settled"]
    plan = done(spawnpost("plan", "--json", today="2026-12-01")).facts
    lines = [line for parcel in plan["parcels"] for line in parcel["lines"] if line["order"] == "D02-2-again"]
    assert [(line["line"], line["species"], line["ordered"]) for line in lines] == [(1, "mento", 5)]
    assert "D02-2-again" in done(spawnpost("why", "D02-2-again", today="2026-12-01")).out
    assert done(spawnpost("check", "--ledger", "--json", today="2026-12-01")).facts["problems"] == []


def test_papers_of_an_order_owed_carry_the_address_of_the_first(spawnpost: Spawnpost, shelf: Path) -> None:
    short_parcel(spawnpost, first=20, second=10)
    done(spawnpost("claim", FIRST, "--settle", "send again", today="2026-12-01"))
    plan = done(spawnpost("plan", "--json", today="2026-12-01")).facts
    name = next(one["parcel"] for one in plan["parcels"] if "D02-2-again" in one["orders"])
    assert next(one["addressee"] for one in plan["parcels"] if one["parcel"] == name) == "Søren Eksempel"
    label = ("papers", "--parcel", name, "--only", "label", "--json")
    refused(spawnpost(*label[:-1], today="2026-12-01"), f"'{name}' is of a plan made now")
    done(spawnpost("plan", "--keep", today="2026-12-01"))
    files = done(spawnpost(*label, today="2026-12-01")).facts["files"]
    assert any(file.endswith(f"{name}-label.pdf") for file in files)
    assert done(spawnpost("--hide-names", "plan", today="2026-12-01")).out.count("Eksempel") == 0


def test_a_claim_is_settled_by_money_or_by_nothing_too_and_owes_no_eggs(spawnpost: Spawnpost) -> None:
    short_parcel(spawnpost)
    told = done(spawnpost("claim", FIRST, today="2026-12-01")).out
    assert "price        ours: 14.00 EUR for the line" in told
    settled = done(spawnpost("claim", FIRST, "--settle", "refund", "--amount", "€ 3,50", today="2026-12-01"))
    assert "3.50 given back." in settled.out
    assert entries(spawnpost)[-1]["text"] == "claim for D02:1 settled: refund, 3.50 back"
    done(spawnpost("claim", FIRST, "--line", "D02:2", "--about", "late", today="2026-12-01"))
    ended = done(spawnpost("claim", FIRST, "--line", "D02:2", "--settle", "nothing", today="2026-12-01"))
    assert "settled: nothing was owed." in ended.out
    cases = done(spawnpost("claim", "--json", today="2026-12-01")).facts["cases"]
    assert [(case["line"], case["state"], case["owed"], case["given_back"]) for case in cases] == [
        (1, "settled", None, "3.50"),
        (2, "settled", None, None),
    ]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--settle", "shout"), "There is no way to settle 'shout'."),
        (("--about", "smell", "--line", "D02:1"), "There is no claim 'smell'."),
        (("--settle", "refund", "--line", "D02:1"), "the amount given back is not said"),
        (("--settle", "refund", "--amount", "3,500", "--line", "D02:1"), "'3,500' is not an amount of money"),
        (("--settle", "refund", "--amount", "0", "--line", "D02:1"), "'0' is not an amount of money"),
        (("--settle", "send again", "--eggs", "24", "--line", "D02:1"), "but 23 were packed"),
        (("--settle", "nothing", "--eggs", "4", "--line", "D02:1"), "it is settled by 'nothing'"),
        (("--settle", "nothing", "--line", "D02:2"), "nothing is claimed for that line"),
        (("--line", "D09:1", "--about", "late"), "There is no line 'D09:1'."),
    ],
)
def test_a_claim_that_cannot_be_is_refused_and_records_nothing(
    spawnpost: Spawnpost, words: tuple[str, ...], said: str
) -> None:
    short_parcel(spawnpost)
    before = len(entries(spawnpost))
    refused(spawnpost("claim", FIRST, *words, today="2026-12-01"), said)
    assert len(entries(spawnpost)) == before


def test_a_settled_claim_is_not_settled_again(spawnpost: Spawnpost) -> None:
    short_parcel(spawnpost)
    done(spawnpost("claim", FIRST, "--settle", "send again", today="2026-12-01"))
    refused(spawnpost("claim", FIRST, "--settle", "send again", today="2026-12-01"), "is settled already")
    assert [entry["kind"] for entry in entries(spawnpost)].count("claim settled") == 1


def test_a_photo_is_told_from_another_by_the_digest_kept_at_packing(
    spawnpost: Spawnpost, tmp_path: Path
) -> None:
    photo, other = tmp_path / "packed.jpg", tmp_path / "other.jpg"
    photo.write_bytes(b"forty-one eggs")
    other.write_bytes(b"forty eggs")
    short_parcel(spawnpost, photo)
    found = done(spawnpost("claim", FIRST, "--photo", photo, "--json", today="2026-12-01")).facts
    assert found["photo_matches"] is True
    assert found["cases"][0]["photo_sha256"] in facts_of(found["cases"][0])["packed"][0]
    assert (
        done(spawnpost("claim", FIRST, "--photo", other, "--json", today="2026-12-01")).facts["photo_matches"]
        is False
    )


def test_an_order_owed_whose_rows_are_gone_is_said_to_be_stuck(spawnpost: Spawnpost, shelf: Path) -> None:
    short_parcel(spawnpost)
    done(spawnpost("claim", FIRST, "--settle", "send again", today="2026-12-01"))
    orders = shelf / "orders.csv"
    orders.write_text(
        "".join(row for row in orders.read_text("utf-8-sig").splitlines(True) if not row.startswith("D02,")),
        "utf-8",
    )
    told = done(spawnpost("claim", today="2026-12-01")).out
    assert "D02-1-again cannot go: put the rows of order D02 back as they were." in told
    assert "Put the rows of order D02 back as they were." in done(spawnpost("check", today="2026-12-01")).out


# --- eggs bought in


def test_eggs_bought_in_are_seen_by_forecast_ask_plan_and_check(spawnpost: Spawnpost) -> None:
    told = done(spawnpost(*BUY)).out
    assert "bought in lot B-01 on 2026-11-30: 26 of 30 alive" in told
    lot = done(spawnpost("forecast", "B-01", "--json")).facts["lots"][0]
    assert (lot["eggs_today"], lot["stage"]) == (26, "eyed")
    assert done(spawnpost("ask", "B-01", "--to", "DK", "--json")).facts["lot"] == "B-01"
    assert "B-01" in {use["lot"] for use in done(spawnpost("plan", "--json")).facts["lots"]}
    assert done(spawnpost("check", "--ledger", "--json")).facts["problems"] == []


def test_eggs_bought_in_teach_the_packing_and_the_service_they_came_by(spawnpost: Spawnpost) -> None:
    done(spawnpost(*BUY))
    learned = done(spawnpost("learn", "--json")).facts
    assert {"tube 15 ml/water", "tracked parcel/NEAR NORTH"} <= {rate["for"] for rate in learned["rates"]}
    assert (learned["reported"], learned["unreported"]) == (0, 0)


def test_eggs_bought_in_may_begin_a_ledger(spawnpost: Spawnpost, shelf: Path) -> None:
    for name in ("ledger.sqlite", "ledger.sqlite.checksum"):
        (shelf / name).unlink(missing_ok=True)
    shutil.rmtree(shelf / "ledger-copies", ignore_errors=True)
    done(spawnpost(*BUY))
    assert [entry["kind"] for entry in entries(spawnpost)] == ["bought"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"--species": "austral"}, "'austral' is not in species"),
        ({"--alive": 31}, "30 eggs were sent, but 35 were found"),
        ({"--laid-from": "2026-12-24"}, "is after today"),
        ({"--origin": "XX"}, "'XX' is no country of ISO 3166"),
        ({"--medium": "gravel"}, "gravel"),
    ],
)
def test_a_purchase_that_cannot_be_is_refused_in_one_line(
    spawnpost: Spawnpost, change: dict[str, object], said: str
) -> None:
    words = list(BUY)
    for option, value in change.items():
        words[words.index(option) + 1] = value
    refused(spawnpost(*words), said)
    assert [entry["kind"] for entry in entries(spawnpost)] == ["plan kept"]


def test_a_purchase_is_taken_and_asked_about_as_a_row_of_lots_would_be(spawnpost: Spawnpost) -> None:
    words = [*BUY, "--origin", "Deutschland"]
    words[words.index("--species") + 1] = "Aphyosemion australe"
    assert "Note:" not in done(spawnpost(*words)).out
    done(spawnpost("undo"))
    words[words.index("--kept-at") + 1] = 2.25
    told = done(spawnpost(*words)).out
    assert "Note: ledger.sqlite" in told
    assert "2.25 °C is below keep_min_c of 'australe', 15." in told


def test_a_day_that_cannot_be_yet_is_taken_and_said(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST, "--service", "quick letter"))
    early = "2026-11-30 is early: half of such parcels are there by 2026-12-02, 95 in 100 by 2026-12-03."
    assert early in done(spawnpost("arrive", FIRST, "--lost")).out
    done(spawnpost("undo", FIRST))
    late = done(spawnpost("arrive", FIRST, "--lost", today="2026-12-04")).out
    assert "is early" not in late
    done(spawnpost("undo", FIRST, today="2026-12-04"))
    assert early in done(spawnpost("arrive", FIRST, "--alive", "D02:1=20", "--on", "2026-11-30")).out
    done(spawnpost("undo", FIRST))


def test_a_report_without_its_day_takes_the_one_told_before_else_today_and_says_where_that_is_late(
    spawnpost: Spawnpost,
) -> None:
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST, "--service", "quick letter"))
    done(spawnpost("arrive", FIRST, "--lost", today="2026-12-04"))
    lost = done(spawnpost("claim", FIRST, "--json", today="2026-12-04")).facts["cases"]
    assert [case["in_time"] for case in lost] == [None, None]
    report = ("arrive", FIRST, "--alive", "D02:1=20")
    untold = (
        "No day was given, so it counts as come today, 2026-12-04, later than it should by 2026-12-03;"
        " nothing is learned from its days on the way."
    )
    assert untold in " ".join(done(spawnpost(*report, today="2026-12-04")).out.split())
    done(spawnpost("undo", FIRST, today="2026-12-04"))
    done(spawnpost(*report, "--on", "2026-12-02", today="2026-12-04"))
    assert (
        "No day was given"
        not in done(spawnpost("arrive", FIRST, "--alive", "D02:2=3", today="2026-12-04")).out
    )
    cases = done(spawnpost("claim", FIRST, "--json", today="2026-12-04")).facts["cases"]
    arrived = {facts_of(case)["arrived"][1] for case in cases}
    assert arrived == {"2026-12-02"}


def test_an_item_number_of_another_country_is_taken_and_said(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST))
    told = done(spawnpost("send", FIRST, "--item", "RR473124829GB")).out
    assert "ends in GB, and you post in DK" in told
    assert "item RR473124829GB" in entries(spawnpost)[-1]["text"]


# --- what is learned, shown where it is used


def rates(shelf: Path, *rows: str) -> None:
    text = "what,for,value,unit,from_day,basis,n,source\n" + "".join(f"{row}\n" for row in rows)
    (shelf / "learned.csv").write_text(text, encoding="utf-8")


def test_a_lots_clock_takes_the_rates_learned_for_its_population_and_says_so(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    def median(lot: str) -> str:
        return str(done(spawnpost("forecast", lot, "--json")).facts["lots"][0]["hatch"]["p50"])

    before = median("AU-20")
    others = median("CH-14")
    rates(
        shelf,
        'hatch_early_d,australe/Cap Esterias,15,d,2026-11-01,learned,9,"9 lots watched, 500 eggs"',
        'hatch_usual_d,australe/Cap Esterias,19,d,2026-11-01,learned,9,"9 lots watched, 500 eggs"',
        'hatch_late_d,australe/Cap Esterias,25,d,2026-11-01,learned,9,"9 lots watched, 500 eggs"',
        "zero_c,australe/Cap Esterias,12,C,2026-11-01,learned,9,9 lots watched at different warmth",
        "hatch_usual_d,australe/Elsewhere,40,d,2026-11-01,learned,9,another population",
    )
    assert median("AU-20") > before
    assert median("CH-14") == others
    told = done(spawnpost("forecast", "AU-20", "--explain")).out
    assert "Hatching 15 / 19.0 / 25 days" in told
    assert "hatching days: learned since 2026-11-01 (9 lots watched, 500 eggs)" in told
    assert "Development stops at 12 °C (learned)" in told


def test_a_rate_that_changes_nothing_is_told_by_check(spawnpost: Spawnpost, shelf: Path) -> None:
    rates(shelf, "loss_per_day,tub,0.02,1/d,2026-11-01,learned,9,")
    found = done(spawnpost("check", "--json")).facts
    assert found["problems"] == []
    assert any("'tub' has no loss_per_day" in notice["text"] for notice in found["notices"])


def test_learn_shows_next_weeks_margins_and_draws_promised_and_held(
    spawnpost: Spawnpost, tmp_path: Path
) -> None:
    short_parcel(spawnpost)
    picture = tmp_path / "held.svg"
    found = done(spawnpost("learn", "--plot", picture, "--json", today="2026-12-02")).facts
    assert {margin["on"] for margin in found["next_margins"]} == {"2026-12-07"}
    assert {"pack_before", "pack_after", "packing", "service", "to"} <= set(found["next_margins"][0])
    assert found["score"]["all"]["n"] == 2
    assert "1 of 2" in picture.read_text(encoding="utf-8")
    told = done(spawnpost("learn", "--score", today="2026-12-02")).out
    assert "courier next day to Denmark: " in told
    assert "Enough alive in 1 line of 2, where " in told
    assert "chances missed" not in told, "a measure for machines stands in --json"
    assert "by species:" in done(spawnpost("learn", "--plot", "-", today="2026-12-02")).out
    first = done(spawnpost("learn", today="2026-12-02")).out
    assert (
        first.index("Eggs to pack for") < first.index("Lines told of") < first.index("spawnpost learn --all")
    )
    every = done(spawnpost("learn", "--all", today="2026-12-02")).out
    assert len(first.splitlines()) < 12 < len(every.splitlines())
    assert "kappa" not in every
    assert "Lost by packing and unpacking, tube" in every
    refused(spawnpost("learn", "--plot", "held.png", today="2026-12-02"), "neither .svg nor .pdf")


# --- names


@pytest.fixture
def sent_again(spawnpost: Spawnpost) -> None:
    """A claim settled by eggs owed again, with a buyer's name in its note."""
    short_parcel(spawnpost, first=20, second=10)
    words = ("claim", FIRST, "--settle", "send again", "--note", "Søren Eksempel wrote")
    done(spawnpost(*words, today="2026-12-01"))


@every(
    "words",
    [
        ("plan",),
        ("plan", "--compare"),
        ("why", "D09"),
        ("why", "D02-2-again"),
        ("history",),
        ("claim",),
        ("learn", "--score"),
        ("check", "--ledger"),
        ("forecast",),
        ("rules",),
        ("papers", "--only", "pick-list"),
    ],
)
@every("form", [(), ("--json",)])
@pytest.mark.usefixtures("sent_again")
def test_with_hidden_names_no_command_says_one(
    spawnpost: Spawnpost, shelf: Path, words: tuple[str, ...], form: tuple[str, ...]
) -> None:
    with (shelf / "orders.csv").open(encoding="utf-8-sig", newline="") as file:
        names = {row["addressee"] for row in csv.DictReader(file)}
    told = done(spawnpost("--hide-names", *form, *words, today="2026-12-01")).out
    assert [name for name in sorted(names) if name in told] == []


def test_a_refund_beyond_the_lines_price_and_postage_and_a_lateness_that_is_none_are_asked_about(
    spawnpost: Spawnpost,
) -> None:
    """More is recorded with a note only; what the line and its postage cost may be given back unasked."""
    for step in ("pack", "send"):
        done(spawnpost(step, FIRST))
    much = ("claim", FIRST, "--line", "D02:1", "--about", "late", "--settle", "refund", "--amount", "999")
    refused(
        spawnpost(*much), "Given back are 999.00 EUR, and the line cost 14.00. Look at the amount; if it is"
    )
    late = done(spawnpost(*much, "--note", "a gift"))
    told = " ".join(late.out.split())
    assert "Given back are 999.00 EUR, and the line cost 14.00." in told
    assert "Called late, but it may still come in time: until 2026-12-01. If it is a slip" in told
    done(spawnpost("undo"))
    paid = spawnpost("claim", FIRST, "--line", "D02:1", "--settle", "refund", "--amount", "29")
    assert "Given back are" not in done(paid).out
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=20", today="2026-12-01"))
    came = done(spawnpost("claim", FIRST, "--json", today="2026-12-09")).facts["cases"][0]
    assert came["doubts"] == ["Called late, but it came on 2026-12-01, in time: until 2026-12-01."]

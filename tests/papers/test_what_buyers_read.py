"""What a buyer is told: days that lie ahead when the parcel comes, no word that is the breeder's own, and
every
kind of packing on every paper.
"""

from __future__ import annotations

import itertools
import random
import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from shipping.papers.documents.care_sheet import care_sheet
from shipping.papers.documents.contents import PaperInputs, dates_for_buyer, units_of
from shipping.papers.documents.labels import tag_lines
from shipping.papers.documents.notices import notices
from shipping.papers.documents.slip import slip
from shipping.papers.page.fonts import UNPRINTED
from shipping.papers.wording.phrases import Wording
from shipping.papers.writing import KINDS, write_papers
from shipping.tables.rows.orders import orders_from_rows
from shipping.tables.rows.packings import PACKING_KINDS
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, Parcel, Plan, Wetting
from shipping.words.reasons import Reason, Verdict
from shipping.words.sentence import LANGUAGES
from shipping.words.three_point import Dates
from tests.papers import sample
from tests.papers.reading import mail_text, story_words, words_of

_DAY = re.compile(r"\b(\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec))(?: (\d{4}))?\b")


def with_days(draw: Draw, days: Dates) -> Draw:
    """The draw with days to hatch, or from and until when to wet it."""
    if draw.wet is not None:
        return replace(draw, wet=Wetting(days.p05, days.p95))
    return replace(draw, hatch_at_buyer=days)


def generated_parcel(chance: random.Random) -> Parcel:
    """A parcel of the sample week with days drawn by lot: lots that hatch long before it comes, or long
    after.
    """
    model = chance.choice(sample.PARCELS)
    arrive = [sample.MONDAY + timedelta(days=chance.randint(0, 20)) for _ in range(3)]
    lines = []
    for line in model.lines:
        hatch = [sample.MONDAY + timedelta(days=chance.randint(-30, 60)) for _ in range(3)]
        known = Dates(*sorted(hatch)) if chance.random() < 0.9 else Dates(None, None, None)
        lines.append(replace(line, draws=tuple(with_days(draw, known) for draw in line.draws)))
    return replace(model, arrive=Dates(*sorted(arrive)), lines=tuple(lines), language="en")


def days_in(said: str) -> list[date]:
    """Every day that English words name; one without a year is in the half year before or after the week."""
    found = []
    for words, year in _DAY.findall(said):
        near = (
            int(year) if year else 2026 if words[-3:] in ("Jul", "Aug", "Sep", "Oct", "Nov", "Dec") else 2027
        )
        found.append(datetime.strptime(f"{words} {near}", "%d %b %Y").date())
    return found


@pytest.mark.parametrize("parcels", [120, pytest.param(500, marks=pytest.mark.slow)])
def test_every_day_on_which_a_buyer_acts_or_expects_something_is_on_or_after_the_first_arrival(
    inputs: PaperInputs, parcels: int
) -> None:
    """Parcels drawn by seed: care sheets, tags and the days behind the slip's timeline."""
    chance = random.Random(20261128)
    named = 0
    for _ in range(parcels):
        parcel = generated_parcel(chance)
        first = parcel.arrive.p05
        assert first is not None
        days = days_in(story_words(care_sheet(parcel, inputs).story))
        for unit in units_of(parcel, inputs.shelf):
            due = (
                said
                for said in tag_lines(parcel, unit, inputs.wording("en"))
                if said.startswith(("hatch ", "wet "))
            )
            days += days_in(" ".join(due))
            dates = dates_for_buyer(unit, parcel)
            days += [day for day in (dates.p05, dates.p50, dates.p95) if day]
        assert all(day >= first for day in days), parcel
        named += len(days)
    assert named > 6 * parcels


def marked(row: Any) -> Any:
    """The row with a marker in every text that is the breeder's own."""
    own = {
        name: f"{value}; MARKER-{name}".removeprefix("; ")
        for name, value in row
        if name in UNPRINTED and isinstance(value, str)
    }
    return row.model_copy(update=own)


def marked_week() -> tuple[Plan, Shelf]:
    orders = orders_from_rows(tuple(map(marked, sample.ORDER_ROWS)), has_paid_on=False)
    tables = {
        name: tuple(map(marked, getattr(sample.SHELF, name)))
        for name in ("lots", "packings", "boxes", "services")
    }
    species = {key: marked(row) for key, row in sample.SHELF.species.items()}
    return sample.PLAN, replace(sample.SHELF, orders=orders, species=species, **tables)


def test_no_text_of_a_private_column_stands_in_any_file(tmp_path: Path) -> None:
    plan, shelf = marked_week()
    assert "MARKER-note" in shelf.lots[0].note
    assert "MARKER-origin" in shelf.lots[0].origin
    assert "MARKER-note" in shelf.orders[0].lines[0].note
    write_papers(plan, shelf, tmp_path / "all", items=sample.ITEMS)
    write_papers(plan, shelf, tmp_path / "each", items=sample.ITEMS, only=KINDS)
    files = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert len(files) > 15
    for path in files:
        words = words_of(path) if path.suffix == ".pdf" else path.read_text(encoding="utf-8")
        assert "MARKER" not in words, path.name


def of_kinds() -> tuple[Plan, Shelf]:
    """The sample week with a parcel of each kind of packing."""
    packings, parcels = [], []
    for kind, parcel in zip(PACKING_KINDS, itertools.cycle(sample.PARCELS)):
        name = f"the {kind.key}"
        packings.append(sample.PACKINGS[0].model_copy(update={"packing": name, "kind": kind.word}))
        lines = tuple(
            replace(line, draws=tuple(replace(draw, packing=name) for draw in line.draws))
            for line in parcel.lines
        )
        parcels.append(replace(parcel, parcel=f"2026-W49-{len(parcels) + 1:02d}", lines=lines))
    return replace(sample.PLAN, parcels=tuple(parcels)), replace(sample.SHELF, packings=tuple(packings))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_kind_of_packing_is_on_every_paper_in_every_language(language: str, tmp_path: Path) -> None:
    plan, shelf = of_kinds()
    plan = replace(plan, parcels=tuple(replace(parcel, language=language) for parcel in plan.parcels))
    papers = shelf.settings.papers.model_copy(update={"languages": (language,)})
    shelf = replace(shelf, settings=shelf.settings.model_copy(update={"papers": papers}))
    written = write_papers(plan, shelf, tmp_path, only=KINDS)
    assert len(written) > 15
    wording = Wording(None, language)
    tags = words_of(tmp_path / "print" / "2026-W49-tags.pdf")
    pick = words_of(tmp_path / "print" / "2026-W49-pick-list.pdf").replace("\u00a0", " ")
    mails = " ".join(map(mail_text, (tmp_path / "mail").glob("*.eml")))
    for parcel, kind in zip(plan.parcels, PACKING_KINDS, strict=True):
        name, rule = wording.term(kind.key), wording.term(f"pick_{kind.key}")
        slip = words_of(tmp_path / "parcels" / f"{parcel.parcel}-slip.pdf")
        assert f"{wording.term('opening')} : {name}" in slip or f"{wording.term('opening')}: {name}" in slip
        assert parcel.parcel in mails
        assert name in tags
        assert " ".join(rule.split()) in pick


def test_the_buyer_of_what_may_still_go_this_week_gets_no_letter_that_it_waits() -> None:
    waits = sample.PLAN.lines_out[0]
    sooner = replace(waits, reasons=(Reason("sooner", "", {"week": sample.PLAN.week}), *waits.reasons))
    for out, letters in ((waits, 1), (sooner, 0)):
        inputs = PaperInputs(
            replace(sample.PLAN, lines_out=(out,)), sample.SHELF, {"en": Wording(None, "en")}, {}
        )
        assert len(notices(inputs, ())) == letters


def opened(inputs: PaperInputs, parcel: Parcel) -> str:
    return story_words(slip(parcel, inputs).story)


def test_the_bottle_in_the_box_is_said_once_to_be_no_water_for_eggs(inputs: PaperInputs) -> None:
    """A buyer who finds two litres of water beside the tube may take it for theirs."""
    bare, warmed = (replace(sample.PARCELS[1], language="en", bottle_ml=ml) for ml in (0.0, 2200.0))
    assert len(warmed.lines) > 1
    words = "its water is not for the eggs"
    assert (opened(inputs, bare).count(words), opened(inputs, warmed).count(words)) == (0, 1)


def in_tubes(*stages: str) -> Parcel:
    """A parcel with a tube of eggs of each stage."""
    tube = sample.PARCELS[0]
    (line,) = tube.lines
    draws = tuple(replace(line.draws[0], stage=stage) for stage in stages)
    return replace(tube, language="en", lines=(replace(line, draws=draws),))


def test_good_eggs_have_two_dark_eyes_only_where_every_unit_of_the_panel_shows_them(
    inputs: PaperInputs,
) -> None:
    """Of eggs that were sent before they show eyes, a buyer would otherwise throw out the good ones."""
    said = [opened(inputs, in_tubes(*stages)) for stages in (("eyed",), ("eyed", "fertile"))]
    assert ["two dark eyes" in words for words in said] == [True, False]


def test_what_to_do_first_stands_in_the_order_of_the_units(inputs: PaperInputs) -> None:
    lines = [replace(parcel.lines[0], line=n) for n, parcel in enumerate(reversed(sample.PARCELS), start=1)]
    mixed = replace(sample.PARCELS[0], language="en", lines=tuple(lines))
    numbers = re.findall(r"On opening: .*? \(No\. (\d+)", opened(inputs, mixed))
    assert len(numbers) == 3
    assert numbers == sorted(numbers, key=int)


def test_days_of_lots_that_are_kept_at_several_warmths_say_which_fish_at_which(inputs: PaperInputs) -> None:
    two = opened(inputs, replace(sample.PARCELS[1], language="en"))
    assert "kept at 21 °C (Aphanius mento), 23 °C (Fundulopanchax gardneri) until they hatch" in two
    assert "kept at 23 °C until they hatch." in opened(inputs, replace(sample.PARCELS[0], language="en"))


def test_only_a_part_of_an_order_that_cannot_go_is_called_a_part(inputs: PaperInputs) -> None:
    out = replace(next(line for line in sample.PLAN.lines_out if line.order == "1004"), verdict=Verdict.STOP)
    order = inputs.shelf.order_by_name[out.order]
    more = replace(order, lines=(*order.lines, replace(order.lines[0], number=len(order.lines) + 1)))
    subjects = []
    for one in (order, more):
        orders = tuple(one if each.order == one.order else each for each in inputs.shelf.orders)
        plan = replace(inputs.plan, lines_out=(out,))
        (letter,) = notices(replace(inputs, shelf=replace(inputs.shelf, orders=orders), plan=plan), ())
        subjects.append(letter.subject)
    whole = "commande 1004 ne peut pas être envoyée"
    assert subjects == [f"Votre {whole}", f"Une partie de votre {whole}"]


def test_who_gets_several_fish_is_told_to_open_them_one_by_one(
    inputs: PaperInputs,
) -> None:
    one, several, _ = (replace(parcel, language="en") for parcel in sample.PARCELS)
    told = "never pour two together"
    assert story_words(slip(several, inputs).story).count(told) == 1
    assert told not in story_words(slip(one, inputs).story)


def test_two_populations_of_a_fish_are_two_dishes_and_have_chances_of_pairs_each(inputs: PaperInputs) -> None:
    """They are never bred together, so that eggs of one make no pair with those of the other."""
    parcel, shelf = replace(sample.PARCELS[0], language="en"), inputs.shelf
    lot = shelf.lots[0].model_copy(update={"lot": "GAR-12", "population": "Nsukka"})
    (line,) = parcel.lines
    draw = line.draws[0]
    of_each = (replace(draw, units=1, pack=24), replace(draw, lot="GAR-12", units=1, pack=23))
    parcel = replace(parcel, lines=(replace(line, draws=of_each),))
    own = replace(inputs, shelf=replace(shelf, lots=(*shelf.lots, lot)))
    care = story_words(care_sheet(parcel, own).story)
    assert "Pairs (Akure). From 24 eggs" in care
    assert "Pairs (Nsukka). From 23 eggs" in care
    assert "never pour two together" in story_words(slip(parcel, own).story)
    (letter,) = notices(own, [parcel], with_lines_out=False)
    assert "a shallow dish with a lid for each fish and each population" in letter.text


def test_a_letter_names_the_order_its_count_and_what_goes_in_its_place(inputs: PaperInputs) -> None:
    parcel = replace(sample.PARCELS[0], language="en")
    line = replace(parcel.lines[0], instead_of="mento/Nsukka")
    (letter,) = notices(inputs, [replace(parcel, lines=(line,))], with_lines_out=False)
    assert "2026-W49-01 (order 1001)" in letter.text
    said = "47 eggs of Fundulopanchax gardneri (Akure), ordered: 40"
    assert f"{said}. In place of Aphanius mento (Nsukka), as you agreed" in letter.text
    slips = story_words(slip(replace(parcel, lines=(line,)), inputs).story)
    assert "In place of Aphanius mento (Nsukka), as you agreed" in slips


def test_a_letter_says_what_must_be_in_the_house_before_the_first_hatch(inputs: PaperInputs) -> None:
    gardneri, with_mento, _ = (replace(parcel, language="en") for parcel in sample.PARCELS)
    coarse, fine = (letter.text for letter in notices(inputs, [gardneri, with_mento], with_lines_out=False))
    assert "brine-shrimp eggs" in coarse
    assert "infusoria" not in coarse
    assert "and a culture of infusoria" in fine


def test_who_is_written_to_abroad_is_asked_to_answer_customs_at_once(
    inputs: PaperInputs,
) -> None:
    swiss, german, _ = (replace(parcel, language="en") for parcel in sample.PARCELS)
    abroad, inside = (letter.text for letter in notices(inputs, [swiss, german], with_lines_out=False))
    assert "Please answer the same day; the eggs are alive." in abroad
    assert "customs" not in inside


def test_the_earliest_day_is_not_named_beside_the_usual_one_where_it_is_that_day(inputs: PaperInputs) -> None:
    parcel = replace(sample.PARCELS[0], language="en")
    same = replace(parcel, arrive=replace(parcel.arrive, p05=parcel.arrive.p50))
    for going, is_told in ((parcel, True), (same, False)):
        (letter,) = notices(inputs, [going], with_lines_out=False)
        assert ("at the earliest" in letter.text) is is_told


@pytest.mark.parametrize(("incubation", "stays"), [("damp", True), ("water", False)])
def test_only_eggs_of_annual_fish_are_not_to_be_wetted_on_arrival(
    inputs: PaperInputs, incubation: str, stays: bool
) -> None:
    fish = inputs.shelf.species["guentheri"].model_copy(update={"incubation": incubation})
    shelf = replace(inputs.shelf, species={**inputs.shelf.species, "guentheri": fish})
    damp = replace(sample.PARCELS[2], language="en")
    (letter,) = notices(replace(inputs, shelf=shelf), [damp], with_lines_out=False)
    assert ("Do not wet Nothobranchius guentheri" in letter.text) is stays
    assert ("a shallow dish with a lid" in letter.text) is not stays


def test_a_line_packed_short_is_promised_no_count_that_it_cannot_keep(inputs: PaperInputs) -> None:
    parcel = sample.PARCELS[0]
    line = parcel.lines[0]
    for pack, is_short in ((line.ordered - 2, True), (line.ordered, False)):
        draws = (replace(line.draws[0], pack=pack), *line.draws[1:])
        lines = (replace(line, pack=pack, p_enough=0.0, draws=draws), *parcel.lines[1:])
        said = opened(inputs, replace(parcel, language="en", lines=lines))
        assert (f"fewer than the {line.ordered} ordered" in said) == is_short
        assert (f"at least {line.ordered} arrive alive" in said) != is_short


def test_who_may_wet_damp_eggs_at_once_is_told_to_have_a_dish_ready(inputs: PaperInputs) -> None:
    damp = replace(sample.PARCELS[2], language="en")
    there = damp.arrive.p50
    assert there is not None
    draw = replace(damp.lines[0].draws[0], wet=Wetting(there, sample.WET_GUENTHERI.p95))
    ripe = replace(damp, lines=(replace(damp.lines[0], draws=(draw,)),))
    for parcel, is_told in ((damp, False), (ripe, True)):
        (letter,) = notices(inputs, [parcel], with_lines_out=False)
        assert ("a shallow dish with a lid" in letter.text) is is_told

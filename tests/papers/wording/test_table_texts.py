"""What the tables say in English is printed in the page's language; the breeder's own words are printed as
typed, and marked.
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from shipping.papers.documents.contents import PaperInputs, own_words
from shipping.papers.documents.pick_list import week_sheet
from shipping.papers.documents.slip import holiday_words, policy_words
from shipping.papers.wording.phrases import Wording, cause, shown, to_buyer
from shipping.papers.writing import write_papers
from shipping.post.transit import Holiday
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.objective import default_week
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.reasons import Reason, decisive
from shipping.words.sentence import LANGUAGES
from shipping.words.units import shipped_folder
from tests.papers import sample
from tests.papers.reading import mail_text, story_words, words_of

OTHERS = [language for language in LANGUAGES if language != "en"]
#: English words that none of the other three languages has.
ENGLISH = re.compile(
    r"\b(the|and|with|of|is|are|assumed|eggs|by|fish|days|common practice|memory|soft|hard|slow|study|heat"
    r" pack|keep|water)\b",
    re.I,
)


def desk_in(own_language: str, shelf_folder: Path | None = None) -> PaperInputs:
    papers = sample.SHELF.settings.papers.model_copy(update={"languages": (own_language,)})
    shelf = replace(sample.SHELF, settings=sample.SHELF.settings.model_copy(update={"papers": papers}))
    return PaperInputs(
        sample.PLAN, shelf, {language: Wording(shelf_folder, language) for language in LANGUAGES}, {}
    )


def shipped_rows() -> list[dict[str, str]]:
    rows: list[dict[str, str]] = []
    for folder, name in (("templates", "starter/species.csv"), ("demo_orders", "species.csv")):
        text = (shipped_folder(folder) / name).read_text(encoding="utf-8")
        rows += csv.DictReader(text.splitlines())
    return rows


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_of_our_species_tables_is_translated(language: str) -> None:
    inputs, wording = desk_in("en"), Wording(None, language)
    mark = wording.term("own_words")
    for row in shipped_rows():
        for column in ("cue", "first_food", "water_note", "common_name"):
            assert not row[column] or wording.said(row[column]), f"{row['species']}: {column}: {row[column]}"
            assert mark not in own_words(row[column], inputs, wording), row["species"]


@pytest.mark.parametrize("language", OTHERS)
def test_what_our_rules_name_is_told_in_the_language_and_a_breeders_own_as_typed(language: str) -> None:
    wording = Wording(None, language)
    rows: list[dict[str, str]] = []
    for folder, name in (("templates", "starter/rules.csv"), ("demo_orders", "rules.csv")):
        rows += csv.DictReader((shipped_folder(folder) / name).read_text(encoding="utf-8").splitlines())
    papers = {paper for row in rows for paper in row["papers"].split(";") if paper}
    assert {paper for paper in papers if not wording.said(paper)} == set()
    lacking = Reason("papers", "", {"to": "GB", "missing": ["health certificate", "a stamp"], "papers": []})
    said = wording.said("health certificate")
    assert f"{said} (health certificate); a stamp" in cause(lacking, wording), "the order is to hold its name"
    assert f"{said}; a stamp" in to_buyer(lacking, wording)
    between = "\u00a0; " if language == "fr" else "; "
    asked = "Directive 92/43/EEC (habitats) annex II; my own vet"
    told = between.join((wording.said(asked.split("; ")[0]) or "", "my own vet"))
    assert wording.parts_said(asked) == shown({"source": asked}, wording)["source"] == told


def test_a_text_of_the_tables_is_translated_whole_and_just_as_it_stands() -> None:
    german = Wording(None, "de")
    assert german.said("hatches 20-40 minutes after wetting") == "schlüpft 20–40 Minuten nach dem Aufgießen"
    assert german.said("hatches 20-45 minutes after wetting") is None
    assert Wording(None, "es").said("brackish, 15-30 g/l") == "salobre, 15–30\u00a0g/l"


@pytest.mark.parametrize("language", OTHERS)
def test_words_the_breeder_typed_are_printed_as_typed_and_marked_in_another_language(language: str) -> None:
    wording = Wording(None, language)
    typed = "rainwater with a leaf of oak"
    assert own_words(typed, desk_in("en"), wording) == f"{typed} ({wording.term('own_words')})"
    assert own_words(typed, desk_in(language), wording) == typed


def test_our_english_texts_are_not_marked_as_the_breeders_on_an_english_page() -> None:
    assert own_words("soft to medium", desk_in("de"), Wording(None, "en")) == "soft to medium"
    assert own_words("weich", desk_in("de"), Wording(None, "en")) == "weich (the seller's own words)"


def test_policies_as_typed_are_marked_once() -> None:
    claims = sample.SHELF.settings.claims
    said = policy_words((claims.short_policy, claims.hatched_policy), desk_in("en"), Wording(None, "de"))
    assert said.startswith("Missing eggs are sent again")
    assert said.count("Wortlaut des Absenders") == 1
    assert policy_words(("", ""), desk_in("en"), Wording(None, "de")) == ""


def test_the_breeder_translates_his_own_sentences_in_a_copy(tmp_path: Path) -> None:
    folder = tmp_path / "templates" / "wording" / "de"
    folder.mkdir(parents=True)
    (folder / "sentences.md").write_text(
        "> Fry that arrive alive count as eggs.\nLebende Jungfische zählen als Eier.\n"
    )
    inputs = desk_in("en", tmp_path)
    assert (
        policy_words(("Fry that arrive alive count as eggs.",), inputs, inputs.wording("de"))
        == "Lebende Jungfische zählen als Eier."
    )
    assert inputs.wording("de").said("hard") == "hart"


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", "25 Dec is Christmas Day in the United Kingdom: no delivery that day."),
        (
            "de",
            (
                "25. Dezember, ist Feiertag (Vereinigtes Königreich: der erste Weihnachtstag): Es"
                " wird nicht zugestellt."
            ),
        ),
        (
            "fr",
            ("Le 25 décembre est un jour férié (Noël), Royaume-Uni\u00a0: pas de distribution ce jour-là."),
        ),
        ("es", "El 25 de diciembre es festivo (Navidad), Reino Unido: ese día no hay reparto."),
    ],
)
def test_a_holiday_is_named_in_the_language_of_the_slip(language: str, words: str) -> None:
    holiday = Holiday(date(2026, 12, 25), "Christmas Day", "GB")
    assert holiday_words([holiday], Wording(None, language)) == words


def test_a_holiday_whose_name_is_not_translated_is_said_without_it() -> None:
    holiday = Holiday(date(2026, 7, 3), "Day of the Invented Loch", "GB")
    assert "Loch" not in holiday_words([holiday], Wording(None, "de"))
    assert "3. Juli" in holiday_words([holiday], Wording(None, "de"))


@pytest.fixture(scope="module")
def demo_week() -> tuple[Plan, Shelf]:
    folder = shipped_folder("demo_orders")
    shelf = read_shelf(folder, date(2026, 11, 30)).shelf
    assert shelf is not None
    return make_plan(shelf, default_week(shelf)), shelf


@pytest.mark.parametrize(
    "language", ["de", *(pytest.param(one, marks=pytest.mark.slow) for one in OTHERS if one != "de")]
)
def test_no_english_is_left_on_the_demo_weeks_papers_in_another_language(
    language: str, demo_week: tuple[Plan, Shelf], tmp_path: Path
) -> None:
    """The breeder writes in that language too, but has left our tables as they are; names of services and
    boxes are his.
    """
    plan, shelf = demo_week
    papers = shelf.settings.papers.model_copy(update={"languages": (language,)})
    orders = tuple(replace(order, language=language) for order in shelf.orders)
    shelf = replace(shelf, settings=shelf.settings.model_copy(update={"papers": papers}), orders=orders)
    plan = replace(plan, parcels=tuple(replace(parcel, language=language) for parcel in plan.parcels))
    write_papers(plan, shelf, tmp_path, only=("slip", "care", "tags", "pick-list", "notice"))
    names = re.compile(
        "|".join(
            re.escape(name) for name in sorted({*shelf.box_by_name, *shelf.packing_by_name}, reverse=True)
        )
    )
    for path in sorted(tmp_path.glob("*/*")):
        words = words_of(path) if path.suffix == ".pdf" else mail_text(path)
        assert ENGLISH.findall(names.sub("", words)) == [], path.name


@pytest.mark.parametrize("language", OTHERS)
def test_the_week_sheet_says_why_a_line_stays_in_the_breeders_language(language: str) -> None:
    text = story_words(week_sheet(sample.PARCELS, desk_in(language)).story)
    wording = Wording(None, language)
    for out in sample.PLAN.lines_out:
        assert cause(decisive(out.verdict, out.reasons), wording).replace("\u00a0", " ") in text
    assert "eyes by" not in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_notes_at_the_bench_speak_of_tubes_and_bags_and_cite_nothing(language: str) -> None:
    """Wet hands read how often air swells at cabin pressure, and a journal cited from memory."""
    folder = shipped_folder("templates") / "wording" / language
    notes = (folder / "bench-notes.md").read_text(encoding="utf-8")
    noise = ("times }}", "Aquaculture", "2,438", "2.438", "2\u00a0438", "2 438", "the unit")
    assert [word for word in noise if word in notes] == []
    terms = (folder / "terms.md").read_text(encoding="utf-8")
    asked = next(line for line in terms.splitlines() if line.startswith("- pick_box_too_small"))
    assert not re.search(r"units,|Stück,|unités,|piezas,", asked)


def test_words_that_no_breeder_has_to_know_are_said_in_the_readme() -> None:
    """He met them in tables, in commands and on papers, and none was explained."""
    readme = (shipped_folder("templates").parent / "README.md").read_text(encoding="utf-8")
    rows = [line.partition("|")[2].partition("|")[0] for line in readme.splitlines() if line.startswith("| ")]
    words = ("unit", "share", "ceiling", "kappa", "C-d", "ledger", "meant", "[reading]", "SDR")
    assert [word for word in words if not any(word in row for row in rows)] == []
    hints = (shipped_folder("templates") / "starter" / "hints.csv").read_text(encoding="utf-8")
    assert [line for line in hints.splitlines() if re.search(r"\bunits?\b", line)] == []


@pytest.mark.parametrize(
    ("language", "over"),
    [("en", "a little over"), ("de", "etwas über"), ("es", "algo más"), ("fr", "un peu plus")],
)
def test_a_share_that_reads_like_its_limit_is_said_to_be_over_it(language: str, over: str) -> None:
    """5.02 % and 5 % are both written 5.0 %: it read as if a lot were stopped by what it may."""
    facts = {"lot": "A2", "packing": "tube", "hatch_ceiling": 0.05, "on": "2026-12-07"}
    near, far = (
        cause(Reason("would-hatch", "", {**facts, "h_per_egg": share}), Wording(None, language))
        for share in (0.0502, 0.062)
    )
    assert near.startswith(over)
    assert over not in far

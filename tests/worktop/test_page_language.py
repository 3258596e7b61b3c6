"""The page in four languages: every text has its words in each, with its fields, and no screen keeps
English.
"""

from __future__ import annotations

import csv
import html
import re
from pathlib import Path

import pytest
from jinja2.meta import find_undeclared_variables

from shipping.ledger.ledger import Ledger
from shipping.papers.wording.language import clean
from shipping.papers.wording.phrases import Wording
from shipping.tables.reader import read_shelf
from shipping.words.sentence import LANGUAGES, say
from shipping.words.units import shipped_folder
from shipping.worktop.app import _HERE
from shipping.worktop.page_language import (
    shown,
    speak,
    speaking,
    texts_in,
    texts_of,
    texts_of_file,
    tr,
    translated,
)
from shipping.worktop.views.record import _named_rate
from tests.worktop.conftest import FIRST, TODAY, Desk, said
from tests.worktop.page_texts import every_text

OTHERS = [language for language in LANGUAGES if language != "en"]
_FIELD = re.compile(r"\{([a-z_]*)\}")
#: Words of English that none of the other languages and no name of the demo has.
_ENGLISH = re.compile(
    r"\b((?i:the|of|is|are|not|and|with|for|from|this|that|eggs|parcel|write|day)|it|be|by)\b"
)
#: What of a page is the breeder's own, or a name that tables and commands have.
_OWN = re.compile(
    r"[a-z_]+\.(csv|toml)|spawnpost [a-z -]*[0-9.]*|tracked parcel|quick letter|courier next day|to"
    r"|Isle of Man"
)

#: Screens that need no plan of the week.
SCREENS = (
    *(
        "/",
        "/packing",
        "/arrivals",
        "/arrivals/lost",
        "/tables/lots",
        "/tables/lots/2",
        "/lots",
        "/rules",
        "/tables",
        "/claims",
    ),
    *("/copy", "/history", "/setup", "/sheets", "/buy", "/tablet", "/orders/D25/region", "/nothing"),
)


def catalogue(language: str, name: str) -> Path:
    return shipped_folder("templates") / "wording" / language / f"{name}.md"


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_of_the_page_has_its_words_and_its_fields(language: str) -> None:
    texts = texts_in(language)
    lacking = [f"{place}: {text}" for text, place in every_text().items() if clean(text) not in texts]
    assert lacking == []
    for text, words in texts.items():
        if "{{" not in text and "[reading]: meant" not in text:  # the page has a button for that line
            plain = words.replace(":de}", "}")  # the French word for of, which the value brings
            assert set(_FIELD.findall(plain)) == set(_FIELD.findall(text)), text


@pytest.mark.parametrize("language", OTHERS)
def test_the_catalogue_holds_nothing_that_the_page_does_not_say(language: str) -> None:
    said = {clean(text) for text in every_text()}
    assert [text for text in texts_of_file(catalogue(language, "page"), language) if text not in said] == []


#: Words behind which the name of a country may want an article; of Spanish none does.
_WANTS_ARTICLE = {"de": "nach|in|von|für|aus", "fr": "vers|en|à|pour|dans|de"}


@pytest.mark.parametrize("language", _WANTS_ARTICLE)
@pytest.mark.parametrize("name", ["page", "bench-reasons", "bench-notes", "terms"])
def test_the_name_of_a_country_stands_where_it_needs_no_article(language: str, name: str) -> None:
    fields = "country|home|to" if name == "page" else "to|place"
    words = catalogue(language, name).read_text(encoding="utf-8")
    own = "\n".join(line for line in words.splitlines() if not line.startswith("> "))
    country = rf"\{{+ ?(?:{fields})\b"
    assert re.search(country, own)
    assert re.findall(rf"\b(?:{_WANTS_ARTICLE[language]}) {country}|{country}:de", own) == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translated_template_is_one_and_asks_for_no_other_facts(language: str, desk: Desk) -> None:
    environment = desk.app.jinja_env
    for path in sorted((_HERE / "pages").glob("*.html")):
        source = path.read_text(encoding="utf-8")
        found = environment.parse(translated(source, texts_in(language)))
        wanted = find_undeclared_variables(environment.parse(source))
        assert find_undeclared_variables(found) <= wanted, path.name


def test_texts_are_told_from_tags_fields_and_statements() -> None:
    source = (
        '<p class="a{% if n > 1 %} b{% endif %}">Pack {{ n }} <b aria-label="How many">{{ n|f }}</b>'
        "{% if n %}, then go{% endif %}</p>"
    )
    assert list(texts_of(source)) == ["Pack {{ n }}", "How many", ", then go"]
    texts = {"Pack {{ n }}": "{{ n }} packen", "How many": "Wie viele", ", then go": ", dann los"}
    assert translated(source, texts) == (
        '<p class="a{% if n > 1 %} b{% endif %}">{{ n }} packen <b aria-label="Wie viele">{{ n|f }}</b>'
        "{% if n %}, dann los{% endif %}</p>"
    )


def spoken_in(shelf: Path, language: str) -> Desk:
    settings = shelf / "shelf.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace('languages = ["en"]', f'languages = ["{language}"]'), encoding="utf-8")
    return Desk(shelf)


def test_spanish_has_one_word_for_a_rule_and_one_for_a_heat_pack() -> None:
    folder = shipped_folder("templates") / "wording" / "es"
    words = "\n".join(path.read_text(encoding="utf-8") for path in folder.glob("*.md"))
    assert re.findall(r"\breglas?\b(?! del oficio)|[Bb]olsas? térmicas?", words) == []


def test_french_has_one_word_for_to_wet_eggs() -> None:
    folder = shipped_folder("templates") / "wording" / "fr"
    words = "\n".join(path.read_text(encoding="utf-8") for path in folder.glob("*.md"))
    assert re.findall(r"(?i)\w*mouill\w*", words) == []


@pytest.mark.parametrize(
    ("language", "told"), [("fr", "Le lun. 30 nov est plein"), ("es", "El lun 30 nov está")]
)
def test_a_day_that_begins_a_sentence_has_its_article(language: str, told: str, shelf: Path) -> None:
    page = spoken_in(shelf, language).text("/ask?lot=FL-31&to=DE").replace("\u00a0", " ")
    assert told in page


def test_french_writes_the_first_of_a_month_and_semicolons_its_own_way(shelf: Path) -> None:
    desk = spoken_in(shelf, "fr")
    week = desk.text("/week").replace("\u00a0", " ")
    assert "mardi 1er décembre 6 colis, 187 œufs ; " in week
    offered = desk.text("/offer").replace("\u00a0", " ")
    assert " ; environ " in offered
    assert "; environ " not in offered.replace(" ; ", "")


def test_french_has_a_space_before_every_colon_and_parcels_that_are_many(shelf: Path) -> None:
    with Ledger.open(shelf, TODAY) as ledger:
        for name in ("2026-W49-01", "2026-W49-02", "2026-W49-06"):
            ledger.pack(name)
        ledger.send("2026-W49-02")
        ledger.send("2026-W49-06")
    desk = spoken_in(shelf, "fr")
    for path in ("/", "/week", "/lots", "/rules", "/history", "/tables/packings"):
        assert re.findall(r"\b(?!answer|writing)\w+: .{20}", desk.text(path)) == [], path
    assert "1 à envoyer ; 2 envoyés" in desk.text("/week").replace("\u00a0", " ")


@pytest.mark.parametrize("language", OTHERS)
def test_a_next_step_names_a_table_as_the_page_does(language: str) -> None:
    file = shipped_folder("templates") / "wording" / language / "next-steps.md"
    said_there = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", file.read_text(encoding="utf-8"))
    assert re.findall(r"\b(?:weather|packings|boxes|papers(?= of| du| de | der))\b", said_there) == []


def test_no_egg_that_is_reckoned_to_hatch_is_told_as_none(shelf: Path) -> None:
    asked = spoken_in(shelf, "de").text("/ask?lot=KO-11&to=NL").replace("\u00a0", " ")
    assert "Schlupf unterwegs: keiner gerechnet" in asked


def test_a_lots_warmth_is_written_as_the_language_writes_numbers(shelf: Path) -> None:
    lots = shelf / "lots.csv"
    rows = lots.read_text(encoding="utf-8")
    assert ",water,23,80," in rows
    lots.write_text(rows.replace(",water,23,80,", ",water,23.5,80,"), encoding="utf-8")
    assert "bei 23,5 °C" in spoken_in(shelf, "de").text("/lots").replace("\u00a0", " ")


def test_money_is_written_as_the_language_writes_numbers(shelf: Path) -> None:
    desk = spoken_in(shelf, "de")
    assert "Porto 30,00 EUR" in desk.text("/parcels/2026-W49-07/move").replace("\u00a0", " ")
    assert re.findall(r"\d\.\d\d EUR", desk.text("/ask?lot=FL-31&to=DE").replace("\u00a0", " ")) == []


@pytest.mark.parametrize("language", ["fr", "es"])
def test_by_a_day_is_on_it_or_before_never_before_it(language: str) -> None:
    texts = texts_of_file(shipped_folder("templates") / "wording" / language / "page.md", language)
    by = {
        text: words
        for text, words in texts.items()
        if re.search(r"\bby \{+ ?[\w.\[\]]*(day|late|half|p95|\|day)", text)
    }
    assert len(by) > 6
    assert {text for text, words in by.items() if re.search(r"\bavant\b|\bantes de", words)} == set()


def test_in_german_a_parcel_that_is_dropped_is_not_said_to_be_posted() -> None:
    """Who gives up a parcel at a German counter, posts it."""
    folder = shipped_folder("templates") / "wording" / "de"
    words = "\n".join(path.read_text(encoding="utf-8") for path in folder.glob("*.md"))
    assert re.findall(r"Paket(?: \S+)* aufgeben|; aufgeben|Paket (?:\S+ )*freigeben", words) == []


def texts_shown(page: str) -> list[str]:
    page = re.sub(r"<(script|style|textarea)\b.*?</\1>", "", page, flags=re.DOTALL)
    shown = re.findall(r'(?:placeholder|aria-label|alt)="([^"]*)"', page) + re.split(r"<[^>]*>", page)
    return [" ".join(html.unescape(text).split()) for text in shown if text.strip()]


def left_in_english(page: str, shelf: Path) -> list[str]:
    """Texts of a page that have words of English, what the shelf's own tables say left out."""
    tables = [path.read_text(encoding="utf-8-sig").splitlines() for path in shelf.glob("*.csv")]
    own = {cell for table in tables for row in csv.reader(table) for cell in row}
    longest_first = sorted({cell for cell in own if len(cell) > 3} | {str(shelf)}, key=len, reverse=True)
    left = []
    for text in texts_shown(re.sub("</?bdi>", "", page)):
        rest = text
        for cell in longest_first:
            rest = rest.replace(cell.rstrip("."), "")
        if _ENGLISH.search(_OWN.sub("", rest)):
            left.append(text)
    return left


@pytest.mark.parametrize("language", OTHERS)
def test_no_text_of_a_screen_is_left_in_english(language: str, shelf: Path) -> None:
    desk = spoken_in(shelf, language)
    for path in SCREENS:
        page = desk.get(path)
        assert f'<html lang="{language}">' in page.text
        assert left_in_english(page.text, shelf) == [], path


@pytest.mark.parametrize("language", OTHERS)
def test_the_drawn_pictures_speak_the_language_of_the_page(language: str, shelf: Path) -> None:
    desk = spoken_in(shelf, language)
    names = {
        "de": ("Ansätze am", "Ansatz FL-31"),
        "fr": ("Lots lun.", "Lot FL-31"),
        "es": ("Lotes lun", "Lote"),
    }
    for path, name in zip(("/lots.svg", "/ask.svg?lot=FL-31&to=DK"), names[language], strict=True):
        drawn = desk.get(path).text
        assert name in drawn
        assert left_in_english(drawn, shelf) == [], path


#: What a page is asked that it refuses: the address and the fields of a form.
REFUSED: tuple[tuple[str, dict[str, str]], ...] = (
    (f"/packing/{FIRST}/pack", {}),
    (f"/packing/{FIRST}/send", {"item": "XX"}),
    (f"/packing/{FIRST}/send", {"item": "RR473124828GB"}),
    ("/arrivals/2026-W49-02/end", {"how": "lost", "on": "2026-11-30"}),
    (f"/arrivals/{FIRST}", {"on": "2026-13-01", "a0": "1"}),
    ("/lots/FL-31/look", {"on": "2027-11-30", "alive": "3"}),
    ("/tables/lots/new", {"lot": "FL-31", "species": "nope", "eggs": "abc"}),
    ("/tables/lots/2", {"eggs": "2.5"}),
    ("/tables/rules/new", {"to": "Atlantis", "taxon": "*", "verdict": "maybe"}),
    ("/tables/services/new", {"service": "x", "to": "DK", "early_d": "9", "usual_d": "2", "late_d": "1"}),
    ("/setup", {"promise": "abc"}),
    ("/buy", {"lot": "N1"}),
    ("/buy", {"lot": "N1", "kept_at_c": "22", "laid_from": "2026-11-20", "sent": "10", "alive": "20"}),
    ("/operators/tracked%20parcel", {"answer": "yes"}),
    ("/rules/zz", {}),
)


@pytest.mark.parametrize("language", OTHERS)
def test_no_refusal_of_a_form_is_told_in_english(language: str, shelf: Path) -> None:
    desk = spoken_in(shelf, language)
    desk.pack(FIRST)
    for path, fields in REFUSED:
        answer = desk.post(path, **fields)
        assert answer.status_code >= 400, path
        assert left_in_english(re.sub(r"\beggs:|\bverdict:", "", answer.text), shelf) == [], path


@pytest.mark.slow
def test_the_offer_what_was_taught_and_a_plan_are_told_in_the_language_of_the_page(shelf: Path) -> None:
    desk = spoken_in(shelf, "de")
    published = desk.get("/offer.html").text
    assert '<html lang="de">' in published
    assert "Dänemark: bis zu " in published
    assert "abgeschickt vom Mi. 2. Dez" in published
    for path in ("/offer", "/offer.html", "/taught", "/week", "/plan", "/ask?lot=FL-31&to=US"):
        page = re.sub(r"<option.*?</option>|[Ff]ar parcel", "", desk.get(path).text)
        assert left_in_english(page, shelf) == [], path


def test_what_is_done_is_told_in_the_language_of_the_page(shelf: Path) -> None:
    desk = spoken_in(shelf, "de")
    answer = desk.pack(FIRST)
    assert said(answer) == "Paket 01: gepackt am Mo.\u00a030.\u00a0Nov: 23 aus FL-31, 18 aus ME-05."
    again = desk.post(f"/packing/{FIRST}/undo", entry="77")
    assert said(again) == "Nicht zurückgenommen: zu diesem Paket gibt es keinen solchen Eintrag."


def test_a_page_without_a_shelf_speaks_as_the_browser_asks(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    page = desk.client.get(
        "/first", base_url="http://127.0.0.1:8765", headers={"Accept-Language": "fr-CH, fr;q=0.9, en;q=0.5"}
    )
    assert '<html lang="fr">' in page.text
    assert "Créer le dossier" in page.text


def test_the_language_is_chosen_in_the_settings(desk: Desk) -> None:
    marks = {"token": desk.worktop.access.token}
    assert "The round" in desk.text("/")
    desk.post("/setup", marks, language="es", card=False)
    assert 'languages = ["es", "en"]' in (desk.folder / "shelf.toml").read_text(encoding="utf-8")
    assert "La ronda" in desk.text("/")


@pytest.mark.parametrize(
    ("language", "service", "said"),
    [
        ("fr", "express", "l'opérateur d'express n'a pas encore"),
        ("fr", "tracked parcel", "l'opérateur de tracked parcel n'a pas encore"),
        ("es", "express", "express"),
    ],
)
def test_behind_the_french_word_for_of_a_name_keeps_or_drops_its_vowel(
    language: str, service: str, said: str
) -> None:
    speak(language)
    try:
        told = tr(say("the operator of {service} has not said yes to live fish eggs.", service))
    finally:
        speak("en")
    assert said in told


def test_a_word_from_the_seller_is_of_the_seller() -> None:
    assert Wording(None, "fr").term("note", sender="Otto") == "Un mot d'Otto"
    assert Wording(None, "fr").term("note", sender="Karin") == "Un mot de Karin"


def test_stages_and_media_within_a_sentence_are_said_as_the_page_says_them() -> None:
    with speaking("es"):
        assert tr(say("seen {stage}", say("eyed"))) == "visto: se ven ojos"
        assert _named_rate("loss_handling", "bolsa/peat")["whose"] == "bolsa, turba"


def test_the_incubation_of_a_fish_is_told_in_the_language_of_the_page(shelf: Path) -> None:
    lots = (shelf / "lots.csv").read_text(encoding="utf-8")
    (shelf / "lots.csv").write_text(lots.replace(",water,", ",moss,", 1), encoding="utf-8")
    (unsuited,) = (one for one in read_shelf(shelf, TODAY).problems if "does not suit" in str(one.text))
    with speaking("fr"):
        assert str(shown(unsuited.text)).endswith("dont l'incubation est «\xa0eau\xa0».")
        assert str(shown(unsuited.mend)).startswith("Corrigez le milieu, ou écrivez «\xa0les deux\xa0» comme")

"""Wording: the four languages say the same things, the breeder's copy wins, and slips in it are told with
their place.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shipping.papers.page import fonts as faces
from shipping.papers.wording.markdown import blocks_of, html, plain_text
from shipping.papers.wording.phrases import (
    FIELDS,
    PHRASES,
    Wording,
    care_problems,
    is_one,
    next_step,
    note_text,
    phrases_of,
    wording_problems,
)
from shipping.papers.writing import write_papers
from shipping.tables.rows.packings import PACKING_KINDS
from shipping.words.problems import ShelfProblems
from shipping.words.reasons import CODES, Note, Reason, Verdict
from shipping.words.sentence import LANGUAGES
from shipping.words.units import shipped_folder
from tests.papers import sample

OURS = shipped_folder("templates") / "wording"
FIELD = re.compile(r"{{\s*([a-z_]+)")


def own(shelf: Path, name: str, text: str, language: str = "en") -> None:
    path = shelf / "templates" / "wording" / language / f"{name}.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_language_has_every_template_and_phrase_with_the_same_fields(language: str) -> None:
    page = set() if language == "en" else {"page"}
    own = {*FIELDS, *PHRASES, "sentences", "refusals", *page}
    assert {path.stem for path in (OURS / language).glob("*.md")} == own
    for name in PHRASES:
        english = phrases_of((OURS / "en" / f"{name}.md").read_text(encoding="utf-8"))
        theirs = phrases_of((OURS / language / f"{name}.md").read_text(encoding="utf-8"))
        assert list(theirs) == list(english) or set(theirs) == set(english)
        assert {key: set(FIELD.findall(text)) for key, text in theirs.items()} == {
            key: set(FIELD.findall(text)) for key, text in english.items()
        }
    for name in FIELDS:
        text = (OURS / language / f"{name}.md").read_text(encoding="utf-8")
        assert set(FIELD.findall(text)) == set(
            FIELD.findall((OURS / "en" / f"{name}.md").read_text(encoding="utf-8"))
        )


@pytest.mark.parametrize("said", ["reasons", "bench-reasons", "next-steps"])
def test_every_reason_has_words_for_the_buyer_the_bench_and_what_to_do(said: str) -> None:
    assert set(phrases_of((OURS / "en" / f"{said}.md").read_text(encoding="utf-8"))) == set(CODES)


def test_no_phrase_is_kept_that_nothing_says() -> None:
    code = "".join(path.read_text(encoding="utf-8") for path in Path("shipping/papers").rglob("*.py"))
    made = (
        "stage_",
        "promise_exact",
        "promise_fewer",
        "promise_short",
        "medium_",
        "stands_",
        "when_hatch_",
        "when_wet_",
        *(kind.key for kind in PACKING_KINDS),
        *(f"pick_{kind.key}" for kind in PACKING_KINDS),
        "assumed",
        "from_memory",
        "learned",
        "published",
        "weather",
    )
    for key in phrases_of((OURS / "en" / "terms.md").read_text(encoding="utf-8")):
        of_column = f'column("{key.removeprefix("pick_").removeprefix("col_")}")' in code
        is_said = re.search(f"[\"']{key}[\"']", code) or key.startswith((*made, "common_practice"))
        assert is_said or of_column, key


def test_our_own_wording_has_no_letter_the_fonts_lack() -> None:
    for path in sorted(OURS.glob("*/*.md")):
        assert faces.letters_lacking(path.read_text(encoding="utf-8")) == "", path


def test_our_own_wording_has_no_problem(tmp_path: Path) -> None:
    for path in sorted(OURS.glob("*/*.md")):
        own(tmp_path, path.stem, path.read_text(encoding="utf-8"), path.parent.name)
    assert wording_problems(tmp_path) == ()


def test_a_value_with_markdown_in_it_is_shown_as_it_is() -> None:
    fields = {"water_note": "*soft* [x](http://example.org) `y` <b>&amp; 1. - # _z_", "salt": ""}
    markdown = Wording(None, "en").markdown("water-any", **fields)
    assert fields["water_note"] in plain_text(markdown)
    assert "<b>" not in html(markdown)
    assert "&lt;b&gt;&amp;amp;" in html(markdown)
    assert "<em>" not in html(markdown)


@pytest.mark.parametrize(
    ("language", "one", "two"),
    [
        ("en", "1 egg", "2 eggs"),
        ("de", "1 Ei", "2 Eier"),
        ("fr", "1 œuf", "2 œufs"),
        ("es", "1 huevo", "2 huevos"),
    ],
)
def test_one_egg_is_not_said_as_many(language: str, one: str, two: str) -> None:
    wording = Wording(None, language)
    assert wording.term("care_corner", count="1") == one
    assert wording.term("care_corner", count="2") == two
    assert "1 day " in Wording(None, "en").term("report", days=1, contact="x", fetched=False)
    assert "1 Tag " in Wording(None, "de").term("report", days=1, contact="x", fetched=True)
    assert is_one("about 1")
    assert not is_one("21")


def test_figure_and_unit_are_not_parted_at_the_end_of_a_line() -> None:
    assert "30 ml" not in Wording(None, "en").set_off("30 ml, 12 h at 20 °C")
    assert Wording(None, "en").set_off("12 h") == "12\u00a0h"
    assert Wording(None, "en").set_off("12 hours") == "12 hours"


def test_a_value_cannot_run_code_of_its_own() -> None:
    text = "{{ ''.__class__.__mro__ }}{% for x in range(9) %}x{% endfor %}"
    assert text in plain_text(Wording(None, "en").markdown("water-any", water_note=text, salt=""))


def test_the_breeders_copy_wins_and_what_it_leaves_out_is_ours(tmp_path: Path) -> None:
    own(tmp_path, "terms", "- slip_title: What I packed for you\n")
    wording = Wording(tmp_path, "en")
    assert wording.term("slip_title") == "What I packed for you"
    assert wording.term("order") == "Order"


def test_a_language_without_wording_is_given_english() -> None:
    assert Wording(None, "nl").term("order") == "Order"
    assert "viseitjes" in Wording(None, "nl").markdown("handling", low="", high="")


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        (
            "water-soft",
            "Soft.\n\n{{ water_not }} and again\n\n{{ water_not }}",
            "templates/wording/en/water-soft.md:3: water_not: 'water_not' is not a field. Write water_note.",
        ),
        (
            "notice-hold",
            "{% for line in lines %}{{ line }}{% endfor %}",
            (
                "templates/wording/en/notice-hold.md: reasons: The field 'reasons' is missing. Write {{"
                " reasons }} in it."
            ),
        ),
        (
            "opening-tub",
            "x",
            (
                "templates/wording/en/opening-tub.md: There is no wording named 'opening-tub'. Write"
                " opening-tube.md"
            ),
        ),
        ("sentences", "> soft", "templates/wording/en/sentences.md:1: 'soft' has no translation."),
        (
            "care-shared",
            "a\n{{ open",
            "templates/wording/en/care-shared.md:2: The template cannot be read",
        ),
        (
            "terms",
            "- ordre: x",
            "templates/wording/en/terms.md:1: ordre: 'ordre' is not one of the phrases. Write order.",
        ),
        (
            "terms",
            "- order: No 王小",
            (
                "templates/wording/en/terms.md:1: '王小' has letters that cannot be printed: 王 (U+738B) 小"
                " (U+5C0F). Write it in Latin letters."
            ),
        ),
        (
            "terms",
            "\n- about: roughly {{ cuont }}",
            "templates/wording/en/terms.md:2: about: 'count' is missing. Write about {{ count }}",
        ),
    ],
)
def test_a_slip_in_the_breeders_wording_is_told_with_file_and_line(
    tmp_path: Path, name: str, text: str, told: str
) -> None:
    own(tmp_path, name, text)
    assert told in "\n".join(map(str, wording_problems(tmp_path)))


def test_the_mend_of_a_wrong_field_is_right(tmp_path: Path) -> None:
    own(tmp_path, "water-soft", "Soft.\n\n{{ water_note }}")
    assert wording_problems(tmp_path) == ()


def test_a_care_sheet_that_is_nowhere_is_told(tmp_path: Path) -> None:
    (fish, *_) = sample.SHELF.species.values()
    named = fish.model_copy(update={"care": "pearlfish"})
    (told,) = care_problems(tmp_path, [named, fish.model_copy(update={"care": "damp"})])
    assert "there is no wording care-pearlfish.md, and the usual care sheet is printed." in str(told)
    own(tmp_path, "care-pearlfish", "Keep it cool.")
    assert list(care_problems(tmp_path, [named])) == []


def test_nothing_is_printed_with_wording_that_has_a_problem(tmp_path: Path) -> None:
    own(tmp_path, "care-water", "{{ nonsense }}")
    with pytest.raises(ShelfProblems, match="nonsense"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path / "out", shelf_folder=tmp_path)
    assert not (tmp_path / "out").exists()


def test_wording_with_a_letter_the_fonts_lack_is_told(tmp_path: Path) -> None:
    own(tmp_path, "terms", "- slip_title: 装箱单\n")
    with pytest.raises(ShelfProblems, match=r"terms\.md:1: .*U\+88C5"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path / "out", shelf_folder=tmp_path)


def test_markdown_knows_headings_items_and_bold_and_nothing_else() -> None:
    text = plain_text("# One\n\nA **b** c\\*d\n\n1. first\n2. second\n\n- x\n\n<i>no</i> ![p](q)\n")
    assert text == "One\n\nA b c*d\n\n1. first\n2. second\n• x\n\n<i>no</i> !p\n"
    assert len(blocks_of("1. a\n2. b")) == 2


def test_a_column_is_called_on_paper_by_its_term_or_as_the_page_calls_it(tmp_path: Path) -> None:
    assert [Wording(None, language).column("lot") for language in ("en", "de")] == ["Lot", "Ansatz"]
    assert [Wording(None, language).column("laid_from") for language in ("en", "de")] == [
        "Laid from",
        "Gelegt ab",
    ]
    own(tmp_path, "page", "> Laid from\nLaichtag\n", "de")
    assert Wording(tmp_path, "de").column("laid_from") == "Laichtag"


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("Keep between 15 and 27 °C.", "Keep between 15 and 27 °C (59 and 81 °F)."),
        ("20 °C / 22.5 °C", "20 °C (68 °F) / 22.5 °C (72 °F)"),
        ("never below 10 °C§, not even for hours", "never below 10 °C§ (50 °F), not even for hours"),
        ("18–20 °C (64–68 °F)", "18–20 °C (64–68 °F)"),
        (r"22\.5 °C \(72 °F\)", r"22\.5 °C \(72 °F\)"),
        ("-5 °C", "-5 °C (23 °F)"),
        ("5 eggs", "5 eggs"),
    ],
)
def test_degrees_stand_in_fahrenheit_too_for_who_reads_them_so(text: str, read: str) -> None:
    wording = Wording(None, "en")
    assert wording.in_fahrenheit.set_off(text).replace("\u00a0", " ") == read
    assert wording.set_off(text).replace("\u00a0", " ") == text


def test_eggs_that_are_short_are_waited_for_only_where_the_line_waits() -> None:
    short = Reason("short", "", {"lot": "GAR-1", "free": 2, "needed": 20})
    steps = [
        next_step(short, Wording(None, "en"), verdict) for verdict in Verdict if verdict is not Verdict.GO
    ]
    assert steps.count("it goes when there are more eggs") == 1
    assert steps.count("more eggs alone do not let it go") == len(steps) - 1


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_nobody_looked_up_is_told_as_a_starter_row_says_it(language: str) -> None:
    """A country is closed as known only where somebody looked that up."""
    wording = Wording(None, language)
    facts = {"to": "AU", "taxon": "*", "source": "an authority"}
    for shown in ("bench-reasons", "reasons", "next-steps"):
        known, assumed = (wording.phrase(shown, "closed", **facts, **more) for more in ({}, {"never": True}))
        assert known != assumed
    assert "rules --to AU" in next_step(Reason("closed", "", facts | {"never": True}), wording, Verdict.STOP)


@pytest.mark.parametrize(
    ("language", "when"),
    [
        ("en", "half an hour before"),
        ("de", "halbe Stunde vor"),
        ("fr", "demi-heure avant"),
        ("es", "media hora antes"),
    ],
)
def test_bench_and_pick_list_start_the_heat_pack_alike(language: str, when: str) -> None:
    wording = Wording(None, language)
    said = (note_text(Note("heat-pack"), wording), wording.term("pick_start_heat_pack"))
    assert [when in one for one in said] == [True, True]

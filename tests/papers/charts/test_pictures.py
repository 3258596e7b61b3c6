"""The pictures are whole files, the same every time, and show the figures of the answer; so do the options
that draw them.
"""

from __future__ import annotations

import io
import json
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from shipping.cli.app import main
from shipping.options.option import Destination
from shipping.papers.charts.lot_picture import lot_pages, lot_picture
from shipping.papers.charts.pictures import Sketch, figure, kind_of, pdf_bytes, risk_picture, svg_bytes
from shipping.papers.page.fonts import measure
from shipping.questions.can_it_ship import ask
from shipping.questions.forecast import Timeline, lot_timeline, outlooks
from shipping.questions.risk_curve import RiskCurve, risk_curve
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.words.three_point import Dates
from shipping.words.units import percent, shipped_folder

TODAY = date(2026, 11, 30)
DEMO = shipped_folder("demo_orders")


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    found = read_shelf(DEMO, TODAY).shelf
    assert found is not None
    return found


@pytest.fixture(scope="module")
def curve(shelf: Shelf) -> RiskCurve:
    return risk_curve(ask(shelf, "FL-31", Destination("DK")), TODAY)


@pytest.fixture(scope="module")
def sheets(shelf: Shelf, curve: RiskCurve) -> tuple[Sketch, Sketch]:
    return risk_picture(curve), lot_picture(lot_timeline(outlooks(shelf), shelf))


def svg_words(content: bytes) -> list[str]:
    tree = ElementTree.fromstring(content)
    return [element.text or "" for element in tree.iter("{http://www.w3.org/2000/svg}text")]


def fonts_of(content: bytes) -> Iterator[tuple[str, bool]]:
    for page in PdfReader(io.BytesIO(content)).pages:
        for font in page["/Resources"]["/Font"].values():
            found = font.get_object()
            yield str(found["/BaseFont"]), "/FontFile2" in found.get("/FontDescriptor", {})


def test_the_svg_is_xml_and_says_its_title_and_figures_to_who_cannot_see_it(
    sheets: tuple[Sketch, Sketch],
) -> None:
    for sheet in sheets:
        tree = ElementTree.fromstring(svg_bytes(sheet))
        assert tree.findtext("{http://www.w3.org/2000/svg}title") == sheet.title
        assert tree.findtext("{http://www.w3.org/2000/svg}desc") == sheet.about
        assert "..." not in sheet.about


@pytest.mark.parametrize("drawn", [svg_bytes, lambda sheet: pdf_bytes((sheet,))])
def test_a_picture_drawn_again_is_the_same_to_the_byte(
    shelf: Shelf, sheets: tuple[Sketch, Sketch], drawn: Callable[[Sketch], bytes]
) -> None:
    again = risk_picture(risk_curve(ask(shelf, "FL-31", Destination("DK")), TODAY))
    assert drawn(again) == drawn(sheets[0]) == drawn(sheets[0])


def test_the_pdf_is_one_page_and_carries_every_font_it_names(sheets: tuple[Sketch, Sketch]) -> None:
    for sheet in sheets:
        content = pdf_bytes((sheet,))
        assert len(PdfReader(io.BytesIO(content)).pages) == 1
        fonts = list(fonts_of(content))
        assert {re.sub("^/[A-Z]{6}[+]", "", name) for name, _ in fonts} == {"DejaVuSans", "DejaVuSans-Bold"}
        assert all(embedded for _, embedded in fonts)


def test_a_share_has_the_decimal_point_of_its_language() -> None:
    assert [figure(0.016, language) for language in ("en", "de", "fr", "es")] == ["1.6", "1,6", "1,6", "1,6"]


def test_the_figures_in_the_picture_are_those_of_the_answer(
    curve: RiskCurve, sheets: tuple[Sketch, Sketch]
) -> None:
    words = svg_words(svg_bytes(sheets[0]))
    foot = words.index(curve.lines[0].service)
    wanted = [figure(point.h_per_egg) for line in curve.lines for point in line.points]
    assert [word for word in words[foot:] if re.fullmatch(r"[<>]?[0-9.]+", word)] == wanted
    for line in curve.lines:
        assert line.service in words
        assert all(f"{point.day} {percent(point.h_per_egg)}" in sheets[0].about for point in line.points)


@pytest.mark.parametrize(
    ("share", "words"), [(0, "0"), (0.0002, "<0.1"), (0.0468, "4.7"), (0.4, "40"), (0.9995, ">99.9")]
)
def test_a_figure_in_a_column_is_rounded_as_everywhere(share: float, words: str) -> None:
    assert figure(share) == words


def test_each_ceiling_is_named_with_its_share(sheets: tuple[Sketch, Sketch]) -> None:
    words = svg_words(svg_bytes(sheets[0]))
    assert "allowed in a tube: 1.0 %" in words
    assert "allowed in a breathing bag: 5.0 %" in words


def test_no_two_lines_share_a_colour_a_dash_or_a_letter(
    sheets: tuple[Sketch, Sketch], curve: RiskCurve
) -> None:
    text = svg_bytes(sheets[0]).decode()
    lines = re.findall(r'<polyline[^>]*style="([^"]*stroke-width: 2.0[^"]*)"', text)
    looks = {
        (re.findall("stroke: ([^;]*)", s)[0], tuple(re.findall("stroke-dasharray: ([^;]*)", s)))
        for s in lines
    }
    drawn = len(curve.lines)
    assert drawn >= 2
    assert len(looks) == len({colour for colour, _ in looks}) == len({dash for _, dash in looks}) == drawn


def test_the_timeline_names_every_lot(shelf: Shelf, sheets: tuple[Sketch, Sketch]) -> None:
    words = svg_words(svg_bytes(sheets[1]))
    assert {lot.lot for lot in shelf.lots} <= set(words)
    assert "look first: overdue" in words


@pytest.mark.parametrize(
    ("name", "kind"), [("a.svg", "svg"), ("a.b.PDF", "pdf"), ("a.png", None), ("svg", None), ("a.", None)]
)
def test_the_ending_says_what_is_drawn(name: str, kind: str | None) -> None:
    assert kind_of(name) == kind


def run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(
        sys, "argv", ["spawnpost", "--shelf", str(DEMO), "--today", TODAY.isoformat(), *words]
    )
    try:
        main()
    except SystemExit as left:
        return int(left.code or 0)
    return 0


COMMANDS = (("ask", "SC-07", "--to", "NL", "--plot"), ("forecast", "SC-07", "--picture"))


@pytest.mark.parametrize("command", COMMANDS, ids=["plot", "picture"])
@pytest.mark.parametrize(("ending", "start"), [("svg", b"<?xml"), ("pdf", b"%PDF")])
def test_a_command_draws_to_the_file_it_is_told(
    command: tuple[str, ...], ending: str, start: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / f"drawn.{ending}"
    assert run(monkeypatch, *command, str(file)) == 0
    assert file.read_bytes().startswith(start)


@pytest.mark.parametrize("command", COMMANDS, ids=["plot", "picture"])
def test_another_ending_is_one_problem_and_nothing_is_written(
    command: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(monkeypatch, *command, str(tmp_path / "drawn.png")) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "Name a file that ends in .svg or .pdf" in said.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("command", "key"), [(COMMANDS[0], "risk_curve"), (COMMANDS[1], "timeline")], ids=["plot", "picture"]
)
def test_for_machines_the_picture_is_facts_and_nothing_else_is_on_stdout(
    command: tuple[str, ...], key: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, *command, "-", "--json") == 0
    assert json.loads(capsys.readouterr().out)[key]


def test_on_the_terminal_bars_and_rows_are_drawn(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, *COMMANDS[0], "-") == 0
    assert "over the ceiling of tube" in capsys.readouterr().out
    assert run(monkeypatch, *COMMANDS[1], "-") == 0
    assert re.search("^SC-07  .*=.*o.*N.*M.*N express DE", capsys.readouterr().out, re.MULTILINE)


def test_an_overdue_lot_has_no_picture_and_the_problem_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, "ask", "CY-09", "--to", "DE", "--plot", str(tmp_path / "a.svg")) == 1
    assert "has no curve to draw: Lot CY-09 was whole on" in capsys.readouterr().err


def test_the_timeline_on_paper_is_a4_lying_in_no_type_under_nine_points_overdue_first(shelf: Shelf) -> None:
    timeline = lot_timeline(outlooks(shelf), shelf)
    pages = lot_pages(timeline)
    assert {(sheet.width, sheet.height) for sheet in pages} == {(842, 595)}
    sizes = {shape.fontSize for sheet in pages for shape in sheet.drawing.contents if hasattr(shape, "text")}
    assert min(sizes) >= 9
    assert timeline.groups()[0][0].doubt == "overdue"
    assert svg_words(svg_bytes(pages[0]))[0:1] == ["Lots on Mon 30 Nov 2026"]
    lots = [row.lot for rows in timeline.groups() for row in rows]
    drawn = [word for sheet in pages for word in svg_words(svg_bytes(sheet)) if word in lots]
    assert drawn == lots
    assert len(PdfReader(io.BytesIO(pdf_bytes(pages))).pages) == len(pages)


def test_a_short_hatching_of_a_long_year_is_wide_enough_to_be_seen_and_the_legend_says_so(
    shelf: Shelf,
) -> None:
    row = next(row for row in lot_timeline(outlooks(shelf), shelf).rows if row.hatch.p05 and row.hatch.p95)
    said = "a short time is drawn wider than it is, so that it is seen"

    def drawn(days: int) -> tuple[float, list[str]]:
        hatch = Dates(TODAY, TODAY + timedelta(days=1), TODAY + timedelta(days=days))
        rows = (replace(row, hatch=hatch), replace(row, laid_from=TODAY - timedelta(days=400)))
        sheet = lot_picture(Timeline(TODAY, rows))
        bars = [one for one in sheet.drawing.contents if getattr(one, "height", 0) == 11]
        return bars[0].width, svg_words(svg_bytes(sheet))

    width, words = drawn(2)
    assert width == 9
    assert said in words
    assert drawn(120)[0] > 60


def test_a_long_name_stays_left_of_the_days_and_days_are_said_as_people_do(shelf: Shelf) -> None:
    named = replace(lot_timeline(outlooks(shelf), shelf).rows[0], lot="LOT-OF-A-VERY-LONG-NAME-" * 3)
    words = svg_words(svg_bytes(lot_picture(Timeline(TODAY, (named,)))))
    (name,) = (said for said in words if said.startswith("LOT-OF"))
    assert name.endswith("\u2026")
    assert 20 + measure(name, True) * 9 < 190
    assert "7 Dec" in words
    assert not any(re.match(r"0\d |20\d\d-", said) for said in words)


def test_lines_of_one_service_are_told_apart_by_their_packings(shelf: Shelf) -> None:
    """A bottle of warm water gives the foam box a line of its own: both would say "tube or breathing bag"."""
    curve = risk_curve(ask(shelf, "GA-12", Destination("DE")), TODAY)
    assert (
        len({line.words for line in curve.lines})
        == len(curve.lines)
        > len({line.service for line in curve.lines})
    )
    words = svg_words(svg_bytes(risk_picture(curve)))
    assert {", ".join(line.packings)[:12] for line in curve.lines} <= {said[:12] for said in words}
    assert "1 Dec" in words

"""The picture of promised and held: every figure is in it as words, and the file is what its name says."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree

import numpy as np
import pytest
from reportlab.graphics.shapes import Circle, Drawing, Polygon, PolyLine, String

from shipping.learning.score import scores
from shipping.learning.score_picture import score_picture
from shipping.papers.charts.pictures import pdf_bytes, svg_bytes
from tests.ledger.invented import outcome

TODAY = date(2026, 11, 30)


def some() -> list:
    return [outcome(n, service=("letter", "parcel")[n % 2], living=20 if n % 3 else 10) for n in range(60)]


def test_the_picture_names_each_row_with_its_counts_and_says_them_aloud() -> None:
    text = svg_bytes(score_picture(scores(some()), TODAY)).decode("utf-8")
    words = {
        "".join(node.itertext()).strip()
        for node in ElementTree.fromstring(text).iter()
        if node.tag.endswith("text")
    }
    assert {"letter", "parcel", "tube", "gardneri", "by service", "by packing", "by species"} <= words
    assert "40 of 60" in words, "two thirds of sixty were held"
    about = next(
        "".join(node.itertext()) for node in ElementTree.fromstring(text).iter() if node.tag.endswith("desc")
    )
    assert "service letter: promised 95 %, held 67 % of 30, held less often than promised" in about


def test_the_picture_is_the_same_bytes_every_time_and_a_pdf_where_asked() -> None:
    first, again = (pdf_bytes((score_picture(scores(found), TODAY),)) for found in (some(), some()[::-1]))
    assert first == again
    assert first.startswith(b"%PDF-")


def two_services() -> list:
    """Of 40 lines each by letter 38 and by parcel 30 were held; 95 % were promised of both."""
    held = {"letter": 38, "parcel": 30}
    return [
        outcome(100 * len(service) + n, service=service, living=20 if n < number else 10)
        for service, number in held.items()
        for n in range(40)
    ]


def labels(drawing: Drawing, anchor: str, upright: bool) -> tuple[list[float], list[float]]:
    """Shares that an axis names, and where on the sheet they stand; anchored so, across or upwards."""
    named = [
        (float(text.text.rstrip("%")) / 100, text.y + 3 if upright else text.x)
        for text in drawing.contents
        if isinstance(text, String) and text.textAnchor == anchor and text.text.endswith("%")
    ]
    shares, places = zip(*named, strict=True)
    return list(shares), list(places)


def centres(drawing: Drawing) -> list[tuple[str, float, float]]:
    """Circles and squares: what they are, and the middle of each."""
    marks = []
    for shape in drawing.contents:
        if isinstance(shape, Circle):
            marks.append(("circle", shape.cx, shape.cy))
        elif isinstance(shape, Polygon):
            marks.append(("square", float(np.mean(shape.points[::2])), float(np.mean(shape.points[1::2]))))
    return marks


def test_marks_strokes_and_intervals_stand_where_the_axes_name_their_share() -> None:
    """By the places of the axes' own labels: the first six are those of the rows."""
    found = scores(two_services())
    drawing = score_picture(found, TODAY).drawing
    shares, across = (part[:5] for part in labels(drawing, "middle", upright=False))
    assert across == sorted(across), "more is farther to the right"
    texts = {text.text: text for text in drawing.contents if isinstance(text, String)}
    lines = [shape.points for shape in drawing.contents if isinstance(shape, PolyLine)]
    for score, kind in zip(found.by["service"], ("circle", "square"), strict=True):
        y = texts[score.name].y + 3
        low, high, promised, kept = np.interp(
            (score.low, score.high, score.promised, score.kept), shares, across
        )
        assert (kind, pytest.approx(kept, abs=0.01), y) in centres(drawing)
        assert pytest.approx([low, y, high, y], abs=0.01) in lines
        assert pytest.approx([promised, y - 6, promised, y + 6], abs=0.01) in lines
    shares, across = (part[5:] for part in labels(drawing, "middle", upright=False))
    heights, upwards = labels(drawing, "end", upright=True)
    assert (across, upwards) == (sorted(across), sorted(upwards))
    for band in found.by["promise"]:
        x = np.interp(band.promised, shares, across)
        low, high, kept = np.interp((band.low, band.high, band.kept), heights, upwards)
        assert ("square", pytest.approx(x, abs=0.01), pytest.approx(kept, abs=0.01)) in centres(drawing)
        assert pytest.approx([x, low, x, high], abs=0.01) in lines


def test_the_counts_of_a_row_stand_in_its_line_right_of_the_axis() -> None:
    drawing = score_picture(scores(two_services()), TODAY).drawing
    texts = [text for text in drawing.contents if isinstance(text, String)]
    place = {text.text: (text.x, text.y) for text in texts}
    whole = max(
        text.x for text in texts if text.text == "100%" and text.textAnchor == "middle" and text.x < 500
    )
    for name, counts in (("letter", "38 of 40"), ("parcel", "30 of 40")):
        assert place[counts][1] == place[name][1]
        assert place[counts][0] > whole


def test_a_share_below_one_half_stands_at_the_foot_of_its_axis() -> None:
    found = scores([outcome(n, living=20 if n < 10 else 10) for n in range(40)])
    drawing = score_picture(found, TODAY).drawing
    foot = next(text.x for text in drawing.contents if getattr(text, "text", "") == "50 % or less")
    rows = [x for _, x, _ in centres(drawing)][:-1]
    assert rows == pytest.approx([foot] * len(rows), abs=0.01)
    assert centres(drawing)[-1][2] == pytest.approx(labels(drawing, "end", upright=True)[1][0], abs=0.01)


def test_without_a_report_the_picture_says_so() -> None:
    text = svg_bytes(score_picture(scores(()), TODAY)).decode("utf-8")
    assert "No line was reported yet" in text

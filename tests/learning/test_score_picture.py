"""The picture of promised and held: every figure is in it as words, and the file is what its name says."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree

from shipping.learning.score import scores
from shipping.learning.score_picture import score_picture
from shipping.papers.charts.pictures import picture_bytes
from tests.ledger.invented import outcome

TODAY = date(2026, 11, 30)


def some() -> list:
    return [outcome(n, service=("letter", "parcel")[n % 2], living=20 if n % 3 else 10) for n in range(60)]


def test_the_picture_names_each_row_with_its_counts_and_says_them_aloud() -> None:
    text = picture_bytes(score_picture(scores(some()), TODAY), "svg").decode("utf-8")
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
    first, again = (
        picture_bytes(score_picture(scores(found), TODAY), "pdf") for found in (some(), some()[::-1])
    )
    assert first == again
    assert first.startswith(b"%PDF-")


def test_without_a_report_the_picture_says_so() -> None:
    text = picture_bytes(score_picture(scores(()), TODAY), "svg").decode("utf-8")
    assert "No line was reported yet" in text

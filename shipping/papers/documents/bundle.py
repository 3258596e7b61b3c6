"""Which papers a plan needs and what they are called: a desk in, papers of pages out; writing them is left to
pdf.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from shipping.papers.documents.care_sheet import care_sheets
from shipping.papers.documents.contents import Desk
from shipping.papers.documents.customs_sheet import customs_sheet
from shipping.papers.documents.label import label_fragment, label_page
from shipping.papers.documents.pick_list import pick_list, week_sheet
from shipping.papers.documents.slip import slip
from shipping.papers.documents.tags import tag_makers
from shipping.papers.page import layout
from shipping.papers.page.layout import LABEL_MARGIN, MM, SHEET_MARGIN
from shipping.papers.page.paging import pages_of
from shipping.papers.page.primitives import Fragment, Mark, Measure, Page, Placed, Stroke
from shipping.papers.page.stickers import Maker, plain_grid, sticker_pages
from shipping.papers.wording.language import paper_language
from shipping.week.plan_data import Parcel

#: The kinds of paper, by the word that names them in files and filters.
KINDS = ("slip", "label", "tags", "care", "customs", "pick-list", "stickers", "notice", "print-all")
#: Labels are also set on stickers of at least this size [mm].
LABEL_STICKER = (80.0, 45.0)


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper: the end of its file's name, its kind, what it is called inside, and its pages."""

    ending: str
    kind: str
    title: str
    language: str
    pages: tuple[Page, ...]


def safe_name(text: str) -> str:
    """The text as part of a file's name: letters, digits, ``.``, ``_`` and ``-`` only, never empty or
    hidden.
    """
    return re.sub(r"[^A-Za-z0-9._-]+", "-", text).strip(".-") or "x"


def parcel_papers(parcel: Parcel, desk: Desk, measure: Measure, only: frozenset[str]) -> tuple[Paper, ...]:
    """The papers of one parcel of the kinds wanted, in the order they go into it."""
    language = paper_language(parcel.language)
    papers: list[Paper] = []

    def add(ending: str, kind: str, title: str, pages: tuple[Page, ...]) -> None:
        papers.append(Paper(ending, kind, f"{parcel.parcel} {title}", language, pages))

    if "slip" in only:
        sheet = slip(parcel, desk)
        add("slip", "slip", sheet.title, pages_of(sheet, measure))
    if "label" in only:
        add("label", "label", "label", (label_page(parcel, desk, measure),))
    if "tags" in only:
        add("tags", "tags", "tags", _tag_pages(parcel, desk, measure))
    if "care" in only:
        taken: set[str] = set()
        for species, sheet in care_sheets(parcel, desk):
            ending = free_name(f"care-{safe_name(species)}", taken)
            add(ending, "care", sheet.title, pages_of(sheet, measure))
    if "customs" in only:
        form = customs_sheet(parcel, desk)
        if form is not None:
            add("customs", "customs", form.title, pages_of(form, measure))
    return tuple(papers)


def free_name(name: str, taken: set[str]) -> str:
    """The name, with a number behind it if it is taken; it is taken afterwards (whatever its case)."""
    free, number = name, 2
    while free.casefold() in taken:
        free, number = f"{name}-{number}", number + 1
    taken.add(free.casefold())
    return free


def _tag_pages(parcel: Parcel, desk: Desk, measure: Measure) -> tuple[Page, ...]:
    papers = desk.shelf.settings.papers
    makers = tag_makers(parcel, desk, measure)
    if papers.stickers is None:
        return sticker_pages(makers, plain_grid(papers.paper), papers.paper, cut_lines=True)
    return sticker_pages(makers, papers.stickers, papers.paper, desk.first_sticker)


#: Rows of tags under a label on the page to cut from, and their height [mm].
_TAG_ROWS, _TAG_HEIGHT = 2, 42.0


def cut_pages(parcel: Parcel, desk: Desk, measure: Measure, only: frozenset[str]) -> tuple[Page, ...]:
    """Label and tags of a parcel on plain paper, with marks to cut along, for the pile that is printed in one
    go.
    """
    papers = desk.shelf.settings.papers
    tags = tag_makers(parcel, desk, measure) if "tags" in only and papers.stickers is None else ()
    if "label" not in only:
        return sticker_pages(tags, plain_grid(papers.paper), papers.paper, cut_lines=True)
    width, height = layout.PAPERS[papers.paper]
    wide, tall = layout.PAPERS[papers.label]
    left, top = (width - wide) / 2, height - SHEET_MARGIN
    inner = label_fragment(parcel, desk, wide - 2 * LABEL_MARGIN, tall - 2 * LABEL_MARGIN, measure)
    placed = [
        Placed(left, top, _cut_frame(wide, tall)),
        Placed(left + LABEL_MARGIN, top - LABEL_MARGIN, inner),
    ]
    below = plain_grid(papers.paper).model_copy(
        update={"rows": _TAG_ROWS, "height_mm": _TAG_HEIGHT, "top_mm": (SHEET_MARGIN + tall) / MM + 5}
    )
    with_label = _TAG_ROWS * below.columns
    for page in sticker_pages(tags[:with_label], below, papers.paper, cut_lines=True):
        placed += page.placed
    rest = sticker_pages(tags[with_label:], plain_grid(papers.paper), papers.paper, cut_lines=True)
    return (Page(width, height, tuple(placed)), *rest)


def _cut_frame(width: float, height: float) -> Fragment:
    """A dashed frame."""
    corners = ((0.0, 0.0), (width, 0.0), (width, -height), (0.0, -height), (0.0, 0.0))
    marks: list[Mark] = [
        Stroke(x, y, to_x, to_y, 0.4, layout.GREY, 3) for (x, y), (to_x, to_y) in pairwise(corners)
    ]
    return Fragment(tuple(marks), height)


def pick_papers(
    parcels: Sequence[Parcel], desk: Desk, measure: Measure
) -> tuple[tuple[date | None, Paper], ...]:
    """The week sheet (None), then the pick list of each day that has parcels; ``parcels`` in packing
    order.
    """
    week = week_sheet(parcels, desk)
    papers: list[tuple[date | None, Paper]] = [
        (
            None,
            Paper(
                "pick-list",
                "pick-list",
                f"{desk.plan.week} {week.title}",
                week.language,
                pages_of(week, measure),
            ),
        )
    ]
    for when in sorted({parcel.dispatch_on for parcel in parcels}):
        sheet = pick_list(when, [parcel for parcel in parcels if parcel.dispatch_on == when], desk)
        title = f"{desk.plan.week} {sheet.title}"
        papers.append(
            (when, Paper("pick-list", "pick-list", title, sheet.language, pages_of(sheet, measure)))
        )
    return tuple(papers)


def sticker_papers(parcels: Sequence[Parcel], desk: Desk, measure: Measure) -> tuple[Paper, ...]:
    """All tags of the week on the stickers that are set, one after the other, and the labels too where they
    fit.
    """
    papers = desk.shelf.settings.papers
    grid = papers.stickers
    if grid is None:
        return ()
    makers = [maker for parcel in parcels for maker in tag_makers(parcel, desk, measure)]
    pages = sticker_pages(makers, grid, papers.paper, desk.first_sticker)
    made = [Paper("stickers", "stickers", f"{desk.plan.week} stickers", "en", pages)]
    if grid.width_mm >= LABEL_STICKER[0] and grid.height_mm >= LABEL_STICKER[1]:
        labels = [_label_maker(parcel, desk, measure) for parcel in parcels]
        pages = sticker_pages(labels, grid, papers.paper, desk.first_sticker)
        made.append(Paper("label-stickers", "stickers", f"{desk.plan.week} labels", "en", pages))
    return tuple(made)


def _label_maker(parcel: Parcel, desk: Desk, measure: Measure) -> Maker:
    def make(width: float, height: float) -> Fragment:
        return label_fragment(parcel, desk, width, height, measure)

    return make


def blank_page(paper: str) -> Page:
    """An empty page, so that what follows begins on a fresh leaf."""
    width, height = layout.PAPERS[paper]
    return Page(width, height, ())


def leaf_safe(pages: tuple[Page, ...], paper: str) -> tuple[Page, ...]:
    """The pages, with an empty one behind where their number is odd: printed on both sides, papers never
    share a leaf.
    """
    return pages if len(pages) % 2 == 0 else (*pages, blank_page(paper))

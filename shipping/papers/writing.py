"""A plan and a shelf in, all its papers as files in one folder out; only the edges call it."""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from shipping.papers.documents import bundle
from shipping.papers.documents.bundle import KINDS, Paper, safe_name
from shipping.papers.documents.contents import Desk
from shipping.papers.documents.label import HANDLING_LANGUAGES
from shipping.papers.documents.notices import Notice, notices
from shipping.papers.documents.pick_list import packing_order
from shipping.papers.folder import OutFolder
from shipping.papers.page import pdf
from shipping.papers.page.fonts import PLAIN_PEN, FontUnreadable, Pen, pen_of, warm_up
from shipping.papers.page.pdf_operators import Printed, printed
from shipping.papers.page.primitives import Page
from shipping.papers.page.stickers import grid_problem
from shipping.papers.wording.language import LANGUAGES, clean
from shipping.papers.wording.phrases import Wording, wording_problems
from shipping.papers.wording.unprintable import letter_problems
from shipping.post.item_id import item_id_problem
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import LineOut, Parcel, Plan
from shipping.words.problems import Problem, ShelfProblems, Where

#: Papers of so many parcels are drawn by two processes.
MANY_PARCELS = 120
_CHUNK = 20

#: File name -> its entry in the manifest.
_Entries = dict[str, dict[str, str]]


@dataclass(frozen=True, slots=True)
class _Made:
    """What came of one parcel: the files written, and its pages for the pile printed in one go."""

    entries: _Entries
    pile: tuple[Printed, ...]


@dataclass(frozen=True, slots=True)
class _Job:
    """Everything a parcel's papers need."""

    desk: Desk
    parcels: tuple[Parcel, ...]
    only: frozenset[str]
    folder: OutFolder
    with_pile: bool
    packed: frozenset[str] = frozenset()
    pen: Pen = PLAIN_PEN

    @property
    def author(self) -> str:
        return clean(self.desk.shelf.settings.sender.name)


def write_papers(
    plan: Plan,
    shelf: Shelf,
    folder: Path,
    *,
    week: str | None = None,
    parcel: str | None = None,
    only: Collection[str] = (),
    items: Mapping[str, str] | None = None,
    first_sticker: int = 1,
    shelf_folder: Path | None = None,
    packed: Collection[str] = (),
    processes: int = 2,
) -> tuple[Path, ...]:
    """The paths of the papers written, in the order of their names, the manifest last.

    Parameters
    ----------
    week, parcel: only that week's, or that parcel's, papers.
    only: kinds of paper, of `shipping.papers.documents.bundle.KINDS`; none given is all.
    items: the post's item numbers (S10) by parcel, printed on label and customs sheet.
    first_sticker: the first free sticker of the sheet in the printer, counted row by row from 1.
    packed: parcels packed or sent already, whose papers are neither written again nor removed.
    shelf_folder: where the breeder's own ``templates/wording`` may stand.

    Raises
    ------
    ShelfProblems
        If the question names an unknown week, parcel or kind, an item number is not well formed, a template
        has a field it may not use, the stickers do not fit the paper, a text holds letters that cannot be
        printed, or the breeder's own font cannot be taken. Nothing is written then.

    Notes
    -----
    The same plan, shelf, wording and arguments give the same bytes, whatever the number of processes.
    """
    wanted = frozenset(only) or frozenset(KINDS)
    chosen = tuple(one for one in plan.parcels if parcel in (None, one.parcel) and one.parcel not in packed)
    problems = (
        *_question_problems(plan, week, parcel, wanted, packed),
        *_shelf_problems(shelf, items or {}, first_sticker),
        *(wording_problems(shelf_folder) if shelf_folder else ()),
        *_letter_problems(chosen, plan.lines_out if parcel is None else (), shelf),
    )
    if problems:
        raise ShelfProblems(problems)
    languages = dict.fromkeys((*LANGUAGES, *sorted(HANDLING_LANGUAGES.values())))
    wordings = {language: Wording(shelf_folder, language) for language in languages}
    desk = Desk(plan, shelf, wordings, dict(items or {}), first_sticker)
    whole = parcel is None and not only
    job = _Job(
        desk,
        packing_order(chosen),
        wanted,
        OutFolder(folder),
        with_pile=whole or "print-all" in wanted,
        packed=frozenset(packed),
        pen=pen_of(shelf.settings.papers.font),
    )
    return _write(job, processes, of_the_week=parcel is None, whole=whole)


def _question_problems(
    plan: Plan, week: str | None, parcel: str | None, only: frozenset[str], packed: Collection[str]
) -> Iterator[Problem]:
    where = Where("papers")
    if week is not None and week.upper() != plan.week:
        yield Problem(where, "week", "unknown", f"'{week}' is not the plan's week.", f"Write {plan.week}.")
    names = [one.parcel for one in plan.parcels]
    if parcel is not None and parcel in packed:
        text = f"'{parcel}' is packed: its papers are in the box and are not written again."
        yield Problem(where, "parcel", "packed", text, "Take the packing back first: spawnpost undo.")
    elif parcel is not None and parcel not in names:
        known = f"one of {', '.join(names)}" if names else "no name: the plan has no parcel"
        yield Problem(
            where, "parcel", "unknown", f"'{parcel}' is not a parcel of the plan.", f"Write {known}."
        )
    for kind in sorted(only - set(KINDS)):
        text = f"'{kind}' is not a kind of paper."
        yield Problem(where, "only", "unknown", text, f"Write {', '.join(KINDS[:-1])} or {KINDS[-1]}.")


def _shelf_problems(shelf: Shelf, items: Mapping[str, str], first_sticker: int) -> Iterator[Problem]:
    where = Where("shelf.toml")
    papers = shelf.settings.papers
    if papers.stickers is not None:
        text = grid_problem(papers.stickers, papers.paper)
        if text:
            mend = "Measure the sheet again, or leave [papers.stickers] out."
            yield Problem(where, "papers.stickers", "stickers", text[0].upper() + text[1:] + ".", mend)
        elif not 1 <= first_sticker <= papers.stickers.rows * papers.stickers.columns:
            most = papers.stickers.rows * papers.stickers.columns
            mend = f"Write a number from 1 to {most}."
            yield Problem(where, "papers.stickers", "stickers", f"There is no sticker {first_sticker}.", mend)
    for parcel, item in sorted(items.items()):
        wrong = item_id_problem(item)
        if wrong:
            yield Problem(Where("papers"), parcel, "item", wrong, "")


def _letter_problems(
    parcels: Sequence[Parcel], lines_out: Sequence[LineOut], shelf: Shelf
) -> tuple[Problem, ...]:
    """Letters that neither our fonts nor the breeder's own can print, or why theirs cannot be taken."""
    try:
        return letter_problems(parcels, lines_out, shelf, pen_of(shelf.settings.papers.font).lacking)
    except FontUnreadable as wrong:
        mend = "Name another .ttf, or leave font out of [papers]."
        return (Problem(Where("shelf.toml"), "papers.font", "setting", f"{wrong}.", mend),)


def _write(job: _Job, processes: int, of_the_week: bool, whole: bool) -> tuple[Path, ...]:
    desk, week = job.desk, job.desk.plan.week
    before = job.folder.listed()
    entries: _Entries = {}
    piles: dict[str, tuple[Printed, ...]] = {}
    for parcel, made in zip(job.parcels, _all_made(job, processes), strict=True):
        entries |= made.entries
        piles[parcel.parcel] = made.pile
    picks = bundle.pick_papers(job.parcels, desk, job.pen.measure) if of_the_week else ()
    if picks and "pick-list" in job.only:
        pages = tuple(page for _, paper in picks for page in paper.pages)
        first = picks[0][1]
        whole_list = Paper(first.ending, first.kind, first.title, first.language, pages)
        entries |= _file(job, week, whole_list, tuple(_print(page, job.pen) for page in pages))
    if of_the_week and "stickers" in job.only:
        for paper in bundle.sticker_papers(job.parcels, desk, job.pen.measure):
            entries |= _file(job, week, paper, tuple(_print(page, job.pen) for page in paper.pages))
    if job.with_pile:
        entries |= _pile(job, picks, piles, week if of_the_week else job.parcels[0].parcel)
    if "notice" in job.only:
        for notice in notices(desk, job.parcels, with_lines_out=of_the_week):
            entries |= _notice_files(job, notice)
    if whole:
        job.folder.remove_stale(before, entries, week, job.packed)
    kept = before | entries
    manifest = job.folder.write_manifest(week, desk.today.isoformat(), kept)
    return (*(job.folder.folder / name for name in sorted(entries)), manifest)


def _all_made(job: _Job, processes: int) -> Iterator[_Made]:
    """What comes of each parcel, in order; many parcels are shared between forked processes where that is
    safe.
    """
    import multiprocessing

    can_fork = "fork" in multiprocessing.get_all_start_methods() and threading.active_count() == 1
    if processes < 2 or len(job.parcels) < MANY_PARCELS or not can_fork:
        yield from (_make(job, parcel) for parcel in job.parcels)
        return
    warm_up()
    _SHARED[:] = [job]
    try:
        with multiprocessing.get_context("fork").Pool(processes) as pool:
            yield from pool.imap(_make_shared, range(len(job.parcels)), chunksize=_CHUNK)
    finally:
        _SHARED.clear()


#: The job that forked processes find in their memory.
_SHARED: list[_Job] = []


def _make_shared(number: int) -> _Made:
    job = _SHARED[0]
    return _make(job, job.parcels[number])


def _make(job: _Job, parcel: Parcel) -> _Made:
    """Draw one parcel's papers, write a file each, and keep their pages for the pile."""
    entries: _Entries = {}
    pile: list[Printed] = []
    paper_size = job.desk.shelf.settings.papers.paper
    for paper in bundle.parcel_papers(parcel, job.desk, job.pen.measure, job.only):
        pages = tuple(_print(page, job.pen) for page in paper.pages)
        entries |= _file(job, parcel.parcel, paper, pages)
        if job.with_pile and paper.kind == "label":
            pile += [
                _print(page, job.pen)
                for page in bundle.cut_pages(parcel, job.desk, job.pen.measure, job.only)
            ]
        elif job.with_pile and paper.kind != "tags":
            pile += pages
        if job.with_pile and len(pile) % 2:
            pile.append(_blank(paper_size))
    return _Made(entries, tuple(pile))


def _print(page: Page, pen: Pen) -> Printed:
    return printed(page, pdf.tools_of(pen))


@lru_cache(maxsize=4)
def _blank(paper: str) -> Printed:
    return _print(bundle.blank_page(paper), PLAIN_PEN)


def _file(job: _Job, stem: str, paper: Paper, pages: Sequence[Printed]) -> _Entries:
    """Write one paper; its entry for the manifest."""
    content = pdf.bound(pages, clean(paper.title), job.author, paper.language, job.desk.today)
    path, digest = job.folder.write(f"{safe_name(stem)}-{paper.ending}.pdf", content)
    return {path.name: {"file": path.name, "kind": paper.kind, "of": stem, "sha256": digest}}


def _pile(
    job: _Job,
    picks: Sequence[tuple[object, Paper]],
    piles: Mapping[str, tuple[Printed, ...]],
    stem: str,
) -> _Entries:
    """One file to print all, day by day: the pick list, then each parcel's papers; safe to print on both
    sides.
    """
    paper_size = job.desk.shelf.settings.papers.paper
    pages: list[Printed] = []

    def add(papers: Sequence[Printed]) -> None:
        pages.extend(papers)
        if len(pages) % 2:
            pages.append(_blank(paper_size))

    for when, paper in picks:
        add([_print(page, job.pen) for page in paper.pages])
        for parcel in job.parcels:
            if parcel.dispatch_on == when:
                add(piles[parcel.parcel])
    if not picks:
        for parcel in job.parcels:
            add(piles[parcel.parcel])
    if not pages:
        return {}
    language = picks[0][1].language if picks else "en"
    return _file(job, stem, Paper("print-all", "print-all", f"{stem} print all", language, ()), pages)


def _notice_files(job: _Job, notice: Notice) -> _Entries:
    wording = job.desk.wording(notice.language)
    subject = wording.term("subject")
    to = f"{wording.term('to')}: {notice.mail}\n" if notice.mail else ""
    entries: _Entries = {}
    for suffix, content in (
        ("txt", f"{to}{subject}: {notice.subject}\n\n{notice.text}"),
        ("html", notice.html),
    ):
        path, digest = job.folder.write(f"{safe_name(notice.name)}.{suffix}", content.encode("utf-8"))
        entries[path.name] = {"file": path.name, "kind": "notice", "of": notice.of, "sha256": digest}
    return entries

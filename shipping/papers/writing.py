"""A plan and a shelf in, all its papers as files in one folder out: which files, the sheets in each; only the
edges call it.

``print/`` holds a file a day in packing order, ``mail/`` a message a buyer, ``parcels/`` a parcel's papers
where they are asked for.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from functools import partial
from hashlib import sha256
from operator import attrgetter
from pathlib import Path
from typing import NamedTuple

from shipping.papers.documents.care_sheet import care_sheet
from shipping.papers.documents.contents import PaperInputs
from shipping.papers.documents.customs_sheet import customs_sheet
from shipping.papers.documents.labels import label_sheets, tag_sheets
from shipping.papers.documents.notices import eml, notices
from shipping.papers.documents.pick_list import packing_order, pick_list, week_sheet
from shipping.papers.documents.slip import slip
from shipping.papers.page.fonts import FontUnreadable, font_of, font_problem, letter_problems, typeface_of
from shipping.papers.page.pdf_file import PaperSheet, bound, grid_problem
from shipping.papers.printed_files import OutFolder, safe_name
from shipping.papers.wording.language import SPOKEN, clean
from shipping.papers.wording.phrases import Wording, wording_problems
from shipping.post.item_id import item_id_problem
from shipping.tables.rows.settings import INVENTED_SENDER
from shipping.tables.shelf import Shelf
from shipping.week.objective import default_week
from shipping.week.plan_data import LineOut, Parcel, Plan
from shipping.words.keys import grouped
from shipping.words.long_work import of_each
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.sentence import LANGUAGES
from shipping.words.units import is_over

#: File name -> its entry in the manifest.
_Entries = dict[str, dict[str, str]]
#: From so much on papers are written by two processes: messages to a buyer; the papers of a parcel are six.
MANY_WORK = 48
#: The kinds of paper, by the word that names them in files and filters.
KINDS = ("slip", "label", "tags", "care", "customs", "pick-list", "notice")
#: Kinds that go into, or belong to, one parcel alone.
_OF_A_PARCEL = ("slip", "care", "customs")


@dataclass(frozen=True, slots=True)
class PaperFile:
    """One file to print: name below the folder, kind, what it is of, title, maker of its sheets, parcels."""

    name: str
    kind: str
    of: str
    title: str
    sheets: Callable[[], Sequence[PaperSheet]]
    parcels: tuple[Parcel, ...] = ()


class _FilesToWrite(NamedTuple):
    """Writes some files, and how much work that is."""

    write: Callable[[], _Entries]
    work: int


@dataclass(frozen=True, slots=True)
class _Job:
    """What is printed, for whom, and where to."""

    inputs: PaperInputs
    parcels: tuple[Parcel, ...]
    parcel: str | None
    only: frozenset[str]
    folder: OutFolder
    two_sided: bool
    in_one: bool

    @property
    def is_whole(self) -> bool:
        return self.parcel is None and not self.only

    def files(self) -> Iterator[PaperFile]:
        """The files to print."""
        if self.parcel is not None:
            for parcel in self.parcels:
                yield from _parcel_files(parcel, self.inputs, self.only)
        elif self.only:
            yield from _kind_files(self.parcels, self.inputs, self.only)
        elif self.in_one:
            yield _one_file(self.parcels, self.inputs)
        else:
            yield from _day_files(self.parcels, self.inputs)


def write_papers(
    plan: Plan,
    shelf: Shelf,
    folder: Path,
    *,
    parcel: str | None = None,
    only: Collection[str] = (),
    items: Mapping[str, str] | None = None,
    first_sticker: int = 1,
    shelf_folder: Path | None = None,
    packed: Mapping[str, date] | None = None,
    to_send: Mapping[str, date] | None = None,
    processes: int = 2,
    one_sided: bool = False,
    in_one: bool = False,
) -> tuple[Path, ...]:
    """The paths of the papers written, in the order of their names, the manifest last.

    Parameters
    ----------
    parcel: only that parcel's papers, packed or not.
    only: kinds of paper, of `KINDS`; none given is all.
    items: the post's item numbers (S10) by parcel, printed on label and customs sheet.
    first_sticker: the first free sticker of the sheet in the printer, counted row by row from 1.
    packed: the days of parcels packed or sent already, whose papers are neither written again nor removed.
    to_send: the days of those packed that are still to be handed over; the bench's sheets name them.
    one_sided: leave no blank pages; else each parcel begins on a fresh leaf.
    in_one: all of it in one file, without the sheet of a week that the plan has only some parcels of.
    shelf_folder: where the breeder's own ``templates/wording`` may stand.

    Raises ShelfProblems if the question names an unknown parcel or kind, an item number is not well formed, a
    template has a field it may not use, the stickers do not fit the paper, a text holds letters that cannot
    be printed, or the breeder's own font cannot be taken. Nothing is written then.

    Notes
    -----
    The same plan, shelf, wording and arguments give the same bytes, whatever the number of processes.
    """
    wanted = frozenset(only)
    left = frozenset() if parcel else frozenset(packed or ())
    chosen = tuple(one for one in plan.parcels if parcel in (None, one.parcel) and one.parcel not in left)
    problems = (
        *_question_problems(plan, parcel, wanted),
        *(_over_problems(plan, chosen, wanted, shelf) if parcel is None else ()),
        *_shelf_problems(shelf, items or {}, first_sticker),
        *(wording_problems(shelf_folder) if shelf_folder else ()),
        *_letter_problems(chosen, _told_lines(plan, parcel, wanted), shelf),
    )
    if problems:
        raise ShelfProblems(problems)
    languages = dict.fromkeys((*LANGUAGES, *sorted(SPOKEN.values())))
    wordings = {language: Wording(shelf_folder, language) for language in languages}
    typeface = typeface_of(shelf.settings.papers.font)
    inputs = PaperInputs(
        plan, shelf, wordings, dict(items or {}), first_sticker, typeface, to_send or {}, packed or {}
    )
    two_sided = shelf.settings.papers.sides == 2 and not one_sided
    order = packing_order(chosen)
    job = _Job(inputs, order, parcel, wanted, OutFolder(folder), two_sided, in_one)
    return _write(job, processes)


def names_orders_left_out(only: Collection[str]) -> bool:
    """Is the week's sheet among these kinds of paper, which alone prints what does not go?"""
    return not only or "pick-list" in only


def _told_lines(plan: Plan, parcel: str | None, only: Collection[str]) -> Sequence[LineOut]:
    """The lines left out that are printed: none of a week that is over, and none with one parcel's papers."""
    is_told = parcel is None and names_orders_left_out(only) and not is_over(plan.week, plan.today)
    return plan.lines_out if is_told else ()


def _over_problems(
    plan: Plan, parcels: Sequence[Parcel], only: frozenset[str], shelf: Shelf
) -> Iterator[Problem]:
    """Why nothing is written for a week that is over: it has no parcel to pack, or letters are asked for."""
    if is_over(plan.week, plan.today) and (not parcels or only == {"notice"}):
        left = "no letters are written for it" if parcels else "no parcel kept for it is still to be packed"
        text = f"{plan.week} is over, and {left}."
        mend = f"Name a week that is not over: spawnpost papers --week {default_week(shelf)}."
        yield Problem(Where("papers"), "week", "over", text, mend)


def _question_problems(plan: Plan, parcel: str | None, only: frozenset[str]) -> Iterator[Problem]:
    where = Where("papers")
    names = [planned.parcel for planned in plan.parcels]
    if parcel is not None and parcel not in names:
        known = f"one of {', '.join(names)}" if names else "no name: the plan has no parcel"
        text = f"'{parcel}' is not a parcel of the plan."
        yield Problem(where, "parcel", "unknown", text, f"Write {known}.")
    for kind in sorted(only - set(KINDS)):
        text = f"'{kind}' is not a kind of paper."
        yield Problem(where, "only", "unknown", text, f"Write {', '.join(KINDS[:-1])} or {KINDS[-1]}.")


def _shelf_problems(shelf: Shelf, items: Mapping[str, str], first_sticker: int) -> Iterator[Problem]:
    where = Where("shelf.toml")
    papers = shelf.settings.papers
    if shelf.settings.sender.is_invented:
        yield Problem(where, "sender", "invented-sender", *INVENTED_SENDER)
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


def letters_by_parcel(parcels: Iterable[Parcel], shelf: Shelf) -> dict[str, ShelfProblems]:
    """Why parcels cannot be set for letters that no font prints, by name; not what stops all papers."""
    return _own_letters(((one.parcel, (one,), ()) for one in parcels), shelf)


def letters_by_order(lines_out: Iterable[LineOut], shelf: Shelf) -> dict[str, ShelfProblems]:
    """The same of orders that are left out, by order: the week's sheet says why they stay."""
    return _own_letters(((one.order, (), (one,)) for one in lines_out), shelf)


def _own_letters(
    each: Iterable[tuple[str, Sequence[Parcel], Sequence[LineOut]]], shelf: Shelf
) -> dict[str, ShelfProblems]:
    of_all = _letter_problems((), (), shelf)
    found = {name: _letter_problems(parcels, lines_out, shelf) for name, parcels, lines_out in each}
    return {
        name: ShelfProblems(own)
        for name, problems in found.items()
        if (own := tuple(one for one in problems if one not in of_all))
    }


def _letter_problems(
    parcels: Sequence[Parcel], lines_out: Sequence[LineOut], shelf: Shelf
) -> tuple[Problem, ...]:
    """Letters that neither our fonts nor the breeder's own can print, or why theirs cannot be taken."""
    try:
        return letter_problems(parcels, lines_out, shelf, typeface_of(shelf.settings.papers.font).lacking)
    except FontUnreadable as wrong:
        return (font_problem(wrong),)


def _write(job: _Job, processes: int) -> tuple[Path, ...]:
    inputs, folder = job.inputs, job.folder
    before = folder.listed()
    for bold in (False, True):
        font_of(bold)  # read once, whichever process draws
    entries: _Entries = {}
    writers = list(_writers(job))
    for made in of_each(writers, lambda writer: writer.write(), attrgetter("work"), MANY_WORK, processes):
        entries |= made
    if job.is_whole:
        folder.remove_stale(before, entries, inputs.plan.week, inputs.packed)
    manifest = folder.write_manifest(inputs.plan.week, inputs.today.isoformat(), before | entries)
    return (*(folder.folder / name for name in sorted(entries)), manifest)


def _writers(job: _Job) -> Iterator[_FilesToWrite]:
    """What writes each file, and one that writes all messages."""
    for file in job.files():
        yield _FilesToWrite(partial(_make, job, file), 6 * len(file.parcels))
    if (not job.only or "notice" in job.only) and not is_over(job.inputs.plan.week, job.inputs.today):
        yield _FilesToWrite(partial(_mails, job), len(job.parcels))


def _make(job: _Job, file: PaperFile) -> _Entries:
    """Write one file; its entry for the manifest. A file without a sheet is none."""
    sheets = file.sheets()
    if not sheets:
        return {}
    author = clean(job.inputs.shelf.settings.sender.name)
    content = bound(
        sheets,
        job.inputs.typeface,
        title=clean(file.title),
        author=author,
        subject=", ".join(dict.fromkeys(clean(sheet.title) for sheet in sheets if sheet.title)),
        today=job.inputs.today,
        two_sided=job.two_sided,
    )
    name, digest = job.folder.write(file.name, content)
    stands = ((parcel, job.inputs.items.get(parcel.parcel, "")) for parcel in file.parcels)
    parcels = " ".join(f"{parcel.parcel}={_digest(parcel, item)}" for parcel, item in stands)
    return {name: {"file": name, "kind": file.kind, "of": file.of, "sha256": digest, "parcels": parcels}}


def _digest(parcel: Parcel, item: str) -> str:
    """What tells a parcel from what it was when its papers were last printed."""
    stands = json.dumps([asdict(parcel), item], default=str, sort_keys=True)
    return sha256(stands.encode()).hexdigest()[:16]


def _mails(job: _Job) -> _Entries:
    """One message a buyer, as a draft for a mail program."""
    inputs, entries = job.inputs, _Entries()
    sender = inputs.shelf.settings.sender
    taken: set[str] = set()
    for notice in notices(inputs, job.parcels, with_lines_out=job.parcel is None):
        week = "" if notice.of.startswith(inputs.plan.week) else f"{inputs.plan.week}-order-"
        stem = _free_name(safe_name(f"{week}{notice.of}"), taken)
        content = eml(notice, clean(sender.name), clean(sender.mail), inputs.today)
        name, digest = job.folder.write(f"mail/{stem}.eml", content)
        entries[name] = {"file": name, "kind": "notice", "of": notice.of, "sha256": digest}
    return entries


def _free_name(name: str, taken: set[str]) -> str:
    """The name, with a number behind it if it is taken; it is taken afterwards (whatever its case)."""
    free, number = name, 2
    while free.casefold() in taken:
        free, number = f"{name}-{number}", number + 1
    taken.add(free.casefold())
    return free


def _day_files(parcels: Sequence[Parcel], inputs: PaperInputs) -> Iterator[PaperFile]:
    """A file a day with all that is printed for it, the week's sheet first; ``parcels`` in packing order."""
    week = inputs.plan.week
    days = _days(parcels)
    if not days:
        yield PaperFile(
            f"print/{week}-week.pdf", "pick-list", week, week, partial(_week_sheets, parcels, inputs)
        )
    for when in days:
        own = [parcel for parcel in parcels if parcel.dispatch_on == when]
        name = f"{week}-{when.isoformat()}"
        front = partial(_week_sheets, parcels, inputs) if when == days[0] else tuple
        sheets = partial(_day_sheets, when, own, front, inputs)
        title = when.isoformat()
        yield PaperFile(f"print/{name}.pdf", "day", week, title, sheets, tuple(own))
        yield PaperFile(
            f"print/{name}-labels.pdf", "label", week, f"{name} labels", partial(_printer_labels, own, inputs)
        )


def _one_file(parcels: Sequence[Parcel], inputs: PaperInputs) -> PaperFile:
    """What is printed of parcels in packing order: day after day, where some of a day leave on a later."""
    title = ", ".join(when.isoformat() for when in _days(parcels))

    def sheets() -> Sequence[PaperSheet]:
        by_day = grouped((parcel.dispatch_on, parcel) for parcel in parcels)
        return [sheet for when, own in by_day.items() for sheet in _day_sheets(when, own, tuple, inputs)]

    return PaperFile("print/all.pdf", "day", inputs.plan.week, title, sheets, tuple(parcels))


def _kind_files(parcels: Sequence[Parcel], inputs: PaperInputs, only: frozenset[str]) -> Iterator[PaperFile]:
    """A file of its own for each kind wanted: of the week, or for slips, care and customs of each parcel."""
    week = inputs.plan.week
    shared: dict[str, Callable[[], Sequence[PaperSheet]]] = {
        "pick-list": partial(_pick_lists, parcels, inputs),
        "label": partial(_all_labels, parcels, inputs),
        "tags": partial(tag_sheets, parcels, inputs),
    }
    for kind, sheets in shared.items():
        if kind in only:
            yield PaperFile(f"print/{week}-{kind}.pdf", kind, week, f"{week} {kind}", sheets)
    for parcel in parcels:
        for kind in _OF_A_PARCEL:
            if kind in only:
                yield _parcel_file(parcel, inputs, frozenset({kind}), kind)


def _parcel_files(parcel: Parcel, inputs: PaperInputs, only: frozenset[str]) -> Iterator[PaperFile]:
    if not only:
        yield _parcel_file(parcel, inputs, frozenset(KINDS), "")
    for kind in KINDS:
        if kind in only and kind not in ("pick-list", "notice"):
            yield _parcel_file(parcel, inputs, frozenset({kind}), kind)


def _parcel_file(parcel: Parcel, inputs: PaperInputs, kinds: frozenset[str], ending: str) -> PaperFile:
    name = "-".join(part for part in (parcel.parcel, ending) if part)
    sheets = partial(_parcel_sheets, parcel, inputs, kinds)
    return PaperFile(f"parcels/{safe_name(name)}.pdf", ending or "parcel", parcel.parcel, name, sheets)


def _days(parcels: Sequence[Parcel]) -> list[date]:
    return sorted({parcel.dispatch_on for parcel in parcels})


def _week_sheets(parcels: Sequence[Parcel], inputs: PaperInputs) -> Sequence[PaperSheet]:
    return (week_sheet(parcels, inputs),)


def _day_sheets(
    when: date, parcels: Sequence[Parcel], front: Callable[[], Sequence[PaperSheet]], inputs: PaperInputs
) -> Sequence[PaperSheet]:
    """The pick list, customs data on its back, a leaf a parcel, and what is cut: labels and tags."""
    customs = [sheet for parcel in parcels if (sheet := customs_sheet(parcel, inputs))]
    sheets = [*front(), pick_list(when, parcels, inputs), *customs]
    for parcel in parcels:
        sheets += [slip(parcel, inputs), care_sheet(parcel, inputs)]
    return [*sheets, *label_sheets(parcels, inputs).shared, *tag_sheets(parcels, inputs)]


def _pick_lists(parcels: Sequence[Parcel], inputs: PaperInputs) -> Sequence[PaperSheet]:
    days = [[parcel for parcel in parcels if parcel.dispatch_on == when] for when in _days(parcels)]
    return (week_sheet(parcels, inputs), *(pick_list(own[0].dispatch_on, own, inputs) for own in days))


def _printer_labels(parcels: Sequence[Parcel], inputs: PaperInputs) -> Sequence[PaperSheet]:
    return label_sheets(parcels, inputs).printer


def _all_labels(parcels: Sequence[Parcel], inputs: PaperInputs) -> Sequence[PaperSheet]:
    made = label_sheets(parcels, inputs)
    return (*made.shared, *made.printer)


def _parcel_sheets(parcel: Parcel, inputs: PaperInputs, kinds: frozenset[str]) -> Sequence[PaperSheet]:
    sheets: list[PaperSheet] = []
    if "slip" in kinds:
        sheets.append(slip(parcel, inputs))
    if "care" in kinds:
        sheets.append(care_sheet(parcel, inputs))
    if "customs" in kinds and (form := customs_sheet(parcel, inputs)):
        sheets.append(form)
    if "label" in kinds:
        sheets += _all_labels((parcel,), inputs)
    return [*sheets, *tag_sheets((parcel,), inputs)] if "tags" in kinds else sheets

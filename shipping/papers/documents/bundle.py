"""Which files a plan's papers make up, and which sheets stand in each: parcels in, files out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

from shipping.papers.documents.care_sheet import care_sheet
from shipping.papers.documents.contents import Desk
from shipping.papers.documents.customs_sheet import customs_sheet
from shipping.papers.documents.label import label_sheets
from shipping.papers.documents.pick_list import pick_list, week_sheet
from shipping.papers.documents.slip import slip
from shipping.papers.documents.tags import tag_sheets
from shipping.papers.folder import safe_name
from shipping.papers.page.book import PaperSheet
from shipping.week.plan_data import Parcel

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


def day_files(parcels: Sequence[Parcel], desk: Desk) -> Iterator[PaperFile]:
    """A file a day with all that is printed for it, the week's sheet first; ``parcels`` in packing order."""
    week = desk.plan.week
    days = _days(parcels)
    if not days:
        yield PaperFile(
            f"print/{week}-week.pdf", "pick-list", week, week, partial(_week_sheets, parcels, desk)
        )
    for when in days:
        own = [parcel for parcel in parcels if parcel.dispatch_on == when]
        name = f"{week}-{when.isoformat()}"
        front = partial(_week_sheets, parcels, desk) if when == days[0] else tuple
        sheets = partial(_day_sheets, when, own, front, desk)
        yield PaperFile(f"print/{name}.pdf", "day", week, name, sheets, tuple(own))
        yield PaperFile(
            f"print/{name}-labels.pdf", "label", week, f"{name} labels", partial(_printer_labels, own, desk)
        )


def kind_files(parcels: Sequence[Parcel], desk: Desk, only: frozenset[str]) -> Iterator[PaperFile]:
    """A file of its own for each kind wanted: of the week, or for slips, care and customs of each parcel."""
    week = desk.plan.week
    shared: dict[str, Callable[[], Sequence[PaperSheet]]] = {
        "pick-list": partial(_pick_lists, parcels, desk),
        "label": partial(_all_labels, parcels, desk),
        "tags": partial(tag_sheets, parcels, desk),
    }
    for kind, sheets in shared.items():
        if kind in only:
            yield PaperFile(f"print/{week}-{kind}.pdf", kind, week, f"{week} {kind}", sheets)
    for parcel in parcels:
        for kind in _OF_A_PARCEL:
            if kind in only:
                yield _parcel_file(parcel, desk, frozenset({kind}), kind)


def parcel_files(parcel: Parcel, desk: Desk, only: frozenset[str]) -> Iterator[PaperFile]:
    """All papers of one parcel in one file, or a file for each kind wanted."""
    if not only:
        yield _parcel_file(parcel, desk, frozenset(KINDS), "")
    for kind in KINDS:
        if kind in only and kind not in ("pick-list", "notice"):
            yield _parcel_file(parcel, desk, frozenset({kind}), kind)


def _parcel_file(parcel: Parcel, desk: Desk, kinds: frozenset[str], ending: str) -> PaperFile:
    name = "-".join(part for part in (parcel.parcel, ending) if part)
    sheets = partial(_parcel_sheets, parcel, desk, kinds)
    return PaperFile(f"parcels/{safe_name(name)}.pdf", ending or "parcel", parcel.parcel, name, sheets)


def _days(parcels: Sequence[Parcel]) -> list[date]:
    return sorted({parcel.dispatch_on for parcel in parcels})


def _week_sheets(parcels: Sequence[Parcel], desk: Desk) -> Sequence[PaperSheet]:
    return (week_sheet(parcels, desk),)


def _day_sheets(
    when: date, parcels: Sequence[Parcel], front: Callable[[], Sequence[PaperSheet]], desk: Desk
) -> Sequence[PaperSheet]:
    """The pick list, customs data on its back, a leaf a parcel, and what is cut: labels and tags."""
    customs = [sheet for parcel in parcels if (sheet := customs_sheet(parcel, desk))]
    sheets = [*front(), pick_list(when, parcels, desk), *customs]
    for parcel in parcels:
        sheets += [slip(parcel, desk), care_sheet(parcel, desk)]
    return [*sheets, *label_sheets(parcels, desk).shared, *tag_sheets(parcels, desk)]


def _pick_lists(parcels: Sequence[Parcel], desk: Desk) -> Sequence[PaperSheet]:
    days = [[parcel for parcel in parcels if parcel.dispatch_on == when] for when in _days(parcels)]
    return (week_sheet(parcels, desk), *(pick_list(own[0].dispatch_on, own, desk) for own in days))


def _printer_labels(parcels: Sequence[Parcel], desk: Desk) -> Sequence[PaperSheet]:
    return label_sheets(parcels, desk).printer


def _all_labels(parcels: Sequence[Parcel], desk: Desk) -> Sequence[PaperSheet]:
    made = label_sheets(parcels, desk)
    return (*made.shared, *made.printer)


def _parcel_sheets(parcel: Parcel, desk: Desk, kinds: frozenset[str]) -> Sequence[PaperSheet]:
    sheets: list[PaperSheet] = []
    if "slip" in kinds:
        sheets.append(slip(parcel, desk))
    if "care" in kinds:
        sheets.append(care_sheet(parcel, desk))
    if "customs" in kinds and (form := customs_sheet(parcel, desk)):
        sheets.append(form)
    if "label" in kinds:
        sheets += _all_labels((parcel,), desk)
    return [*sheets, *tag_sheets((parcel,), desk)] if "tags" in kinds else sheets

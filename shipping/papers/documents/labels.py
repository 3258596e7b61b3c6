"""The labels: parcels in, address labels and the tags of their tubes and bags on sheets or one to a printer
out; postage is not their matter.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

from shipping.papers.documents.contents import PaperInputs, Unit, is_collected, units_of
from shipping.papers.documents.customs_sheet import crosses_customs, goes_as_parcel
from shipping.papers.documents.slip import (
    count_words,
    dates_words,
    kind_words,
    lot_words,
    population_words,
    stage_words,
)
from shipping.papers.page import layout
from shipping.papers.page.drawing import Surface, wrapped
from shipping.papers.page.fonts import Typeface
from shipping.papers.page.layout import ACCENT, GREY, LABEL_MARGIN, LEADING, MM, TAG_MARGIN
from shipping.papers.page.pdf_file import Grid, PaperSheet, grid_sheets, shared_grid
from shipping.papers.wording.language import clean, number, post_language, short_day
from shipping.papers.wording.markdown import plain_text
from shipping.papers.wording.phrases import Wording
from shipping.post.address import country_line, home_lines, label_lines
from shipping.tables.rows.orders import is_in_other_letters, split_address
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel
from shipping.words.keys import grouped

#: The letters of a Code 128 that S10 numbers are printed under, in groups.
_GROUPS = ((0, 2), (2, 5), (5, 8), (8, 11), (11, 13))
#: Labels that share a sheet unless the settings say otherwise: columns and rows of a sheet.
_SHARED = {"A6": (2, 2), "flat": (2, 4)}
#: On a label printer labels have a page of their own size; labels of these sizes go there by themselves.
_PRINTER = ("102x152", "4x6")
#: Stickers take labels from this size on [mm].
_STICKER = (80.0, 45.0)
#: On a small label the address is set no smaller than this, as long as something else can be left out, and no
#: smaller than the second for the sake of a second language [points].
_READABLE, _LARGE_ENOUGH = 9.0, 12.0
#: The address gives way to larger handling lines down to this: both are read from an arm's length [points].
_ARMS_LENGTH = 15.0
#: Sizes tried for the handling lines of a large and of a small label, largest first [points].
_HANDLING = {True: (13.0, 12.0, 11.0, 10.0, 9.0), False: (9.0, 8.0, 7.2, 6.4)}
#: Stands between a country's name for posts abroad and the one for the post at home.
_BETWEEN = " / "
_SIZES = (18.0, 16.5, 15.0, 13.5, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.2)


class LabelSheets(NamedTuple):
    """Labels by where they are printed: on sheets like all other papers, or on a label printer."""

    shared: tuple[PaperSheet, ...]
    printer: tuple[PaperSheet, ...]


def label_sheets(parcels: Sequence[Parcel], inputs: PaperInputs) -> LabelSheets:
    """The labels of the parcels in packing order; none for what is fetched in person."""
    papers = inputs.shelf.settings.papers
    outline = (inputs.wording(inputs.own_language).term("pile_labels"),)
    cells = [_cell(parcel, inputs) for parcel in parcels if not is_collected(parcel)]
    stickers = papers.stickers
    if stickers and stickers.width_mm >= _STICKER[0] and stickers.height_mm >= _STICKER[1]:
        grid, first = Grid.of_stickers(stickers, papers.paper), inputs.first_sticker
        made = grid_sheets(cells, grid, papers.paper, "en", outline=outline, first=first, cut=False)
        return LabelSheets(made, ())
    if (papers.label_on or ("printer" if papers.label in _PRINTER else "sheet")) == "printer":
        width, height = layout.PAPERS[papers.label]
        whole = Grid(1, 1, width, height, 0.0, height)
        made = grid_sheets(cells, whole, papers.label, "en", outline=outline, cut=False, fresh_leaf=False)
        return LabelSheets((), made)
    grid = _sheet_grid(papers.paper, papers.label)
    return LabelSheets(grid_sheets(cells, grid, papers.paper, "en", outline=outline), ())


def _sheet_grid(paper: str, label: str) -> Grid:
    """How labels share a sheet of paper: as many of their size as it holds, or a quarter of it each."""
    columns, rows = _SHARED.get(label, (2, 2))
    width, height = layout.PAPERS[paper]
    wide, tall = layout.PAPERS[label]
    wide, tall = min(wide, width / columns), min(tall, height / rows)
    return Grid(rows, columns, wide, tall, (width - columns * wide) / 2, height - (height - rows * tall) / 2)


def _cell(parcel: Parcel, inputs: PaperInputs) -> Callable[[Surface, float, float, float, float], None]:
    def draw(surface: Surface, left: float, top: float, width: float, height: float) -> None:
        edge = LABEL_MARGIN if height > 60 * MM else layout.TAG_MARGIN
        surface.canvas.saveState()
        surface.canvas.translate(left + edge, top - edge)
        _Label(surface, parcel, inputs, width - 2 * edge, height - 2 * edge).draw()
        surface.canvas.restoreState()

    return draw


class _Parts(NamedTuple):
    """What stands below the address; on a small label the address comes first."""

    handling: tuple[str, ...]
    size: float
    bars: bool = True


class _Label:
    """One label, drawn from (0, 0) at its top left into a width and height [points]."""

    def __init__(
        self, surface: Surface, parcel: Parcel, inputs: PaperInputs, width: float, height: float
    ) -> None:
        self.surface, self.parcel, self.inputs, self.width, self.height = (
            surface,
            parcel,
            inputs,
            width,
            height,
        )
        self.is_large = height > 110 * MM
        self.wording = label_wording(parcel, inputs)

    def draw(self) -> None:
        room = self.height - self._sender()
        parts = self._parts(room)
        below = self._foot_height(parts)
        self._foot(parts)
        self._address(self._address_size(room - below) or _SIZES[-1], -(self.height - room), room - below)

    def _parts(self, room: float) -> _Parts:
        """What stands below the address, in ``room`` [points]: on a large label all of it. On a small one one
        language, then the bars, which the post's own sticker has too, are left out before the word that
        the eggs are alive.
        """
        sizes = _HANDLING[self.is_large]
        said = handling_lines(self.parcel, self.inputs) if self._has_handling else ()
        least = [(_Parts(said, sizes[-1]), 0.0 if self.is_large else _LARGE_ENOUGH)]
        least += [(_Parts(said[:1], sizes[-1], bars), _READABLE) for bars in (True, False)]
        least.append((_Parts((), sizes[-1], bars=False), 0.0))

        def address(parts: _Parts) -> float:
            return self._address_size(room - self._foot_height(parts))

        parts = next(parts for parts, at_least in least if address(parts) >= at_least)
        enough = min(address(parts), _ARMS_LENGTH)
        return next(
            larger for larger in (parts._replace(size=size) for size in sizes) if address(larger) >= enough
        )

    def _sender(self) -> float:
        """The sender's lines in small type, and the parcel's name at the right; with their height."""
        sender, size = self.inputs.shelf.settings.sender, 8.4 if self.is_large else 6.2
        name_size = 11.5 if self.is_large else 9.0
        name = self.surface.words(
            self.width, -name_size * 0.85, self.parcel.parcel, name_size, bold=True, anchor="end"
        )
        self.surface.egg(size * 0.55, -size * 0.7, size * 0.55)
        lines = [clean(line) for line in (sender.name, *home_lines(self.inputs.shelf.settings)) if line]
        if self.parcel.address.country != self.inputs.shelf.settings.home.country:
            lines.append(country_line(self.inputs.shelf.settings.home.country, sender_language(self.inputs)))
        lines += [clean(sender.tel).replace(" ", "\u00a0")] if sender.tel and self.is_large else []
        face, left = self.surface.typeface, size * 1.6
        whom = self.wording.term("of_topic", topic=self.wording.term("from"), said=lines[0])
        room = self.width - name - size * 2.4
        first = wrapped(whom, size, room, face, True)
        rest = _line_by_line(lines[1:], size, self.width - left, face)
        deep = self.surface.lines(left, 0, first, size, bold=True)
        deep += self.surface.lines(left, -deep, rest, size) + 2
        self.surface.line(0, -deep, self.width, -deep, colour=ACCENT, width=1.0)
        return deep + 3

    def _address_lines(self, size: float) -> tuple[list[tuple[str, bool, bool]], list[str], bool]:
        """Lines of (text, bold, is the country), those set apart below; is none parted but the country's?"""
        latin, local = address_blocks(self.parcel, self.inputs)
        abroad = self.parcel.address.country != self.inputs.shelf.settings.home.country
        last = len(latin) - 1 if abroad else -1
        whom = latin.index(self._addressee) if self._addressee in latin else 0
        room, face = self.width - self._indent, self.surface.typeface
        parted = [
            wrapped(line, size, room, face, number in (whom, last)) for number, line in enumerate(latin)
        ]
        lines = [
            (part, number in (whom, last), number == last)
            for number, parts in enumerate(parted)
            for part in parts
        ]
        below = [part for line in (*local, *self._tel) for part in wrapped(line, size * 0.72, room, face)]
        whole = [[line] for line in latin]
        if abroad and len(parted[last]) > 1:
            parted[last] = [part.removesuffix(_BETWEEN.rstrip()) for part in parted[last]]
            whole[last] = latin[last].split(_BETWEEN)
        return lines, below, parted == whole

    @property
    def _tel(self) -> tuple[str, ...]:
        """The addressee's telephone, which couriers and customs call; no letter carrier needs it."""
        asked = goes_as_parcel(self.parcel, self.inputs) or crosses_customs(self.parcel, self.inputs.shelf)
        if not (self.is_large and asked and self.parcel.tel):
            return ()
        return (self.wording.term("tel", tel=clean(self.parcel.tel).replace(" ", "\u00a0")),)

    @property
    def _addressee(self) -> str:
        return clean(self.parcel.address.addressee)

    @property
    def _indent(self) -> float:
        return 6 * MM if self.is_large else 2 * MM

    def _deep(self, size: float) -> float:
        lines, local, _ = self._address_lines(size)
        deep = len(lines) * size * LEADING + (size * 0.25 if any(last for _, _, last in lines) else 0)
        return deep + (size * 0.8 + len(local) * size * 0.72 * LEADING if local else 0)

    def _address_size(self, room: float) -> float:
        """The largest type size at which the address finds room; 0 where not even the smallest does."""
        for size in _SIZES:
            if self._deep(size) <= room and (self._address_lines(size)[2] or size <= 12):
                return size
        return 0.0

    def _address(self, size: float, top: float, room: float) -> None:
        """The addressee's lines, the country last and bold; below a thin line what is set apart."""
        lines, local, _ = self._address_lines(size)
        y = top - max(0.0, (room - self._deep(size)) * 0.42)
        is_country = False
        for text, bold, last in lines:
            y -= size * 0.25 if last and not is_country else 0
            is_country = last
            self.surface.words(self._indent, y - size, text, size, bold=bold)
            y -= size * LEADING
        if local:
            over = y - size * 0.4
            self.surface.line(self._indent, over, self.width * 0.6, over, colour=GREY, width=0.5)
            self.surface.lines(self._indent, y - size * 0.8, local, size * 0.72)

    @property
    def _item(self) -> str:
        """The item's number, where the label has room for it."""
        return self.inputs.items.get(self.parcel.parcel, "") if self.width > 68 * MM else ""

    @property
    def _has_handling(self) -> bool:
        return self.is_large or (self.width > 70 * MM and self.height > 50 * MM)

    def _foot_height(self, parts: _Parts) -> float:
        small = 7.2 if self.is_large else 5.6
        deep = 1 + small + 4
        if self._item:
            deep += (9.5 if self.is_large else 7.5) + 2 + (layout.BAR_HEIGHT + 6 if parts.bars else 0)
        return deep + (self._handling(parts, 0.0, draw=False) + 4 if parts.handling else 0)

    def _foot(self, parts: _Parts) -> None:
        """From below: the remark on postage, the item's number as bars, the handling lines in a frame."""
        surface, size = self.surface, 7.2 if self.is_large else 5.6
        y = -self.height + 1
        remark = surface.words(0, y, self.wording.term("address_only"), size, colour=GREY)
        service = clean(self.parcel.service)
        if surface.typeface.measure(service) * size + remark < self.width - 8:
            surface.words(self.width, y, service, size, colour=GREY, anchor="end")
        y += size + 4
        if item := self._item:
            words, word_size = " ".join(item[a:b] for a, b in _GROUPS), 9.5 if self.is_large else 7.5
            surface.words(self.width / 2, y + 1, words, word_size, bold=True, anchor="middle")
            y += word_size + 2
            if parts.bars:
                surface.bars(self.width / 2, y, layout.BAR_HEIGHT, layout.BAR_MODULE, item)
                y += layout.BAR_HEIGHT + 6
        if parts.handling:
            self._handling(parts, y, draw=True)

    def _handling(self, parts: _Parts, foot: float, draw: bool) -> float:
        """How to handle the parcel, framed; its height [points]."""
        size, face = parts.size, self.surface.typeface
        lines = [part for line in parts.handling for part in wrapped(line, size, self.width - 22, face, True)]
        height = len(lines) * size * LEADING + 9
        if draw:
            self.surface.box(0, foot, self.width, height, outline="#000000", weight=1.4)
            self.surface.box(0, foot, 5, height, fill=ACCENT)
            self.surface.lines(12, foot + height - 5, lines, size, bold=True)
        return height


def _line_by_line(lines: Sequence[str], size: float, room: float, face: Typeface) -> list[str]:
    """Lines of an address one behind the other; a town keeps its postcode where it finds room."""
    dot = "\u00a0·"
    whole = (
        line.replace(" ", "\u00a0") if face.measure(line + dot) * size <= room else line for line in lines
    )
    return [part.removesuffix(dot) for part in wrapped(f"{dot} ".join(whole), size, room, face)]


def label_wording(parcel: Parcel, inputs: PaperInputs) -> Wording:
    """What papers speak at home; abroad English, which every post reads, or the breeder's French."""
    home = inputs.shelf.settings.home.country
    if parcel.address.country == home:
        return inputs.wording(inputs.language_of(None, home))
    return inputs.wording("fr" if inputs.own_language == "fr" else "en")


def sender_language(inputs: PaperInputs) -> str:
    """The breeder's own language, for the post at home; it may be one that papers are not worded in."""
    return next(iter(inputs.shelf.settings.papers.languages), "en")


def address_blocks(parcel: Parcel, inputs: PaperInputs) -> tuple[list[str], list[str]]:
    """The lines of the address that every post reads, and those in the destination's own letters, set apart
    below.

    A country's name is not parted at a line's end; where it stands in two languages, the line may be parted
    between them.
    """
    latin, local = split_address(parcel.address)
    address = replace(parcel.address, delivery=tuple(map(clean, latin)))
    home = inputs.shelf.settings.home.country
    lines = [clean(line) for line in label_lines(address, home, sender_language(inputs))]
    if address.country != home:
        lines[-1] = _BETWEEN.join(name.replace(" ", "\u00a0") for name in lines[-1].split(_BETWEEN))
    return lines, [clean(line) for line in local]


def is_unread_at_home(parcel: Parcel) -> bool:
    """Has the address no delivery line or town in Latin letters, which the post at home could sort by?"""
    address = parcel.address
    said = [line for line in (*address.delivery, address.town) if any(map(str.isalpha, line))]
    return bool(said) and all(map(is_in_other_letters, said))


def handling_lines(parcel: Parcel, inputs: PaperInputs) -> tuple[str, ...]:
    """How to handle the parcel, in the language of where it starts and of where it goes."""
    low, high = keep_range(parcel, inputs.shelf)
    country, home = parcel.address.country, inputs.shelf.settings.home.country
    posts = (
        (post_language(country, parcel.language, parcel.address.postcode), country),
        (post_language(home, inputs.own_language), home),
    )
    wordings = (inputs.wording_in(language, *read_in) for language, read_in in grouped(posts).items())

    def said(wording: Wording) -> str:
        known = {"low": low, "high": high}
        fields = {name: "" if c is None else number(c, wording.language) for name, c in known.items()}
        return clean(plain_text(wording.markdown("handling", **fields)))

    return tuple(map(said, wordings))


def keep_range(parcel: Parcel, shelf: Shelf) -> tuple[float | None, float | None]:
    """The warmth all species of the parcel stand [C]; None where one is not known."""
    lows, highs = [], []
    for species in (unit.species for unit in units_of(parcel, shelf)):
        if species.keep_min_c is None or species.keep_max_c is None:
            return None, None
        lows.append(species.keep_min_c)
        highs.append(species.keep_max_c)
    return (max(lows), min(highs)) if lows and max(lows) < min(highs) else (None, None)


#: Width and height of a tag that wraps a 15 ml tube, whose girth is about 52 mm [points].
SLIM = (60 * MM, 22 * MM)
#: Sizes tried for the lines of a tag, largest first [points].
_TAG_SIZES = (13.0, 12.0, 11.0, 10.0, 9.2, 8.5, 7.8, 7.2, 6.6, 6.0, 5.4, 4.8)
#: So many of them can be read on a wet tube; of those, the first are taken only where no line is parted.
_ON_A_WET_TUBE, _UNPARTED = 11, 3
#: How much larger the count is than the lines.
_COUNT = 2.3


def tag_sheets(parcels: Sequence[Parcel], inputs: PaperInputs) -> tuple[PaperSheet, ...]:
    """The tags of the parcels' units in packing order, twelve to a sheet, or on the stickers that are set."""
    papers = inputs.shelf.settings.papers
    outline = (inputs.wording(inputs.own_language).term("pile_tags"),)
    draws = [draw for parcel in parcels for draw in _draws(parcel, inputs)]
    if papers.stickers is not None:
        grid = Grid.of_stickers(papers.stickers, papers.paper)
        first = inputs.first_sticker
        return grid_sheets(
            draws, grid, papers.paper, inputs.own_language, outline=outline, first=first, cut=False
        )
    grid = shared_grid(papers.paper, SLIM if papers.tags == "slim" else None)
    return grid_sheets(draws, grid, papers.paper, inputs.own_language, outline=outline)


def _draws(
    parcel: Parcel, inputs: PaperInputs
) -> list[Callable[[Surface, float, float, float, float], None]]:
    wording = inputs.wording_for(parcel)

    def drawer(unit: Unit) -> Callable[[Surface, float, float, float, float], None]:
        def draw(surface: Surface, left: float, top: float, width: float, height: float) -> None:
            draw_tag(surface, (left, top, width, height), tag_lines(parcel, unit, wording))

        return draw

    return [drawer(unit) for unit in units_of(parcel, inputs.shelf)]


def tag_lines(parcel: Parcel, unit: Unit, wording: Wording) -> tuple[str, ...]:
    """What a tag says: the count first, then line by line."""
    begin, end = unit.lot.laid_from, unit.lot.laid_to
    last = f"{short_day(end, wording.language)} {end.year}"
    first = short_day(begin, wording.language) + (f" {begin.year}" if begin.year != end.year else "")
    lot = f"{lot_words(unit.lot.lot, wording)} · {stage_words(unit.draw.stage, wording)}"
    lines = (
        count_words(unit.eggs, unit.about, wording),
        clean(unit.species.scientific_name),
        population_words(unit.lot.population, wording),
        lot,
        wording.term("laid", early=first if begin != end else last, late=last if begin != end else ""),
        dates_words(unit, parcel, wording),
        f"{parcel.parcel} · {kind_words(unit.packing.kind, wording)}\u00a0{unit.number}/{unit.of}",
    )
    return tuple(line for line in lines if line)


def draw_tag(surface: Surface, place: tuple[float, float, float, float], lines: tuple[str, ...]) -> None:
    """One tag at (left, top) of a width and height [points]: one type size, the count largest; that it is
    only about so many stands before it in the size of the lines.
    """
    left, top, width, height = place
    left, top = left + TAG_MARGIN, top - TAG_MARGIN
    width, height = width - 2 * TAG_MARGIN, height - 2 * TAG_MARGIN
    said, *rest = lines
    about, _, count = said.rpartition("\u00a0")
    size, body = _fitting(surface, (about, count), rest, width, height)
    big = size * _COUNT
    wide = surface.typeface.measure(count, True) * big
    if about:
        surface.words(left + width - wide - 3, top - big * 0.8, about, size, bold=True, anchor="end")
    surface.words(left + width, top - big * 0.8, count, big, bold=True, anchor="end")
    surface.box(left, top - height, 2.0, height, fill=ACCENT)
    y = top - size
    for text, bold in body:
        surface.words(left + 6, y, text, size, bold=bold, colour="#000000" if bold else GREY)
        y -= size * LEADING
    assert wide < width or size == _TAG_SIZES[-1]


def _fitting(
    surface: Surface, said: tuple[str, str], rest: Sequence[str], width: float, height: float
) -> tuple[float, list[tuple[str, bool]]]:
    """The largest type size at which all lines find room beside and below the count, and the lines.

    Where only a very small one would do, lines below the fish's name are cut short, its parcel's code never.
    """
    face, (about, count) = surface.typeface, said
    said_wide = face.measure(count, True) * _COUNT + face.measure(about, True)
    body: list[tuple[str, bool]] = []
    for sizes, is_whole in ((_TAG_SIZES[:_ON_A_WET_TUBE], True), (_TAG_SIZES, False)):
        for size in sizes:
            beside = width - 6 - said_wide * size - (7 if about else 4)
            body = _body(rest, size, (beside, width - 6), face, is_whole)
            if size in _TAG_SIZES[:_UNPARTED] and len(body) > len(rest):
                continue
            if len(body) * size * LEADING <= height and beside > width * 0.4:
                return size, body
    most = max(1, int(height / (_TAG_SIZES[-1] * LEADING)))
    return _TAG_SIZES[-1], body[:most]


def _body(
    rest: Sequence[str], size: float, widths: tuple[float, float], face: Typeface, is_whole: bool
) -> list[tuple[str, bool]]:
    """The lines and whether each is bold; those at the height of the count have less room than others."""
    body: list[tuple[str, bool]] = []
    for row, text in enumerate(rest):
        while text:
            is_beside = len(body) * size * LEADING < size * _COUNT * 0.95
            room = max(widths[0] if is_beside else widths[1], 8.0)
            first, *more = wrapped(text, size, room, face, row == 0)
            if more and not (is_whole or row == 0):
                first, more = _shortened(text, size, room, face), []
            body.append((first, row == 0))
            text = " ".join(more)
    return body


def _shortened(text: str, size: float, room: float, face: Typeface) -> str:
    """As much of a text as stands on one line, and a mark that it goes on."""
    while text and face.measure(f"{text}\u2026") * size > room:
        text = text[:-1]
    return f"{text}\u2026"

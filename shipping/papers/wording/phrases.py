"""Wording: a template and fields, or a reason, in; Markdown or a sentence out. The breeder's copy wins."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from shipping.papers.wording.language import (
    bench_day,
    clean,
    dated_day,
    full_day,
    money,
    name_of_month,
    number,
    share,
    warmth,
)
from shipping.tables.countries import with_the
from shipping.tables.rows.packings import PACKING_KINDS
from shipping.tables.rows.species import Species
from shipping.tables.spelling import nearest
from shipping.words.keys import OWED_AGAIN
from shipping.words.problems import Level, Problem, Where
from shipping.words.reasons import BUYERS_MOVE, Note, Reason, Verdict, in_vain
from shipping.words.sentence import Sentence, with_singulars
from shipping.words.units import in_plain_words, shipped_folder


def _names(text: str) -> frozenset[str]:
    return frozenset(text.split())


_OPENING = _names("eyed into_water wet_now")
_CARE = _names(
    "fish scientific population count lot medium kept_at low high depth salt treatment hatch_from hatch_usual"
    " hatch_basis hatch_until wet_at_once cue cue_wets first_food small_fry egg_size culture_on shrimp_on"
    " adult tank water_note"
)
_NOTICE = _names("addressee sender orders lines reasons moves paid until contact first last")
_GOING = _names(
    "parcel sent_on arrive_early arrive_usual arrive_late one_day usual_is_first by item_id fetched customs"
    " into_dish several stay_damp small_fry"
)
#: Every template with the fields it may use. A field not listed here is an error in the template.
FIELDS: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "handling": frozenset({"low", "high"}),
        **{f"opening-{kind.word.replace(' ', '-')}": _OPENING for kind in PACKING_KINDS},
        "care-water": _CARE,
        "care-damp": _CARE,
        "care-into-water": _CARE,
        "water-soft": frozenset({"water_note", "salt"}),
        "water-hard": frozenset({"water_note", "salt"}),
        "water-brackish": frozenset({"water_note", "salt"}),
        "water-any": frozenset({"water_note", "salt"}),
        "care-chances": _names(
            "count population one_pair two_pairs trio hatch_share raise_share female_share"
        ),
        "care-shared": frozenset({"heat_pack"}),
        "notice-go": _NOTICE | _GOING,
        "notice-wait": _NOTICE,
        "notice-hold": _NOTICE,
        "notice-stop": _NOTICE | {"part", "season"},
    }
)
#: Files of phrases by name: they hold no fields of their own but those of our phrases.
PHRASES = ("terms", "reasons", "bench-reasons", "next-steps", "bench-notes")
#: Files of texts with their translations below them: of the tables, and of the page.
TRANSLATIONS = ("sentences", "page", "refusals")
#: Files whose phrases may leave out none of their fields; those of reasons may say less than we do.
WHOLE_PHRASES = frozenset({"terms"})
#: Fields a template may not leave out: without them the paper would not say what it is for.
NEEDED: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "care-water": frozenset({"hatch_from", "hatch_until", "salt"}),
        "care-damp": frozenset({"hatch_from", "hatch_until"}),
        "care-into-water": frozenset({"hatch_from", "hatch_until", "salt"}),
        "care-chances": frozenset({"one_pair", "count"}),
        "notice-go": frozenset({"parcel", "lines", "arrive_usual"}),
        "notice-wait": frozenset({"lines", "reasons"}),
        "notice-hold": frozenset({"lines", "reasons"}),
        "notice-stop": frozenset({"lines", "reasons"}),
    }
)
_TERM = re.compile(r"- ([a-z_-]+):\s*(.*)")
_FIELD = re.compile(r"{{\s*([a-z_]+)(?:\|(?:de|the))?\s*}}")
_ALONE = re.compile(r"{{ ([a-z_0-9]+) }}")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:°C|%|h|min|ml|l|g|kg|mm|cm|m)(?!\w))")
#: Degrees, one figure or two, with the marks behind them; figures in Markdown have their stops set off.
_DEGREES_READ = re.compile(
    r"(?:(-?\d+(?:\\?[.,]\d+)?)([ \u00a0]?(?:\\?[-–]|to|and|y|a|et|à|und|bis)[ \u00a0]?))?"
    r"(-?\d+(?:\\?[.,]\d+)?)[ \u00a0]°C([†‡§¶]*)(?![ \u00a0]\\?\()"
)
_FRENCH_STOPS = re.compile(r" (?=[;:!?»])|(?<=«) ")
_SPECIAL = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>~&])")


class MissingFactError(LookupError):
    """A phrase shows a fact that the reason does not have: a mistake of ours, never a blank."""


@dataclass(frozen=True, slots=True)
class _Plain:
    """A phrase in which fields stand alone, without conditions: filled in without making a program of it."""

    text: str

    def render(self, fields: Mapping[str, object]) -> str:
        return _ALONE.sub(lambda field: str(fields[field[1]]), self.text)


@lru_cache(maxsize=4096)
def _template_of(text: str, lenient: bool = False, markdown: bool = False) -> Any:
    """A phrase or a page in Markdown, ready to be rendered; every wording shares it."""
    text = with_singulars(text)
    rest = _ALONE.sub("", text)
    if not markdown and "{" not in rest and "}" not in rest:
        return _Plain(text)
    return _environment(markdown, lenient=lenient).from_string(text)


def escaped(value: object) -> object:
    """A value as Markdown that shows it as it is."""
    return _SPECIAL.sub(r"\\\1", value) if isinstance(value, str) else value


def is_one(count: object) -> bool:
    """Is it a count of one, in words too (``about 1``, ``1†``)? Templates ask ``{% if count|one %}``."""
    return str(count).rstrip("†").split()[-1:] == ["1"]


def with_de(name: object) -> str:
    """``d'Epiplatys``, ``de Nothobranchius``: a name behind the French word for of; ``{{ fish|de }}``."""
    first = unicodedata.normalize("NFD", str(name))[:1].casefold()
    return f"d'{name}" if first in "aeiouyœæ" else f"de {name}"


@lru_cache(maxsize=4)
def _environment(markdown: bool, lenient: bool = False) -> Any:
    from jinja2 import StrictUndefined, Undefined, UndefinedError

    class Shown(Undefined):
        """A fact that a condition may ask for and a phrase may not show."""

        def __str__(self) -> str:
            raise UndefinedError(f"'{self._undefined_name}' is undefined")

    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        undefined=Shown if lenient else StrictUndefined,
        autoescape=False,
        lstrip_blocks=True,
        finalize=escaped if markdown else None,
    )
    environment.filters["one"] = is_one
    environment.filters["de"] = with_de
    environment.filters["the"] = with_the
    return environment


def wording_files(shelf_folder: Path | None, name: str, language: str) -> tuple[Path, ...]:
    """Where a template is looked for, first to last: the breeder's copy, ours, then both in English."""
    folders = [folder / "wording" for folder in _template_folders(shelf_folder)]
    languages = dict.fromkeys((language, "en"))
    return tuple(folder / tongue / f"{name}.md" for tongue in languages for folder in folders)


def _template_folders(shelf_folder: Path | None) -> list[Path]:
    own = [shelf_folder / "templates"] if shelf_folder else []
    return [*own, shipped_folder("templates")]


def _fahrenheit_too(found: re.Match[str]) -> str:
    """``15 and 27 °C (59 and 81 °F)``."""
    first, between, last, _ = found.groups()
    both = [float(one.replace("\\", "").replace(",", ".")) * 9 / 5 + 32 for one in (first, last) if one]
    return f"{found[0]} ({(between or '').join(f'{degrees:.0f}' for degrees in both)}\u00a0°F)"


class Wording:
    """The wording in one language; where degrees are read in Fahrenheit, in both."""

    def __init__(self, shelf_folder: Path | None, language: str, in_fahrenheit: bool = False) -> None:
        self.shelf_folder = shelf_folder
        self.language = language
        self._in_fahrenheit = in_fahrenheit
        self._templates: dict[str, Any] = {}
        self._terms: dict[str, Any] = {}
        self._plain: dict[str, str] = {}
        self._books: dict[str, Mapping[str, str]] = {}

    @cached_property
    def in_fahrenheit(self) -> Wording:
        """The same wording for where degrees are read in Fahrenheit."""
        return Wording(self.shelf_folder, self.language, in_fahrenheit=True)

    def day(self, when: date, in_full: bool) -> str:
        """A day of a reason's or a note's facts, with whole names ``in_full``."""
        return (full_day if in_full else bench_day)(when, self.language)

    def has(self, name: str) -> bool:
        """Is there such a template?"""
        return any(path.is_file() for path in wording_files(self.shelf_folder, name, self.language))

    def markdown(self, name: str, **fields: object) -> str:
        """The template's Markdown with the fields put in, each shown as it is."""
        if name not in self._templates:
            self._templates[name] = _template_of(self._text(name), markdown=True)
        return self.set_off(str(self._templates[name].render(fields)))

    def term(self, key: str, **fields: object) -> str:
        """A short phrase, as plain text."""
        if key in self._plain:
            return self._plain[key]
        if key not in self._terms:
            self._terms[key] = _template_of(self.terms[key])
        said = clean(self.set_off(str(self._terms[key].render(fields))))
        if not fields:
            self._plain[key] = said
        return said

    def set_off(self, text: str) -> str:
        """The text with no-break spaces between figure and unit, and before the stops French sets apart."""
        text = _BEFORE_UNIT.sub("\u00a0", text)
        text = _DEGREES_READ.sub(_fahrenheit_too, text) if self._in_fahrenheit else text
        return _FRENCH_STOPS.sub("\u00a0", text) if self.language == "fr" else text

    def phrase(self, book: str, key: str, **fields: object) -> str:
        """A phrase of a file of them, as plain text; conditions may ask for a field that is not among
        ``fields``. Raises MissingFactError if it would show one.
        """
        from jinja2 import UndefinedError

        name = f"{book}/{key}"
        if name not in self._terms:
            self._terms[name] = _template_of(self._phrases(book)[key], lenient=True)
        try:
            return clean(self.set_off(str(self._terms[name].render(fields))))
        except (KeyError, UndefinedError) as missing:
            raise MissingFactError(f"{name}: {missing}") from missing

    @cached_property
    def _sentences(self) -> Mapping[str, str]:
        """Texts of the tables in this language."""
        return self._translated("sentences")

    def _translated(self, name: str) -> Mapping[str, str]:
        """A file of texts with their translations; the breeder's own win over ours."""
        paths = [
            folder / "wording" / self.language / f"{name}.md"
            for folder in _template_folders(self.shelf_folder)
        ]
        texts = [path.read_text(encoding="utf-8") for path in reversed(paths) if path.is_file()]
        return {clean(table): words for text in texts for table, words, _ in translations(text) if words}

    def column(self, name: str) -> str:
        """What a column of a table is called on paper: its own term where it has one, else as on the page."""
        own = next((key for key in (f"pick_{name}", f"col_{name}") if key in self.terms), None)
        if own:
            return self.term(own)
        return clean(self.set_off(self._translated("page").get(in_plain_words(name), in_plain_words(name))))

    def said(self, text: str) -> str | None:
        """A text of the tables in this language, or None where nobody has translated just that text."""
        asked = clean(text)
        translated = self._sentences.get(asked) or self._sentences.get(asked.rstrip("."))
        return self.set_off(translated) if translated else None

    def parts_said(self, text: str) -> str:
        """A cell in this language as far as our tables have its parts; the breeder's stand as typed."""
        parts = text.split("; ")
        between = "\u00a0; " if self.language == "fr" and any(map(self.said, parts)) else "; "
        return between.join(self.said(part) or part for part in parts)

    def sentence(self, text: str) -> str:
        """A sentence of ours with its values, in this language; in English where it has no words."""

        def shown(value: object) -> object:
            return money(value, self.language) if isinstance(value, Decimal) else value

        said = text.worded(self._ours, shown) if isinstance(text, Sentence) else self._ours(text)
        return clean(self.set_off(said))

    def _ours(self, template: str) -> str:
        return self._refusals.get(clean(template), template)

    @cached_property
    def _refusals(self) -> Mapping[str, str]:
        """Sentences of tables, ledger and post in this language."""
        return self._translated("refusals")

    @cached_property
    def terms(self) -> Mapping[str, str]:
        return self._phrases("terms")

    def _phrases(self, name: str) -> Mapping[str, str]:
        """Phrases by name; one that a copy lacks is taken from the file behind it."""
        if name not in self._books:
            phrases: dict[str, str] = {}
            for path in reversed(wording_files(self.shelf_folder, name, self.language)):
                if path.is_file():
                    phrases.update(phrases_of(path.read_text(encoding="utf-8")))
            self._books[name] = phrases
        return self._books[name]

    def _text(self, name: str) -> str:
        for path in wording_files(self.shelf_folder, name, self.language):
            if path.is_file():
                return path.read_text(encoding="utf-8")
        raise LookupError(f"no wording named {name!r}")


def phrases_of(text: str) -> dict[str, str]:
    """The phrases of a file of them: ``- name: phrase`` lines; all else is remarks."""
    terms = (_TERM.fullmatch(line.strip()) for line in text.splitlines())
    return {match[1]: match[2] for match in terms if match}


def wording_problems(shelf_folder: Path) -> tuple[Problem, ...]:
    """What is wrong with the breeder's own wording: files, fields, slips of writing."""
    folder = shelf_folder / "templates" / "wording"
    problems: list[Problem] = []
    for path in sorted(folder.glob("*/*.md")):
        where = path.relative_to(shelf_folder).as_posix()
        name, text = path.stem, path.read_text(encoding="utf-8", errors="replace")
        problems += _letter_problems(where, text)
        if name in PHRASES:
            problems += _phrase_problems(where, text, name)
        elif name in TRANSLATIONS:
            problems += _sentence_problems(where, text)
        elif name in FIELDS or name.startswith("care-"):
            problems += _template_problems(
                where, text, FIELDS.get(name, _CARE), NEEDED.get(name, frozenset())
            )
        else:
            mend = f"Write {nearest(name, [*FIELDS, *PHRASES, *TRANSLATIONS], 0.0)}.md, or remove it."
            problems.append(
                Problem(Where(where), "", "wording", f"There is no wording named '{name}'.", mend)
            )
    return tuple(problems)


def care_problems(shelf_folder: Path, fish: Iterable[Species]) -> Iterator[Problem]:
    """Fish whose care names a wording that is nowhere: the usual sheet would be printed without a word."""
    folders = (shelf_folder / "templates" / "wording", shipped_folder("templates") / "wording")
    there = {path.stem for folder in folders for path in folder.glob("*/care-*.md")}
    for row in fish:
        if row.care and f"care-{row.care}" not in there:
            text = f"there is no wording care-{row.care}.md, and the usual care sheet is printed."
            mend = "Write it in templates/wording, or leave the cell blank."
            yield Problem(row.at, "care", "wording", text, mend, Level.NOTICE)


def _letter_problems(file: str, text: str) -> Iterator[Problem]:
    """Lines with letters the fonts lack, or with bytes that are not UTF-8 (read as one such letter)."""
    from shipping.papers.page.fonts import letters_lacking, letters_told

    for row, line in enumerate(text.splitlines(), start=1):
        if "\N{REPLACEMENT CHARACTER}" in line:
            yield Problem(
                Where(file, row), "", "letters", "This line is not UTF-8.", "Save the file as UTF-8."
            )
        elif letters := letters_lacking(line):
            word = next((word for word in line.split() if not set(word).isdisjoint(letters)), line)
            told = letters_told(word, letters)
            yield Problem(Where(file, row), "", "letters", told, "Write it in Latin letters.")


def translations(text: str) -> Iterator[tuple[str, str, int]]:
    """What a file of sentences holds: behind ``>`` a table's text, the line under it or "", its row."""
    lines = [*text.splitlines(), ""]
    for row, line in enumerate(lines, start=1):
        if line.startswith(">"):
            below = lines[row].strip()
            yield line[1:].strip(), "" if below.startswith(">") else below, row


def _sentence_problems(file: str, text: str) -> Iterator[Problem]:
    for table, words, row in translations(text):
        if not words:
            mend = "Write the translation in the line under it."
            yield Problem(Where(file, row), "", "wording", f"'{table}' has no translation.", mend)


def _template_problems(
    file: str, text: str, allowed: frozenset[str], needed: frozenset[str]
) -> Iterator[Problem]:
    from jinja2 import TemplateError, TemplateSyntaxError, nodes
    from jinja2.meta import find_undeclared_variables

    environment = _environment(True)
    try:
        tree = environment.parse(text)
    except TemplateSyntaxError as wrong:
        where, text = Where(file, wrong.lineno), f"The template cannot be read: {wrong.message}."
        yield Problem(where, "", "wording", text, "Look at the braces of that line.")
        return
    except TemplateError as wrong:
        text = f"The template cannot be read: {wrong}."
        yield Problem(Where(file), "", "wording", text, "Copy ours again.")
        return
    used = find_undeclared_variables(tree)
    for field in sorted(used - allowed):
        rows = [node.lineno for node in tree.find_all(nodes.Name) if node.name == field]
        mend = f"Write {nearest(field, [*allowed], 0.0)}." if allowed else "This wording takes no fields."
        yield Problem(Where(file, min(rows, default=0)), field, "wording", f"'{field}' is not a field.", mend)
    for field in sorted(needed - used):
        mend = f"Write {{{{ {field} }}}} in it."
        yield Problem(Where(file), field, "wording", f"The field '{field}' is missing.", mend)


def _phrase_problems(file: str, text: str, name: str) -> Iterator[Problem]:
    ours = shipped_folder("templates") / "wording" / "en" / f"{name}.md"
    known = phrases_of(ours.read_text(encoding="utf-8"))
    for row, line in enumerate(text.splitlines(), start=1):
        match = _TERM.fullmatch(line.strip())
        if match is None:
            continue
        key, phrase = match.groups()
        if key not in known:
            mend = f"Write {nearest(key, [*known], 0.0)}."
            yield Problem(Where(file, row), key, "wording", f"'{key}' is not one of the phrases.", mend)
            continue
        needed, used = set(_FIELD.findall(known[key])), set(_FIELD.findall(phrase))
        for field in sorted(needed ^ used if name in WHOLE_PHRASES else used - needed):
            wrong = "is missing" if field in needed else "is not a field here"
            yield Problem(Where(file, row), key, "wording", f"'{field}' {wrong}.", f"Write {known[key]}")


#: Facts that are shares, days, degrees and months, by name; other numbers are counts.
_SHARES = frozenset(
    ("h_per_egg", "hatch_ceiling", "h_any", "any_ceiling", "share_eyed", "best_chance", "p_enough", "p_short")
)
_DAYS = frozenset(
    (
        *("on", "not_before", "not_after", "p95", "checked_on", "begin", "until", "last_wetting_day"),
        *("hatches_from", "hatches_until", "since"),
    )
)
_DEGREES = frozenset(("low_c", "high_c", "inside_c", "limit_c", "packed_at_c"))
_MONTHS = frozenset(("month", "row_month"))


def cause(reason: Reason, wording: Wording, lines: int = 1, offered: bool = False) -> str:
    """What stands in the way; ``lines``: how many share it; ``offered``: there is no order yet."""
    facts = shown(reason.facts, wording)
    try:
        return wording.phrase("bench-reasons", reason.code, many=lines > 1, offered=offered, **facts)
    except MissingFactError:  # of a plan kept by an older version: its own sentence has every figure
        if not reason.text:
            raise
        return reason.text


@lru_cache(maxsize=1)
def english() -> Wording:
    """The wording of the terminal and the page, which speak English whatever the papers are in."""

    return Wording(None, "en")


def to_buyer(reason: Reason, wording: Wording) -> str:
    """What stands in the way, as the buyer is told."""
    facts = shown(reason.facts, wording, in_full=True)
    return wording.phrase("reasons", reason.code, **facts)


def note_text(note: Note, wording: Wording) -> str:
    """What to mind at the bench."""
    facts = shown(note.facts, wording)
    if "basis" in facts:
        facts["basis"] = wording.term(str(facts["basis"]).replace(" ", "_"))
    return wording.phrase("bench-notes", note.code, **facts)


def orders_in_words(text: str, wording: Wording) -> str:
    """The text with orders that send eggs again named so: ``D02/2 sent again`` for ``D02-2-again``."""

    def named(found: re.Match[str]) -> str:
        order, line, more = found.groups()
        of_line, times = "" if line == "1" else f"/{line}", more.count("-again") + 1
        return f"{order}{of_line} {wording.term('sent_again')}{f' {times}×' if more else ''}"

    return OWED_AGAIN.sub(named, text) if "-again" in text else text


def whose_move(reasons: Iterable[Reason], wording: Wording) -> str:
    """Who is to do something about what is held: the buyer, the seller, or both; that nobody is to get
    papers, or to pay who has not paid yet, where that would be in vain.
    """
    reasons = tuple(reasons)
    if vain := in_vain(reasons):
        return wording.term("move_in_vain", unpaid=any(one.code == "unpaid" for one in vain))
    codes = {reason.code for reason in reasons}
    parts = [wording.term("move_yours")] if codes & BUYERS_MOVE else []
    return " ".join([*parts, *([wording.term("move_mine")] if codes - BUYERS_MOVE else [])])


def next_step(
    reason: Reason, wording: Wording, verdict: Verdict = Verdict.WAIT, offered: bool = False
) -> str:
    """What the breeder can do next about it, where the line stands so; ``offered``: of an offer."""
    facts = {"stops": verdict is Verdict.STOP, "waits": verdict is Verdict.WAIT} | shown(
        reason.facts, wording
    )
    return wording.phrase("next-steps", reason.code, offered=offered, **facts)


def shown(facts: Mapping[str, object], wording: Wording, in_full: bool = False) -> dict[str, object]:
    """Facts as a page shows them: days (whole names ``in_full``), shares, degrees, lists in its language."""
    return {name: _shown(name, value, wording, in_full) for name, value in facts.items()}


def _shown(name: str, value: object, wording: Wording, in_full: bool) -> object:
    language = wording.language
    if isinstance(value, list | tuple):
        parts = [clean(str(part)) for part in value]
        if name not in ("missing", "papers"):
            return ", ".join(parts)
        said = {part: wording.said(part) for part in parts}
        return "; ".join(
            part if not words else words if in_full else f"{words} ({part})" for part, words in said.items()
        )
    if isinstance(value, str):
        if name == "source":
            return wording.parts_said(clean(value))
        if name == "checked_on" and value:
            return dated_day(date.fromisoformat(value), language)
        if name in _DAYS and value:
            return wording.day(date.fromisoformat(value), in_full)
        return clean(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        if name in _SHARES:
            return share(value, language)
        if name in _MONTHS:
            return name_of_month(int(value), language)
        return warmth(value, language) if name in _DEGREES else number(value, language, 2)
    return value

"""The page in the breeder's language: a text as a template or a view says it in English in, the same in the
language now spoken out.

A template says in English what stands between its tags; each such text, with the fields in it, is looked up
as the template is read for a language. What nobody has translated stays English.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from flask.templating import Environment
from markupsafe import Markup, escape

from shipping.ledger.journal.personal import ERASED
from shipping.papers.wording.language import bench_day, clean, country_name, dated_day, share, warmth
from shipping.papers.wording.phrases import Wording, cause, orders_in_words, translations, with_de
from shipping.post.calendar import past_cut_off
from shipping.tables.cells import BadCell
from shipping.tables.countries import countries, plain_name
from shipping.tables.list_words import STAGE_WORDS
from shipping.tables.rows.packings import PACKING_KINDS
from shipping.tables.typed_days import day_typed, days_meant
from shipping.words.reasons import Reason
from shipping.words.sentence import LANGUAGES, Sentence, fitted, with_singulars
from shipping.words.units import HIDDEN, Written, iso_week, shipped_folder, weekday

if TYPE_CHECKING:
    from jinja2 import BaseLoader

_spoken: ContextVar[str] = ContextVar("spoken", default="en")
_names_are_hidden: ContextVar[bool] = ContextVar("names_are_hidden", default=False)
_now: ContextVar[tuple[date | None, str]] = ContextVar("now", default=(None, ""))
_dates: ContextVar[str | None] = ContextVar("dates", default=None)
#: A tag with all that stands in it, or a statement of the template.
_TAG = re.compile(r"</?[a-zA-Z!](?:\{\{.*?\}\}|\{%.*?%\}|[^>])*>|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
#: What of a tag is read out or shown.
_SHOWN = re.compile(r'\b((?:placeholder|aria-label|alt)=")((?:\{\{.*?\}\}|\{%.*?%\}|[^"])*)(?=")', re.DOTALL)
#: Tags between which stands nothing but text, and a value of a template.
_BARE = re.compile(r"</?(?:title|textarea|option|pre)\b|\{% (?:block title|endblock)")
_VALUE = re.compile(r"\{\{ ?(.*?) ?\}\}", re.DOTALL)
#: What may be a name that has hyphens; longer ones must break on a telephone.
_HYPHENED = re.compile(r"\b\w+(?:-\w+)+\b")
_LONGEST_NAME = 22
_FIELD = re.compile(r"\{\{.*?\}\}|\{%.*?%\}", re.DOTALL)
#: A day this far from today is told with its year.
HALF_A_YEAR = timedelta(days=183)
#: A parcel by its whole name, with the word before it; one that a command names stays whole.
_PARCEL = re.compile(r"(spawnpost [a-z]+ )?((?:\b[^\W\d_]+ )?)\b(\d{4}-W(\d\d))-(\d{2,})\b")
_WEEKDAY = re.compile(r"^[^\W\d_]+\.?,?\s+(?=\d)")
_LETTER = re.compile(r"[^\W\d_]")
#: A colon behind a field or a tag, before which French has a space.
_BARE_COLON = re.compile(r"(?:(?<=\})|^): ")


def spoken() -> str:
    """The language of this request, and of work begun by it."""
    return _spoken.get()


def speak(language: str) -> None:
    """From here on this request speaks that language, if the page can."""
    _spoken.set(language if language in LANGUAGES else "en")


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Within it this request speaks that language, as to a buyer who reads it."""
    before = _spoken.set(language if language in LANGUAGES else "en")
    try:
        yield
    finally:
        _spoken.reset(before)


def keep_names(hidden: bool) -> None:
    """From here on this request shows no buyer's name where they are hidden."""
    _names_are_hidden.set(hidden)


def tell_time(today: date, hour: str) -> None:
    """From here on this request knows which day it is, and the hour, as 15:30; "" where nobody does."""
    _now.set((today, hour))


def read_days_by(dates: str | None) -> None:
    """From here on this request reads days as the tables are read, by the setting ``dates``."""
    _dates.set(dates)


def past_text(cut_off: str | None, day: date) -> str:
    """What to say where the hour of hand-over of a day is past; "" where it is not."""
    return tr(past_cut_off(cut_off, day, *_now.get()))


def shown_name(name: str, hidden: str = HIDDEN) -> str:
    """A buyer's name, or what stands in its place where none may be shown."""
    if _names_are_hidden.get():
        return hidden
    return tr("(erased)") if name == ERASED else name


def tr(text: str, /, **fields: object) -> str:
    """The text in the language now spoken, with its fields put in; a `Sentence` brings its own."""
    if isinstance(text, Sentence):
        return text.worded(_words_for, _in_our_way)
    if isinstance(text, Written):
        return format(_in_our_way(text))
    said = texts_in(spoken()).get(text, text)
    filled = {name: _in_our_way(value) for name, value in fields.items()}
    return fitted(said, filled).format_map(filled) if filled else said


def named(what: object, value: object) -> str:
    """``what: value``, with the space that French has before a colon."""
    return tr("{what}: {value}", what=what, value=value)


def _words_for(template: str) -> str:
    """A sentence in the language now spoken, with its fields; blanks around it stay."""
    bare = template.strip()
    texts = texts_in(spoken())
    said = texts.get(clean(bare)) or texts.get(STAGE_WORDS.get(bare, "")) or listed(bare.split("; "))
    return template.replace(bare, said) if bare else template


def listed(parts: Iterable[str]) -> str:
    """The parts with semicolons between, before which French has a space."""
    return (" ; " if spoken() == "fr" else "; ").join(parts)


@lru_cache(maxsize=8)
def texts_in(language: str) -> Mapping[str, str]:
    """What the page says in a language, by what is said in English; for English what the page says
    otherwise than the terminal. Kinds of packings are called as on the papers.
    """
    found = (
        {} if language == "en" else {kind.word: _wording(language).term(kind.key) for kind in PACKING_KINDS}
    )
    for name in ("page", "refusals"):
        path = shipped_folder("templates") / "wording" / language / f"{name}.md"
        found |= texts_of_file(path, language) if path.is_file() else {}
    return found


def texts_of_file(path: Path, language: str) -> dict[str, str]:
    """The texts of one file of the catalogue, by their English."""
    wording = _wording(language)
    pairs = translations(path.read_text(encoding="utf-8"))
    return {clean(text): wording.set_off(words) for text, words, _ in pairs if words}


class _PageWording(Wording):
    """The catalogue as the page says it: a far day with its year, as everywhere on it."""

    def day(self, when: date, in_full: bool) -> str:
        return day_words(when)


@lru_cache(maxsize=8)
def _wording(language: str) -> Wording:
    return _PageWording(None, language)


def reasons_wording() -> Wording:
    """The catalogue of reasons, steps and notes in the language now spoken."""
    return _wording(spoken())


def name_of_country(code: str) -> str:
    """What a country is called in the language now spoken."""
    if spoken() != "en":
        return country_name(code, spoken())
    names = countries()
    return names[code].name_en if code in names else code


def countries_by_name(first: Container[str]) -> list[str]:
    """The code of every country by its name, those ``first`` that are wanted oftener."""
    return sorted(countries(), key=lambda code: (code not in first, plain_name(name_of_country(code))))


def name_of_place(code: str) -> str:
    """The same, with the code behind it where that names a part of a country."""
    country, dash, _ = code.partition("-")
    return f"{name_of_country(country)} ({code})" if dash else name_of_country(country)


# -- values in sentences


@dataclass(frozen=True, slots=True)
class _InOurWay:
    """A value as the language now spoken writes it; with ``{name:de}`` behind the French word for of."""

    value: object

    def __format__(self, form: str) -> str:
        value = self.value
        if form == "de":
            return with_de(f"{self}")
        if isinstance(value, Written | Reason | date):
            return format(_in_text(value), form)
        text = format(value, form)
        return text.replace(".", ",") if isinstance(value, float | Decimal) else text


def _in_our_way(value: object) -> object:
    if isinstance(value, Sentence):
        value = tr(value)
    if spoken() == "en":
        return day_words(value.value) if isinstance(value, Written) and value.kind == "day" else value
    return _InOurWay(value)


def _in_text(value: Written | Reason | date) -> str:
    if isinstance(value, Reason):
        return cause(value, reasons_wording())
    if isinstance(value, date):
        return day_words(value)
    if value.kind == "share":
        return share(value.value, spoken())
    if value.kind == "degrees":
        return warmth(value.value, spoken())
    if value.kind == "money":
        return str(value.value).replace(".", ",")
    if value.kind == "country":
        return name_of_place(value.value)
    if value.kind == "countries":
        return ", ".join(sorted(map(name_of_place, value.value), key=plain_name))
    if value.kind == "long day":  # the sentences have the article of French and Spanish days themselves
        return re.sub("^(le|el) ", "", dated_day(value.value, spoken()))
    return day_words(value.value)


def shown(value: object) -> object:
    """What is read of a value: our words, orders owed again named so, names not broken at hyphens."""
    said = in_our_words(value)
    if not isinstance(said, str) or isinstance(said, Markup) or "-" not in said:
        return said
    return Markup(_HYPHENED.sub(_whole, str(escape(orders_in_words(said, reasons_wording())))))


def _whole(found: re.Match[str]) -> str:
    is_name = any(letter.isdigit() or letter.isupper() for letter in found[0])
    return f"<bdi>{found[0]}</bdi>" if is_name and len(found[0]) <= _LONGEST_NAME else found[0]


def in_our_words(value: object) -> object:
    """What a template shows: a sentence or share of elsewhere in the page's language, else as it is."""
    return tr(value) if isinstance(value, Sentence | Written) else value


def with_parcels_named(text: str) -> str:
    """The text with parcels called as their cards are: ``parcel 05``, with the week where it is another."""
    today, word = _now.get()[0], tr("parcel")

    def named(found: re.Match[str]) -> str:
        if found[1]:
            return found[0]
        before = found[2]
        if not before.casefold().startswith(word.casefold()):
            before += f"{word} "
        if today is None or found[3] == iso_week(today):
            return before + found[5]
        return before + tr("{number} of week {week}", number=found[5], week=int(found[4]))

    return _PARCEL.sub(named, text)


# -- days
def day_words(day: date | str | None) -> str:
    """``Mon 30 Nov``, with the year where that is not within about half a year of today."""
    if not day:
        return ""
    when = date.fromisoformat(day) if isinstance(day, str) else day
    return day_and_year(when) if _is_far(when) else _day_alone(when)


def days_words(*days: date) -> tuple[str, ...]:
    """Days of one sentence, as `day_words`: each with its year where one has it."""
    return tuple(map(day_and_year if any(map(_is_far, days)) else _day_alone, days))


def _is_far(when: date) -> bool:
    today = _now.get()[0]
    return today is not None and abs(when - today) > HALF_A_YEAR


def _day_alone(when: date) -> str:
    """``Mon 30 Nov``; without the full stop of a shortened month, which a sentence's own may follow."""
    if spoken() == "en":
        return f"{weekday(when)} {when.day} {when:%b}"
    return bench_day(when, spoken()).removesuffix(".")


def day_and_year(day: date) -> str:
    """``Mon 30 Nov 2026``, as a form shows a day, which is read again by `day_meant`."""
    return f"{_day_alone(day)} {day.year}"


def day_shown(day: date | str | None) -> str:
    """A day as a form shows it; a text that is no day of a table as it stands."""
    if isinstance(day, str):
        with suppress(ValueError):
            day = date.fromisoformat(day) if len(day) == 10 else day
    return day_and_year(day) if isinstance(day, date) else day or ""


def day_cell(text: str, ahead: bool = False) -> str:
    """A day of a form as tables have it; what can be read in two ways, or in none, stays as it is."""
    day = day_meant(text, ahead)
    return day.isoformat() if day else text


def day_meant(text: str, ahead: bool = False) -> date | None:
    """As `day_from_form`; None where the text is no day, or may be several."""
    try:
        return day_from_form(text, ahead)
    except BadCell:
        return None


def day_from_form(text: str, ahead: bool = False) -> date:
    """The day that a text of a form means, as tables and commands read it (`day_typed`); a weekday in front
    says nothing, for the number behind it is what is changed. Raises BadCell.
    """
    bare = _WEEKDAY.sub("", " ".join(text.split()))
    if parts := re.fullmatch(r"(\d{1,2})\b.* (\d{4})", bare):
        for month in range(1, 13):
            with suppress(ValueError):  # no such day in that month
                day = date(int(parts[2]), month, int(parts[1]))
                if _WEEKDAY.sub("", day_and_year(day)).casefold() == bare.casefold():
                    return day
    whole = " ".join(text.split())  # June 28, 2027: what stands in front is the month
    return day_typed(bare if days_meant(bare) else whole, _dates.get(), _now.get()[0], ahead)


def day_name(day: date) -> str:
    """``Monday``."""
    return f"{day:%A}" if spoken() == "en" else _in_words(day, "EEEE")


def day_and_month(day: date, with_year: bool = False) -> str:
    """``30 November``, with its year where that is asked for, or far."""
    forms = {"de": "d. MMMM", "fr": "d MMMM", "es": "d 'de' MMMM"}
    said = f"{day.day} {day:%B}" if spoken() == "en" else _in_words(day, forms[spoken()])
    said = f"1er{said[1:]}" if spoken() == "fr" and day.day == 1 else said
    of_year = " de" if spoken() == "es" else ""
    return f"{said}{of_year} {day.year}" if with_year or _is_far(day) else said


def month_name(day: date) -> str:
    """``November 2026``."""
    return f"{day:%B %Y}" if spoken() == "en" else _in_words(day, "LLLL y")


def _in_words(day: date, form: str) -> str:
    from babel.dates import format_date

    return str(format_date(day, form, locale=spoken()))


# -- templates


def page_name(name: str) -> str:
    """A template's name in the language now spoken."""
    return name if spoken() == "en" else f"{spoken()}/{name}"


class PageEnvironment(Environment):
    """Templates that are built of others in their own language."""

    def join_path(self, template: str, parent: str) -> str:
        language, slash, _ = parent.rpartition("/")
        return f"{language}{slash}{template}"


def translated_pages(folder: Path) -> BaseLoader:
    """The templates of a folder: by their name in English, behind a language and a slash in that one."""

    from jinja2 import FunctionLoader

    def load(template: str) -> str | None:
        language, _, name = template.rpartition("/")
        path = folder / name
        if not path.is_file():
            return None
        source = path.read_text(encoding="utf-8")
        source = translated(source, texts_in(language), language) if language not in ("", "en") else source
        return with_names_whole(with_singulars(source))

    return FunctionLoader(load)


def translated(source: str, texts: Mapping[str, str], language: str = "") -> str:
    """A template with each of its texts in another language, where ``texts`` has it."""

    def said(text: str) -> str:
        bare = text.strip()
        if not is_text(bare):
            return _BARE_COLON.sub("\u00a0: ", text) if language == "fr" else text
        words = texts.get(clean(bare), bare)
        return text.replace(bare, f"\u00a0{words}" if language == "fr" and words[0] == ":" else words)

    return "".join(
        _SHOWN.sub(lambda found: found[1] + said(found[2]), part) if is_tag else said(part)
        for part, is_tag in _parts(source)
    )


def with_names_whole(source: str) -> str:
    """A template with each value between its tags `shown`, but where nothing but text may be."""
    is_bare = False
    parts: list[str] = []
    for part, is_tag in _parts(source):
        if is_tag and _BARE.match(part):
            is_bare = not part.startswith(("</", "{% end"))
        parts.append(part if is_tag or is_bare else _VALUE.sub(r"{{ (\1)|shown }}", part))
    return "".join(parts)


def texts_of(source: str) -> Iterator[str]:
    """The texts of a template, as the catalogue has them."""
    for part, is_tag in _parts(source):
        for text in (found[2] for found in _SHOWN.finditer(part)) if is_tag else (part,):
            if is_text(text.strip()):
                yield clean(text.strip())


def is_text(text: str) -> bool:
    """Are there words in it besides fields?"""
    return bool(_LETTER.search(_FIELD.sub("", text)))


def _parts(source: str) -> Iterator[tuple[str, bool]]:
    """Text and tags in turn."""
    at = 0
    for tag in _TAG.finditer(source):
        yield source[at : tag.start()], False
        yield tag[0], True
        at = tag.end()
    yield source[at:], False

"""Is the program whole? Its fonts, its wordings and its calendars for a shelf in, problems out."""

from __future__ import annotations

from collections.abc import Iterator

from shipping.tables.shelf import Shelf
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

_TRIED = "Aa0 ÄÖÜéñçøÅł €°"


def installation_problems(shelf: Shelf | None) -> tuple[Problem, ...]:
    """Fonts that cannot print, our own wordings that do not read, calendars that do not answer."""
    fonts = tuple(_fonts())
    wordings = () if fonts else tuple(_wordings())  # whose letters are looked up in the fonts
    return (*fonts, *wordings, *(_calendars(shelf) if shelf else ()))


def _fonts() -> Iterator[Problem]:
    from shipping.papers.page.fonts import letters_lacking, measure

    try:
        lacking = letters_lacking(_TRIED)
        widths = [measure(letter, bold) for letter in "Am0" for bold in (False, True)]
    except Exception as error:  # a font library fails in ways of its own, and any of them means the same
        text = say("the fonts cannot be read ({name}: {error}).", type(error).__name__, error)
        yield Problem(Where("fonts"), "", "fonts", text, "Install the program again.")
        return
    if lacking or min(widths) <= 0:
        text = "the fonts have letters without width."
        if lacking:
            text = say("the fonts lack letters of common addresses ({lacking}).", lacking)
        yield Problem(Where("fonts"), "", "fonts", text, "Install the program again.")


def _wordings() -> Iterator[Problem]:
    """The wordings that came with the program, checked as a breeder's own would be."""
    from shipping.papers.wording.phrases import wording_problems
    from shipping.words.units import shipped_folder

    folder = shipped_folder("templates").parent
    if not any((folder / "templates" / "wording" / "en").glob("*.md")):
        text = "the wordings that come with the program are not there."
        yield Problem(Where("templates"), "", "wording", text, "Install the program again.")
    yield from wording_problems(folder)


def _calendars(shelf: Shelf) -> Iterator[Problem]:
    """Home and every destination of an order: does the holidays library answer for this year and the next?"""
    from shipping.post.calendar import has_calendar, holidays_of

    home = shelf.settings.home.country
    where = Where("calendar")
    for country in sorted({home, *(order.country for order in shelf.orders)}):
        if not has_calendar(country):
            text = say(
                "there is no holiday calendar for {country}: only its Saturdays and Sundays are left out.",
                country,
            )
            yield Problem(where, "", "no-calendar", text, "Mind its holidays yourself.", Level.NOTICE)
            continue
        for year in (shelf.today.year, shelf.today.year + 1):
            if not holidays_of(country, year):
                text = say("the holidays library names no holiday in {country} for {year}.", country, year)
                mend = "Update it, or mind them yourself."
                yield Problem(where, "", "no-calendar", text, mend, Level.NOTICE)

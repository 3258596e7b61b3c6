"""What a buyer's text wishes for, in its order: text in; species, population and eggs of each fish, and the
days, out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from shipping.tables.cells import CURRENCY, all_there_are
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.tables.typed_days import day_read_by, days_meant, month_named, weekday_named

_EGG_WORDS = r"(?:eggs?|eier|eiern|œufs?|oeufs?|huevos?|uova|ovos|æg|ägg)\b"
_NOT_EGGS = (
    r"(?:°|€|\$|£|%|euros?\b|eur\b|uhr\b|cm\b|kg\b|days?\b|weeks?\b|months?\b|tagen?\b|wochen?\b|monaten?\b"
    r"|jours?\b|semaines?\b|mois\b|d[ií]as?\b|semanas?\b|mes(?:es)?\b)"
)
#: A number that may count eggs: no part of a day, a price, a collection code, or a longer number.
_NUMBER = re.compile(
    rf"(?<![\w.,/:€$£-])(?<![A-Z] )([1-9][0-9]{{0,3}})(?![0-9])(?![.,/:-][0-9])(?!\s*{_NOT_EGGS})"
    r"(?!(?!(?:x|stk|stck|stück|st|pcs?|eier|eggs?|œufs?|oeufs?|huevos?)\b)[^\W\d_])"
)
#: Two numbers of which it is not clear what they count together, and words for a number that is not exact.
_SEVERAL = re.compile(
    r"[0-9]+\s*(?:[x×*+/–—-]|\b(?:to|or|bis|oder|ou|à|o|a)\b)\s*[0-9]+(?:\s*[/-]\s*[0-9]+)*", re.IGNORECASE
)
_ABOUT = re.compile(
    r"\b(?:about|around|approx\w*|roughly|some|ca|circa|etwa|ungefähr|rund|environ|unos|unas|aproximadamente"
    r"|at least|up to|max|min|mindestens|höchstens|maximal|bis zu|au moins|jusqu'à|al menos|hasta)\b\.?\s*"
    r"[0-9]",
    re.IGNORECASE,
)
_TWELVES = {
    **dict.fromkeys(("a", "one", "ein", "einem", "une", "una"), 12),
    **dict.fromkeys(("half a", "a half", "half", "ein halbes", "halbes", "une demi", "demi", "media"), 6),
    **dict.fromkeys(("two", "zwei", "deux", "dos"), 24),
    **dict.fromkeys(("three", "drei", "trois", "tres"), 36),
    **dict.fromkeys(("four", "vier", "quatre", "cuatro"), 48),
    **dict.fromkeys(("five", "fünf", "cinq", "cinco"), 60),
    **dict.fromkeys(("ten", "zehn", "dix", "diez"), 120),
}
_DOZEN = r"(?:dozens?|dutzend|douzaines?|docenas?)\b"
_A_DOZEN = re.compile(_DOZEN, re.IGNORECASE)
_DOZENS = re.compile(
    rf"\b([1-9][0-9]?|{'|'.join(_TWELVES)})[ -]{_DOZEN}(?! (?:et demie|y media|and a half))"
    r"(?: (?:of\b|de\b|d['’])|)",
    re.IGNORECASE,
)
#: Tens that are about so many, where what is counted follows.
_TENS = {
    **dict.fromkeys(("dizaine", "decena"), 10),
    **dict.fromkeys(("vingtaine", "veintena"), 20),
    **dict.fromkeys(("trentaine", "treintena"), 30),
    **dict.fromkeys(("centaine", "centena", "centenar"), 100),
    "quinzaine": 15,
    "quarantaine": 40,
    "cinquantaine": 50,
    "soixantaine": 60,
}
_ABOUT_TENS = re.compile(rf"\b(?:un|une|una) ({'|'.join(_TENS)}) d(?:es? |['’])", re.IGNORECASE)
#: What makes of dozens a price, one of two counts, or a part of a count.
_NO_DOZENS_BEHIND = re.compile(
    r"(?:[\w.,/–-]|(?:[€$£]|\b(?:eur|euros?|or|to|oder|bis|ou|à|o|per|pro|je)) )$", re.IGNORECASE
)
#: A sentence of a line, and the words that say no in one: not those of a day or of haste.
_SENTENCE = re.compile(r"[^.!?;]+(?:[.!?;](?=\S)[^.!?;]*)*[.!?;]*")
_NO = re.compile(
    r"\b(?:not?|non|none|never|nicht|kein\w*|pas|aucune?s?|tampoco|ning[uú]n\w*|não|niet|geen|ikke|inte|nie"
    r"|cancel\w*|storn\w*|abbestell\w*|ann?ul\w*)\b(?!\.?\s*[0-9])"
    r"(?!\s(?:before|after|until|later|earlier|sooner|rush|hurry|problem\w*|vor|nach|bis|später|früher|eilig"
    r"|eile|avant|après|de (?:souci|problème)|pressé\w*|antes|después|más tarde|hasta|hay prisa|corre prisa"
    r"|tengo prisa)\b)|n['’]t\b",
    re.IGNORECASE,
)
#: An amount of money with its sign, in front or behind.
AMOUNT = re.compile(
    rf"({CURRENCY})\s?([0-9]+(?:[.,][0-9]{{1,2}})?)|([0-9]+(?:[.,][0-9]{{1,2}})?)\s?({CURRENCY}|euros)(?!\w)",
    re.IGNORECASE,
)
#: The same of one egg, or of a dozen.
PRICE_OF_ONE = re.compile(
    rf"(?:@|\b(?:je|à|a|each|per|pro)\b)\s*(?:{AMOUNT.pattern})|(?:{AMOUNT.pattern})\s*"
    r"(?:/|(?:each|apiece|per|pro|je|a|an|une?|the|das|la|le|l['’]|par|por|cada|chaque|chacune?|stück)\b)",
    re.IGNORECASE,
)
_COUNTED = re.compile(
    rf"\b([1-9][0-9]{{0,3}})\s*(?:x|×)?\s*(?:[^\W\d_]+\s+){{0,2}}?{_EGG_WORDS}", re.IGNORECASE
)
_EACH = re.compile(r"\b(?:each|apiece|je|jeweils|chacune?|chaque|cada)\b", re.IGNORECASE)
_OR = re.compile(r"\s*\b(?:or|oder|ou|o)\b\s*|\s*/\s*", re.IGNORECASE)
_BETWEEN = re.compile(r"\s*(?:[,;+&:–—•]|\s-\s|\b(?:and|und|et|y|e|or|oder|ou|o)\b|/)\s*", re.IGNORECASE)
#: Where a fish stood in a line: one letter of the private use area for each.
_FIRST_MARK = 0xE000


@dataclass(frozen=True, slots=True)
class AskedFish:
    """One fish that is asked for; what was not said of it is ""; ``instead`` may go for it."""

    species: str
    population: str = ""
    eggs: str = ""
    instead: tuple[str, ...] = ()

    def cells(self) -> dict[str, str]:
        said = {
            "species": self.species,
            "population": self.population,
            "eggs": self.eggs,
            "instead": "; ".join(self.instead),
        }
        return {name: text for name, text in said.items() if text}


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a text asks for, the lines that say so, and those of them with a number that counts no fish."""

    fish: tuple[AskedFish, ...]
    lines: frozenset[str]
    puzzling: tuple[str, ...]


def wishes_in(lines: list[str], shelf: Shelf) -> Wishes:
    """Every fish of the tables that is named, each once for each population, with the eggs said of it."""
    found: list[AskedFish] = []
    used, puzzling = set(), []
    for before, line, after in zip(["", *lines], lines, [*lines[1:], ""], strict=False):
        counted = _in_figures(line)
        named = list(_fish_in(counted, shelf))
        if not named:
            continue
        used.add(line)
        for sentence in _SENTENCE.finditer(
            counted
        ):  # what a buyer takes back or does not want asks for nothing
            begin, end = sentence.span()
            if _NO.search(_whole(before, sentence, after)) and any(begin <= at < end for at, *_ in named):
                puzzling.append(sentence[0].strip())
                named = [one for one in named if not begin <= one[0] < end]
                counted = counted[:begin] + " " * (end - begin) + counted[end:]
        if not named:
            continue
        wishes, is_plain = _wishes_of(counted, named, shelf)
        if not is_plain:
            puzzling.append(line)
        for wish in wishes:
            _add(found, wish)
    if len(found) == 1:
        found = [_told_elsewhere(found[0], lines, used, shelf)]
    return Wishes(tuple(found), frozenset(used), tuple(puzzling))


#: A line's last sentence, where it is open.
_OPEN = re.compile(r"[^.!?;:,]*[^.!?;:,\s]$")

#: A line that is broken off behind its no.
_BROKEN_OFF = re.compile(
    rf"\s(?:{_NO.pattern})(?:\s(?:the|any|more|want|need|die|der|den|das|mehr|de|la|les?|los|las|el|más))?$",
    re.IGNORECASE,
)


def _whole(before: str, sentence: re.Match[str], after: str) -> str:
    """A sentence of a line with its parts on the lines before and after: mails break where a line is full."""
    goes_on = sentence[0][:1].islower() or _BROKEN_OFF.search(before)
    first = sentence.start() == 0 and goes_on and _OPEN.search(before)
    is_open = sentence.end() == len(sentence.string) and _OPEN.search(sentence[0])
    is_list = re.match(r"\W*[0-9]", sentence[0])
    last = is_open and not is_list and after[:1].islower() and re.match(r"[^.!?;:,]+", after)
    return " ".join((first[0] if first else "", sentence[0], last[0] if last else ""))


def counts_of_eggs(line: str) -> list[str]:
    """The numbers of a line that are said to be eggs."""
    return _COUNTED.findall(_SEVERAL.sub("", _in_figures(line)))


def _in_figures(line: str) -> str:
    """A line with its dozens as numbers, and its tens (``une vingtaine d'``) as about so many."""
    line = _ABOUT_TENS.sub(lambda found: f"ca. {_TENS[found[1].casefold()]} ", line)

    def counted(found: re.Match[str]) -> str:
        word, ahead = found[1].casefold(), line[: found.start()]
        is_and_a_half = "half" in word and re.search(r"\band (?:a )?$", ahead, re.IGNORECASE)
        if is_and_a_half or _NO_DOZENS_BEHIND.search(ahead):
            return found[0]
        return f"{12 * int(word) if word.isdigit() else _TWELVES[word]} "

    return _DOZENS.sub(counted, line)


def _add(found: list[AskedFish], wish: AskedFish) -> None:
    """One more wish, or more of one that was named before without its count or population."""
    for place, known in enumerate(found):
        is_same = known.species == wish.species and (
            not (known.population and wish.population) or known.population == wish.population
        )
        if is_same and not (known.eggs and wish.eggs and known.eggs != wish.eggs):
            found[place] = replace(
                known, population=known.population or wish.population, eggs=known.eggs or wish.eggs
            )
            return
    found.append(wish)


def _told_elsewhere(wish: AskedFish, lines: list[str], used: set[str], shelf: Shelf) -> AskedFish:
    """The only fish of a text has the count of eggs and the population that other lines say."""
    for line in lines:
        if not wish.eggs and (counts := counts_of_eggs(line)):
            wish = replace(wish, eggs=counts[0])
            used.add(line)
    places = {lot.population for lot in shelf.lots_of(wish.species)}
    named = {place for place in places if any(_names(line, place) for line in lines)}
    if not wish.population and len(named) == 1:
        wish = replace(wish, population=named.pop())
    return wish


def _fish_in(line: str, shelf: Shelf) -> Iterator[tuple[int, int, str]]:
    """(begin, end, species) of each fish that a line names, the longest of names that begin alike."""
    names = {name: row.species for row in shelf.species.values() for name in names_of(row) if name}
    spans = [
        (match.start(), -match.end(), species)
        for name, species in names.items()
        for match in re.finditer(rf"(?<!\w){re.escape(name)}(?!\w)", line, re.IGNORECASE)
    ]
    at = 0
    for begin, end, species in sorted(spans):
        if begin >= at:
            at = -end
            yield begin, at, species


def names_of(fish: Species) -> tuple[str, ...]:
    """What a fish is called; the short name of a row for a whole genus is in the names of others too."""
    short = () if fish.scientific_name.endswith(" sp.") else (fish.species,)
    return (fish.scientific_name, fish.common_name, *fish.synonyms, *short)


def _wishes_of(line: str, named: list[tuple[int, int, str]], shelf: Shelf) -> tuple[list[AskedFish], bool]:
    """What a line asks for, and whether each of its numbers counts a fish."""
    marked, at = "", 0
    for index, (begin, end, _) in enumerate(named):
        marked += line[at:begin] + chr(_FIRST_MARK + index)
        at = end
    marked += line[at:]
    for day in reversed(list(wished_days(marked, shelf.today))):
        marked = marked[: day.begin] + marked[day.end :]
    marked = AMOUNT.sub("", PRICE_OF_ONE.sub("", marked))
    wishes = [
        AskedFish(species, _population(marked, index, species, shelf))
        for index, (_, _, species) in enumerate(named)
    ]
    for wish in wishes:
        if wish.population:
            marked = re.sub(rf"(?<!\w){re.escape(wish.population)}(?!\w)", "", marked, flags=re.IGNORECASE)
    parts = _BETWEEN.split(_SEVERAL.sub("", marked))
    counts = [_NUMBER.findall(part) for part in parts]
    _count(wishes, parts, counts, each=bool(_EACH.search(marked)))
    told, numbers = [wish.eggs for wish in wishes if wish.eggs], len(re.findall("[0-9]+", marked))
    is_plain = numbers in (len(told), len(set(told))) and not any(map(all_there_are, parts))
    is_plain = is_plain and not any(one.search(marked) for one in (_SEVERAL, _ABOUT, _A_DOZEN))
    return _with_either(wishes, marked), is_plain


def _count(wishes: list[AskedFish], parts: list[str], counts: list[list[str]], each: bool) -> None:
    """Gives each fish the number of its own part of the line, or of one beside it that says little else."""
    waiting: list[int] = []
    loose, closed = "", set()
    for part, numbers in zip(parts, counts, strict=True):
        here = [ord(letter) - _FIRST_MARK for letter in part if _is_mark(letter, len(wishes))]
        eggs = _COUNTED.search(part)
        number = eggs[1] if eggs else numbers[0] if len(numbers) == 1 else ""
        if not here and not eggs and len(re.findall(r"[^\W\d_]+", part)) > 1:
            number = ""
        if all_there_are(part):
            closed |= set(here)
            waiting = []
        elif here and (number or loose):
            wishes[here[0]] = replace(wishes[here[0]], eggs=number or loose)
            waiting, loose = here[1:], ""
        elif here:
            waiting += here
        elif number and waiting:
            wishes[waiting[-1]] = replace(wishes[waiting[-1]], eggs=number)
            waiting = []
        elif number and not any(wish.eggs for wish in wishes):
            loose = number
    told = {wish.eggs for wish in wishes if wish.eggs}
    if each and len(told) == 1:
        eggs_of_each = told.pop()
        for index, wish in enumerate(wishes):
            if index not in closed:
                wishes[index] = replace(wish, eggs=eggs_of_each)


def _is_mark(letter: str, many: int) -> bool:
    return _FIRST_MARK <= ord(letter) < _FIRST_MARK + many


def _with_either(wishes: list[AskedFish], marked: str) -> list[AskedFish]:
    """Fish with an "or" between are one wish: the first, and what may go instead of it."""
    result: list[AskedFish] = []
    for index, wish in enumerate(wishes):
        between = marked[: marked.index(chr(_FIRST_MARK + index))].rpartition(chr(_FIRST_MARK + index - 1))
        is_other = bool(result) and _OR.fullmatch(between[2]) is not None
        if is_other and wish.species != result[-1].species:
            other = f"{wish.species}/{wish.population}" if wish.population else wish.species
            first = result[-1]
            result[-1] = replace(first, eggs=first.eggs or wish.eggs, instead=(*first.instead, other))
        else:
            result.append(wish)
    return result


def _population(marked: str, index: int, species: str, shelf: Shelf) -> str:
    """The one population on hand of a fish that stands behind it, before the next; "" for none."""
    behind = re.split("[\ue000-\uf8ff]", marked.partition(chr(_FIRST_MARK + index))[2])[0]
    named = {lot.population for lot in shelf.lots_of(species) if _names(behind, lot.population)}
    return named.pop() if len(named) == 1 else ""


def _names(text: str, name: str) -> bool:
    """Does a text name this, as words of its own?"""
    return bool(name) and re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE) is not None


_MONTH = r"[^\W\d_]{3,10}\.?"
#: A day, as people write one in a mail: in figures, with its month by name, or without its year.
_DAY = re.compile(
    r"\b(?:[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}\b"
    rf"|[0-9]{{1,2}}(?:\.|st|nd|rd|th|er|º)? (?:of |de |d')?(?P<behind>{_MONTH})"
    r"(?:,?(?: del?)? [0-9]{4}\b)?"
    rf"|(?P<ahead>{_MONTH}) [0-9]{{1,2}}(?:st|nd|rd|th)?\b(?:,? [0-9]{{4}}\b)?"
    r"|[0-9]{1,2}(?:\. ?[0-9]{1,2}\.(?! ?[0-9])|/[0-9]{1,2}(?![0-9./])))",
    re.IGNORECASE,
)
_YEAR = re.compile(r"[0-9]{4}|[0-9]+[./-][0-9]+[./-][0-9]")
_NOT = (
    r"(?:(?:not|\w+n['’]t|never|nicht|kein\w*|nie|pas|jamais) (?:[^\W\d_]+ ){0,3}?"
    r"|(?:no|nunca) (?:[^\W\d_]+ )?)"
)
#: What stands in front of a last or a first day, turned round by a "not" ahead of it: in English, where
#: figures may have the month first, and elsewhere. A "not" in front of some of them is not clear.
_BOUND = re.compile(
    rf"\b(?P<no>{_NOT})?(?P<word>"
    r"(?P<last>before|earlier than|sooner than|until|till|by|at the latest|(?P<last_elsewhere>vor|früher als"
    r"|eher als|bis|spätestens|avant|plus tôt que|jusqu\W\w+|au plus tard|antes|hasta|a más tardar))"
    r"|(?:after|later than|from|at the earliest|(?P<first_elsewhere>nach|später als|ab|frühestens|erst|après"
    r"|plus tard que|dès|à partir|au plus tôt|después|más tarde|desde|a partir)))(?!\w)",
    re.IGNORECASE,
)
_NEVER_TURNED = re.compile(r"by|bis|jusqu.*|from|ab|dès|à partir|desde|a partir", re.IGNORECASE)
_WAITING = re.compile("wait|wart|attend|esper", re.IGNORECASE)
_OF_PLACES = re.compile("by|from|nach|ab|erst|dès|desde", re.IGNORECASE)
_BEHIND = re.compile(
    r"\W*(?:(?P<last>at the latest|(?P<last_elsewhere>spätestens|au plus tard|a más tardar))"
    r"|(?:at the earliest|or later|onwards?|(?P<first_elsewhere>frühestens|oder später|au plus tôt"
    r"|ou plus tard|o más tarde)))(?!\w)",
    re.IGNORECASE,
)
_NOT_THERE = re.compile(
    r"\b(?:not|\w+n['’]t|never|nicht|kein\w*|nie|pas|jamais|no|nunca)(?!\w)", re.IGNORECASE
)
_SENTENCE_END = re.compile(r"(?<![0-9])[.!?](?:\s|$)|;")
#: Words between a bound and its day.
_BESIDE = re.compile("the|on|de[mnr]|zum|am|l[ea]|du|au|que|el|al|del?|día|than|a", re.IGNORECASE)
#: A year that was not said is that of the coming such day, if it is no more days ahead.
_MOST_DAYS_AHEAD = 184


@dataclass(frozen=True, slots=True)
class WishedDay:
    """A day from ``begin`` to ``end`` of a line; ``bound`` is the column of orders that it is for, ``day``
    the one that is meant: "" and None where that is not sure.
    """

    begin: int
    end: int
    has_year: bool
    bound: str = ""
    day: date | None = None


def wished_days(line: str, today: date, before: str = "") -> Iterator[WishedDay]:
    """The days of a line with their year, or a bound beside them; ``before`` is open of the line before."""
    at, ahead_from = 0, 0
    while match := _DAY.search(line, at):
        month = match["behind"] or match["ahead"]
        if month and month_named(month, cut_anyhow=False) is None:
            at = match.start() + 1
            continue
        ahead = line[ahead_from : match.start()] if ahead_from else f"{before} {line[: match.start()]}"
        ahead = ahead[max((end.end() for end in _SENTENCE_END.finditer(ahead)), default=0) :]
        behind = line[match.end() :]
        behind = behind[: next((end.start() for end in _SENTENCE_END.finditer(behind)), None)]
        at = ahead_from = match.end()
        has_year = bool(_YEAR.search(match[0]))
        bound = next(reversed([*_BOUND.finditer(re.split("[0-9]", ahead)[-1])]), None) or _BEHIND.match(
            behind
        )
        if bound is None:
            if has_year:
                yield WishedDay(match.start(), at, has_year)
            continue
        is_elsewhere = bool(bound["last_elsewhere"] or bound["first_elsewhere"])
        column = _column(bound, ahead, behind)
        day = _day_meant(match[0], has_year, is_elsewhere, today) if column else None
        yield WishedDay(match.start(), at, has_year, column, day)


def names_a_bound(line: str) -> bool:
    """Does a line say "not before" or the like, in words that are said of little else?"""
    return any(bound["no"] or not _OF_PLACES.fullmatch(bound["word"]) for bound in _BOUND.finditer(line))


def _column(bound: re.Match[str], ahead: str, behind: str) -> str:
    """The bound of an order that a word beside a day means; "" where its sentence may turn it round."""
    is_turned, other = False, ahead
    if bound.re is _BOUND:
        is_turned = bool(bound["no"])
        other = (
            bound.string[: bound.start()]
            + behind[: next((one.start() for one in _BOUND.finditer(behind)), None)]
        )
        between = re.findall(r"\w+", bound.string[bound.end() :])
        if any(not _BESIDE.fullmatch(word) and weekday_named(word) is None for word in between):
            return ""
        if is_turned and (_NEVER_TURNED.fullmatch(bound["word"]) or _WAITING.search(bound["no"])):
            return ""
    if _NOT_THERE.search(other):
        return ""
    return "not_after" if bool(bound["last"]) != is_turned else "not_before"


def _day_meant(text: str, has_year: bool, is_elsewhere: bool, today: date) -> date | None:
    """The one day that is meant, figures with the day first where no English stands beside; None else."""
    plain = re.sub(r"(?<=[0-9])(?:st|nd|rd|th|er|º)\b|\b(?:of|del?)\b|\bd'", "", text, flags=re.IGNORECASE)
    plain = re.sub(r"(?<=\.) (?=[0-9])", "", " ".join(plain.split()).strip("./ ,"))
    between = re.search("[./]", plain) if not re.search(r"[^\W\d_]", plain) else None
    for year in (today.year, today.year + 1):
        meant = days_meant(plain if has_year else f"{plain}{between[0] if between else ' '}{year}")
        days = {day_read_by(meant, "day first")} if is_elsewhere else set(meant.values())
        day = days.pop() if len(days) == 1 else None
        if day is None or has_year or 0 <= (day - today).days <= _MOST_DAYS_AHEAD:
            return day
    return None

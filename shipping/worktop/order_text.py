"""What a buyer wrote in, the cells of an order out, for the breeder to look over; nothing is written here."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count, pairwise
from string import ascii_uppercase

from shipping.tables.countries import codes_named, countries, part_named
from shipping.tables.country_parts import is_part, subdivision_code
from shipping.tables.mapped_orders.combined_cells import (
    PlaceWritten,
    country_of_place,
    place_at_end,
    place_in_line,
)
from shipping.tables.rows.settings import is_sign_of
from shipping.tables.shelf import Shelf
from shipping.tables.spelling import folded
from shipping.worktop.page_language import day_shown, name_of_country, tr
from shipping.worktop.wishes import (
    AMOUNT,
    PRICE_OF_ONE,
    AskedFish,
    WishedDay,
    counts_of_eggs,
    names_a_bound,
    wished_days,
    wishes_in,
)

_MAIL = re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+")
#: A number behind a word for telephone, one with its country's, or one that is all of a line.
_TELEPHONE = re.compile(
    r"(?:\b(?:tel|tlf|tfno?|tél|m[oó]vil|mobile?|mob|cell|handy|portable|gsm|whatsapp|phone|"
    r"(?:tele|télé|mobil|handy)(?:phone|fono?|fon|téléfono|nummer)\w*|teléfono|telephone)\b[^0-9+(\n]{0,20}"
    r"(?P<labelled>\+?\(?[0-9][0-9 ()/.-]{5,}[0-9])"
    r"|(?P<abroad>(?:\+|\b00)[1-9][0-9 ()/.-]{6,}[0-9])"
    r"|(?P<american>(?:\([2-9][0-9]{2}\) ?|(?<![\w-])[2-9][0-9]{2}[-.])[2-9][0-9]{2}[-.][0-9]{4}\b)"
    r"|^(?P<whole>(?![0-9]{5}-[0-9]{3,4}$)[0-9(][0-9 ()/-]{5,}[0-9])$)",
    re.IGNORECASE,
)
_FAX = re.compile(r"\b(?:tele)?fax\b", re.IGNORECASE)
#: How a letter begins and how it ends, in the languages of the page; no line of an address does.
_GREETING = re.compile(
    r"(?:hello|hi|hey|dear|good (?:morning|day|afternoon|evening)|hallo|guten (?:tag|morgen|abend)|liebe[rs]?"
    r"|sehr geehrte[rs]?|moin|servus|grüezi|bonjour|bonsoir|salut|chère?s?|madame|monsieur|hola|buen[oa]s"
    r"|estimad[oa]s?|querid[oa]s?|bom dia|boa (?:tarde|noite)|olá|car[oa]s?|buongiorno|buonasera|ciao|salve"
    r"|gentil[ei]|dzień dobry|cześć|witam|dobrý den|ahoj|goede(?:morgen|middag|navond)|beste|hej|hei|god dag"
    r"|moi|terve|hyvää päivää)\b[^0-9]*",
    re.IGNORECASE,
)
_CLOSING = re.compile(
    r"(?:(?:many |vielen |besten |herzlichen |schönen |un grand |mil |muchas )?"
    r"(?:thanks|thank you|thx|cheers|danke|dank|merci|gracias)"
    r"|(?:kind(?:est)?|best|warm|with (?:kind|best)) (?:regards|wishes)|regards|best|yours|sincerely"
    r"|(?:(?:mit )?(?:vielen?|lieben?|besten?|freundlichen?|herzlichen?|schönen?) )?"
    r"(?:grüße?n?|grüsse?n?|gruß|gruss)"
    r"|lg|mfg|vg|hg|bis bald|bis dann|tschüss"
    r"|(?:bien )?cordialement|bien à vous|amicalement|(?:meilleures |sincères )?salutations"
    r"|à bientôt|bonne journée"
    r"|(?:muito )?obrigad[oa]|(?:com os melhores )?cumprimentos|atenciosamente|abraço"
    r"|grazie(?: mille)?|(?:cordiali |distinti )?saluti|dziękuję|pozdrawiam|(?:předem )?děkuji|s pozdravem"
    r"|(?:met )?(?:vriendelijke )?groet(?:en|jes)?|bedankt|dank je|(?:med )?(?:venlig(?:e)? |vennlig )?hilsen"
    r"|(?:med )?(?:vänliga? )?hälsning(?:ar)?|mvh|tack|takk|tak|kiitos|(?:ystävällisin )?terveisin"
    r"|(?:un |muchos )?(?:cordial(?:es)? )?(?:saludos?)|atentamente|cordialmente|un abrazo|hasta pronto)"
    r"(?:[ ,.!][^0-9]*|)",
    re.IGNORECASE,
)
#: Who wrote, and what else stands in the head of a mail, as mail programs name it.
_SENDER = re.compile(
    r"(?:from|von|de|da|van|od|fra|från|lähettäjä|feladó|remetente|remitente|expéditeur|mittente|nadawca)"
    r"\s*:\s*\"?([^<>\"@]*?)\"?\s*(?:<?[\w.+-]+@.*)?",
    re.IGNORECASE,
)
_HEAD = re.compile(
    r"(?:subject|betreff|assunto|asunto|objet|oggetto|onderwerp|temat|předmět|emne|ämne|aihe|tárgy|date|datum"
    r"|data|fecha|sent|gesendet|enviad[oa]|envoyé|to|an|para|à|a|aan|do|til|till)\s*:.*",
    re.IGNORECASE,
)
#: What streets are called where the word stands apart, and how their names end where it does not.
_STREET = re.compile(
    r"\b(?:rua|r\.|avenida|av\.?|travessa|largo|praça|praceta|estrada|alameda|beco|calle|c/|plaza|paseo|camino"
    r"|rue|bd|boulevard|avenue|allée|chemin|place|impasse|quai|route|via|viale|corso|piazza|vicolo|strada|largo"
    r"|ul\.?|ulica|aleja|al\.|osiedle|os\.|plac|pl\.|ulice|třída|nábřeží|náměstí|nám\.|utca|út|tér|körút"
    r"|street|st|road|rd|lane|ln|drive|dr|close|court|ct|way|terrace|square|ave|blvd|circle|trail|parkway|pkwy"
    r"|highway|hwy|crescent|cres)(?!\w)"
    r"|\w(?:straat|laan|weg|plein|gracht|kade|straße|strasse|str\.|gasse|platz|allee|gade|vej|stræde|gata|gatan"
    r"|väg|vägen|gate|vei|veien|plass|katu|tie|kuja|polku|tori)(?!\w)",
    re.IGNORECASE,
)
#: A house's number in front of its street, which is no postcode.
_HOUSE = re.compile(
    rf"[0-9]+[a-z]? (?:{_STREET.pattern}.*|.*{_STREET.pattern}\.?(?:,? (?:apt|unit|suite|ste|#).*)?)", re.I
)
#: What says that the rest of a line is an address.
_ADDRESSED = re.compile(
    r"(?:mi |my |meine |mon )?(?:direcci[oó]n(?: de env[ií]o)?|env(?:[ií]o|iar) a|(?:liefer|versand)?adresse"
    r"|(?:versand|lieferung) an|adresse de livraison|livraison|envoyer à"
    r"|(?:(?:shipping|delivery) )?address|(?:ship|send|post|deliver) to)\s*:\s*(\S.*,.*)",
    re.IGNORECASE,
)
#: What stands in a name with a small letter.
_OF_A_NAME = re.compile("d(?:e|a|o|as|os|el|ella|i|u|er|en)|v[ao]n|te[nr]|zu|[yei]|l[ae]|el|a[fv]")
#: Cells that are not read from a mail, or hold all of it.
_OURS = frozenset(("note", "order", "placed_on", "paid_on"))
_DELIVERY = ("delivery_1", "delivery_2", "delivery_3", "delivery_4")


@dataclass(frozen=True, slots=True)
class ReadMail:
    """The cells of an order's first line, the fish of its further lines, and what was not understood;
    ``days`` are those read into cells, as they stand in the text.
    """

    cells: dict[str, str]
    further: tuple[AskedFish, ...]
    puzzling: tuple[str, ...]
    days: tuple[str, ...] = ()


def read_mail(text: str, shelf: Shelf) -> ReadMail:
    """The cells that could be read from a mail or a message.

    What could not be read is left blank and listed, never guessed; the whole text stays in the note.
    """
    found, home = {"placed_on": shelf.today.isoformat(), "note": text.strip()}, shelf.settings.home.country
    typed = [" ".join(line.split()) for line in text.splitlines()]
    own = [line for line in typed if not line.startswith(">")]  # what it quotes was said by somebody else
    whole = [part for line in (own if wishes_in(own, shelf).fish else typed) for part in _lines_in(line)]
    lines = [_without_telephone(line, found) for line in whole]
    wishes = wishes_in(lines, shelf)
    puzzling, days_read = list(wishes.puzzling), list[str]()
    left = []
    countries_named = (_country(line, before, home) for before, line in pairwise(("", *lines)))
    country = next(filter(None, reversed(list(countries_named))), "")  # in an address it stands last
    senders = (head[1].strip() for line in lines if (head := _SENDER.fullmatch(line)))
    sender = next(filter(None, senders), "")
    for before, line in pairwise(("", *lines)):
        days = list(wished_days(line, shelf.today, "" if re.search(r"[.!?;:,]$", before) else before))
        puzzling += [told for told in _bounds(line, days, found) if told not in puzzling]
        days_read += [line[wish.begin : wish.end] for wish in days if wish.day]
        if line in wishes.lines and not days and names_a_bound(line) and line not in puzzling:
            puzzling.append(line)
        if mail := _MAIL.search(line):
            found.setdefault("mail", mail[0])
        elif country and _country(line, before, home) == country:
            found["country"] = country
            left.append(part_named(line) or "")
        elif line in wishes.lines or _is_no_address(line):
            left.append("")
        elif not days or _is_street(line):
            left.append(line)
    places = (
        country_of_place(line) or country_of_place(f"{above}, {line}")
        for above, line in pairwise(("", *left))
    )
    if not country and (told := list(filter(None, places))):
        found["country"] = told[-1]
    found |= _address(left, found.get("country", ""), puzzling, sender)
    puzzling += filter(PRICE_OF_ONE.search, lines)
    if len(wishes.fish) == 1 and (price := _price(lines, shelf.settings.plan.currency)):
        found["price"] = price
    if wishes.fish:
        found |= wishes.fish[0].cells()
    elif len(counts := {count for line in lines for count in counts_of_eggs(line)}) == 1:
        found["eggs"] = counts.pop()
    for line in lines:
        if line not in puzzling and (line in wishes.lines or _is_no_address(line)):
            unread = _unread(line, shelf, [text for name, text in found.items() if name != "note"])
            puzzling += [part for part in unread if not any(part in one for one in puzzling)]
    as_typed = dict(zip(lines, whole, strict=True))
    puzzled = tuple(dict.fromkeys(as_typed.get(line, line) for line in puzzling))
    return ReadMail(found, wishes.fish[1:], puzzled, tuple(days_read))


def _unread(line: str, shelf: Shelf, cells: Collection[str]) -> Iterator[str]:
    """The sentences of a line that wishes or greets of which nothing was read: ``J'ai payé hier``."""
    parts = [part.strip(" ,;.!?") for part in re.split(r"(?<=[.!?;])\s+|,\s+(?=[^\W\d])", line)]
    for part in parts if len(parts) > 1 else ():
        is_read = (
            any(len(text) > 2 and text in part for text in cells)
            or wishes_in([part], shelf).fish
            or any((*counts_of_eggs(part), *wished_days(part, shelf.today)))
            or AMOUNT.search(part)
        )
        if not (is_read or _is_no_address(part) or _is_name(part) or len(part.split()) < 2):
            yield part


def marked(text: str, cells: Mapping[str, str], more: Iterable[str] = ()) -> list[tuple[str, bool]]:
    """A mail in pieces, each with whether it stands in the form: in a cell, or among ``more``."""
    values = [line for name, cell in cells.items() if name not in _OURS for line in cell.splitlines()]
    country = cells.get("country", "")
    words = sorted({*values, name_of_country(country), *more}, key=len, reverse=True)
    said = "|".join(rf"(?<!\w){re.escape(word)}(?!\w)" for word in words if word.strip())
    pieces = re.split(f"({said})", text, flags=re.IGNORECASE) if said else [text]
    return [(piece, n % 2 == 1) for n, piece in enumerate(pieces) if piece]


def _is_no_address(line: str) -> bool:
    """Is it of a letter's head, how it begins or how it ends?"""
    return any(form.fullmatch(line) for form in (_GREETING, _CLOSING, _SENDER, _HEAD))


def _price(lines: list[str], currency: str) -> str:
    """The one amount of home money that is named; "" where there is none, or several."""
    amounts = {
        (found[2] or found[3]).replace(",", ".")
        for line in lines
        for found in AMOUNT.finditer(PRICE_OF_ONE.sub("", line))
        if is_sign_of((found[1] or found[4]).casefold().replace("euros", "euro"), currency)
    }
    return amounts.pop() if len(amounts) == 1 else ""


def _without_telephone(line: str, found: dict[str, str]) -> str:
    """A line without the number it may be called by, which is written into the cells."""
    number = None if _FAX.search(line) else _TELEPHONE.search(line)
    if number is None:
        return line
    found.setdefault("tel", " ".join(next(filter(None, number.groups())).split()))
    return " ".join(f"{line[: number.start()]} {line[number.end() :]}".split()).strip(" ,;:")


def _bounds(line: str, days: Sequence[WishedDay], found: dict[str, str]) -> Iterator[str]:
    """Writes the first and the last day that a line names into the cells; what of it is to be looked at."""
    for wish in days:
        if wish.day and wish.bound not in found:
            found[wish.bound] = wish.day.isoformat()
            if not wish.has_year:
                yield tr("{line} – read as {day}, for no year is said.", line=line, day=day_shown(wish.day))
        elif wish.bound or not _is_street(line):
            yield line


def _address(lines: list[str], country: str, puzzling: list[str], sender: str) -> dict[str, str]:
    """The address: where a line names postcode and town, what stands right above it; else every short line.

    What stands where a name should, and is none, gives way to the ``sender``, or to the name that the letter
    ends with. Lines that are none of it are added to those that were not understood.
    """
    place: dict[str, str] = {}
    used: set[int] = set()
    if found := [(at, *read) for at in range(len(lines)) if (read := _place_at(lines, at, country))]:
        at, there, many = found[-1]
        place = there.cells()
        used |= set(range(at + 1 - many, at + 1))
        at += 1 - many
        above = at
        while above and _is_short(lines[above - 1]):
            above -= 1
        own = list(range(above, at))
        if len(own) < 2:  # the name stands apart from the street
            own = [*[other for other in range(above) if _is_short(lines[other])][-1:], *own]
    else:
        own = [at for at, line in enumerate(lines) if _is_short(line)]
    own = own[: 1 + len(_DELIVERY)]
    name = lines[own[0]] if own else ""
    last = next((at for at in reversed(range(len(lines))) if lines[at]), 0)
    signed = lines[last] if lines and last not in {*own, *used} and _is_name(lines[last]) else ""
    if not _is_name(name) and (sender or signed):
        own = own if re.search("[0-9]", name) else own[1:]
        name = sender or signed
        used |= {last} if name == signed else set()
    elif not _is_name(name) and (not found or _is_street(name)):
        name, own = "", own if found else []
    else:
        used |= set(own[:1])
        own = own[1:]
    used |= {
        at for at, line in enumerate(lines) if line and line in name.split()[:1]
    }  # signed by a first name
    puzzling += [line for at, line in enumerate(lines) if line and at not in {*own, *used}]
    streets = dict(zip(_DELIVERY, (lines[at] for at in own), strict=False))
    named = {"addressee": name} | streets | place
    return {name: text for name, text in named.items() if text}


def _place_at(lines: Sequence[str], at: int, country: str) -> tuple[PlaceWritten, int] | None:
    """What the line there says of a place, with those above it that belong to it, and how many they are.

    A line without a postcode is one only below a street.
    """
    if not lines[at] or _HOUSE.fullmatch(lines[at]):
        return None
    begin = next((one for one in range(at - 1, -1, -1) if not _is_short(lines[one])), -1) + 1
    read = place_at_end(lines[begin : at + 1], country)
    return read if read and (read[0].postcode or _is_street(lines[at - read[1]])) else None


def _lines_in(line: str) -> list[str]:
    """A line that holds the end of an address, with what stands in front of it and the country behind, as
    the lines of an address; as it is where it holds none.
    """
    if addressed := _ADDRESSED.fullmatch(line):
        return [*re.split(r",\s*(?=[^\W\d_]|[0-9]{4})", addressed[1].rstrip(" .,")), ""]
    words = line.split()
    for many in range(min(5, len(words)) if not _HOUSE.fullmatch(line) else 0):
        head, tail = " ".join(words[: len(words) - many]), " ".join(words[len(words) - many :])
        parts = [part for part in re.split(r"\s*[,;]\s*", head) if part]
        ends = [", ".join(parts[-few:]) for few in (1, 2, 3)]
        code = _country(tail, head, "") if tail else next(filter(None, map(country_of_place, ends)), "")
        if code and code == _country(head, "", ""):
            return [head, tail]
        read = place_at_end(parts, code) if code else None
        if read and read[0].postcode:
            at = len(parts) - read[1] if re.search("[0-9]", " ".join(parts[: -read[1]])) else 0
            streets = (re.split(r"\s(?=[0-9]+\w? \D*$)", part) for part in parts[:at])
            ahead = [
                own for two in streets for own in (two if _HOUSE.fullmatch(two[-1]) else [" ".join(two)])
            ]
            return list(filter(None, [*ahead, ", ".join(parts[at:]), tail]))
    return [line]


def _is_short(line: str) -> bool:
    """May a line be one of an address? One that names a street and a number may end as a sentence does."""
    ends = line.endswith(("!", "?", ",", ":")) or (line.endswith(".") and not _is_street(line))
    return 0 < len(line) < 45 and not ends


def _is_street(line: str) -> bool:
    return _STREET.search(line) is not None and re.search("[0-9]", line) is not None


def _is_name(line: str) -> bool:
    """May a line be a person's or a firm's name: words that begin with capitals, and no number?"""
    words = line.split()
    return (
        0 < len(words) < 6
        and not re.search("[0-9]", line)
        and not all(_OF_A_NAME.fullmatch(word) for word in words)
        and all(_OF_A_NAME.fullmatch(word) or not word[0].islower() for word in words)
    )


def next_order(own: Sequence[str], of_sheets: Collection[str] = (), of_parcels: Collection[str] = ()) -> str:
    """A number that no order has: behind the highest that begins as the last of the breeder's ``own``.

    Where orders ``of_sheets`` are counted so too and the shop would give it to somebody else, a letter of its
    own begins anew.
    """
    theirs = frozenset(map(folded, of_sheets))
    mine = [_counted(order) for order in own if folded(order) not in theirs and _counted(order)[2]]
    begin = mine[-1][0] if mine else ""
    number, digits = max((one[1:] for one in mine if one[0] == begin), default=(0, 1))
    shops = [_counted(order) for order in of_sheets]
    if any(folded(shop) == folded(begin) and width and at <= number + 1 for shop, at, width in shops):
        begins = {folded(shop) for shop, *_ in shops}
        begin, number, digits = (
            next((one for one in ascii_uppercase if folded(one) not in begins), "own-"),
            0,
            1,
        )
    taken = theirs.union(map(folded, own), map(folded, of_parcels))
    names = (f"{begin}{one:0{digits}d}" for one in count(number + 1))
    return next(name for name in names if folded(name) not in taken)


def _counted(order: str) -> tuple[str, int, int]:
    """How an order's number begins, what it counts at its end, and in how many digits; 0 where in none."""
    match = re.fullmatch(r"(.*?)([0-9]{1,9})", order)
    return (match[1], int(match[2]), len(match[2])) if match else (order, 0, 0)


def _country(line: str, before: str, home: str) -> str:
    """The code of the country that a line is; two letters are one only below a town with its postcode, and
    what is a part of the ``home`` country, too, is none.
    """
    if len(line) == 2 and line != "UK":
        return line if line in countries() and place_in_line(before, line) else ""
    codes = codes_named(line)
    is_one = len(codes) == 1 and (codes[0] == home or not is_part(home, subdivision_code(home, line)))
    return codes[0] if is_one else ""

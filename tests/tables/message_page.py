"""Every message of ``check`` as a page: the broken shelves are read, and what they say is written down by its
code.

``python -m tests.tables.message_page > docs/messages.md`` writes the page again; a test fails where it is
stale, where a code of the program is missing from it, or where a code here is no longer said.
"""

from __future__ import annotations

import functools
import sys
import tempfile
from pathlib import Path

from shipping.tables.editing.starter import write_shelf
from shipping.tables.reader import read_shelf
from shipping.words.problems import Problem, ShelfProblems, Where
from tests.tables.mistakes import mistakes, shelf_with, told_with
from tests.tables.shelves import TODAY, good_shelf

TITLE = """# The messages of `check`

Written by `python -m tests.tables.message_page` from `tests/bad_tables/mistakes.csv`: each mistake has a
mended twin that passes; a test fails where it is stale. A message says where (file or sheet, row as the
spreadsheet shows it, column), what is wrong, and how to mend it. In `--json` it has `file`, `row`, `column`,
`code`, `text`, `mend` and `level`. What stops everything comes first, then what stops one lot, then what
wants a second look, then what is only said.
"""

#: What each code of the tables means.
TABLES: dict[str, str] = {
    "address-cell": "An address in one cell of a mapped sheet whose country is not known.",
    "asked": "A value that no breeder would mean; `[reading] meant` confirms it.",
    "backwards": "A lot's stage falls back from one look to the next.",
    "bad-cell": "What was given to `new` is no country or no part of one.",
    "blank": "A cell that is needed is blank.",
    "border": "Parcels are held at the border, and for how long is not said.",
    "box": "A bag in a box that would crush or stifle it.",
    "ask-post": "No operator has said yes to live eggs in a way that counts.",
    "called-off": "A text says that an order is cancelled, and the row has no `cancelled_on`.",
    "cancelled": "Rows with a day in `cancelled_on` are left out.",
    "cannot-open": "The file may not be opened, or another program holds it.",
    "cannot-write": "The file may not be written; it is as it was. Said by commands that write one row.",
    "cell": "A cell does not hold what its column is for.",
    "changed": "A row that was taken before is different now; nothing is taken without `check --take`.",
    "cheaper": "Postage for a heavier parcel is less than for a lighter one.",
    "closed": "A lot of a species that a rule closes at home.",
    "column": "A cell holds what belongs in the column beside it.",
    "column-twice": "Two columns have the same header.",
    "columns-clash": "Two parts of `orders.toml` say the same thing twice.",
    "currency": "Prices in money that nobody is paid in any more.",
    "disagree": "Two rows of one order differ in what belongs to the order as a whole.",
    "encoding": "The bytes are no UTF-8 text; the encoding is asked for and never guessed.",
    "family": "A family that no rule would name: the fish would escape rules for its family.",
    "former-name": "A column or table by a name that shelves made before gave it; it is read all the same.",
    "future": "A day after today where only the past can be.",
    "hidden-rows": "Hidden rows are read like all others.",
    "invented-sender": "The sender is still the invented one of a new shelf; nothing is printed with it.",
    "keep-back": "More eggs are kept back than the lot has.",
    "language": "A language that is none of the buyer's country: one of the two codes is another's.",
    "left-out": "Rows of a mapped sheet that its mapping leaves out by a word, or its foot.",
    "letters": "Letters of a name or an address that a wrong reading broke or lost.",
    "line-twice": "The same fish and count twice: in one order, for one buyer and day, or as two lots.",
    "long-laying": "A lot laid over so many days that a year may be mistyped.",
    "long-wait": "An order so old that its year may be mistyped.",
    "look-alike": "A file or sheet that is not read, and is named almost like a table.",
    "losses": "A recount below what is reckoned; the difference is taken as losses.",
    "lot-gone": "A lot whose note says that it is gone, and whose eggs count all the same.",
    "lot-name": "A lot named like a row of sums, or like an example.",
    "medium": "Eggs, medium and packing do not go together.",
    "merged-cells": "Of merged cells only the first holds a value.",
    "new": "Orders of a mapped sheet that were not taken before.",
    "no-column": "A column that is needed is not there.",
    "no-header": "The first row is no header, or a column has none.",
    "no-postage": "A service goes where no postage is known.",
    "no-route": "An order names a service that does not go to its country.",
    "no-row": "The row to change is not there. Said by commands that write one row.",
    "no-rows": "A table that is needed has a header and nothing below it.",
    "no-setting": "A setting that is needed is not there.",
    "no-source": "A rule or an operator's answer whose source names nobody.",
    "no-stage": "A stage's day without the stage.",
    "no-subdivision": "Holidays differ within the home country, and the part is not said.",
    "no-table": "A table that is needed is not there.",
    "no-weight": "A packed unit without a weight: postage is too low.",
    "not-empty": "`new` does not write over a shelf.",
    "nothing": "A look that says nothing.",
    "open-everywhere": "A rule that opens every country to every fish.",
    "order": "Two values stand the wrong way round.",
    "order-name": "An order named like a row of sums or a trial, or a number a sheet wrote in powers of ten.",
    "other-country": "A postcode of a place that has a country code of its own.",
    "overruled": "An order stands in the table and in a mapped sheet; the table's counts.",
    "own-column": "A column of the breeder's own, named like one of ours with `_` in front.",
    "papers": "Papers joined by a comma, that no rule asks for, or beside a verdict that asks for none.",
    "parcel-name": "An arrival of a parcel that no plan can have named so.",
    "postcode": "A postcode that no place of the country has.",
    "question": "What was asked cannot be answered so.",
    "quotes": "Quotes do not close as they should.",
    "recount": "More eggs counted, hatched or removed than there can be; the lot stays out.",
    "region": "A region of another country.",
    "scientific-name": "A scientific name that rules would not find.",
    "setting": "A setting does not hold what it is for.",
    "skipped-rows": "Rows that begin with `#` are not read, though they are as long as a row.",
    "spreadsheet-error": "A cell holds a spreadsheet's error, or a formula that was never worked out.",
    "stage-day": "A stage without a day; the day of the count is taken.",
    "synonyms": "Synonyms joined by a comma, or the name of another species.",
    "table-twice": "The same table in two files.",
    "toml": "The text of `shelf.toml` or `orders.toml` is no TOML.",
    "too-large": "A file, cell or table beyond the bounds of a breeder's sheet.",
    "too-many-cells": "A row is longer than the header.",
    "twice": "The same key on two rows.",
    "two-addresses": "Orders of one buyer go to two addresses.",
    "two-populations": "A cell that names two populations, which are never mixed.",
    "separators": "Rows whose cells are parted otherwise than those of the header.",
    "two-readings": "A number that may be read in two ways.",
    "two-verdicts": "Two verdicts for one place, fish and medium: the strictest counts.",
    "unknown-column": "A column that the table does not have.",
    "unknown-country": "No code of ISO 3166.",
    "unknown-name": "A row names a row of another table that is not there.",
    "unknown-part": "A part of a country that is not known: the rule may match nothing.",
    "unknown-place": "Neither a country nor a zone.",
    "unknown-population": "A population that is almost one of the lots'.",
    "unknown-setting": "A section or key that the settings do not have.",
    "unknown-subdivision": "A part of the home country that no holiday calendar knows.",
    "unknown-taxon": "A rule's taxon that matches no fish of the species table.",
    "unlike-published": "Figures of a fish, or a rule, far from what the starter tables have of it.",
    "unseen-marks": "Marks that cannot be seen, or a line break, were left out of a cell.",
    "unused-count": "A column of a mapped sheet that sounds like a count or a status and is not read.",
    "waits": "Rows of an order whose first row has a mistake: they are read when it is mended.",
    "wish": "Text that is not a count and a known name of a fish.",
    "withdrawn": "A value of the first starter tables that nobody measured: it does not count yet.",
    "workbook": "The file cannot be read as a workbook, or would have to be written to.",
    "zone-name": "A zone named like a country.",
}

#: What `check` says beside the tables: what reckoning, papers and ledger find.
BESIDE: dict[str, str] = {
    "address": (
        "An address that looks unusual for its country: a hint for a second look; nothing is rewritten."
    ),
    "another-fish": "Eggs of a lot went as another fish or population than the tables call it now.",
    "ask-rule": "The rule of a place that an order goes to says to ask.",
    "no-rule": "No rule speaks to a place that an order goes to.",
    "stale-rule": "The rule of a place that an order goes to was looked up too long ago.",
    "closed-at-home": "A lot whose zone or country of home is closed to its species.",
    "same-day": "A count on a day of packing: it is taken as after the packing until `before_packing` says.",
    "fonts": "`check --ledger`: a font is missing or is not the one that ships.",
    "gone": "`check --ledger`: a paper that was printed is no longer there.",
    "ledger": "The ledger does not open, or `check --ledger` finds its chain, counts or copies wrong.",
    "held-short": "A lot with fewer eggs left than kept parcels hold: one of them will be short.",
    "line-gone": "A line that a kept parcel was packed for is no longer in the tables.",
    "misdated": "A lot whose looks and clock disagree.",
    "moved": "A packed parcel whose order goes to another address now: its label is old.",
    "national-calendar": "A region without a calendar of its own: the national one is used.",
    "no-calendar": "`check --ledger`: no holiday calendar for a country that is posted to.",
    "assumed-warmth": "Nobody has said what parcels feel, and what is assumed passes what the eggs bear.",
    "overdue": "A lot still whole past its late day.",
    "no-border": "An order over a customs border by a service that nothing holds at any.",
    "too-early": "A kept parcel's day is before the day its order may leave.",
    "line-changed": "A line was packed, and its order asks for another fish or for more eggs since.",
    "renumbered": "An order that may be one packed before, under a new number.",
    "rests-on-look": "A damp lot whose days to wet one look without eyes moves by months.",
    "should-have-hatched": "A lot that should be hatching, and of which nobody wrote since.",
    "too-late": "An order of which nothing was kept yet, and that no way brings by its latest day.",
    "count-again": "A lot most of which is reckoned gone since its count.",
    "owed": "Eggs owed again after a claim, as a line of the order.",
    "rate": "A row of `learned` that nothing reads.",
    "wording": "A wording of the breeder's own that cannot be set.",
}


@functools.cache
def examples() -> dict[str, list[str]]:
    """What the broken shelves say, by code: the message that each is there for, without doubles."""
    found: dict[str, list[str]] = {}
    for mistake in mistakes():
        for problem in filter(mistake.is_said_by, told_with(mistake.edit).problems):
            found.setdefault(problem.code, []).append(str(problem))
    for problem in _not_of_a_file():
        found.setdefault(problem.code, []).append(str(problem))
    return {code: list(dict.fromkeys(said)) for code, said in found.items()}


def _not_of_a_file() -> list[Problem]:
    """Messages that no file of a broken shelf can hold."""
    said: list[Problem] = []
    with tempfile.TemporaryDirectory() as name:
        folder = good_shelf(Path(name) / "shelf")
        (folder / "zones.csv").unlink()
        (folder / "zones.csv").mkdir()
        said += [problem for problem in read_shelf(folder, TODAY).problems if problem.code == "cannot-open"]
        shelf_with(Path(name) / "mapped", "form")
        said += [
            problem for problem in read_shelf(Path(name) / "mapped", TODAY).problems if problem.code == "new"
        ]
        begun = Path(name) / "begun"
        begun.mkdir()
        (begun / "orders.csv").touch()
        for home in ("Atlantis", "DK"):
            try:
                write_shelf(begun, home, "", TODAY)
            except ShelfProblems as refused:
                said += refused.problems
    places = [Where(Path(one.where.file).name, one.where.row) for one in said]
    texts = [one.text.replace(name, "") for one in said]
    return [
        Problem(place, one.column, one.code, text, one.mend)
        for place, text, one in zip(places, texts, said, strict=True)
    ]


def page() -> str:
    """The page as Markdown text."""
    said = examples()
    parts = [TITLE, "## What the tables say\n"]
    for code, meaning in sorted(TABLES.items()):
        parts += [
            f"### `{code}`\n",
            f"{meaning}\n",
            *(f"- `{message.replace('`', '')}`" for message in said.get(code, ())),
            "",
        ]
    parts += [
        "## What is said beside them\n",
        *(f"- `{code}`: {meaning}" for code, meaning in sorted(BESIDE.items())),
        "",
    ]
    return "\n".join(parts).replace("\n\n\n", "\n\n")


if __name__ == "__main__":
    sys.stdout.write(page())

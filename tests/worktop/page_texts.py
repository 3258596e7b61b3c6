"""Every text of the page as the catalogue has it: templates and views in, English texts by where they stand
out.
"""

from __future__ import annotations

import ast
import functools
import re
from collections.abc import Iterator
from pathlib import Path

from shipping.ledger.claims import CLAIMS, ENDINGS
from shipping.ledger.entries import KINDS
from shipping.post.restrictions import AUTHORITY
from shipping.tables import list_words
from shipping.tables.editing.starter import NOT_ASKED, starter_columns
from shipping.worktop import table_words
from shipping.worktop.app import _HERE
from shipping.worktop.context import PAGES
from shipping.worktop.page_language import texts_of
from shipping.worktop.running_list import NO_MONEY_YET, PLACES, STANDING, STEPS
from shipping.worktop.todays_tasks import LOOK_FOR
from shipping.worktop.todays_tasks import STEPS as ROUND
from shipping.worktop.views import arrivals, ask, dropped_sheets, lots, orders, rules, setup

#: The offer as it is published speaks to buyers everywhere.
NOT_OURS = frozenset({"published.html"})
_IN_FIELDS = re.compile(r"\{[{%][^{}]*\|tr\b[^{}]*[}%]\}")
#: Pairs that a template goes through, whose words it shows.
_IN_LISTS = re.compile(r"\{% for [a-z]+, words[^{}]*%\}")
_QUOTED = re.compile(r"'([^'\n]*)'")
#: Words in fields that are no text: names of states, attributes and the like.
_NO_TEXT = re.compile(r"[a-z_]+|(day|month) first|[0-9.,]+|")


#: Where parcels, lines and claims stand, what became of them, and what entries of the ledger are.
STATES = (
    *("planned", "to pack", "packed", "to send", "sent", "arrived", "lost", "returned"),
    *("hold", "wait", "stop", "go", "held", "waiting", "stopped", "open", "settled", "paid"),
    *("alive", "hatched alive", "dead", "missing", "day", "item number", "warmth"),
    *KINDS,
)


#: What words an English text.
SAYING = ("tr", "refusing", "recording", "refuse_long")


def _called(node: ast.AST, names: tuple[str, ...]) -> Iterator[str]:
    """The texts that are handed to these functions within a piece of code."""
    for call in ast.walk(node):
        if isinstance(call, ast.Call) and call.args:
            name = call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
            first = call.args[0]
            if name in names and isinstance(first, ast.Constant) and isinstance(first.value, str):
                yield first.value


def of_templates() -> Iterator[tuple[str, str]]:
    for path in sorted((_HERE / "pages").glob("*.html")):
        if path.name not in NOT_OURS:
            source = path.read_text(encoding="utf-8")
            yield from ((path.name, text) for text in texts_of(source))
            for field in (*_IN_FIELDS.finditer(source), *_IN_LISTS.finditer(source)):
                yield from (
                    (path.name, word) for word in _QUOTED.findall(field[0]) if not _NO_TEXT.fullmatch(word)
                )


def of_views() -> Iterator[tuple[str, str]]:
    """What is handed to ``tr`` and the like, and where entries are worded to a ``say`` that is given."""
    for path in sorted(Path(_HERE).rglob("*.py")):
        yield from ((path.name, text) for text in _called(_code(path), SAYING))
    entries = Path(_HERE).parent / "ledger" / "entries.py"
    for node in ast.walk(_code(entries)):
        if isinstance(node, ast.FunctionDef) and "say" in [name.arg for name in node.args.args]:
            yield from ((entries.name, text) for text in _called(node, ("say",)))


def _code(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def of_lists() -> Iterator[tuple[str, str]]:
    """Words that stand in lists and are translated where they are shown."""
    yield from (("pages", name) for _, name in PAGES)
    yield from (("states", word) for word in STATES)
    yield from (("media", word) for word in ["water", "moss", "peat", "coir"])
    yield from (("days", word) for word in ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"])
    yield from (("arrivals", label) for _, _, label in arrivals.COUNTS)
    yield from (("arrivals", label) for label in arrivals.ENDS.values())
    yield from (("lots", label) for _, label in lots.COUNTS)
    yield from (("lots", label) for label in list_words.STAGE_WORDS.values())
    yield from (("ask", label) for label in ask.VERDICTS.values())
    yield from (("steps", step) for step in STEPS.values())
    yield from (("standing", words) for words in STANDING.values())
    yield from (("buttons", words) for _, words in PLACES.values())
    yield from (("orders", words) for words in orders.GROUPS.values())
    yield from (("round", name) for names in ROUND.values() for name in names[:2])
    yield from (("looks", words) for words in (*LOOK_FOR.values(), NO_MONEY_YET))
    yield from (("operators", label) for label in rules.ANSWERS.values())
    yield from (("rules", label) for label in (*rules.VERDICT_WORDS.values(), *rules.OLD_ANSWERS.values()))
    yield from (("setup", label) for _, _, label in setup._TEXTS)
    yield from (("dropped", label) for label in dropped_sheets._MORE_COLUMNS.values())
    yield from (
        ("dropped", words) for answers in dropped_sheets._READING.values() for words in answers.values()
    )
    yield from (("rules", whom) for whom in (AUTHORITY, NOT_ASKED))
    yield from (("claims", word) for word in (*CLAIMS, *ENDINGS))
    yield from (("sheets", text) for one in table_words.SHEETS for text in (one.name, one.one, one.about))
    yield from (("sheets", text) for text in table_words.LABELS.values())
    for one in table_words.SHEETS:
        for column in starter_columns(one.table):
            yield "hints", table_words.label_of(column.name)
            hint = table_words.hint_of(one.table, column)
            yield from (("hints", hint) for _ in range(bool(hint)))
            yield from (("words", word) for word in column.words if word not in list_words.STAGE_WORDS)


def of_script() -> Iterator[tuple[str, str]]:
    """What the script says: sentences in double quotes."""
    script = (_HERE / "worktop.js").read_text(encoding="utf-8")
    yield from (("worktop.js", text) for text in re.findall(r'"([A-Z][^"\n]* [^"\n]*)"', script))


@functools.cache
def every_text() -> dict[str, str]:
    """Each text, and one place where it stands."""
    found: dict[str, str] = {}
    for place, text in (*of_templates(), *of_views(), *of_lists(), *of_script()):
        found.setdefault(text, place)
    return found

"""Every sentence of tables and ledger that a page may show: the source in, its templates by where they stand
out. ``python -m tests.worktop.refusal_texts`` puts the catalogues of other languages in that order.
"""

from __future__ import annotations

import ast
import functools
import re
from collections.abc import Iterator
from pathlib import Path

from shipping.tables.checks.figures import BOUNDS
from shipping.worktop.app import _HERE

PACKAGE = Path(_HERE).parent
#: Where sentences are made that a page or a paper shows; the rest of those rooms speaks otherwise.
ROOMS = ("tables", "ledger", "words", "worktop")
MODULES = (
    *("post/calendar.py", "post/item_id.py", "post/address.py", "post/customs.py"),
    *("questions/offer_text.py", "questions/risk_curve.py", "questions/reckoned_checks.py"),
    *("learning/score.py", "learning/next_margins.py", "learning/lost_by_post.py"),
    *("learning/silence.py", "eggs/should_have_hatched.py"),
    *("papers/charts/lot_picture.py", "papers/charts/pictures.py"),
    "papers/page/fonts.py",
)
#: What only a command says.
OF_COMMANDS = (
    *("tables/editing/rule_dating.py", "tables/editing/starter_book.py"),
    *("ledger/journal/audit.py", "ledger/installation.py"),
    *("words/problems.py", "words/reasons.py"),
)
_SENTENCE = re.compile(r"['\"\w({][^\\]* [^\\]*[.?]")
_NO_SENTENCE = re.compile(r"(SELECT|UPDATE|INSERT|CREATE) |[(\[][^ ]*\]")
_WORDS = re.compile(r"[^\W\d_]{2}")
_FIELD = re.compile(r"\{[^}]*\}")


#: Which arguments of these are handed to ``say`` later.
_SAID_LATER = {"NumberParser": [2], "_Doubt": [4, 5], "Background": [0], "asked": [4]}


def modules() -> list[Path]:
    found = [path for room in ROOMS for path in sorted((PACKAGE / room).rglob("*.py"))]
    found += [PACKAGE / name for name in MODULES]
    return [path for path in found if path.relative_to(PACKAGE).as_posix() not in OF_COMMANDS]


def of_module(path: Path) -> Iterator[tuple[str, str]]:
    """What is handed to ``say``, and whole sentences that have no values."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    name = path.relative_to(PACKAGE).as_posix()
    others = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            others |= {id(part) for part in ast.walk(node)}
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("say", "tr"):
            others.add(id(node.args[0]))
            if node.func.id == "say" and not node.keywords and isinstance(node.args[0], ast.Constant):
                yield name, str(node.args[0].value)
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) and id(node) not in others else None
        if isinstance(text, str) and _SENTENCE.fullmatch(text) and not _NO_SENTENCE.match(text):
            yield name, text


def of_lists() -> Iterator[tuple[str, str]]:
    """Words that are handed to ``say`` by name: units of figures and what an interval is of."""
    yield from (("units", bounds.unit) for bounds in BOUNDS)
    yield from (("steps", word) for word in ("reported", "claimed for"))
    for path in modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            called = node.func if isinstance(node, ast.Call) else None
            name = getattr(called, "id", getattr(called, "attr", ""))
            if isinstance(node, ast.Call) and name in _SAID_LATER:
                for text in (node.args[place] for place in _SAID_LATER[name] if place < len(node.args)):
                    if isinstance(text, ast.Constant):
                        yield name, str(text.value)
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]).endswith("_MEND"):
                yield "_Doubt", str(ast.literal_eval(node.value))


@functools.cache
def every_sentence() -> dict[str, str]:
    """Each sentence as the catalogue has it, and one place where it stands."""
    found: dict[str, str] = {}
    for place, text in (*(pair for path in modules() for pair in of_module(path)), *of_lists()):
        if _WORDS.search(_FIELD.sub("", text)):
            found.setdefault(" ".join(text.split()), place)
    return found


def in_order(catalogue: str) -> str:
    """A catalogue with its sentences under the modules where they stand, in the order of the source."""
    head, *pieces = re.split(r"\n\n(?=> |## )", catalogue.rstrip("\n"))
    entries = {
        " ".join(piece.split("\n")[0][2:].split()): piece for piece in pieces if piece.startswith("> ")
    }
    places: dict[str, list[str]] = {}
    for text, place in every_sentence().items():
        if text in entries:
            places.setdefault(place, []).append(entries.pop(text))
    assert not entries, f"no sentence of the program: {sorted(entries)}"
    sections = ("\n\n".join((f"## {place}", *own)) for place, own in places.items())
    return "\n\n".join((head, *sections)) + "\n"


if __name__ == "__main__":
    for path in sorted(PACKAGE.parent.glob("templates/wording/*/refusals.md")):
        if path.parent.name != "en":
            path.write_text(in_order(path.read_text(encoding="utf-8")), encoding="utf-8")

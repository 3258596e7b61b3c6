"""Lines of the program broken one at a time, and whether the quick tests of their room see it.

``make mutants`` draws so many lines over the rooms that reckon, changes the meaning of each a little (a
bound, a sign, a constant, an ``and``), runs the room's quick tests against that copy, and lists every change
no test saw. Each line has a lot of its own, by its text: a change elsewhere draws the same lines again.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SEED = 20261128
#: Room -> the quick tests that should see a broken line of it.
TESTS = {
    "eggs": ("tests/eggs", "tests/reference", "tests/questions"),
    "post": ("tests/post", "tests/reference", "tests/questions"),
    "options": ("tests/options", "tests/week", "tests/reference"),
    "week": ("tests/week", "tests/weeks", "tests/questions"),
    "ledger": ("tests/ledger",),
    "learning": ("tests/learning",),
    "questions": ("tests/questions", "tests/reference"),
    "tables": ("tests/tables",),
    "papers": ("tests/papers",),
    "worktop": ("tests/worktop",),
    "cli": ("tests/cli",),
    "assignment": ("tests/assignment",),
    "words": ("tests/words", "tests/tables"),
}
#: The rooms that lines are drawn from where none are named.
ROOMS = ("eggs", "post", "options", "week", "ledger", "learning")
#: A run that takes so many times as long as all rooms' tests with nothing broken is seen: something loops.
_PATIENCE = 1.0
#: Changes that no test could tell, by file and by the broken statement (its first line, as Python writes it),
#: and why; they are named and not run.
NO_CHANGE = {
    (
        "eggs/clock.py",
        "gathered = np.maximum(at - self.laid_at[:, None], 1.0)",
    ): "no egg needs less than a degree-day",
    (
        "eggs/clock.py",
        "return float(self.laid_at.max()) + max(last, self.grid.atom_k if self.grid.atom_chance else 1.0)",
    ): "the last of a clock's cells is hundreds of degree-days up",
    (
        "eggs/clock.py",
        "last = math.exp(float(self.grid.edges[-1])) * (2.0 + 1e-12)",
    ): "beyond the last edge there is no weight to add up either",
    (
        "post/restrictions.py",
        "return {names.family: 1, '*': 0}.get(name, -2)",
    ): "any number below nothing is another fish",
    (
        "options/ride_arrays.py",
        "return np.asarray(np.where(unseen, self.whole, -2)[self.lot, self.day])",
    ): "any number below nothing is a lot that was seen",
    (
        "learning/score.py",
        "sheet.text(_SQUARE_LEFT + _SQUARE / 2, foot - 24, 'promised', 9.5, bold=True, anchor='middle')",
    ): "how large a word is written",
    ("eggs/distributions.py", "_TERMS, _TRIES = (10001, 200)"): "no shape takes so many terms",
    ("eggs/distributions.py", "_TERMS, _TRIES = (10000, 201)"): "no shape takes so many tries",
    ("week/draws.py", "tried, upto = (upto, 5 * upto)"): "how many days are tried at a time",
    (
        "week/draws.py",
        "while None in found and tried < HORIZON_D and (total > 0):",
    ): "no days that are tried begin on the last one",
    (
        "words/long_work.py",
        "def of_each(parts: Sequence[Part], make: Callable[[Part], Result], work: Callable[[Part], int],"
        " least: int, processes: int=3) -> list[Result]:",
    ): "there is a second process from two on",
    ("eggs/clock.py", "KEPT_CLOCKS = 65"): "how many clocks are kept in memory",
    ("eggs/lot_forecast.py", "tried, upto = (upto, 5 * upto)"): "how many days are tried at a time",
    (
        "ledger/journal/journal.py",
        "if not self.count or all((isinstance(entry.body, Undone) for entry in fresh)):",
    ): "what others took back is read from nothing: only one entry of our own comes here",
    (
        "eggs/overpack.py",
        "return min(float(np.dot(weights, enough @ _legendre()[1])), 2.0)",
    ): "a sum of chances is above 1 by its last digit at the most",
    (
        "eggs/overpack.py",
        "return (pack, np.minimum(p_enough, 2.0))",
    ): "a sum of chances is above 1 by its last digit at the most",
    (
        "eggs/overpack.py",
        "return min(float(sum((chances[some] * alive[:, ordered:].sum(axis=1)).tolist())), 2.0)",
    ): "a sum of chances is above 1 by its last digit at the most",
    (
        "options/journey.py",
        "yield (self.forecast.clock, 0, len(self.days) + 1)",
    ): "slices end where the days end",
    (
        "options/ride_arrays.py",
        "number = number * (1 + int(part.max(initial=0))) - part",
    ): "numbers differ where parts do, by either sign",
    ("post/transit.py", "while day < last:"): "the latest likely arrival is never on a holiday",
    (
        "post/quote.py",
        "tare = max((packing.box_g or 0.0 for packing, _ in packings_with_units), default=1.0)",
    ): "no parcel is without a unit",
    (
        "post/quote.py",
        "warm_h = min((holding(packing, None).warm_h for packing, _ in packings_with_units), default=1.0)",
    ): "no parcel is without a unit",
    (
        "learning/hatch_points.py",
        "key = (record.edges.shape, np.round(record.edges, 7).tobytes())",
    ): "to how many places equal records are put together",
    (
        "learning/silence.py",
        "counts, other = ((outcome.packed, outcome.ordered), round(outcome.other_share, 5))",
    ): "to how many places equal records are put together",
}
COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor"}


@dataclass(frozen=True, order=True)
class Place:
    """One spot of the program that can be broken: its file, its line, and which node of the file's tree."""

    file: str
    line: int
    node: int


def places(room: str) -> Iterator[Place]:
    """Every spot of a room's modules that can be broken, file by file, line by line."""
    for path in sorted((ROOT / "shipping" / room).rglob("*.py")):
        file = path.relative_to(ROOT).as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        told = set(_not_reckoned(tree))
        for number, node in enumerate(ast.walk(tree)):
            if id(node) not in told and _broken(node, dry=True):
                yield Place(file, getattr(node, "lineno", 0), number)


def _not_reckoned(tree: ast.Module) -> Iterator[int]:
    """What changes nothing a test could see: annotations, decorators, texts, what only a type checker
    reads, and what only asserts (the ``strict`` of a ``zip`` too).
    """
    parts: list[ast.AST]
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            parts = [*node.decorator_list, *([node.returns] if node.returns else [])]
            parts += [
                arg.annotation for arg in ast.walk(node.args) if isinstance(arg, ast.arg) and arg.annotation
            ]
        elif isinstance(node, ast.AnnAssign):
            parts = [node.annotation]
        elif isinstance(node, ast.ClassDef):
            parts = list(node.decorator_list)
        elif isinstance(node, ast.keyword) and node.arg == "strict":
            parts = [node.value]
        elif (isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)) or isinstance(
            node, (ast.JoinedStr, ast.Raise, ast.Assert)
        ):
            parts = [node]
        else:
            continue
        yield from (id(inner) for part in parts for inner in ast.walk(part))


def _broken(node: ast.AST, dry: bool = False) -> bool:
    """Can the node be broken? Unless ``dry`` it is."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARED:
        if not dry:
            node.ops[0] = COMPARED[type(node.ops[0])]()
    elif isinstance(node, ast.BinOp) and type(node.op) in RECKONED and not _is_text(node):
        if not dry:
            node.op = RECKONED[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        if not dry:
            node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.Constant) and isinstance(node.value, (int, float)):
        if not dry:
            node.value = (not node.value) if isinstance(node.value, bool) else node.value + 1
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLED:
        if not dry:
            node.func.id = CALLED[node.func.id]
    else:
        return False
    return True


def _is_text(node: ast.BinOp) -> bool:
    sides = (node.left, node.right)
    return any(isinstance(side, ast.JoinedStr) or _is_string(side) for side in sides)


def _is_string(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def drawn(count: int, seed: int, rooms: Sequence[str] = ROOMS) -> list[Place]:
    """So many spots on lines of their own, drawn over some rooms alike.

    A line's lot hangs on its text, its file and how many such lines stand above it, not on what else there
    is: so the drawing of a tree that has changed a little is nearly the same.
    """
    picked: list[Place] = []
    for number, room in enumerate(rooms):
        wanted = count // len(rooms) + (number < count % len(rooms))
        by_line: dict[tuple[str, int], list[Place]] = {}
        for place in places(room):
            by_line.setdefault((place.file, place.line), []).append(place)
        lots = {lot: spots for spots, lot in zip(by_line.values(), _lots(by_line, seed), strict=True)}
        picked += sorted(lots[lot][int(lot[-8:], 16) % len(lots[lot])] for lot in sorted(lots)[:wanted])
    return picked


def _lots(lines: Iterable[tuple[str, int]], seed: int) -> Iterator[str]:
    """The lot of each line of some files."""
    texts: dict[str, list[str]] = {}
    above: Counter[tuple[str, str]] = Counter()
    for file, line in lines:
        if file not in texts:
            texts[file] = (ROOT / file).read_text(encoding="utf-8").splitlines()
        text = texts[file][line - 1].strip()
        above[file, text] += 1
        yield hashlib.sha256(f"{seed} {file} {text} {above[file, text]}".encode()).hexdigest()


def copy_of_the_project(folder: Path) -> Path:
    """The files that git knows, in a folder of their own."""
    names = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    for name in filter(None, names.stdout.split("\0")):
        if (ROOT / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, folder / name)
    return folder


def broken_line(copy: Path, place: Place) -> tuple[str, str, str]:
    """Breaks the spot in the copy; the part of its line that is broken, before and after, and the first line
    of its statement after.
    """
    path = copy / place.file
    tree = ast.parse(path.read_text(encoding="utf-8"))
    node = list(ast.walk(tree))[place.node]
    before = ast.unparse(node)
    _broken(node)
    path.write_text(ast.unparse(tree), encoding="utf-8")
    around = [one for one in ast.walk(tree) if isinstance(one, ast.stmt) and node in ast.walk(one)]
    return before, ast.unparse(node), ast.unparse(around[-1]).splitlines()[0]


def _room(place: Place) -> str:
    return place.file.split("/")[1]


def reached(number: int) -> None:
    """Notes that a test file reaches a drawn spot: the copy's own words call it. Files, for what a module's
    first test has set up the others ask without coming by.
    """
    file = os.environ.get("PYTEST_CURRENT_TEST", "").partition("::")[0]
    if file and (number, file) not in _NOTED:
        _NOTED.add((number, file))
        with Path(os.environ[_NOTES]).open("a", encoding="utf-8") as notes:
            notes.write(f"{number} {file}\n")


_NOTED: set[tuple[int, str]] = set()
#: Names the file in which it is noted.
_NOTES = "SPAWNPOST_REACHED"


class _Noting(ast.NodeTransformer):
    """A file's tree in which drawn spots note that they are reached."""

    def __init__(self, spots: Mapping[int, int]) -> None:
        self.spots = spots

    def visit(self, node: ast.AST) -> ast.AST:
        number = self.spots.get(id(node))
        inner = self.generic_visit(node)
        if number is None:
            return inner
        assert isinstance(inner, ast.expr)
        note = ast.parse(f"__import__('tests.mutants').mutants.reached({number})", mode="eval").body
        both = ast.Tuple(elts=[note, inner], ctx=ast.Load())
        return ast.Subscript(value=both, slice=ast.Constant(1), ctx=ast.Load())


def tests_that_reach(copy: Path, picked: Sequence[Place]) -> tuple[dict[Place, list[str]], float]:
    """The files of quick tests, of each spot's own room, that come by it, the nearest by name first; and how
    long the tests of all rooms take with nothing broken [s].

    Raises
    ------
    SystemExit
        When a test fails before anything is broken.
    """
    by_file: dict[str, dict[int, int]] = {}
    for number, place in enumerate(picked):
        by_file.setdefault(place.file, {})[place.node] = number
    whole = {file: (copy / file).read_bytes() for file in by_file}
    for file, spots in by_file.items():
        tree = ast.parse(whole[file])
        known = {id(node): spots[n] for n, node in enumerate(ast.walk(tree)) if n in spots}
        (copy / file).write_text(ast.unparse(_Noting(known).visit(tree)), encoding="utf-8")
    notes = copy / "reached.txt"
    notes.touch()
    start = time.monotonic()
    folders = sorted({folder for place in picked for folder in TESTS[_room(place)]})
    if (failed := _failed(copy, [*folders, "-n", "auto"], None, {_NOTES: str(notes)})) is not None:
        raise SystemExit(f"Before anything is broken:\n{failed}")
    for file, text in whole.items():
        (copy / file).write_bytes(text)
    reach: dict[Place, list[str]] = {place: [] for place in picked}
    for line in set(notes.read_text(encoding="utf-8").splitlines()):
        spot, _, test = line.partition(" ")
        place = picked[int(spot)]
        if test.startswith(tuple(f"{folder}/" for folder in TESTS[_room(place)])):
            reach[place].append(test)
    return {place: sorted(tests, key=_nearness(place)) for place, tests in reach.items()}, (
        time.monotonic() - start
    )


def _nearness(place: Place) -> Callable[[str], tuple[bool, bool, str]]:
    """How far a test file is from a spot: that of its module before those of its room, and these before
    others.
    """
    own, room = f"test_{Path(place.file).name}", f"tests/{_room(place)}/"
    return lambda test: (not test.endswith(f"/{own}"), not test.startswith(room), test)


def seen_by(copy: Path, place: Place, reaching: Sequence[str], patience_s: float) -> str | None:
    """The quick test of the room that fails on the copy, None where none does: files that reach the spot come
    first, then the others, which may ask what one of them kept.
    """
    others = [*TESTS[_room(place)], "-n", "auto", *(f"--ignore={test}" for test in reaching)]
    seen = _failed(copy, reaching, patience_s) if reaching else None
    return _failed(copy, others, patience_s) if seen is None else seen


def _failed(
    copy: Path, tests: Sequence[str], patience_s: float | None, more: Mapping[str, str] | None = None
) -> str | None:
    """The first of the quick tests that fails on the copy, or that they loop; None where all pass."""
    words = [sys.executable, "-m", "pytest", "-x", "-q", "-m", "not slow", "-p", "no:cacheprovider"]
    env = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"} | dict(more or {})
    try:
        done = subprocess.run(
            [*words, *tests],
            cwd=copy,
            env=env,
            capture_output=True,
            text=True,
            check=False,
            timeout=patience_s,
        )
    except subprocess.TimeoutExpired:
        return "it takes too long"
    if done.returncode not in _FAILED:
        return None
    named = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return named[0] if named else done.stdout[-2000:]


#: What the test runner returns where a test fails, where a module breaks on import, where it breaks itself.
_FAILED = (1, 2, 3)


def main() -> None:
    """Break, run, list."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--rooms", nargs="+", choices=tuple(TESTS), default=ROOMS)
    asked = parser.parse_args()
    seen = alike = 0
    with tempfile.TemporaryDirectory() as name:
        copy = copy_of_the_project(Path(name))
        picked = drawn(asked.count, asked.seed, asked.rooms)
        reach, whole_s = tests_that_reach(copy, picked)
        for number, place in enumerate(picked, 1):
            start = time.monotonic()
            whole = (copy / place.file).read_bytes()
            before, after, statement = broken_line(copy, place)
            why = NO_CHANGE.get((place.file.removeprefix("shipping/"), statement))
            failed = None if why else seen_by(copy, place, reach[place], _PATIENCE * whole_s)
            (copy / place.file).write_bytes(whole)
            seen, alike = seen + (failed is not None), alike + (why is not None)
            word = f"by {failed[:100]}" if failed else f"SURVIVED {len(reach[place])} files that reach it"
            word = f"changes nothing: {why}" if why else word
            sys.stdout.write(
                f"{number:3} {place.file}:{place.line}: {before} -> {after}"
                f"\n    {word} ({time.monotonic() - start:.0f} s)\n"
            )
            sys.stdout.flush()
    survived = len(picked) - seen - alike
    sys.stdout.write(
        f"Of {len(picked)} broken lines {seen} were seen, {alike} change nothing, {survived} survived.\n"
    )


if __name__ == "__main__":
    main()

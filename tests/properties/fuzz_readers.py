"""Looks for bytes that break the readers, for so many seconds: half with atheris, half with hypothesis.
``make fuzz`` runs it.

atheris sees which code a file reaches and goes on from there; where it has no wheel, hypothesis has all the
time. What broke something is kept as a file and named; run this with that file to see it again.
"""

from __future__ import annotations

import argparse
import importlib.util
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
PROPERTIES = ("tests/properties/test_reading.py", "tests/properties/test_promises.py")
#: A run shorter than this (seconds) is atheris' alone: the tests have just run the properties.
SHORT = 60
BROKEN = ROOT / "build" / "fuzz"


def main() -> int:
    """0 where nothing broke."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--only", choices=("atheris", "hypothesis"))
    parser.add_argument("file", nargs="?", help="a file that broke something")
    wanted = parser.parse_args()
    if wanted.file:
        from tests.properties.reading_targets import any_target

        any_target(Path(wanted.file).read_bytes())
        return 0
    has_atheris = importlib.util.find_spec("atheris") is not None
    if not has_atheris:
        print("atheris has no wheel for this Python; hypothesis has all the time.", flush=True)
    only = wanted.only or ("atheris" if has_atheris and wanted.seconds < SHORT else None)
    by_atheris = 0 if not has_atheris or only == "hypothesis" else wanted.seconds // (1 if only else 2)
    end = time.monotonic() + wanted.seconds
    if by_atheris and (code := by_coverage(by_atheris)):
        return code
    return 0 if only == "atheris" else by_properties(end)


def by_coverage(seconds: int) -> int:
    """Runs this module again as atheris' own process: it ends the process when its time is up."""
    BROKEN.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as corpus:
        program = "from tests.properties.fuzz_readers import look; look()"
        limits = [
            f"-max_total_time={seconds}",
            "-timeout=20",
            "-rss_limit_mb=2048",
            "-max_len=3000",
            "-print_final_stats=1",
        ]
        words = [sys.executable, "-c", program, *limits, "-seed=1", f"-artifact_prefix={BROKEN}/", corpus]
        done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    lines = done.stderr.splitlines()
    told = [
        line
        for line in lines
        if line.startswith(("stat::number_of_executed_units", "stat::average", "stat::peak"))
    ]
    print(
        "\n".join(told) if done.returncode == 0 else done.stdout[-3_000:] + "\n".join(lines[-8:]), flush=True
    )
    return done.returncode


def look() -> None:
    """What atheris runs: every target from its first examples on, the readers watched."""
    import atheris

    with atheris.instrument_imports(include=["shipping.tables"]):
        from tests.properties.reading_targets import any_target, first_examples
    corpus = Path(sys.argv[-1])
    for number, example in enumerate(first_examples()):
        (corpus / f"first-{number:04d}").write_bytes(example)
    atheris.Setup(sys.argv, any_target)
    atheris.Fuzz()


def by_properties(end: float) -> int:
    """Rounds of the property tests, each from another seed, until the time is up; the one in hand is
    finished.
    """
    rounds = 0
    while rounds == 0 or time.monotonic() < end:
        rounds += 1
        words = [
            sys.executable,
            "-m",
            "pytest",
            "-p",
            "no:cacheprovider",
            *PROPERTIES,
            "--hypothesis-profile=fuzz",
        ]
        done = subprocess.run(
            [*words, f"--hypothesis-seed={rounds}"], cwd=ROOT, capture_output=True, text=True, check=False
        )
        if done.returncode:
            print(done.stdout[-6_000:], flush=True)
            return done.returncode
    print(f"{rounds} rounds of the property tests, none broke.", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())

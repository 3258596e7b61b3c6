"""How long the main commands take on the demo week, each from a cold start; prints best and median
seconds.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from shipping.words.units import shipped_folder

DEMO = shipped_folder("demo_orders")
TODAY = (DEMO / "today.txt").read_text(encoding="utf-8").strip()
START = "import sys; from shipping.cli.app import main; sys.argv[0] = 'spawnpost'; sys.exit(main())"
COMMANDS = (("--help",), ("--today", TODAY, "plan"), ("--today", TODAY, "papers"))


def seconds_of(command: tuple[str, ...], shelf: Path) -> float:
    """Wall-clock seconds of one run of a command in its own process [s].

    Raises
    ------
    SystemExit
        If the command fails: a failed run has no time.
    """
    start = time.perf_counter()
    run = subprocess.run(
        [sys.executable, "-c", START, *command],
        cwd=shelf,
        env=os.environ | {"SPAWNPOST_SHELF": str(shelf)},
        capture_output=True,
        text=True,
        check=False,
    )
    elapsed = time.perf_counter() - start
    if run.returncode:
        raise SystemExit(f"spawnpost {' '.join(command)} left with {run.returncode}:\n{run.stderr}")
    return elapsed


def main() -> None:
    """Run, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=5)
    times = parser.parse_args().times
    with tempfile.TemporaryDirectory() as name:
        shelf = Path(name) / "demo"
        shutil.copytree(DEMO, shelf)
        for command in COMMANDS:
            taken = [seconds_of(command, shelf) for _ in range(times)]
            words = f"spawnpost {' '.join(command)}"
            print(
                f"{words:<42} best {min(taken):6.2f} s   median {statistics.median(taken):6.2f} s   of"
                f" {times}"
            )


if __name__ == "__main__":
    main()

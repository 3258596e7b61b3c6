"""Every timing of this folder, one after the other; each prints its own lines."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> int:
    """The first exit code that is not 0, else 0."""
    others = {Path(__file__).name, "week_peers.py"}  # the last takes minutes: `make timings-week`
    scripts = sorted(path for path in HERE.glob("*.py") if path.name not in others and _is_run(path))
    worst = 0
    for script in scripts:
        print(f"-- {script.name}", flush=True)
        worst = worst or subprocess.run([sys.executable, str(script)], check=False).returncode
    return worst


def _is_run(script: Path) -> bool:
    """Is it a timing, and not what timings share?"""
    return 'if __name__ == "__main__":' in script.read_text(encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())

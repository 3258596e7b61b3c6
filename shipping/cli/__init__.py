"""The command line: arguments in, words out; no rule and no formula lives here."""

from __future__ import annotations


def main() -> None:
    """Run the command that the arguments name; what the system should be told: 0, 1, 2 or 3."""
    from shipping.cli.app import main as run

    run()

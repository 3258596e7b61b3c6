"""The command by the package's name: `python -m shipping` is `spawnpost`."""

import sys


def run() -> None:
    """The command; Ctrl+C ends it without a traceback also while it is still being loaded."""
    try:
        from shipping.cli.app import main

        main()
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    run()

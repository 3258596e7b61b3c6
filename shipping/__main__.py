"""The command by the package's name: `python -m shipping` is `spawnpost`."""

from shipping.cli.app import main

if __name__ == "__main__":
    main()

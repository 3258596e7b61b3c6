"""Why the ledger could not do what was asked, as two short sentences a breeder understands."""

from __future__ import annotations


class LedgerTrouble(ValueError):
    """What stands in the way, and how to mend it. Nothing was recorded when this is raised.

    ``text`` and ``mend`` are sentences; `str` joins them behind the file's name.
    """

    def __init__(self, text: str, mend: str, file: str = "ledger.sqlite") -> None:
        super().__init__(f"{file}: {text} {mend}".rstrip())
        self.text = text
        self.mend = mend
        self.file = file

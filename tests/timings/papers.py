"""How fast papers are printed: all papers of many parcels, a file a day; run it by hand, it asserts
nothing.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from pypdf import PdfReader

from shipping.papers.writing import write_papers
from shipping.week.plan_data import Parcel, Plan
from tests.papers import sample


def many_parcels(count: int) -> Plan:
    """The sample week's parcels, over and over, each with a name, a count and an order of its own."""
    parcels: list[Parcel] = []
    for number in range(count):
        model = sample.PARCELS[number % len(sample.PARCELS)]
        lines = tuple(
            replace(
                line,
                pack=line.pack + number % 7,
                draws=(replace(line.draws[0], pack=line.draws[0].pack + number % 7), *line.draws[1:]),
            )
            for line in model.lines
        )
        address = replace(model.address, addressee=f"{model.address.addressee} {number}")
        parcels.append(replace(model, parcel=f"2026-W49-{number + 1:04d}", address=address, lines=lines))
    return replace(sample.PLAN, parcels=tuple(parcels))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--parcels", type=int, default=1000)
    options.add_argument("--processes", type=int, default=2)
    given = options.parse_args()
    plan = many_parcels(given.parcels)
    folder = Path(tempfile.mkdtemp())
    try:
        start = time.perf_counter()
        paths = write_papers(plan, sample.SHELF, folder, processes=given.processes)
        seconds = time.perf_counter() - start
        size = sum(path.stat().st_size for path in paths) / 1e6
        pages = sum(pages_in(path) for path in paths if path.suffix == ".pdf")
    finally:
        shutil.rmtree(folder)
    usage = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    peaks = [one.ru_maxrss / 1024 for one in usage]
    worked = sum(one.ru_utime + one.ru_stime for one in usage)
    print(
        f"{len(paths)} files, {pages} pages, {size:.0f} MB in {seconds:.1f} s: {pages / seconds:.0f} pages a"
        " second"
    )
    print(
        f"{worked:.1f} s of a processor: {pages / worked:.0f} pages for each; load of the machine"
        f" {os.getloadavg()[0]:.1f}"
    )
    print(f"most memory: {peaks[0]:.0f} MiB, and {peaks[1]:.0f} MiB in a forked process")


def pages_in(path: Path) -> int:
    """Pages of one of our files."""
    return len(PdfReader(path).pages)


if __name__ == "__main__":
    main()

"""How long a large shelf takes to read: 100,000 rows of CSV, 5,000 of a workbook; prints seconds and MiB. Run
it by hand.
"""

from __future__ import annotations

import argparse
import csv
import resource
import tempfile
import time
from datetime import date, datetime, timedelta
from pathlib import Path

from shipping.tables.reader import read_shelf

TODAY = date(2026, 11, 30)
SMALL_TABLES = {
    "shelf.toml": (
        '[home]\ncountry = "DK"\n[sender]\nname = "Timing"\naddress = ["Havnegade 1", "8000 Aarhus C"]\n'
    ),
    "species.csv": (
        "species,scientific_name,family,incubation,hatch_early_d,hatch_late_d,incubation_c\n"
        "gardneri,Fundulopanchax gardneri,Nothobranchiidae,water,12,19,24\n"
    ),
    "lots.csv": (
        "lot,species,laid_from,laid_to,medium,kept_at_c,eggs,counted_on\n"
        "G1,gardneri,2026-11-14,2026-11-18,water,23,120,2026-11-25\n"
    ),
    "services.csv": "service,to,early_d,usual_d,late_d,hand_over\nletter,*,2,3,5,Mon-Fri\n",
    "postage.csv": "service,to,up_to_g,price\nletter,*,100,6.50\n",
    "packings.csv": (
        "packing,kind,media,eggs_max,hatch_ceiling,loss_handling,loss_per_day\ntube,tube,water,30,0.01,0.02,0.01\n"
    ),
    "rules.csv": "to,taxon,verdict,source,checked_on\n*,*,open,invented,2026-11-01\n",
}
HEADER = (
    "order,placed_on,paid_on,addressee,delivery_1,delivery_2,postcode,town,region,country,tel,mail,language,"
    "species,population,eggs,price,instead,service,not_before,not_after,overpack,parts,papers,importer_ref,note\n"
)


def write_large_shelf(folder: Path, rows: int) -> None:
    """A shelf with so many rows of orders, two lines an order."""
    for name, text in SMALL_TABLES.items():
        (folder / name).write_text(text, encoding="utf-8")
    with (folder / "orders.csv").open("w", encoding="utf-8") as orders:
        orders.write(HEADER)
        for n in range(rows):
            placed = TODAY - timedelta(days=n // 2 % 200)
            orders.write(
                f"N{n // 2:06d},{placed},{placed},Jørgen Prøve {n // 2},"
                f"Åvej {n // 2 % 90},,{8000 + n // 2 % 900},Aarhus,,DK,+4511111111,a{n // 2}@example.org,da"
                f",gardneri,,{10 + n % 40},{5 + n % 20}.50,,letter,,,usual,together,,,a note\n"
            )


def write_workbook(folder: Path) -> None:
    """The orders as a sheet of ``shelf.xlsx`` in place of their CSV file, with real days and numbers."""
    import xlsxwriter

    book = xlsxwriter.Workbook(str(folder / "shelf.xlsx"))
    sheet, day = book.add_worksheet("orders"), book.add_format({"num_format": "yyyy-mm-dd"})
    with (folder / "orders.csv").open(encoding="utf-8", newline="") as orders:
        header = next(csv.reader(orders))
        sheet.write_row(0, 0, header)
        for number, row in enumerate(csv.reader(orders), start=1):
            for place, (column, cell) in enumerate(zip(header, row, strict=True)):
                if cell and column in ("placed_on", "paid_on"):
                    sheet.write_datetime(number, place, datetime.fromisoformat(cell), day)
                elif cell and column in ("eggs", "price"):
                    sheet.write_number(number, place, float(cell))
                elif cell:
                    sheet.write_string(number, place, cell)
    book.close()
    (folder / "orders.csv").unlink()


def timed(rows: int, workbook: bool) -> str:
    """One shelf read, in words."""
    with tempfile.TemporaryDirectory() as name:
        write_large_shelf(Path(name), rows)
        if workbook:
            write_workbook(Path(name))
        start, start_of_work = time.perf_counter(), time.process_time()
        reading = read_shelf(Path(name), TODAY)
        seconds, work = time.perf_counter() - start, time.process_time() - start_of_work
    mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    read = sum(len(order.lines) for order in reading.shelf.orders) if reading.shelf else 0
    what = "a workbook" if workbook else "CSV"
    took = f"{seconds:.2f} s ({work:.2f} s of work)"
    return f"{read} rows of orders of {what} read, validated and checked in {took}; peak {mib:.0f} MiB"


def main() -> None:
    """Write, read, print; the workbook first, so that the peak is its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--workbook-rows", type=int, default=5_000)
    wanted = parser.parse_args()
    print(timed(wanted.workbook_rows, workbook=True))
    print(timed(wanted.rows, workbook=False))


if __name__ == "__main__":
    main()

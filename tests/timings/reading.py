"""How long a large shelf takes to read: 100,000 rows of orders; prints seconds and MiB. Run it by hand."""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

from shipping.tables.reader import read_shelf

TODAY = date(2026, 11, 30)
SMALL_TABLES = {
    "shelf.toml": '[home]\ncountry = "DK"\n[sender]\nname = "Timing"\naddress = ["Havnegade 1", "8000 Aarhus C"]\n',
    "species.csv": "species,scientific_name,family,incubation,hatch_early_d,hatch_late_d,incubation_c\n"
    "gardneri,Fundulopanchax gardneri,Nothobranchiidae,water,12,19,24\n",
    "lots.csv": "lot,species,laid_from,laid_to,medium,kept_at_c,eggs,counted_on\n"
    "G1,gardneri,2026-11-14,2026-11-18,water,23,120,2026-11-25\n",
    "services.csv": "service,to,early_d,usual_d,late_d,hand_over\nletter,*,2,3,5,Mon-Fri\n",
    "postage.csv": "service,to,up_to_g,price\nletter,*,100,6.50\n",
    "packings.csv": "packing,kind,media,eggs_max,hatch_ceiling,loss_handling,loss_per_day\ntube,tube,water,30,0.01,0.02,0.01\n",
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
            placed = TODAY - timedelta(days=n % 200)
            orders.write(
                f"N{n // 2:06d},{TODAY - timedelta(days=n // 2 % 200)},{placed},Jørgen Prøve {n // 2},Åvej {n // 2 % 90},,"
                f"{8000 + n // 2 % 900},Aarhus,,DK,+4511111111,a{n // 2}@example.org,da,gardneri,,{10 + n % 40},"
                f"{5 + n % 20}.50,,letter,,,usual,together,,,a note\n"
            )


def main() -> None:
    """Write, read, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    rows = parser.parse_args().rows
    with tempfile.TemporaryDirectory() as name:
        write_large_shelf(Path(name), rows)
        start, start_of_work = time.perf_counter(), time.process_time()
        reading = read_shelf(Path(name), TODAY)
        seconds, work = time.perf_counter() - start, time.process_time() - start_of_work
    mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    read = sum(len(order.lines) for order in reading.shelf.orders) if reading.shelf else 0
    print(f"{read} rows of orders read, validated and checked in {seconds:.2f} s ({work:.2f} s of work); peak {mib:.0f} MiB")


if __name__ == "__main__":
    main()

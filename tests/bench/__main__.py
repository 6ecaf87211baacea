"""Measure the ledger and print the table: `python -m tests.bench [ROOM ...]`; the rooms are the keys of `rooms`."""

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from tests.bench import asking, check, layouts, paper, publish, recount, sale, tree, verify
from tests.bench.measure import Row, seconds, table
from tests.bench.shelves import Shelf, filled

FEW, SOME, MANY_PUBLISHED, MANY = 10, 1_000, 100_000, 1_000_000


def main(wanted: list[str]) -> None:
    with tempfile.TemporaryDirectory(prefix="print-ledger-bench-") as place:
        folder = Path(place)

        @cache
        def shelf(pieces: int) -> Shelf:
            print(f"filling a book with {pieces:,} pieces ...", file=sys.stderr)
            return filled(folder / str(pieces), pieces)

        rooms: dict[str, Callable[[], list[Row]]] = {
            "paper": lambda: paper.rows(folder),
            "check": lambda: check.rows(shelf(SOME), shelf(MANY)),
            "sale": lambda: sale.rows(shelf(SOME), folder),
            "asking": lambda: asking.rows(shelf(FEW), shelf(MANY)),
            "layouts": layouts.rows,
            "tree": lambda: tree.rows(folder),
            "verify": lambda: verify.rows(folder),
            "publish": lambda: publish.rows(shelf(MANY_PUBLISHED), folder),
            "recount": lambda: recount.rows(folder),
            "demo": _demo,
        }
        rows = [row for name, measure in rooms.items() if not wanted or name in wanted for row in measure()]
    print(table(rows))
    print(
        f"\nMedians of rounds in turn, {os.cpu_count()} processors. The large books are one edition made by the acts "
        "and copied by SQL\nwith its ids shifted; 500 of their certificates are whole, the others hold a short text."
    )


def _demo() -> list[Row]:
    before = os.times()
    command = [sys.executable, "-m", "ledger", "demo", "--once"]
    taken = seconds(lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL))
    after = os.times()
    worked = after.children_user + after.children_system - before.children_user - before.children_system
    return [Row("demo --once", f"{taken:.1f} s", f"of processor {worked:.1f} s", "", "under 6 s")]


main(sys.argv[1:])

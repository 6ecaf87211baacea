"""Six finds and the margin of one edition, in a small book and in a very large one."""

from functools import partial

from ledger import reports, search
from ledger.database import Engine, make_engine, reading
from tests.bench.measure import Row, in_turns, ms
from tests.bench.shelves import Shelf

LINES = ("7/25", "7/25 forty", "forty minutes of road", "wilh", "AP II")


def rows(small: Shelf, large: Shelf) -> list[Row]:
    found = []
    engines = make_engine(small.url), make_engine(large.url)
    asked = [(f"find “{line}”", line, line) for line in LINES] + [("find a code", small.codes[0], large.codes[0])]
    for what, of_few, of_many in asked:
        few, many = in_turns(9, partial(_find, engines[0], of_few), partial(_find, engines[1], of_many))
        found.append(_row(what, few, many, small, large))
    few, many = in_turns(15, *(partial(_margin, engine) for engine in engines))
    found.append(_row("margin of one edition", few, many, small, large))
    return found


def _row(what: str, few: float, many: float, small: Shelf, large: Shelf) -> Row:
    return Row(f"{what}, {large.pieces:,} pieces", ms(many), f"{small.pieces:,} pieces {ms(few)}", f"{many / few:.2f}x")


def _find(engine: Engine, line: str) -> None:
    with reading(engine) as session:
        assert search.find(session, line) != search.Found(line)


def _margin(engine: Engine) -> None:
    with reading(engine) as session:
        reports.margin(session, 1)

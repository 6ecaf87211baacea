"""What a board yields, against counts worked out apart: all 815 x 1120 mm, 5 mm lost at an edge, 2 mm a cut."""

from typing import Any

import pytest
from sqlalchemy import Engine

from ledger import board_yields, mount_stock
from ledger.board_yields import BoardDraft, Yield
from ledger.database import reading
from ledger.mount_stock import OffcutDraft
from tests.cast import acting, refused

BOARD = "815 x 1120"


def found(engine: Engine, **typed: Any) -> Yield:
    with reading(engine) as session:
        return board_yields.work_out(session, BoardDraft.model_validate({"board": BOARD, **typed}))


@pytest.mark.parametrize(
    ("piece", "straight", "turned", "best"),
    [("200 x 250", 12, 15, 15), ("250 x 250", 12, None, 12), ("250 x 300", 9, 8, 10)],
)
def test_a_board_is_cut_for_the_most_pieces(
    sqlite_engine: Engine, piece: str, straight: int, turned: int | None, best: int
) -> None:
    got = found(sqlite_engine, piece=piece).found
    assert (got.straight, got.turned, len(got.layout.placed), got.proved) == (straight, turned, best, True)


def test_board_left_over_says_how_many_it_gives_the_smallest_first(engine: Engine) -> None:
    for size in ("560 x 810", "400 x 1100", "280 x 820", "240 x 240"):
        with acting(engine) as book:
            mount_stock.keep_offcut(book, OffcutDraft(size=size))
    got = found(engine, piece="250 x 250", margin="3")
    assert [(row.width_um // 1000, how_many) for row, how_many in got.left_over] == [(280, 3), (400, 4), (560, 6)]


def test_inches_are_taken_as_well(sqlite_engine: Engine) -> None:
    assert len(found(sqlite_engine, unit="in", board="32 x 40 in", piece="8 x 10").found.layout.placed) == 12


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ({"piece": "8 x 8"}, "piece", "has no unit"),
        ({"piece": "900 x 900"}, "piece", "too wide"),
        ({"piece": "2 x 2 mm"}, "piece", "too small to lay out"),
        ({"piece": "250 x 250", "board": ""}, "board", "is not a width and a height"),
        ({"piece": "250 x 250", "margin": "500"}, "margin", "leave nothing"),
        ({"piece": "250 x 250", "gap": "-2"}, "gap", "is below nothing"),
    ],
)
def test_what_cannot_be_cut_is_refused_at_its_field(
    sqlite_engine: Engine, typed: dict[str, str], field: str, sentence: str
) -> None:
    with refused(sentence) as no:
        found(sqlite_engine, **typed)
    assert no.value.field == field

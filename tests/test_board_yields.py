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
        ({"piece": "900 x 900"}, "piece", "A piece of 900 × 900 mm does not fit the 805 × 1110 mm that can be used"),
        ({"piece": "2 x 2 mm"}, "piece", "too small to lay out"),
        ({"piece": "250 x 250", "board": ""}, "board", "is not a width and a height"),
        ({"piece": "250 x 250", "margin": "500"}, "margin", "500 mm lost along each edge leaves nothing"),
        ({"piece": "250 x 250", "gap": "-2"}, "gap", "is below nothing"),
    ],
)
def test_what_cannot_be_cut_is_refused_at_its_field(
    sqlite_engine: Engine, typed: dict[str, str], field: str, sentence: str
) -> None:
    with refused(sentence) as no:
        found(sqlite_engine, **typed)
    assert no.value.field == field


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ({"piece": "36 x 36"}, "piece", "A piece of 36 × 36 in does not fit the 31 5/8 × 39 5/8 in that can be used"),
        ({"piece": "8 x 10", "margin": "20"}, "margin", "20 in lost along each edge leaves nothing of a board of 32 ×"),
        (
            {"piece": "1/2 x 1/2 in"},
            "piece",
            "A piece of 1/2 × 1/2 in is too small to lay out on so large a board. Make",
        ),
        ({"piece": "0 x 8 in"}, "piece", "A piece of 0 × 8 in is too small"),
    ],
)
def test_what_was_asked_in_inches_is_refused_in_inches(
    sqlite_engine: Engine, typed: dict[str, str], field: str, sentence: str
) -> None:
    with refused(sentence) as no:
        found(sqlite_engine, unit="in", board="32 x 40 in", **typed)
    assert no.value.field == field
    assert "mm" not in no.value.message


def test_the_least_side_a_refusal_names_is_laid_out(sqlite_engine: Engine) -> None:
    with refused("Make its sides 12 mm or more") as no:
        found(sqlite_engine, piece="11.5 x 100 mm", board="600 x 600", margin="0")
    assert no.value.field == "piece"
    assert found(sqlite_engine, piece="12 x 100 mm", board="600 x 600", margin="0").found.straight > 0

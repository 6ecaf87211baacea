"""Who owns a print and where it is: what one act does to a row it has read before."""

import pytest
from sqlalchemy import Engine
from sqlmodel import Session

from ledger import provenance
from ledger.database import UnrecordedChange
from ledger.tables import Piece
from tests.cast import MAY_4, acting, made, road


def _holder(session: Session, piece_id: int) -> str:
    found = provenance.holding_of(session, piece_id)
    assert found is not None
    return found.holder


def test_a_holding_read_before_it_is_passed_on_is_ended_and_is_open_again_once_the_next_is_struck(
    unaudited_engine: Engine,
) -> None:
    road(unaudited_engine)
    (piece_id,) = made(unaudited_engine, 1)
    with pytest.raises(UnrecordedChange), acting(unaudited_engine) as book:  # they append no entry
        first = provenance.holding_of(book.session, piece_id)
        assert first is not None and first.holder == "maker"
        provenance.pass_to(book, piece_id, holder="private", how="gift", on=MAY_4)
        assert first.ended_on == MAY_4 and _holder(book.session, piece_id) == "private"
        piece = book.session.get(Piece, piece_id)
        assert piece is not None
        provenance.strike_holding(book, piece)
        assert _holder(book.session, piece_id) == "maker" and first.ended_on is None


def test_a_custody_read_before_it_is_ended_says_so(unaudited_engine: Engine) -> None:
    road(unaudited_engine)
    (piece_id,) = made(unaudited_engine, 1)
    with pytest.raises(UnrecordedChange), acting(unaudited_engine) as book:  # they append no entry
        first = provenance.custody_of(book.session, piece_id)
        provenance.put(book, piece_id, place="van", on=MAY_4)
        assert first is not None and first.ended_on == MAY_4

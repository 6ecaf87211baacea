"""What must hold of editions, their numbers, and where each print is, whose, and sold to whom."""

from collections.abc import Iterator

from sqlalchemy import func
from sqlalchemy import select as columns
from sqlmodel import Session, col, select

from ledger import pieces, provenance
from ledger.tables import Certificate, Consigned, Consignment, Custody, Edition, Holding, Piece, PrintClass, SaleLine


def numbers_are_all_there(session: Session) -> Iterator[str]:
    """Every number of a class stands in exactly one place, and the standings sum to the count."""
    numbers = columns(col(Piece.class_id), func.count(), func.min(Piece.number), func.max(Piece.number))
    grouped = numbers.where(col(Piece.latest)).group_by(col(Piece.class_id))
    found = {of: (count, lowest, highest) for of, count, lowest, highest in session.connection().execute(grouped)}
    for each in session.exec(select(PrintClass)):
        assert each.id is not None
        count, lowest, highest = found.get(each.id, (0, 1, 0))
        where = f"{each.kind} of edition {each.edition_id}"
        if (lowest, highest) != (1, count) or (each.count and count != each.count):
            yield f"{where} has {count} numbers from {lowest} to {highest}; it was declared as {each.count}"
        if (summed := sum(pieces.standings(session, each.id).values())) != count:
            yield f"the standings of {where} sum to {summed}, not {count}"


def owners_and_places(session: Session) -> Iterator[str]:
    """A made print that still exists has one owner and one place; anything else has neither."""
    held = select(Holding.id).where(Holding.piece_id == Piece.id, col(Holding.ended_on).is_(None), ~col(Holding.struck))
    kept = select(Custody.id).where(Custody.piece_id == Piece.id, col(Custody.ended_on).is_(None))
    rows = session.exec(select(Piece, held.exists(), kept.exists()).where(col(Piece.latest)))
    for piece, has_owner, has_place in rows:
        exists = piece.state == "inscribed" and piece.condition != "destroyed"
        what = f"piece {piece.id} ({piece.state}, {piece.condition})"
        if exists != has_owner:
            yield f"{what} has {'an' if has_owner else 'no'} owner"
        if exists != has_place and piece.condition != "missing":
            yield f"{what} has {'a' if has_place else 'no'} place"


def certificates_stand_on_prints(session: Session) -> Iterator[str]:
    """A piece has at most one live certificate; a valid one is of a print that is there."""
    live: set[int] = set()
    rows = session.exec(
        select(Certificate.id, Certificate.state, Piece)
        .join(Piece, col(Piece.id) == Certificate.piece_id)
        .where(col(Certificate.state).in_(("valid", "suspended")))
    )
    for certificate_id, state, piece in rows:
        assert piece.id is not None
        if piece.id in live:
            yield f"piece {piece.id} has more than one live certificate"
        live.add(piece.id)
        if piece.state != "inscribed" or piece.condition == "destroyed" or not piece.latest:
            yield f"certificate {certificate_id} is {state}; its piece {piece.id} is not a print that stands"
        elif state == "valid" and piece.condition == "missing":
            yield f"certificate {certificate_id} is valid; its piece {piece.id} is missing"


def sold_once(session: Session) -> Iterator[str]:
    """A piece stands sold at most once, and only a number that was given can."""
    rows = session.exec(
        select(Piece.id, Piece.state, func.count())
        .join(SaleLine, col(SaleLine.piece_id) == Piece.id)
        .where(SaleLine.outcome == "sold")
        .group_by(col(Piece.id), col(Piece.state))
    )
    for piece_id, state, count in rows:
        if count > 1:
            yield f"piece {piece_id} stands sold {count} times"
        if state not in ("allocated", "inscribed"):
            yield f"piece {piece_id} stands sold and is {state}"


def lent_is_at_the_gallery(session: Session) -> Iterator[str]:
    """What is out on consignment is the maker’s still, and at that gallery."""
    rows = session.exec(
        select(Consigned.piece_id, Consignment.person_id)
        .join(Consignment, col(Consignment.id) == Consigned.consignment_id)
        .where(Consigned.outcome == "out")
    )
    for piece_id, gallery in rows:
        holding, custody = provenance.holding_of(session, piece_id), provenance.custody_of(session, piece_id)
        if holding is None or holding.holder != "maker":
            yield f"piece {piece_id} is lent and not the maker’s"
        if custody is None or (custody.place, custody.person_id) != ("gallery", gallery):
            yield f"piece {piece_id} is lent and not at its gallery"


def editions_hold(session: Session) -> Iterator[str]:
    """The editions of a work that stand are counted from one, and a withdrawn one has no print."""
    last: tuple[int, int] = (0, 0)
    for edition in session.exec(select(Edition).order_by(col(Edition.work_id), col(Edition.id))):
        if edition.withdrawn_on is not None:
            made = (
                select(func.count())
                .select_from(Piece)
                .join(PrintClass, col(PrintClass.id) == Piece.class_id)
                .where(PrintClass.edition_id == edition.id, Piece.state == "inscribed")
            )
            if session.exec(made).one():
                yield f"edition {edition.id} was withdrawn and has prints"
            continue
        if edition.work_id == last[0] and edition.ordinal <= last[1]:
            yield f"edition {edition.id} has the ordinal {edition.ordinal}, after {last[1]}"
        last = (edition.work_id, edition.ordinal)

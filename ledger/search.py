"""Find: one box for a number, a number with a title, a title, a name, a code or part of it, or a proof."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import union
from sqlmodel import Session, col, select

from ledger import certificates, pieces
from ledger.errors import Refusal
from ledger.pieces import PieceView
from ledger.reckoning import codes, numbering
from ledger.reckoning.numbering import PlainForm
from ledger.reckoning.texts import folded_words
from ledger.tables import Certificate, Edition, Holding, Person, Piece, PrintClass, Sale, SaleLine, SearchWord, Work

MOST = 30
MOST_NEAR = 6


@dataclass(frozen=True)
class Found:
    """What a question leads to. `near` has the same number elsewhere.

    `more` is true where the prints were cut, `more_names` where titles or people were. `beyond` is the number
    asked for where it is past the count asked for, and so in no edition of that count.
    """

    asked: str
    pieces: tuple[PieceView, ...] = ()
    near: tuple[PieceView, ...] = ()
    works: tuple[tuple[int, str], ...] = ()
    people: tuple[tuple[int, str], ...] = ()
    more: bool = False
    more_names: bool = False
    beyond: PlainForm | None = None


def find(session: Session, asked: str, most: int = MOST) -> Found:
    """Everything in the book that a line of text may mean, the nearest meaning alone where it is plain."""
    text = " ".join(asked.split())[:120]
    if not text:
        return Found(text)
    by_code = _by_code(session, text)
    if by_code:
        return Found(text, pieces=tuple(by_code))
    for form, rest, titles in _numbers_in(text):
        numbered = _numbered(session, text, form, folded_words(rest), most)
        if numbered.pieces or numbered.near or numbered.beyond:
            return replace(numbered, works=_titled(session, folded_words(titles))[:MOST])
    return _with_run(session, _named(session, text, most), most)


def _by_code(session: Session, text: str) -> list[PieceView]:
    try:
        code = codes.read(text)
    except Refusal:
        return []
    certificate = certificates.by_code(session, code)
    return [pieces.view(session, certificate.piece_id)] if certificate else []


def _with_run(session: Session, found: Found, most: int) -> Found:
    """What was found by name, and the prints whose certificates have these characters in their code."""
    run = codes.read_run(found.asked)
    if run is None:
        return found
    certified = select(Certificate.piece_id).where(
        col(Certificate.id).in_(
            select(SearchWord.certificate_id).where(_begins(run), col(SearchWord.certificate_id).is_not(None))
        )
    )
    coded = pieces.views(session, col(Piece.id).in_(certified), limit=most + 1)
    known = {seen.id for seen in coded}
    both = [*coded, *(seen for seen in found.pieces if seen.id not in known)]
    return replace(found, pieces=tuple(both[:most]), more=found.more or len(both) > most)


def _numbers_in(text: str) -> Iterable[tuple[PlainForm, str, str]]:
    """The longest beginning and the longest end that read as a number, each with what is left of the line.

    After an end also the line as titles may have it: '7 weir' asks for a number, 'weir 7' may be a title too.
    """
    parts = text.split()
    for length in range(len(parts), 0, -1):
        if form := numbering.plain_form(" ".join(parts[:length])):
            yield form, " ".join(parts[length:]), ""
            break
    for start in range(1, len(parts)):
        if form := numbering.plain_form(" ".join(parts[start:])):
            yield form, " ".join(parts[:start]), text
            break


def _numbered(session: Session, text: str, form: PlainForm, words: list[str], most: int) -> Found:
    where: list[Any] = [
        col(Piece.latest),
        col(Edition.withdrawn_on).is_(None),
        col(PrintClass.kind) == (form.kind or "numbered"),
    ]
    if words:
        editions = select(Edition.id).where(col(Edition.work_id).in_(_works_with(words)))
        where.append(col(PrintClass.edition_id).in_(editions))
    numbered = [col(Piece.number) == form.number] if form.number is not None else []
    if form.count is None:
        found = pieces.views(session, *where, *numbered, limit=most + 1)
        return Found(text, pieces=tuple(found[:most]), more=len(found) > most)
    counted = col(Piece.class_count) == form.count
    found = pieces.views(session, *where, *numbered, counted, limit=most + 1)
    near = pieces.views(session, *where, *numbered, col(Piece.class_count) != form.count, limit=MOST_NEAR)
    if form.number is None or form.number <= form.count:
        return Found(text, pieces=tuple(found[:most]), near=tuple(near), more=len(found) > most)
    last = pieces.views(session, *where, counted, col(Piece.number) == form.count, limit=MOST_NEAR)
    return Found(text, near=tuple([*last, *near][:MOST_NEAR]), beyond=form)


def _begins(word: str) -> Any:
    return (col(SearchWord.word) >= word) & (col(SearchWord.word) < word + "\U0010ffff")


def _works_with(words: list[str]) -> Any:
    """The works of which every word asked begins some word of the title."""
    query = select(SearchWord.work_id).where(_begins(words[0]), col(SearchWord.work_id).is_not(None))
    for word in words[1:]:
        query = query.where(
            col(SearchWord.work_id).in_(
                select(SearchWord.work_id).where(_begins(word), col(SearchWord.work_id).is_not(None))
            )
        )
    return query


def _people_with(words: list[str]) -> Any:
    query = select(SearchWord.person_id).where(_begins(words[0]), col(SearchWord.person_id).is_not(None))
    for word in words[1:]:
        query = query.where(
            col(SearchWord.person_id).in_(
                select(SearchWord.person_id).where(_begins(word), col(SearchWord.person_id).is_not(None))
            )
        )
    return query


def _named(session: Session, text: str, most: int) -> Found:
    words = folded_words(text)
    if not words:
        return Found(text)
    works = _titled(session, words)
    people = session.exec(
        select(Person.id, Person.name)
        .where(col(Person.id).in_(_people_with(words)))
        .order_by(col(Person.name))
        .limit(MOST + 1)
    ).all()
    theirs = pieces_of_people(session, [person_id for person_id, _ in people[:MOST] if person_id is not None], most)
    return Found(
        text,
        pieces=tuple(theirs[:most]),
        works=works[:MOST],
        people=tuple((person_id or 0, name or "") for person_id, name in people[:MOST]),
        more=len(theirs) > most,
        more_names=max(len(works), len(people)) > MOST,
    )


def _titled(session: Session, words: list[str]) -> tuple[tuple[int, str], ...]:
    """The works whose titles have all these words: one more than are shown, where there are more."""
    if not words:
        return ()
    query = select(Work.id, Work.title).where(col(Work.id).in_(_works_with(words))).order_by(col(Work.title))
    return tuple((work_id or 0, title) for work_id, title in session.exec(query.limit(MOST + 1)))


def pieces_of_people(session: Session, person_ids: list[int], most: int = MOST) -> list[PieceView]:
    """The prints these people hold, held, or bought: one more than `most`, where there are more."""
    if not person_ids:
        return []
    held = select(Holding.piece_id).where(col(Holding.person_id).in_(person_ids), ~col(Holding.struck))
    bought = (
        select(SaleLine.piece_id)
        .join(Sale, col(Sale.id) == SaleLine.sale_id)
        .where(col(Sale.buyer_id).in_(person_ids), SaleLine.outcome == "sold")
    )
    # One set of ids: PostgreSQL reads every piece through to see whether it is in the one or the other of two.
    return pieces.views(session, col(Piece.id).in_(union(held, bought)), limit=most + 1)


def pieces_by_id(session: Session, piece_ids: Iterable[int]) -> dict[int, PieceView]:
    """These pieces as pages show them, by id."""
    return {seen.id: seen for seen in pieces.views(session, col(Piece.id).in_(set(piece_ids)))}


def editions_of_work(session: Session, work_id: int) -> list[int]:
    """The editions of a work that stand."""
    return list(
        filter(
            None,
            session.exec(select(Edition.id).where(Edition.work_id == work_id, col(Edition.withdrawn_on).is_(None))),
        )
    )

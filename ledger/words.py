"""The index behind the find box: the words of titles and names, and what any part of a code begins."""

from sqlmodel import Session, col, delete

from ledger.database import Book
from ledger.reckoning import codes
from ledger.reckoning.texts import folded_words
from ledger.tables import SearchWord


def index(session: Session, text: str, *, work_id: int | None = None, person_id: int | None = None) -> None:
    """Make the words of this text the ones under which the work or the person is found."""
    forget(session, work_id=work_id, person_id=person_id)
    for word in folded_words(text):
        session.add(SearchWord(word=word[:40], work_id=work_id, person_id=person_id))


def forget(session: Session, *, work_id: int | None = None, person_id: int | None = None) -> None:
    session.exec(
        delete(SearchWord).where(
            col(SearchWord.work_id) == work_id if work_id is not None else col(SearchWord.person_id) == person_id
        )
    )


def index_code(book: Book, code: str, certificate_id: int) -> None:
    """Let a certificate be found by any run of characters of its code: each rest of it that is long enough."""
    rests = [code[start:] for start in range(len(code) - codes.LEAST_RUN + 1)]
    book.write(SearchWord, [{"word": rest, "certificate_id": certificate_id} for rest in rests])

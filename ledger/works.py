"""Works: the image behind the prints."""

import re
from typing import Any

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import journal, words
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.pictures import StoredPicture
from ledger.reckoning.texts import tidy
from ledger.tables import Correction, Edition, Picture, Work

FIELDS = {
    "title": "The title",
    "artist": "The artist’s name",
    "year_made": "The year",
    "medium": "The medium",
    "artist_born": "The year of birth",
    "artist_died": "The year of death",
}
YEARS = ("year_made", "artist_born", "artist_died")


class WorkDraft(BaseModel):
    """An image and who made it, when, in what medium."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    title: str
    artist: str
    year_made: int
    medium: str
    artist_born: int | None = None
    artist_died: int | None = None


def add(book: Book, draft: WorkDraft) -> Work:
    """Write a work down. Raises Refusal."""
    work = Work(**_checked(book, draft))
    book.session.add(work)
    book.session.flush()
    assert work.id is not None
    words.index(book.session, work.title, work_id=work.id)
    fields = {
        "work": work.id,
        "title": work.title,
        "artist": work.artist,
        "year_made": work.year_made,
        "medium": work.medium,
    }
    for year in ("artist_born", "artist_died"):
        if getattr(work, year) is not None:
            fields[year] = getattr(work, year)
    journal.public(book, "work.added", fields, Touched("added", book.today))
    return work


def _checked(book: Book, draft: WorkDraft) -> dict[str, Any]:
    latest = book.today.year
    if not 1826 <= draft.year_made <= latest:
        raise Refusal(f"{draft.year_made} is not a year between 1826 and {latest}.", field="year_made")
    for field, year in (("artist_born", draft.artist_born), ("artist_died", draft.artist_died)):
        if year is not None and not 1700 <= year <= latest:
            raise Refusal(f"{year} is not a year between 1700 and {latest}.", field=field)
    if draft.artist_born and draft.artist_died and draft.artist_died < draft.artist_born:
        raise Refusal("The artist died before being born. Put one of the years right.", field="artist_died")
    return {
        "title": tidy(draft.title, "The title", field="title"),
        "artist": tidy(draft.artist, "The artist’s name", limit=120, field="artist"),
        "medium": tidy(draft.medium, "The medium", limit=120, field="medium"),
        "year_made": draft.year_made,
        "artist_born": draft.artist_born,
        "artist_died": draft.artist_died,
    }


def keep_picture(book: Book, work_id: int, stored: StoredPicture) -> Picture:
    """Make a picture that is already in the folder the picture of this work.

    Raises Refusal where it is that already, or is the picture of another work.
    """
    work = get(book.session, work_id)
    if has_picture(book.session, work_id, stored.sha256):
        raise Refusal(f"This is the picture of “{work.title}” already. Nothing was changed.", field="picture")
    picture = book.session.exec(select(Picture).where(Picture.sha256 == stored.sha256)).first()
    if picture is not None:
        _check_not_anothers(book.session, work_id, picture)
    if picture is None:
        picture = Picture(
            sha256=stored.sha256,
            bytes=stored.bytes,
            format=stored.format,
            width_px=stored.width_px,
            height_px=stored.height_px,
            bits=stored.bits,
            profile=stored.profile,
            show_sha256=stored.show_sha256,
            paper_sha256=stored.paper_sha256,
            thumb_sha256=stored.thumb_sha256,
        )
        book.session.add(picture)
        book.session.flush()
    work.picture_id = picture.id
    book.session.add(work)
    journal.public(
        book,
        "work.corrected",
        {"work": work_id, "field": "picture", "new": stored.sha256},
        Touched("pictured", book.today, picture_id=picture.id),
    )
    return picture


def _check_not_anothers(session: Session, work_id: int, picture: Picture) -> None:
    """One image is one work, or its editions would not be found, disclosed and counted together."""
    other = session.exec(select(Work).where(Work.picture_id == picture.id, Work.id != work_id)).first()
    if other is not None:
        raise Refusal(
            f"This picture is in the book already, as “{other.title}”. Choose that one, and declare an edition of it.",
            field="picture",
        )


def correct(book: Book, work_id: int, field: str, new: str, why: str) -> Work:
    """Put a title, a name or a year right; papers that are out keep their words, and their pages add it.

    Raises Refusal.
    """
    work = get(book.session, work_id)
    if field not in FIELDS:
        raise Refusal(f"“{field}” is no line of a work. Choose {', '.join(FIELDS)}.", field="field")
    reason = tidy(why, "The reason", limit=300, field="why")
    old = getattr(work, field)
    value = _year(new, optional=field != "year_made") if field in YEARS else new
    now = {name: getattr(work, name) for name in FIELDS} | {field: value}
    try:
        checked = _checked(book, WorkDraft(**now))
    except Refusal as no:
        raise Refusal(no.message, field="new") from None
    if checked[field] == old:
        raise Refusal(f"{FIELDS[field]} says so already.", field="new")
    setattr(work, field, checked[field])
    book.session.add(work)
    if field == "title":
        words.index(book.session, work.title, work_id=work_id)
    seq = journal.public(
        book,
        "work.corrected",
        {"work": work_id, "field": field, "old": str(old or ""), "new": str(checked[field] or "")},
        *(Touched("corrected", book.today, edition_id=edition) for edition in _editions(book.session, work_id)),
    )
    book.session.add(
        Correction(
            entry_seq=seq, work_id=work_id, field=field, old=str(old or ""), new=str(checked[field] or ""), why=reason
        )
    )
    return work


def _year(typed: str, *, optional: bool) -> int | None:
    if optional and not typed.strip():
        return None
    if not re.fullmatch(r"[0-9]{4}", typed.strip()):
        raise Refusal(f"“{typed}” is not a year. Write four figures.", field="new")
    return int(typed)


def _editions(session: Session, work_id: int) -> list[int | None]:
    return list(session.exec(select(Edition.id).where(Edition.work_id == work_id)))


def get(session: Session, work_id: int) -> Work:
    """Raises Refusal (missing)."""
    work = session.get(Work, work_id)
    if work is None:
        raise Refusal(f"No work has the number {work_id}.", missing=True)
    return work


def picture_of(session: Session, work_id: int) -> Picture | None:
    work = get(session, work_id)
    return session.get(Picture, work.picture_id) if work.picture_id else None


def has_picture(session: Session, work_id: int, sha256: str) -> bool:
    """Whether a file of this SHA-256 is the picture of the work now."""
    picture = picture_of(session, work_id)
    return picture is not None and picture.sha256 == sha256


def listing(session: Session) -> list[Work]:
    """Every work, by title."""
    return list(session.exec(select(Work).order_by(col(Work.title))))


def corrections(session: Session, work_id: int) -> list[Correction]:
    """What was put right, oldest first."""
    return list(
        session.exec(select(Correction).where(Correction.work_id == work_id).order_by(col(Correction.entry_seq)))
    )


def after(session: Session, work_id: int, limit: int) -> list[Work]:
    """The works written down after this one, in that order."""
    return list(session.exec(select(Work).where(col(Work.id) > work_id).order_by(col(Work.id)).limit(limit)))


def pictures_of(session: Session) -> dict[int, Picture]:
    """The picture of every work that has one, by the work's id."""
    found = session.exec(select(col(Work.id), Picture).join(Picture, col(Picture.id) == Work.picture_id))
    return {work_id: picture for work_id, picture in found if work_id is not None}


def may_be_shown(session: Session, sha256: str) -> bool:
    """Whether a kept file is a copy made to be looked at: no master, and no copy made for paper.

    A file that no row names yet belongs to an upload that somebody is looking at before declaring.
    """
    rows = session.exec(
        select(Picture.sha256, Picture.show_sha256, Picture.thumb_sha256, Picture.paper_sha256).where(
            (col(Picture.sha256) == sha256)
            | (col(Picture.show_sha256) == sha256)
            | (col(Picture.thumb_sha256) == sha256)
            | (col(Picture.paper_sha256) == sha256)
        )
    ).all()
    return not rows or any(sha256 in (show, thumb) for _, show, thumb, _ in rows)

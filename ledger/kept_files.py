"""The files the record names: pictures and papers, each by the hash of what it holds."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session, col, select

from ledger import home
from ledger.pictures import EXTENSIONS
from ledger.reckoning import codes
from ledger.tables import Certificate, Edition, Picture, Piece, PrintClass, Work


@dataclass(frozen=True)
class KeptFile:
    """A file that ought to be there: what it is in words, and where it lies."""

    what: str
    path: Path

    @property
    def is_there(self) -> bool:
        return self.path.is_file()


def named(session: Session, folder: Path, work_id: int | None = None) -> Iterator[KeptFile]:
    """Every file the rows name, of one work or of all."""
    pictures = select(Picture, Work).outerjoin(Work, col(Work.picture_id) == Picture.id).order_by(col(Picture.id))
    papers = (
        select(Certificate, Work)
        .join(Piece, col(Piece.id) == Certificate.piece_id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .join(Edition, col(Edition.id) == PrintClass.edition_id)
        .join(Work, col(Work.id) == Edition.work_id)
        .where(col(Certificate.paper_sha256).is_not(None))
        .order_by(col(Certificate.id))
    )
    if work_id is not None:
        pictures, papers = pictures.where(Work.id == work_id), papers.where(Work.id == work_id)
    for picture, work in session.exec(pictures):
        yield from _of_picture(folder / "pictures", picture, f"of “{work.title}”" if work else "no work has any more")
    for certificate, work in session.exec(papers):
        path = home.place_of(folder / "papers", str(certificate.paper_sha256), ".pdf")
        what = f"the paper of certificate {codes.grouped(certificate.code)} of “{work.title}”"
        yield KeptFile(what, path)


def _of_picture(folder: Path, picture: Picture, of: str) -> Iterator[KeptFile]:
    master = home.place_of(folder, picture.sha256, f".{EXTENSIONS[picture.format]}")
    yield KeptFile(f"the picture {of}", master)
    for name, sha256 in (
        ("on pages", picture.show_sha256), ("for papers", picture.paper_sha256), ("in lists", picture.thumb_sha256)
    ):  # fmt: skip
        yield KeptFile(f"the copy {name} {of}", home.place_of(folder, sha256, ".jpg"))


def missing(session: Session, folder: Path, work_id: int) -> list[str]:
    """What of a work is not in the folder any more, in words."""
    return [kept.what for kept in named(session, folder, work_id) if not kept.is_there]


def wrong(session: Session, folder: Path) -> Iterator[str]:
    """A sentence for every file that is not there, or not what was kept; each is read whole."""
    for kept in named(session, folder):
        if not kept.is_there:
            yield f"{kept.what} is not in the ledger’s folder"
            continue
        with kept.path.open("rb") as opened:
            if hashlib.file_digest(opened, "sha256").hexdigest() != kept.path.stem:
                yield f"{kept.what} is not what was kept"

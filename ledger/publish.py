"""Publishing: what strangers may read, as files that any web host carries and that outlive this program.

Everything is read in one look at one moment of the book; the files are written while it lasts, which nobody waits
for, a few rows at a time. In that same look the whole book is audited first: nothing is published of one that is not
as its record has it. Nothing is changed in the book.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Protocol
from urllib.parse import urlsplit

from sqlmodel import Session, col, select

from ledger import audit, certificates, checkpoints, checks, home, keys, site_folder, studio
from ledger.checks import Check
from ledger.database import Engine, reading
from ledger.errors import Refusal
from ledger.reckoning import merkle
from ledger.reckoning.notes import Proof
from ledger.site_folder import Site
from ledger.tables import Certificate, Journal, SignedHead

A_FEW = 500
SAY_EVERY = 5_000
_EMAIL = re.compile(r"[^\s@,;:<>()\"]+@[^\s@,;:<>()\"]+\.[^\s@,;:<>()\"]+")
_AS_OF = re.compile(rb'<time id="as-of".*?</time>', re.DOTALL)


@dataclass(frozen=True)
class Facts:
    """What every page says: whose prints, where to write, at which address it will lie, and the day it is of."""

    maker_name: str
    contact: str
    postal: str
    address: str
    as_of: date

    @property
    def email(self) -> str:
        """The e-mail address in the line on how to write; '' without one."""
        found = _EMAIL.search(self.contact)
        return found[0] if found else ""


class Pages(Protocol):
    """What draws the pages. This room knows what they say, not how they look."""

    def certificate(self, found: Check, *, with_picture: bool) -> bytes: ...

    def moved(self, to: str) -> bytes: ...

    def around(self) -> Iterator[tuple[str, bytes]]: ...


Draw = Callable[[Facts], Pages]
Say = Callable[[str], None]


@dataclass
class Published:
    """What came of it, in counts of files; `warnings` are sentences about what could not be shown."""

    certificates: int = 0
    entries: int = 0
    changed: int = 0
    same: int = 0
    gone: int = 0
    warnings: list[str] = field(default_factory=list)


def publish(engine: Engine, data_dir: Path, folder: Path, draw: Draw, as_of: date, say: Say) -> Published:
    """Write the public folder, or bring one that was written before up to this day.

    Raises Refusal before the first certificate, where the record does not match itself, and as
    `site_folder.replacing` does.
    """
    with reading(engine) as session:
        if not certificates.any_issued(session):
            raise Refusal("No certificate was issued yet, so there is nothing for strangers to check.")
        say("Counting the record")
        if faults := audit.audit(session) + audit.of_the_folder(session, data_dir):
            raise Refusal(
                f"The record does not match ({faults[0].sentence}), so nothing is published. Run 'print-ledger check' "
                "to see where, and restore the last backup that is sound."
            )
        with site_folder.replacing(folder) as site:
            done = lay_out(session, data_dir, site, draw, as_of, say)
    done.changed, done.same, done.gone = site.changed, site.same, site.gone
    return done


def lay_out(session: Session, data_dir: Path, site: Site, draw: Draw, as_of: date, say: Say) -> Published:
    """Write every file of the folder from the book as it stands at one moment."""
    owner, present = studio.the_studio(session), studio.present_address(session) or ""
    pages = draw(Facts(owner.maker_name, owner.contact_line, owner.address, present, as_of))
    done = Published()
    for path, data in pages.around():
        site.put(path, data, _undated)
    tree = _journal(session, site)
    done.entries = tree.size
    _certificates(session, data_dir, site, pages, done, say)
    _former_addresses(session, site, pages, present)
    for count, proof in enumerate(_proofs(session, tree), start=1):
        site.put(f"journal/proof/{proof.index}", proof.text.encode())
        if count % SAY_EVERY == 0:
            say(f"  {count:,} proofs")
    return done


def _undated(page: bytes) -> bytes:
    """A page without the day it is of: for a new day alone it is not written again; a script shows the last one."""
    return _AS_OF.sub(b"", page)


def _certificates(session: Session, data_dir: Path, site: Site, pages: Pages, done: Published, say: Say) -> None:
    shown: dict[str, bool] = {"": False}
    for found, signed in zip(checks.every(session), _signed_texts(session), strict=True):
        picture = found.snapshot["show"]
        if picture not in shown:
            shown[picture] = _picture(data_dir, site, picture)
            if not shown[picture]:
                done.warnings.append(f"The picture of {found.snapshot['title']} is not in the ledger’s folder.")
        page = pages.certificate(found, with_picture=shown[picture])
        site.put(f"C/{found.code}/index.html", page, _undated)
        if signed is not None:
            site.put(f"C/{found.code}/credential.json", signed)
        done.certificates += 1
        if done.certificates % SAY_EVERY == 0:
            say(f"  {done.certificates:,} certificates")


def _picture(data_dir: Path, site: Site, sha256: str) -> bool:
    try:
        data = home.kept_file(data_dir / "pictures", sha256, ".jpg")
    except Refusal:
        return False
    site.put(f"pictures/{sha256}.jpg", data)
    return True


def _signed_texts(session: Session) -> Iterator[bytes | None]:
    """What was signed of every certificate, the first one first; None of those from before signing."""
    kept = select(Certificate.credential).order_by(col(Certificate.id))
    yield from session.exec(kept.execution_options(yield_per=A_FEW))


def _former_addresses(session: Session, site: Site, pages: Pages, present: str) -> None:
    """For each former address a folder to lay at it: papers that carry it must go on leading to their pages."""
    for former in studio.former_addresses(session):
        at = f"former/{re.sub(r'[^a-z0-9.-]', '-', urlsplit(former.url).netloc.lower())}"
        for path in ("index.html", "404.html", "c/index.html", "C/index.html"):
            site.put(f"{at}/{path}", pages.moved(f"{present}/c/"))
        for code in certificates.codes_printed_with(session, former.url):
            site.put(f"{at}/C/{code}/index.html", pages.moved(f"{present}/C/{code}/"))


def _journal(session: Session, site: Site) -> "_Tree":
    tree = _Tree()
    site.put_lines("journal/entries.jsonl", _bodies(session, tree))
    if (have := keys.in_force(session)) is not None:
        said = f"issuer {have.issuer}\njournal {have.journal}\nfingerprint {keys.public_of(have).fingerprint}\n"
        site.put("journal/keys.txt", said.encode())
    if (head := checkpoints.latest(session)) is not None:
        site.put("journal/checkpoint", head.note.encode())
    return tree


class _Tree:
    """The tree over the entries as they pass: quicker for so many proofs than asking for each."""

    def __init__(self) -> None:
        self.size = 0
        self._levels: list[bytearray] = []

    def add(self, body: bytes) -> None:
        for level, _, made in merkle.completed(self.size, merkle.leaf_hash(body), self.node):
            if level == len(self._levels):
                self._levels.append(bytearray())
            self._levels[level] += made
        self.size += 1

    def node(self, level: int, index: int) -> bytes:
        at = index * merkle.HASH_BYTES
        return bytes(self._levels[level][at : at + merkle.HASH_BYTES])


def _bodies(session: Session, tree: _Tree) -> Iterator[bytes]:
    for body in session.exec(select(Journal.body).order_by(col(Journal.seq)).execution_options(yield_per=A_FEW)):
        tree.add(body)
        yield body


def _proofs(session: Session, tree: _Tree) -> Iterator[Proof]:
    """Of every certificate that its entry stands in the record, under the first head signed after it."""
    issued = select(Journal.seq).where(Journal.kind == "certificate.issued").order_by(col(Journal.seq))
    signed = select(SignedHead.size, SignedHead.note).order_by(col(SignedHead.size))
    heads = iter(session.exec(signed.execution_options(yield_per=A_FEW)))
    size, note = 0, ""
    for seq in session.exec(issued.execution_options(yield_per=A_FEW)):
        while size <= seq:
            size, note = next(heads, (0, ""))
            if not size:
                return
        yield Proof(seq, tuple(merkle.inclusion_proof(seq, size, tree.node)), note)

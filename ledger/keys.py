"""The ledger's signing keys: made once, named in the record, and held by the process that signs.

The private halves lie in a file of their own (`keyfile`); the book knows the public ones.
"""

from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine
from sqlmodel import Session, col, select

from ledger import checkpoints, journal, keyfile
from ledger.database import Book, reading, writing
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.keyfile import COST, Cost
from ledger.reckoning.identity import PublicKeys
from ledger.signing import Keys
from ledger.tables import SigningKeys

NONE_YET = (
    "This ledger has no signing keys yet, and a certificate is signed with them. Make them once, "
    "with 'print-ledger keys make'."
)
_HELD = "signing_keys"  # the engine's option under which they are held


def add(book: Book, public: PublicKeys) -> SigningKeys:
    """Name the keys that sign from now on; the record says so in the clear.

    Raises Refusal where the ledger has keys.
    """
    if (have := in_force(book.session)) is not None:
        raise Refusal(f"This ledger has its signing keys already, since entry {have.entry_seq} of its record.")
    seq = journal.public(
        book,
        "key.added",
        {"issuer": public.issuer, "journal": public.journal, "fingerprint": public.fingerprint},
        Touched("made_keys", book.today),
    )
    row = SigningKeys(entry_seq=seq, issuer=public.issuer, journal=public.journal)
    book.session.add(row)
    book.session.flush()
    return row


def in_force(session: Session) -> SigningKeys | None:
    """The keys the record names; None before any were made."""
    return session.exec(select(SigningKeys).order_by(col(SigningKeys.id).desc()).limit(1)).first()


def public_of(row: SigningKeys) -> PublicKeys:
    return PublicKeys(row.issuer, row.journal)


def make(
    engine: Engine, folder: Path, passphrase: str, actor: str, *, at: datetime | None = None, cost: Cost = COST
) -> Keys:
    """Make the ledger's keys: the file first, durable, then the entry that names them.

    Where that was cut off in between, the file that is there is taken on. Raises Refusal where the ledger has keys,
    before its first entry, and as `keyfile` does.
    """
    with reading(engine) as session:
        have, first = in_force(session), _first_entry(session)
    if have is not None:
        raise Refusal(
            f"This ledger has its signing keys already ({public_of(have).fingerprint}), "
            f"since entry {have.entry_seq} of its record."
        )
    if keyfile.place_of(folder).exists():
        made = _unlocked(folder, passphrase, first)
    else:
        made = keyfile.make(folder, passphrase, first, cost)
    with writing(engine, actor, at=at) as book:
        add(book, made.public)
    return made


def _first_entry(session: Session) -> bytes:
    """What tells this ledger from every other: the hash of its first entry. Raises Refusal before there is one."""
    if not journal.length(session):
        raise Refusal("This book is not open yet. Write who keeps it, on its first page, then make its keys.")
    return journal.root(session, 1)


def _unlocked(folder: Path, passphrase: str, first_entry: bytes) -> Keys:
    found, keys = keyfile.unlock(folder, passphrase)
    if found.ledger != first_entry:
        raise Refusal(f"{keyfile.place_of(folder)} holds the keys of another ledger.")
    return keys


def unlock(engine: Engine, folder: Path, passphrase: str) -> Keys:
    """The ledger's keys, able to sign.

    Raises Refusal where none were made, and where the key file is not there, not this ledger's, or stays locked.
    """
    with reading(engine) as session:
        have = in_force(session)
        if have is None:
            raise Refusal(NONE_YET)
        first, public = _first_entry(session), public_of(have)
    keys = _unlocked(folder, passphrase, first)
    if keys.public != public:
        raise Refusal(f"{keyfile.place_of(folder)} holds other keys than the record names.")
    return keys


# --- held while the ledger is open ---


def hold(engine: Engine, held: Keys | str) -> None:
    """Sign with these keys in every act on this engine from now on; or say, in this sentence, why not."""
    engine.update_execution_options(**{_HELD: held})


def take_up(engine: Engine, folder: Path, passphrase: str) -> str:
    """Unlock the keys and hold them; where that cannot be, the sentence that says why, '' otherwise."""
    checkpoints.keep_newest_in(engine, folder)
    try:
        hold(engine, unlock(engine, folder, passphrase))
    except Refusal as refusal:
        hold(engine, refusal.message)
        return refusal.message
    return ""


def ready(session: Session) -> Keys:
    """The keys held for this ledger. Raises Refusal with the reason where there are none to sign with."""
    found = session.get_bind().get_execution_options().get(_HELD, NONE_YET)
    if isinstance(found, Keys):
        return found
    raise Refusal(str(found))

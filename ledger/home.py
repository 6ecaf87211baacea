"""The data folder: the ledger in it, its pictures and its papers.

A file is written under another name, made durable, and only then given its own: a name never points at half a
file. Files are named by the SHA-256 of what they hold, so the same bytes are kept once.
"""

import errno
import fcntl
import hashlib
import os
import re
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

from ledger.database import make_engine
from ledger.errors import Refusal
from ledger.schema import check_schema, is_empty, migrate

LEDGER = "ledger.sqlite"
FILES = ("pictures", "papers")
KEY_FILE = "signing-keys.json"
NEWEST_HEAD = "newest-head"
# What may lie in the folder beside: the lock, what SQLite keeps next to its file, what a file manager leaves.
BESIDE = frozenset(
    {KEY_FILE, NEWEST_HEAD, "writer.lock", f"{LEDGER}-wal", f"{LEDGER}-shm", f"{LEDGER}-journal", ".DS_Store"}
)
FULL = (errno.ENOSPC, errno.EDQUOT)


@dataclass(frozen=True)
class Home:
    """An open ledger. `fresh` is true where it was made a moment ago."""

    folder: Path
    engine: Engine
    fresh: bool


@contextmanager
def opened(folder: Path, database_url: str = "", *, bring_up_to_date: bool = False) -> Iterator[Home]:
    """The ledger in this folder, made where there is none, and held against a second writer until the end.

    With a `database_url` the record is in PostgreSQL and the folder keeps pictures and papers. Raises Refusal
    for a folder that cannot hold a ledger or holds other things, a ledger that is open elsewhere, of another
    schema, or not a ledger at all.
    """
    folder = _ready(folder)
    with _sole_writer(folder):
        engine = make_engine(database_url or f"sqlite:///{folder / LEDGER}")
        try:
            yield Home(folder, engine, _settled(engine, bring_up_to_date))
        finally:
            engine.dispose()


def holds_ledger(folder: Path) -> bool:
    """Whether there is a ledger file in this folder."""
    return (folder / LEDGER).is_file()


def _ready(folder: Path) -> Path:
    folder = folder.expanduser().absolute()
    if folder.exists() and not folder.is_dir():
        raise Refusal(f"{folder} is a file. Name a folder for the ledger.")
    if not folder.parent.is_dir():
        raise Refusal(f"There is no folder {folder.parent} to put the ledger in. Make it, or name another.")
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        inside = {entry.name for entry in folder.iterdir()}
    except PermissionError as cause:
        raise Refusal(f"{folder} is closed to this account. Open it, or name another folder.") from cause
    if LEDGER not in inside and inside - BESIDE - set(FILES):
        raise Refusal(f"{folder} holds other things and no ledger. Name an empty folder, or the ledger’s own.")
    if not os.access(folder, os.W_OK):
        raise Refusal(f"{folder} cannot be written to by this account. Open it, or name another folder.")
    return folder


def _settled(engine: Engine, bring_up_to_date: bool) -> bool:
    try:
        fresh = is_empty(engine)
        if fresh or bring_up_to_date:
            migrate(engine)
        check_schema(engine)
    except DBAPIError as cause:
        what = "The database" if engine.dialect.name == "postgresql" else f"{engine.url.database}"
        said = str(cause.orig).strip().splitlines()[0] if cause.orig else "no answer"
        raise Refusal(f"{what} cannot be opened as a ledger: {said}. Nothing was changed.") from cause
    return fresh


# --- files kept by what they hold ---


def sync(path: Path) -> None:
    """Make a file, or the names in a folder, durable."""
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def put_in_place(moves: Iterable[tuple[Path, Path]]) -> None:
    """Make files durable and give them their names, all the first before any of the second."""
    moves = list(moves)
    folders = {place.parent for _, place in moves}
    for folder in folders:
        folder.mkdir(exist_ok=True)
    for made, _ in moves:
        sync(made)
    for made, place in moves:
        made.replace(place)
    for folder in folders | {folder.parent for folder in folders}:
        sync(folder)


def place_of(folder: Path, sha256: str, suffix: str) -> Path:
    """Where the file with this hash lies, whether or not it is there. Raises ValueError for no hash."""
    if not re.fullmatch(r"[0-9a-f]{64}", sha256) or not re.fullmatch(r"\.[a-z]{3,4}", suffix):
        raise ValueError("a kept file is named by 64 small hexadecimal digits and a short ending")
    return folder / sha256[:2] / f"{sha256}{suffix}"


def keep_file(folder: Path, data: bytes, suffix: str) -> str:
    """Keep bytes in a folder under their SHA-256, which is returned; they are on the disk for good by then.

    Raises Refusal, leaving nothing behind, when the disk is full.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    place = place_of(folder, sha256, suffix)
    if place.is_file():
        return sha256
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".incoming-", dir=folder) as scratch:
            made = Path(scratch) / "file"
            made.write_bytes(data)
            put_in_place([(made, place)])
    except OSError as problem:
        if problem.errno in FULL:
            raise Refusal("The disk is full: the paper was not kept. Make room and try again.") from None
        raise
    return sha256


def keep_private(place: Path, data: bytes) -> None:
    """Keep bytes under this name, for this account alone, on the disk for good on return.

    Raises Refusal, leaving nothing behind, when the disk is full.
    """
    try:
        with tempfile.TemporaryDirectory(prefix=".incoming-", dir=place.parent) as scratch:
            made = Path(scratch) / "file"
            made.touch(mode=0o600)
            made.write_bytes(data)
            put_in_place([(made, place)])
    except OSError as problem:
        if problem.errno in FULL:
            raise Refusal(f"The disk is full: {place.name} was not kept. Make room and try again.") from None
        raise


def kept_file(folder: Path, sha256: str, suffix: str) -> bytes:
    """The bytes kept under this hash. Raises Refusal when they are gone, or are not those any more."""
    try:
        data = place_of(folder, sha256, suffix).read_bytes()
    except FileNotFoundError:
        raise Refusal("This file is not in the ledger’s folder. Restore it from a backup.") from None
    if hashlib.sha256(data).hexdigest() != sha256:
        raise Refusal("This file is not what was kept. Restore it from a backup.")
    return data


@contextmanager
def _sole_writer(data_dir: Path) -> Iterator[None]:
    """Hold the data folder for this process; a second one is told who has it.

    Raises Refusal.
    """
    path = data_dir / "writer.lock"
    with path.open("a+") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as cause:
            held.seek(0)
            owner = held.read().strip() or "another process"
            raise Refusal(f"This ledger is open already: {owner}. Stop that one first, or use its pages.") from cause
        held.truncate(0)
        held.write(f"process {os.getpid()}")
        held.flush()
        yield

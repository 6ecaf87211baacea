"""A backup: the whole ledger in one file, made while it is in use, and looked through before it counts as one."""

import hashlib
import os
import re
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

from ledger import journal, kept_files, sealed_rows, sign_ins
from ledger.audit import audit
from ledger.database import housekeeping, make_engine, reading
from ledger.errors import Refusal
from ledger.home import FILES, FULL, LEDGER, sync
from ledger.schema import is_empty, migrate, newest_schema, schema_of

# pictures/ab/ab12...jpg, and nothing else that a name could be
KEPT = re.compile(rf"(?:{'|'.join(FILES)})/([0-9a-f]{{2}})/(\1[0-9a-f]{{62}})\.[a-z]{{3,4}}")


@dataclass(frozen=True)
class Backup:
    """What a backup holds: entries of the record, and files beside it."""

    entries: int
    files: int


def back_up(engine: Engine, folder: Path, target: Path) -> Backup:
    """Write the ledger, its pictures and its papers into one new file; it is durable and audited on return.

    Raises Refusal, leaving no file, where the target exists or has no folder, the disk is full, or the copy is
    not sound.
    """
    if engine.dialect.name != "sqlite":
        raise Refusal(
            "This ledger’s record is in PostgreSQL: back that up with pg_dump, "
            f"and copy {folder / 'pictures'} and {folder / 'papers'} after it."
        )
    target = target.expanduser().absolute()
    if target.exists():
        raise Refusal(f"{target} exists already. Name a new file.")
    if not target.parent.is_dir():
        raise Refusal(f"There is no folder {target.parent}. Make it, or name another.")
    with _scratch_in(target.parent) as scratch:
        # The record is copied first: every file it names was durable before it was named.
        _copy_sqlite(engine, scratch / LEDGER)
        files = _pack(scratch / LEDGER, folder, scratch / "backup")
        # Packed before it is looked through, which brings the copy up to date: an older ledger stays one.
        entries = _looked_through(scratch / LEDGER, folder)
        sync(scratch / "backup")
        (scratch / "backup").replace(target)
        sync(target.parent)
    return Backup(entries, files)


def restore(archive: Path, folder: Path) -> Backup:
    """Lay a backup out in a new folder, up to date and looked through before it gets its name.

    Raises Refusal, leaving nothing, where the folder is there already and not empty, or the file is no whole
    backup.
    """
    folder = folder.expanduser().absolute()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Refusal(f"{folder} is not empty. Restore into a new folder; nothing is written over.")
    if not folder.parent.is_dir():
        raise Refusal(f"There is no folder {folder.parent}. Make it, or name another.")
    if not archive.is_file():
        raise Refusal(f"There is no file {archive}.")
    with _scratch_in(folder.parent) as scratch:
        laid = scratch / "ledger"
        laid.mkdir(mode=0o700)
        try:
            files = _unpack(archive, laid)
        except (zipfile.BadZipFile, EOFError, NotImplementedError) as cause:
            raise Refusal(f"{archive} is not a whole backup of a ledger.") from cause
        entries = _looked_through(laid / LEDGER, laid)
        _signed_out(laid / LEDGER)
        laid.replace(folder)
        sync(folder.parent)
    return Backup(entries, files)


@contextmanager
def _scratch_in(folder: Path) -> Iterator[Path]:
    try:
        with tempfile.TemporaryDirectory(prefix=".print-ledger-", dir=folder) as scratch:
            yield Path(scratch)
    except OSError as problem:
        if problem.errno in FULL:
            raise Refusal(f"The disk of {folder} is full. Make room and try again.") from problem
        if isinstance(problem, PermissionError):
            raise Refusal(f"{folder} cannot be written to by this account.") from problem
        raise


def _looked_through(ledger: Path, folder: Path) -> int:
    """How many entries the ledger has. Raises Refusal unless it is sound and the files it names are there."""
    engine = make_engine(f"sqlite:///{ledger}")
    try:
        if is_empty(engine):
            raise Refusal("There is no ledger in it.")
        if schema_of(engine) != newest_schema():
            migrate(engine)
        sealed_rows.take_over(engine)
        with reading(engine) as session:
            faults = [f"{fault.check}: {fault.sentence}" for fault in audit(session)]
            faults += [f"{kept.what} is missing" for kept in kept_files.named(session, folder) if not kept.is_there]
            entries = journal.length(session)
    except DBAPIError as cause:
        raise Refusal(f"The copy cannot be read: {cause.orig}.") from cause
    finally:
        engine.dispose()
    if faults:
        more = f", and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise Refusal(f"The copy is not sound ({faults[0]}{more}), so it was not kept.")
    return entries


def _signed_out(ledger: Path) -> None:
    """Nobody is signed in to a copy: what was ended since it was made would stand again."""
    engine = make_engine(f"sqlite:///{ledger}")
    try:
        with housekeeping(engine) as session:
            sign_ins.sign_everybody_out(session)
    finally:
        engine.dispose()


def _pack(ledger: Path, folder: Path, archive: Path) -> int:
    found = sorted(path for name in FILES for path in (folder / name).glob("*/*"))
    files = [(path, path.relative_to(folder).as_posix()) for path in found]
    handle = os.open(archive, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(handle, "wb") as opened, zipfile.ZipFile(opened, "w") as packed:
        packed.write(ledger, LEDGER, zipfile.ZIP_DEFLATED)
        for path, name in files:
            with path.open("rb") as source, packed.open(name, "w", force_zip64=True) as kept:
                _copy_checked(source, kept, name)
    return len(files)


def _unpack(archive: Path, folder: Path) -> int:
    with zipfile.ZipFile(archive) as packed:
        names = packed.namelist()
        if LEDGER not in names or len(names) != len(set(names)):
            raise Refusal(f"{archive} is not a whole backup of a ledger.")
        for name in names:
            if name != LEDGER and not KEPT.fullmatch(name):
                raise Refusal(f"{archive} holds “{name}”, which is no part of a ledger. Nothing was restored.")
            place = folder / name
            place.parent.mkdir(parents=True, exist_ok=True)
            with packed.open(name) as source, place.open("xb") as kept:
                _copy_checked(source, kept, name)
            sync(place)
    return len(names) - 1


def _copy_checked(source: IO[bytes], target: IO[bytes], name: str) -> None:
    if name == LEDGER:
        shutil.copyfileobj(source, target)
        return
    found = hashlib.sha256()
    while chunk := source.read(1 << 20):
        found.update(chunk)
        target.write(chunk)
    if found.hexdigest() != Path(name).stem:
        raise Refusal(f"{name} is damaged: it is not what was kept. Nothing was written.")


def _copy_sqlite(engine: Engine, target: Path) -> None:
    """Copy a SQLite ledger as it is at one moment into a new file, while others go on writing."""
    source = engine.raw_connection()
    try:
        with closing(sqlite3.connect(target)) as copy:
            assert source.driver_connection is not None
            source.driver_connection.backup(copy)
    finally:
        source.close()

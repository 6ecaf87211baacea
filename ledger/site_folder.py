"""A folder of files for any web host: written beside the one that is there, then put in its place as a whole.

What stays the same is not written again: it is linked over, so that a tool that copies the folder to a host sees
what changed by its time. A list in the folder says by hashes which files are ours; a path may hold a certificate's
code, and whoever reads the list must not learn it.

Two renames put the new folder in place. If the machine stops between them the folder is missing, the earlier one
lies whole beside it as `.NAME.earlier`, and the next run gives it its name back before it begins.
"""

import contextlib
import fcntl
import filecmp
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

from ledger.errors import Refusal
from ledger.home import FULL, sync

LIST = "published.txt"
BESIDE = frozenset({LIST, ".DS_Store"})


class Site:
    """The folder being written. `changed`, `same` and `gone` count its files."""

    def __init__(self, place: Path, new: Path) -> None:
        self._place, self._new = place, new
        self._names: set[bytes] = set()
        self._made = new
        self.changed = self.same = self.gone = 0

    def put(self, path: str, data: bytes, alike: Callable[[bytes], bytes] = bytes) -> None:
        """One file. Where the one that is there is `alike`, that one stays."""
        before, file = self._next(path)
        with contextlib.suppress(FileNotFoundError, NotADirectoryError):
            if alike(before.read_bytes()) == alike(data):
                file.unlink(missing_ok=True)  # on a host's disk that sees no case, `c` and `C` are one folder
                _carry(before, file)
                self.same += 1
                return
        file.write_bytes(data)
        self.changed += 1

    def put_lines(self, path: str, lines: Iterable[bytes]) -> None:
        """One file of as many lines as there are, never all of them in memory."""
        before, file = self._next(path)
        with file.open("wb") as opened:
            for line in lines:
                opened.write(line + b"\n")
        if before.is_file() and filecmp.cmp(before, file, shallow=False):
            file.unlink()
            _carry(before, file)
            self.same += 1
        else:
            self.changed += 1

    def _next(self, path: str) -> tuple[Path, Path]:
        """Where this file was, and where it is to be."""
        self._names.add(_hash(path))
        file = self._new / path
        if file.parent != self._made:  # half of all files share a folder with the one before
            file.parent.mkdir(parents=True, exist_ok=True)
            self._made = file.parent
        return self._place / path, file

    def finish(self) -> None:
        """The list of what is ours, and everything on the disk for good."""
        (self._new / LIST).write_text("".join(f"{name.hex()}\n" for name in sorted(self._names)))
        self.gone = len(_listed(self._place) - self._names)
        os.sync()  # once for all: a file at a time takes hours at a hundred thousand


def _hash(path: str) -> bytes:
    return sha256(path.lower().encode()).digest()


def _carry(before: Path, file: Path) -> None:
    try:
        os.link(before, file)
    except OSError:  # a disk without links, as memory sticks have
        shutil.copy2(before, file)


def _listed(place: Path) -> set[bytes]:
    try:
        return {bytes.fromhex(line) for line in (place / LIST).read_text().split()}
    except (FileNotFoundError, NotADirectoryError):
        return set()


@contextmanager
def replacing(folder: Path) -> Iterator[Site]:
    """Write the folder anew; on leaving it stands in the place of the earlier one, on an exception that one stays.

    Raises Refusal for a folder that holds anything this did not write, and where there is no room.
    """
    place = folder.expanduser().absolute()
    if not place.parent.is_dir():
        raise Refusal(f"There is no folder {place.parent}. Make it, or name another.")
    if not os.access(place.parent, os.W_OK):
        raise Refusal(f"{place.parent} is closed to this account, and the folder is made there. Name another.")
    new, earlier = (place.with_name(f".{place.name}.{what}") for what in ("next", "earlier"))
    with _alone(place.parent):
        if earlier.exists() and not place.exists():
            earlier.rename(place)
        _refuse_what_is_not_ours(place)
        for left in (new, earlier):
            shutil.rmtree(left, ignore_errors=True)
        try:
            new.mkdir()
            site = Site(place, new)
            yield site
            site.finish()
        except OSError as problem:
            shutil.rmtree(new, ignore_errors=True)
            if problem.errno in FULL:
                raise Refusal("The disk is full: the folder stays as it was. Make room and try again.") from None
            raise
        except BaseException:
            shutil.rmtree(new, ignore_errors=True)
            raise
        _swap(place, new, earlier)


def _swap(place: Path, new: Path, earlier: Path) -> None:
    if place.exists():
        place.rename(earlier)
    new.rename(place)
    sync(place.parent)
    shutil.rmtree(earlier, ignore_errors=True)


@contextmanager
def _alone(parent: Path) -> Iterator[None]:
    handle = os.open(parent, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError:
        raise Refusal(f"Something is being published into {parent} already. Wait until it is done.") from None
    finally:
        os.close(handle)


def _refuse_what_is_not_ours(place: Path) -> None:
    if place.is_symlink() or (place.exists() and not place.is_dir()):
        raise Refusal(f"{place} is not a folder. Name a new one.")
    ours = _listed(place)
    for folder, _, names in os.walk(place):
        for name in names:
            path = (Path(folder) / name).relative_to(place)
            if path.name not in BESIDE and _hash(path.as_posix()) not in ours:
                raise Refusal(f"{place} holds {path}, which was not published from here. Name a new folder.")

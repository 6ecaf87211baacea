"""Files carried inside a stranger's PDF, read in a child process with limits; no script in it is ever run."""

import base64
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from ledger import child
from ledger.errors import Refusal

LARGEST_PDF, LARGEST_FILE, MOST_FILES = 50_000_000, 200_000, 100
MEMORY, SECONDS = 600_000_000, 10
DAMAGED = "This cannot be read as a PDF: it is damaged, or made to be hard to read."
STARTS = ("/OpenAction", "/AA")


def read(path: Path, names: Iterable[str]) -> dict[str, bytes]:
    """Those files of these names that a PDF carries, in `names` order.

    Raises Refusal for a file that is not there, is no PDF, is larger than a certificate could be, starts something
    by itself, or asks for more time or memory than it should.
    """
    try:
        if not path.is_file():
            raise Refusal(f"There is no file {path}.")
        if path.stat().st_size > LARGEST_PDF:
            raise Refusal(f"{path.name} is larger than {LARGEST_PDF // 1_000_000} MB, which no certificate is.")
        with path.open("rb") as begun:
            if b"%PDF-" not in begun.read(1024):
                raise Refusal(f"{path.name} is no PDF.")
    except OSError as problem:
        raise Refusal(f"{path} cannot be read: {problem.strerror}.") from problem
    told = child.ask(
        "ledger.carried",
        {"pdf": str(path.absolute()), "names": list(names)},
        memory=MEMORY,
        seconds=SECONDS,
        doing="Reading the PDF",
        instead="It is no certificate as it was issued.",
    )
    return {name: base64.b64decode(data) for name, data in told.items()}


# --- in the child ---


def _answer(asked: dict[str, Any]) -> dict[str, str]:
    import pypdf

    root = pypdf.PdfReader(asked["pdf"]).root_object
    names = _at(root, "/Names")
    if any(start in root for start in STARTS) or "/JavaScript" in names:
        raise Refusal("This PDF starts a script, or something else, by itself, as no certificate does.")
    found: dict[str, str] = {}
    for name, described in _listed(_at(names, "/EmbeddedFiles")):
        if name not in asked["names"]:
            continue
        if name in found:
            raise Refusal(f"This PDF carries more than one file named {name}.")
        data = _at(described, "/EF")["/F"].get_object().get_data()
        if len(data) > LARGEST_FILE:
            raise Refusal(f"{name} in this PDF is larger than any that belongs to a certificate.")
        found[name] = base64.b64encode(data).decode()
    return found


def _at(holder: Any, name: str) -> Any:
    return holder[name].get_object() if name in holder else {}


def _listed(tree: Any) -> Iterator[tuple[str, Any]]:
    """Name and description of every file in a tree of names. Raises Refusal for more than a certificate has."""
    branches, looked = [tree], 0
    while branches:
        branch = branches.pop()
        told = list(_at(branch, "/Names"))
        looked += 1 + len(told) // 2
        if looked > MOST_FILES:
            raise Refusal(f"This PDF carries more than {MOST_FILES} files; a certificate carries four.")
        yield from ((str(told[at]), told[at + 1].get_object()) for at in range(0, len(told) - 1, 2))
        branches += [kid.get_object() for kid in list(_at(branch, "/Kids"))[: MOST_FILES + 1]]


if __name__ == "__main__":
    child.answer(_answer, failed=DAMAGED, too_large=DAMAGED)

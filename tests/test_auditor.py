"""The one-file auditor, run as a stranger would run it, and every way of cheating it is there to find.

Ottoline keeps the record. Silas Grimble, who must not get in, has the host on which it is published; in the worst
of it he has her keys as well. What no record can show is said not to be checked, and never to match.
"""

import ast
import base64
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine

from ledger import audit, certificates, conditions, evidence, pieces, publish
from ledger.conditions import ReplaceDraft
from ledger.database import reading
from ledger.paper.standing import Standing
from ledger.paths import PACKAGE
from ledger.reckoning import codes, merkle
from ledger.reckoning.canonical import canonical
from ledger.reckoning.notes import Checkpoint, NoteKey
from ledger.signing import Keys, new_keys, sign_note
from ledger.web.static_pages import StaticPages
from tests.cast import KEYS, MAY_4, acting, certified, made, road

AUDITOR = PACKAGE / "auditor.py"
NOBODY = {"PATH": "/nowhere"}
Entry = dict[str, Any]


def ask(folder: Path, *words: str, env: dict[str, str] | None = None, place: str = "") -> tuple[int, list[str]]:
    """Exit status and lines of the auditor, alone in the folder, without any package or setting of ours."""
    command = [sys.executable, "-I", "-S", str(folder / "audit.py"), place or str(folder), *words]
    done = subprocess.run(command, capture_output=True, text=True, env=env, cwd="/")
    assert not done.stderr, done.stderr
    return done.returncode, done.stdout.splitlines()


class Folder:
    """A published folder and what a certificate printed then says of the record."""

    def __init__(self, place: Path, code: str, head: str) -> None:
        self.place, self.code, self.head = place, code, head
        self.printed = ("--head", head, "--fingerprint", KEYS.public.fingerprint)

    @property
    def entries(self) -> list[Entry]:
        return [json.loads(line) for line in self.file.read_bytes().splitlines()]

    @property
    def file(self) -> Path:
        return self.place / "journal" / "entries.jsonl"

    def write(self, entries: list[Entry]) -> None:
        self.file.write_bytes(b"".join(canonical(each) + b"\n" for each in entries))

    def sign(self, keys: Keys = KEYS) -> None:
        """Sign whatever the file holds now, as whoever has the keys can."""
        leaves = [merkle.leaf_hash(line) for line in self.file.read_bytes().splitlines()]
        text = Checkpoint(keys.origin, len(leaves), merkle.root(leaves)).text
        (self.place / "journal" / "checkpoint").write_text(sign_note(text, keys.origin, keys.journal))

    def at(self, kind: str, **said: Any) -> int:
        """The place of the first such entry."""
        return next(each["seq"] for each in self.entries if each["kind"] == kind and said.items() <= each.items())


def head_in_print(engine: Engine, certificate_id: int) -> str:
    with reading(engine) as session:
        proof = evidence.of(session, certificate_id)
    assert proof is not None
    return Standing(proof.proof.index, proof.head.size, proof.head.root, "").root_in_words


def put_out(engine: Engine, place: Path) -> None:
    publish.publish(engine, place.parent, place, StaticPages, MAY_4, lambda _: None)


@pytest.fixture
def folder(sqlite_engine: Engine, tmp_path: Path) -> Folder:
    """Three prints given, all certified, one destroyed and printed again; a head kept from the second certificate."""
    road(sqlite_engine)
    first, second, third = made(sqlite_engine, 1, 2, 3)
    code = certified(sqlite_engine, first).code
    head = head_in_print(sqlite_engine, certified(sqlite_engine, second).id)
    with acting(sqlite_engine) as book:
        certificates.issue(book, third)
        conditions.destroy(book, third, "torn before a witness")
        again = conditions.replace(book, third, ReplaceDraft())
        certificates.issue(book, again.id or 0)
    put_out(sqlite_engine, tmp_path / "public")
    return Folder(tmp_path / "public", code, head)


def test_an_honest_record_matches_and_is_counted_as_the_book_counts_it(folder: Folder, sqlite_engine: Engine) -> None:
    status, said = ask(folder.place, "--code", codes.grouped(folder.code).lower(), *folder.printed)
    assert status == 0, said
    assert said[-1] == "As a whole: matches."
    with reading(sqlite_engine) as session:
        assert audit.audit(session) == []
        made_now = pieces.standings(session, pieces.find_class(session, 1, "numbered").id or 0)["in hand"]
    counted = next(line for line in said if "declared, " in line)
    assert f"25 numbers declared, {made_now} given; 4 proofs declared, 0 given; 1 destroyed" in counted
    assert "4 certificates issued, 1 of them void" in counted


def test_it_needs_nothing_of_ours_and_nothing_but_the_standard_library() -> None:
    tree = ast.parse(AUDITOR.read_text(encoding="utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in names} - set(sys.stdlib_module_names) == {"cryptography"}


def test_without_a_tool_for_signatures_it_says_that_it_could_not_try_them(folder: Folder) -> None:
    status, said = ask(folder.place, *folder.printed, env=NOBODY)
    assert status == 2
    assert any(line.startswith("could not be checked: signatures") for line in said)


def with_the_package(folder: Folder) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(folder.place / "audit.py"), str(folder.place), *folder.printed]
    return subprocess.run(command, capture_output=True, text=True, env=NOBODY)


def test_with_the_package_it_tries_signatures_too(folder: Folder) -> None:
    done = with_the_package(folder)
    assert (done.returncode, done.stderr) == (0, "")
    if shutil.which("openssl") is None:
        return
    assert done.stdout.splitlines() == ask(folder.place, *folder.printed)[1]


def test_the_copied_auditor_is_the_one_the_house_tests(folder: Folder) -> None:
    assert (folder.place / "audit.py").read_bytes() == AUDITOR.read_bytes()


@pytest.mark.parametrize("written", [
    lambda folder: (folder.head.upper(), KEYS.public.fingerprint.lower()),
    lambda folder: (folder.head.replace(" ", "")[:16], KEYS.public.fingerprint[:19]),  # a certificate of one side
    lambda folder: (f"{folder.at('certificate.issued', number=2) + 1}: {folder.head}", KEYS.public.fingerprint),
])  # fmt: skip
def test_head_and_fingerprint_are_taken_as_any_certificate_has_them(
    folder: Folder, written: Callable[[Folder], tuple[str, str]]
) -> None:
    head, fingerprint = written(folder)
    assert ask(folder.place, "--head", head, "--fingerprint", fingerprint)[0] == 0


@pytest.mark.parametrize(("option", "typed"), [
    ("--head", "498ab990"), ("--head", "not a head"), ("--head", "0:" + "ab" * 32), ("--fingerprint", "MQ3Z"),
])  # fmt: skip
def test_what_is_no_head_or_fingerprint_could_not_be_compared(folder: Folder, option: str, typed: str) -> None:
    status, said = ask(folder.place, *folder.printed, option, typed)
    assert status == 2
    assert any(line.startswith(f"could not be checked: “{typed}” is no ") for line in said)


def test_a_signature_that_does_not_hold_is_found_by_the_package_and_by_the_command(folder: Folder) -> None:
    folder.sign(new_keys(bytes(32), bytes(range(32, 64))))  # under the record's name, with another key
    note = folder.place / "journal" / "checkpoint"
    lines = note.read_text().splitlines()
    forged = base64.b64decode(lines[-1].split(" ")[2])[4:]
    lines[-1] = f"— {KEYS.origin} {base64.b64encode(KEYS.note_key.id + forged).decode()}"
    note.write_text("\n".join(lines) + "\n")
    said = "does not match: the head is not signed with the key in journal/keys.txt."
    assert said in with_the_package(folder).stdout.splitlines()
    if shutil.which("openssl"):
        assert said in ask(folder.place)[1]


# --- cheats, by what is done; each is a function of the folder ---


def one_of_25_too_many(folder: Folder) -> str:
    entries = folder.entries
    given = entries[folder.at("piece.inscribed", number=1)]
    folder.write([*entries, given | {"seq": len(entries), "number": 26, "inscription": "26/25"}])
    return "numbered 26 of edition 1: only 25 were declared"


def one_number_twice(folder: Folder) -> str:
    entries = folder.entries
    folder.write([*entries, entries[folder.at("piece.inscribed", number=2)] | {"seq": len(entries)}])
    return "numbered 2 of edition 1 is given a second time"


def two_certificates_for_one_print(folder: Folder) -> str:
    entries = folder.entries
    issued = entries[folder.at("certificate.issued", number=2)]
    folder.write([*entries, issued | {"seq": len(entries), "code_sha256": "ab" * 32}])
    return "a second certificate for numbered 2 of edition 1 while its first one stands"


def an_edition_declared_again(folder: Folder) -> str:
    entries = folder.entries
    again = entries[folder.at("edition.declared")] | {"seq": len(entries)}
    again["classes"] = [each | {"count": 50} for each in again["classes"]]
    folder.write([*entries, again])
    return "edition 1 is declared a second time"


def another_edition_after_all(folder: Folder) -> str:
    entries = folder.entries
    other = entries[folder.at("edition.declared")] | {"seq": len(entries), "edition": 2, "declared_on": "2027-01-01"}
    folder.write([*entries, other])
    return "edition 2 is declared though edition 1 ruled out later ones"


def a_destroyed_print_certified(folder: Folder) -> str:
    entries = folder.entries
    gone = entries[folder.at("piece.destroyed")] | {"seq": len(entries), "number": 2}
    void = entries[folder.at("certificate.void")] | {"seq": len(entries) + 1}
    issued = entries[folder.at("certificate.issued", number=2)]
    void["code_sha256"] = issued["code_sha256"]
    again = issued | {"seq": len(entries) + 2, "code_sha256": "ab" * 32}
    folder.write([*entries, gone, void, again])
    return "a certificate for numbered 2 of edition 1, which is not a print that was given and stands"


def dated_back(folder: Folder) -> str:
    entries = folder.entries
    entries[-1]["at"] = "2020-01-01T12:00:00Z"
    folder.write(entries)
    return "is dated before the one ahead of it"


@pytest.mark.parametrize("cheat", [
    one_of_25_too_many, one_number_twice, two_certificates_for_one_print, an_edition_declared_again,
    another_edition_after_all, a_destroyed_print_certified, dated_back,
])  # fmt: skip
def test_a_broken_rule_is_found_even_where_the_maker_signed_it(folder: Folder, cheat: Callable[[Folder], str]) -> None:
    sentence = cheat(folder)
    folder.sign()
    status, said = ask(folder.place)
    assert status == 1
    assert any(line.startswith("does not match") and sentence in line for line in said), said


def enlarged(folder: Folder) -> None:
    entries = folder.entries
    classes = entries[folder.at("edition.declared")]["classes"]
    classes[0]["count"] = 50
    folder.write(entries)


def a_later_start(folder: Folder) -> None:
    entries = folder.entries
    entries[0]["maker"] = "Silas Grimble"
    folder.write(entries)


@pytest.mark.parametrize("change", [enlarged, a_later_start])
def test_a_rewritten_past_is_found_by_an_old_head_and_never_matches_without(
    folder: Folder, change: Callable[[Folder], None]
) -> None:
    """The one thing that cannot be detected from the folder alone."""
    change(folder)
    assert ask(folder.place)[0] == 1  # nobody signed that
    folder.sign()
    status, said = ask(folder.place, "--fingerprint", KEYS.public.fingerprint)
    assert (status, said[-1]) == (2, "As a whole: could not be checked.")
    assert any(line.startswith("could not be checked: whether history was written anew") for line in said)
    status, said = ask(folder.place, *folder.printed)
    assert status == 1
    assert any("history was changed" in line for line in said)


def test_two_faces_of_one_record_do_not_fit_one_head(folder: Folder, tmp_path: Path) -> None:
    """Another certificate of the same studio gives another head."""
    other = Folder(tmp_path / "other", folder.code, "")
    shutil.copytree(folder.place, other.place)
    entries = other.entries
    entries[folder.at("piece.inscribed", number=2)]["number"] = 20
    other.write(entries[: folder.at("certificate.issued", number=2) + 1])
    other.sign()
    status, said = ask(other.place, *folder.printed)
    assert status == 1
    assert any("history was changed" in line for line in said)


def test_a_tail_cut_off_is_found_by_whoever_holds_a_newer_head(folder: Folder) -> None:
    """Without one, the record says only as of which entry it is."""
    whole = folder.file.read_bytes().splitlines()
    newest = merkle.root(merkle.leaf_hash(line) for line in whole).hex()
    folder.write(folder.entries[:-4])
    assert ask(folder.place)[0] == 1  # shorter than its own signed head
    folder.sign()
    for head, words in (
        (newest, "or its end cut off"),
        (f"{len(whole)}:{newest}", f"of {len(whole)} entries, and only"),
    ):
        status, said = ask(folder.place, "--head", head)
        assert status == 1
        assert any(words in line for line in said)
    assert ask(folder.place)[0] == 2


def test_an_invented_code_is_not_in_the_record(folder: Folder) -> None:
    status, said = ask(folder.place, "--code", codes.new_code(lambda top: 7 % top), *folder.printed)
    assert status == 1
    assert any("treat the certificate as not genuine" in line for line in said)


def test_a_code_that_stands_for_nothing_any_more_does_not_match(folder: Folder, sqlite_engine: Engine) -> None:
    with acting(sqlite_engine) as book:
        found = certificates.by_code(book.session, folder.code)
        assert found is not None
        certificates.void(book, found.id, "the name was wrong")
    put_out(sqlite_engine, folder.place)
    status, said = ask(folder.place, "--code", folder.code, *folder.printed)
    assert status == 1
    assert any("that certificate is void and stands for nothing now" in line for line in said)


def test_a_record_signed_with_a_strangers_own_keys_proves_nothing(folder: Folder) -> None:
    """It holds together, so only the printed fingerprint tells."""
    his = new_keys(bytes(range(64, 96)), bytes(range(96, 128)))
    entries = folder.entries
    named = {"issuer": his.public.issuer, "journal": his.public.journal, "fingerprint": his.public.fingerprint}
    entries[folder.at("key.added")] |= named
    folder.write(entries)
    folder.sign(his)
    keys = f"issuer {his.public.issuer}\njournal {his.public.journal}\n"
    (folder.place / "journal" / "keys.txt").write_text(keys)
    assert ask(folder.place)[0] == 2
    status, said = ask(folder.place, "--fingerprint", KEYS.public.fingerprint)
    assert status == 1
    assert any("by itself this record proves nothing" in line for line in said)


def test_a_copied_certificate_matches_and_is_told_what_that_does_not_prove(folder: Folder) -> None:
    _, said = ask(folder.place, "--code", folder.code, *folder.printed)
    assert any("does not prove that the sheet in front of you is that print" in line for line in said)
    assert any("cannot show prints that were never recorded" in line for line in said)


@pytest.mark.parametrize("place", [0, 3, -2])
def test_any_entry_edited_on_the_host_is_found(folder: Folder, place: int) -> None:
    """One byte of an entry changed so that it is still well formed; only the last was never signed yet."""
    lines = folder.file.read_bytes().splitlines()
    lines[place] = lines[place].replace(b"2026-05-04T12", b"2026-05-04T13")
    folder.file.write_bytes(b"".join(line + b"\n" for line in lines))
    status, said = ask(folder.place, *folder.printed)
    assert status == 1
    assert any("are not those that were signed" in line for line in said)


@pytest.mark.parametrize("spoil", [
    lambda line: line.replace(b",", b", ", 1),
    lambda line: line.replace(b"{", b'{"at":"2026-05-04T12:00:00Z",', 1),
    lambda line: line.replace(b'"seq":', b'"seq":1.0,"x":', 1),
    lambda line: b"null",
    lambda line: b"",
])  # fmt: skip
def test_an_entry_written_in_another_way_is_named(folder: Folder, spoil: Callable[[bytes], bytes]) -> None:
    lines = folder.file.read_bytes().splitlines()
    lines[3] = spoil(lines[3])
    folder.file.write_bytes(b"".join(line + b"\n" for line in lines))
    folder.sign()
    status, said = ask(folder.place)
    assert status == 1
    assert any(line.startswith("does not match: entry 3 ") for line in said)


def test_keys_exchanged_beside_the_record_are_found(folder: Folder) -> None:
    other = NoteKey(KEYS.origin, new_keys(bytes(32), bytes(range(32))).journal.public)
    keys = folder.place / "journal" / "keys.txt"
    keys.write_text(f"issuer {KEYS.public.issuer}\njournal {other.line}\n")
    status, said = ask(folder.place)
    assert status == 1
    assert "does not match: journal/keys.txt names other keys than the record does." in said


def test_the_folder_alone_is_enough_when_the_site_is_gone(folder: Folder, tmp_path: Path) -> None:
    """A copy on a stick, with the journal's three files and the auditor."""
    stick = tmp_path / "stick"
    shutil.copytree(folder.place / "journal", stick / "journal")
    shutil.copy(folder.place / "audit.py", stick)
    assert ask(stick, "--code", folder.code, *folder.printed)[0] == 0


@pytest.mark.parametrize("name", ["entries.jsonl", "keys.txt"])
def test_a_record_that_cannot_be_read_could_not_be_checked(folder: Folder, name: str) -> None:
    (folder.place / "journal" / name).unlink()
    status, said = ask(folder.place)
    assert status == 2
    assert said[0].startswith("could not be checked: the record cannot be read")


def test_an_entry_of_a_later_kind_could_not_be_checked(folder: Folder) -> None:
    entries = folder.entries
    folder.write([*entries, {"seq": len(entries), "kind": "key.retired", "at": entries[-1]["at"]}])
    folder.sign()
    status, said = ask(folder.place, *folder.printed)
    assert status == 2
    assert any("entries of kind key.retired" in line for line in said)

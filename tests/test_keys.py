"""The signing keys: made once in a file of their own, named in the record, held while the ledger is open.

The cast: Ines, who keeps the book. Gabel Stroud, who must not get in, has her folder in his hands, and no passphrase.
"""

import json
import os
import shutil
import unicodedata
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from ledger import chance, home, journal, keyfile, keys
from ledger.audit import audit
from ledger.backups import back_up, restore
from ledger.database import reading
from ledger.errors import Refusal
from ledger.home import opened
from ledger.keyfile import Cost
from ledger.signing import Keys, signed_by
from tests import cast
from tests.cast import KEYS, acting, refused

PASSPHRASE = "grünes Fenster, zwölf Nägel"
QUICK = Cost(memory_kib=8, passes=1, lanes=1)  # a real key file costs a tenth of a second, and that many tests a minute
FIRST = bytes(range(32))


def made(folder: Path, passphrase: str = PASSPHRASE, ledger: bytes = FIRST) -> Keys:
    return keyfile.make(folder, passphrase, ledger, QUICK)


def written(folder: Path) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(keyfile.place_of(folder).read_text())
    return said


def rewritten(folder: Path, said: dict[str, Any]) -> None:
    keyfile.place_of(folder).write_text(json.dumps(said, indent=2) + "\n")


# --- the file ---


def test_the_keys_come_out_as_they_were_put_in(tmp_path: Path) -> None:
    new = made(tmp_path)
    found, again = keyfile.unlock(tmp_path, PASSPHRASE)
    assert (found.ledger, again.public, found.public) == (FIRST, new.public, new.public)
    for mine, hers in ((again.journal, new.journal), (again.certificate, new.certificate)):
        assert signed_by(hers.public, mine.sign(b"said"), b"said")
    assert again.journal.public != again.certificate.public


def test_the_file_is_for_its_owner_alone_and_no_seed_stands_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given_out: list[bytes] = []
    salt = chance.salt
    monkeypatch.setattr(chance, "salt", lambda: given_out.append(salt()) or given_out[-1])
    made(tmp_path)
    place = keyfile.place_of(tmp_path)
    assert place.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["signing-keys.json"]
    text, (journal_seed, certificate_seed) = place.read_text(), given_out[:2]
    assert journal_seed.hex() not in text and certificate_seed.hex() not in text


def test_a_wide_open_mask_does_not_open_the_file(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        made(tmp_path)
    finally:
        os.umask(before)
    assert keyfile.place_of(tmp_path).stat().st_mode & 0o777 == 0o600


def test_a_file_that_others_may_read_is_not_used(tmp_path: Path) -> None:
    made(tmp_path)
    keyfile.place_of(tmp_path).chmod(0o640)
    with refused("can be read by others .* chmod 600"):
        keyfile.unlock(tmp_path, PASSPHRASE)


def test_a_key_file_is_never_written_over(tmp_path: Path) -> None:
    made(tmp_path)
    before = keyfile.place_of(tmp_path).read_bytes()
    with refused("never written over"):
        made(tmp_path, "another passphrase")
    assert keyfile.place_of(tmp_path).read_bytes() == before


@pytest.mark.parametrize("wrong", ["grunes Fenster, zwolf Nagel", PASSPHRASE + " ", PASSPHRASE.upper()])
def test_another_passphrase_opens_nothing(tmp_path: Path, wrong: str) -> None:
    made(tmp_path)
    with refused("passphrase does not open"):
        keyfile.unlock(tmp_path, wrong)


def test_without_a_passphrase_it_is_said_where_to_put_one(tmp_path: Path) -> None:
    made(tmp_path)
    with refused("PRINT_LEDGER_KEY_PASSPHRASE_FILE"):
        keyfile.unlock(tmp_path, "")


def test_an_accent_typed_in_two_strokes_is_the_same_passphrase(tmp_path: Path) -> None:
    made(tmp_path)
    keyfile.unlock(tmp_path, unicodedata.normalize("NFD", PASSPHRASE))


@pytest.mark.parametrize("short", ["", "short", "elf letters"])
def test_a_short_passphrase_is_not_taken_and_no_file_is_left(tmp_path: Path, short: str) -> None:
    with refused("12 characters or more"):
        made(tmp_path, short)
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_not_there_is_asked_for(tmp_path: Path) -> None:
    with refused("is not there, and no backup holds it"):
        keyfile.unlock(tmp_path, PASSPHRASE)


@pytest.mark.parametrize("said", ["", "{}", "[1]", "null", '"' + 20_000 * "a", 9_000 * "[", "\x00"])
def test_a_file_that_is_no_key_file_is_said_to_be_none(tmp_path: Path, said: str) -> None:
    place = keyfile.place_of(tmp_path)
    place.touch(mode=0o600)
    place.write_text(said)
    with refused("no key file"):
        keyfile.read(tmp_path)


def test_nothing_in_the_file_can_be_exchanged(tmp_path: Path) -> None:
    """The open part is bound to the sealed one: Gabel Stroud puts in the names of keys of his own."""
    made(tmp_path)
    said = written(tmp_path)
    (tmp_path / "his").mkdir()
    his = keyfile.make(tmp_path / "his", "his own passphrase", FIRST, QUICK).public
    changes: list[dict[str, Any]] = [
        {"issuer": his.issuer},
        {"journal": his.journal},
        {"ledger": "ff" * 32},
        {"argon2id": {**said["argon2id"], "salt": "00" * 32}},
        {"argon2id": {**said["argon2id"], "passes": 2}},
        {"chacha20_poly1305": {**said["chacha20_poly1305"], "nonce": "00" * 12}},
        {"chacha20_poly1305": written(tmp_path / "his")["chacha20_poly1305"]},
    ]
    for change in changes:
        rewritten(tmp_path, said | change)
        with refused("does not open|holds other keys"):
            keyfile.unlock(tmp_path, PASSPHRASE)
    rewritten(tmp_path, said)
    keyfile.unlock(tmp_path, PASSPHRASE)


@pytest.mark.parametrize(
    ("part", "change"),
    [
        ("argon2id", {"memory_kib": 2**40}),  # would take all the memory there is
        ("argon2id", {"memory_kib": 7}),
        ("argon2id", {"memory_kib": "8"}),
        ("argon2id", {"memory_kib": 8.0}),
        ("argon2id", {"passes": 10**9}),
        ("argon2id", {"passes": 0}),
        ("argon2id", {"lanes": 0}),
        ("argon2id", {"lanes": -1}),
        ("argon2id", {"salt": ""}),
        ("argon2id", {"salt": "zz"}),
        ("argon2id", {"more": 1}),
        ("chacha20_poly1305", {"nonce": "00"}),
        ("chacha20_poly1305", {"sealed": "00" * 79}),
        ("chacha20_poly1305", {"sealed": None}),
    ],
)
def test_a_file_with_a_figure_that_cannot_be_is_no_key_file(tmp_path: Path, part: str, change: dict[str, Any]) -> None:
    made(tmp_path)
    said = written(tmp_path)
    rewritten(tmp_path, said | {part: said[part] | change})
    with refused("no key file"):
        keyfile.unlock(tmp_path, PASSPHRASE)


@given(st.data())
@settings(max_examples=50)
def test_a_file_with_any_bit_changed_opens_nothing(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("bits")
    made(folder)
    place = keyfile.place_of(folder)
    text = bytearray(place.read_bytes())
    text[data.draw(st.integers(0, len(text) - 1))] ^= 1 << data.draw(st.integers(0, 7))
    place.write_bytes(text)
    with pytest.raises(Refusal):
        keyfile.unlock(folder, PASSPHRASE)


def test_a_key_file_as_it_comes_costs_what_the_standard_recommends(tmp_path: Path) -> None:
    """RFC 9106, section 4: t=3, p=4, m=2^16 KiB, where a machine has less memory than 2 GiB to spare."""
    keyfile.make(tmp_path, PASSPHRASE, FIRST)
    assert written(tmp_path)["argon2id"] | {"salt": ""} == {"memory_kib": 65536, "passes": 3, "lanes": 4, "salt": ""}
    keyfile.unlock(tmp_path, PASSPHRASE)


# --- the book ---


@pytest.fixture
def ines(tmp_path: Path, empty_ledger: Path) -> Iterator[home.Home]:
    """Ines's ledger: opened and one picture written down, no keys yet."""
    (tmp_path / "prints").mkdir()
    shutil.copyfile(empty_ledger, tmp_path / "prints" / home.LEDGER)
    with opened(tmp_path / "prints") as ledger:
        with acting(ledger.engine) as book:
            cast.studio.open_studio(book, cast.STUDIO)
            cast.works.add(book, cast.ROAD)
        yield ledger


def make(ledger: home.Home, passphrase: str = PASSPHRASE) -> Keys:
    return keys.make(ledger.engine, ledger.folder, passphrase, "Ines", cost=QUICK)


def last_entry(engine: Engine) -> journal.Entry:
    with reading(engine) as session:
        return journal.entries(session, 2)[1]


def test_making_keys_is_an_entry_anybody_may_read(ines: home.Home) -> None:
    public = make(ines).public
    said = last_entry(ines.engine)
    assert said.kind == "key.added"
    assert said.fields["issuer"] == public.issuer
    assert said.fields["journal"] == public.journal
    assert said.fields["fingerprint"] == public.fingerprint
    with reading(ines.engine) as session:
        found = keys.in_force(session)
        assert found is not None
        assert (keys.public_of(found), found.entry_seq) == (public, said.seq)
        assert audit(session) == []
    assert keys.unlock(ines.engine, ines.folder, PASSPHRASE).public == public


def test_a_ledger_has_its_keys_once(ines: home.Home) -> None:
    public = make(ines).public
    with refused(f"has its signing keys already .{public.fingerprint}"):
        make(ines)
    keyfile.place_of(ines.folder).unlink()
    with refused("has its signing keys already"):
        make(ines)
    with refused("has its signing keys already"), acting(ines.engine) as book:
        keys.add(book, KEYS.public)
    assert list(ines.folder.glob("*.json")) == []


def test_keys_are_made_for_a_book_that_is_open(tmp_path: Path) -> None:
    with opened(tmp_path / "prints") as ledger, refused("not open yet"):
        make(ledger)
    assert not keyfile.place_of(tmp_path / "prints").exists()


def test_making_that_was_cut_off_before_the_entry_is_taken_up_again(
    ines: home.Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_off(*_: Any) -> None:
        raise OSError("the power went")

    monkeypatch.setattr(keys, "add", cut_off)
    with pytest.raises(OSError):
        make(ines)
    monkeypatch.undo()
    left = keyfile.read(ines.folder).public
    with refused("does not open"):
        make(ines, "not that passphrase")
    assert make(ines).public == left


def test_the_keys_of_another_ledger_are_not_taken_for_its_own(ines: home.Home, tmp_path: Path) -> None:
    with opened(tmp_path / "other") as other:
        with acting(other.engine) as book:
            cast.studio.open_studio(book, cast.STUDIO.model_copy(update={"maker_name": "Gabel Stroud"}))
        make(other)
        shutil.copy2(keyfile.place_of(other.folder), keyfile.place_of(ines.folder))
    with refused("keys of another ledger"):
        make(ines)  # no keys named yet: the file is not adopted
    keyfile.place_of(ines.folder).unlink()
    make(ines)
    shutil.copy2(keyfile.place_of(tmp_path / "other"), keyfile.place_of(ines.folder))
    with refused("keys of another ledger"):
        keys.unlock(ines.engine, ines.folder, PASSPHRASE)


def test_other_keys_made_for_the_same_ledger_are_not_those_the_record_names(ines: home.Home) -> None:
    make(ines)
    keyfile.place_of(ines.folder).unlink()
    with reading(ines.engine) as session:
        first = journal.root(session, 1)
    made(ines.folder, ledger=first)
    with refused("other keys than the record names"):
        keys.unlock(ines.engine, ines.folder, PASSPHRASE)


# --- held ---


def test_keys_are_ready_when_they_were_taken_up_and_say_why_where_not(ines: home.Home) -> None:
    def why() -> str:
        with reading(ines.engine) as session, pytest.raises(Refusal) as said:
            keys.ready(session)
        return said.value.message

    assert "print-ledger keys make" in why()
    assert keys.take_up(ines.engine, ines.folder, PASSPHRASE) == why() == keys.NONE_YET
    public = make(ines).public
    assert keys.take_up(ines.engine, ines.folder, "") == why()
    assert "locked" in why()
    assert keys.take_up(ines.engine, ines.folder, "not that passphrase") == why()
    assert "does not open" in why()
    assert keys.take_up(ines.engine, ines.folder, PASSPHRASE) == ""
    with reading(ines.engine) as session:
        assert keys.ready(session).public == public
    with acting(ines.engine) as book:
        assert keys.ready(book.session).public == public
        cast.works.correct(book, 1, "medium", "Photographs", "a slip")


# --- backups ---


def test_no_backup_holds_the_key_file(ines: home.Home, tmp_path: Path) -> None:
    make(ines)
    back_up(ines.engine, ines.folder, tmp_path / "backup.zip")
    with zipfile.ZipFile(tmp_path / "backup.zip") as packed:
        assert packed.namelist() == [home.LEDGER]
    sealed = keyfile.read(ines.folder).sealed
    assert sealed not in (tmp_path / "backup.zip").read_bytes()


def test_a_restored_ledger_asks_for_its_key_file_and_signs_again_once_it_is_there(
    ines: home.Home, tmp_path: Path
) -> None:
    public = make(ines).public
    back_up(ines.engine, ines.folder, tmp_path / "backup.zip")
    restore(tmp_path / "backup.zip", tmp_path / "elsewhere")
    with opened(tmp_path / "elsewhere") as other:
        assert "is not there, and no backup holds it" in keys.take_up(other.engine, other.folder, PASSPHRASE)
        shutil.copy2(keyfile.place_of(ines.folder), keyfile.place_of(other.folder))
        assert keys.take_up(other.engine, other.folder, PASSPHRASE) == ""
        with reading(other.engine) as session:
            assert keys.ready(session).public == public


def test_a_backup_with_a_key_file_planted_in_it_is_refused(ines: home.Home, tmp_path: Path) -> None:
    back_up(ines.engine, ines.folder, tmp_path / "backup.zip")
    with zipfile.ZipFile(tmp_path / "backup.zip", "a") as packed:
        packed.writestr("signing-keys.json", "{}")
    with refused("no part of a ledger"):
        restore(tmp_path / "backup.zip", tmp_path / "elsewhere")


def test_a_folder_beside_a_postgresql_record_may_hold_the_key_file(tmp_path: Path) -> None:
    made(tmp_path)
    assert home._ready(tmp_path) == tmp_path

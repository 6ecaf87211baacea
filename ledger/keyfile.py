"""The one file that can sign: two seeds under a passphrase, beside the ledger and never in a backup of it."""

import json
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from argon2.low_level import Type, hash_secret_raw
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

from ledger import chance, home
from ledger.errors import Refusal
from ledger.reckoning.canonical import canonical
from ledger.reckoning.identity import PublicKeys, public_of
from ledger.reckoning.notes import read_key
from ledger.signing import SEED_BYTES, Keys, Signer, new_keys

WHAT = "signing keys of a print ledger"
LARGEST_FILE = 10_000
LEAST_LETTERS = 12
HOW_TO_SET = "set PRINT_LEDGER_KEY_PASSPHRASE_FILE to a file that holds it, or PRINT_LEDGER_KEY_PASSPHRASE to it"


@dataclass(frozen=True)
class Cost:
    """What trying one passphrase costs (RFC 9106): memory in KiB, passes over it, lanes."""

    memory_kib: int
    passes: int
    lanes: int


COST = Cost(memory_kib=65_536, passes=3, lanes=4)  # RFC 9106, section 4, the second of its two recommendations
MOST = Cost(memory_kib=1_048_576, passes=32, lanes=16)
"""More than this is asked for by nobody but a file that was tampered with."""


@dataclass(frozen=True)
class KeyFile:
    """A key file as it is written: what anybody may read in it, and the seeds, sealed.

    `ledger` is the hash of the first entry of the record these keys were made for.
    """

    public: PublicKeys
    ledger: bytes
    cost: Cost
    salt: bytes
    nonce: bytes
    sealed: bytes

    def _open_part(self) -> dict[str, Any]:
        return {
            "what": WHAT,
            "version": 1,
            "ledger": self.ledger.hex(),
            "issuer": self.public.issuer,
            "journal": self.public.journal,
            "argon2id": {
                "memory_kib": self.cost.memory_kib,
                "passes": self.cost.passes,
                "lanes": self.cost.lanes,
                "salt": self.salt.hex(),
            },
        }

    @property
    def text(self) -> str:
        sealed = {"nonce": self.nonce.hex(), "sealed": self.sealed.hex()}
        return json.dumps({**self._open_part(), "chacha20_poly1305": sealed}, indent=2) + "\n"

    @property
    def bound(self) -> bytes:
        """What the seal also covers, so that nothing in the file can be exchanged."""
        return canonical(self._open_part())


def place_of(folder: Path) -> Path:
    """Where the key file of the ledger in this folder lies, whether or not it is there."""
    return folder / home.KEY_FILE


def make(folder: Path, passphrase: str, ledger: bytes, cost: Cost = COST) -> Keys:
    """Make two keys and keep them in this folder, durable on return.

    Raises Refusal for a passphrase too short to keep anything, and where there is a key file already: it is never
    written over.
    """
    place = place_of(folder)
    if place.exists():
        raise Refusal(f"{place} is there already, and a key file is never written over.")
    if len(_settled(passphrase)) < LEAST_LETTERS:
        raise Refusal(f"Choose a passphrase of {LEAST_LETTERS} characters or more: {HOW_TO_SET}.")
    seeds = chance.salt(), chance.salt()
    keys = new_keys(*seeds)
    blank = KeyFile(keys.public, ledger, cost, chance.salt(), chance.salt()[:12], b"")
    sealed = _cipher(passphrase, blank).encrypt(blank.nonce, b"".join(seeds), blank.bound)
    home.keep_private(place, KeyFile(blank.public, ledger, cost, blank.salt, blank.nonce, sealed).text.encode())
    return keys


def read(folder: Path) -> KeyFile:
    """The key file in this folder; what in it is secret stays sealed.

    Raises Refusal where there is none, others may read it, or it is no key file.
    """
    place = place_of(folder)
    try:
        mode, size = place.stat().st_mode, place.stat().st_size
        text = place.read_text(encoding="utf-8") if size <= LARGEST_FILE else ""
    except FileNotFoundError:
        raise Refusal(f"{place} is not there, and no backup holds it. Put your copy of it back.") from None
    except (OSError, UnicodeDecodeError) as cause:
        raise Refusal(f"{place} cannot be read as a key file.") from cause
    if mode & 0o077:
        raise Refusal(f"{place} can be read by others on this machine. Close it to them: chmod 600 {place}")
    try:
        found = _read(text)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, Refusal):
        found = None
    if found is None or found.text != text or not _possible(found):
        raise Refusal(f"{place} is no key file, or was damaged. Put your copy of it back.")
    return found


def _possible(found: KeyFile) -> bool:
    cost, lengths = found.cost, (len(found.ledger), len(found.salt), len(found.nonce), len(found.sealed))
    lanes = 1 <= cost.lanes <= MOST.lanes
    work = 1 <= cost.passes <= MOST.passes and 8 * cost.lanes <= cost.memory_kib <= MOST.memory_kib
    return lanes and work and lengths == (32, 32, 12, 2 * SEED_BYTES + 16)


def _read(text: str) -> KeyFile:
    said = json.loads(text)
    work = said["argon2id"]
    seal = said["chacha20_poly1305"]
    public = PublicKeys(said["issuer"], said["journal"])
    public_of(public.issuer)
    read_key(public.journal)
    return KeyFile(
        public,
        bytes.fromhex(said["ledger"]),
        Cost(int(work["memory_kib"]), int(work["passes"]), int(work["lanes"])),
        bytes.fromhex(work["salt"]),
        bytes.fromhex(seal["nonce"]),
        bytes.fromhex(seal["sealed"]),
    )


def unlock(folder: Path, passphrase: str) -> tuple[KeyFile, Keys]:
    """The keys in this folder's key file, able to sign, and the file itself.

    Raises Refusal as `read` does, without a passphrase, and for one that does not open the file.
    """
    found = read(folder)
    if not passphrase:
        raise Refusal(f"The keys are locked. Give their passphrase: {HOW_TO_SET}.")
    try:
        seeds = _cipher(passphrase, found).decrypt(found.nonce, found.sealed, found.bound)
    except InvalidTag:
        raise Refusal(f"The passphrase does not open {place_of(folder)}, or the file was changed.") from None
    name = read_key(found.public.journal).name
    keys = Keys(name, Signer(seeds[:SEED_BYTES]), Signer(seeds[SEED_BYTES:]))
    if keys.public != found.public:
        raise Refusal(f"{place_of(folder)} holds other keys than it says. Put your copy of it back.")
    return found, keys


def _cipher(passphrase: str, of: KeyFile) -> ChaCha20Poly1305:
    key = hash_secret_raw(
        _settled(passphrase).encode(),
        of.salt,
        time_cost=of.cost.passes,
        memory_cost=of.cost.memory_kib,
        parallelism=of.cost.lanes,
        hash_len=32,
        type=Type.ID,
    )
    return ChaCha20Poly1305(key)


def _settled(passphrase: str) -> str:
    """The passphrase as it is meant, however a keyboard puts its accents together."""
    return unicodedata.normalize("NFC", passphrase)

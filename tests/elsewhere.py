"""A certificate checked with what is not ours: PyNaCl with rfc8785, and the commands jq, sha256sum and openssl.

Nothing of the house takes part. `files` are the bytes that a certificate's PDF carries, by name.
"""

import json
import shutil
import subprocess
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import nacl.signing
import rfc8785
from nacl.exceptions import BadSignatureError

from tests.conftest import not_at_hand

TOOLS = ("bash", "jq", "sha256sum", "openssl", "xxd", "base32")
COMMANDS = r"""
set -euo pipefail
key_file() { (printf '302a300506032b6570032100' | xxd -r -p; cat) | openssl pkey -pubin -inform DER -out "$1"; }
holds() { openssl pkeyutl -verify -pubin -inkey "$1" -rawin -in "$2" -sigfile "$3" >/dev/null; }

echo 'the signed text'
xxd -r -p issuer.hex | key_file issuer.pem
xxd -r -p signature.hex > signature
jq -jcS '.proof | del(.proofValue)' credential.json | openssl dgst -sha256 -binary > signed
jq -jcS 'del(.proof)' credential.json | openssl dgst -sha256 -binary >> signed
holds issuer.pem signed signature

echo 'its hash in the entry'
[ "$(sha256sum < credential.json | cut -c1-64)" = "$(jq -r .credential_sha256 entry.json)" ]

echo 'the head, signed'
sed '1,/^$/d' proof.tlog-proof > note
sed '/^$/,$d' note > text
vkey=$(jq -r .journal keys.json)
printf %s "${vkey#*+*+}" | base64 -d | tail -c 32 | key_file journal.pem
tail -n 1 note | cut -d ' ' -f 3 | base64 -d | tail -c 64 > note.signature
holds journal.pem text note.signature

echo 'the entry under the head'  # the last one under it: everything beside is to its left
[ "$(sed -n '2s/index //p' proof.tlog-proof)" = "$(($(sed -n 2p text) - 1))" ]
(printf '\0'; cat entry.json) | openssl dgst -sha256 -binary > reached
sed '1,2d;/^$/,$d' proof.tlog-proof | while read -r beside; do
  (printf '\1'; printf %s "$beside" | base64 -d; cat reached) | openssl dgst -sha256 -binary > next
  mv next reached
done
[ "$(base64 < reached)" = "$(sed -n 3p text)" ]

echo 'the fingerprint'
sha256sum < keys.json | cut -c1-40 | xxd -r -p | base32 > fingerprint
"""


@dataclass(frozen=True)
class Told:
    """What the commands came to: whether all holds, the last step that was begun, and the keys' fingerprint."""

    holds: bool
    reached: str
    fingerprint: str


def by_libraries(files: dict[str, bytes]) -> bool:
    """The signature of the certificate's text."""
    whole = json.loads(files["credential.json"])
    proof = whole.pop("proof")
    signature = _base58(proof.pop("proofValue")[1:])
    data = sha256(rfc8785.dumps(proof)).digest() + sha256(rfc8785.dumps(whole)).digest()
    try:
        nacl.signing.VerifyKey(_key(whole)).verify(data, signature)
    except BadSignatureError:
        return False
    return True


def by_commands(files: dict[str, bytes], folder: Path) -> Told:
    """The signature, the entry, the signed head with its proof, and the fingerprint."""
    if missing := [tool for tool in TOOLS if shutil.which(tool) is None]:
        not_at_hand("tools", f"no {', '.join(missing)} on this machine")
    for name, data in files.items():
        (folder / name).write_bytes(data)
    whole = json.loads(files["credential.json"])
    (folder / "issuer.hex").write_text(_key(whole).hex())
    (folder / "signature.hex").write_text(_base58(whole["proof"]["proofValue"][1:]).hex())
    done = subprocess.run(["bash", "-c", COMMANDS], cwd=folder, capture_output=True, text=True, check=False)
    holds, reached = done.returncode == 0, done.stdout.splitlines()[-1]
    return Told(holds, reached, (folder / "fingerprint").read_text().strip() if holds else "")


def _key(whole: dict[str, dict[str, str]]) -> bytes:
    return _base58(whole["issuer"]["id"].removeprefix("did:key:z"))[2:]


def _base58(symbols: str) -> bytes:
    number = 0
    for symbol in symbols:
        number = number * 58 + "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz".index(symbol)
    zeros = len(symbols) - len(symbols.lstrip("1"))  # one signature in 256 begins with a zero byte
    return bytes(zeros) + number.to_bytes((number.bit_length() + 7) // 8)

#!/usr/bin/env python3
"""Recount a published record of editions and certificates: one file, which needs Python 3.11 and nothing else.

    python3 audit.py FOLDER-OR-ADDRESS [--code CODE] [--head SIZE:ROOT] [--fingerprint 'ABCD EFGH ...']

FOLDER-OR-ADDRESS is the published folder, or its address on the web. SIZE:ROOT and the fingerprint are printed on
certificates. Each line of the answer begins with one of three results: matches, does not match, could not be checked.
Exit status: 0 where all matches, 1 where something does not, 2 where something could not be checked.

Signatures are tried with the Python package 'cryptography' or the command 'openssl', whichever is there.
The formats: RFC 8785 for entries, RFC 9162 (section 2.1) for the tree, c2sp.org/tlog-checkpoint for the signed head.
"""

import argparse
import base64
import json
import re
import subprocess
import sys
import tempfile
import urllib.request
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any

MATCHES, DIFFERS, OPEN = "matches", "does not match", "could not be checked"
Finding = tuple[str, str]
Place = tuple[int, str, int]  # edition, class, number
KINDS = {"studio.opened", "key.added", "work.added", "work.corrected", "sealed", "certificate.printed"}
STATES = {  # what may happen to a certificate: from which states, to which
    "certificate.superseded": ({"valid", "suspended"}, "superseded"),
    "certificate.suspended": ({"valid"}, "suspended"),
    "certificate.restored": ({"suspended"}, "valid"),
    "certificate.void": ({"valid", "suspended"}, "void"),
}


# --- the tree: RFC 9162, section 2.1 ---


def leaf(data: bytes) -> bytes:
    return sha256(b"\x00" + data).digest()


def root(leaves: list[bytes]) -> bytes:
    """The hash over these leaves: pairs from the left, what is left over goes up as it is."""
    if not leaves:
        return sha256().digest()
    while len(leaves) > 1:
        pairs = [sha256(b"\x01" + a + b).digest() for a, b in zip(leaves[::2], leaves[1::2], strict=False)]
        leaves = pairs + leaves[2 * len(pairs) :]
    return leaves[0]


# --- signatures: Ed25519, RFC 8032 ---


def by_package(key: bytes, signature: bytes, data: bytes) -> bool:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, data)
    except InvalidSignature:
        return False
    return True


def by_command(key: bytes, signature: bytes, data: bytes) -> bool:
    der = bytes.fromhex("302a300506032b6570032100") + key
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder) / name for name in ("key", "signature", "data")]
        for file, content in zip(files, (der, signature, data), strict=True):
            file.write_bytes(content)
        names = [str(file) for file in files]
        command = ["openssl", "pkeyutl", "-verify", "-pubin", "-keyform", "DER", "-inkey", names[0], "-rawin"]
        return subprocess.run([*command, "-sigfile", names[1], "-in", names[2]], capture_output=True).returncode == 0


KNOWN_GOOD = (  # RFC 8032, section 7.1, test 2
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
    "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    "72",
)


def signed(key: bytes, signature: bytes, data: bytes) -> bool | None:
    """Whether the signature holds; None where nothing on this machine can tell."""
    for means in (by_package, by_command):
        try:
            if means(*map(bytes.fromhex, KNOWN_GOOD)):  # a tool that fails on this is no tool for it
                return means(key, signature, data)
        except (ImportError, OSError, ValueError):
            continue
    return None


# --- what was published ---


class Published:
    """The files of a published folder, here or on the web."""

    def __init__(self, place: str) -> None:
        self.place = place.rstrip("/")
        self.lines = self.read("entries.jsonl").split(b"\n")
        if self.lines.pop() != b"":
            raise OSError("journal/entries.jsonl breaks off in the middle of a line")
        self.keys = dict(line.split(" ", 1) for line in self.read("keys.txt").decode().splitlines() if " " in line)
        try:
            self.note = self.read("checkpoint").decode()
        except OSError:
            self.note = ""

    def read(self, name: str) -> bytes:
        if re.match(r"https?://", self.place):
            with urllib.request.urlopen(f"{self.place}/journal/{name}", timeout=60) as answer:
                content: bytes = answer.read()
                return content
        return (Path(self.place) / "journal" / name).read_bytes()


def head_of(found: Published) -> Iterator[Finding]:
    """The signed head: is it that of these entries, and did the key named beside them sign it?"""
    parts = re.fullmatch(r"((\S+)\n(\d+)\n(\S+)\n)\n((?:— \S+ \S+\n)+)", found.note)
    if not parts:
        yield (DIFFERS, "the signed head is not written as one") if found.note else (OPEN, "there is no signed head")
        return
    text, origin, size, said, signatures = parts.groups()
    count, signed_count = len(found.lines), int(size)
    if signed_count > count:
        yield DIFFERS, f"the signed head is of {size} entries, and only {count} are here: the end is missing"
    elif base64.b64encode(root([leaf(line) for line in found.lines[:signed_count]])).decode() != said:
        yield DIFFERS, f"the first {size} entries are not those that were signed: one of them was changed"
    else:
        after = f"; {count - signed_count} came later and wait for the next signature" if count > signed_count else ""
        yield MATCHES, f"the first {size} entries are those under the signed head{after}"
    yield signature_of(found, origin, text, signatures)


def signature_of(found: Published, origin: str, text: str, signatures: str) -> Finding:
    """Of several signatures under a head, the one by the key in keys.txt is tried."""
    name, _, id_and_key = found.keys.get("journal", "").partition("+")
    try:
        key = base64.b64decode(id_and_key.partition("+")[2])[1:]  # after the byte that says which kind of key it is
        mine = sha256(f"{name}\n".encode() + b"\x01" + key).digest()[:4]
        tried = [base64.b64decode(line.split(" ")[2]) for line in signatures.splitlines() if line.split(" ")[1] == name]
    except ValueError:
        return DIFFERS, "the key or a signature is not written as one"
    holds = [signed(key, each[4:], text.encode()) for each in tried if each[:4] == mine and origin == name]
    if None in holds:
        return OPEN, "signatures: install the Python package 'cryptography' or the command 'openssl', and try again"
    if holds and all(holds):
        return MATCHES, "the head is signed with the key in journal/keys.txt"
    return DIFFERS, "the head is not signed with the key in journal/keys.txt"


def fingerprint(issuer: str, journal: str) -> str:
    """32 symbols for both keys: base 32 of the first 160 bits of SHA-256."""
    said = json.dumps({"issuer": issuer, "journal": journal}, sort_keys=True, separators=(",", ":"))
    return base64.b32encode(sha256(said.encode()).digest()[:20]).decode()


def whose_key(found: Published, record: "Record", printed: str) -> Iterator[Finding]:
    """The keys beside the record are those it names, and those on a certificate."""
    here = (found.keys.get("issuer", ""), found.keys.get("journal", ""))
    if record.keys != here:
        yield DIFFERS, "journal/keys.txt names other keys than the record does"
    elif not printed:
        yield OPEN, "whose key that is: give the fingerprint printed on a certificate, with --fingerprint"
    elif fingerprint(*here) == re.sub(r"[^A-Z2-7]", "", printed.upper()):
        yield MATCHES, "the key is the one printed on your certificate"
    else:
        yield DIFFERS, "the key is not the one printed on your certificate: by itself this record proves nothing"


def history(found: Published, kept: str) -> Finding:
    """Does the record still begin with what an older head, kept by somebody, says it held?"""
    if not kept:
        return OPEN, (
            "whether history was written anew: whoever holds the keys could sign another one. Give the "
            "state of the record printed on a certificate, the older the better, with --head"
        )
    size, _, said = kept.partition(":")
    said = said.strip()
    try:
        wanted = bytes.fromhex(said) if len(said) == 64 else base64.b64decode(said, validate=True)
        count = int(size)
        if len(wanted) != 32 or count < 1:
            raise ValueError
    except ValueError:
        return OPEN, f"“{kept}” is no state of a record. Type it as printed: a number, a colon, the root"
    if count > len(found.lines):
        return DIFFERS, f"your certificate knows a record of {count} entries, and only {len(found.lines)} are here"
    if root([leaf(line) for line in found.lines[:count]]) != wanted:
        return DIFFERS, f"the first {count} entries are not those your certificate knows: history was changed"
    return MATCHES, f"the record still begins with the {count} entries your certificate knows"


# --- the entries, one after another ---


class Edition:
    """One edition as declared, and what was recorded of it."""

    def __init__(self, said: dict[str, Any]) -> None:
        self.said, self.withdrawn, self.destroyed = said, False, 0
        self.counts = {each["class"]: each["count"] for each in said["classes"]}


class Record:
    """The entries replayed. `problems` says in a sentence what breaks a rule, and at which entry."""

    def __init__(self, lines: list[bytes]) -> None:
        self.problems: list[str] = []
        self.unknown: set[str] = set()
        self.keys = ("", "")
        self.titles: dict[int, str] = {}
        self.editions: dict[int, Edition] = {}
        self.prints: dict[Place, tuple[int, str]] = {}  # generation, and 'made', 'gone' or 'never'
        self.certificates: dict[str, tuple[Place, int, str]] = {}  # by hash of code: place, generation, state
        self.live: dict[Place, str] = {}
        latest = ""
        for seq, line in enumerate(lines):
            try:
                said = read(line)
                if said["seq"] != seq:
                    self.problems.append(f"entry {seq} calls itself entry {said['seq']}: one is missing or moved")
                if said["at"] < latest:
                    self.problems.append(f"entry {seq} is dated before the one ahead of it")
                latest = max(latest, said["at"])
                if wrong := self.take(seq, said):
                    self.problems.append(f"entry {seq}: {wrong}")
            except (ValueError, KeyError, TypeError, AttributeError) as fault:
                self.problems.append(f"entry {seq} is not a well-formed entry ({type(fault).__name__}: {fault})")

    def take(self, seq: int, said: dict[str, Any]) -> str:
        """One entry; what is wrong with it, or ''."""
        kind: str = said["kind"]
        if (seq == 0) != (kind == "studio.opened"):
            return "a record is opened by its first entry, and only there"
        if kind == "key.added":
            if self.keys != ("", ""):
                return "a second pair of keys, which no rule here provides for"
            self.keys = (said["issuer"], said["journal"])
        elif kind == "work.added":
            self.titles[said["work"]] = said["title"]
        elif kind == "work.corrected" and said["field"] == "title":
            self.titles[said["work"]] = said["new"]
        elif kind.startswith("edition."):
            return self.edition(kind, said)
        elif kind.startswith("piece."):
            return self.piece(kind, said)
        elif kind == "certificate.issued" or kind in STATES:
            return self.certificate(kind, said)
        elif kind not in KINDS:
            self.unknown.add(kind)
        return ""

    def edition(self, kind: str, said: dict[str, Any]) -> str:
        number, known = said["edition"], self.editions.get(said["edition"])
        if kind == "edition.declared":
            if known:
                return f"edition {number} is declared a second time"
            for other in self.editions.values():
                if (
                    other.said["work"] == said["work"] and other.said["later_editions"] == "ruled_out"
                    and not other.withdrawn and other.said["declared_on"] < said["declared_on"] and "begun" not in said
                ):  # fmt: skip
                    return f"edition {number} is declared though edition {other.said['edition']} ruled out later ones"
            self.editions[number] = Edition(said)
        elif known is None:
            return f"edition {number} was never declared"
        elif kind == "edition.withdrawn":
            if any(place[0] == number for place in self.prints):
                return f"edition {number} is withdrawn though it has prints"
            known.withdrawn = True
        elif kind != "edition.closed":
            self.unknown.add(kind)
        return ""

    def piece(self, kind: str, said: dict[str, Any]) -> str:
        place: Place = (said["edition"], said["class"], said["number"])
        generation, state = self.prints.get(place, (0, ""))
        name = f"{place[1]} {place[2]} of edition {place[0]}"
        known = self.editions.get(place[0])
        if known is None or known.withdrawn or place[1] not in known.counts:
            return f"{name}: no such edition stands declared"
        if not 1 <= place[2] <= (known.counts[place[1]] or place[2]):
            return f"{name}: only {known.counts[place[1]]} were declared"
        if kind == "piece.replaced":
            if said["generation"] != generation + 1 or not generation or place in self.live:
                return f"{name} is made again while the earlier print still stands"
            self.prints[place] = (said["generation"], "replacing")
        elif kind == "piece.inscribed":
            if state not in ("", "replacing") or said["generation"] != (generation or 1):
                return f"{name} is given a second time"
            self.prints[place] = (said["generation"], "made")
        elif kind in ("piece.uninscribed", "piece.spoilt"):
            if state != "made" or place in self.live:
                return f"{name} goes back to the bench though it is not there to go back"
            del self.prints[place]
        elif kind == "piece.destroyed":
            if not 1 <= said["generation"] <= generation or (said["generation"] == generation and state != "made"):
                return f"{name} is destroyed though it is not there"
            known.destroyed += 1
            if said["generation"] == generation:
                self.prints[place] = (generation, "gone")
        elif kind == "piece.withdrawn":
            if state:
                return f"{name} is said never to be made, though it was given"
            self.prints[place] = (1, "never")
        else:
            self.unknown.add(kind)
        return ""

    def certificate(self, kind: str, said: dict[str, Any]) -> str:
        code = said["code_sha256"]
        if kind == "certificate.issued":
            place: Place = (said["edition"], said["class"], said["number"])
            name = f"{place[1]} {place[2]} of edition {place[0]}"
            if code in self.certificates:
                return f"a second certificate with one code, for {name}"
            if place in self.live:
                return f"a second certificate for {name} while its first one stands"
            if self.prints.get(place) != (said["generation"], "made"):
                return f"a certificate for {name}, which is not a print that was given and stands"
            self.certificates[code] = (place, said["generation"], "valid")
            self.live[place] = code
            return ""
        if code not in self.certificates:
            return "a certificate changes that was never issued"
        place, generation, state = self.certificates[code]
        before, after = STATES[kind]
        if state not in before or said["state"] != after:
            return f"a certificate that is {state} becomes {said['state']}"
        self.certificates[code] = (place, generation, after)
        if after in ("superseded", "void"):
            del self.live[place]
        return ""

    def sums(self) -> Iterator[str]:
        """Of every edition, what was declared, given and voided. Anybody can count this again."""
        for number, edition in self.editions.items():
            if edition.withdrawn:
                continue
            mine = {place: state for place, (_, state) in self.prints.items() if place[0] == number}
            issued = [state for place, _, state in self.certificates.values() if place[0] == number]
            declared = edition.counts.get("numbered") or "no fixed number of"
            given = sum(place[1] == "numbered" and state != "never" for place, state in mine.items())
            beside = sum(count for kind, count in edition.counts.items() if kind != "numbered")
            proofs = sum(place[1] != "numbered" and state != "never" for place, state in mine.items())
            yield (
                f"edition {number}, {self.titles.get(edition.said['work'], 'untitled')}: {declared} numbers declared, "
                f"{given} given; {beside} proofs declared, {proofs} given; {edition.destroyed} destroyed; "
                f"{len(issued)} certificates issued, {issued.count('void')} of them void, "
                f"{issued.count('superseded')} replaced"
            )


def read(line: bytes) -> dict[str, Any]:
    """An entry written in the one way it can be. Raises ValueError."""

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        if len(dict(pairs)) != len(pairs):
            raise ValueError("a field stands in it twice")
        if not all(isinstance(value, str | int | list | dict) and value is not True for _, value in pairs):
            raise ValueError("a field is neither text nor a whole number nor a list")
        return dict(pairs)

    said: dict[str, Any] = json.loads(line, object_pairs_hook=once)
    if json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode() != line:
        raise ValueError("it is not written canonically")
    if not re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", said["at"]):
        raise ValueError("its time is not one")
    return said


def about_code(record: Record, typed: str) -> Finding:
    """What the record says of the code on a certificate."""
    code = re.sub(r"[\s-]", "", typed).upper().translate(str.maketrans("OIL", "011"))
    known = record.certificates.get(sha256(code.encode()).hexdigest())
    if known is None:
        return DIFFERS, (
            f"the code {code} is not in this record. Check the typing; if it is right, and this record is newer "
            "than the certificate, treat the certificate as not genuine"
        )
    place, generation, state = known
    second = f", print {generation} of that number" if generation > 1 else ""
    said = f"the code belongs to {place[1]} {place[2]} of edition {place[0]}{second}"
    if state != "valid":
        return DIFFERS, f"{said}; that certificate is {state} and stands for nothing now"
    return MATCHES, (
        f"{said}, and its certificate stands. That does not prove that the sheet in front of you is that print: "
        "compare the pencil number, the signature and the picture"
    )


def audit(found: Published, code: str = "", head: str = "", printed: str = "") -> tuple[list[Finding], list[str]]:
    """Every finding, and the sums of the editions."""
    record = Record(found.lines)
    findings = [*head_of(found), *whose_key(found, record, printed), history(found, head)]
    findings += [(DIFFERS, problem) for problem in record.problems[:50]]
    if len(record.problems) > 50:
        findings.append((DIFFERS, f"and {len(record.problems) - 50} further entries"))
    findings += [(OPEN, f"entries of kind {kind}: this auditor does not know them") for kind in sorted(record.unknown)]
    if not record.problems:
        findings.append((MATCHES, f"all {len(found.lines)} entries are well formed, in order, and break no rule"))
    return [*findings, *([about_code(record, code)] if code else [])], list(record.sums())


def main() -> int:
    asked = argparse.ArgumentParser(description="Recount a published record of editions and certificates.")
    asked.add_argument("place", help="the published folder, or its address on the web")
    asked.add_argument("--code", default="", help="the sixteen characters on a certificate")
    asked.add_argument("--head", default="", help="the state of the record printed on a certificate, SIZE:ROOT")
    asked.add_argument("--fingerprint", default="", help="the fingerprint of the keys printed on a certificate")
    given = asked.parse_args()
    sys.stdout.reconfigure(errors="replace")  # type: ignore[union-attr]  # a screen may lack the letters of a title
    try:
        findings, sums = audit(Published(given.place), given.code, given.head, given.fingerprint)
    except (OSError, ValueError) as fault:
        print(f"{OPEN}: the record cannot be read ({fault})")
        return 2
    for result, reason in findings:
        print(f"{result}: {reason}.")
    print("\nAnybody can count again what this record holds:")
    for line in sums:
        print(f"  {line}.")
    print("\nA record shows what the maker wrote down. It cannot show prints that were never recorded.")
    results = {result for result, _ in findings}
    whole = next(result for result in (DIFFERS, OPEN, MATCHES) if result in results)
    print(f"\nAs a whole: {whole}.")
    return {MATCHES: 0, DIFFERS: 1, OPEN: 2}[whole]


if __name__ == "__main__":
    sys.exit(main())

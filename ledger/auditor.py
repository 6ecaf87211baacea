#!/usr/bin/env python3
"""Recount a published record of editions and certificates: one file, which needs Python 3.11 and nothing else.

    python3 audit.py FOLDER-OR-ADDRESS [--code CODE] [--head HEAD] [--fingerprint FINGERPRINT]

FOLDER-OR-ADDRESS is the published folder, or its address on the web. Code, head and fingerprint are printed on
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
Said = dict[str, Any]
Place = tuple[int, str, int]  # edition, class, number
KINDS = {"studio.opened", "work.added", "work.corrected", "sealed", "certificate.printed", "edition.closed"}
PRINTS = {  # what may happen to the print of a number: from which states, to which, and what is wrong otherwise
    "piece.inscribed": ({""}, "made", "is given a second time"),
    "piece.replaced": ({"made", "gone"}, "", "is made again while the earlier print still stands"),
    "piece.uninscribed": ({"made"}, "", "goes back to the bench though it is not there to go back"),
    "piece.spoilt": ({"made"}, "", "goes back to the bench though it is not there to go back"),
    "piece.destroyed": ({"made"}, "gone", "is destroyed though it is not there"),
    "piece.withdrawn": ({""}, "never", "is said never to be made, though it was given"),
}
GIVEN = ("made", "gone")
CERTIFICATES = {  # what may happen to a certificate: from which states, to which
    "certificate.superseded": ({"valid", "suspended"}, "superseded"),
    "certificate.suspended": ({"valid"}, "suspended"),
    "certificate.restored": ({"suspended"}, "valid"),
    "certificate.void": ({"valid", "suspended"}, "void"),
}


# --- the published files ---


def fetch(place: str, name: str) -> bytes:
    """A file of the record, from a folder or from the web."""
    if re.match(r"https?://", place):
        with urllib.request.urlopen(f"{place.rstrip('/')}/journal/{name}", timeout=60) as answer:
            return bytes(answer.read())
    return Path(place, "journal", name).read_bytes()


def read(line: bytes) -> Said:
    """An entry written in the one way it can be. Raises ValueError."""

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        if len(dict(pairs)) != len(pairs):
            raise ValueError("a field stands in it twice")
        if not all(isinstance(value, str | int | list | dict) and value is not True for _, value in pairs):
            raise ValueError("a field is neither text nor a whole number nor a list")
        return dict(pairs)

    said: Said = json.loads(line, object_pairs_hook=once)
    if json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode() != line:
        raise ValueError("it is not written canonically")
    if not re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", said["at"]):
        raise ValueError("its time is not one")
    return said


def heads_of(lines: list[bytes]) -> list[str]:
    """The head of the record after each entry (RFC 9162): what is signed, and printed on certificates."""
    heads: list[str] = []
    whole: list[tuple[int, bytes]] = []  # complete trees from the left: of how many entries, and their hash
    for line in lines:
        count, top = 1, sha256(b"\x00" + line).digest()
        while whole and whole[-1][0] == count:
            count, top = 2 * count, sha256(b"\x01" + whole.pop()[1] + top).digest()
        whole.append((count, top))
        for _, left in whole[-2::-1]:
            top = sha256(b"\x01" + left + top).digest()
        heads.append(top.hex())
    return heads


# --- signatures: Ed25519, RFC 8032 ---


def by_package(key: bytes, signature: bytes, data: bytes) -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    Ed25519PublicKey.from_public_bytes(key).verify(signature, data)


def by_command(key: bytes, signature: bytes, data: bytes) -> None:
    der = bytes.fromhex("302a300506032b6570032100") + key
    with tempfile.TemporaryDirectory() as folder:
        for name, content in (("key", der), ("signature", signature), ("data", data)):
            Path(folder, name).write_bytes(content)
        command = "openssl pkeyutl -verify -pubin -keyform DER -inkey key -rawin -sigfile signature -in data"
        subprocess.run(command.split(), cwd=folder, capture_output=True, check=True)


KNOWN_GOOD = (  # RFC 8032, section 7.1, test 2: key, signature, data
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
    "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    "72",
)


def signed(key: bytes, signature: bytes, data: bytes) -> bool | None:
    """Whether the signature holds; None where nothing on this machine can tell."""
    for means in (by_package, by_command):
        try:
            means(*map(bytes.fromhex, KNOWN_GOOD))
        except Exception:  # not here, or too old: a tool that refuses a good signature is no tool for it
            continue
        try:
            means(key, signature, data)
        except Exception:  # each means has its own way of saying no
            return False
        return True
    return None


# --- the signed head, the keys, and what a certificate says of both ---


def signed_head(note: str, heads: list[str], key_line: str) -> Iterator[Finding]:
    """The signed head: is it that of these entries, and did the key named beside them sign it?"""
    parts = re.fullmatch(r"((\S+)\n([1-9]\d*)\n(\S+)\n)\n((?:— \S+ \S+\n)+)", note)
    if not parts:
        yield (DIFFERS, "the signed head is not written as one") if note else (OPEN, "there is no signed head")
        return
    text, origin, size, said, signatures = parts.groups()
    later = len(heads) - int(size)
    if later < 0:
        yield DIFFERS, f"the signed head is of {size} entries, and only {len(heads)} are here: the end is missing"
    elif base64.b64encode(bytes.fromhex(heads[int(size) - 1])).decode() != said:
        yield DIFFERS, f"the first {size} entries are not those that were signed: one of them was changed"
    else:
        wait = f"; {later} came later and wait for the next signature" if later else ""
        yield MATCHES, f"the first {size} entries are those under the signed head{wait}"
    name, _, id_and_key = key_line.partition("+")
    try:
        key = base64.b64decode(id_and_key.partition("+")[2])[1:]  # after the byte that says which kind of key it is
        mine = sha256(f"{name}\n".encode() + b"\x01" + key).digest()[:4]
        lines = [line.split(" ") for line in signatures.splitlines()]
        tried = [base64.b64decode(value) for _, signer, value in lines if signer == name == origin]
    except ValueError:
        yield DIFFERS, "the key or a signature is not written as one"
        return
    holds = [signed(key, each[4:], text.encode()) for each in tried if each[:4] == mine]
    if None in holds:
        yield OPEN, "signatures: install the Python package 'cryptography' or the command 'openssl', and try again"
    elif holds and all(holds):
        yield MATCHES, "the head is signed with the key in journal/keys.txt"
    else:
        yield DIFFERS, "the head is not signed with the key in journal/keys.txt"


def whose_key(here: tuple[str, str], recorded: tuple[str, str], printed: str) -> Finding:
    """Are the keys beside the record those it names, and those on a certificate?"""
    both = json.dumps({"issuer": here[0], "journal": here[1]}, sort_keys=True, separators=(",", ":"))
    fingerprint = base64.b32encode(sha256(both.encode()).digest()[:20]).decode()
    typed = re.sub(r"[\s-]", "", printed).upper()
    if recorded != here:
        return DIFFERS, "journal/keys.txt names other keys than the record does"
    if not typed:
        return OPEN, "whose key that is: give the fingerprint printed on a certificate, with --fingerprint"
    if not re.fullmatch("[A-Z2-7]{16,32}", typed):
        return OPEN, f"“{printed}” is no fingerprint. Type all of its groups as printed"
    if not fingerprint.startswith(typed):
        return DIFFERS, "the key is not the one printed on your certificate: by itself this record proves nothing"
    return MATCHES, "the key is the one printed on your certificate"


def history(heads: list[str], printed: str) -> Finding:
    """Does the record still begin with what an older head, kept by somebody, says it held?"""
    if not printed:
        return OPEN, (
            "whether history was written anew: whoever holds the keys could sign another one. Give the "
            "head printed on a certificate, the older the better, with --head"
        )
    asked = re.fullmatch(r"(?:([1-9]\d*):)?([0-9a-f]{16,64})", re.sub(r"\s", "", printed).lower())
    if not asked:
        return OPEN, f"“{printed}” is no head of a record. Type it as printed: figures, and letters from a to f"
    size = int(asked[1] or 0)
    if size > len(heads):
        return DIFFERS, f"your certificate knows a record of {size} entries, and only {len(heads)} are here"
    for count, head in enumerate(heads, start=1):
        if head.startswith(asked[2]) and size in (0, count):
            return MATCHES, f"the record still begins with the {count} entries your certificate knows"
    return DIFFERS, "this record never had the head your certificate knows: history was changed, or its end cut off"


# --- the entries, one after another ---


class Record:
    """The entries replayed. `problems` says in a sentence what breaks a rule, and at which entry."""

    def __init__(self, lines: list[bytes]) -> None:
        self.problems: list[str] = []
        self.unknown: set[str] = set()
        self.keys = ("", "")
        self.titles: dict[int, str] = {}
        self.editions: dict[int, Said] = {}  # as declared, and what became of them
        self.prints: dict[Place, tuple[int, str]] = {}  # the latest print of each number, and how it stands
        self.certificates: dict[str, tuple[Place, int, str]] = {}  # by hash of code: which print, and how it stands
        self.live: set[Place] = set()
        latest = ""
        for seq, line in enumerate(lines):
            try:
                said = read(line)
                if said["seq"] != seq:
                    self.problems.append(f"entry {seq} calls itself entry {said['seq']}: one is missing or moved")
                if said["at"] < latest:
                    self.problems.append(f"entry {seq} is dated before the one ahead of it")
                latest = max(latest, said["at"])
                if wrong := self.take(seq, said["kind"], said):
                    self.problems.append(f"entry {seq}: {wrong}")
            except (ValueError, KeyError, TypeError, AttributeError) as fault:
                self.problems.append(f"entry {seq} is not a well-formed entry ({type(fault).__name__}: {fault})")

    def take(self, seq: int, kind: str, said: Said) -> str:
        """One entry; what is wrong with it, or ''."""
        if (seq == 0) != (kind == "studio.opened"):
            return "a record is opened by its first entry, and only there"
        if kind == "key.added":
            if self.keys != ("", ""):
                return "a second pair of keys, which no rule here provides for"
            self.keys = (said["issuer"], said["journal"])
        elif kind == "work.added" or (kind == "work.corrected" and said["field"] == "title"):
            self.titles[said["work"]] = said.get("new") or said["title"]
        elif kind.startswith("edition."):
            return self.edition(kind, said)
        elif kind in PRINTS:
            return self.piece(kind, said, (said["edition"], said["class"], said["number"]))
        elif kind == "certificate.issued":
            return self.issued(said, (said["edition"], said["class"], said["number"]))
        elif kind in CERTIFICATES:
            return self.changed(kind, said)
        elif kind not in KINDS:
            self.unknown.add(kind)
        return ""

    def edition(self, kind: str, said: Said) -> str:
        number, known = said["edition"], self.editions.get(said["edition"])
        if kind == "edition.declared":
            if known:
                return f"edition {number} is declared a second time"
            for other in self.editions.values():
                same = other["work"] == said["work"] and not other["withdrawn"] and "begun" not in said
                if same and other["later_editions"] == "ruled_out" and other["declared_on"] < said["declared_on"]:
                    return f"edition {number} is declared though edition {other['edition']} ruled out later ones"
            counts = {each["class"]: each["count"] for each in said["classes"]}
            self.editions[number] = said | {"counts": counts, "withdrawn": False, "destroyed": 0}
        elif known is None:
            return f"edition {number} was never declared"
        elif kind == "edition.withdrawn":
            if any(place[0] == number and state for place, (_, state) in self.prints.items()):
                return f"edition {number} is withdrawn though it has prints"
            known["withdrawn"] = True
        elif kind not in KINDS:
            self.unknown.add(kind)
        return ""

    def piece(self, kind: str, said: Said, place: Place) -> str:
        edition, (latest, state) = self.editions.get(place[0]), self.prints.get(place, (1, ""))
        if edition is None or edition["withdrawn"] or place[1] not in edition["counts"]:
            return f"{called(place)}: no such edition stands declared"
        if not 1 <= place[2] <= (edition["counts"][place[1]] or place[2]):
            return f"{called(place)}: only {edition['counts'][place[1]]} were declared"
        before, after, wrong = PRINTS[kind]
        certified = place in self.live and kind != "piece.destroyed"
        fits = state in before and said["generation"] == latest + (kind == "piece.replaced") and not certified
        earlier = kind == "piece.destroyed" and 1 <= said["generation"] < latest
        if not fits and not earlier:
            return f"{called(place)} {wrong}"
        if fits:
            self.prints[place] = (said["generation"], after)
        edition["destroyed"] += kind == "piece.destroyed"
        return ""

    def issued(self, said: Said, place: Place) -> str:
        if said["code_sha256"] in self.certificates:
            return f"a second certificate with one code, for {called(place)}"
        if place in self.live:
            return f"a second certificate for {called(place)} while its first one stands"
        if self.prints.get(place) != (said["generation"], "made"):
            return f"a certificate for {called(place)}, which is not a print that was given and stands"
        self.certificates[said["code_sha256"]] = (place, said["generation"], "valid")
        self.live.add(place)
        return ""

    def changed(self, kind: str, said: Said) -> str:
        if said["code_sha256"] not in self.certificates:
            return "a certificate changes that was never issued"
        place, generation, state = self.certificates[said["code_sha256"]]
        before, after = CERTIFICATES[kind]
        if state not in before or said["state"] != after:
            return f"a certificate that is {state} becomes {said['state']}"
        self.certificates[said["code_sha256"]] = (place, generation, after)
        if after in ("superseded", "void"):
            self.live.remove(place)
        return ""

    def sums(self) -> Iterator[str]:
        """Of every edition, what was declared, given and voided. Anybody can count this again."""
        for number, edition in self.editions.items():
            if edition["withdrawn"]:
                continue
            given = [place[1] for place, (_, state) in self.prints.items() if place[0] == number and state in GIVEN]
            issued = [state for place, _, state in self.certificates.values() if place[0] == number]
            numbers = edition["counts"].get("numbered") or "no fixed count of"
            proofs = sum(count for kind, count in edition["counts"].items() if kind != "numbered")
            yield (
                f"edition {number}, {self.titles.get(edition['work'], 'untitled')}: {numbers} numbers declared, "
                f"{given.count('numbered')} given; {proofs} proofs declared, "
                f"{len(given) - given.count('numbered')} given; "
                f"{edition['destroyed']} destroyed; {len(issued)} certificates issued, {issued.count('void')} of them "
                f"void, {issued.count('superseded')} replaced"
            )


def called(place: Place) -> str:
    return f"{place[1]} {place[2]} of edition {place[0]}"


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
    said = f"the code belongs to {called(place)}{f', print {generation} of that number' if generation > 1 else ''}"
    if state != "valid":
        return DIFFERS, f"{said}; that certificate is {state} and stands for nothing now"
    return MATCHES, (
        f"{said}, and its certificate stands. That does not prove that the sheet in front of you is that print: "
        "compare the pencil number, the signature and the picture"
    )


def audit(place: str, code: str = "", head: str = "", fingerprint: str = "") -> tuple[list[Finding], list[str]]:
    """Every finding, and the sums of the editions. Raises OSError or ValueError where the record cannot be read."""
    lines = fetch(place, "entries.jsonl").split(b"\n")
    if lines.pop():
        raise OSError("journal/entries.jsonl breaks off in the middle of a line")
    keys = dict(line.split(" ", 1) for line in fetch(place, "keys.txt").decode().splitlines() if " " in line)
    here = (keys.get("issuer", ""), keys.get("journal", ""))
    try:
        note = fetch(place, "checkpoint").decode()
    except OSError:
        note = ""
    heads, record = heads_of(lines), Record(lines)
    findings = [*signed_head(note, heads, here[1]), whose_key(here, record.keys, fingerprint), history(heads, head)]
    findings += [(DIFFERS, problem) for problem in record.problems[:50]]
    if len(record.problems) > 50:
        findings.append((DIFFERS, f"and {len(record.problems) - 50} further entries"))
    findings += [(OPEN, f"entries of kind {kind}: this auditor does not know them") for kind in sorted(record.unknown)]
    if not record.problems:
        findings.append((MATCHES, f"all {len(lines)} entries are well formed, in order, and break no rule"))
    return [*findings, *([about_code(record, code)] if code else [])], list(record.sums())


def main() -> int:
    asked = argparse.ArgumentParser(description="Recount a published record of editions and certificates.")
    asked.add_argument("place", help="the published folder, or its address on the web")
    asked.add_argument("--code", default="", help="the sixteen characters on a certificate")
    asked.add_argument("--head", default="", help="the head of the record printed on a certificate")
    asked.add_argument("--fingerprint", default="", help="the fingerprint of the keys printed on a certificate")
    sys.stdout.reconfigure(errors="replace")  # type: ignore[union-attr]  # a screen may lack the letters of a title
    try:
        findings, sums = audit(**vars(asked.parse_args()))
    except (OSError, ValueError) as fault:
        print(f"{OPEN}: the record cannot be read ({fault})")
        return 2
    for result, reason in findings:
        print(f"{result}: {reason}.")
    print("\nAnybody can count again what this record holds:")
    for line in sums:
        print(f"  {line}.")
    print("\nA record shows what the maker wrote down. It cannot show prints that were never recorded.")
    whole = next(result for result in (DIFFERS, OPEN, MATCHES) if result in dict(findings))
    print(f"\nAs a whole: {whole}.")
    return {MATCHES: 0, DIFFERS: 1, OPEN: 2}[whole]


if __name__ == "__main__":
    sys.exit(main())

"""A certificate's PDF checked: against the fingerprint and the head on its paper, and against the record itself.

Three results and no more. What nobody compared is never said to match, and a ledger's word for itself is no
comparison: whoever holds its keys can write it anew, so fingerprint and head are always asked for.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlmodel import Session, col, select

from ledger import carried, certificates, credentials, journal, keys, signing
from ledger.errors import Refusal
from ledger.evidence import place_of
from ledger.reckoning import codes, credential, merkle, notes
from ledger.reckoning.canonical import parsed
from ledger.reckoning.credential import Document, Evidence
from ledger.tables import Certificate, Journal, SigningKeys

MATCHES, DIFFERS, OPEN = "matches the record", "does not match", "could not be checked"
EXIT = {MATCHES: 0, DIFFERS: 1, OPEN: 2}
LEAST_SYMBOLS, LEAST_DIGITS = 16, 16
"""As many of a fingerprint, and of a head, as a certificate without a second side has in print."""
KEYS, HEAD = "The keys", "The head on the paper"
UNSEEN = (
    "The record shows what the studio recorded. It cannot show prints that were never recorded.",
    "It cannot see the sheet in front of you. Compare the pencil number, the signature and the marks.",
    "Only the words above are signed. If the pages of the file say anything else, go by these words.",
    "A record written anew before this paper was printed looks the same: only an older paper of it could tell.",
)
TO_TYPE = {KEYS: "--fingerprint 'ABCD EFGH ...'", HEAD: "--head '0123abcd ...'"}
BUT = {(KEYS, HEAD): "neither its keys nor its head were", (KEYS,): "its keys were not", (HEAD,): "its head was not"}
AS_OF = (
    "This is the record as it was when the certificate was signed. A change since, such as a certificate replaced "
    "or void, is not seen here."
)


@dataclass(frozen=True)
class Finding:
    """One thing looked at: what, with which of the three results, and why."""

    about: str
    result: str
    reason: str


@dataclass(frozen=True)
class Verdict:
    """All that was found, what the certificate says where its signature holds, and what no record can know."""

    findings: tuple[Finding, ...]
    says: dict[str, str]
    beyond: tuple[str, ...]

    @property
    def result(self) -> str:
        """The worst of the findings."""
        return next(result for result in (DIFFERS, OPEN, MATCHES) if self.of(result))

    def of(self, result: str) -> list[Finding]:
        """The findings with this result."""
        return [finding for finding in self.findings if finding.result == result]

    @property
    def sentence(self) -> str:
        """All of it in a sentence; where something is left to type, that too."""
        if self.result == DIFFERS:
            return "It does not match. What is at odds stands first below."
        if self.result == MATCHES:
            return "It matches the record: what is signed fits its entry, and keys and head are those you gave."
        left = {finding.about: TO_TYPE.get(finding.about, "") for finding in self.of(OPEN)}
        if not all(left.values()):
            return "It could not be checked. The reason stands first below."
        return (
            f"It could not be checked to the end. Nothing in it is at odds, but {BUT[tuple(left)]} held against the "
            f"paper. Type what its small print says of them: print-ledger verify FILE {' '.join(left.values())}"
        )


@dataclass(frozen=True)
class Typed:
    """What somebody read off the paper; '' where nothing was."""

    fingerprint: str = ""
    head: str = ""


def verify(pdf: Path, typed: Typed, session: Session | None = None) -> Verdict:
    """Check the certificate in a PDF; with a session, against that ledger's record and its keys too."""
    try:
        files = carried.read(pdf, (credential.CREDENTIAL, credential.ENTRY, credential.PROOF, credential.KEYS))
        evidence = credential.read_evidence(files) if files else None
    except Refusal as no:
        return Verdict((Finding("The file", OPEN, _printable(no.message)),), {}, UNSEEN[:2])
    if evidence is None:
        return Verdict((Finding("The file", OPEN, _unsigned(pdf, session)),), {}, UNSEEN[:2])
    ours = session if session is not None and _known(session, evidence) else None
    findings = [*_of_itself(evidence), _keys(evidence, typed.fingerprint), _head(evidence, typed.head)]
    if ours is not None:
        findings.append(_in_the_ledger(ours, evidence))
    said = [Finding(each.about, each.result, _printable(each.reason)) for each in findings]
    return Verdict(tuple(said), _says(evidence), tuple(_beyond(session, ours, pdf)))


def _printable(text: str) -> str:
    """A sentence that may quote a stranger's file, without anything a terminal would obey."""
    return "".join(character if character.isprintable() else "?" for character in text)


def _says(evidence: Evidence) -> dict[str, str]:
    try:
        subject = credentials.opened(evidence.credential)["credentialSubject"]
    except Refusal:
        return {}
    return {name: _printable(value) for name, value in subject.items() if isinstance(value, str)}


def _beyond(session: Session | None, ours: Session | None, pdf: Path) -> Iterator[str]:
    yield from UNSEEN
    if ours is None:
        yield AS_OF
        if session is not None:
            yield "The ledger on this machine has other keys, and was not asked."
    elif _kept(ours, pdf) is None:
        yield "The file is not, byte for byte, the paper that was kept."


def _kept(session: Session, pdf: Path) -> Certificate | None:
    """The certificate whose kept paper this file is, byte for byte."""
    digest = sha256(pdf.read_bytes()).hexdigest()
    return session.exec(select(Certificate).where(Certificate.paper_sha256 == digest)).first()


def _unsigned(pdf: Path, session: Session | None) -> str:
    """Why a PDF without evidence cannot be checked."""
    row = _kept(session, pdf) if session is not None else None
    if session is not None and row is not None:
        where = place_of(session, row.id or 0).words
        return f"It is the paper kept of certificate {codes.grouped(row.code)}. {where}"
    return (
        "It carries no signed certificate. One issued before signing began carries none, nor does a batch to print, "
        "nor a file saved again by a program that leaves out what a PDF carries."
    )


# --- by itself ---


def _of_itself(evidence: Evidence) -> Iterator[Finding]:
    """The signed text, the entry and its place: whether each fits the next. The text comes first."""
    for about, look in (("The signed text", _text), ("The entry", _entry), ("Its place in the record", _place)):
        try:
            yield Finding(about, MATCHES, look(evidence))
        except Refusal as no:
            yield Finding(about, DIFFERS, no.message)


def _text(evidence: Evidence) -> str:
    said = credentials.opened(evidence.credential)
    if said["issuer"]["id"] != evidence.keys.issuer:
        raise Refusal("It is signed with another key than the one named beside it.")
    return "Its signature holds."


def _entry(evidence: Evidence) -> str:
    entry = parsed(evidence.entry)
    said = credentials.opened(evidence.credential)
    if entry.get("credential_sha256") != sha256(evidence.credential).hexdigest():
        raise Refusal("The entry is of another text than the signed one.")
    code = str(said["credentialSubject"].get("certificate"))
    same_code = entry.get("code_sha256") == certificates.code_sha256(code)
    if entry.get("kind") != "certificate.issued" or not credential.agrees(said, entry) or not same_code:
        raise Refusal("The entry and the signed text say different things.")
    if entry.get("seq") != evidence.proof.index:
        raise Refusal("The entry and the proof name different places in the record.")
    return f"Entry {evidence.proof.index} holds the hash of the signed text."


def _place(evidence: Evidence) -> str:
    key = notes.read_key(evidence.keys.journal)
    head = notes.read_checkpoint(signing.open_note(evidence.proof.note, key))
    record: Document = credentials.opened(evidence.credential)["record"]
    if head.origin != key.name or record.get("origin") != key.name:
        raise Refusal("The head is of another record than the signed text names.")
    leaf = merkle.leaf_hash(evidence.entry)
    if not merkle.included(leaf, evidence.proof.index, head.size, evidence.proof.hashes, head.root):
        raise Refusal("The proof does not lead from the entry to the signed head.")
    return f"The entry is under the signed head of {head.size} entries."


# --- against the paper ---


def _keys(evidence: Evidence, typed: str) -> Finding:
    shown = f"This file’s are {evidence.keys.fingerprint}."
    if not typed:
        return Finding(KEYS, OPEN, f"A stranger can sign with keys of his own: by itself that proves nothing. {shown}")
    read = re.sub(r"[\s-]", "", typed).upper().translate(str.maketrans("018", "OIB"))
    if not re.fullmatch(rf"[A-Z2-7]{{{LEAST_SYMBOLS},32}}", read):
        return Finding(KEYS, OPEN, "A fingerprint has 32 letters and figures in eight groups. Look at the paper.")
    if not evidence.keys.fingerprint.replace(" ", "").startswith(read):
        return Finding(KEYS, DIFFERS, f"They are not the keys of the fingerprint given. {shown}")
    return Finding(KEYS, MATCHES, "They are the keys of the fingerprint given.")


def _head(evidence: Evidence, typed: str) -> Finding:
    try:
        head = evidence.head.root.hex()
    except Refusal as no:
        return Finding(HEAD, OPEN, no.message)
    if not typed:
        why = "A record written anew, and signed again with the same keys, would look the same."
        return Finding(HEAD, OPEN, f"{why} This file’s is {head}.")
    read = re.sub(r"\s", "", typed).lower()
    if not re.fullmatch(rf"[0-9a-f]{{{LEAST_DIGITS},64}}", read):
        return Finding(HEAD, OPEN, f"A head is {LEAST_DIGITS} to 64 of the figures 0 to 9 and letters a to f.")
    if not head.startswith(read):
        return Finding(HEAD, DIFFERS, "It is another than the head in this file: its history is not the paper’s.")
    return Finding(HEAD, MATCHES, "It is the head in this file.")


# --- against the record ---


def _known(session: Session, evidence: Evidence) -> bool:
    """Whether these are keys of this ledger."""
    return any(keys.public_of(row) == evidence.keys for row in session.exec(select(SigningKeys)))


def _in_the_ledger(session: Session, evidence: Evidence) -> Finding:
    try:
        fault = next(_faults(session, evidence), "")
    except Refusal as no:
        return Finding("The ledger", OPEN, no.message)
    if fault:
        return Finding("The ledger", DIFFERS, fault)
    held = journal.length(session)
    return Finding("The ledger", MATCHES, f"It names these keys, and the certificate stands in its {held} entries.")


def _faults(session: Session, evidence: Evidence) -> Iterator[str]:
    head, held = evidence.head, journal.length(session)
    if held < head.size:
        yield (
            f"Its record holds {held} entries, and held {head.size} when this was signed: "
            "entries were cut off, or an older copy was put back."
        )
        return
    if journal.root(session, head.size) != head.root:
        yield "Its record is not the one this head was signed over: its history was changed."
    body: Any = session.exec(select(col(Journal.body)).where(Journal.seq == evidence.proof.index)).first()
    if body != evidence.entry:
        yield f"Entry {evidence.proof.index} of its record says something else."
    view = certificates.by_code(session, _says(evidence).get("certificate", ""))
    if view is None:
        yield "It has no certificate with this code."
    elif view.state != "valid":
        state = {"superseded": "was replaced", "suspended": "is on hold", "void": "is void"}[view.state]
        yield f"The certificate {state}: it no longer stands as it was issued."


# --- told ---


def as_json(verdict: Verdict) -> dict[str, Any]:
    """The verdict for a program."""
    return {
        "result": verdict.result,
        "sentence": verdict.sentence,
        "findings": [vars(finding) for finding in verdict.findings],
        "says": verdict.says,
        "beyond": list(verdict.beyond),
    }


def as_lines(verdict: Verdict) -> Iterator[str]:
    """The verdict for a person: what is at odds first, then what is open."""
    yield verdict.sentence
    for result in (DIFFERS, OPEN, MATCHES):
        if found := verdict.of(result):
            yield f"{result[0].upper()}{result[1:]}:"
            yield from (f"  {finding.about}. {finding.reason}" for finding in found)
    if verdict.says:
        yield "What was signed:"
        yield from (f"  {_in_words(name)}: {value}" for name, value in verdict.says.items())
    if verdict.beyond:
        yield "What no record can know:"
        yield from (f"  {sentence}" for sentence in verdict.beyond)


def _in_words(name: str) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).lower()

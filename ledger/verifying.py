"""A certificate's PDF checked: against the fingerprint and the head on its paper, and against the record itself.

Three results and no more. What nobody compared is never said to match.
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
UNSEEN = (
    "The record shows what the studio recorded. It cannot show prints that were never recorded.",
    "It cannot see the sheet in front of you. Compare the pencil number, the signature and the marks.",
    "Only the words above are signed. If the pages of the file say anything else, go by these words.",
)
NO_HEAD = (
    "No head from a paper was compared. A record written anew, and signed again with the same keys, "
    "would look the same."
)
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
        found = {finding.result for finding in self.findings}
        return DIFFERS if DIFFERS in found else OPEN if OPEN in found or not found else MATCHES


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
    findings = [*_of_itself(evidence), _keys(evidence, typed.fingerprint, ours)]
    if typed.head or ours is None:
        findings.append(_head(evidence, typed.head))
    if ours is not None:
        findings.append(_in_the_ledger(ours, evidence))
    said = [Finding(each.about, each.result, _printable(each.reason)) for each in findings]
    return Verdict(tuple(said), _says(evidence), tuple(_beyond(typed, session, ours, pdf)))


def _printable(text: str) -> str:
    """A sentence that may quote a stranger's file, without anything a terminal would obey."""
    return "".join(character if character.isprintable() else "?" for character in text)


def _says(evidence: Evidence) -> dict[str, str]:
    try:
        subject = credentials.opened(evidence.credential)["credentialSubject"]
    except Refusal:
        return {}
    return {name: value for name, value in subject.items() if isinstance(value, str)}


def _beyond(typed: Typed, session: Session | None, ours: Session | None, pdf: Path) -> Iterator[str]:
    yield from UNSEEN
    if ours is None:
        yield AS_OF
        if session is not None:
            yield "The ledger on this machine has other keys, and was not asked."
        return
    if not typed.head:
        yield NO_HEAD
    if _kept(ours, pdf) is None:
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


def _keys(evidence: Evidence, typed: str, ours: Session | None) -> Finding:
    about, shown = "The keys", evidence.keys.fingerprint
    if not typed:
        if ours is not None:
            return Finding(about, MATCHES, f"They are those this ledger’s record names: {shown}.")
        return Finding(
            about,
            OPEN,
            f"They were compared with nothing, and a stranger can sign with keys of his own: that proves nothing. "
            f"Give the fingerprint printed on the certificate, with --fingerprint. This file’s is {shown}.",
        )
    read = re.sub(r"[\s-]", "", typed).upper().translate(str.maketrans("018", "OIB"))
    if not re.fullmatch(rf"[A-Z2-7]{{{LEAST_SYMBOLS},32}}", read):
        return Finding(about, OPEN, "A fingerprint has 32 letters and figures in eight groups. Look at the paper.")
    if not shown.replace(" ", "").startswith(read):
        return Finding(about, DIFFERS, f"They are not the keys of the fingerprint given. This file’s is {shown}.")
    return Finding(about, MATCHES, "They are the keys of the fingerprint given.")


def _head(evidence: Evidence, typed: str) -> Finding:
    about = "The head on the paper"
    if not typed:
        return Finding(about, OPEN, f"{NO_HEAD} Give the one printed on the certificate, with --head.")
    read = re.sub(r"\s", "", typed).lower()
    if not re.fullmatch(rf"[0-9a-f]{{{LEAST_DIGITS},64}}", read):
        return Finding(about, OPEN, f"A head is {LEAST_DIGITS} to 64 of the figures 0 to 9 and letters a to f.")
    try:
        same = evidence.head.root.hex().startswith(read)
    except Refusal as no:
        return Finding(about, OPEN, no.message)
    if not same:
        return Finding(about, DIFFERS, "It is another than the head in this file: its history is not the paper’s.")
    return Finding(about, MATCHES, "It is the head in this file.")


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
    return Finding("The ledger", MATCHES, f"The certificate stands in its record, which holds {held} entries now.")


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
        "findings": [vars(finding) for finding in verdict.findings],
        "says": verdict.says,
        "beyond": list(verdict.beyond),
    }


def as_lines(verdict: Verdict) -> Iterator[str]:
    """The verdict for a person."""
    yield f"{verdict.result[0].upper()}{verdict.result[1:]}."
    for finding in verdict.findings:
        yield f"  {finding.about}: {finding.result}. {finding.reason}"
    if verdict.says:
        yield "What was signed:"
        yield from (f"  {name}: {value}" for name, value in verdict.says.items())
    yield "What no record can know:"
    yield from (f"  {sentence}" for sentence in verdict.beyond)

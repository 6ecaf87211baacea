"""Papers: from what a certificate says, frozen, to the PDF kept by its hash, and to the label on the back."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from ledger import home, pictures
from ledger.errors import Refusal
from ledger.paper import certificate
from ledger.paper.certificate import CertificateFace, CertificatePages, render
from ledger.paper.label import LabelFacts, LabelSheet, render_labels
from ledger.paper.particulars import Particulars
from ledger.paper.standing import Standing
from ledger.reckoning import codes, dates
from ledger.reckoning.credential import Evidence

CHECK_PATH = "/C/"
Snapshot = dict[str, Any]


def link(snapshot: Snapshot) -> str | None:
    """What the QR code holds, in capitals so that it stays small; None where there is to be none."""
    address = snapshot["address"]
    return f"{address}{CHECK_PATH}{snapshot['code']}".upper() if address else None


def address_in_words(snapshot: Snapshot) -> str | None:
    """The address to type by hand: 'prints.example.org/c'."""
    address: str = snapshot["address"]
    return f"{address.split('://', 1)[1]}/c" if address else None


def check(snapshot: Snapshot) -> None:
    """Make sure that a certificate can be printed before it is issued.

    Raises Refusal for a character the face lacks, and where the words leave no room for the signature.
    """
    certificate.check(pages(snapshot, None), snapshot["paper_size"])


def pages(snapshot: Snapshot, data_dir: Path | None, evidence: Evidence | None = None) -> CertificatePages:
    """Both sides of a certificate as its snapshot has them; without a folder, without the picture.

    With evidence they say where it stands in the record.
    """
    picture = pictures.path_of(data_dir, snapshot["picture"]) if data_dir and snapshot["picture"] else None
    if picture is not None and not picture.is_file():
        raise Refusal("The picture of this work is not in the ledger’s folder. Restore it from a backup first.")
    face = CertificateFace(
        title=snapshot["title"],
        artist=snapshot["artist"],
        year=snapshot["year"],
        number_shown=snapshot["number"],
        facts=tuple((label, value) for label, value in snapshot["facts"]),
        statement=snapshot["statement"],
        place=snapshot["place"],
        issued_on_words=dates.said(date.fromisoformat(snapshot["issued_on"])),
        name_as_signed=snapshot["signed_name"],
        code_grouped=codes.grouped(snapshot["code"]),
        write_to=snapshot["write_to"],
        picture_path=picture,
        picture_px=(snapshot["picture_px"][0], snapshot["picture_px"][1]) if picture else None,
        fixed_sentence=snapshot["fixed_sentence"] or None,
        qr_text=link(snapshot),
        address_words=address_in_words(snapshot),
    )
    second = Particulars(
        items=tuple((label, text) for label, text in snapshot["particulars"]),
        not_applicable=tuple(snapshot["not_applicable"]),
        not_known=tuple(snapshot["not_known"]),
    )
    return CertificatePages(face, second if snapshot["two_sides"] else None, _standing(evidence) if evidence else None)


def _standing(evidence: Evidence) -> Standing:
    head = evidence.head
    return Standing(evidence.proof.index, head.size, head.root, evidence.keys.fingerprint)


Signed = tuple[Snapshot, Evidence | None]
"""What a certificate says, and what proves it where it was signed."""


def certificate_pdf(data_dir: Path, certificates: Sequence[Signed]) -> bytes:
    """One PDF of these certificates, each picture in it once; that of a single one carries what proves it.

    Raises Refusal.
    """
    if not certificates:
        raise Refusal("There is no certificate to print. Choose at least one.")
    first, evidence = certificates[0]
    single = len(certificates) == 1
    return render(
        [pages(snapshot, data_dir, proof) for snapshot, proof in certificates],
        paper=first["paper_size"],
        title=f"Certificate {codes.grouped(first['code'])}" if single else "Certificates",
        files=evidence.files if single and evidence else None,
    )


def keep_certificate(data_dir: Path, snapshot: Snapshot, evidence: Evidence | None) -> str:
    """Draw the paper of one certificate and keep it; its SHA-256 is returned. Raises Refusal."""
    return home.keep_file(data_dir / "papers", certificate_pdf(data_dir, [(snapshot, evidence)]), ".pdf")


def place_of(data_dir: Path, sha256: str) -> Path:
    """Where the paper of this hash lies."""
    return home.place_of(data_dir / "papers", sha256, ".pdf")


def kept(data_dir: Path, sha256: str) -> bytes:
    """A kept paper, byte for byte. Raises Refusal when its file is gone or was changed."""
    return home.kept_file(data_dir / "papers", sha256, ".pdf")


def label_facts(snapshot: Snapshot) -> LabelFacts:
    """The words of the label behind a print: no price. Certificates of long ago say nothing of a mounting."""
    mounting: str = snapshot.get("mounting", "")
    return LabelFacts(
        title=snapshot["title"],
        number_shown=snapshot["number"],
        maker=snapshot["artist"],
        year=snapshot["year"],
        details=(
            f"{snapshot['process']}, {snapshot['paper']}",
            f"Image {snapshot['size']}",
            *([mounting[0].upper() + mounting[1:]] if mounting else []),
        ),
        code_grouped=codes.grouped(snapshot["code"]),
        write_to=snapshot["write_to"],
        care=snapshot["care"],
        qr_text=link(snapshot),
        address_words=address_in_words(snapshot),
    )


def labels_pdf(snapshots: Sequence[Snapshot], sheet: LabelSheet | None, start: int = 1) -> bytes:
    """Labels on a sheet from a start position, or each alone on a page of its own. Raises Refusal."""
    if not snapshots:
        raise Refusal("There is no label to print. Choose at least one print with a certificate.")
    facts = [label_facts(snapshot) for snapshot in snapshots]
    return render_labels(facts, sheet, start) if sheet else render_labels(facts)

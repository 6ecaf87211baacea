"""One certificate's PDF verified against its paper, against a child process that only starts and reads the PDF."""

import subprocess
import sys
from pathlib import Path

from ledger import evidence, papers, verifying
from ledger.database import make_engine, reading
from ledger.keys import hold
from ledger.schema import migrate
from tests.bench.measure import Row, in_turns, ms
from tests.cast import KEYS, certified, made, road


def rows(folder: Path) -> list[Row]:
    engine = make_engine(f"sqlite:///{folder / 'verify.sqlite'}")
    migrate(engine)
    hold(engine, KEYS)
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    with reading(engine) as session:
        proof = evidence.of(session, view.id)
    assert proof is not None
    pdf = papers.place_of(folder, papers.keep_certificate(folder, view.snapshot, proof))
    typed = verifying.Typed(proof.keys.fingerprint, proof.head.root.hex())

    def whole() -> None:
        assert verifying.verify(pdf, typed).result == verifying.MATCHES

    def bare() -> None:
        read = "import sys, pypdf; [*pypdf.PdfReader(sys.argv[1]).attachments.items()]"
        subprocess.run([sys.executable, "-c", read, str(pdf)], check=True)

    def proofs() -> None:
        assert len(list(verifying._of_itself(proof))) == 3

    verified, plain, proved = in_turns(7, whole, bare, proofs)
    engine.dispose()
    return [
        Row("verify one PDF", ms(verified), f"pypdf alone, a process {ms(plain)}", f"{verified / plain:.2f}x", "1.3x"),
        Row("of it, signatures and proof", ms(proved)),
    ]

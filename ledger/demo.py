"""The demonstration: an invented maker's book, replayed through the same acts a real one goes through."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from sqlalchemy import Engine, func
from sqlmodel import col, select

from ledger import certificates, clock, editions, evidence, journal, keys, papers, pictures, reports, studio, works
from ledger.database import reading, writing
from ledger.demo_bench import BENCH
from ledger.demo_story import Replay, moment, scenario
from ledger.demo_trade import TRADE
from ledger.paths import folder
from ledger.reckoning import money
from ledger.tables import Certificate

PASSPHRASE = "this is a demonstration"
"""Of the demonstration's own keys, which sign nothing anybody relies on."""
_ACTS = BENCH | TRADE


def replay(engine: Engine, data_dir: Path, address: str, say: Callable[[str], None]) -> None:
    """Write the whole scenario into an empty ledger, act by act, with progress said.

    `address` is what the QR codes of this demonstration carry. Raises Refusal.
    """
    told = scenario(clock.today())
    acts = sorted(told["acts"], key=lambda act: act["on"])
    first = moment(acts[0]["on"])
    with writing(engine, "demo", at=first) as book:
        studio.open_studio(book, studio.StudioDraft(**told["studio"]))
        studio.change_address(book, address, demo=True)
    keys.hold(engine, keys.make(engine, data_dir, PASSPHRASE, "demo", at=first))
    with ThreadPoolExecutor(1) as beside:  # pictures are made ready in another process while the acts are written
        ready = {
            act["picture"]: beside.submit(pictures.store, data_dir, folder("demo_data") / "pictures" / act["picture"])
            for act in acts
            if "picture" in act
        }
        run = Replay(data_dir, told["studio"]["currency"], ready)
        for at, act in enumerate(acts, start=1):
            _ACTS[act["do"]](engine, run, act)
            if at % 20 == 0 or at == len(acts):
                say(f"  {at} of {len(acts)} acts, to {act['on']}")


def summary(engine: Engine) -> list[str]:
    """What the book holds, and what each edition has left: lines for a terminal."""
    said = []
    with reading(engine) as session:
        currency = studio.currency(session)
        declared = list(reversed(editions.listing(session)))
        issued = session.exec(select(func.count()).select_from(Certificate)).one()
        papers_kept = len(certificates.printed(session))
        for edition in declared:
            left = reports.margin(session, edition.id or 0).with_labour.left
            title = works.get(session, edition.work_id).title
            said.append(f"  {title}: {money.shown(left, currency)} left")
        entries = journal.length(session)
    printed = f"{issued} certificates, {papers_kept} of them printed"
    return [f"{len(declared)} editions, {printed}, {entries} entries in the record", *said]


def to_verify(engine: Engine, data_dir: Path) -> list[str]:
    """What `verify` is told of one certificate: its file, and fingerprint and head as on its face; [] without any."""
    with reading(engine) as session:
        first = select(Certificate).where(col(Certificate.paper_sha256).is_not(None)).order_by(col(Certificate.id))
        certificate = session.exec(first.limit(1)).first()
        proved = evidence.of(session, certificate.id or 0) if certificate else None
    if certificate is None or certificate.paper_sha256 is None or proved is None:
        return []
    fingerprint, head = " ".join(proved.keys.fingerprint.split()[:4]), proved.head.root.hex()[:16]
    paper = papers.place_of(data_dir, certificate.paper_sha256)
    return [str(paper), "--fingerprint", fingerprint, "--head", head]

"""The public folder: what strangers may read, as files. And what they cannot learn from it, tried.

The demonstration is published whole, behind a plain file server and on a disk that sees no difference of case.
"""

import json
import random
import re
import shutil
import threading
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import partial
from hashlib import sha256
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pypdfium2
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader
from sqlalchemy import Engine, func, text
from sqlmodel import col, select

from ledger import (
    audit,
    certificates,
    chance,
    checkpoints,
    checks,
    conditions,
    credentials,
    demo,
    home,
    papers,
    pictures,
    pieces,
    publish,
    studio,
    works,
)
from ledger.certificates import IssueDraft
from ledger.conditions import GiveDraft
from ledger.database import reading
from ledger.errors import Refusal
from ledger.evidence import Place
from ledger.keys import hold
from ledger.publish import Published
from ledger.reckoning import codes, merkle
from ledger.reckoning.notes import Checkpoint, read_checkpoint, read_proof
from ledger.sale_drafts import BuyerDraft
from ledger.signing import open_note, sign_note
from ledger.tables import Certificate, Edition, Person, Piece, PrintClass, SaleLine
from ledger.web.static_pages import StaticPages
from tests import elsewhere
from tests.cast import BUYER, KEYS, MAY_4, TITLE, acting, certified, made, refused, road
from tests.conftest import quick_engine
from tests.test_auditor import ask
from tests.trade import lend, sell, to, told, ways

JUNE = date(2026, 6, 2)
SEALS = re.compile(r'"commitments":\{[^}]*\}')


def put_out(engine: Engine, place: Path, on: date = MAY_4, data_dir: Path | None = None) -> Published:
    return publish.publish(engine, data_dir or place.parent, place, StaticPages, on, lambda _: None)


def files(place: Path) -> dict[str, bytes]:
    return {path.relative_to(place).as_posix(): path.read_bytes() for path in place.rglob("*") if path.is_file()}


def page_of(place: Path, code: str) -> str:
    return re.sub(r"\s+", " ", (place / "C" / code / "index.html").read_text())


@pytest.fixture
def issued(sqlite_engine: Engine) -> list[str]:
    """The codes of 7/25 and 8/25."""
    road(sqlite_engine)
    return [certified(sqlite_engine, piece_id).code for piece_id in made(sqlite_engine, 7, 8)]


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "public"


# --- what is there ---


def test_the_page_of_a_certificate_lies_where_its_square_leads_and_says_what_the_live_one_does(
    sqlite_engine: Engine, issued: list[str], place: Path
) -> None:
    put_out(sqlite_engine, place)
    page = page_of(place, issued[0])
    for words in (
        *("In the record", "Certificate for number 7 of 25. Compare the print in front of you.", TITLE),
        *("A copied certificate shows this page too", "2 Quern Slip, Saltrigg", "A slip to print and post"),
    ):
        assert words in page
    assert 'As of <time id="as-of" datetime="2026-05-04">4 May 2026</time>. Later changes are not on this page.' in page
    assert "<form" not in page


def test_whoever_owns_a_print_or_asks_about_one_finds_an_email_ready(
    sqlite_engine: Engine, issued: list[str], place: Path
) -> None:
    put_out(sqlite_engine, place)
    assert "mailto:" not in page_of(place, issued[0])
    with acting(sqlite_engine) as book:
        owner = studio.the_studio(book.session)
        lines = {"maker_name": owner.maker_name, "address": owner.address, "place": owner.place}
        studio.change_studio(book, studio.StudioDraft(**lines, contact_line="Write to book@prints.example, or call"))
    put_out(sqlite_engine, place)
    page = page_of(place, issued[0])
    for words in ("I own this print now", "Ask about a print"):
        link = re.search(rf'href="(mailto:[^"]*)">{words}<', page)
        assert link is not None
        assert link[1].startswith("mailto:book@prints.example?subject=")
        assert f"7/25%2C%20certificate%20{issued[0][:4]}%20" in link[1]


@pytest.mark.parametrize(("what", "first_words"), [
    ("void", "Void: no longer stands"), ("reissue", "Replaced: no longer stands"),
])  # fmt: skip
def test_a_certificate_that_stands_no_more_keeps_its_page_and_the_rest_is_not_written_again(
    sqlite_engine: Engine, issued: list[str], place: Path, what: str, first_words: str
) -> None:
    put_out(sqlite_engine, place)
    before = (place / "C" / issued[1] / "index.html").stat()
    with acting(sqlite_engine, JUNE) as book:
        found = certificates.by_code(book.session, issued[0])
        assert found is not None
        if what == "void":
            certificates.void(book, found.id, "the name was wrong")
        else:
            certificates.reissue(book, found.id, IssueDraft(reason="the paper was lost"))
    put_out(sqlite_engine, place, JUNE)
    page = page_of(place, issued[0])
    assert first_words in page and "on 2 June 2026" in page
    after = (place / "C" / issued[1] / "index.html").stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


def test_a_new_day_alone_changes_one_small_file(sqlite_engine: Engine, issued: list[str], place: Path) -> None:
    first = put_out(sqlite_engine, place)
    assert (first.certificates, first.same) == (2, 0)
    again = put_out(sqlite_engine, place, JUNE)
    assert (again.changed, again.same, again.gone) == (1, first.changed - 1, 0)
    assert "2 June 2026" in (place / "look" / "as-of.js").read_text()


def test_the_record_is_there_byte_for_byte_with_its_signed_head_and_proofs(
    sqlite_engine: Engine, issued: list[str], place: Path
) -> None:
    put_out(sqlite_engine, place)
    lines = (place / "journal" / "entries.jsonl").read_bytes().splitlines()
    head = read_checkpoint(open_note((place / "journal" / "checkpoint").read_text(), KEYS.note_key))
    assert merkle.root(map(merkle.leaf_hash, lines[: head.size])) == head.root
    proved = {int(path.name): read_proof(path.read_text()) for path in (place / "journal" / "proof").iterdir()}
    assert {json.loads(lines[seq])["code_sha256"] for seq in proved} == set(map(certificates.code_sha256, issued))
    for seq, proof in proved.items():
        under = read_checkpoint(open_note(proof.note, KEYS.note_key))
        assert merkle.included(merkle.leaf_hash(lines[seq]), seq, under.size, proof.hashes, under.root)
    assert KEYS.public.fingerprint in (place / "journal" / "keys.txt").read_text()


def test_what_was_signed_lies_beside_its_page_with_the_way_to_its_proof(
    sqlite_engine: Engine, issued: list[str], place: Path
) -> None:
    """For whoever has the paper and lost the file: with record and keys these are all that the PDF carries."""
    put_out(sqlite_engine, place)
    lines = (place / "journal" / "entries.jsonl").read_bytes().splitlines()
    for code in issued:
        links = re.findall(r'href="([^"]*)"', page_of(place, code))
        text, proof = ((place / "C" / code / next(link for link in links if end in link)).read_bytes() for end in (
            "credential.json", "journal/proof/",
        ))  # fmt: skip
        assert credentials.opened(text)["credentialSubject"]["certificate"] == code
        entry = lines[read_proof(proof.decode()).index]
        assert json.loads(entry)["credential_sha256"] == sha256(text).hexdigest()
        assert f"Signed, entry {json.loads(entry)['seq']} of the record." in page_of(place, code)


def test_the_page_of_a_certificate_from_before_signing_says_so_and_offers_no_signed_text(
    sqlite_engine: Engine, issued: list[str]
) -> None:
    with reading(sqlite_engine) as session:
        found = checks.check(session, issued[0])
    assert found is not None
    draw = StaticPages(publish.Facts("Ines", "", "", "", MAY_4))
    page = draw.certificate(replace(found, place=Place(12, signed=False)), with_picture=False).decode()
    assert "Issued before signing began, entry 12 of the record; a reissue signs it." in page
    assert "credential.json" not in page


def test_the_picture_is_there_once_and_one_that_is_lost_is_told(
    sqlite_engine: Engine, place: Path, tmp_path: Path
) -> None:
    road(sqlite_engine)
    Image.new("RGB", (300, 200), "grey").save(tmp_path / "image.png")
    stored = pictures.store(tmp_path, tmp_path / "image.png")
    both = made(sqlite_engine, 7, 8)
    with acting(sqlite_engine) as book:
        works.keep_picture(book, 1, stored)
        found = [certificates.issue(book, piece).code for piece in both]
    assert put_out(sqlite_engine, place).warnings == []
    assert [path.name for path in (place / "pictures").iterdir()] == [f"{stored.show_sha256}.jpg"]
    assert f'src="../../pictures/{stored.show_sha256}.jpg"' in page_of(place, found[0])
    pictures.path_of(tmp_path, stored.show_sha256).unlink()
    assert put_out(sqlite_engine, place).warnings == [f"The picture of {TITLE} is not in the ledger’s folder."]
    assert "<img" not in page_of(place, found[0])


def test_papers_of_a_former_address_are_led_on_to_the_present_one(
    sqlite_engine: Engine, issued: list[str], place: Path
) -> None:
    with acting(sqlite_engine, JUNE) as book:
        studio.change_address(book, "https://new.example.org")
    later = certified(sqlite_engine, made(sqlite_engine, 9)[0], JUNE)
    put_out(sqlite_engine, place)
    former = place / "former" / "prints.example.org"
    assert {path.name for path in (former / "C").iterdir() if path.is_dir()} == set(issued)
    assert later.code not in issued
    page = (former / "C" / issued[0] / "index.html").read_text()
    assert f'content="0; url=https://new.example.org/C/{issued[0]}/"' in page


# --- refused ---


def test_nothing_is_published_before_the_first_certificate(sqlite_engine: Engine, place: Path) -> None:
    road(sqlite_engine)
    with refused("nothing for strangers to check"):
        put_out(sqlite_engine, place)
    assert not place.exists()


def test_nothing_is_published_of_a_record_that_does_not_match_and_the_earlier_folder_stays(
    sqlite_ledger: Engine, place: Path
) -> None:
    road(sqlite_ledger)
    certified(sqlite_ledger, made(sqlite_ledger, 7)[0])
    put_out(sqlite_ledger, place)
    before = files(place)
    with sqlite_ledger.execution_options(writer=True).begin() as connection:
        connection.execute(text("DROP TRIGGER journal_no_update"))
    with refused("The record does not match"):
        put_out(sqlite_ledger, place)
    assert files(place) == before


def written_anew(engine: Engine, table: str, change: str) -> None:
    """A row changed by somebody who knows how to put the guards back."""
    with engine.execution_options(writer=True).begin() as connection:
        guards = connection.execute(
            text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = :table"), {"table": table}
        ).all()
        for name, _ in guards:
            connection.execute(text(f"DROP TRIGGER {name}"))
        connection.exec_driver_sql(f"UPDATE {table} SET {change}")
        for _, guard in guards:
            connection.execute(text(guard))


@pytest.mark.parametrize(("table", "change", "words"), [
    ("journal", "body = CAST(replace(body, 'GBP', 'EUR') AS BLOB) WHERE seq < 3", "entry 0 does not match its hash"),
    ("journal", "body = CAST(replace(body, 'ate\":\"void', 'ate\":\"valid') AS BLOB)", "does not match its hash"),
    ("checkpoint", "note = replace(note, char(10) || '— ', char(10) || '— x')", "signed by no key that is known"),
    ("work", "title = 'Forty Minutes of Rain'", "title of row 1 of work is not what entry"),
    ("studio", "maker_name = 'Somebody Else'", "maker_name of row 1 of studio"),
    ("correction", "new = 'Forty Minutes of Rain'", "new of row 1 of correction"),
    ("certificate", "state = 'valid'", "state of row 1 of certificate"),
    ("certificate", "issued_on = '2020-01-01'", "issued_on of row 1 of certificate"),
    ("certificate", "snapshot = CAST(replace(snapshot, '7/25', '8/25') AS BLOB)", "snapshot of row 1 of certificate"),
    ("certificate", "credential = NULL", "credential of row 1 of certificate"),
    ("certificate", "credential = CAST(replace(credential, '7/25', '8/25') AS BLOB)", "credential of row 1 of"),
    ("event", "happened_on = '2020-01-01' WHERE kind = 'voided'", "happened_on of row"),
    ("event", "entry_seq = entry_seq - 1 WHERE kind = 'certified'", "entry_seq of row"),
])  # fmt: skip
def test_nothing_is_published_of_a_book_that_is_not_as_the_signed_record_has_it(
    sqlite_ledger: Engine, place: Path, table: str, change: str, words: str
) -> None:
    """Each of these rows shows on a page or in a file that strangers read; the guards are back in their places."""
    road(sqlite_ledger)
    first, second = made(sqlite_ledger, 7, 9)
    void, _ = certified(sqlite_ledger, first), certified(sqlite_ledger, second)
    with acting(sqlite_ledger) as book:
        certificates.void(book, void.id, "the name was wrong")
        works.correct(book, 1, "title", "Forty Minutes of the Road", "a word was left out")
    put_out(sqlite_ledger, place)
    before = files(place)
    written_anew(sqlite_ledger, table, change)
    with refused("The record does not match") as no:
        put_out(sqlite_ledger, place)
    assert words in no.value.message
    assert files(place) == before


def test_nothing_is_published_of_an_older_ledger_put_in_place_of_the_newer(
    sqlite_engine: Engine, issued: list[str], place: Path, tmp_path: Path
) -> None:
    with reading(sqlite_engine) as session:
        head = read_checkpoint(open_note(checkpoints.latest(session).note, KEYS.note_key))
    newer = Checkpoint(head.origin, head.size + 50, head.root).text
    (tmp_path / home.NEWEST_HEAD).write_text(sign_note(newer, KEYS.origin, KEYS.journal))
    with refused("an older ledger was put back"):
        put_out(sqlite_engine, place)
    assert not place.exists()


# --- what a reader cannot learn ---


def test_no_file_gives_away_a_code_but_its_own_page(sqlite_engine: Engine, issued: list[str], place: Path) -> None:
    """Whoever reads the record must not learn the codes of others, nor find a list of them in a folder."""
    put_out(sqlite_engine, place)
    for path, data in files(place).items():
        if not path.startswith("C/") or path == "C/index.html":
            said = re.sub(rb"[\s-]", b"", data).upper()
            assert not any(code.encode() in said for code in issued), path
    assert (place / "C" / "index.html").is_file()


def built(engine: Engine, monkeypatch: pytest.MonkeyPatch, place: Path, sold: tuple[int, ...]) -> dict[str, bytes]:
    """Eight prints, certified; four of them sold, through a fair, a gallery, by hand, and given. Published."""
    with monkeypatch.context() as patch:
        patch.setattr(chance, "below", random.Random(25).randrange)
        road(engine)
        ids = dict(zip(range(1, 9), made(engine, *range(1, 9)), strict=True))
        for piece_id in ids.values():
            certified(engine, piece_id)
        by = ways(engine)
        fair, gallery, studio_door, given = (ids[number] for number in sold)
        sell(engine, by.fair, fair, buyer=to(BUYER), paid_by="card")
        note = lend(engine, by.kelpstane, told(gallery, 9000))
        sell(engine, by.gallery, gallery, consignment_id=note, buyer=BuyerDraft(shown="private"))
        sell(engine, by.studio, studio_door, paid_by="cash")
        with acting(engine) as book:
            conditions.give(book, given, GiveDraft(how="gift", name="Jory Pellow"))
        put_out(engine, place)
    return files(place)


def test_two_ledgers_that_differ_in_what_was_sold_publish_the_same(
    sqlite_engine: Engine, empty_ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copyfile(empty_ledger, tmp_path / "other.sqlite")
    other_engine = quick_engine(tmp_path / "other.sqlite")
    hold(other_engine, KEYS)
    one = built(sqlite_engine, monkeypatch, tmp_path / "one", (1, 2, 3, 4))
    other = built(other_engine, monkeypatch, tmp_path / "other", (8, 6, 7, 5))
    other_engine.dispose()
    assert one.keys() == other.keys()
    for path in one:
        mine, theirs = one[path].decode(), other[path].decode()
        if path == "journal/entries.jsonl":
            assert SEALS.sub("", mine) == SEALS.sub("", theirs)
        elif path.startswith("journal/") and path != "journal/keys.txt":
            assert len(mine) == len(theirs)  # hashes over sealed values, and signatures over those
        else:
            assert mine == theirs, path


class OfAFolder(SimpleHTTPRequestHandler):
    """A plain file server; with `caseless`, over a disk whose names are all small letters. 404.html as hosts do."""

    caseless = False

    def translate_path(self, path: str) -> str:
        return super().translate_path(path.lower() if self.caseless else path)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        page = Path(self.directory) / "404.html"
        if code != 404 or not page.is_file():
            return super().send_error(code, message, explain)
        self.send_response(404)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.end_headers()
        self.wfile.write(page.read_bytes())
        return None

    def log_message(self, *_: object) -> None:
        pass


class Caseless(OfAFolder):
    caseless = True


def serving(handler: type[OfAFolder], place: Path) -> ThreadingHTTPServer:
    place.mkdir(exist_ok=True)
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(handler, directory=str(place)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server


class Demo:
    """The demonstration, published, and the server at the address its papers carry."""

    def __init__(self, opened: home.Home, place: Path, address: str) -> None:
        self.engine, self.data_dir, self.place, self.address = opened.engine, opened.folder, place, address

    def papers(self) -> list[bytes]:
        with reading(self.engine) as session:
            return [papers.kept(self.data_dir, sha256) for sha256 in certificates.printed(session)]


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("shown")
    server = serving(OfAFolder, folder / "public-served")
    address = f"http://127.0.0.1:{server.server_port}"
    with home.opened(folder / "ledger") as opened:
        demo.replay(opened.engine, opened.folder, address, lambda _: None)
        (folder / "public-served").rmdir()
        put_out(opened.engine, folder / "public-served", date(2026, 12, 1), opened.folder)
        yield Demo(opened, folder / "public-served", address)
    server.shutdown()


def test_the_published_demonstration_holds_no_buyer_price_or_place(shown: Demo) -> None:
    with reading(shown.engine) as session:
        people = session.exec(select(Person)).all()
        prices = set(session.exec(select(SaleLine.price_minor)).all())
        owner = studio.the_studio(session)
    own = f"{owner.maker_name} {owner.address} {owner.place}"
    words = {word for person in people for word in (person.name, person.town) if word and word not in own}
    words |= {f"{price // 100}.{price % 100:02}" for price in prices} | {"£", "Harbour"}
    assert len(words) > 20
    for path, data in files(shown.place).items():
        if not path.endswith(".jpg") and not path.startswith("look/"):
            said = data.decode()
            assert not [word for word in words if word in said], path


def test_a_reader_can_say_of_no_number_whether_it_was_sold(shown: Demo) -> None:
    """The reader tries all there is: each page but for number, code and day, and all the record says of a number."""
    with reading(shown.engine) as session:
        rows = session.exec(
            select(Certificate, col(SaleLine.id).is_not(None))
            .outerjoin(SaleLine, (col(SaleLine.piece_id) == Certificate.piece_id) & (col(SaleLine.outcome) == "sold"))
            .where(Certificate.state == "valid")
        ).all()
    entries = [json.loads(line) for line in (shown.place / "journal" / "entries.jsonl").read_text().splitlines()]
    alike: dict[tuple[Any, ...], list[bool]] = defaultdict(list)
    for certificate, sold in rows:
        said = json.loads(certificate.snapshot)
        if said["generation"] == 1:
            alike[said["edition"], said["class"], _masked(shown, said), _recorded(entries, said)].append(bool(sold))
    told_apart = defaultdict(int)
    for edition, kind, *_ in alike:
        told_apart[edition, kind] += 1
    assert set(told_apart.values()) == {1}, "two prints of one edition can be told apart"
    assert sum(set(each) == {True, False} for each in alike.values()) >= 2, "nothing to guess in this demonstration"


def _masked(shown: Demo, said: dict[str, Any]) -> str:
    page = page_of(shown.place, said["code"])
    spaced = " ".join(said["code"][at : at + 4] for at in range(0, 16, 4))
    for own in (spaced, spaced.replace(" ", "%20"), f"number {said['n']} of"):
        page = page.replace(own, "...")
    return re.sub(r"issued \d+ \w+ \d{4}|\b\d+/\d+\b|entry \d+ of the record|journal/proof/\d+", "...", page)


def _recorded(entries: list[dict[str, Any]], said: dict[str, Any]) -> tuple[Any, ...]:
    mine = {"edition": said["edition"], "class": said["class"], "number": said["n"]}
    code = certificates.code_sha256(said["code"])
    own = {"seq", "at", "on", "number", "inscription", "code_sha256", "snapshot_sha256", "paper_sha256"} | {
        "credential_sha256"
    }
    return tuple(
        tuple(sorted((key, str(value)) for key, value in each.items() if key not in own))
        for each in entries
        if mine.items() <= each.items() or each.get("code_sha256") == code
    )


def test_the_auditor_reads_the_demonstration_over_the_web_and_counts_what_the_book_counts(shown: Demo) -> None:
    status, said = ask(shown.place, place=shown.address)
    assert (status, said[-1]) == (2, "As a whole: could not be checked.")
    assert not [line for line in said if line.startswith("does not match")]
    with reading(shown.engine) as session:
        assert audit.audit(session) == []
        for edition in session.exec(select(Edition)):
            main = pieces.find_class(session, edition.id or 0, "numbered")
            given = select(func.count()).where(Piece.class_id == main.id, Piece.state == "inscribed", col(Piece.latest))
            counted = next(line for line in said if line.startswith(f"  edition {edition.id},"))
            assert f" {session.exec(given).one()} given; " in counted
            issued = (
                select(func.count())
                .select_from(Certificate)
                .join(Piece, col(Piece.id) == Certificate.piece_id)
                .join(PrintClass, col(PrintClass.id) == Piece.class_id)
                .where(PrintClass.edition_id == edition.id)
            )
            assert f" {session.exec(issued).one()} certificates issued, " in counted


def test_every_paper_of_the_demonstration_holds_for_libraries_and_commands_that_are_not_ours(
    shown: Demo, tmp_path: Path
) -> None:
    carried = [
        {name: data[0] for name, data in PdfReader(BytesIO(paper)).attachments.items()} for paper in shown.papers()
    ]
    assert len(carried) > 20
    assert all(elsewhere.by_libraries(each) for each in carried)
    said = (shown.place / "journal" / "keys.txt").read_text().replace(" ", "")
    for each in carried[::8]:
        told = elsewhere.by_commands(each, tmp_path)
        assert told.holds, told
        assert f"fingerprint{told.fingerprint}\n" in said


def test_every_paper_of_the_demonstration_matches_what_was_published_beside_its_page(shown: Demo) -> None:
    """Whoever has the record and the page needs no PDF: the same four files lie there."""
    for paper in shown.papers():
        carried = {name: data[0] for name, data in PdfReader(BytesIO(paper)).attachments.items()}
        said = json.loads(carried["entry.json"])
        code = json.loads(carried["credential.json"])["credentialSubject"]["certificate"]
        assert (shown.place / "C" / code / "credential.json").read_bytes() == carried["credential.json"]
        assert (shown.place / "journal" / "proof" / str(said["seq"])).read_bytes() == carried["proof.tlog-proof"]
        assert carried["entry.json"] in (shown.place / "journal" / "entries.jsonl").read_bytes().splitlines()


# --- in a browser ---


def squares(demo: Demo) -> list[str]:
    found = []
    for paper in demo.papers():
        image = pypdfium2.PdfDocument(paper)[0].render(scale=150 / 72).to_pil()
        found.append(zxingcpp.read_barcodes(image)[0].text)
    return found


def opens(page: Any, address: str) -> str:
    page.goto(address)
    page.wait_for_function("window.published && document.getElementById('as-of').textContent === '1 December 2026'")
    return str(page.inner_text("main"))


@pytest.mark.browser
def test_every_square_of_the_demonstration_opens_its_page_on_a_plain_host(
    shown: Demo, browser: Any, tmp_path: Path
) -> None:
    found = squares(shown)
    assert len(found) > 20
    caseless = serving(Caseless, _small_letters(shown.place, tmp_path / "caseless"))
    page = browser.new_page()
    try:
        for link in found:
            code = link.rsplit("/", 1)[1]
            for address in (link, link.replace(shown.address.upper(), f"http://127.0.0.1:{caseless.server_port}")):
                said = opens(page, address)
                assert "Code read: " in said
                assert code in said.replace(" ", "")
                assert page.evaluate("[...document.images].every(one => one.naturalWidth > 0)")
                assert page.evaluate("getComputedStyle(document.querySelector('.verdict')).borderTopWidth") == "6px"
    finally:
        page.close()
        caseless.shutdown()


def _small_letters(place: Path, copy: Path) -> Path:
    """As on a disk that sees no case: `C` and `c` are one folder. What would meet there must be the same."""
    for path, data in files(place).items():
        target = copy / path.lower()
        assert not target.exists() or target.read_bytes() == data, path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    return copy


@pytest.mark.browser
def test_a_code_typed_by_hand_opens_its_page_from_a_host_and_from_a_memory_stick(shown: Demo, browser: Any) -> None:
    code = squares(shown)[0].rsplit("/", 1)[1]
    typed = f" {code[:4].lower()}-{code[4:8]} {code[8:]}".replace("0", "o").replace("1", "l")
    page = browser.new_page()
    on_the_stick = [(shown.place / name).as_uri() for name in ("index.html", "c/index.html")]
    for box in (f"{shown.address}/c/", *on_the_stick):
        page.goto(box)
        page.fill("#f-code", typed)
        with page.expect_navigation():
            page.click("button")
        page.wait_for_load_state()
        assert page.inner_text("h1") == "In the record"
    page.close()


@pytest.mark.browser
def test_a_code_with_a_slip_is_told_so_before_the_host_is_asked(shown: Demo, browser: Any) -> None:
    code = squares(shown)[0].rsplit("/", 1)[1]
    wrong = code[:-1] + ("2" if code[-1] != "2" else "3")
    page = browser.new_page()
    page.goto(f"{shown.address}/c/")
    for typed in ("hello", "U" + code[1:], wrong, ""):
        page.fill("#f-code", typed)
        page.click("button")
        with pytest.raises(Refusal) as no:
            codes.read(typed)
        said = page.evaluate("document.getElementById('f-code').validationMessage")
        assert said == re.sub("^The .* character, (“.”),", r"\1", no.value.message) and page.url.endswith("/c/")
    page.fill("#f-code", code)
    page.click("button")
    page.wait_for_url(f"**/C/{code}/")
    page.close()


@pytest.mark.browser
def test_papers_of_a_former_address_lead_to_their_pages_at_the_present_one(
    sqlite_engine: Engine, tmp_path: Path, browser: Any
) -> None:
    """The folder under `former/` laid at the former address, on a host that knows nothing else."""
    road(sqlite_engine)
    old, new = (serving(OfAFolder, tmp_path / name) for name in ("old", "new"))
    former, present = (f"http://127.0.0.1:{server.server_port}" for server in (old, new))
    with acting(sqlite_engine) as book:
        studio.change_address(book, former, demo=True)
    view = certified(sqlite_engine, made(sqlite_engine, 7)[0])
    with acting(sqlite_engine, JUNE) as book:
        studio.change_address(book, present, demo=True)
    (tmp_path / "new").rmdir()
    put_out(sqlite_engine, tmp_path / "new", date(2026, 12, 1))
    shutil.copytree(
        tmp_path / "new" / "former" / urlsplit(former).netloc.replace(":", "-"), tmp_path / "old", dirs_exist_ok=True
    )
    page = browser.new_page()
    for path, heading in (
        (f"/C/{view.code}", "In the record"),
        ("/c/", "Check a certificate"),
        ("/", "Check a certificate"),
    ):
        page.goto(former + path)
        page.wait_for_url(f"{present}/**")
        assert page.inner_text("h1") == heading
    page.goto(str(papers.link(view.snapshot)))
    page.wait_for_url(f"{present}/C/{view.code}/")
    page.close()
    for server in (old, new):
        server.shutdown()


@pytest.mark.browser
def test_an_address_in_small_letters_is_led_to_the_page_and_an_unknown_code_is_not_in_the_record(
    shown: Demo, browser: Any
) -> None:
    code = squares(shown)[0].rsplit("/", 1)[1]
    page = browser.new_page()
    page.goto(f"{shown.address}/c/{code.lower()}")
    page.wait_for_url(f"**/C/{code}/")
    assert page.inner_text("h1") == "In the record"
    page.goto(f"{shown.address}/C/{code[::-1]}")
    assert page.inner_text("h1") == "Not in the record"
    assert page.input_value("#f-code").replace(" ", "") == code[::-1]
    assert "A certificate issued after the day below is not here yet" in page.inner_text("main")
    page.close()

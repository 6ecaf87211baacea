"""The journal: what the world may read of it, what stays sealed, and that it tells nobody which print was sold."""

import hashlib
import hmac
import json
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlmodel import Session, col, select

from ledger import (
    certificates,
    chance,
    conditions,
    declarations,
    editions,
    journal,
    keys,
    numbers,
    people,
    promises,
    sale_lines,
    studio,
    works,
)
from ledger.conditions import GiveDraft, ReplaceDraft
from ledger.database import make_engine, reading
from ledger.reckoning.canonical import canonical
from ledger.sale_lines import ReturnDraft
from ledger.tables import Journal, Secret
from tests.cast import (
    BUYER,
    KEYS,
    SECOND_BUYER,
    STUDIO,
    acting,
    certified,
    declared,
    drawer,
    made,
    offer,
    opened,
    person,
    promise,
    road,
    seen,
)
from tests.conftest import check_the_books
from tests.trade import sell, to, ways

PUBLIC = {
    "studio.opened": {"maker", "currency"},
    "key.added": {"issuer", "journal", "fingerprint"},
    "work.added": {"work", "title", "artist", "year_made", "medium", "artist_born"},
    "work.corrected": {"work", "field", "old", "new"},
    "edition.declared": {
        "edition",
        "work",
        "ordinal",
        "edition_kind",
        "statement",
        "later_editions",
        "declared_on",
        "classes",
        "sizes",
        "answers",
    },
    "edition.withdrawn": {"edition"},
    "edition.closed": {"edition", "never_made"},
    "piece.inscribed": {"edition", "class", "number", "generation", "size", "inscription", "origin", "on"},
    "piece.uninscribed": {"edition", "class", "number", "generation"},
    "piece.spoilt": {"edition", "class", "number", "generation"},
    "piece.withdrawn": {"edition", "class", "number", "generation"},
    "piece.destroyed": {"edition", "class", "number", "generation"},
    "piece.replaced": {"edition", "class", "number", "generation"},
    "certificate.issued": {
        "edition",
        "class",
        "number",
        "generation",
        "code_sha256",
        "snapshot_sha256",
        "credential_sha256",
    },
    "certificate.printed": {"code_sha256", "paper_sha256"},
    "certificate.superseded": {"code_sha256", "state"},
    "certificate.suspended": {"code_sha256", "state"},
    "certificate.restored": {"code_sha256", "state"},
    "certificate.void": {"code_sha256", "state"},
}
"""Every public kind, and all it may say."""
SECRETS = ("coffee", "drawer", "notary", "worn", "friend", "birthday", "frames", BUYER, "Kelpstane", "6500")


def entries(engine: Engine) -> list[dict[str, Any]]:
    with reading(engine) as session:
        bodies = session.exec(select(Journal.body).order_by(col(Journal.seq))).all()
    return [json.loads(body) for body in bodies]


def one_of_everything(engine: Engine) -> None:
    """A book in which every public kind happened, with free text wherever it can be typed."""
    wrong = road(engine, count=52)
    with acting(engine) as book:
        declarations.withdraw(book, wrong, "typed over coffee")
        works.correct(book, 1, "medium", "Photographs", "said so over coffee")
        studio.change_studio(book, STUDIO.model_copy(update={"place": "Kelpstane"}))
    edition = declared(engine)
    ids = made(engine, 1, 2, 3, 4, 5, edition=edition)
    views = [certified(engine, piece_id) for piece_id in ids[2:]]
    tarn = person(engine, note="oak frames")
    with acting(engine) as book:
        numbers.uninscribe(book, ids[0])
        numbers.spoil(book, ids[1])
        numbers.allocate(book, edition, numbers=[20], reason="for a friend")
        certificates.keep_paper(book, views[0].id, "ab" * 32)
        certificates.reissue(book, views[0].id, certificates.IssueDraft(reason="coffee on it"))
        conditions.missing(book, ids[3], "not in the drawer")
        conditions.found(book, ids[3], "in the other drawer")
        conditions.give(book, ids[3], GiveDraft(how="gift", person_id=tarn, note="birthday"))
        conditions.damage(book, ids[4], f"{BUYER} bent it")
        conditions.destroy(book, ids[4], f"coffee; {BUYER} saw it")
        conditions.replace(book, ids[4], ReplaceDraft(sworn="before a notary"))
        numbers.close(book, edition, "24-25", "the plate is worn")
        editions.new_offer(book, 2, offer((1, 8800)))
    sell(engine, ways(engine).studio, ids[2], buyer=to(BUYER))


def test_public_entries_say_what_they_may_and_nothing_of_anybody(engine: Engine) -> None:
    one_of_everything(engine)
    said = entries(engine)
    assert {entry["kind"] for entry in said} == {*PUBLIC, "sealed"}
    for place, entry in enumerate(said):
        assert entry["seq"] == place
        fields = entry.keys() - {"seq", "kind", "at"}
        if entry["kind"] == "sealed":
            assert fields == {"commitments"}
            assert {key: len(seal) for key, seal in entry["commitments"].items()} == {"facts": 64, "person": 64}
        else:
            assert fields <= PUBLIC[entry["kind"]], entry
    world = re.sub(r"\b[0-9a-f]{64}\b", "", json.dumps(said, ensure_ascii=False))  # a hash may hold any figures
    for word in SECRETS:
        assert word not in world


def test_a_sealed_entry_can_be_opened_by_whoever_holds_the_salt(engine: Engine) -> None:
    """HMAC-SHA256 over the value in its context, worked out here without the journal's own help."""
    one_of_everything(engine)
    sealed = {entry["seq"]: entry["commitments"] for entry in entries(engine) if entry["kind"] == "sealed"}
    with reading(engine) as session:
        kept = session.exec(select(Secret)).all()
    assert {(row.entry_seq, row.field) for row in kept} == {
        (seq, field) for seq in sealed for field in ("facts", "person")
    }
    for row in kept:
        context = f'{{"context":"{row.entry_seq}/{row.field}","value":'.encode() + row.value + b"}"
        seal = hmac.new(row.salt, context, hashlib.sha256).hexdigest()
        assert sealed[row.entry_seq][row.field] == seal
        assert len(row.salt) == 32
    assert len({row.salt for row in kept}) == len(kept)


def test_facts_hold_ids_and_figures_and_no_free_text(engine: Engine) -> None:
    one_of_everything(engine)
    with reading(engine) as session:
        facts = [row.value.decode() for row in session.exec(select(Secret).where(Secret.field == "facts"))]
    told = "\n".join(facts)
    for word in ("coffee", "drawer", "notary", "worn", "friend", "birthday", "frames", BUYER, "Kelpstane"):
        assert word not in told


def test_an_entry_without_a_name_looks_like_one_with_a_name(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        numbers.allocate(book, 1)
        numbers.allocate(book, 1, numbers=[9], reason="asked for")
    without, with_reason, _ = entries(engine)[-3:]
    assert without.keys() == with_reason.keys()
    with reading(engine) as session:
        values = [
            json.loads(row.value)
            for row in session.exec(select(Secret).where(Secret.field == "person").order_by(col(Secret.entry_seq)))
        ]
    assert len(values[-3]["none"]) == 64 and values[-2] == {"reason": "asked for"}


def test_the_same_person_in_two_entries_is_sealed_differently(engine: Engine) -> None:
    opened(engine)
    person(engine)
    person(engine)
    first, second = (entry["commitments"]["person"] for entry in entries(engine)[-2:])
    assert first != second


def test_entered_numbers_are_told_without_a_day(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    told = [entry for entry in entries(engine) if entry["kind"] == "piece.inscribed"]
    assert len(told) == 40
    assert all(entry["origin"] == "entered" and "on" not in entry for entry in told)
    sold = {k: v for k, v in told[0].items() if k not in ("seq", "at")}
    in_hand = {k: v for k, v in told[-1].items() if k not in ("seq", "at")}
    assert sold.keys() == in_hand.keys()


def world_sees(engine: Engine) -> list[dict[str, Any]]:
    """The public entries as anybody sees them, times and sealed values aside."""
    return [
        {field: said for field, said in entry.items() if field not in ("at", "commitments")}
        for entry in entries(engine)
    ]


class Dice:
    """Chance that falls the same way in both books, so that codes can be compared."""

    def __init__(self) -> None:
        self.thrown = 0

    def below(self, top: int) -> int:
        self.thrown += 1
        return int.from_bytes(hashlib.sha256(str(self.thrown).encode()).digest()) % top


@pytest.fixture
def other_book(empty_ledger: Path, tmp_path: Path) -> Iterator[Engine]:
    """A second ledger, on SQLite whatever the first one is on."""
    path = tmp_path / "other.sqlite"
    shutil.copyfile(empty_ledger, path)
    made_here = make_engine(f"sqlite:///{path}")
    keys.hold(made_here, KEYS)
    yield made_here
    check_the_books(made_here)
    made_here.dispose()


def ten_certified(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    monkeypatch.setattr(chance, "below", Dice().below)
    road(engine)
    ids = made(engine, *range(1, 11))
    for piece_id in ids:
        certified(engine, piece_id)
    return ids


def sold_are(*numbered: int) -> Callable[[Engine, pytest.MonkeyPatch], None]:
    def happen(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
        ids = ten_certified(engine, monkeypatch)
        channel = ways(engine).studio
        for number, buyer in zip(numbered, (BUYER, SECOND_BUYER), strict=True):
            sell(engine, channel, ids[number - 1], buyer=to(buyer), paid_by="cash")
        numbers_left = [number for number in range(1, 11) if number not in numbered]
        with acting(engine) as book:
            conditions.give(book, ids[numbers_left[0] - 1], GiveDraft(how="gift"))
            conditions.destroy(book, ids[numbers_left[-1] - 1], "burnt")

    return happen


def test_two_books_that_differ_only_in_which_prints_were_sold_publish_the_same(
    engine: Engine, other_book: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    sold_are(1, 2)(engine, monkeypatch)
    one = world_sees(engine)
    sold_are(4, 7)(other_book, monkeypatch)
    assert world_sees(other_book) == one
    assert any(entry["kind"] == "certificate.issued" for entry in one)


def test_a_print_lost_and_a_print_returned_without_its_paper_look_alike_from_outside(
    engine: Engine, other_book: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    def sold_first(book_of: Engine) -> tuple[int, int]:
        ids = ten_certified(book_of, monkeypatch)
        sale = sell(book_of, ways(book_of).studio, ids[0], buyer=to(BUYER), paid_by="cash")
        return ids[0], sale.lines[0].id or 0

    lost, _ = sold_first(engine)
    with acting(engine) as book:
        conditions.missing(book, lost, "she wrote that it is gone")
    _, line = sold_first(other_book)
    with acting(other_book) as book:
        sale_lines.return_line(book, line, ReturnDraft(on=book.today, paper_came_back=False))
    assert world_sees(other_book) == world_sees(engine)
    assert [entry["kind"] for entry in entries(engine)[-3:]] == ["sealed", "certificate.suspended", "sealed"]


def test_the_head_grows_with_every_entry_and_erasing_leaves_it_alone(engine: Engine) -> None:
    road(engine)
    tarn = person(engine)
    with reading(engine) as session:
        before = journal.head(session)
        assert before.size == journal.length(session)
    with acting(engine) as book:
        people.erase(book, tarn)
    with reading(engine) as session:
        assert journal.head(session).size == before.size + 2
        leaves = session.exec(select(Journal.leaf).order_by(col(Journal.seq))).all()
    assert journal.merkle.root(leaves[: before.size]) == before.root


def test_the_body_is_the_canonical_bytes_of_what_is_said(engine: Engine) -> None:
    road(engine, statement="«Fünfundzwanzig» – двадцать пять")
    with reading(engine) as session:
        for row in session.exec(select(Journal)):
            assert canonical(json.loads(row.body)) == row.body
            assert hashlib.sha256(b"\x00" + row.body).digest() == row.leaf


def test_two_entries_of_one_act_touch_what_they_are_about(engine: Engine) -> None:
    road(engine)
    made(engine, 7)
    with Session(engine) as session:
        seqs = [line.entry_seq for line in conditions.pieces.story(session, [seen(engine, 7).id])]
    assert seqs == [journal_length(engine) - 3, journal_length(engine) - 2]


def journal_length(engine: Engine) -> int:
    with reading(engine) as session:
        return journal.length(session)


def test_an_edition_begun_before_says_so(engine: Engine) -> None:
    opened(engine)
    declared(engine, promise(begun=promises.BegunDraft(words="c. 2011")))
    assert entries(engine)[-2]["begun"] == "about 2011"

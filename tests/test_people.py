"""People in the book, and how one asks to be taken out of it."""

import json
from typing import Any

import pytest
from sqlalchemy import Engine, select
from sqlmodel import SQLModel, col
from sqlmodel import select as rows

from ledger import certificates, conditions, journal, numbers, people, search
from ledger.audit import audit
from ledger.conditions import GiveDraft
from ledger.database import reading
from ledger.people import PersonDraft
from ledger.tables import Journal, Secret
from tests.cast import BUYER, SECOND_BUYER, acting, certified, made, opened, person, refused, road

EMAIL = "wilhelmina@tarn.example"


def everything_written(engine: Engine) -> str:
    """All that stands in any row of any table."""
    with engine.connect() as connection:
        found: list[Any] = []
        for table in SQLModel.metadata.sorted_tables:
            for row in connection.execute(select(table)):
                found += [x.decode("utf-8", "replace") if isinstance(x, bytes) else str(x) for x in row]
    return "\n".join(found).casefold()


def test_only_a_name_is_needed(engine: Engine) -> None:
    opened(engine)
    tarn = person(engine)
    with reading(engine) as session:
        assert people.shown(session, tarn) == BUYER
        assert [each.name for each in people.listing(session)] == [BUYER]
    with refused("The name is empty"), acting(engine) as book:
        people.add(book, PersonDraft(name="   "))


def test_somebody_of_that_very_name_is_found_again(engine: Engine) -> None:
    opened(engine)
    with acting(engine) as book:
        first = people.find_or_add(book, f"  {BUYER} ")
        assert people.find_or_add(book, BUYER).id == first.id
        assert people.find_or_add(book, SECOND_BUYER).id != first.id


def test_the_same_words_put_nothing_right(engine: Engine) -> None:
    opened(engine)
    tarn = person(engine, town="Saltrigg")
    with refused("It says “Saltrigg” already. Nothing was changed."), acting(engine) as book:
        people.correct(book, tarn, "town", " Saltrigg ", "")
    with refused("It is empty already."), acting(engine) as book:
        people.correct(book, tarn, "email", "", "")


def test_two_of_one_name_are_never_mixed_up(engine: Engine) -> None:
    opened(engine)
    both = {person(engine, town="Saltrigg"), person(engine, town="Kelpstane")}
    with acting(engine) as book:
        assert people.find_or_add(book, BUYER).id not in both


def test_a_line_is_put_right_and_the_old_words_are_kept(engine: Engine) -> None:
    opened(engine)
    tarn = person(engine, "Wilhelmina Tarm")
    with acting(engine) as book:
        people.correct(book, tarn, "name", BUYER, "misheard")
    with reading(engine) as session:
        assert people.shown(session, tarn) == BUYER
        assert search.find(session, "tarn").people == ((tarn, BUYER),)
        assert search.find(session, "tarm").people == ()
    with refused("is no line of a person"), acting(engine) as book:
        people.correct(book, tarn, "erased_at", "", "")


def test_a_name_typed_with_a_hidden_sign_is_refused(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    for name in ("Wilhelmina\u202eTarn", "Wilhelmina\x00Tarn", "T" * 10_000):
        with refused("The name h"), acting(sqlite_engine) as book:
            people.add(book, PersonDraft(name=name))


def test_nobody_is_found_under_a_number_that_was_never_given(engine: Engine) -> None:
    with reading(engine) as session, refused("Nobody has the number 7") as refusal:
        people.shown(session, 7)
    assert refusal.value.missing


def told_about(engine: Engine) -> int:
    """A buyer whose name the maker wrote into every corner of the book."""
    road(engine)
    first, second, third, _ = made(engine, 1, 2, 3, 4)
    certificate = certified(engine, first)
    certified(engine, third)
    tarn = person(engine, town="Thrupp", address="9 Eel Row", email=EMAIL, phone="01632 960123", note="frames")
    with acting(engine) as book:
        people.correct(book, tarn, "note", "frames in oak", f"{BUYER} said so")
        conditions.give(book, first, GiveDraft(how="gift", person_id=tarn, note=f"for {BUYER}'s birthday"))
        conditions.damage(book, first, f"{BUYER.upper()} wrote from {EMAIL} that a corner is bent")
        conditions.destroy(book, second, f"torn up; {BUYER} saw it")
        conditions.move(book, third, "loan", note=f"to {BUYER}, 9 Eel Row")
        certificates.void(book, certificate.id, f"{BUYER} lost it")
        numbers.allocate(book, 1, numbers=[20], reason=f"{BUYER} asked for it")
        people.add(book, PersonDraft(name=SECOND_BUYER, note=f"cousin of {BUYER}"))
        numbers.close(book, 1, "25", f"{BUYER} advised it")
    return tarn


def test_erasing_takes_a_name_out_of_every_table_and_the_record_stays_whole(engine: Engine) -> None:
    tarn = told_about(engine)
    assert BUYER.casefold() in everything_written(engine)
    with reading(engine) as session:
        before = journal.head(session)
        facts = dict(session.exec(rows(Secret.entry_seq, Secret.value).where(Secret.field == "facts")).all())
    with acting(engine) as book:
        people.erase(book, tarn)
    written = everything_written(engine)
    for line in (BUYER, EMAIL, "Eel Row", "01632", "Thrupp"):
        assert line.casefold() not in written
    assert SECOND_BUYER.casefold() in written
    with reading(engine) as session:
        assert audit(session) == []
        assert people.shown(session, tarn) == "name erased"
        assert people.listing(session)[0].name == SECOND_BUYER
        assert search.find(session, "Wilhelmina").people == ()
        leaves = session.exec(rows(Journal.leaf).order_by(col(Journal.seq)).limit(before.size)).all()
        assert journal.merkle.root(leaves) == before.root
        kept = dict(session.exec(rows(Secret.entry_seq, Secret.value).where(Secret.field == "facts")).all())
        assert facts.items() <= kept.items()


def test_erasing_leaves_what_others_are_told_of(engine: Engine) -> None:
    opened(engine)
    ann = person(engine, "Ann")
    with acting(engine) as book:
        people.add(book, PersonDraft(name="Annual Print Fair", kind="business"))
        people.erase(book, ann)
    assert "annual print fair" in everything_written(engine)


def test_a_name_is_erased_once_and_not_written_again(engine: Engine) -> None:
    opened(engine)
    tarn = person(engine)
    with acting(engine) as book:
        people.erase(book, tarn)
    with refused("erased already"), acting(engine) as book:
        people.erase(book, tarn)
    with refused("not written again"), acting(engine) as book:
        people.correct(book, tarn, "name", BUYER, "")


def test_the_facts_of_an_erased_person_can_still_be_replayed(engine: Engine) -> None:
    opened(engine)
    tarn = person(engine)
    with reading(engine) as session:
        told = session.exec(rows(Secret.entry_seq).where(Secret.field == "person", Secret.person_id == tarn)).all()
        sealed = journal.length(session) - 1  # the rows of the act that wrote her down, which hold her name
    with acting(engine) as book:
        people.erase(book, tarn)
    with reading(engine) as session:
        facts = [json.loads(each) for each in session.exec(rows(Secret.value).where(Secret.field == "facts"))]
    assert {"act": "person_added", "person": tarn} in facts
    assert {"act": "person_erased", "person": tarn, "entries": [*told, sealed]} in facts


@pytest.mark.parametrize("name", ["田中 さくら", "Ελένη Πέτρου", "Мария Орлова", "Zoë D’Anvers-Ó Briain"])
def test_a_name_in_any_script_is_written_found_and_erased(engine: Engine, name: str) -> None:
    opened(engine)
    someone = person(engine, name)
    with acting(engine) as book:
        people.add(book, PersonDraft(name=SECOND_BUYER, note=f"knows {name}さん"))
    with reading(engine) as session:
        assert search.find(session, name.split()[0]).people == ((someone, name),)
    with acting(engine) as book:
        people.erase(book, someone)
    assert name.casefold() not in everything_written(engine)

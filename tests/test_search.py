"""One box that finds a number, a title, a name, a code or a proof."""

import pytest
from sqlalchemy import Engine

from ledger import conditions, declarations, search, works
from ledger.conditions import GiveDraft
from ledger.database import reading
from ledger.reckoning import codes
from ledger.search import Found
from tests.cast import (
    BUYER,
    ROAD,
    STRANGER,
    TITLE,
    acting,
    certified,
    declared,
    made,
    opened,
    person,
    promise,
    road,
    seen,
    size,
)


def asked(engine: Engine, text: str) -> Found:
    with reading(engine) as session:
        return search.find(session, text)


def shown(found: Found) -> list[str]:
    return [each.shown for each in found.pieces]


@pytest.mark.parametrize("text", ["7/25", "7 of 25", " no 7 of 25 ", "7/25 road", "7 forty minutes", "VII/XXV"])
def test_a_number_leads_to_its_print_however_it_is_typed(engine: Engine, text: str) -> None:
    road(engine)
    found = asked(engine, text)
    assert shown(found) == ["7/25"] and not found.works and not found.people


@pytest.mark.parametrize("text", ["road 7", "forty minutes 7/25", "the road no 7 of 25", "forty VII/XXV"])
def test_a_number_may_stand_after_its_title_too(engine: Engine, text: str) -> None:
    opened(engine)
    with acting(engine) as book:
        for title in ("The Road", TITLE):
            work = works.add(book, ROAD.model_copy(update={"title": title}))
            declarations.declare(book, promise(work_id=work.id))
    found = asked(engine, text)
    titles = {each.title for each in found.pieces}
    assert set(shown(found)) == {"7/25"} and not found.works and not found.people
    assert titles == ({TITLE, "The Road"} if text == "road 7" else {"The Road"} if "the" in text else {TITLE})


def test_a_title_that_ends_in_a_number_is_found_beside_that_number(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        mile = works.add(book, ROAD.model_copy(update={"title": "Road, Mile 7"}))
        plain = works.add(book, ROAD.model_copy(update={"title": "Weir 1984"}))
    found = asked(engine, "road 7")
    assert shown(found) == ["7/25"] and found.works == ((mile.id, "Road, Mile 7"),)
    assert asked(engine, "weir 1984").works == ((plain.id, "Weir 1984"),)
    assert asked(engine, "road AP 2").works == () and shown(asked(engine, "road AP 2")) == ["AP II/III"]


@pytest.mark.parametrize("text", ["AP 2", "a/p ii/iii", "AP II road", "artist's proof 2"])
def test_a_proof_is_found_by_its_letters(engine: Engine, text: str) -> None:
    road(engine)
    assert shown(asked(engine, text)) == ["AP II/III"]


def test_a_number_that_several_editions_have_leads_to_each(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        weir = works.add(book, ROAD.model_copy(update={"title": "Weir at Noon"}))
    declared(engine, promise(work_id=weir.id, count=10, outside=(), sizes=(size(400, 400),)))
    assert shown(asked(engine, "7")) == ["7/25", "7/10"]
    assert shown(asked(engine, "7 weir")) == ["7/10"]
    assert shown(asked(engine, "7/10")) == ["7/10"]
    assert asked(engine, "11 weir").pieces == ()


def test_a_code_leads_to_its_print_with_every_slip_that_is_forgiven(engine: Engine) -> None:
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    loose = codes.grouped(view.code).lower().replace("0", "o").replace("1", "l")
    for text in (view.code, loose, view.code.replace(view.code[:4], view.code[:4] + "-", 1)):
        assert shown(asked(engine, text)) == ["7/25"]


def test_half_a_code_leads_to_its_print_wherever_it_is_torn(engine: Engine) -> None:
    road(engine)
    code = certified(engine, made(engine, 7)[0]).code
    certified(engine, made(engine, 8)[0])
    halves = (code[:8], code[8:], code[3:11].lower(), f"{code[2:6]}-{code[6:10]}", codes.grouped(code)[5:14])
    for half in (*halves, code[4:10].replace("0", "O").replace("1", "l")):
        assert shown(asked(engine, half)) == ["7/25"], half
    assert asked(engine, code[:3]).pieces == ()


def test_a_word_that_could_be_part_of_a_code_still_leads_to_its_title(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        bell = works.add(book, ROAD.model_copy(update={"title": "Bell"}))
    assert asked(engine, "bell").works == ((bell.id, "Bell"),)


def test_a_name_leads_to_the_prints_somebody_has_or_had(engine: Engine) -> None:
    road(engine)
    first, second = made(engine, 1, 2)
    with acting(engine) as book:
        conditions.give(book, first, GiveDraft(how="gift", name=BUYER))
        conditions.give(book, second, GiveDraft(how="gift", name=BUYER))
        conditions.give(book, second, GiveDraft(how="gift", holder="private"))
    found = asked(engine, "wilhel tarn")
    assert shown(found) == ["1/25", "2/25"]
    assert [name for _, name in found.people] == [BUYER]


def test_a_title_made_of_figures_and_a_name_that_looks_like_a_proof_are_found_too(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        year = works.add(book, ROAD.model_copy(update={"title": "1984"}))
    someone = person(engine, "Ap Kelstow")
    assert asked(engine, "1984").works == ((year.id, "1984"),)
    assert asked(engine, "Ap Kelstow").people == ((someone, "Ap Kelstow"),)


def test_every_word_asked_must_begin_some_word(engine: Engine) -> None:
    road(engine)
    assert asked(engine, "forty road").works == ((1, TITLE),)
    assert asked(engine, "forty rivers").works == ()
    assert asked(engine, "inutes").works == ()


def test_accents_and_case_do_not_matter(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        works.add(book, ROAD.model_copy(update={"title": "Égout à Noël"}))
    assert asked(engine, "egout NOEL").works == ((2, "Égout à Noël"),)


@pytest.mark.parametrize("text", ["", "   ", "%", "_", "''", "7/", "?!", STRANGER, "x" * 10_000, "\x00", "9" * 40])
def test_what_means_nothing_finds_nothing(engine: Engine, text: str) -> None:
    road(engine)
    found = asked(engine, text)
    assert (found.pieces, found.works, found.people) == ((), (), ())


def test_a_list_cut_short_says_so(engine: Engine) -> None:
    road(engine)
    for _ in range(search.MOST):
        declared(engine, promise(outside=(), count=3))
    found = asked(engine, "2")
    assert len(found.pieces) == search.MOST and found.more


def test_a_second_print_of_a_number_is_the_one_that_is_found(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with acting(engine) as book:
        conditions.destroy(book, piece_id, "burnt")
        conditions.replace(book, piece_id, conditions.ReplaceDraft())
    (only,) = asked(engine, "7/25").pieces
    assert only.generation == 2 and only.id == seen(engine, 7).id

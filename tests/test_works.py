"""Works: the image behind the prints, and what happens when it was written down wrongly."""

import pytest
from sqlalchemy import Engine

from ledger import checks, search, works
from ledger.database import reading
from ledger.pictures import EmbeddedFacts, StoredPicture
from tests.cast import ROAD, TITLE, acting, certified, declared, made, opened, refused, road

PICTURE = StoredPicture(
    sha256="aa" * 32,
    bytes=10,
    format="TIFF",
    width_px=4000,
    height_px=4000,
    bits=16,
    profile="Adobe RGB",
    show_sha256="bb" * 32,
    paper_sha256="cc" * 32,
    thumb_sha256="dd" * 32,
    facts=EmbeddedFacts(),
)


def test_a_work_is_found_under_every_word_of_its_title(engine: Engine) -> None:
    opened(engine)
    with reading(engine) as session:
        for asked in ("forty", "MINUTES", "road", "roa", "road forty"):
            assert search.find(session, asked).works == ((1, TITLE),)


@pytest.mark.parametrize("title", ["Сорок минут дороги", "Σαράντα λεπτά δρόμου", "道の四十分", "Ça, né à l’Œuvre"])
def test_a_title_in_any_script_is_kept_and_found(engine: Engine, title: str) -> None:
    opened(engine)
    with acting(engine) as book:
        work = works.add(book, ROAD.model_copy(update={"title": title}))
    with reading(engine) as session:
        assert works.get(session, work.id or 0).title == title
        assert search.find(session, title).works == ((work.id, title),)


def test_an_accent_typed_apart_from_its_letter_is_kept_composed(engine: Engine) -> None:
    opened(engine)
    with acting(engine) as book:
        assert works.add(book, ROAD.model_copy(update={"title": "  Cafe\u0301 \n at noon "})).title == "Café at noon"


@pytest.mark.parametrize(
    ("title", "why"),
    [
        ("Road\u202egnp.exe", "hidden sign that turns text around"),
        ("Road\u2066", "hidden sign that turns text around"),
        ("Road\x00", "cannot be printed"),
        ("Road\x1b[31m", "cannot be printed"),
        ("Road\ud800", "cannot be printed"),
        ("R" * 10_000, "10,000 characters. Use 200 at most"),
        (" \t\n", "The title is empty"),
    ],
)
def test_a_title_that_paper_cannot_carry_is_refused(sqlite_engine: Engine, title: str, why: str) -> None:
    opened(sqlite_engine)
    with refused(why) as refusal, acting(sqlite_engine) as book:
        works.add(book, ROAD.model_copy(update={"title": title}))
    assert refusal.value.field == "title"


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"year_made": 1825}, "year_made"),  # the oldest photograph there is was made in 1826 or 1827
        ({"year_made": 2027}, "year_made"),
        ({"artist_born": 1500}, "artist_born"),
        ({"artist_died": 2099}, "artist_died"),
        ({"artist_born": 1979, "artist_died": 1970}, "artist_died"),
    ],
)
def test_years_that_cannot_be_are_refused(sqlite_engine: Engine, facts: dict[str, int], field: str) -> None:
    opened(sqlite_engine)
    with refused("") as refusal, acting(sqlite_engine) as book:
        works.add(book, ROAD.model_copy(update=facts))
    assert refusal.value.field == field


def test_a_misspelt_title_is_put_right_and_papers_that_are_out_keep_their_words(engine: Engine) -> None:
    opened(engine)
    road_before = road_misspelt(engine)
    with acting(engine) as book:
        works.correct(book, 1, "title", "Forty Minutes of Rode", "first try")
        works.correct(book, 1, "title", TITLE, "misspelt")
    for code in road_before:
        with reading(engine) as session:
            said = checks.check(session, code)
            assert said is not None
            assert said.snapshot["title"] == "Fourty Minutes of Road"
            assert said.now_given_as == (f"The title is now given as “{TITLE}”.",)
    later = certified(engine, made(engine, 4)[0])
    with reading(engine) as session:
        said = checks.check(session, later.code)
        assert said is not None and said.snapshot["title"] == TITLE and said.now_given_as == ()
        assert search.find(session, "fourty").works == ()
        assert search.find(session, "forty").works == ((1, TITLE),)
        assert [(fix.old, fix.new) for fix in works.corrections(session, 1)][1:] == [
            ("Fourty Minutes of Road", "Forty Minutes of Rode"),
            ("Forty Minutes of Rode", TITLE),
        ]


def road_misspelt(engine: Engine) -> list[str]:
    """Three certificates issued under a title with a slip in it."""
    with acting(engine) as book:
        works.correct(book, 1, "title", "Fourty Minutes of Road", "written down wrongly on purpose")
    declared(engine)
    return [certified(engine, piece_id).code for piece_id in made(engine, 1, 2, 3)]


def test_a_year_is_put_right_and_a_death_written_in_error_taken_away(engine: Engine) -> None:
    opened(engine)
    with acting(engine) as book:
        works.correct(book, 1, "year_made", "2022", "the negative is dated")
        works.correct(book, 1, "artist_died", "2024", "misread")
        assert works.correct(book, 1, "artist_died", "", "she is well").artist_died is None


@pytest.mark.parametrize(
    ("field", "new"),
    [
        ("year_made", "23"),
        ("year_made", "two thousand"),
        ("year_made", "9" * 5000),
        ("year_made", ""),
        ("year_made", "1700"),
        ("title", ""),
        ("title", "R" * 10_000),
        ("title", TITLE),
    ],
)
def test_a_correction_is_held_to_the_same_rules_as_the_work(engine: Engine, field: str, new: str) -> None:
    opened(engine)
    with refused("") as refusal, acting(engine) as book:
        works.correct(book, 1, field, new, "why not")
    assert refusal.value.field == "new"


def test_a_correction_has_a_reason_and_a_line_that_works_have(engine: Engine) -> None:
    opened(engine)
    with refused("The reason is empty"), acting(engine) as book:
        works.correct(book, 1, "title", "Another", "")
    with refused("is no line of a work"), acting(engine) as book:
        works.correct(book, 1, "picture_id", "7", "because")


def test_a_picture_becomes_the_picture_of_its_work(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        works.keep_picture(book, 1, PICTURE)
    with refused("is the picture of “Forty Minutes of Road” already"), acting(engine) as book:
        works.keep_picture(book, 1, PICTURE)
    with reading(engine) as session:
        kept = works.picture_of(session, 1)
        assert kept is not None and kept.sha256 == PICTURE.sha256
    certificate = certified(engine, made(engine, 1)[0])
    assert certificate.snapshot["master_sha256"] == PICTURE.sha256
    assert certificate.snapshot["picture"] == PICTURE.paper_sha256

"""Whose book it is: opened once, in one currency, at an address that certificates can carry."""

from datetime import date

import pytest
from sqlalchemy import Engine

from ledger import studio
from ledger.database import reading
from tests.cast import ADDRESS, MAKER, STUDIO, acting, opened, refused


def test_the_first_entry_says_who_keeps_the_book_and_in_which_currency(engine: Engine) -> None:
    opened(engine)
    with reading(engine) as session:
        kept = studio.the_studio(session)
        assert (kept.maker_name, kept.name_as_signed, kept.currency) == (MAKER, MAKER, "GBP")


def test_nothing_is_kept_in_a_book_that_is_not_open(engine: Engine) -> None:
    with reading(engine) as session, refused("This book is not open yet"):
        studio.the_studio(session)


def test_a_book_is_opened_once(engine: Engine) -> None:
    opened(engine)
    with refused("open already"), acting(engine) as book:
        studio.open_studio(book, STUDIO)


def test_a_currency_is_one_of_iso_4217(sqlite_engine: Engine) -> None:
    with refused("“POUND” is not a currency code"), acting(sqlite_engine) as book:
        studio.open_studio(book, STUDIO.model_copy(update={"currency": "POUND"}))


def test_the_currency_stays_for_good_and_the_lines_on_papers_may_change(engine: Engine) -> None:
    opened(engine)
    with refused("kept in GBP for good"), acting(engine) as book:
        studio.change_studio(book, STUDIO.model_copy(update={"currency": "EUR"}))
    with acting(engine) as book:
        studio.change_studio(book, STUDIO.model_copy(update={"place": "Kelpstane", "paper": "a4"}))
    with reading(engine) as session:
        kept = studio.the_studio(session)
        assert (kept.place, kept.paper, kept.currency) == ("Kelpstane", "a4", "GBP")


@pytest.mark.parametrize("field", ["maker_name", "address", "place"])
def test_a_line_that_papers_need_is_not_left_empty(sqlite_engine: Engine, field: str) -> None:
    with refused("is empty") as refusal, acting(sqlite_engine) as book:
        studio.open_studio(book, STUDIO.model_copy(update={field: "  "}))
    assert refusal.value.field == field


@pytest.mark.parametrize("cap", [-1, 10**12])
def test_the_count_to_warn_at_is_a_count(sqlite_engine: Engine, cap: int) -> None:
    with refused("Write 30"), acting(sqlite_engine) as book:
        studio.open_studio(book, STUDIO.model_copy(update={"works_cap": cap}))


@pytest.mark.parametrize(
    "url",
    [
        "http://prints.example.org",
        "https://localhost",
        "https://127.0.0.1",
        "https://192.168.1.7",
        "https://[::1]",
        "https://studio.local",
        "https://prints.example.org/shop",
        "https://prints.example.org?page=1",
        "https://someone@prints.example.org",
        "https://prints.example.org:99999",
        "https://[prints",
        "https://bücher.example",
        "prints.example.org",
        "",
    ],
)
def test_an_address_that_a_buyer_could_not_open_is_refused(sqlite_engine: Engine, url: str) -> None:
    opened(sqlite_engine)
    with refused("") as refusal, acting(sqlite_engine) as book:
        studio.change_address(book, url)
    assert refusal.value.field == "url"


def test_a_demonstration_may_stand_on_loopback() -> None:
    assert studio.address_from("http://127.0.0.1:8000/", demo=True) == "http://127.0.0.1:8000"


def test_every_former_address_stays_in_the_list(engine: Engine) -> None:
    opened(engine)
    with refused("already"), acting(engine) as book:
        studio.change_address(book, ADDRESS + "/")
    with acting(engine) as book:
        studio.change_address(book, "https://Prints.Saltrigg.Example")
    with reading(engine) as session:
        assert studio.present_address(session) == "https://prints.saltrigg.example"
        assert studio.addresses(session) == ["https://prints.saltrigg.example", ADDRESS]
    with acting(engine) as book:
        studio.change_address(book, ADDRESS)
    with reading(engine) as session:
        assert studio.addresses(session) == [ADDRESS, "https://prints.saltrigg.example"]


def test_a_sale_takes_the_tax_rule_of_its_own_day(engine: Engine) -> None:
    opened(engine)
    with acting(engine) as book:
        studio.set_tax(book, date(2026, 6, 1), registered=True, number="GB 123", rate_bp=2000)
        studio.set_tax(book, date(2026, 9, 1), registered=False)
    with reading(engine) as session:
        assert studio.tax_on(session, date(2026, 5, 31)) is None
        june = studio.tax_on(session, date(2026, 6, 1))
        assert june is not None and (june.registered, june.rate_bp) == (True, 2000)
        september = studio.tax_on(session, date(2026, 12, 24))
        assert september is not None and not september.registered


def test_a_registered_maker_has_a_rate(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    for rate in (0, -1, 10001):
        with refused("Write 20 for 20 %"), acting(sqlite_engine) as book:
            studio.set_tax(book, date(2026, 6, 1), registered=True, rate_bp=rate)

"""Out of the book into a spreadsheet, by date, and never as a formula.

The cast: Ottoline, who keeps the book; Wilhelmina Tarn, who buys; Silas Grimble, whose name is a formula.
"""

import csv
import io
from datetime import date

import pytest
from sqlalchemy import Engine

from ledger import costs, exchange, people, sale_lines
from ledger.costs import CostDraft
from ledger.database import reading
from ledger.exchange import guarded
from ledger.sale_drafts import ReceiptDraft
from tests.cast import BUYER, GALLERY, MAY_4, acting, made, refused, road
from tests.trade import lend, line, only_line, sell, to, told, ways

MAY_9 = date(2026, 5, 9)
FORMULA = '=HYPERLINK("https://example.org","Silas Grimble")'


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


# What a spreadsheet takes for a formula: CWE-1236, and common practice for the full-width forms.
@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "+44 20 7946 0018",
        "-x",
        "@SUM(A1)",
        " =1",
        "＝1+1",
        "＋1",
        "－1",
        "＠a",
        "-1-1",
        "+1,5",
        "\t=1",
        "\ra",
        "\tb",
    ],
)
def test_what_a_spreadsheet_could_run_gets_a_mark_before_it(text: str) -> None:
    assert guarded(text) == f"'{text}"


@pytest.mark.parametrize("text", ["65.00", "-65.00", "+3", "-0.5", "Wilhelmina Tarn", "a=b", "7/25", "", "x-1"])
def test_plain_words_and_numbers_stay_as_they_are(text: str) -> None:
    assert guarded(text) == text


def test_each_sale_line_of_the_days_asked_is_a_row(engine: Engine) -> None:
    road(engine)
    by, (one, two, three) = ways(engine), made(engine, 1, 2, 3)
    note = lend(engine, by.kelpstane, told(three, 6500, 1000))
    sell(engine, by.fair, one, line(two, 6000), occasion_id=by.the_fair, buyer=to(BUYER), paid_by="card")
    sell(engine, by.gallery, three, on=MAY_9, consignment_id=note)
    with reading(engine) as session:
        found = rows(exchange.sales_csv(session, MAY_4, MAY_9))
        assert [row["number"] for row in rows(exchange.sales_csv(session, MAY_9, MAY_9))] == ["3/25"]
    assert [
        (row["sold on"], row["number"], row["buyer"], row["price of the print"], row["card or site fee"])
        for row in found[:2]
    ] == [("2026-05-04", "1/25", BUYER, "65.00", "1.14"), ("2026-05-04", "2/25", BUYER, "60.00", "1.05")]
    assert (found[0]["where"], found[0]["fair"]) == ("At a fair", "Saltrigg Harbour Fair")
    lent = found[2]
    assert (lent["gallery"], lent["buyer"]) == (GALLERY, "not asked")
    assert (lent["frame"], lent["they paid in all"]) == ("10.00", "75.00")
    assert (lent["gallery keeps"], lent["currency"]) == ("29.25", "GBP")


def test_struck_and_returned_lines_are_there_and_say_so(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    struck, returned = sell(engine, by.studio, one), sell(engine, by.studio, two)
    with acting(engine, MAY_9) as book:
        sale_lines.strike_line(book, only_line(struck).id or 0, "a slip")
        sale_lines.return_line(book, only_line(returned).id or 0, sale_lines.ReturnDraft(on=MAY_9))
    with reading(engine) as session:
        found = rows(exchange.sales_csv(session, MAY_4, MAY_4))
    assert [row["how it stands"] for row in found] == ["not sold after all", "came back"]


def test_a_name_that_is_a_formula_comes_out_as_words(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    sell(engine, by.studio, one, buyer=to(FORMULA))
    with reading(engine) as session:
        (row,) = rows(exchange.sales_csv(session, MAY_4, MAY_4))
    assert row["buyer"] == f"'{FORMULA}"


def test_an_erased_buyer_comes_out_as_erased(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    sale = sell(engine, by.studio, one, buyer=to(BUYER), receipts=(ReceiptDraft(amount_minor=100, how="cash"),))
    with acting(engine) as book:
        people.erase(book, sale.sale.buyer_id or 0)
    with reading(engine) as session:
        text = exchange.sales_csv(session, MAY_4, MAY_4)
    assert rows(text)[0]["buyer"] == "name erased" and BUYER not in text


def test_each_cost_of_the_days_asked_is_a_row_struck_ones_left_out(engine: Engine) -> None:
    road(engine)
    spent = (
        CostDraft(basis="edition", target_id=1, amount_minor=2200, spent_on=MAY_4, note="-10 % on proofing"),
        CostDraft(basis="studio", amount_minor=900, spent_on=MAY_4, own_labour=True),
        CostDraft(basis="studio", amount_minor=1, spent_on=MAY_4, note="written down twice"),
    )
    with acting(engine) as book:
        kept = [costs.add(book, draft).id or 0 for draft in spent]
        costs.strike(book, kept[2], "a slip")
    with reading(engine) as session:
        found = rows(exchange.costs_csv(session, MAY_4, MAY_9))
    assert [(row["spent on"], row["own time"], row["amount"], row["what for"]) for row in found] == [
        ("Edition: Forty Minutes of Road", "no", "22.00", "'-10 % on proofing"),
        ("The whole studio", "yes", "9.00", ""),
    ]


def test_days_that_run_backwards_are_refused(engine: Engine) -> None:
    road(engine)
    with reading(engine) as session:
        for out in (exchange.sales_csv, exchange.costs_csv):
            with refused("The last day comes before the first"):
                out(session, MAY_9, MAY_4)

"""The stall: three taps, nothing typed, and ten minutes in which a tap may be taken back."""

from datetime import timedelta

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import clock, conditions, costs, occasions, sales
from ledger.database import reading
from tests import cast
from tests.web.conftest import Clock


@pytest.fixture
def fair(sqlite_engine: Engine) -> list[int]:
    """A fair that is on today with a pitch of 100.00, and three signed prints at 65.00."""
    cast.road(sqlite_engine)
    signed = cast.made(sqlite_engine, 1, 2, 3)
    today = clock.today()
    with cast.acting(sqlite_engine) as book:
        way = occasions.add_channel(
            book, occasions.ChannelDraft(name="Fairs", kind="fair", fee_bp=175, packing_minor=60)
        )
        draft = occasions.OccasionDraft(
            name="Saltrigg Harbour Fair", kind="selling", from_on=today, to_on=today, channel_id=way.id
        )
        on = occasions.add(book, draft)
        pitch = costs.CostDraft(basis="occasion", target_id=on.id, amount_minor=10000, spent_on=cast.MAY_4)
        costs.add(book, pitch)
    return signed


def tap(piece_id: int, **changes: str) -> dict[str, str]:
    return {"idempotency_key": f"tap-{piece_id}", "piece": str(piece_id), "paid_by": "card", **changes}


def recorded(engine: Engine) -> list[sales.SaleView]:
    with reading(engine) as session:
        return sales.listing(session)


def test_three_taps_sell_a_print_and_nothing_is_typed(
    maker: TestClient, fair: list[int], sqlite_engine: Engine
) -> None:
    wall = maker.get("/stall").text
    assert f'href="/stall/prints/{fair[0]}"' in wall and "1/25" in wall and "£65" in wall
    one = maker.get(f"/stall/prints/{fair[0]}").text
    assert "leaves £63.26 by card" in one and "2, 3 here" in one
    done = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0]))
    assert done.status_code == 303
    page = maker.get(done.headers["location"]).text
    assert "Sold, £65 by card" in page and "Next buyer" in page and "The next one of these is £65." in page
    [sale] = recorded(sqlite_engine)
    assert sale.balance == 0 and sale.sale.buyer_shown == "not_asked" and sale.sale.occasion_id == 1
    assert "2/25" in maker.get("/stall").text


def test_cash_costs_no_card_fee(maker: TestClient, fair: list[int], sqlite_engine: Engine) -> None:
    maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0], paid_by="cash"))
    [sale] = recorded(sqlite_engine)
    assert (sale.receipts[0].how, sale.receipts[0].fee_minor) == ("cash", 0)


def test_the_pitch_is_counted_in_prints(maker: TestClient, fair: list[int]) -> None:
    # 100.00 at 63.26 a print: two.
    assert "<b>0 of 2</b> to pay for the pitch, £100.00 to go" in maker.get("/stall").text
    for piece_id in fair[:2]:
        maker.post(f"/stall/prints/{piece_id}", data=tap(piece_id))
    # 2 x 63.26 - 100.00 = 26.52
    assert "<b>Pitch paid.</b> £26.52 over" in maker.get("/stall").text


def test_a_tap_may_be_taken_back_for_ten_minutes(
    maker: TestClient, fair: list[int], sqlite_engine: Engine, hand: Clock
) -> None:
    done = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0])).headers["location"]
    assert "Not sold after all" in maker.get(done).text
    hand.pass_by(timedelta(minutes=9, seconds=59))
    assert maker.post(done, data={"idempotency_key": "back"}).status_code == 303
    assert "Not sold after all" in maker.get(done).text
    assert cast.seen(sqlite_engine, 1).standing == "in hand" and recorded(sqlite_engine)[0].received == 0


def test_after_ten_minutes_the_way_back_is_under_sales(
    maker: TestClient, fair: list[int], sqlite_engine: Engine, hand: Clock
) -> None:
    done = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0])).headers["location"]
    hand.pass_by(timedelta(minutes=10))
    assert "Not sold after all" not in maker.get(done).text
    late = maker.post(done, data={"idempotency_key": "back"})
    assert late.status_code == 409 and "Take it back under Sales" in late.text
    assert cast.seen(sqlite_engine, 1).standing == "passed on"


def test_less_than_the_price_may_be_agreed(maker: TestClient, fair: list[int], sqlite_engine: Engine) -> None:
    wrong = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0], price="6,5"))
    assert wrong.status_code == 422 and 'value="6,5"' in wrong.text and "write 6.50" in wrong.text
    go = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0], price="50", step="price", paid_by=""))
    assert go.status_code == 200 and recorded(sqlite_engine) == []
    maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0], price="50"))
    [sale] = recorded(sqlite_engine)
    assert (sale.lines[0].price_minor, sale.lines[0].list_minor, sale.received) == (5000, 6500, 5000)


def test_more_than_the_price_is_not_sold_by_a_tap(maker: TestClient, fair: list[int], sqlite_engine: Engine) -> None:
    for price in ("1000000000", "999999999", "65.01"):
        more = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0], price=price))
        assert more.status_code in (409, 422) and f'value="{price}"' in more.text
    assert "That is more than the £65.00 on the list. Write less, or record a sale for more under Sales." in more.text
    assert recorded(sqlite_engine) == []
    maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0], price="65"))
    assert [sale.lines[0].price_minor for sale in recorded(sqlite_engine)] == [6500]


def test_a_print_somebody_else_sold_meanwhile_says_so_and_shows_the_others(maker: TestClient, fair: list[int]) -> None:
    maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0]))
    again = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0], idempotency_key="another phone"))
    assert again.status_code == 409 and "1/25 was sold on" in again.text
    assert f'href="/stall/prints/{fair[1]}"' in again.text and "Back to the wall" in again.text


def test_the_same_tap_sent_twice_sells_one_print(maker: TestClient, fair: list[int], sqlite_engine: Engine) -> None:
    places = {maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0])).headers["location"] for _ in range(2)}
    assert len(places) == 1 and len(recorded(sqlite_engine)) == 1


def test_a_missing_print_does_not_hang(maker: TestClient, fair: list[int], sqlite_engine: Engine) -> None:
    with cast.acting(sqlite_engine) as book:
        conditions.missing(book, fair[0], "not in the box")
    assert f'href="/stall/prints/{fair[0]}"' not in maker.get("/stall").text
    gone = maker.get(f"/stall/prints/{fair[0]}")
    assert gone.status_code == 409 and "1/25 is missing." in gone.text


def test_with_no_fair_on_the_one_next_act_is_to_write_it_down(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    signed = cast.made(sqlite_engine, 1)
    assert 'href="/costs/fairs?stall=yes"' in maker.get("/stall").text
    assert maker.get(f"/stall/prints/{signed[0]}").headers["location"] == f"/sales/new?piece={signed[0]}"
    asked = maker.get("/costs/fairs?stall=yes").text
    assert "Card fee" in asked  # no way of selling yet: its usual costs are asked with the fair
    today = clock.today().isoformat()
    typed = {
        "idempotency_key": "fair", "stall": "yes", "name": "Saltrigg Harbour Fair", "kind": "selling",
        "from_on": today, "to_on": today, "cost": "45.00", "fee": "1.75", "packing": "0.60",
    }  # fmt: skip
    done = maker.post("/costs/fairs", data=typed)
    assert done.headers["location"] == "/stall"
    wall = maker.get("/stall").text
    assert "Saltrigg Harbour Fair" in wall and "leaves £63.26" in wall and "0 of 1" in wall


def test_the_pitch_reads_the_same_on_the_wall_and_on_a_print(maker: TestClient, fair: list[int]) -> None:
    strip = "<b>0 of 2</b> to pay for the pitch, £100.00 to go"
    assert strip in maker.get("/stall").text and strip in maker.get(f"/stall/prints/{fair[0]}").text
    done = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0])).headers["location"]
    # 100.00 less 63.26
    for path in (done, "/stall", f"/stall/prints/{fair[1]}"):
        assert "<b>1 of 2</b> to pay for the pitch, £36.74 to go" in maker.get(path).text


def test_the_page_of_a_print_just_sold_names_its_picture(maker: TestClient, fair: list[int]) -> None:
    done = maker.post(f"/stall/prints/{fair[0]}", data=tap(fair[0])).headers["location"]
    assert f'<span class="title">{cast.TITLE}</span>' in maker.get(done).text

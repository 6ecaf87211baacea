"""What can be sold now, on both databases."""

from datetime import timedelta

from sqlalchemy import Engine

from ledger import clock, conditions, for_sale, occasions, pieces, reports, sale_drafts, sales
from ledger.database import reading
from tests import cast


def road(engine: Engine) -> list[int]:
    cast.road(engine)
    with cast.acting(engine) as book:
        occasions.add_channel(book, occasions.ChannelDraft(name="At the studio", kind="direct"))
    return cast.made(engine, 1, 2, 3)


def sell(engine: Engine, piece_id: int, *, assign: bool = False) -> int:
    with cast.acting(engine) as book:
        line = sale_drafts.LineDraft(piece_id=piece_id, assign=assign)
        return sales.record(book, sale_drafts.SaleDraft(sold_on=cast.MAY_4, channel_id=1, lines=(line,))).id or 0


def test_only_what_is_signed_ours_and_here_hangs(engine: Engine) -> None:
    sold, missing, here = road(engine)
    sell(engine, sold)
    with cast.acting(engine) as book:
        conditions.missing(book, missing, "not in the drawer")
    with reading(engine) as session:
        [hung] = for_sale.hung(session, cast.MAY_4, None)
        assert (hung.piece.id, hung.price) == (here, 6500)
        assert [seen.shown for seen in for_sale.of_class(session, hung.piece.class_id)] == [
            f"{number}/25" for number in (3, 4, 5, 6, 7, 8)
        ]
        assert [seen.shown for seen in for_sale.one_of_each(session)] == ["3/25", "4/25", "AP I/III", "BAT"]


def test_a_free_number_sold_is_an_order_and_refused_without_being_asked_for(engine: Engine) -> None:
    road(engine)
    free = cast.seen(engine, 9).id
    with cast.refused("9/25 is not numbered yet"):
        sell(engine, free)
    before = clock.now()
    sale_id = sell(engine, free, assign=True)
    with reading(engine) as session:
        [(line, seen)] = sales.orders(session)
        assert (line.sale_id, seen.shown, seen.state) == (sale_id, "9/25", "allocated")
        assert sales.recorded_at(session, sale_id) < before + timedelta(minutes=1)
        assert reports.left_of_lines(session, [line]) == {line.id: 6500}
        assert [each.sale.id for each in sales.after(session, 0, 5)] == [sale_id]


def test_what_is_elsewhere_is_out(engine: Engine) -> None:
    loaned, *_ = road(engine)
    hall = cast.person(engine, "Thrumsay Hall", kind="business")
    with cast.acting(engine) as book:
        conditions.move(book, loaned, "loan", person_id=hall)
    with reading(engine) as session:
        assert [seen.id for seen in pieces.out(session)] == [loaned]
        assert loaned not in {seen.id for seen in for_sale.here(session)}

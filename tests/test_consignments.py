"""Prints lent to a gallery: whose they stay, what it was told to ask, and how they come back.

The cast: Ottoline, who lends; Gallery Kelpstane, and a second gallery in Thrumsay; Wilhelmina Tarn, who buys.
"""

from datetime import date
from typing import Any

import pytest
from sqlalchemy import Engine

from ledger import conditions, consignments, numbers, occasions
from ledger.consignments import ConsignmentDraft
from ledger.database import reading
from ledger.numbers import InscribeDraft
from ledger.occasions import ChannelDraft, OccasionDraft
from tests.cast import BUYER, GALLERY, MAY_4, acting, made, person, refused, road, seen, standings
from tests.trade import assigned, lend, sell, told, ways

MAY_9 = date(2026, 5, 9)


def test_a_print_lent_is_at_the_gallery_and_stays_the_makers(engine: Engine) -> None:
    road(engine)
    by, (fourteen,) = ways(engine), made(engine, 14)
    lend(engine, by.kelpstane, told(fourteen))
    lent = seen(engine, 14)
    assert (lent.standing, lent.holder, lent.place, lent.keeper_name) == ("out", "maker", "gallery", GALLERY)
    assert standings(engine) == {"free": 24, "out": 1}


def test_a_gallery_is_told_the_present_price_unless_another_is_said(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 13))
    sell(engine, by.studio, *ids[:10])
    note = lend(engine, by.kelpstane, told(ids[10]), told(ids[11], 7000, 2000))
    with reading(engine) as session:
        lent = consignments.lent_on(session, note)
    assert [(each.piece.shown, each.told_price, each.told_frame) for each in lent] == [
        ("11/25", 7500, 0),
        ("12/25", 7000, 2000),
    ]


def test_only_a_signed_print_of_ours_that_is_here_is_lent(engine: Engine) -> None:
    road(engine)
    by, (one, two, three, four) = ways(engine), made(engine, 1, 2, 3, 4)
    order = assigned(engine, 9)
    sell(engine, by.studio, one)
    sell(engine, by.studio, order)
    made(engine, 9)
    lend(engine, by.kelpstane, told(two))
    with acting(engine) as book:
        conditions.missing(book, three, "not in its drawer")
        conditions.move(book, four, "loan")
    for piece_id, why in (
        (one, "1/25 was sold on 4 May 2026"),
        (two, "2/25 is at Gallery Kelpstane"),
        (three, "3/25 is missing"),
        (four, "4/25 is on loan"),
        (seen(engine, 5).id, "5/25 is not numbered yet"),
        (order, "9/25 was sold on 4 May 2026 and waits to be handed over"),
    ):
        with refused(why):
            lend(engine, by.kelpstane, told(piece_id))


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"pieces": ()}, "at least one print"),
        ({"pieces": (told(1), told(1))}, "Name each once"),
        ({"commission_bp": 10001}, "between 0 and 100 %"),
        ({"commission_tax_bp": -1}, "between 0 and 100 %"),
        ({"lent_on": MAY_9}, "still to come"),
        ({"person_id": 99}, "Nobody has the number 99"),
        ({"occasion_id": 99}, "No fair or round has the number 99"),
        ({"pieces": (told(1, -1),)}, "nought or more"),
    ],
)
def test_a_loan_on_terms_that_cannot_be_is_refused(sqlite_engine: Engine, changes: dict[str, Any], why: str) -> None:
    road(sqlite_engine)
    by, _ = ways(sqlite_engine), made(sqlite_engine, 1)
    facts = {"person_id": by.kelpstane, "lent_on": MAY_4, "commission_bp": 4500, "pieces": (told(1),)}
    with refused(why), acting(sqlite_engine) as book:
        consignments.lend(book, ConsignmentDraft(**(facts | changes)))
    assert seen(sqlite_engine, 1).standing == "in hand"


def test_a_proof_is_lent_at_a_price_said_by_hand(engine: Engine) -> None:
    road(engine)
    by, proof = ways(engine), seen(engine, 1, kind="AP").id
    with acting(engine) as book:
        numbers.inscribe(book, proof, InscribeDraft())
    with refused("AP I/III has no price step. Write its price."):
        lend(engine, by.kelpstane, told(proof))
    lend(engine, by.kelpstane, told(proof, 9000))


def test_a_print_taken_back_is_in_the_studio_and_may_be_lent_again(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    note = lend(engine, by.kelpstane, told(one), told(two))
    with acting(engine, MAY_9) as book:
        consignments.take_back(book, note, [one], MAY_9)
    assert (seen(engine, 1).place, seen(engine, 2).place) == ("studio", "gallery")
    with refused("1/25 is not out on this note; it is in hand"), acting(engine, MAY_9) as book:
        consignments.take_back(book, note, [one], MAY_9)
    thrumsay = person(engine, "The Thrumsay Rooms", MAY_9, kind="business")
    lend(engine, thrumsay, told(one), on=MAY_9)
    with reading(engine) as session:
        assert [(each.gallery, each.piece.number) for each in consignments.lent_out(session)] == [
            (GALLERY, 2),
            ("The Thrumsay Rooms", 1),
        ]
        assert [each.outcome for each in consignments.lent_on(session, note)] == ["back", "out"]


def test_prints_do_not_come_back_before_they_left_nor_tomorrow(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    note = lend(engine, by.kelpstane, told(one))
    for on, why in ((date(2026, 5, 3), "before they were lent"), (MAY_9, "still to come")):
        with refused(why), acting(engine) as book:
            consignments.take_back(book, note, [one], on)
    with refused("at least one print that came back"), acting(engine) as book:
        consignments.take_back(book, note, [], MAY_4)


def test_a_print_that_went_missing_at_the_gallery_is_off_its_note_and_still_missing(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    note = lend(engine, by.kelpstane, told(one))
    with acting(engine, MAY_9) as book:
        conditions.missing(book, one, "the gallery")
        consignments.take_back(book, note, [one], MAY_9)
    assert (seen(engine, 1).standing, seen(engine, 1).place) == ("missing", "unknown")


def test_what_a_gallery_sold_is_sold_on_its_note(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    note = lend(engine, by.kelpstane, told(one), told(two))
    sale = sell(engine, by.gallery, one, consignment_id=note)
    assert (sale.buyer, sale.due) == ("not asked", 6500 - 2925)
    with reading(engine) as session:
        assert [each.outcome for each in consignments.lent_on(session, note)] == ["sold", "out"]


def test_a_step_crossed_names_the_prints_that_were_told_too_low_until_the_gallery_is_told(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 14))
    note = lend(engine, by.kelpstane, told(ids[10]), told(ids[11]), told(ids[12], 8000))
    sell(engine, by.studio, *ids[:9])
    with reading(engine) as session:
        assert consignments.told_too_low(session, 1, MAY_4) == []
    sell(engine, by.studio, ids[9])
    with reading(engine) as session:
        low = consignments.told_too_low(session, 1, MAY_4)
    assert [(each.gallery, each.number, each.told, each.now) for each in low] == [
        (GALLERY, 11, 6500, 7500),
        (GALLERY, 12, 6500, 7500),
    ]
    with acting(engine, MAY_9) as book:
        consignments.tell(book, note, [told(ids[10]), told(ids[11], 7600)])
    with reading(engine) as session:
        assert consignments.told_too_low(session, 1, MAY_9) == []
        assert [each.told_price for each in consignments.lent_on(session, note)] == [7500, 7600, 8000]


# --- channels and occasions ---


def test_a_fair_is_open_on_its_own_days_only(engine: Engine) -> None:
    road(engine)
    by = ways(engine)
    with acting(engine) as book:
        fair = OccasionDraft(
            name="Saltrigg Midsummer Fair",
            kind="selling",
            from_on=date(2026, 6, 13),
            to_on=date(2026, 6, 14),
            channel_id=by.fair,
        )
        occasions.add(book, fair)
    with reading(engine) as session:
        found = [occasions.open_fair(session, date(2026, 6, day)) for day in (12, 13, 14, 15)]
    assert [each.name if each else None for each in found] == [None, fair.name, fair.name, None]


def test_a_fair_does_not_end_before_it_begins(engine: Engine) -> None:
    road(engine)
    with refused("The last day comes before the first"), acting(engine) as book:
        occasions.add(book, OccasionDraft(name="Fair", kind="selling", from_on=MAY_9, to_on=MAY_4))


def test_two_ways_of_selling_have_two_names_and_may_change_their_fee(engine: Engine) -> None:
    road(engine)
    by = ways(engine)
    with refused("“At a fair” is there already"), acting(engine) as book:
        occasions.add_channel(book, ChannelDraft(name=" At  a fair", kind="fair"))
    (one, two) = made(engine, 1, 2)
    before = sell(engine, by.fair, one, paid_by="card")
    with acting(engine) as book:
        occasions.change_channel(book, by.fair, ChannelDraft(name="At a fair", kind="fair", fee_bp=250))
    after = sell(engine, by.fair, two, paid_by="card")
    assert (before.receipts[0].fee_minor, after.receipts[0].fee_minor) == (114, 163)
    with reading(engine) as session:
        assert occasions.channel_named(session, "At a fair").id == by.fair
        with refused("There are: At a fair, Own web page"):
            occasions.channel_named(session, "By pigeon")


def test_the_buyer_of_a_lent_print_holds_it(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    note = lend(engine, by.kelpstane, told(one))
    sell(engine, by.gallery, one, consignment_id=note, buyer={"name": BUYER})
    assert (seen(engine, 1).holder_name, seen(engine, 1).place) == (BUYER, "holder")

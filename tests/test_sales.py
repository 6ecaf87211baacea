"""Sales: what they are worked out to, what they move, and what may happen to them afterwards.

The cast: Ottoline, who made the prints; Wilhelmina Tarn and Jory Pellow, who buy; Gallery Kelpstane, which sells for
her. Silas Grimble, who must not get in, buys nothing here.
"""

from datetime import date

import pytest
from sqlalchemy import Engine
from sqlmodel import col, select

from ledger import conditions, numbers, people, pricing, reports, sale_lines, sales, studio
from ledger.conditions import GiveDraft
from ledger.database import reading
from ledger.journal import length
from ledger.numbers import InscribeDraft
from ledger.sale_drafts import BuyerDraft, ReceiptDraft
from ledger.sale_lines import ReturnDraft
from ledger.tables import Journal, Secret
from tests.cast import (
    BUYER,
    GALLERY,
    MAY_4,
    SECOND_BUYER,
    acting,
    certified,
    made,
    offer,
    person,
    refused,
    road,
    seen,
    size,
)
from tests.trade import assigned, draft, lend, line, only_line, peak, sell, to, told, ways

MAY_9 = date(2026, 5, 9)
JUNE_2 = date(2026, 6, 2)


def kinds(engine: Engine, since: int = 0) -> list[str]:
    with reading(engine) as session:
        return list(session.exec(select(Journal.kind).where(col(Journal.seq) >= since).order_by(col(Journal.seq))))


# --- recording ---


def test_a_sold_print_is_the_buyers_and_its_number_is_passed_on(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    sale = sell(engine, by.studio, seven, buyer=to(BUYER), paid_by="cash")
    print_7 = seen(engine, 7)
    assert (print_7.standing, print_7.holder_name, print_7.place) == ("passed on", BUYER, "holder")
    assert (sale.due, sale.received, sale.balance, sale.buyer) == (6500, 6500, 0, BUYER)


def test_a_print_sold_on_the_web_page_is_in_the_post(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    sell(engine, by.web, seven, paid_by="site")
    assert seen(engine, 7).place == "post"


def test_a_sold_print_is_refused_with_its_date_and_the_numbers_to_offer_instead(engine: Engine) -> None:
    road(engine)
    by, (seven, *_) = ways(engine), made(engine, 7, 8, 9)
    sell(engine, by.studio, seven)
    with refused(r"7/25 was sold on 4 May 2026\. In hand: 8, 9\. Free next: 1, 2, 3\."), acting(engine, MAY_9) as book:
        sales.record(book, draft(by.studio, seven, on=MAY_9))


def test_only_a_print_that_is_there_and_ours_or_an_assigned_number_is_sold(engine: Engine) -> None:
    road(engine)
    by, (two, three, four) = ways(engine), made(engine, 2, 3, 4)
    with acting(engine) as book:
        conditions.missing(book, two, "the van's driver")
        conditions.destroy(book, three, "water, seen by the framer")
        conditions.move(book, four, "framer")
    for piece_id, why in (
        (seen(engine, 1).id, "1/25 is not numbered yet. Assign it first"),
        (two, "2/25 is missing"),
        (three, "3/25 was destroyed"),
        (four, "4/25 is at the framer"),
    ):
        with refused(why), acting(engine) as book:
            sales.record(book, draft(by.studio, piece_id))


def test_a_print_at_a_gallery_is_sold_only_through_it(engine: Engine) -> None:
    road(engine)
    by, (fourteen, fifteen) = ways(engine), made(engine, 14, 15)
    note = lend(engine, by.kelpstane, told(fourteen))
    at_the_gallery = r"14/25 is at Gallery Kelpstane\. Sell it through that gallery, or take it back first\."
    with refused(at_the_gallery), acting(engine) as book:
        sales.record(book, draft(by.studio, fourteen))
    with refused("15/25 is in hand; it is not out on that note"), acting(engine) as book:
        sales.record(book, draft(by.gallery, fifteen, consignment_id=note))
    sell(engine, by.gallery, fourteen, consignment_id=note)
    assert seen(engine, 14).standing == "passed on"


def test_a_sale_has_prints_each_once_and_no_day_to_come(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    wrong = (
        (draft(by.studio), "at least one print"),
        (draft(by.studio, seven, seven), "Name each once"),
        (draft(by.studio, seven, on=MAY_9), "still to come"),
        (draft(by.studio, seven, on=MAY_4, told_on=date(2026, 5, 3)), "before it was sold"),
        (draft(by.studio, seven, buyer=BuyerDraft(shown="named")), "Write the buyer’s name"),
        (draft(by.studio, seven, postage_charged_minor=-1), "nought or more"),
        (draft(by.studio, line(seven, discount_by="half")), "No gallery has a part in this sale"),
    )
    for sale, why in wrong:
        with refused(why), acting(engine) as book:
            sales.record(book, sale)
    assert seen(engine, 7).standing == "in hand"


def test_a_sale_and_its_rows_are_sealed_and_say_nothing_to_a_stranger(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    buyer = person(engine)
    with reading(engine) as session:
        before = length(session)
    sell(engine, by.studio, seven, buyer=BuyerDraft(person_id=buyer), paid_by="cash")
    assert kinds(engine, before) == ["sealed", "sealed"]
    with reading(engine) as session:
        body = session.get_one(Journal, before).body.decode()
        facts = session.exec(select(Secret).where(Secret.entry_seq == before, Secret.field == "facts")).one()
        assert BUYER not in body and "6500" not in body
        assert b'"act":"sold"' in facts.value and b'"price":6500' in facts.value and BUYER.encode() not in facts.value


def test_erasing_a_buyer_leaves_the_sale_and_takes_the_name(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    sale = sell(engine, by.studio, seven, buyer=to(BUYER))
    with acting(engine, MAY_9) as book:
        people.erase(book, sale.sale.buyer_id or 0)
    with reading(engine) as session:
        assert sales.view(session, sale.sale.id or 0).buyer == "name erased"
        assert not session.exec(select(Secret).where(Secret.person_id == sale.sale.buyer_id)).first()
    with refused("That name was erased"), acting(engine, MAY_9) as book:
        eight = numbers.inscribe(book, seen(engine, 8).id, InscribeDraft()).id or 0
        sales.record(book, draft(by.studio, eight, buyer=BuyerDraft(person_id=sale.sale.buyer_id)))


# --- the price steps ---


def test_the_eleventh_sold_is_at_the_next_price(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 13))
    sell(engine, by.studio, *ids[:9])
    assert only_line(sell(engine, by.studio, ids[9])).list_minor == 6500
    eleventh = only_line(sell(engine, by.studio, ids[10]))
    assert (eleventh.position, eleventh.list_minor, eleventh.price_minor) == (11, 7500, 7500)


def test_the_sale_that_ends_a_price_step_says_so_before_it_is_saved_and_who_has_to_be_told(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 14))
    lend(engine, by.kelpstane, told(ids[10]), told(ids[11]), told(ids[12], 7500))
    sell(engine, by.studio, *ids[:9])
    with reading(engine) as session:
        notes = pricing.work_out(session, draft(by.studio, ids[9])).notes
    assert notes == ("This is the 10th sold. The next one is £75.00.", "Two at Gallery Kelpstane need a price notice.")


def test_two_prints_of_one_sale_stand_on_either_side_of_a_step(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 12))
    sell(engine, by.studio, *ids[:9])
    sale = sell(engine, by.studio, *ids[9:])
    assert [(each.position, each.list_minor) for each in sale.lines] == [(10, 6500), (11, 7500)]
    assert peak(engine) == 11


def test_a_return_leaves_the_price_step_where_it_was(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 14))
    sell(engine, by.studio, *ids[:9])
    pair = sell(engine, by.studio, *ids[9:11])
    for each in pair.lines:
        with acting(engine, MAY_9) as book:
            sale_lines.return_line(book, each.id or 0, ReturnDraft(on=MAY_9))
    assert peak(engine) == 11
    # Nine stand sold, eleven once did: nobody else is sold one at the first price again.
    again = sell(engine, by.studio, ids[9], ids[10], ids[11], on=MAY_9)
    assert [(each.position, each.list_minor) for each in again.lines] == [(12, 7500)] * 3
    assert peak(engine) == 12


def test_a_sale_struck_takes_its_step_back(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 12))
    sell(engine, by.studio, *ids[:9])
    tenth = sell(engine, by.studio, ids[9])
    with acting(engine) as book:
        sale_lines.strike_line(book, only_line(tenth).id or 0, "a slip of the thumb")
    assert peak(engine) == 9
    assert only_line(sell(engine, by.studio, ids[10])).list_minor == 6500


def test_a_strike_recounts_the_returns_made_meanwhile(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, 1, 2, 3, 4)
    first = sell(engine, by.studio, ids[0])
    sell(engine, by.studio, ids[1])
    with acting(engine, MAY_9) as book:
        sale_lines.return_line(book, only_line(first).id or 0, ReturnDraft(on=MAY_9))
    third = sell(engine, by.studio, ids[2], ids[3], on=MAY_9)
    assert peak(engine) == 3
    with acting(engine, MAY_9) as book:
        sale_lines.strike_line(book, third.lines[0].id or 0, "not after all")
    assert peak(engine) == 2


def test_a_gift_a_swap_and_a_charity_auction_move_no_step(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, 1, 2, 3, 4)
    for piece_id, how, who in (
        (ids[0], "gift", BUYER),
        (ids[1], "exchange", SECOND_BUYER),
        (ids[2], "donation", "Quern Slip Lifeboat"),
    ):
        with acting(engine) as book:
            conditions.give(book, piece_id, GiveDraft(how=how, name=who))
    assert peak(engine) == 0
    assert only_line(sell(engine, by.studio, ids[3])).position == 1


def test_a_proof_is_priced_by_hand_and_moves_no_step(engine: Engine) -> None:
    road(engine)
    by, proof = ways(engine), seen(engine, 1, kind="AP").id
    with acting(engine) as book:
        numbers.inscribe(book, proof, InscribeDraft())
    with refused("AP I/III has no price step. Write its price."), acting(engine) as book:
        sales.record(book, draft(by.studio, proof))
    sold = only_line(sell(engine, by.studio, line(proof, 9000)))
    assert (sold.position, sold.list_minor, sold.price_minor) == (None, 9000, 9000)
    assert peak(engine) == 0


def test_a_price_may_lie_above_the_step_and_never_below_nothing(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    dear = only_line(sell(engine, by.studio, line(one, 8000)))
    assert (dear.list_minor, dear.price_minor) == (6500, 8000)
    with refused("A discount cannot be more than the price"), acting(engine) as book:
        sales.record(book, draft(by.studio, line(two, -1)))
    assert only_line(sell(engine, by.studio, line(two, 0))).price_minor == 0


def test_a_late_report_takes_the_next_place_and_prices_no_other_sale_anew(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, *range(1, 12))
    note = lend(engine, by.kelpstane, told(ids[0]))
    tenth = sell(engine, by.studio, *ids[1:11], on=MAY_9).lines[-1]
    late = only_line(sell(engine, by.gallery, line(ids[0], 5800), on=MAY_4, told=JUNE_2, consignment_id=note))
    assert (tenth.position, tenth.list_minor) == (10, 6500)
    # Told 65.00 and sold for 58.00: the price told is its list price, whatever the step is now.
    assert (late.position, late.list_minor, late.price_minor) == (11, 6500, 5800)


def test_a_new_offer_is_for_sales_from_its_day_on(engine: Engine) -> None:
    from ledger import editions

    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    with acting(engine, MAY_9) as book:
        editions.new_offer(book, 1, offer((1, 7000)))
    assert only_line(sell(engine, by.studio, one, on=MAY_4, told=MAY_9)).list_minor == 6500
    assert only_line(sell(engine, by.studio, two, on=MAY_9)).list_minor == 7000


# --- the sums ---

# design figures: list 120.00, obtained 108.00 at 40 %; told 65.00, obtained 58.00
DISCOUNTS = [
    (12000, 10800, "shared", 6480),
    (12000, 10800, "maker", 6000),
    (12000, 10800, "gallery", 7200),
    (12000, 10800, "half", 6600),
    (6500, 5800, "shared", 3480),
    (6500, 5800, "maker", 3200),
    (6500, 5800, "gallery", 3900),
    (6500, 5800, "half", 3550),
]


@pytest.mark.parametrize(("list_price", "price", "by_whom", "reaches"), DISCOUNTS)
def test_a_discount_is_borne_by_whoever_agreed_to(
    sqlite_engine: Engine, list_price: int, price: int, by_whom: str, reaches: int
) -> None:
    road(sqlite_engine)
    by, (one,) = ways(sqlite_engine), made(sqlite_engine, 1)
    note = lend(sqlite_engine, by.kelpstane, told(one, list_price), commission_bp=4000, discount_by=by_whom)
    assert sell(sqlite_engine, by.gallery, line(one, price), consignment_id=note).due == reaches


def test_who_bears_a_discount_can_be_said_for_one_sale(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    note = lend(engine, by.kelpstane, told(one, 12000), commission_bp=4000, discount_by="maker")
    sale = sell(engine, by.gallery, line(one, 10800, discount_by="gallery"), consignment_id=note)
    assert (sale.due, only_line(sale).discount_by) == (7200, "gallery")


def test_terms_by_which_the_gallery_keeps_more_than_was_paid_are_refused(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    note = lend(engine, by.kelpstane, told(one, 12000), commission_bp=4000, discount_by="maker")
    with refused("the gallery keeps £48.00 of £20.00"), acting(engine) as book:
        sales.record(book, draft(by.gallery, line(one, 2000), consignment_id=note))


def test_a_frame_priced_apart_bears_no_commission_agreed_on_the_print(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    note = lend(engine, by.kelpstane, told(one, 9500, 6000), commission_bp=4000, commission_on="print")
    sale = sell(engine, by.gallery, one, consignment_id=note)
    assert (only_line(sale).commission_minor, sale.due) == (3800, 11700)


def test_a_registered_makers_gallery_sale_with_a_frame_apart(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    with acting(engine) as book:
        studio.set_tax(book, MAY_4, registered=True, number="XX 1", rate_bp=2000)
    note = lend(
        engine,
        by.kelpstane,
        told(one, 9500, 6000),
        commission_bp=4000,
        commission_of="without_tax",
        commission_tax_bp=2000,
    )
    with reading(engine) as session:
        (worked,) = pricing.work_out(session, draft(by.gallery, one, consignment_id=note, packing_minor=0)).lines
    # 155.00 / 6; 40 % of 95.00 / 1.2; a fifth of that. She reclaims the tax on the commission, so it is no cost.
    assert (worked.tax, worked.commission, worked.commission_tax) == (2583, 3167, 633)
    assert (worked.due, worked.selling, worked.leaves) == (11700, 3167, 15500 - 2583 - 3167)


def test_tax_is_worked_out_by_line_or_by_invoice_as_the_studio_chose(engine: Engine) -> None:
    from tests.cast import STUDIO

    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    with acting(engine) as book:
        studio.set_tax(book, MAY_4, registered=True, rate_bp=2000)
    both = draft(by.studio, line(one, 6502), line(two, 6502))
    with reading(engine) as session:
        assert [each.tax for each in pricing.work_out(session, both).lines] == [1084, 1084]  # 10.8367 each
    with acting(engine) as book:
        studio.change_studio(book, STUDIO.model_copy(update={"tax_by": "invoice"}))
    with reading(engine) as session:
        assert [each.tax for each in pricing.work_out(session, both).lines] == [1084, 1083]  # 21.6733 in all


def test_a_sale_takes_the_tax_rule_of_its_own_day(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    with acting(engine) as book:
        studio.set_tax(book, MAY_9, registered=True, rate_bp=2000)
    assert only_line(sell(engine, by.studio, one, on=MAY_4, told=JUNE_2)).tax_minor == 0
    assert only_line(sell(engine, by.studio, two, on=MAY_9, told=JUNE_2)).tax_minor == 1083


def test_three_prints_on_one_card_cost_one_fee_shared_to_the_penny(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, 1, 2, 3)
    sale = sell(engine, by.fair, *ids, paid_by="card")
    assert sale.receipts[0].fee_minor == 341  # 1.75 % of 195.00; three payments would cost 3.42
    assert [each.fee_minor for each in sale.lines] == [114, 114, 113]


def test_cash_and_transfers_cost_no_fee(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    assert only_line(sell(engine, by.fair, one, paid_by="cash")).fee_minor == 0
    assert only_line(sell(engine, by.web, two, paid_by="transfer")).fee_minor == 0


def test_postage_is_shared_by_print_and_frame_and_the_gallery_takes_nothing_of_it(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    note = lend(engine, by.kelpstane, told(one, 6000), told(two, 6000, 3000), commission_bp=5000)
    sale = sell(engine, by.gallery, one, two, consignment_id=note, postage_charged_minor=1000, postage_paid_minor=500)
    assert [each.charged_minor for each in sale.lines] == [400, 600]
    assert [each.postage_minor for each in sale.lines] == [200, 300]
    assert [each.commission_minor for each in sale.lines] == [3000, 3000]
    assert sale.due == 16000 - 6000


def test_what_a_sale_leaves_is_the_same_before_it_is_saved_and_in_the_record(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    wanted = draft(
        by.fair,
        one,
        line(two, 6000),
        postage_charged_minor=450,
        receipts=(ReceiptDraft(amount_minor=12950, how="card"),),
    )
    with reading(engine) as session:
        worked = pricing.work_out(session, wanted)
    with acting(engine) as book:
        sale = sales.record(book, wanted)
    with reading(engine) as session:
        margin = reports.margin(session, 1).with_labour
        assert worked.leaves == margin.takings - margin.tax - margin.selling
        assert worked.due == sales.view(session, sale.id or 0).due


# --- money that comes in ---


def test_a_deposit_leaves_a_balance_until_the_rest_has_come(engine: Engine) -> None:
    road(engine, sizes=(size(offer=offer((1, 18000))),))
    by, nine = ways(engine), assigned(engine, 9)
    sale = sell(engine, by.studio, nine, buyer=to(BUYER), receipts=(ReceiptDraft(amount_minor=6000, how="cash"),))
    assert (sale.due, sale.received, sale.balance, sale.deposit) == (18000, 6000, 12000, True)
    assert seen(engine, 9).order_stands and seen(engine, 9).standing == "assigned"
    with refused("9/25 was sold on 4 May 2026 and waits to be handed over"), acting(engine, MAY_9) as book:
        sale_lines.hand_over(book, only_line(sale).id or 0, MAY_9)
    made(engine, 9, on=MAY_9)
    with acting(engine, JUNE_2) as book:
        sale_lines.hand_over(book, only_line(sale).id or 0, JUNE_2)
        sales.add_receipt(book, sale.sale.id or 0, ReceiptDraft(amount_minor=12000, how="transfer"))
    assert seen(engine, 9).holder_name == BUYER
    with reading(engine) as session:
        paid = sales.view(session, sale.sale.id or 0)
        assert (paid.balance, paid.deposit) == (0, False)


def test_more_than_is_due_is_not_taken_and_more_than_came_in_not_given_back(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    with refused(r"Only £65\.00 is due"), acting(engine) as book:
        sales.record(book, draft(by.studio, one, receipts=(ReceiptDraft(amount_minor=6501, how="cash"),)))
    sale = sell(engine, by.studio, two, receipts=(ReceiptDraft(amount_minor=2000, how="cash"),))
    for amount, why in ((4501, r"Only £45\.00 is still due"), (-2001, r"Only £20\.00 has come in"), (0, "came in")):
        with refused(why), acting(engine) as book:
            sales.add_receipt(book, sale.sale.id or 0, ReceiptDraft(amount_minor=amount, how="cash"))
    with acting(engine) as book:
        sales.add_receipt(book, sale.sale.id or 0, ReceiptDraft(amount_minor=4500, how="cash"))
    with refused("Nothing is due any more for this sale."), acting(engine) as book:
        sales.add_receipt(book, sale.sale.id or 0, ReceiptDraft(amount_minor=100, how="cash"))


def test_a_second_payment_by_card_adds_its_own_fee(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    sale = sell(engine, by.fair, one, receipts=(ReceiptDraft(amount_minor=2000, how="card"),))
    with acting(engine, MAY_9) as book:
        sales.add_receipt(book, sale.sale.id or 0, ReceiptDraft(amount_minor=4500, how="card"))
    with reading(engine) as session:
        paid = sales.view(session, sale.sale.id or 0)
    assert [each.fee_minor for each in paid.receipts] == [35, 79]
    assert only_line(paid).fee_minor == 114


# --- not sold after all ---


def test_not_sold_after_all_puts_everything_back(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    before = seen(engine, 7)
    sale = sell(engine, by.fair, seven, buyer=to(BUYER), paid_by="card")
    with acting(engine) as book:
        sale_lines.strike_line(book, only_line(sale).id or 0, "wrong print")
    assert seen(engine, 7) == before
    with reading(engine) as session:
        struck = sales.view(session, sale.sale.id or 0)
        assert (struck.due, struck.received, struck.receipts[0].struck) == (0, 0, True)
        assert reports.margin(session, 1).with_labour.selling == 0
    assert sell(engine, by.fair, seven).due == 6500


def test_a_gallerys_sale_struck_is_on_loan_there_again(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    note = lend(engine, by.kelpstane, told(seven))
    sale = sell(engine, by.gallery, seven, consignment_id=note)
    with acting(engine) as book:
        sale_lines.strike_line(book, only_line(sale).id or 0, "they meant another")
    assert (seen(engine, 7).standing, seen(engine, 7).keeper_name) == ("out", GALLERY)
    assert sell(engine, by.gallery, seven, consignment_id=note).due == 6500 - 2925


def test_one_of_three_struck_takes_its_part_of_the_payment_with_it(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, 1, 2, 3)
    sale = sell(engine, by.fair, *ids, paid_by="card")
    with acting(engine) as book:
        sale_lines.strike_line(book, sale.lines[2].id or 0, "only two")
    with reading(engine) as session:
        left = sales.view(session, sale.sale.id or 0)
    assert [(each.amount_minor, each.fee_minor, each.struck) for each in left.receipts] == [
        (19500, 341, True),
        (13000, 228, False),
    ]
    assert [each.fee_minor for each in left.lines[:2]] == [114, 114]
    assert (left.due, left.balance) == (13000, 0)


def test_a_deposit_that_the_rest_of_the_sale_still_needs_stays(engine: Engine) -> None:
    road(engine)
    by, ids = ways(engine), made(engine, 1, 2)
    sale = sell(engine, by.studio, *ids, receipts=(ReceiptDraft(amount_minor=6000, how="cash"),))
    with acting(engine) as book:
        sale_lines.strike_line(book, sale.lines[0].id or 0, "only one")
    with reading(engine) as session:
        assert sales.view(session, sale.sale.id or 0).balance == 500


def test_a_line_is_struck_once_and_not_once_the_print_has_passed_on(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    first, second = sell(engine, by.studio, one), sell(engine, by.studio, two, buyer=to(BUYER))
    with acting(engine) as book:
        sale_lines.strike_line(book, only_line(first).id or 0, "a slip")
        conditions.give(book, two, GiveDraft(how="gift", name=SECOND_BUYER))
    with refused(r"That line was struck on 4 May 2026 already"), acting(engine, MAY_9) as book:
        sale_lines.strike_line(book, only_line(first).id or 0, "a slip")
    with refused("2/25 has passed on since that sale"), acting(engine, MAY_9) as book:
        sale_lines.strike_line(book, only_line(second).id or 0, "a slip")


# --- returned ---


def test_a_print_that_came_back_with_its_paper_keeps_its_certificate(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    certified(engine, seven)
    sale = sell(engine, by.web, seven, buyer=to(BUYER), paid_by="site")
    with acting(engine, MAY_9) as book:
        refund = ReceiptDraft(amount_minor=6500, how="transfer")
        sale_lines.return_line(book, only_line(sale).id or 0, ReturnDraft(on=MAY_9, refund=refund))
    back = seen(engine, 7)
    assert (back.standing, back.place, back.how, back.certificate_state) == ("in hand", "studio", "return", "valid")
    with reading(engine) as session:
        assert sales.view(session, sale.sale.id or 0).balance == 0


def test_a_return_without_its_paper_is_written_exactly_as_a_print_gone_missing(engine: Engine) -> None:
    road(engine)
    by, (seven, eight) = ways(engine), made(engine, 7, 8)
    for piece_id in (seven, eight):
        certified(engine, piece_id)
    sale = sell(engine, by.studio, seven)
    with reading(engine) as session:
        before = length(session)
    with acting(engine, MAY_9) as book:
        sale_lines.return_line(
            book, only_line(sale).id or 0, ReturnDraft(on=MAY_9, paper_came_back=False, why="no paper")
        )
    with acting(engine, MAY_9) as book:
        conditions.missing(book, eight, "not in its drawer")
    assert kinds(engine, before) == ["sealed", "certificate.suspended", "sealed"] * 2
    assert seen(engine, 7).certificate_state == "suspended"


def test_what_selling_a_returned_print_cost_stays_spent(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    sale = sell(engine, by.web, seven, paid_by="site")
    with acting(engine, MAY_9) as book:
        refund = ReceiptDraft(amount_minor=6500, how="transfer")
        sale_lines.return_line(book, only_line(sale).id or 0, ReturnDraft(on=MAY_9, refund=refund))
    with reading(engine) as session:
        margin = reports.margin(session, 1).with_labour
    assert (margin.sold, margin.takings, margin.selling) == (0, 0, 150 + 290 + 635)
    assert margin.left == -1075


def test_what_its_buyer_gave_on_does_not_come_back_as_a_return(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    sale = sell(engine, by.studio, seven, buyer=to(BUYER))
    with acting(engine, MAY_9) as book:
        conditions.give(book, seven, GiveDraft(how="gift", name=SECOND_BUYER))
    with refused("7/25 has passed on since that sale"), acting(engine, MAY_9) as book:
        sale_lines.return_line(book, only_line(sale).id or 0, ReturnDraft(on=MAY_9))


def test_a_print_lost_in_the_post_is_refunded_and_still_missing(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    sale = sell(engine, by.web, seven, paid_by="site")
    with acting(engine, MAY_9) as book:
        conditions.missing(book, seven, "the carrier")
        sale_lines.return_line(
            book,
            only_line(sale).id or 0,
            ReturnDraft(on=MAY_9, paper_came_back=False, refund=ReceiptDraft(amount_minor=6500, how="site")),
        )
    assert (seen(engine, 7).standing, seen(engine, 7).holder) == ("missing", "maker")


def test_the_second_print_of_a_number_comes_back_in_place_of_the_first(engine: Engine) -> None:
    road(engine)
    by, (seven,) = ways(engine), made(engine, 7)
    sale = sell(engine, by.studio, seven, buyer=to(BUYER))
    with acting(engine, MAY_9) as book:
        conditions.destroy(book, seven, "fire, the fire service's letter")
        conditions.replace(book, seven, conditions.ReplaceDraft())
    assert (seen(engine, 7).generation, seen(engine, 7).holder_name) == (2, BUYER)
    with acting(engine, JUNE_2) as book:
        sale_lines.return_line(book, only_line(sale).id or 0, ReturnDraft(on=JUNE_2))
    assert (seen(engine, 7).standing, seen(engine, 7).holder) == ("in hand", "maker")


# --- orders ---


def test_an_order_takes_another_number_and_keeps_its_price(engine: Engine) -> None:
    road(engine)
    by, nine = ways(engine), assigned(engine, 9)
    sale = sell(engine, by.studio, nine, buyer=to(BUYER))
    with acting(engine) as book:
        sale_lines.exchange_number(book, only_line(sale).id or 0, seen(engine, 12).id)
    assert not seen(engine, 9).order_stands and seen(engine, 9).standing == "assigned"
    assert seen(engine, 12).order_stands and seen(engine, 12).standing == "assigned"
    with reading(engine) as session:
        moved = only_line(sales.view(session, sale.sale.id or 0))
    assert (moved.position, moved.list_minor, moved.price_minor) == (1, 6500, 6500)


def test_an_order_takes_no_number_that_is_sold_signed_or_of_another_class(engine: Engine) -> None:
    road(engine)
    by, nine, ten = ways(engine), assigned(engine, 9), assigned(engine, 10)
    made(engine, 11)
    sale = sell(engine, by.studio, nine)
    sell(engine, by.studio, ten)
    for piece_id, why in (
        (ten, "10/25 was sold"),
        (seen(engine, 11).id, "11/25 is in hand"),
        (seen(engine, 1, kind="AP").id, "AP I/III is not of the same edition"),
    ):
        with refused(why), acting(engine) as book:
            sale_lines.exchange_number(book, only_line(sale).id or 0, piece_id)
    made(engine, 9)
    with refused("Only an order for one still to be signed is exchanged"), acting(engine) as book:
        sale_lines.exchange_number(book, only_line(sale).id or 0, seen(engine, 12).id)


def test_a_cancelled_order_leaves_the_number_assigned(engine: Engine) -> None:
    road(engine)
    by, nine = ways(engine), assigned(engine, 9)
    sale = sell(engine, by.studio, nine, receipts=(ReceiptDraft(amount_minor=3000, how="cash"),))
    with refused("was not handed over yet. Cancel the order instead"), acting(engine, MAY_9) as book:
        sale_lines.return_line(book, only_line(sale).id or 0, ReturnDraft(on=MAY_9))
    with acting(engine, MAY_9) as book:
        refund = ReceiptDraft(amount_minor=1000, how="cash")
        sale_lines.cancel_order(book, only_line(sale).id or 0, ReturnDraft(on=MAY_9, refund=refund))
    assert (seen(engine, 9).standing, seen(engine, 9).order_stands) == ("assigned", False)
    with reading(engine) as session:
        assert sales.view(session, sale.sale.id or 0).received == 2000  # kept, as was agreed
    with refused("That line was returned on 9 May 2026 already"), acting(engine, MAY_9) as book:
        sale_lines.cancel_order(book, only_line(sale).id or 0, ReturnDraft(on=MAY_9))


def test_an_order_in_an_edition_of_several_sizes_needs_its_size(engine: Engine) -> None:
    road(engine, sizes=(size(), size(300, 300)))
    by, nine = ways(engine), assigned(engine, 9)
    with refused("9/25 has no size yet"), acting(engine) as book:
        sales.record(book, draft(by.studio, nine))
    with acting(engine) as book:
        numbers.give_back(book, nine)
        numbers.allocate(book, 1, numbers=[9], reason="asked for", size_id=2)
    sell(engine, by.studio, nine)
    assert seen(engine, 9).size_id == 2


def test_an_order_spoilt_at_the_bench_still_stands(engine: Engine) -> None:
    road(engine)
    by, nine = ways(engine), assigned(engine, 9)
    sell(engine, by.studio, nine)
    made(engine, 9)
    with acting(engine) as book:
        numbers.spoil(book, nine)
    assert (seen(engine, 9).standing, seen(engine, 9).order_stands) == ("assigned", True)


def test_a_print_made_again_before_its_order_was_handed_over_is_not_sold_twice(engine: Engine) -> None:
    road(engine)
    by, nine = ways(engine), assigned(engine, 9)
    sale = sell(engine, by.studio, nine, buyer=to(BUYER))
    made(engine, 9)
    with acting(engine) as book:
        conditions.destroy(book, nine, "dropped, seen by Jory")
        second = conditions.replace(book, nine, conditions.ReplaceDraft()).id or 0
    with refused("9/25 was sold before it was printed again"), acting(engine) as book:
        sales.record(book, draft(by.studio, second))
    with acting(engine, MAY_9) as book:
        sale_lines.hand_over(book, only_line(sale).id or 0, MAY_9)
    assert seen(engine, 9).holder_name == BUYER

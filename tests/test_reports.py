"""What an edition leaves: the worked edition of twenty-five through the acts, and the identity over random histories.

The worked edition is invented; its sums were made by hand before the code was. The cast: Ottoline, who made the
prints; Gallery Kelpstane, which sells for her.
"""

import random
from collections.abc import Callable
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine, func
from sqlmodel import Session, col, select

from ledger import (
    conditions,
    consignments,
    costs,
    declarations,
    making_costs,
    numbers,
    occasions,
    pieces,
    price_steps,
    pricing,
    reports,
    runs,
    sale_lines,
    sales,
    studio,
)
from ledger.conditions import GiveDraft
from ledger.consignments import ConsignmentDraft
from ledger.costs import CostDraft
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.numbers import InscribeDraft
from ledger.reckoning.margin import ChannelRow
from ledger.runs import RunDraft
from ledger.sale_drafts import LineDraft, ReceiptDraft
from ledger.sale_lines import ReturnDraft
from ledger.tables import Consignment, Cost, Edition, Event, Piece, PrintClass, Receipt, Run, Sale, SaleLine
from tests.cast import MAY_4, acting, declared, drawer, made, offer, opened, promise, refused, road, seen, size
from tests.trade import Ways, draft, lend, line, only_line, sell, sell_in, told, ways

LADDER = offer((1, 6500), (11, 7500), (19, 8500), (24, 9500))
# Sold within each price step, in this order: (fair, web, gallery).
BY_STEP = ((5, 3, 2), (3, 2, 3), (0, 1, 4), (0, 1, 1))
MAKING = (
    ("run", 6 * 840 + 660, False, "six lab sheets and their delivery"),
    ("run", 53 * 80, False, "53 squares of board, three of them spoilt"),
    ("run", 26 * 725, False, "frames with glass, one broken"),
    ("run", 25 * 45, False, "backing, tape, hinges"),
    ("run", 25 * 55, False, "label, certificate, envelope"),
    ("edition", 2200 + 600, False, "proofing, and the die's part"),
    ("run", 25 * 800, True, "half an hour each at 16.00"),
)
MAY_9 = date(2026, 5, 9)


def spend(book: Book, basis: str, target: int | None, amount: int, note: str = "", own: bool = False) -> Cost:
    return costs.add(
        book,
        CostDraft(basis=basis, target_id=target, amount_minor=amount, spent_on=book.today, note=note, own_labour=own),
    )


def printed(book: Book, edition: int, count: int, *, costs_too: bool = True) -> list[int]:
    """One printing of an edition, every number of it signed; the ids in order."""
    run = runs.record(book, RunDraft(edition_id=edition, made_on=book.today, sheets=6, good=count + 4, spoilt=7))
    for basis, amount, own, note in MAKING if costs_too else ():
        spend(book, basis, run.id if basis == "run" else edition, amount, note, own)
    main = pieces.find_class(book.session, edition, "numbered")
    ids = [each.id for each in pieces.run_of(book.session, edition) if each.class_id == main.id]
    for piece_id in ids:
        numbers.inscribe(book, piece_id, InscribeDraft(run_id=run.id))
    return ids


def the_worked_edition(engine: Engine, order: tuple[str, ...] = ("fair", "web", "gallery"), **terms: int) -> Ways:
    """Twenty-five sold as in the worked edition; a second edition makes up the fair's 30 and the round's 20."""
    opened(engine)
    by = ways(engine)
    with acting(engine) as book:
        for count in (25, 40):
            declarations.declare(book, promise(count=count, sizes=(size(offer=LADDER),)))
        ours, others = printed(book, 1, 25), printed(book, 2, 40, costs_too=False)
        for amount in (12000, 5400):  # the stand, and the way there
            spend(book, "occasion", by.the_fair, amount)
        spend(book, "occasion", by.the_round, 1800)
        shown = [
            told(piece_id, price)
            for piece_id, price in zip(ours[15:], [6500] * 2 + [7500] * 3 + [8500] * 4 + [9500], strict=True)
        ] + [told(piece_id) for piece_id in others[:10]]
        facts = {"commission_bp": 4500, **terms}
        note = consignments.lend(
            book,
            ConsignmentDraft(
                person_id=by.kelpstane, lent_on=MAY_4, occasion_id=by.the_round, pieces=tuple(shown), **facts
            ),
        )
        sell_in(book, draft(by.fair, *others[10:32], occasion_id=by.the_fair), "cash")
        queues = {"fair": ours[:8], "web": ours[8:15], "gallery": ours[15:]}
        for step in BY_STEP:
            counts = dict(zip(("fair", "web", "gallery"), step, strict=True))
            for channel in order:
                for _ in range(counts[channel]):
                    piece_id = queues[channel].pop(0)
                    if channel == "fair":
                        sell_in(book, draft(by.fair, piece_id, occasion_id=by.the_fair), "card")
                    elif channel == "web":
                        sell_in(book, draft(by.web, piece_id), "site")
                    else:
                        sell_in(book, draft(by.gallery, piece_id, consignment_id=note.id))
    return by


# --- the worked edition ---


def test_the_worked_edition_leaves_811_12_or_1011_12_without_own_labour(engine: Engine) -> None:
    the_worked_edition(engine)
    with reading(engine) as session:
        report = reports.margin(session, 1)
    worth = report.with_labour
    assert (worth.sold, worth.takings, worth.making, worth.occasions) == (25, 186500, 54090, 5540)
    assert (worth.contribution, worth.left, report.without_labour.left) == (86652, 81112, 101112)
    assert worth.channels == (
        ChannelRow("At a fair", 8, 55000, 0, 1443, 17309, 4640, 31608),
        ChannelRow("Own web page", 7, 52500, 0, 7665, 15145, 0, 29690),
        ChannelRow("In a gallery", 10, 79000, 0, 36650, 21636, 900, 19814),
    )
    assert report.selling == reports.Selling(35550, 963 + 1190, 480 + 2030 + 1100, 4445, 0)


def test_the_worked_edition_has_paid_itself_back_at_the_11th(engine: Engine) -> None:
    the_worked_edition(engine)
    with reading(engine) as session:
        report = reports.margin(session, 1)
    assert (report.with_labour.paid_back_at, report.without_labour.paid_back_at) == (11, 7)
    assert [step.running for step in report.with_labour.by_sale[9:11]] == [54835, 62144]


def test_sold_through_the_gallery_first_it_pays_itself_back_at_the_12th(sqlite_engine: Engine) -> None:
    the_worked_edition(sqlite_engine, order=("gallery", "fair", "web"))
    with reading(sqlite_engine) as session:
        assert reports.margin(session, 1).with_labour.paid_back_at == 12


def test_tax_on_the_commission_takes_71_10_more(sqlite_engine: Engine) -> None:
    the_worked_edition(sqlite_engine, commission_tax_bp=2000)
    with reading(sqlite_engine) as session:
        worth = reports.margin(session, 1).with_labour
    assert (worth.channels[2].left, worth.left) == (12704, 81112 - 7110)


def test_a_sale_at_the_fair_leaves_41_62_before_it_is_saved(engine: Engine) -> None:
    opened(engine)
    by = ways(engine)
    with acting(engine) as book:
        declarations.declare(book, promise(sizes=(size(offer=LADDER),)))
        ours = printed(book, 1, 25)
    wanted = draft(by.fair, ours[0], receipts=(ReceiptDraft(amount_minor=6500, how="card"),))
    with reading(engine) as session:
        worked = pricing.work_out(session, wanted)
        made_of = making_costs.of_pieces(session, {ours[0]: 1})[ours[0]]
    # 65.00 - 0.60 - 1.14 - 21.636; own labour is 8.00 of that.
    assert (worked.leaves, worked.leaves_without_own_labour) == (4162, 4962)
    assert made_of.with_own_labour * 1000 == 2163600


def test_what_a_fair_brought_is_set_against_what_it_cost(engine: Engine) -> None:
    by = the_worked_edition(engine)
    with reading(engine) as session:
        pitch = reports.pitch(session, by.the_fair)
    assert (pitch.cost, pitch.sold) == (17400, 30)
    # Ours: 550.00 - 14.43 - 173.088; the others, at no making cost: their takings less 0.60 packing each.
    others = 10 * 6500 + 8 * 7500 + 4 * 8500 - 22 * 60
    assert pitch.brought == 55000 - 1443 - 17309 + others
    assert pitch.to_go == 0


# --- where costs lie ---


def test_before_anything_is_sold_nothing_is_left_and_all_is_in_stock_or_waits(engine: Engine) -> None:
    road(engine)
    made(engine, *range(1, 11))
    with acting(engine) as book:
        spend(book, "edition", 1, 10000)
    with reading(engine) as session:
        worth = reports.margin(session, 1).with_labour
        assert reports.chart(session, 1, reports.margin(session, 1), MAY_4) is None
    assert (worth.left, worth.stock, worth.waiting, worth.to_go) == (0, 4000, 6000, 10000)


def test_a_run_lies_on_its_good_numbered_prints_and_on_no_proof(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        run = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=2, good=3, spoilt=1))
        spend(book, "run", run.id, 3000)
        for number, kind in ((1, "numbered"), (2, "numbered"), (1, "AP")):
            numbers.inscribe(book, _id(book, number, kind), InscribeDraft(run_id=run.id))
        spend(book, "piece", _id(book, 1, "AP"), 500)
    with reading(engine) as session:
        assert made_for(session, seen(engine, 1).id) == 1500
        assert made_for(session, seen(engine, 1, kind="AP").id) == 500
    with acting(engine) as book:
        conditions.destroy(book, _id(book, 2, "numbered"), "cut in two")
    with reading(engine) as session:
        assert made_for(session, seen(engine, 1).id) == 3000


def made_for(session: Session, piece_id: int) -> Fraction:
    """What a print of the first edition cost to make, own labour in it."""
    return making_costs.of_pieces(session, {piece_id: 1})[piece_id].with_own_labour


def _id(book: Book, number: int, kind: str) -> int:
    return next(each.id for each in pieces.run_of(book.session, 1) if (each.number, each.class_kind) == (number, kind))


def test_a_spoilt_print_gives_its_number_back_and_its_run_costs_the_others_more(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        run = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=2, good=2))
        spend(book, "run", run.id, 3000)
        for number in (1, 2):
            numbers.inscribe(book, _id(book, number, "numbered"), InscribeDraft(run_id=run.id))
        numbers.spoil(book, _id(book, 2, "numbered"))
        assert (run.good, run.spoilt) == (1, 1)
    with reading(engine) as session:
        assert made_for(session, seen(engine, 1).id) == 3000


def test_a_run_with_nothing_good_is_gone(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        run = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=2, good=0, spoilt=12))
        spend(book, "run", run.id, 3000)
    with reading(engine) as session:
        worth = reports.margin(session, 1).with_labour
    assert (worth.gone, worth.left) == (3000, -3000)


def test_a_gift_carries_its_making_and_no_takings(engine: Engine) -> None:
    road(engine)
    (one,) = made(engine, 1)
    with acting(engine) as book:
        spend(book, "edition", 1, 2500)
        conditions.give(book, one, GiveDraft(how="gift", name="Jory Pellow"))
    with reading(engine) as session:
        worth = reports.margin(session, 1).with_labour
    assert (worth.sold, worth.gone, worth.left) == (0, 100, -100)


def test_what_left_before_this_record_is_left_out_and_counted(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    with acting(engine) as book:
        spend(book, "edition", 1, 1700)
    with reading(engine) as session:
        report = reports.margin(session, 1)
    # Sold before: 23. The two missing are the maker's still and carry their part with the fifteen in hand.
    assert (report.left_before, report.with_labour.stock, report.with_labour.gone) == (23, 1500, 200)
    assert report.to_sell == 15


def test_the_first_sale_from_the_drawer_of_forty_is_the_24th(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    by = ways(engine)
    with reading(engine) as session:
        assert price_steps.standing_sold(session, 1) == 23
    assert only_line(sell(engine, by.studio, seen(engine, 26).id)).position == 24


def test_a_cost_of_one_sale_lies_on_its_lines_by_what_they_took(engine: Engine) -> None:
    opened(engine)
    by = ways(engine)
    declared(engine)
    declared(engine, promise(sizes=(size(offer=offer((1, 13000))),)))
    (ours,), (other,) = made(engine, 1), made(engine, 1, edition=2)
    sale = sell(engine, by.studio, ours, other).sale
    with acting(engine) as book:
        spend(book, "sale", sale.id, 900)
        spend(book, "sale", sale.id, 300, own=True)
    with reading(engine) as session:
        both = [reports.margin(session, edition) for edition in (1, 2)]
    assert [(each.with_labour.selling, each.without_labour.selling) for each in both] == [(400, 300), (800, 600)]
    with refused("A cost lies on this sale"), acting(engine, MAY_9) as book:
        for each in sales.lines_of(book.session, sale.id or 0):
            sale_lines.strike_line(book, each.id or 0, "a slip")


def test_an_occasion_with_nothing_sold_keeps_its_cost_to_itself(engine: Engine) -> None:
    road(engine)
    by, (one,) = ways(engine), made(engine, 1)
    with acting(engine) as book:
        spend(book, "occasion", by.the_fair, 12000)
        spend(book, "occasion", by.the_round, 1800)
    sell(engine, by.fair, one)
    with reading(engine) as session:
        assert reports.margin(session, 1).with_labour.occasions == 0
        assert reports.pitch(session, by.the_fair).to_go == 12000


def test_a_round_lies_on_what_was_lent_on_it_whatever_became_of_that(engine: Engine) -> None:
    road(engine)
    by, (one, two, three) = ways(engine), made(engine, 1, 2, 3)
    note = lend(engine, by.kelpstane, told(one), told(two), occasion_id=by.the_round)
    with acting(engine, MAY_9) as book:
        spend(book, "occasion", by.the_round, 1800)
        consignments.take_back(book, note, [two], MAY_9)
        conditions.destroy(book, two, "torn")
    sell(engine, by.studio, three, on=MAY_9)
    with reading(engine) as session:
        worth = reports.margin(session, 1).with_labour
    assert worth.occasions == 1800
    assert [(row.channel, row.sold, row.occasions) for row in worth.channels] == [
        ("From the studio", 1, 0),
        ("In a gallery", 0, 1800),
    ]


def test_a_struck_cost_counts_nowhere(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        cost = spend(book, "edition", 1, 2500)
        costs.strike(book, cost.id or 0, "written down twice")
    with reading(engine) as session:
        assert reports.margin(session, 1).with_labour.making == 0
        assert costs.between(session, MAY_4, MAY_4) == []
    with refused("struck already"), acting(engine) as book:
        costs.strike(book, cost.id or 0, "again")


@pytest.mark.parametrize(
    ("basis", "target", "amount", "why"),
    [
        ("edition", 1, 0, "more than nothing"),
        ("edition", 9, 100, "No edition has the number 9"),
        ("run", None, 100, "Say which printing"),
        ("studio", 1, 100, "lies on no one thing"),
    ],
)
def test_a_cost_says_what_it_was_spent_on(
    sqlite_engine: Engine, basis: str, target: int | None, amount: int, why: str
) -> None:
    road(sqlite_engine)
    with refused(why), acting(sqlite_engine) as book:
        spend(book, basis, target, amount)


def test_a_registered_maker_reclaims_the_tax_on_commission(engine: Engine) -> None:
    road(engine)
    by, (one, two) = ways(engine), made(engine, 1, 2)
    with acting(engine) as book:
        studio.set_tax(book, MAY_9, registered=True, rate_bp=2000)
    note = lend(engine, by.kelpstane, told(one), told(two), commission_tax_bp=2000)
    sell(engine, by.gallery, one, consignment_id=note, packing_minor=0)
    sell(engine, by.gallery, two, on=MAY_9, consignment_id=note, packing_minor=0)
    with reading(engine) as session:
        worth = reports.margin(session, 1).with_labour
    assert (worth.tax, worth.selling) == (1083, 2925 + 585 + 2925)


def test_what_is_owed_is_listed_by_gallery_and_age(engine: Engine) -> None:
    road(engine)
    by, (one, two, three) = ways(engine), made(engine, 1, 2, 3)
    note = lend(engine, by.kelpstane, told(one), told(two))
    sell(engine, by.gallery, one, consignment_id=note)
    paid = sell(engine, by.gallery, two, on=MAY_9, consignment_id=note)
    sell(engine, by.studio, three, on=MAY_9, receipts=(ReceiptDraft(amount_minor=2000, how="cash"),))
    with acting(engine, MAY_9) as book:
        sales.add_receipt(book, paid.sale.id or 0, ReceiptDraft(amount_minor=3575, how="transfer"))
    with reading(engine) as session:
        owed = [(each.who, each.days, each.balance) for each in reports.owed(session, date(2026, 6, 3))]
    assert owed == [("Gallery Kelpstane", 30, 3575), ("a buyer without a name", 25, 4500)]


# --- the drawing ---


def test_the_drawing_has_a_column_for_each_sale_and_each_number_still_to_sell(engine: Engine) -> None:
    the_worked_edition(engine)
    with acting(engine, MAY_9) as book:
        last = book.session.exec(
            select(SaleLine.id).join(Piece).where(Piece.class_id == 1).order_by(col(SaleLine.id).desc())
        ).first()
        sale_lines.strike_line(book, last or 0, "a slip")
    with reading(engine) as session:
        chart = reports.chart(session, 1, reports.margin(session, 1), MAY_9)
    assert chart is not None
    assert [column.sold for column in chart.columns] == [True] * 24 + [False]
    assert [step.words for step in chart.steps] == ["65", "75", "85", "95"]
    assert [line.words for line in chart.axis] == ["0", "50", "100"]
    assert [tick.words for tick in chart.ticks] == ["1", "5", "10", "15", "20", "25"]
    assert chart.start.words == "−596.30 laid out before the first sale"
    assert chart.paid_back is not None and chart.paid_back.words == "paid back at the 11th"
    assert len(chart.points.split()) == 25
    assert all(0 <= column.left_height <= column.height for column in chart.columns)
    assert chart.desc.startswith("24 sold for £1,770.00, 1 still to sell, £596.30 laid out, paid back at the 11th")


# --- the identity, after anything that can happen ---

Deed = Callable[[Book, random.Random, Ways], None]


def _some(book: Book, chance: random.Random, *where: object) -> int:
    found = list(book.session.exec(select(Piece.id).where(*where).order_by(col(Piece.id))))
    if not found:
        raise Refusal("none")
    return chance.choice(found) or 0


def _line(book: Book, chance: random.Random) -> int:
    found = list(book.session.exec(select(SaleLine.id).order_by(col(SaleLine.id))))
    if not found:
        raise Refusal("none")
    return chance.choice(found[-4:]) or 0


def _sign(book: Book, chance: random.Random, by: Ways) -> None:
    run = chance.choice([*runs.of_edition(book.session, 1), None])
    piece_id = _some(book, chance, col(Piece.state).in_(("free", "allocated")))
    on_run = run.id if run and pieces.edition_of(book.session, pieces.get(book.session, piece_id)) == 1 else None
    numbers.inscribe(book, piece_id, InscribeDraft(run_id=on_run))


def _assign(book: Book, chance: random.Random, by: Ways) -> None:
    numbers.allocate(book, chance.choice((1, 2)))


def _sell(book: Book, chance: random.Random, by: Ways) -> None:
    here = [each.id for each in pieces.views(book.session) if each.place == "studio" or each.state == "allocated"]
    chosen = set(chance.sample(here, min(len(here), chance.choice((1, 2, 2, 3)))))
    lines = tuple(
        LineDraft(
            piece_id=piece_id,
            price_minor=chance.choice((None, None, 0, 5999, 7001)),
            frame_minor=chance.choice((None, 0, 3333)),
        )
        for piece_id in sorted(chosen)
    )
    channel, how = chance.choice(((by.fair, "card"), (by.web, "site"), (by.studio, "cash")))
    wanted = draft(
        channel,
        *lines,
        on=book.today,
        occasion_id=chance.choice((None, by.the_fair, by.the_round)),
        postage_charged_minor=chance.choice((0, 451)),
    )
    sell_in(book, wanted, chance.choice(("", how)))


def _lend(book: Book, chance: random.Random, by: Ways) -> None:
    here = [each.id for each in pieces.views(book.session, Piece.state == "inscribed") if each.place == "studio"]
    chosen = chance.sample(here, min(len(here), 2))
    consignments.lend(
        book,
        ConsignmentDraft(
            person_id=by.kelpstane,
            lent_on=book.today,
            occasion_id=chance.choice((None, by.the_round)),
            commission_bp=chance.choice((3333, 4500)),
            commission_tax_bp=chance.choice((0, 2000)),
            commission_on=chance.choice(("print", "print_and_frame")),
            commission_of=chance.choice(("with_tax", "without_tax")),
            discount_by=chance.choice(("shared", "maker", "gallery", "half")),
            pieces=tuple(told(piece_id, chance.choice((6500, 7777)), 1500) for piece_id in sorted(chosen)),
        ),
    )


def _gallery_deed(sold: bool) -> Deed:
    def deed(book: Book, chance: random.Random, by: Ways) -> None:
        out = consignments.lent_out(book.session)
        if not out:
            raise Refusal("none")
        one = chance.choice(out)
        if sold:
            price = chance.choice((None, 5001))
            sell_in(
                book, draft(by.gallery, line(one.piece.id, price), on=book.today, consignment_id=one.consignment_id)
            )
        else:
            consignments.take_back(book, one.consignment_id, [one.piece.id], book.today)

    return deed


def _after(act: Callable[[Book, int, ReturnDraft], object]) -> Deed:
    def deed(book: Book, chance: random.Random, by: Ways) -> None:
        line_id = _line(book, chance)
        received = sales.view(book.session, sale_lines.get(book.session, line_id).sale_id).received
        refund = ReceiptDraft(amount_minor=chance.randint(1, received), how="cash") if received > 0 else None
        act(
            book,
            line_id,
            ReturnDraft(on=book.today, paper_came_back=chance.random() < 0.5, refund=chance.choice((None, refund))),
        )

    return deed


def _strike(book: Book, chance: random.Random, by: Ways) -> None:
    sale_lines.strike_line(book, _line(book, chance), "a slip")


def _hand_over(book: Book, chance: random.Random, by: Ways) -> None:
    sale_lines.hand_over(book, _line(book, chance), book.today)


def _pay(book: Book, chance: random.Random, by: Ways) -> None:
    sale_id = sale_lines.get(book.session, _line(book, chance)).sale_id
    amount = chance.choice((100, sales.view(book.session, sale_id).balance))
    sales.add_receipt(book, sale_id, ReceiptDraft(amount_minor=amount, how=chance.choice(("card", "transfer"))))


def _fate(act: Callable[[Book, int], object]) -> Deed:
    def deed(book: Book, chance: random.Random, by: Ways) -> None:
        act(book, _some(book, chance, Piece.state == "inscribed"))

    return deed


def _spend(book: Book, chance: random.Random, by: Ways) -> None:
    targets = {
        "piece": _some(book, chance, col(Piece.id).is_not(None)),
        "run": chance.choice(runs.of_edition(book.session, 1)).id,
        "edition": chance.choice((1, 2)),
        "occasion": chance.choice((by.the_fair, by.the_round)),
        "sale": sale_lines.get(book.session, _line(book, chance)).sale_id,
        "studio": None,
    }
    basis = chance.choice(sorted(targets))
    spend(book, basis, targets[basis], chance.randint(1, 20000), own=chance.random() < 0.3)


DEEDS: list[Deed] = [
    _sign, _assign, *[_sell] * 4, *[_lend] * 2, *[_gallery_deed(True)] * 2, _gallery_deed(False),
    _after(sale_lines.return_line), _after(sale_lines.cancel_order), _strike, _hand_over, _pay, *[_spend] * 3,
    _fate(lambda book, id: conditions.destroy(book, id, "torn")),
    _fate(lambda book, id: conditions.missing(book, id, "not there")),
    _fate(lambda book, id: conditions.replace(book, id, conditions.ReplaceDraft(sworn="sworn"))),
    _fate(lambda book, id: conditions.give(book, id, GiveDraft(how="gift"))),
    _fate(lambda book, id: numbers.spoil(book, id)),
]  # fmt: skip


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory, empty_ledger: object) -> tuple[Engine, Ways]:
    """Two small editions with a printing, in one ledger that every random history starts from."""
    import shutil

    from ledger.database import make_engine

    path = tmp_path_factory.mktemp("histories") / "ledger.sqlite"
    shutil.copyfile(str(empty_ledger), path)
    engine = make_engine(f"sqlite:///{path}")
    opened(engine)
    by = ways(engine)
    for count in (6, 4):
        declared(engine, promise(count=count, sizes=(size(offer=offer((1, 6500), (4, 7500))),)))
    with acting(engine) as book:
        run = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=3, good=6))
        spend(book, "run", run.id, 4321)
        spend(book, "edition", 1, 1000)
        spend(book, "occasion", by.the_fair, 5000)
        spend(book, "occasion", by.the_round, 1800, own=True)
        signed = [_id(book, number, "numbered") for number in range(1, 6)] + [_id(book, 1, "AP")]
        for piece_id in signed:
            numbers.inscribe(book, piece_id, InscribeDraft(run_id=run.id))
        note = consignments.lend(
            book,
            ConsignmentDraft(
                person_id=by.kelpstane, lent_on=MAY_4, commission_bp=3333, pieces=tuple(map(told, signed[3:5]))
            ),
        )
        sell_in(book, draft(by.fair, signed[0], occasion_id=by.the_fair), "card")
        (order,) = numbers.allocate(book, 1)
        sell_in(book, draft(by.studio, order.id or 0))
        sell_in(book, draft(by.gallery, signed[3], consignment_id=note.id))
    made(engine, 1, 2, 3, edition=2)
    return engine, by


class _Enough(Exception):
    """The history is over and is not kept."""


@given(seed=st.integers(min_value=0), registered=st.booleans(), by_invoice=st.booleans())
@settings(
    max_examples=160, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_money_adds_up_after_any_history(
    ready: tuple[Engine, Ways], seed: int, registered: bool, by_invoice: bool
) -> None:
    engine, by = ready
    chance = random.Random(seed)
    with pytest.raises(_Enough), acting(engine) as book:
        if registered:
            studio.set_tax(book, MAY_4, registered=True, rate_bp=2000)
        if by_invoice:
            studio.the_studio(book.session).tax_by = "invoice"
        for _ in range(chance.randint(3, 12)):
            place = book.next_entry
            try:
                with book.session.begin_nested():
                    chance.choice(DEEDS)(book, chance, by)
                    book.session.flush()
            except Refusal:  # an act of its own would end here, and its entries with it
                book.session.expire_all()
                book.next_entry = place
        _money_adds_up(book.session)
        raise _Enough


def _money_adds_up(session: Session) -> None:
    edition_of = dict(
        session.exec(
            select(Piece.id, PrintClass.edition_id).join(PrintClass, col(PrintClass.id) == Piece.class_id)
        ).all()
    )
    lines = session.exec(select(SaleLine).where(SaleLine.outcome != "struck").order_by(col(SaleLine.id))).all()
    on_editions = on_sales_by_edition = 0
    for edition_id in (1, 2):
        report = reports.margin(session, edition_id)
        for worth in (report.with_labour, report.without_labour):
            spent = worth.takings - worth.tax - worth.selling - worth.occasions - worth.making
            assert spent == worth.left - worth.stock - worth.waiting
            assert worth.making == worth.making_sold + worth.stock + worth.waiting + worth.gone
            assert sum(row.left for row in worth.channels) == worth.left + worth.gone
        worth, parts = report.with_labour, report.selling
        assert worth.selling == parts.commission + parts.fees + parts.packing + parts.postage + parts.other
        assert worth.making == _spent_on_making(session, edition_id, edition_of)
        ours = [each for each in lines if edition_of[each.piece_id] == edition_id and each.outcome == "sold"]
        assert worth.takings == sum(sales.gross(each) for each in ours)
        assert session.get_one(Edition, edition_id).sold_peak == _peak_by_hand(session, edition_id)
        on_editions += worth.occasions
        on_sales_by_edition += parts.other
    # Each of the two editions rounds its own part.
    assert (
        abs(on_editions - _spent_on_occasions(session, {each.sale_id for each in lines if each.outcome == "sold"})) <= 1
    )
    on_sales = session.exec(select(func.sum(Cost.amount_minor)).where(Cost.basis == "sale")).one()
    assert on_sales_by_edition == (on_sales or 0)
    receipts = session.exec(select(Receipt).where(~col(Receipt.struck))).all()
    for sale in session.exec(select(Sale)):
        of_sale = [each for each in lines if each.sale_id == sale.id]
        _sale_adds_up(sale, of_sale, [each for each in receipts if each.sale_id == sale.id])


def _spent_on_occasions(session: Session, sold: set[int]) -> int:
    """The cost of every fair and round that anything was sold at or lent on; the others keep theirs to themselves."""
    borne = {sale.occasion_id for sale in session.exec(select(Sale)) if sale.id in sold}
    borne |= {
        note.occasion_id
        for note in session.exec(select(Consignment))
        if note.occasion_id and occasions.get(session, note.occasion_id).kind == "round"
    }
    costs_of = session.exec(select(Cost).where(Cost.basis == "occasion")).all()
    return sum(cost.amount_minor for cost in costs_of if cost.occasion_id in borne)


def _spent_on_making(session: Session, edition_id: int, edition_of: dict[int | None, int]) -> int:
    """By another way than the report's: every cost, one by one."""
    run_of = dict(session.exec(select(Run.id, Run.edition_id)).all())
    return sum(
        cost.amount_minor
        for cost in session.exec(select(Cost).where(col(Cost.struck_at).is_(None)))
        if edition_id in (cost.edition_id, run_of.get(cost.run_id), edition_of.get(cost.piece_id))
    )


def _peak_by_hand(session: Session, edition_id: int) -> int:
    standing: set[int] = set()
    most = 0
    for event in session.exec(
        select(Event).where(Event.edition_id == edition_id).order_by(col(Event.entry_seq), col(Event.id))
    ):
        if event.sale_line_id is None or event.kind not in ("sold", "returned"):
            continue
        each = session.get_one(SaleLine, event.sale_line_id)
        kind = session.exec(
            select(PrintClass.kind).join(Piece, col(Piece.class_id) == PrintClass.id).where(Piece.id == each.piece_id)
        ).one()
        if each.outcome != "struck" and kind == "numbered":
            (standing.add if event.kind == "sold" else standing.discard)(event.sale_line_id)
            most = max(most, len(standing))
    return most


def _sale_adds_up(sale: Sale, lines: list[SaleLine], receipts: list[Receipt]) -> None:
    fees, received = (sum(getattr(each, name) for each in receipts) for name in ("fee_minor", "amount_minor"))
    if not lines:
        assert (fees, received) == (0, 0)
        return
    assert sum(each.charged_minor for each in lines) == sale.postage_charged_minor
    assert sum(each.postage_minor for each in lines) == sale.postage_paid_minor
    assert sum(each.fee_minor for each in lines) >= fees
    if all(each.outcome == "sold" for each in lines):
        assert sum(each.fee_minor for each in lines) == fees
        assert received <= sum(sales.due(each) for each in lines)


def test_making_facts_name_every_row_of_an_edition_once(ready: tuple[Engine, Ways]) -> None:
    engine, _ = ready
    with reading(engine) as session:
        found = making_costs.facts(session, 1)
    assert len({piece.piece_id for piece in found.pieces}) == len(found.pieces) == 6 + 3 + 1

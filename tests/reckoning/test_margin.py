"""The money of an edition. The worked edition is invented; its sums were made by hand before the code was."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.reckoning.margin import (
    ChannelRow,
    LineFacts,
    MakingCost,
    OccasionShare,
    PieceFacts,
    Valuation,
    bucket_of,
    is_carrier,
    is_sellable,
    making_of_piece,
    more_sales,
    value,
)
from ledger.reckoning.prices import commission, commission_tax, fee, step_price

Facts = tuple[list[PieceFacts], list[MakingCost], list[LineFacts], list[OccasionShare]]

EDITION, RUN = 1, 1
LADDER = [(1, 6500), (11, 7500), (19, 8500), (24, 9500)]
# Sold within each price step, in this order: (fair, web, gallery).
BY_STEP = [(5, 3, 2), (3, 2, 3), (0, 1, 4), (0, 1, 1)]
PACKING = {"fair": 60, "web": 290, "gallery": 110}

PIECES = [PieceFacts(n, "numbered", True, True, True, "sold", RUN) for n in range(1, 26)]
COSTS = [
    MakingCost("run", RUN, 6 * 840 + 660),  # six lab sheets and their delivery
    MakingCost("run", RUN, 53 * 80),  # 53 squares of board, three of them spoilt
    MakingCost("run", RUN, 26 * 725),  # frames with glass, one broken
    MakingCost("run", RUN, 25 * 45),  # backing, tape, hinges
    MakingCost("run", RUN, 25 * 55),  # label, certificate, envelope
    MakingCost("edition", EDITION, 2200 + 600),  # proofing; the die's part
    MakingCost("run", RUN, 25 * 800, own_labour=True),  # half an hour each at 16.00
]
# The stand (120.00) and the travel (54.00) lie on the 30 sold at the fair, the van (18.00) on the 20 of its
# round.
OCCASIONS = [
    OccasionShare("fair", Fraction(12000 * 8, 30)),
    OccasionShare("fair", Fraction(5400 * 8, 30)),
    OccasionShare("gallery", Fraction(1800 * 10, 20)),
]


def selling_of(channel: str, price: int, *, tax_bp_on_commission: int = 0) -> int:
    if channel == "fair":
        return PACKING[channel] + fee(175, 0, price)
    if channel == "web":
        return PACKING[channel] + fee(200, 20, price) + 635
    kept = commission(
        price, price, 0, rate_bp=4500, on="print", of="with_tax", tax_bp_if_registered=0, discount_by="shared"
    )
    return PACKING[channel] + kept + commission_tax(kept, tax_bp_on_commission)


def twenty_five_sales(order: Sequence[str] = ("fair", "web", "gallery"), tax_bp: int = 0) -> list[LineFacts]:
    lines: list[LineFacts] = []
    for step in BY_STEP:
        counts = dict(zip(("fair", "web", "gallery"), step, strict=True))
        for channel in order:
            for _ in range(counts[channel]):
                n = len(lines) + 1
                price = step_price(LADDER, n)
                selling = selling_of(channel, price, tax_bp_on_commission=tax_bp)
                lines.append(LineFacts(n, n, date(2026, 5, 1), channel, price, 0, selling, n))
    return lines


def the_worked_edition(with_own_labour: bool = True) -> Valuation:
    return value(PIECES, COSTS, twenty_five_sales(), OCCASIONS, with_own_labour=with_own_labour)


def test_the_worked_edition_of_25_leaves_811_12() -> None:
    worth = the_worked_edition()
    assert (worth.sold, worth.takings, worth.tax) == (25, 186500, 0)
    assert (worth.making, worth.making_sold) == (54090, 54090)
    assert (worth.stock, worth.gone, worth.waiting) == (0, 0, 0)
    assert worth.selling == 3610 + 2153 + 35550 + 4445
    assert worth.contribution == 86652
    assert worth.occasions == 5540
    assert worth.left == 81112


def test_every_column_of_the_worked_edition_is_right_to_the_penny() -> None:
    assert the_worked_edition().channels == (
        ChannelRow("fair", 8, 55000, 0, 1443, 17309, 4640, 31608),
        ChannelRow("web", 7, 52500, 0, 7665, 15145, 0, 29690),
        ChannelRow("gallery", 10, 79000, 0, 36650, 21636, 900, 19814),
    )


def test_own_labour_is_counted_or_left_out_and_both_are_known() -> None:
    assert the_worked_edition(with_own_labour=False).left == 101112
    assert the_worked_edition(with_own_labour=False).making == 34090


def test_the_worked_edition_has_paid_itself_back_at_the_11th_sale() -> None:
    worth = the_worked_edition()
    assert (worth.paid_back_at, worth.to_go) == (11, 0)
    assert worth.making + worth.occasions == 59630
    assert [step.running for step in worth.by_sale[9:11]] == [54835, 62144]
    assert the_worked_edition(with_own_labour=False).paid_back_at == 7


def test_the_order_in_which_things_were_sold_moves_the_moment_it_was_paid_back() -> None:
    lines = twenty_five_sales(order=("gallery", "fair", "web"))
    assert value(PIECES, COSTS, lines, OCCASIONS, with_own_labour=True).paid_back_at == 12
    making_alone = value(PIECES, COSTS, twenty_five_sales(), [], with_own_labour=True)
    assert making_alone.paid_back_at == 10
    whole_stand = [OccasionShare("fair", Fraction(17400)), OccasionShare("gallery", Fraction(1800))]
    assert value(PIECES, COSTS, twenty_five_sales(), whole_stand, with_own_labour=True).paid_back_at == 13


def test_tax_on_the_commission_takes_71_10_from_the_gallery_column() -> None:
    worth = value(PIECES, COSTS, twenty_five_sales(tax_bp=2000), OCCASIONS, with_own_labour=True)
    assert worth.channels[2].left == 12704
    assert worth.left == 81112 - 7110


def test_before_it_is_paid_back_the_edition_says_how_much_is_to_go() -> None:
    lines = twenty_five_sales()[:10]
    pieces = [replace(piece, bucket="sold" if piece.piece_id <= 10 else "stock") for piece in PIECES]
    worth = value(pieces, COSTS, lines, OCCASIONS, with_own_labour=True)
    assert (worth.paid_back_at, worth.to_go) == (None, 59630 - 54835)
    assert worth.making_sold == 21636
    assert worth.stock == 54090 - 21636


def test_so_many_more_sales_cover_what_is_to_go() -> None:
    # A sale at the fair brings 41.62 after making; stand and travel cost 174.00: 4.18, so five.
    assert more_sales(17400, 4162) == 5
    assert more_sales(4162, 4162) == 1
    assert more_sales(0, 4162) == 0
    assert more_sales(17400, 0) is None


def test_one_sale_at_the_fair_leaves_41_62() -> None:
    made = making_of_piece(PIECES, COSTS, 1, with_own_labour=True)
    assert made == Fraction(21636, 10)
    assert round(6500 - selling_of("fair", 6500) - made) == 4162


def test_a_cost_for_a_run_lies_on_its_good_numbered_prints_alone() -> None:
    pieces = [
        PieceFacts(1, "numbered", True, True, True, "stock", 7),
        PieceFacts(2, "numbered", True, True, True, "gone", 7),  # given away
        PieceFacts(3, "numbered", True, False, False, "gone", 7),  # destroyed unsold
        PieceFacts(4, "numbered", True, False, True, "waiting"),
        PieceFacts(5, "AP", False, False, False, "stock", 7),
    ]
    worth = value(pieces, [MakingCost("run", 7, 1000)], [], [], with_own_labour=True)
    assert (worth.stock, worth.gone, worth.waiting) == (500, 500, 0)
    assert worth.left == -500


def test_a_cost_for_the_edition_lies_on_every_number_that_can_still_be_sold_or_was() -> None:
    pieces = [
        PieceFacts(1, "numbered", True, True, True, "sold", 7),
        PieceFacts(2, "numbered", True, False, True, "waiting"),
        PieceFacts(3, "numbered", True, False, True, "waiting"),
        PieceFacts(4, "numbered", True, False, False, "gone"),  # withdrawn
    ]
    lines = [LineFacts(1, 1, date(2026, 5, 4), "fair", 6500, 0, 174, 1)]
    worth = value(pieces, [MakingCost("edition", EDITION, 1000)], lines, [], with_own_labour=True)
    assert (worth.making_sold, worth.waiting, worth.gone) == (333, 667, 0)


def test_a_run_with_none_good_is_gone() -> None:
    pieces = [PieceFacts(1, "numbered", True, False, True, "waiting")]
    worth = value(pieces, [MakingCost("run", 7, 5700)], [], [], with_own_labour=True)
    assert (worth.gone, worth.waiting, worth.left) == (5700, 0, -5700)


def test_an_open_edition_keeps_its_costs_waiting_until_the_first_print() -> None:
    worth = value([], [MakingCost("edition", EDITION, 2800)], [], [], with_own_labour=True)
    assert (worth.waiting, worth.gone, worth.left) == (2800, 0, 0)


def test_an_edition_whose_numbers_are_all_withdrawn_has_lost_its_costs() -> None:
    pieces = [PieceFacts(1, "numbered", True, False, False, "gone")]
    worth = value(pieces, [MakingCost("edition", EDITION, 2800)], [], [], with_own_labour=True)
    assert (worth.waiting, worth.gone) == (0, 2800)


def test_a_framed_proof_carries_its_own_frame_and_its_sale_counts() -> None:
    pieces = [
        PieceFacts(1, "numbered", True, True, True, "stock", 7),
        PieceFacts(2, "AP", False, False, False, "sold", 7),
    ]
    costs = [MakingCost("run", 7, 900), MakingCost("piece", 2, 725)]
    lines = [LineFacts(1, 2, date(2026, 5, 4), "direct", 9000, 0, 0, 1)]
    worth = value(pieces, costs, lines, [], with_own_labour=True)
    assert (worth.stock, worth.making_sold, worth.takings, worth.left) == (900, 725, 9000, 8275)


def test_of_a_returned_print_only_what_was_spent_on_the_sale_stays() -> None:
    pieces = [PieceFacts(1, "numbered", True, True, True, "stock", 7)]
    lines = [LineFacts(1, 1, date(2026, 5, 4), "web", 6500, 0, 150 + 290 + 635, 1, stands=False)]
    worth = value(pieces, [MakingCost("run", 7, 900)], lines, [], with_own_labour=True)
    assert (worth.sold, worth.takings, worth.selling, worth.left) == (0, 0, 1075, -1075)
    assert worth.channels == (ChannelRow("web", 0, 0, 0, 1075, 0, 0, -1075),)
    assert (worth.paid_back_at, worth.to_go, worth.by_sale) == (None, 1975, ())


def test_a_round_that_sold_nothing_still_costs() -> None:
    pieces = [PieceFacts(1, "numbered", True, True, True, "gone", 7)]
    worth = value(pieces, [], [], [OccasionShare("gallery", Fraction(900))], with_own_labour=True)
    assert worth.channels == (ChannelRow("gallery", 0, 0, 0, 0, 0, 900, -900),)
    assert worth.left == -900


def test_a_piece_called_sold_without_a_sale_is_not_valued() -> None:
    with pytest.raises(ValueError, match="standing sale line"):
        value(PIECES, COSTS, twenty_five_sales()[:24], OCCASIONS, with_own_labour=True)


def test_a_print_destroyed_after_its_sale_still_carries_its_part() -> None:
    destroyed = {"numbered": True, "state": "inscribed", "condition": "destroyed", "before": False}
    assert is_carrier(**destroyed, sold=True) and is_sellable(**destroyed, sold=True)
    assert not is_carrier(**destroyed, sold=False)
    assert not is_sellable(**destroyed, sold=False)


def test_what_left_before_this_record_carries_nothing() -> None:
    assert not is_carrier(numbered=True, state="inscribed", condition="good", sold=False, before=True)
    assert not is_sellable(numbered=True, state="inscribed", condition="good", sold=False, before=True)


def test_a_number_not_yet_made_is_sellable_and_a_withdrawn_one_is_not() -> None:
    assert is_sellable(numbered=True, state="free", condition="good", sold=False, before=False)
    assert not is_carrier(numbered=True, state="allocated", condition="good", sold=True, before=False)
    assert not is_sellable(numbered=True, state="withdrawn", condition="good", sold=False, before=False)
    assert not is_sellable(numbered=False, state="inscribed", condition="good", sold=False, before=False)


@pytest.mark.parametrize(
    ("state", "condition", "sold", "held_by_maker", "bucket"),
    [
        ("inscribed", "good", True, False, "sold"),
        ("inscribed", "destroyed", True, False, "sold"),
        ("allocated", "good", True, False, "sold"),  # sold to be made
        ("free", "good", False, False, "waiting"),
        ("allocated", "good", False, False, "waiting"),
        ("inscribed", "good", False, True, "stock"),
        ("inscribed", "damaged", False, True, "stock"),
        ("inscribed", "missing", False, True, "gone"),
        ("inscribed", "destroyed", False, False, "gone"),
        ("inscribed", "good", False, False, "gone"),  # given
        ("withdrawn", "good", False, False, "gone"),
    ],
)
def test_what_a_print_cost_is_counted_where_the_print_is(
    state: str, condition: str, sold: bool, held_by_maker: bool, bucket: str
) -> None:
    assert bucket_of(state=state, condition=condition, sold=sold, held_by_maker=held_by_maker) == bucket


@st.composite
def editions(draw: st.DrawFn) -> Facts:
    pieces, lines = [], []
    channels = st.sampled_from(["fair", "web", "gallery", "direct"])
    for n in range(1, draw(st.integers(0, 12)) + 1):
        bucket = draw(st.sampled_from(["sold", "stock", "waiting", "gone"]))
        numbered, carrier, sellable = draw(st.booleans()), draw(st.booleans()), draw(st.booleans())
        run = draw(st.sampled_from([None, 1, 2]))
        pieces.append(PieceFacts(n, "any", numbered, carrier, sellable, bucket, run))
        stands = bucket == "sold"
        if stands or draw(st.booleans()):
            day = date(2026, 1, 1) + timedelta(days=draw(st.integers(0, 5)))
            gross = draw(st.integers(0, 20000))
            tax = draw(st.integers(0, gross // 6))
            lines.append(LineFacts(n, n, day, draw(channels), gross, tax, draw(st.integers(0, 9000)), n, stands))
    costs = draw(
        st.lists(
            st.builds(
                MakingCost,
                st.sampled_from(["run", "edition"]),
                st.sampled_from([1, 2]),
                st.integers(1, 99999),
                st.booleans(),
            ),
            max_size=6,
        )
    )
    costs += [MakingCost("piece", piece.piece_id, 725) for piece in pieces if draw(st.booleans())]
    amounts = st.fractions(min_value=0, max_value=9999, max_denominator=30)
    return pieces, costs, lines, draw(st.lists(st.builds(OccasionShare, channels, amounts), max_size=4))


@settings(max_examples=150)
@given(editions(), st.booleans())
def test_money_adds_up_whatever_happened(facts: Facts, labour: bool) -> None:
    worth = value(*facts, with_own_labour=labour)
    assert worth.making == worth.making_sold + worth.stock + worth.waiting + worth.gone
    assert worth.contribution == worth.takings - worth.tax - worth.selling - worth.making_sold
    assert worth.left == worth.contribution - worth.gone - worth.occasions
    assert (
        worth.takings - worth.tax - worth.selling - worth.occasions - worth.making
        == worth.left - worth.stock - worth.waiting
    )
    for column in ("sold", "takings", "tax", "selling", "occasions"):
        assert sum(getattr(row, column) for row in worth.channels) == getattr(worth, column)
    assert sum(row.making for row in worth.channels) == worth.making_sold
    assert sum(row.left for row in worth.channels) == worth.left + worth.gone
    assert len(worth.by_sale) == worth.sold

"""The drawing of an edition: its words stand clear of one another."""

import pytest

from ledger.reckoning.chart import Sold, chart


@pytest.mark.parametrize("laid_out", [0, 1, 500, 2000, 6000])
@pytest.mark.parametrize("sales", [1, 2, 9])
def test_what_was_laid_out_and_when_it_was_paid_back_never_lie_on_one_another(laid_out: int, sales: int) -> None:
    drawn = chart(
        [Sold(6500, 6500, 6300)] * sales, [6500] * 4, id="c", title="t", laid_out=laid_out,
        final=6300 * sales - laid_out, finished=False, paid_back_at=1, currency="GBP",
    )  # fmt: skip
    assert drawn is not None and drawn.paid_back is not None
    assert drawn.start.y - (drawn.zero_y + 20) >= 13  # the words are 12 high
    assert drawn.start.y + 4 <= drawn.height

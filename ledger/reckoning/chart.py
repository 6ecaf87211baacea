"""The two plots of an edition as lengths to draw: each sale with its price, and what is left after all costs.

Amounts come in as minor units. What comes out are lengths in the drawing's own units, 360 wide, y downwards;
fractions are fine there, for nothing is added up from them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ledger.reckoning import money
from ledger.reckoning.numbering import ordinal

LEFT, RIGHT = 38.0, 350.0
PRICES_TOP, PRICES_FOOT = 26.0, 112.0
LINE_TOP, LINE_FOOT = 152.0, 228.0
HEIGHT = 250
MOST_SALES = 300  # more columns than that are thinner than a line
MOST_COLUMNS = 320


@dataclass(frozen=True)
class Sold:
    """One sale in order: what was asked, what was paid, and what is left of that before making."""

    asked: int
    paid: int
    left: int


@dataclass(frozen=True)
class Words:
    """Words and where they stand."""

    x: float
    y: float
    words: str
    anchor: str = "start"


@dataclass(frozen=True)
class Column:
    """One sale, or one number still to sell; the solid lower part is left of that sale."""

    sold: bool
    x: float
    y: float
    width: float
    height: float
    left_y: float = PRICES_FOOT
    left_height: float = 0.0


@dataclass(frozen=True)
class End:
    """The dot at the end of the line, and its words."""

    x: float
    y: float
    text_x: float
    text_y: float
    words: str
    anchor: str


@dataclass(frozen=True)
class Chart:
    """Everything the drawing needs."""

    id: str
    title: str
    desc: str
    axis: tuple[Words, ...]
    columns: tuple[Column, ...]
    steps: tuple[Words, ...]
    ticks: tuple[Words, ...]
    zero_y: float
    points: str
    start: Words
    paid_back: Words | None
    end: End
    height: int = HEIGHT
    left_x: float = LEFT
    right_x: float = RIGHT


def chart(
    sales: Sequence[Sold],
    to_sell: Sequence[int],
    *,
    id: str,
    title: str,
    laid_out: int,
    final: int,
    finished: bool,
    paid_back_at: int | None,
    currency: str,
) -> Chart | None:
    """The drawing of an edition, or None before its first sale.

    `to_sell` are the prices of the numbers still to sell, in order; `final` is what is left after all
    that was laid out; `finished` says that nothing waits or is in stock any more.
    """
    if not sales:
        return None
    earlier = max(0, len(sales) - MOST_SALES)
    shown = sales[earlier:]
    ahead = list(to_sell)[: max(0, MOST_COLUMNS - len(shown))]
    step = (RIGHT - LEFT) / (len(shown) + len(ahead))
    top = _round_top(max([sold.paid for sold in shown] + ahead))
    values = _values(sales, laid_out, final)[earlier:]
    low, high = min(0, *values), max(0, *values)

    def on_line(value: int) -> float:
        return _place(value, low, high, LINE_FOOT, LINE_TOP)

    start = _start(on_line(values[0]), values[0], earlier, currency)
    if paid_back_at:  # its words stand 20 below the line of nothing, and a line of words is 13 high
        start = replace(start, y=max(start.y, on_line(0) + 33))
    xs = [LEFT] + [LEFT + step * (place + 0.5) for place in range(len(shown))]
    return Chart(
        id=id,
        title=title,
        desc=_desc(sales, to_sell, laid_out, final, paid_back_at, currency),
        axis=tuple(
            Words(LEFT, _place(value, 0, top, PRICES_FOOT, PRICES_TOP), _short(value, currency))
            for value in (0, top // 2, top)
        ),
        columns=tuple(_columns(shown, ahead, step, top)),
        steps=tuple(_steps([sold.asked for sold in shown], ahead, [sold.paid for sold in shown], step, top, currency)),
        ticks=tuple(_ticks(len(shown) + len(ahead), earlier, step)),
        zero_y=round(on_line(0), 2),
        points=" ".join(f"{x:.1f},{on_line(value):.1f}" for x, value in zip(xs, values, strict=True)),
        start=start,
        paid_back=_paid_back(paid_back_at, earlier, xs),
        end=_end(xs[-1], on_line(values[-1]), final, finished, currency),
        height=max(HEIGHT, round(start.y) + 8),
    )


def _place(value: int, low: int, high: int, foot: float, top: float) -> float:
    return round(foot - (value - low) / ((high - low) or 1) * (foot - top), 2)


def _round_top(most: int) -> int:
    """The least of 1, 2, 4, 5, 6, 8, 10 times a power of ten that is not below the dearest price."""
    power = 1
    while True:
        for times in (1, 2, 4, 5, 6, 8):
            if times * power >= max(most, 2):
                return times * power
        power *= 10


def _values(sales: Sequence[Sold], laid_out: int, final: int) -> list[int]:
    values = [-laid_out]
    for sold in sales:
        values.append(values[-1] + sold.left)
    # A print that came back after the last sale still cost something: the line ends at the sum beside it.
    return [*values[:-1], final]


def _short(minor: int, currency: str) -> str:
    written = money.bare(minor, currency)
    return written.partition(".")[0] if set(written.partition(".")[2]) <= {"0"} else written


def _columns(shown: Sequence[Sold], ahead: Sequence[int], step: float, top: int) -> list[Column]:
    width = round(step * 0.8, 2)
    columns = []
    for place, (price, left) in enumerate([(s.paid, s.left) for s in shown] + [(price, 0) for price in ahead]):
        y = _place(price, 0, top, PRICES_FOOT, PRICES_TOP)
        left_y = _place(max(left, 0), 0, top, PRICES_FOOT, PRICES_TOP)
        columns.append(
            Column(
                sold=place < len(shown),
                x=round(LEFT + step * (place + 0.1), 2),
                y=y,
                width=width,
                height=round(PRICES_FOOT - y, 2),
                left_y=left_y,
                left_height=round(PRICES_FOOT - left_y, 2),
            )
        )
    return columns


def _steps(
    asked: Sequence[int], ahead: Sequence[int], paid: Sequence[int], step: float, top: int, currency: str
) -> list[Words]:
    """A price where it begins: at the first sale to ask more than any before, and where the next differs."""
    steps: list[Words] = []
    said, last_x = 0, -100.0
    for place, price in enumerate([*asked, *ahead]):
        begins = price > said or (place >= len(asked) and price != said)
        if not begins:
            continue
        said = price
        x = round(LEFT + step * (place + 0.1), 2)
        if x - last_x >= 26:
            height = max(price, paid[place]) if place < len(paid) else price
            y = _place(min(height, top), 0, top, PRICES_FOOT, PRICES_TOP)
            steps.append(Words(x, round(y - 4, 2), _short(price, currency)))
            last_x = x
    return steps


def _ticks(count: int, earlier: int, step: float) -> list[Words]:
    every = next((size for size in (5, 10, 25, 50, 100) if count <= size * 7), 100)
    places = sorted({1} | set(range(every, count + 1, every)))
    return [
        Words(round(LEFT + step * (place - 0.5), 2), PRICES_FOOT + 16, str(place + earlier), "middle")
        for place in places
    ]


def _start(y: float, value: int, earlier: int, currency: str) -> Words:
    amount = money.bare(value, currency)
    words = f"{amount} laid out before the first sale" if not earlier else f"{amount} before the {ordinal(earlier + 1)}"
    return Words(LEFT, round(y + 14, 2), words)


def _paid_back(at: int | None, earlier: int, xs: Sequence[float]) -> Words | None:
    if at is None or at <= earlier:
        return None
    x = round(xs[at - earlier], 2)
    return Words(x, 0, f"paid back at the {ordinal(at)}", "start" if x < 190 else "end")


def _end(x: float, y: float, final: int, finished: bool, currency: str) -> End:
    words = f"{money.bare(final, currency)} {'left' if finished else 'after all costs'}"
    if x < 180:  # as much room as its words take, to the right of the dot
        return End(round(x, 2), y, round(x + 9, 2), round(y + 4, 2), words, "start")
    return End(round(x, 2), y, round(x - 9, 2), round(y - 4, 2), words, "end")


def _desc(
    sales: Sequence[Sold], to_sell: Sequence[int], laid_out: int, final: int, paid_back_at: int | None, currency: str
) -> str:
    parts = [
        f"{len(sales)} sold for {money.shown(sum(sold.paid for sold in sales), currency)}",
        f"{len(to_sell)} still to sell",
        f"{money.shown(laid_out, currency)} laid out",
        f"paid back at the {ordinal(paid_back_at)} sale" if paid_back_at else "not paid back yet",
        f"{money.shown(final, currency)} after all costs, those of prints still here too",
    ]
    return ", ".join(parts) + "."

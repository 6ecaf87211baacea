"""What an edition leaves, as pages tell it and the API gives it: a report in, words and figures out."""

from fractions import Fraction
from typing import Any

from ledger.reckoning.chart import Chart
from ledger.reckoning.margin import Valuation, more_sales
from ledger.reckoning.money import bare, half_up, shown
from ledger.reckoning.numbering import ordinal
from ledger.reports import MarginReport
from ledger.web.shapes import amount

NOT_PROFIT = (
    "“Left” is what these prints bring after their own costs. It is not profit for tax: rent, equipment and "
    "everything else of the studio stand outside it."
)
COLUMNS = (
    "takings", "tax", "selling", "making_sold", "stock", "gone", "waiting", "occasions", "contribution",
    "left",
)  # fmt: skip


def paid_back(worth: Valuation, price: int | None) -> str:
    """'paid back at the 11th', or how many more sales at the present price pay it back."""
    if worth.paid_back_at:
        return f"paid back at the {ordinal(worth.paid_back_at)}"
    if not worth.to_go:
        return ""
    more = more_sales(worth.to_go, brings(worth, price)) if price else None
    if more is None:
        return "not paid back yet"
    return "1 more pays it back" if more == 1 else f"{more} more pay it back"


def brings(worth: Valuation, price: int) -> int:
    """What a sale at this price brings, if it costs as much to sell as the sales so far did."""
    if not worth.sold:
        return price
    return price - half_up(Fraction(worth.tax + worth.selling, worth.sold))


def money_of(report: MarginReport, drawn: Chart | None, price: int | None, currency: str) -> dict[str, Any]:
    """The section Money of an edition's page."""
    worth = report.with_labour
    symbol = shown(0, currency).removesuffix(bare(0, currency))
    return {
        "beside": _own_time(report, currency),
        "chart": drawn,
        "rows": _rows(report, currency),
        "total_words": f"Left so far, {symbol.strip()}",
        "total": bare(worth.left, currency),
        "also": _also(report, price, currency),
        "channels": _channels(worth, currency) if worth.channels else None,
    }


def _own_time(report: MarginReport, currency: str) -> str:
    with_it, without = report.with_labour, report.without_labour
    if with_it == without:
        return "No own time is written down for this edition."
    return f"Own time is in. Without it, {shown(without.left, currency)} is left."


def _rows(report: MarginReport, currency: str) -> list[dict[str, str]]:
    worth, selling = report.with_labour, report.selling
    lines = [
        (f"Taken for {worth.sold}", worth.takings),
        ("Sales tax", -worth.tax),
        ("Gallery commission", -selling.commission),
        ("Card and web fees", -selling.fees),
        ("Packing", -selling.packing),
        ("Postage", -selling.postage),
        ("Other costs of selling", -selling.other),
        ("Making those sold", -worth.making_sold),
        ("Making those given, lost or spoilt", -worth.gone),
        ("Stands, travel, rounds", -worth.occasions),
    ]
    return [
        {"words": words, "amount": bare(figure, currency)}
        for place, (words, figure) in enumerate(lines)
        if figure or place == 0
    ]


def _also(report: MarginReport, price: int | None, currency: str) -> list[str]:
    worth = report.with_labour
    said = []
    if worth.stock:
        said.append(f"Prints still here cost {shown(worth.stock, currency)} to make; that is not taken off yet.")
    if worth.waiting:
        said.append(f"Numbers not made yet carry {shown(worth.waiting, currency)}.")
    unsold = worth.stock + worth.waiting
    if unsold and worth.sold:
        said.append(f"With that taken off too, as in the drawing, {shown(worth.left - unsold, currency)} is left.")
    if worth.to_go:
        more = f" {_more(worth, price, currency)}" if price else ""
        said.append(f"Still to pay back: {shown(worth.to_go, currency)}.{more}")
    elif worth.paid_back_at:
        said.append(f"All it cost was paid back at the {ordinal(worth.paid_back_at)} sale.")
    if report.left_before:
        gone = "1 number" if report.left_before == 1 else f"{report.left_before} numbers"
        said.append(f"{gone} had gone before this record and stand outside this sum.")
    return [*said, NOT_PROFIT]


def _more(worth: Valuation, price: int, currency: str) -> str:
    more = more_sales(worth.to_go, brings(worth, price))
    return f"About {more} more at {shown(price, currency)}." if more else ""


def _channels(worth: Valuation, currency: str) -> dict[str, Any]:
    def line(name: str, sold: int, taken: int, before: int) -> list[str]:
        each = bare(half_up(Fraction(before, sold)), currency) if sold else ""
        return [name, str(sold), bare(taken, currency), bare(before, currency), each]

    rows = [line(row.channel, row.sold, row.takings, row.left + row.making) for row in worth.channels]
    before = sum(row.left + row.making for row in worth.channels)
    return {
        "heads": ["Where sold", "Sold", "Taken", "Left before making", "A print"],
        "rows": rows,
        "total": line("All", worth.sold, worth.takings, before),
    }


def as_json(report: MarginReport, currency: str) -> dict[str, Any]:
    """The margin as the API gives it; the same again without own labour."""
    return _valuation(report.with_labour, currency) | {
        "without_own_labour": _valuation(report.without_labour, currency)
    }


def _valuation(worth: Valuation, currency: str) -> dict[str, Any]:
    return {name: amount(getattr(worth, name), currency) for name in COLUMNS} | {
        "paid_back_at": worth.paid_back_at,
        "to_go": amount(worth.to_go, currency),
        "channels": [
            {"channel": row.channel, "sold": row.sold}
            | {
                name: amount(getattr(row, name), currency)
                for name in ("takings", "tax", "selling", "making", "occasions", "left")
            }
            for row in worth.channels
        ],
    }

"""The sum of a sale, as the page shows it before it is recorded."""

from typing import Any

from ledger.pricing import Reckoned
from ledger.reckoning import money, numbering
from ledger.tables import Channel
from ledger.web.shapes import percent_said


def unit_of(currency: str) -> str:
    """What stands before an amount: '£', 'CHF'."""
    return money.shown(0, currency).removesuffix(money.bare(0, currency)).strip()


def fee_words(channel: Channel, currency: str) -> str:
    """What the card firm or the site keeps of a payment: '1.75% and £0.20'."""
    parts = [f"{percent_said(channel.fee_bp)}%"] if channel.fee_bp else []
    parts += [money.shown(channel.fee_minor, currency)] if channel.fee_minor else []
    return " and ".join(parts)


def sum_of(reckoned: Reckoned, currency: str, channel: Channel | None) -> dict[str, Any]:
    """The sum that a sale leaves, so that its rows add up to its total."""
    lines = reckoned.lines
    selling = sum(line.selling for line in lines)
    gross, tax = sum(line.gross for line in lines), sum(line.tax for line in lines)
    parts = {name: sum(getattr(line, name) for line in lines) for name in ("commission", "fee", "packing", "postage")}
    fee = fee_words(channel, currency) if channel else ""
    rows = [
        ("Price" if len(lines) == 1 else "Prices", sum(line.price for line in lines)),
        ("Frame", sum(line.frame for line in lines)),
        ("Postage they pay", sum(line.charged for line in lines)),
        ("Sales tax in it", -tax),
        ("The gallery keeps", -parts["commission"]),
        ("Tax on that", -(selling - sum(parts.values()))),
        (f"Card or site, {fee}" if fee else "Card or site", -parts["fee"]),
        ("Bag, tube and corners", -parts["packing"]),
        ("Postage", -parts["postage"]),
        ("Making this print" if len(lines) == 1 else "Making these prints", -(gross - tax - selling - reckoned.leaves)),
    ]
    return {
        "leaves": money.shown(reckoned.leaves, currency),
        "rows": [
            {"words": words, "amount": money.bare(figure, currency)}
            for at, (words, figure) in enumerate(rows)
            if figure or not at
        ],
        "total_words": f"Leaves, {unit_of(currency)}",
        "total": money.bare(reckoned.leaves, currency),
        "note": _small_print(reckoned, currency),
    }


def _small_print(reckoned: Reckoned, currency: str) -> str:
    said = ["What a stand or a round cost is not in this."]
    if reckoned.leaves != reckoned.leaves_without_own_labour:
        said.append(f"Without your own time it leaves {money.shown(reckoned.leaves_without_own_labour, currency)}.")
    return " ".join(said)


def worth_stopping_for(reckoned: Reckoned, currency: str) -> list[str]:
    """Sentences the maker should see before saving."""
    said = list(reckoned.notes)
    waiting = [line.piece.shown for line in reckoned.lines if line.to_be_made]
    if waiting:
        said.append(f"{', '.join(waiting)}: still to be made. It stands here as an order until it is handed over.")
    if reckoned.balance and reckoned.received:
        said.append(
            f"A deposit of {money.shown(reckoned.received, currency)}: "
            f"{money.shown(reckoned.balance, currency)} stands open."
        )
    return said


def record_words(reckoned: Reckoned, currency: str) -> str:
    """The act in full, as its button names it."""
    for_all = money.shown(sum(line.gross for line in reckoned.lines), currency)
    if len(reckoned.lines) == 1:
        return f"Record it: {reckoned.lines[0].piece.shown} sold for {for_all}"
    return f"Record it: {numbering.words(len(reckoned.lines))} prints sold for {for_all}"

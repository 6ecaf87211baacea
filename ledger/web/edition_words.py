"""An edition in the words and figures of its pages: facts in, template values out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from ledger.editions import ClassFacts, EditionFacts, SizeFacts
from ledger.offers import OfferFacts
from ledger.pieces import PieceView
from ledger.reckoning import dates, numbering
from ledger.reckoning.measures import by_measure, millimetres
from ledger.reckoning.money import bare, shown
from ledger.reckoning.prices import step_price
from ledger.reports import MarginReport
from ledger.web import margins, marks
from ledger.web.plates import Plate

SELLING, CLOSED, SOLD_OUT = "Selling", "Closed early", "Sold out"
STILL_TO_SELL = ("free", "assigned", "in hand", "out")
LATER = {
    "ruled_out": "Ruled out, in any size or process",
    "reserved": "Kept open for other sizes; every certificate says so",
    "not_stated": "Not stated",
}


@dataclass(frozen=True)
class Step:
    """A price of the ladder; `now` is the present one."""

    price: str
    now: bool


@dataclass(frozen=True)
class Row:
    """One edition in the list, as its template takes it."""

    href: str
    title: str
    picture: Plate | None
    limited: bool
    facts: str
    strip: list[str]
    summary: str
    price: str
    took: str
    ladder: list[Step]
    price_note: str
    left: str
    left_note: str


def numbered_run(facts: EditionFacts, run: Sequence[PieceView]) -> list[PieceView]:
    """The places of the count, in order."""
    return [seen for seen in run if seen.class_id == facts.numbered.id]


def sellable(numbered: Sequence[PieceView]) -> int:
    """How many numbers may still be sold: not sold to anybody, and not lost."""
    return sum(seen.standing in STILL_TO_SELL and not seen.order_stands for seen in numbered)


def group_of(facts: EditionFacts, numbered: Sequence[PieceView]) -> str:
    """Under which head an edition stands."""
    ended = facts.edition.kind == "limited" or facts.edition.closed_on is not None
    if ended and not sellable(numbered):
        return SOLD_OUT
    return CLOSED if facts.edition.closed_on else SELLING


def price_now(offer: OfferFacts, sold_peak: int) -> int:
    """What the next print of a size costs, in minor units."""
    return step_price(offer.steps, sold_peak + 1)


def short(minor: int, currency: str) -> str:
    """An amount without decimals that say nothing: '£75', '£75.50'."""
    said = shown(minor, currency)
    return said.removesuffix(".00")


def prices_said(facts: EditionFacts, currency: str) -> str:
    """'£75', or of several sizes '£65 to £140'."""
    now = sorted({price_now(size.offer, facts.edition.sold_peak) for size in facts.sizes})
    return short(now[0], currency) + (f" to {short(now[-1], currency)}" if len(now) > 1 else "")


def ladder(offer: OfferFacts, sold_peak: int, currency: str) -> list[Step]:
    """The prices in order, the present one marked; nothing to climb where there is one price."""
    if len(offer.steps) < 2:
        return []
    at = [from_sold for from_sold, _ in offer.steps if from_sold <= sold_peak + 1][-1]
    return [Step(bare(price, currency).removesuffix(".00"), step == at) for step, price in offer.steps]


def next_step(offer: OfferFacts, sold_peak: int, currency: str) -> str:
    """'85 from the 19th', 'one price', or '' on the last step."""
    if len(offer.steps) == 1:
        return "one price"
    for from_sold, price in offer.steps:
        if from_sold > sold_peak + 1:
            return f"{bare(price, currency).removesuffix('.00')} from the {numbering.ordinal(from_sold)}"
    return ""


def measure(width_um: int, height_um: int) -> str:
    """'127 mm square', '100 × 150 mm'."""
    if width_um == height_um:
        return f"{millimetres(width_um)} mm square"
    return by_measure(width_um, height_um)


def _counted(each: ClassFacts) -> str:
    return each.label if each.kind == "BAT" else f"{each.count} {each.label}"


def facts_line(facts: EditionFacts, past_cap: int) -> str:
    """'25 + 3 AP + BAT. 127 mm square, window mount'."""
    counts = [str(facts.numbered.count)] if facts.edition.kind == "limited" else []
    counts += [_counted(each) for each in facts.outside]
    sizes = ", ".join(measure(size.image_w_um, size.image_h_um) for size in facts.sizes)
    mounts = {size.offer.mounting for size in facts.sizes} - {""}
    said = f"{' + '.join(counts)}. " if counts else ""
    said += sizes + (f", {mounts.pop()}" if len(mounts) == 1 else "")
    return f"{said}. Past {past_cap}: ask about tax" if past_cap else said


def row(
    facts: EditionFacts, run: Sequence[PieceView], report: MarginReport, picture: Plate | None, *,
    past_cap: int, currency: str,
) -> Row:  # fmt: skip
    """An edition as a row of the list."""
    numbered = numbered_run(facts, run)
    worth, peak, offer = report.with_labour, facts.edition.sold_peak, facts.sizes[0].offer
    out = group_of(facts, numbered) == SOLD_OUT
    left = sellable(numbered)
    one_size = len(facts.sizes) == 1
    note = next_step(offer, peak, currency) if one_size else "by size"
    limited = facts.edition.kind == "limited"
    return Row(
        href=f"/editions/{facts.edition.id}",
        title=facts.work.title,
        picture=picture,
        limited=limited,
        facts=facts_line(facts, past_cap),
        strip=marks.strip(numbered) if limited else [],
        summary=marks.in_a_sentence(numbered) or "Nothing made yet",
        price="" if out else prices_said(facts, currency),
        took=shown(worth.takings, currency),
        ladder=ladder(offer, peak, currency) if one_size else [],
        price_note="the last one" if limited and left == 1 else note,
        left=shown(worth.left, currency),
        left_note=margins.paid_back(worth, None if out else price_now(offer, peak)),
    )


def run_of(facts: EditionFacts, numbered: Sequence[PieceView]) -> dict[str, Any]:
    """The section The run: its places, the tail of free numbers, and the sum that is its key."""
    limited, count = facts.edition.kind == "limited", facts.numbered.count
    tail = marks.tail_of(numbered)
    shown_places = numbered[: len(numbered) - tail]
    declared = count if limited else len(numbered)
    key = marks.key(numbered)
    return {
        "places": [marks.place(seen) for seen in shown_places],
        "label": f"Numbers 1 to {declared}" if declared else "No number yet",
        "letters": marks.letters(shown_places) if len(numbered) > marks.MANY else "",
        "tail": _tail(facts, numbered, tail),
        "key": key,
        "total": f"{declared:,}",
        "total_words": "declared" if limited else "made so far",
        "note": _not_the_count(sum(each.count for each in key), declared),
    }


def _tail(facts: EditionFacts, numbered: Sequence[PieceView], tail: int) -> dict[str, str] | None:
    if not tail:
        return None
    first, last = numbered[-tail].number, numbered[-1].number
    return {
        "words": f"{first} to {last}: free, {tail:,} numbers.",
        "act_words": f"Assign {first}",
        "href": f"/editions/{facts.edition.id}/numbers",
    }


def _not_the_count(summed: int, declared: int) -> str:
    if summed == declared:
        return ""
    return (
        f"The run comes to {summed:,} and not to {declared:,}. Something in this book is damaged: sell nothing "
        "of this edition, and restore the last backup."
    )


def proofs(facts: EditionFacts, run: Sequence[PieceView]) -> dict[str, Any] | None:
    """The section of what stands outside the count; none where nothing does."""
    outside = [seen for seen in run if seen.class_id != facts.numbered.id]
    if not outside:
        return None
    beside = f"Outside the {facts.numbered.count}." if facts.edition.kind == "limited" else "Outside the count."
    return {"head": "Proofs", "beside": beside, "places": [marks.place(seen, proof=True) for seen in outside]}


def museum(
    facts: EditionFacts, others: Sequence[tuple[int, str]], unanswered: Sequence[str], total: int, cap: int
) -> list[dict[str, Any]]:
    """What the edition is, as the label beside a picture says it; each fact with what it is called."""
    edition = facts.edition
    said: list[tuple[str, Any]] = [("The edition", _edition(facts))]
    for size in facts.sizes:
        name = f" of {size.label}" if len(facts.sizes) > 1 else ""
        said.append((f"Process and paper{name}", f"{size.offer.process}. {size.offer.paper}"))
        said.append((f"Image, sheet, mount{name}", _sizes(size)))
    said.append(("In the maker’s words", f"“{edition.statement}”"))
    said.append(("Later editions", LATER[edition.later_editions]))
    said.append(("Declared", f"{dates.said(edition.declared_on)}, for good"))
    said += _dates(edition.begun_words, edition.closed_on, edition.closed_reason, edition.withdrawn_on)
    if others:
        links = [
            [{"words": words, "href": f"/editions/{number}"}, {"words": ". ", "href": ""}] for number, words in others
        ]
        said.append(("Other editions", [part for pair in links for part in pair]))
    said.append(("Of this picture, in all", _in_all(total, cap)))
    said.append(("What the papers must tell", _answered(edition.id or 0, unanswered)))
    return [{"label": label, "words": words} for label, words in said]


def _edition(facts: EditionFacts) -> str:
    outside = " + ".join(_counted(each) for each in facts.outside)
    if facts.edition.kind == "open":
        return "Not a limited edition. Numbered as it is made" + (f"; beside it {outside}" if outside else "")
    sizes = "one size" if len(facts.sizes) == 1 else f"over {numbering.words(len(facts.sizes))} sizes"
    said = f"{facts.numbered.count} numbered, {sizes}"
    return f"{said}. Beside it {outside}: {facts.total} in all" if outside else said


def _sizes(size: SizeFacts) -> str:
    said = by_measure(size.image_w_um, size.image_h_um)
    if size.sheet_w_um and size.sheet_h_um:
        said += f" on {by_measure(size.sheet_w_um, size.sheet_h_um)}"
    return f"{said}, {size.offer.mounting}" if size.offer.mounting else said


def _dates(begun: str | None, closed: date | None, why: str | None, withdrawn: date | None) -> list[tuple[str, Any]]:
    said: list[tuple[str, Any]] = []
    if begun:
        said.append(("Begun before this record", dates.parse_part(begun).said()))
    if closed:
        said.append(("Closed early", f"{dates.said(closed)}. {why or ''}".strip()))
    if withdrawn:
        said.append(("Withdrawn: declared by mistake", dates.said(withdrawn)))
    return said


def _in_all(total: int, cap: int) -> str:
    if not cap:
        return f"{total:,}, proofs included"
    if total > cap:
        return f"{total:,}, proofs included. Past {cap} a tax rule may change: ask an accountant"
    return f"{total:,} of {cap} before a tax rule may change"


def _answered(edition_id: int, unanswered: Sequence[str]) -> Any:
    href = f"/editions/{edition_id}/answers"
    if not unanswered:
        return [{"words": "All is answered", "href": href}]
    left = f"{numbering.words(len(unanswered)).capitalize()} still to answer"
    return [
        {"words": left, "href": f"{href}#{unanswered[0]}"},
        {"words": "; no certificate is issued before", "href": ""},
    ]

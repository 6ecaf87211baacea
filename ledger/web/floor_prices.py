"""What price a print of an edition needs, by way of selling; by steps or flat; and how many pay for a fair."""

from fractions import Fraction
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, editions, floor_prices, recipes, studio
from ledger.database import Session, reading
from ledger.errors import Refusal
from ledger.floor_prices import Answer, AtFair, Needed, Wish
from ledger.reckoning import dates, money, numbering
from ledger.reckoning.floor_price import Sold, at_any_price
from ledger.reckoning.money import half_up
from ledger.web.answers import status_of
from ledger.web.edition_words import measure
from ledger.web.forms import Form, Posted
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_shapes import minor
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slips
from ledger.web.shapes import Amount, Id, Percent, Shape, amount, percent_said, read_id
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["prices"])
MANY_TIMES = 10
"""From so many times its cost on a price is remarked upon."""


class WishForm(Shape):
    """What is wanted and what to reckon with, as the address of the page says it."""

    leaves: Amount | None = None
    margin: Percent | None = None
    size: Id | None = None
    recipe: Id | None = None
    flat: Amount | None = None
    commission: Percent | None = None
    commission_tax: Percent = 0

    def wish(self, currency: str) -> Wish:
        """Raises Slips."""
        return Wish(
            leaves_minor=minor(self.leaves, currency, "leaves"),
            margin_bp=self.margin,
            size_id=self.size,
            recipe_id=self.recipe,
            flat_minor=minor(self.flat, currency, "flat"),
            commission_bp=self.commission,
            commission_tax_bp=self.commission_tax,
        )


def _asked(request: Request) -> Posted:
    return Posted(dict(request.query_params), {}, "", "", request.url.path)


@pages.get("/editions/{edition_id}/price")
def page(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """What is wanted, and the price that takes."""
    asked = _asked(request)
    if not asked.typed.keys() - {"size"}:
        with reading(house.engine) as session:
            usual = _usual_recipe(session, edition_id, read_id(asked.text("size")))
        asked = Posted(dict(asked.typed) | {"recipe": usual}, {}, "", "", request.url.path)
    try:
        return _page(request, house, edition_id, asked, asked.again())
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        form = asked.refused("Not worked out", no)
        plain = Posted({}, {}, "", "", request.url.path)
        return _page(request, house, edition_id, plain, form, status_of(no))


def _usual_recipe(session: Session, edition_id: int, size_id: int | None) -> str:
    """The recipe that is reckoned with unless another is asked for, as the form holds it; else ''."""
    facts = editions.facts(session, edition_id, clock.today())
    size = next((size for size in facts.sizes if size.id == size_id), facts.sizes[0])
    usual = floor_prices.proposed(session, edition_id, size)
    return str(usual.id) if usual else ""


def _page(request: Request, house: House, edition_id: int, asked: Posted, form: Form, status: int = 200) -> Response:
    today = clock.today()
    with reading(house.engine) as session:
        currency = studio.currency(session)
        needed = floor_prices.look(session, edition_id, asked.read(WishForm, currency).wish(currency), today)
        facts = editions.facts(session, edition_id, today)
        usual = recipes.of_offer(session, needed.size.offer)
        known = [
            {"value": each.id, "words": each.name + (", as it is offered" if each == usual else "")}
            for each in recipes.listing(session)
        ]
    sizes = [
        {
            "href": "?" + urlencode(dict(request.query_params) | {"size": each.id}),
            "words": measure(each.image_w_um, each.image_h_um),
            "now": each.id == needed.size.id,
        }
        for each in facts.sizes
    ]
    return render(
        request, "editions/price.html", status, form=form, title=facts.work.title,
        edition_href=f"/editions/{edition_id}", sizes=sizes, size_id=needed.size.id, unit=unit_of(currency),
        recipes=[{"value": "", "words": "As the book has it"}, *known] if known else [],
        price=money.shown(needed.price, currency), making=_making(needed, currency) + _uncosted(needed.uncosted),
        rows=[_row(each, asked, currency) for each in needed.answers] if status == 200 else [],
        sold_through=_sold_through(needed, currency), fairs=[_at_fair(each, needed, currency) for each in needed.fairs],
        taxed=any(each.way.terms.tax_bp for each in needed.answers),
    )  # fmt: skip


def _making(needed: Needed, currency: str) -> str:
    """What one costs, and apart from it what is still to come by a recipe: two parts that add up."""
    with_it, without = (half_up(each) for each in (needed.making.with_own_labour, needed.making.without_own_labour))
    if not with_it:
        return "No cost of making it is written down yet, so none is reckoned with."
    own = f", {money.shown(without, currency)} without own time" if with_it != without else ""
    said = f"Making one costs {money.shown(with_it, currency)}"
    to_come = with_it - half_up(needed.making.with_own_labour - needed.to_come.with_own_labour)
    if needed.left_out:
        left_out = f"The recipe “{needed.left_out.name}” is left out, for costs of this edition are in the book."
        return f"{said}{own}. {left_out} Choose it if they leave the finishing out."
    if needed.recipe is None:
        return f"{said}{own}."
    by = f"by the recipe “{needed.recipe.name}”"
    if not to_come:
        return f"{said}{own}. Every print is finished, so nothing is still to come {by}."
    if to_come == with_it:
        return f"{said} {by}{own}."
    parts = f"{money.shown(with_it - to_come, currency)} by the book, {money.shown(to_come, currency)} still to come"
    return f"{said}{own}. Of that {parts} {by}."


def _uncosted(how_many: int) -> str:
    if not how_many:
        return ""
    prints = "1 print of it has" if how_many == 1 else f"{how_many:,} prints of it have"
    return f" {prints} no printing, or none with a cost, so making is more than this."


def _row(answer: Answer, asked: Posted, currency: str) -> dict[str, Any]:
    floor = answer.floor
    said = (
        _terms(answer),
        answer.why_not,
        _split(floor, currency) if floor else "",
        _without(answer, currency),
        _times(answer, asked.text("margin")),
        f"Today: margin {_percent(answer.now.margin)}, mark-up {_percent(answer.now.mark_up)}.",
    )
    return {
        "way": answer.way.name,
        "needs": money.bare(floor.price, currency) if floor else "none",
        "leaves": money.bare(answer.now.leaves, currency),
        "said": [sentence for sentence in said if sentence],
    }


def _terms(answer: Answer) -> str:
    terms = answer.way.terms
    if not terms.commission_bp:
        return ""
    added = f", and {percent_said(terms.commission_tax_bp)}% tax on that" if terms.commission_tax_bp else ""
    return f"It keeps {percent_said(terms.commission_bp)}%{added}."


def _split(floor: Sold, currency: str) -> str:
    """What becomes of the floor price, in a sum that adds up."""
    made = floor.without_tax - floor.selling - floor.leaves
    parts = [(floor.tax, "tax"), (floor.selling, "selling"), (made, "making"), (floor.leaves, "left")]
    said = [f"{money.shown(part, currency)} {words}" for part, words in parts if part or words == "left"]
    return f"{', '.join(said)}."


def _without(answer: Answer, currency: str) -> str:
    lowest = answer.floor_without_own_time
    if lowest is None or answer.floor is None or lowest == answer.floor.price:
        return ""
    return f"{money.shown(lowest, currency)} is enough without own time."


def _times(answer: Answer, margin: str) -> str:
    """'A 50% margin after 45% commission needs twenty times the cost.'"""
    if answer.floor is None:
        return ""
    terms = answer.way.terms
    cost = at_any_price(terms, answer.floor.making)
    times = half_up(Fraction(answer.floor.price, cost)) if cost else 0
    if not margin or times < MANY_TIMES:
        return ""
    after = f" after {percent_said(terms.commission_bp)}% commission" if terms.commission_bp else ""
    after += " and the tax on it" if terms.commission_tax_bp else ""
    return f"A {margin}% margin{after} needs {numbering.words(times)} times the cost."


def _percent(part: Fraction | None) -> str:
    if part is None:
        return "none"
    tenths = half_up(part * 1000)
    return f"{'−' if tenths < 0 else ''}{abs(tenths) // 10}.{abs(tenths) % 10}%"


def _sold_through(needed: Needed, currency: str) -> dict[str, Any] | None:
    """By the steps, less what a flat price takes; nothing to compare where they are one."""
    told = needed.sold_through
    if told is None or (len(needed.size.offer.steps) == 1 and told.by_steps == told.at_flat):
        return None
    return {
        "count": told.count,
        "rows": [
            {"words": f"All {told.count} by their steps", "amount": money.bare(told.by_steps, currency)},
            {"words": f"All at {money.shown(told.flat, currency)}", "amount": money.bare(-told.at_flat, currency)},
        ],
        "total": money.bare(told.by_steps - told.at_flat, currency),
    }


def _at_fair(at: AtFair, needed: Needed, currency: str) -> dict[str, str]:
    each = f"At {money.shown(needed.price, currency)} a print leaves {money.shown(at.each, currency)} there"
    cost = money.shown(at.cost, currency)
    if not at.cost:
        words = f"{each}. What it costs is not written down yet."
    elif at.count is None:
        words = f"{each}, so no number of them pays the {cost} it costs."
    else:
        prints = "1 print pays" if at.count == 1 else f"{at.count} prints pay"
        words = f"{each}: {prints} the {cost} it costs."
    return {"name": at.fair.name, "on": dates.span(at.fair.from_on, at.fair.to_on), "words": words}


@api.get("/editions/{edition_id}/price")
def by_program(request: Request, house: Here, who: Bearer, edition_id: Id) -> dict[str, Any]:
    """What price a print needs to leave what is wanted (`leaves`, or `margin` in per cent), by way of selling."""
    with reading(house.engine) as session:
        currency = studio.currency(session)
        wish = _asked(request).read(WishForm, currency).wish(currency)
        needed = floor_prices.look(session, edition_id, wish, clock.today())
    told = needed.sold_through
    return {
        "edition_id": edition_id, "size_id": needed.size.id, "recipe_id": needed.recipe.id if needed.recipe else None,
        "making": amount(half_up(needed.making.with_own_labour), currency),
        "making_without_own_labour": amount(half_up(needed.making.without_own_labour), currency),
        "still_to_come": amount(half_up(needed.to_come.with_own_labour), currency), "uncosted": needed.uncosted,
        "price": amount(needed.price, currency),
        "ways": [_answer_json(each, currency) for each in needed.answers],
        "sold_through": told and {
            "count": told.count, "by_steps": amount(told.by_steps, currency), "flat": amount(told.flat, currency),
            "at_flat": amount(told.at_flat, currency),
        },
        "fairs": [
            {
                "occasion_id": each.fair.id, "cost": amount(each.cost, currency),
                "a_print_leaves": amount(each.each, currency), "prints": each.count,
            }
            for each in needed.fairs
        ],
    }  # fmt: skip


def _answer_json(answer: Answer, currency: str) -> dict[str, Any]:
    lowest = answer.floor_without_own_time
    return {
        "way": answer.way.name, "commission": float(percent_said(answer.way.terms.commission_bp)),
        "needs": _sold_json(answer.floor, currency) if answer.floor else None,
        "needs_without_own_labour": None if lowest is None else amount(lowest, currency),
        "why_not": answer.why_not or None,
        "now": _sold_json(answer.now, currency),
    }  # fmt: skip


def _sold_json(sold: Sold, currency: str) -> dict[str, Any]:
    return {
        "price": amount(sold.price, currency), "tax": amount(sold.tax, currency),
        "selling": amount(sold.selling, currency), "leaves": amount(sold.leaves, currency),
        "margin": _percent_json(sold.margin), "mark_up": _percent_json(sold.mark_up),
    }  # fmt: skip


def _percent_json(part: Fraction | None) -> float | None:
    return None if part is None else half_up(part * 10_000) / 100

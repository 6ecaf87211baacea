"""What may be done with a declared edition: offer it otherwise, close it early, withdraw it."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, declarations, editions, mounts, numbers, offers, pieces, recipes, spares, studio
from ledger.database import Book, reading
from ledger.editions import EditionFacts
from ledger.errors import Refusal
from ledger.offers import OfferFacts
from ledger.reckoning import numbering
from ledger.reckoning.money import bare, plain, shown
from ledger.spares import Fate
from ledger.web import answers
from ledger.web.forms import Form, Posted, Sent, blank
from ledger.web.house import Here, House
from ledger.web.mount_views import choices
from ledger.web.pages import render
from ledger.web.promise_shapes import OfferShape, in_outside_words
from ledger.web.reading_back import same_title
from ledger.web.rehearsal import rehearse
from ledger.web.runs import fates
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape, read_id
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
TITLE = "typed_title"


def _facts(house: House, edition_id: int) -> EditionFacts:
    with reading(house.engine) as session:
        return editions.facts(session, edition_id, clock.today())


def _status(fault: Refusal | Slips) -> int:
    return answers.status_of(fault) if isinstance(fault, Refusal) else 422


# Another offer


class OfferForm(Shape):
    """How a size is sold from today."""

    size_id: Id
    offer: OfferShape


@pages.get("/editions/{edition_id:int}/offer")
def offered(
    request: Request, house: Here, who: Signed, edition_id: Id, size: Id | None = None, mount: Id | None = None
) -> Response:
    """How a size is sold now, to be changed for what is still to come; `mount` is a plan it is to have."""
    facts = _facts(house, edition_id)
    chosen = next((each for each in facts.sizes if each.id == size), facts.sizes[0])
    with reading(house.engine) as session:
        currency = studio.currency(session)
        by_hand = offers.mounting_by_hand(session, chosen.offer)
        recipe = recipes.of_offer(session, chosen.offer)
    values = _offer_values(chosen.id, chosen.offer, by_hand, currency)
    values["offer.recipe_id"] = str(recipe.id) if recipe else ""
    if mount:
        values |= {"offer.mounting": "", "offer.mount_plan_id": str(mount)}
    return _offered(request, house, facts, blank(values))


def _offer_values(size_id: int, offer: OfferFacts, mounting: str, currency: str) -> dict[str, str]:
    values = {
        "size_id": str(size_id),
        "offer.process": offer.process,
        "offer.paper": offer.paper,
        "offer.mounting": mounting,
        "offer.mount_plan_id": str(offer.mount_plan_id or ""),
    }
    for at, (start, price) in enumerate(offer.steps):
        values[f"offer.prices.{at}.price"] = plain(price, currency)
        values[f"offer.prices.{at}.from_sold"] = str(start)
    return values


def _offered(request: Request, house: House, facts: EditionFacts, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        chosen = str(form.values.get("size_id", ""))
        plans = mounts.for_size(session, size_id) if (size_id := read_id(chosen)) else []
        known = recipes.listing(session)
    here = f"/editions/{facts.edition.id}"
    return render(
        request, "editions/offer.html", status,
        title=facts.work.title, edition_href=here, action=f"{here}/offer", form=form, size_id=chosen,
        unit=shown(0, currency).removesuffix(bare(0, currency)).strip(),
        sizes=[
            {"href": f"{here}/offer?size={each.id}", "words": each.label, "now": str(each.id) == chosen}
            for each in facts.sizes
        ],
        mounts=choices(plans, lambda row: row.title, "None"), recipes=choices(known, lambda row: row.name, "None"),
        steps=len(form.rows("offer.prices")), sold=facts.edition.sold_peak,
    )  # fmt: skip


@pages.post("/editions/{edition_id:int}/offer")
def offer(request: Request, house: Here, who: Signed, sent: Sent, edition_id: Id) -> Response:
    """Offer a size otherwise from today."""
    facts = _facts(house, edition_id)
    if sent.step == "another_step":
        return _offered(request, house, facts, sent.again("offer.prices"))
    with reading(house.engine) as session:
        currency = studio.currency(session)
    try:
        shape = sent.read(OfferForm, currency)
        draft = shape.offer.draft(currency, "offer")
        if shape.size_id not in [size.id for size in facts.sizes]:
            raise Refusal("That size is not one of this edition.", missing=True)

        def act(book: Book) -> str:
            editions.new_offer(book, shape.size_id, draft)
            return f"/editions/{edition_id}"

        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as fault:
        return _offered(request, house, facts, sent.refused("Not changed", fault), _status(fault))
    return answers.see(done.path)


# Closing early, and withdrawing: read back, and the title typed


class Withdrawing(Shape):
    """Why, and what became of the good prints without a number."""

    why: str = ""
    spares: Fate | None = None
    typed_title: str = ""


class Closing(Withdrawing):
    """Numbers never to be made besides."""

    numbers: str = ""


@pages.get("/editions/{edition_id:int}/close")
def closing(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """Which numbers will never be made; all free ones are proposed."""
    facts = _facts(house, edition_id)
    with reading(house.engine) as session:
        free = pieces.next_free(session, facts.numbered.id, 9999)
    return _closing(request, house, facts, blank({"numbers": numbering.said(free) if free else ""}))


def _closing(request: Request, house: House, facts: EditionFacts, form: Form, status: int = 200) -> Response:
    here = f"/editions/{facts.edition.id}"
    return render(
        request, "editions/close.html", status,
        title=facts.work.title, edition_href=here, action=f"{here}/close", form=form,
        limited=facts.edition.kind == "limited", count=facts.numbered.count, **_spares(house, facts),
    )  # fmt: skip


def _spares(house: House, facts: EditionFacts) -> dict[str, Any]:
    """How many good prints have no number, and what can become of them."""
    with reading(house.engine) as session:
        spare = sum(spares.by_size(session, facts.edition.id or 0).values())
    return {"spare": spare, "fates": fates()}


@pages.post("/editions/{edition_id:int}/close")
def close(request: Request, house: Here, who: Signed, sent: Sent, edition_id: Id) -> Response:
    """Read the closing back; with the title typed under it, close."""
    facts = _facts(house, edition_id)
    form = _without_title(sent)
    if sent.step == "back":
        return _closing(request, house, facts, form.again())

    def act(book: Book) -> str:
        shape = sent.read(Closing)
        numbers.close(book, edition_id, shape.numbers, shape.why, shape.spares)
        return f"/editions/{edition_id}"

    def told(book: Book) -> list[int]:
        before = pieces.next_free(book.session, facts.numbered.id, 9999)
        act(book)
        still = pieces.next_free(book.session, facts.numbered.id, 9999)
        return sorted(set(before) - set(still))

    try:
        never = rehearse(house, who, told)
        if sent.step != "close":
            return _grave(request, facts, form, form.again(), _of_closing(facts, never))
        if not same_title(sent.text(TITLE), facts.work.title):
            again = sent.refused("Not closed", _type_it(facts))
            return _grave(request, facts, form, again, _of_closing(facts, never), 409)
        done = house.record(who, act, form.repeat)
    except (Refusal, Slips) as no:
        return _closing(request, house, facts, form.refused("Not closed", no), _status(no))
    return answers.see(done.path)


def _type_it(facts: EditionFacts) -> Refusal:
    return Refusal(f"Type “{facts.work.title}”, as it stands above.", field=TITLE)


def _without_title(sent: Posted) -> Posted:
    return replace(sent, typed={name: value for name, value in sent.typed.items() if name != TITLE})


def _of_closing(facts: EditionFacts, never: list[int]) -> dict[str, Any]:
    limited = facts.edition.kind == "limited"
    fixed = ["This edition is closed, from today"]
    if never:
        fixed.insert(0, f"Never to be made: {numbering.said(never)}. Nobody can number them again")
    kept = f"Prints that exist keep n/{facts.numbered.count}" if limited else "Prints that exist keep their number"
    return {
        "heading": "Close early",
        "oath": f"You close {facts.work.title} early. This is for good.",
        "fixed": [*fixed, "Every certificate issued from now on says that it was closed, and when"],
        "changeable": [f"{kept}, and can be sold", "Their prices"],
        "button": "Close this edition",
        "step": "close",
        "path": "close",
    }


def _grave(
    request: Request, facts: EditionFacts, form: Posted, shown_form: Form, told: dict[str, Any], status: int = 200
) -> Response:
    here = f"/editions/{facts.edition.id}"
    return render(
        request, "editions/grave.html", status,
        title=facts.work.title, edition_href=here, action=f"{here}/{told['path']}", form=shown_form,
        carried=[{"name": name, "value": value} for name, value in form.typed.items()], told=told,
    )  # fmt: skip


@pages.get("/editions/{edition_id:int}/withdraw")
def withdrawing(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """What withdrawing means, with a line for why."""
    return _withdrawing(request, house, _facts(house, edition_id), blank())


def _withdrawing(request: Request, house: House, facts: EditionFacts, form: Form, status: int = 200) -> Response:
    here = f"/editions/{facts.edition.id}"
    return render(
        request, "editions/withdraw.html", status,
        title=facts.work.title, edition_href=here, action=f"{here}/withdraw", form=form, **_spares(house, facts),
    )  # fmt: skip


@pages.post("/editions/{edition_id:int}/withdraw")
def withdraw(request: Request, house: Here, who: Signed, sent: Sent, edition_id: Id) -> Response:
    """Withdraw an edition declared by mistake, with its title typed."""
    facts = _facts(house, edition_id)

    def act(book: Book) -> str:
        shape = sent.read(Withdrawing)
        declarations.withdraw(book, edition_id, shape.why, shape.spares)
        return f"/editions/{edition_id}"

    try:
        rehearse(house, who, act)
        if not same_title(sent.text(TITLE), facts.work.title):
            raise _type_it(facts)
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        form = sent.refused("Not withdrawn", in_outside_words(no) if isinstance(no, Refusal) else no)
        return _withdrawing(request, house, facts, form, _status(no))
    return answers.see(done.path)

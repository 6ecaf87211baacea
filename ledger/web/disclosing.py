"""What the papers must tell: the items only the maker knows, asked, answered, and answered better."""

from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import Response

from ledger import clock, editions
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.reckoning.answers import ASKED, Item
from ledger.tables import EditionAnswer
from ledger.web import answers
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.promise_shapes import AnswerShape
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)


def question(item: Item) -> dict[str, Any]:
    """An item as a form asks it, with who asks."""
    laws = [source for source in item.sources if not source.startswith("common practice")]
    said = f"Asked by {'; '.join(laws)}." if laws else "Buyers usually ask."
    return {"item": item.key, "question": item.question, "help": said}


class AnswersShape(Shape):
    """The answers to any of the items."""

    answers: Annotated[dict[str, AnswerShape], Field(default_factory=dict, max_length=60)]


@pages.get("/editions/{edition_id:int}/answers")
def asked(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """Every item of disclosure with the answer it has; each can be linked to by its name."""
    given = _given(house, edition_id)
    values = {f"answers.{item}.answer": each.answer for item, each in given.items()}
    return _asked(
        request, house, edition_id, blank(values | {f"answers.{item}.text": each.text for item, each in given.items()})
    )


def _given(house: House, edition_id: int) -> dict[str, EditionAnswer]:
    with reading(house.engine) as session:
        return editions.answers(session, edition_id)


def _asked(request: Request, house: House, edition_id: int, form: Form, status: int = 200) -> Response:
    given = _given(house, edition_id)
    with reading(house.engine) as session:
        title = editions.facts(session, edition_id, clock.today()).work.title
    return render(
        request, "editions/answers.html", status,
        title=title, edition_href=f"/editions/{edition_id}", action=f"/editions/{edition_id}/answers",
        form=form, left=sum(item.key not in given for item in ASKED),
        answers=[
            question(item) | {"open": item.key not in given} for item in ASKED
        ],
    )  # fmt: skip


@pages.post("/editions/{edition_id:int}/answers")
def answer(request: Request, house: Here, who: Signed, sent: Sent, edition_id: Id) -> Response:
    """Record the answers that are new or other than before."""
    try:
        typed = sent.read(AnswersShape).answers

        def act(book: Book) -> str:
            before = editions.answers(book.session, edition_id)
            new = {item: each.draft() for item, each in typed.items() if _is_new(each, before.get(item))}
            if not new:
                raise Refusal("Every answer stands as it was. Change one, or go back to the edition.")
            for item, draft in new.items():
                editions.answer(book, edition_id, item, draft)
            return f"/editions/{edition_id}"

        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as fault:
        if isinstance(fault, Refusal) and (fault.field or "").startswith("answers."):
            fault = Refusal(fault.message, field=f"{fault.field}.text")
        return _asked(
            request,
            house,
            edition_id,
            sent.refused("Not written down", fault),
            answers.status_of(fault) if isinstance(fault, Refusal) else 422,
        )
    return answers.see(done.path)


def _is_new(typed: AnswerShape, before: EditionAnswer | None) -> bool:
    text = typed.text if typed.answer == "value" else ""
    return before is None or (before.answer, before.text) != (typed.answer, text)

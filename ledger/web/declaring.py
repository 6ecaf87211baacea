"""Declaring: one form, read back in prose, and only then written down. Nothing is kept between but the picture."""

from dataclasses import replace

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, declarations, editions, pictures, promises, studio, works
from ledger.accounts import Who
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.pictures import EmbeddedFacts, StoredPicture
from ledger.promises import EditionDraft
from ledger.reckoning import answers as disclosure
from ledger.reckoning.answers import KnownFacts
from ledger.web import answers, declare_form, plates, reading_back, sentences
from ledger.web.declare_form import HERE, TITLE
from ledger.web.forms import Form, Posted, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.promise_shapes import DeclareShape, in_outside_words
from ledger.web.reading_back import ReadBack
from ledger.web.rehearsal import rehearse
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Id
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
ANOTHER = "another:"
NEEDED = "Write it: nothing can be declared without it."


@pages.get(HERE)
def new(request: Request, house: Here, who: Signed, work_id: Id | None = None) -> Response:
    """The empty form, filled in as far as anything is known."""
    with reading(house.engine) as session:
        values = _first_values(session, work_id)
    return declare_form.page(request, house, blank(values))


def _first_values(session: Session, work_id: int | None) -> dict[str, str]:
    work = works.get(session, work_id) if work_id else None
    year = clock.today().year
    made, died = (work.year_made, work.artist_died) if work else (year, None)
    values = {
        "kind": "limited",
        "work_id": str(work_id) if work else "",
        "work.artist": studio.the_studio(session).maker_name,
        "work.medium": "Photograph",
    }
    for item, answer in disclosure.proposals(KnownFacts(died, made, year)).items():
        values |= {f"answers.{item}.answer": answer.answer, f"answers.{item}.text": answer.text}
    if work and any(each.work_id == work_id for each in editions.listing(session)):
        values["answers.other_editions.text"] = "None but those in this record."
    return values


@pages.post(HERE)
def send(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """Whatever button was pressed: one more row, the picture read, the promise read back, or declared."""
    try:
        sent, found = _with_picture(house, sent)
    except Refusal as refusal:
        form = sent.refused("Not kept", refusal)
        return declare_form.page(request, house, form, answers.status_of(refusal))
    if sent.step.startswith(ANOTHER):
        return declare_form.page(request, house, sent.again(sent.step.removeprefix(ANOTHER)))
    if sent.step == "read_picture":
        return declare_form.page(request, house, _filled_in(house, sent, found), said=found.copyright if found else "")
    if sent.step == "back":
        return declare_form.page(request, house, _without_title(sent).again())
    return _read_back(request, house, who, sent, declare=sent.step == "declare")


def _with_picture(house: House, sent: Posted) -> tuple[Posted, EmbeddedFacts | None]:
    """A picture that came is kept at once: a form that is shown again could not send it twice."""
    upload = sent.files.get("picture")
    if upload is None:
        return sent, None
    stored = pictures.store(house.data_dir, upload.file)
    return replace(sent, typed={**sent.typed, "picture_ref": plates.upload_of(stored).ref}), stored.facts


def _filled_in(house: House, sent: Posted, found: EmbeddedFacts | None) -> Form:
    form = sent.again()
    if found is None:
        return form
    with reading(house.engine) as session:
        maker = studio.the_studio(session).maker_name
    values = dict(form.values)
    told = {
        "work.title": found.title,
        "work.artist": found.creator,
        "work.year_made": str(found.captured_on.year) if found.captured_on else "",
    }
    for name, value in told.items():
        if value and values.get(name, "") in ("", maker):
            values[name] = value
    return replace(form, values=values)


def _without_title(sent: Posted) -> Posted:
    return replace(sent, typed={name: value for name, value in sent.typed.items() if name != TITLE})


# The promise, rehearsed and read back


def _read_back(request: Request, house: House, who: Who, sent: Posted, *, declare: bool) -> Response:
    form = _without_title(sent)
    try:
        with reading(house.engine) as session:
            currency = studio.currency(session)
        shape = _read(form, currency)
        told = rehearse(house, who, lambda book: _tell(book, shape, currency))
    except (Refusal, Slips) as fault:
        return _refused(request, house, form, fault)
    if not declare:
        return _read_back_page(request, house, told, shape.work_id, form, form.again())
    if not reading_back.same_title(sent.text(TITLE), told.promise.title):
        slip = Refusal(f"Type “{told.promise.title}”, as it stands above.", field=TITLE)
        again = sent.refused("Not declared", slip)
        return _read_back_page(request, house, told, shape.work_id, form, again, 409)
    try:
        stored = plates.store_again(house.data_dir, shape.picture_ref)
        done = house.record(who, lambda book: _written(book, shape, stored, currency), form.repeat)
    except Refusal as fault:
        return _refused(request, house, form, fault)
    return answers.see(done.path)


def _read(form: Posted, currency: str) -> DeclareShape:
    left_open = _left_open(form)
    try:
        shape = form.read(DeclareShape, currency)
    except Slips as fault:
        raise Slips([*(replace(slip, message=_gently(slip)) for slip in fault.slips), *left_open]) from fault
    if left_open:
        raise Slips(left_open)
    return shape


def _left_open(form: Posted) -> list[Slip]:
    """What the shape cannot miss, for not every promise needs it: how many of a limited edition, and its statement."""
    counted = form.text("kind") == "open" or form.text("count") or form.text("each_counted")
    stated = form.text("statement").strip() or form.text("begun.statement").strip()
    return [Slip(name, NEEDED) for name, there in (("count", counted), ("statement", stated)) if not there]


def _gently(slip: Slip) -> str:
    if slip.message != sentences.NEEDED:
        return slip.message
    return "Choose one. It cannot be left open." if slip.field == "later_editions" else NEEDED


def _written(book: Book, shape: DeclareShape, stored: StoredPicture | None, currency: str) -> str:
    ids = _declare(book, shape, stored, currency)[1]
    return f"/editions/{ids[0]}" if len(ids) == 1 else "/"


def _declare(
    book: Book, shape: DeclareShape, stored: StoredPicture | None, currency: str
) -> tuple[list[EditionDraft], list[int]]:
    """The acts: the work where it is new, its picture, and each edition. Raises Refusal and Slips."""
    work_id = shape.work_id
    if work_id is None:
        if shape.work is None:
            raise Refusal("Write the title of the picture, or choose one in the book.", field="work.title")
        try:
            work = works.add(book, shape.work.draft())
            promises.check_work(work)
        except Refusal as refusal:
            raise in_outside_words(refusal, "work") from refusal
        work_id = work.id or 0
    if stored is not None and not works.has_picture(book.session, work_id, stored.sha256):
        works.keep_picture(book, work_id, stored)
    drafts = shape.drafts(work_id, currency)
    ids = []
    for at, draft in enumerate(drafts):
        try:
            ids.append(declarations.declare(book, draft).id or 0)
        except Refusal as refusal:
            raise _of_size(in_outside_words(refusal), at if len(drafts) > 1 else None) from refusal
    return drafts, ids


def _of_size(refusal: Refusal, at: int | None) -> Refusal:
    """The field as the form names it: each size may be an edition of its own, and an answer has two fields."""
    name = refusal.field or ""
    if at is not None and name == "count":
        name = f"sizes.{at}.count"
    elif at is not None and name.startswith("sizes.0."):
        name = f"sizes.{at}.{name.removeprefix('sizes.0.')}"
    if name.startswith("answers.") and name.count(".") == 1:
        name += ".text"
    return Refusal(refusal.message, field=name or None, missing=refusal.missing)


def _tell(book: Book, shape: DeclareShape, currency: str) -> ReadBack:
    """The promise as it would stand, once declared. Raises what declaring raises."""
    drafts, ids = _declare(book, shape, None, currency)
    declared = [editions.facts(book.session, each, book.today) for each in ids]
    total = editions.total_of_work(book.session, declared[0].edition.work_id)
    others = [each for each in editions.siblings(book.session, declared[0].edition) if each.id not in ids]
    return reading_back.tell(declared, drafts, total, studio.the_studio(book.session).works_cap, currency, others)


def _read_back_page(
    request: Request,
    house: House,
    told: ReadBack,
    work_id: int | None,
    form: Posted,
    shown_form: Form,
    status: int = 200,
) -> Response:
    return render(
        request, "editions/read_back.html", status,
        action=HERE, key=shown_form.key, form=shown_form,
        carried=[{"name": name, "value": value} for name, value in form.typed.items()],
        promise=told.promise, notes=told.notes, fixed=told.fixed,
        changeable=told.changeable,
        picture=declare_form.plate(house, form.typed, work_id, told.promise.title),
    )  # fmt: skip


def _refused(request: Request, house: House, form: Posted, fault: Refusal | Slips) -> Response:
    status = answers.status_of(fault) if isinstance(fault, Refusal) else 422
    return declare_form.page(request, house, form.refused("Not declared", fault), status)

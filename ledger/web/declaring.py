"""Declaring: one form, read back in prose, and only then written down. Nothing is kept between but the picture."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request
from pydantic import TypeAdapter, ValidationError
from starlette.responses import Response

from ledger import clock, editions, numbers, pictures, studio, works
from ledger.accounts import Who
from ledger.database import Book, Session, reading, writing  # type: ignore[attr-defined]
from ledger.editions import LABELS, EditionDraft
from ledger.errors import Refusal
from ledger.pictures import EmbeddedFacts, StoredPicture
from ledger.reckoning import answers as disclosure
from ledger.reckoning.answers import KnownFacts
from ledger.reckoning.money import bare, shown
from ledger.web import answers, plates, reading_back
from ledger.web.forms import Form, Posted, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.plates import Plate
from ledger.web.promise import DeclareShape, in_outside_words
from ledger.web.reading_back import ReadBack
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Mm
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
HERE = "/editions/new"
TITLE = "typed_title"
ANOTHER = "another:"
NEEDED = "Write it: nothing can be declared without it."

STYLES = (
    ("", "As is usual"), ("of_count", "7/25"), ("roman_of_count", "VII/XXV"), ("roman", "VII"),
    ("serial", "No. 7"), ("unnumbered", "Without a number"),
)  # fmt: skip
FATES = (
    ("", "Choose"), ("sold", "Sold"), ("given", "Given away"), ("in_hand", "In hand"), ("missing", "Missing"),
    ("destroyed", "Destroyed"), ("withdrawn", "Never made"),
)  # fmt: skip
PROOFS = ("AP", "PP", "HC", "BAT", "EP", "TP")


def _options(pairs: Any) -> list[dict[str, str]]:
    return [{"value": value, "words": words} for value, words in pairs]


@pages.get(HERE)
def new(request: Request, house: Here, who: Signed, work_id: int = 0) -> Response:
    """The empty form, filled in as far as anything is known."""
    with reading(house.engine) as session:
        values = _first_values(session, work_id)
    return _page(request, house, blank(values))


def _first_values(session: Session, work_id: int) -> dict[str, str]:
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
        form = sent.refused("Not kept", refusal, LABELLED)
        return _page(request, house, form, answers.status_of(refusal))
    if sent.step.startswith(ANOTHER):
        return _page(request, house, sent.again(sent.step.removeprefix(ANOTHER)))
    if sent.step == "read_picture":
        return _page(request, house, _filled_in(house, sent, found), said=found.copyright if found else "")
    if sent.step == "back":
        return _page(request, house, _without_title(sent).again())
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


class _Rehearsed(Exception):
    """Raised to roll back what was only tried out."""


@dataclass(frozen=True)
class _Told:
    page: ReadBack
    work_id: int | None


def _read_back(request: Request, house: House, who: Who, sent: Posted, *, declare: bool) -> Response:
    form = _without_title(sent)
    try:
        with reading(house.engine) as session:
            currency = studio.currency(session)
        shape = _read(form, currency)
        told = _rehearse(house, who, shape, currency)
    except (Refusal, Slips) as fault:
        return _refused(request, house, form, fault)
    if not declare:
        return _read_back_page(request, house, told, form, form.again())
    if not reading_back.same_title(sent.text(TITLE), told.page.promise.title):
        slip = Refusal(f"Type “{told.page.promise.title}”, as it stands above.", field=TITLE)
        again = sent.refused("Not declared", slip, LABELLED)
        return _read_back_page(request, house, told, form, again, 409)
    try:
        stored = plates.store_again(house.data_dir, shape.picture_ref)
        done = house.record(who, lambda book: _written(book, shape, stored, currency), form.repeat)
    except Refusal as fault:
        return _refused(request, house, form, fault)
    return answers.see(done.path)


def _read(form: Posted, currency: str) -> DeclareShape:
    try:
        return form.read(DeclareShape, currency)
    except Slips as fault:
        raise Slips(Slip(slip.field, _gently(slip)) for slip in fault.slips) from fault


def _gently(slip: Slip) -> str:
    if not slip.message.endswith(" is needed."):
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
            work_id = works.add(book, shape.work.draft()).id or 0
        except Refusal as refusal:
            raise in_outside_words(refusal, "work") from refusal
    if stored is not None:
        works.keep_picture(book, work_id, stored)
    drafts = shape.drafts(work_id, currency)
    ids = []
    for at, draft in enumerate(drafts):
        try:
            ids += [each.id or 0 for each in numbers.declare(book, draft)]
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


def _rehearse(house: House, who: Who, shape: DeclareShape, currency: str) -> _Told:
    """Declare, read what would stand there, and take it all back. Raises what declaring raises.

    Only so is a slip found before the promise is read, and not after the title was typed under it.
    """
    told: list[_Told] = []
    try:
        with writing(house.engine, who.name) as book:
            drafts, ids = _declare(book, shape, None, currency)
            declared = [editions.facts(book.session, each, book.today) for each in ids]
            work_id = declared[0].edition.work_id
            page = reading_back.tell(
                declared,
                editions.total_of_work(book.session, work_id),
                studio.the_studio(book.session).works_cap,
                editions.left_free(drafts[0]),
            )
            told.append(_Told(page, shape.work_id))
            raise _Rehearsed
    except _Rehearsed:
        return told[0]


def _read_back_page(
    request: Request, house: House, told: _Told, form: Posted, shown_form: Form, status: int = 200
) -> Response:
    return render(
        request, "editions/read_back.html", status,
        action=HERE, key=shown_form.key, form=shown_form, refusal=shown_form,
        carried=[{"name": name, "value": value} for name, value in form.typed.items()],
        promise=told.page.promise, notes=told.page.notes, fixed=told.page.fixed,
        changeable=told.page.changeable,
        picture=_plate(house, form.typed, told.work_id, told.page.promise.title),
    )  # fmt: skip


# The form


def _refused(request: Request, house: House, form: Posted, fault: Refusal | Slips) -> Response:
    status = answers.status_of(fault) if isinstance(fault, Refusal) else 422
    return _page(request, house, form.refused("Not declared", fault, LABELLED), status)


def _page(request: Request, house: House, form: Form, status: int = 200, said: str = "") -> Response:
    with reading(house.engine) as session:
        kept_in = studio.currency(session)
        of_book = [(str(work.id), work.title) for work in works.listing(session)]
    values = form.values
    chosen = str(values.get("work_id", ""))
    sizes = form.rows("sizes")
    return render(
        request, "editions/declare.html", status,
        action=HERE, key=form.key, form=form, refusal=form,
        unit=shown(0, kept_in).removesuffix(bare(0, kept_in)).strip(),
        works=_options([("", "A new picture"), *of_book]),
        picture=_plate(house, values, int(chosen) if chosen.isdigit() else None, str(values.get("work.title", ""))),
        picture_said=_picture_said(house, values, said), picture_ref=values.get("picture_ref", ""),
        classes=_options([("", "None"), *((kind, f"{LABELS[kind]} ({kind})") for kind in PROOFS)]),
        styles=_options(STYLES), outside_rows=len(form.rows("outside")),
        sizes=[
            {"steps": len(form.rows(f"sizes.{at}.offer.prices")), "quality": _quality(house, values, at)}
            for at in sizes
        ],
        answers=[
            {"item": item.key, "question": item.question, "help": f"Asked by {'; '.join(item.sources)}."}
            for item in disclosure.ASKED
        ],
        range_rows=len(form.rows("begun.ranges", least=0)), range_as=_options(FATES),
        range_classes=_options([("", "the numbers"), *((kind, kind) for kind in PROOFS)]),
        range_sizes=_options([("", "Not known"), *_size_names(values, len(sizes))]),
    )  # fmt: skip


def _size_names(values: Mapping[str, Any], how_many: int) -> list[tuple[str, str]]:
    names = [str(values.get(f"sizes.{at}.label", "")).strip() for at in range(how_many)]
    return [(name, name) for name in dict.fromkeys(names) if name]


def _pixels(house: House, values: Mapping[str, Any]) -> tuple[int, int] | None:
    upload = plates.read_ref(str(values.get("picture_ref", "")))
    if upload is not None:
        return upload.width_px, upload.height_px
    chosen = str(values.get("work_id", ""))
    if not chosen.isdigit():
        return None
    with reading(house.engine) as session:
        kept = works.pictures_of(session).get(int(chosen))
    return (kept.width_px, kept.height_px) if kept else None


def _plate(house: House, values: Mapping[str, Any], work_id: int | None, title: str) -> Plate | None:
    upload = plates.read_ref(str(values.get("picture_ref", "")))
    if upload is not None:
        return plates.plate_of_upload(upload, title)
    with reading(house.engine) as session:
        return plates.plate(works.pictures_of(session).get(work_id or 0), title or "The picture chosen")


def _picture_said(house: House, values: Mapping[str, Any], copyright_line: str) -> str:
    pixels = _pixels(house, values)
    if pixels is None:
        return ""
    said = f"{pixels[0]:,} × {pixels[1]:,} pixels."
    return f"{said} The file says: {copyright_line}" if copyright_line else said


_MM = TypeAdapter(Mm)


def _quality(house: House, values: Mapping[str, Any], at: int) -> str:
    pixels = _pixels(house, values)
    try:
        width, height = (
            _MM.validate_python(values.get(f"sizes.{at}.image.{side}_mm", "")) for side in ("width", "height")
        )
    except ValidationError:
        return ""
    if pixels is None or not width or not height:
        return ""
    return plates.quality(*pixels, width, height)


class _Labels(dict[str, str]):
    """The words of the form's fields, whatever row they stand in."""

    def get(self, name: str, default: Any = None) -> Any:
        plain = ".".join(part for part in name.split(".") if not part.isdigit())
        return super().get(plain, default)


LABELLED = _Labels({
    "work.title": "Title", "work.artist": "Artist", "work.year_made": "Year made", "work.medium": "Medium",
    "work.artist_born": "Born", "work.artist_died": "Died", "picture": "Picture file", "count": "How many",
    "kind": "What is promised", "style": "How numbers are written", "outside.class": "Kind of proof",
    "outside.count": "How many proofs", "later_editions": "Later editions", "statement": "In your own words",
    "sizes.image.width_mm": "Image width", "sizes.image.height_mm": "Image height",
    "sizes.sheet.width_mm": "Sheet width", "sizes.sheet.height_mm": "Sheet height",
    "sizes.offer.process": "Process", "sizes.offer.paper": "Paper", "sizes.offer.mounting": "Mount or frame",
    "sizes.offer.prices.price": "Price", "sizes.offer.prices.from_sold": "From sale no.",
    "sizes.count": "How many of this size", "sizes.label": "What you call it",
    "begun.words": "Begun", "begun.statement": "What was stated then", "begun.ranges.from": "Numbers from",
    "begun.ranges.to": "to", "begun.ranges.as": "Now", "begun.ranges.class": "Of",
    "begun.ranges.size": "Size", "each_counted": "Each size its own count", TITLE: "The title",
    **{f"answers.{item.key}.text": item.question for item in disclosure.ASKED},
})  # fmt: skip

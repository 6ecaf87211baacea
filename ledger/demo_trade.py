"""The demonstration beyond the bench: who and what there is, promises, papers, sales, and what became of prints."""

from datetime import date

from sqlalchemy import Engine

from ledger import (
    certificates,
    conditions,
    consignments,
    declarations,
    editions,
    evidence,
    numbers,
    occasions,
    papers,
    people,
    pricing,
    sale_drafts,
    sales,
    works,
)
from ledger.database import Book, reading, writing
from ledger.demo_story import Act, Replay, Told, each_in_one_act, moment
from ledger.promises import (
    AnswerDraft,
    BegunDraft,
    ClassDraft,
    EditionDraft,
    OfferDraft,
    RangeDraft,
    SizeDraft,
    StepDraft,
)
from ledger.reckoning import answers
from ledger.reckoning.answers import KnownFacts

ARTIST = "Ottoline Marrack-Voe"


def _channel(book: Book, run: Replay, act: Act) -> int | None:
    return occasions.add_channel(
        book,
        occasions.ChannelDraft(
            name=act["name"],
            kind=act["kind"],
            fee_bp=act.get("fee_bp", 0),
            fee_minor=run.minor(act.get("fee", "0")),
            packing_minor=run.minor(act.get("packing", "0")),
            postage_minor=run.minor(act.get("postage", "0")),
        ),
    ).id


def _person(book: Book, run: Replay, act: Act) -> int | None:
    return people.add(book, people.PersonDraft(kind=act["kind"], name=act["name"], town=act["town"])).id


def _work(engine: Engine, run: Replay, act: Act) -> None:
    stored = run.pictures[act["picture"]].result()
    with writing(engine, "demo", at=moment(act["on"])) as book:
        work = works.add(
            book,
            works.WorkDraft(
                title=act["title"], artist=ARTIST, year_made=act["year"], medium="Photograph", artist_born=1979
            ),
        )
        works.keep_picture(book, work.id or 0, stored)
    run.ids[act["key"]] = work.id or 0


def _declare(book: Book, run: Replay, act: Act) -> None:
    work = works.get(book.session, run.ids[act["work"]])
    proposed = answers.proposals(KnownFacts(None, work.year_made, book.today.year))
    given = {item: AnswerDraft(answer=said.answer, text=said.text) for item, said in proposed.items()}
    given["marks"] = AnswerDraft(answer="value", text=act["marks"])
    width, height = act["image_mm"]
    sheet = act.get("sheet_mm")
    begun = act.get("begun")
    draft = EditionDraft(
        work_id=work.id or 0,
        kind=act["kind"],
        count=act.get("count"),
        outside=tuple(ClassDraft(kind=kind, count=count) for kind, count in act.get("outside", [])),
        sizes=(
            SizeDraft(
                image_w_um=int(width) * 1000,
                image_h_um=int(height) * 1000,
                sheet_w_um=int(sheet[0]) * 1000 if sheet else None,
                sheet_h_um=int(sheet[1]) * 1000 if sheet else None,
                offer=OfferDraft(
                    process=act["process"],
                    paper=act["paper"],
                    mounting=act["mounting"],
                    prices=tuple(
                        StepDraft(from_sold=start, price_minor=run.minor(price)) for start, price in act["prices"]
                    ),
                ),
            ),
        ),
        statement=act["statement"],
        later_editions=act["later"],
        answers=given,
        begun=BegunDraft(words=begun["words"], ranges=tuple(RangeDraft(**each) for each in begun["ranges"]))
        if begun
        else None,
    )
    edition_id = declarations.declare(book, draft).id or 0
    run.ids[f"edition {act['key']}"] = edition_id
    run.ids[f"size {act['key']}"] = editions.only_size(book.session, edition_id) or 0


def _certify(engine: Engine, run: Replay, act: Act) -> None:
    with writing(engine, "demo", at=moment(act["on"])) as book:
        issued = [certificates.issue(book, piece.id or 0).id or 0 for piece in run.chosen(book, act)]
    with reading(engine) as session:
        said = [certificates.as_view(certificates.get(session, each)).snapshot for each in issued]
        proved = [evidence.of(session, each) for each in issued]
    kept = {
        each: papers.keep_certificate(run.data_dir, snapshot, proof)
        for each, snapshot, proof in zip(issued, said, proved, strict=True)
    }
    with writing(engine, "demo", at=moment(act["on"])) as book:
        for certificate_id, sha256 in kept.items():
            certificates.keep_paper(book, certificate_id, sha256)


def _buyer(act: Act) -> sale_drafts.BuyerDraft:
    said = act["buyer"]
    if said in ("private", "unknown", "not_asked"):
        return sale_drafts.BuyerDraft(shown=said)
    return sale_drafts.BuyerDraft(shown="named", name=said)


def _sell(book: Book, run: Replay, act: Act) -> int | None:
    lines = tuple(
        sale_drafts.LineDraft(
            piece_id=piece.id or 0,
            price_minor=run.minor(act["price"]) if "price" in act else None,
            discount_by=act.get("discount_by"),
        )
        for piece in run.chosen(book, act)
    )
    draft = sale_drafts.SaleDraft(
        sold_on=book.today,
        channel_id=run.ids[act["through"]],
        buyer=_buyer(act),
        lines=lines,
        occasion_id=run.ids[act["at"]] if "at" in act else None,
        consignment_id=run.ids[act["lent"]] if "lent" in act else None,
    )
    if "lent" not in act:
        paid = run.minor(act["deposit"]) if "deposit" in act else pricing.reckon(book.session, draft).due
        draft = draft.model_copy(
            update={"receipts": (sale_drafts.ReceiptDraft(received_on=book.today, amount_minor=paid, how=act["by"]),)}
        )
    return sales.record(book, draft).id


def _order(book: Book, run: Replay, act: Act) -> int | None:
    numbers.allocate(book, run.edition(act["edition"]), numbers=[act["number"]], reason="ordered")
    return _sell(book, run, act)


def _lend(book: Book, run: Replay, act: Act) -> int | None:
    return consignments.lend(
        book,
        consignments.ConsignmentDraft(
            person_id=run.ids[act["to"]],
            lent_on=book.today,
            occasion_id=run.ids[act["on_round"]] if "on_round" in act else None,
            commission_bp=act["commission_bp"],
            commission_tax_bp=act.get("commission_tax_bp", 0),
            pieces=tuple(
                consignments.LentDraft(piece_id=piece.id or 0, told_price_minor=run.minor(act["told"]))
                for piece in run.chosen(book, act)
            ),
        ),
    ).id


def _occasion(book: Book, run: Replay, act: Act) -> int | None:
    return occasions.add(
        book,
        occasions.OccasionDraft(
            name=act["name"],
            kind=act["kind"],
            from_on=book.today,
            to_on=date.fromisoformat(act["to"]),
            channel_id=run.ids[act["channel"]] if "channel" in act else None,
        ),
    ).id


def _give(book: Book, run: Replay, act: Act) -> None:
    conditions.give(
        book, run.chosen(book, act)[0].id or 0, conditions.GiveDraft(how=act["how"], name=act["to"], note=act["note"])
    )


def _loan(book: Book, run: Replay, act: Act) -> None:
    conditions.move(book, run.chosen(book, act)[0].id or 0, "loan", person_id=run.ids[act["to"]], note=act["note"])


def _damage(book: Book, run: Replay, act: Act) -> None:
    conditions.damage(book, run.chosen(book, act)[0].id or 0, act["said"])


def _destroy(book: Book, run: Replay, act: Act) -> None:
    conditions.destroy(book, run.chosen(book, act)[0].id or 0, act["said"])


def _replace(book: Book, run: Replay, act: Act) -> None:
    second = conditions.replace(book, run.chosen(book, act)[0].id or 0, conditions.ReplaceDraft())
    certificates.issue(book, second.id or 0)


def _close(book: Book, run: Replay, act: Act) -> None:
    numbers.close(book, run.edition(act["edition"]), act["numbers"], act["why"], act.get("spares"))


TRADE: dict[str, Told] = {
    "work": _work,
    "certify": _certify,
    **each_in_one_act(
        {
            "channel": _channel,
            "person": _person,
            "declare": _declare,
            "sell": _sell,
            "order": _order,
            "lend": _lend,
            "occasion": _occasion,
            "give": _give,
            "loan": _loan,
            "damage": _damage,
            "destroy": _destroy,
            "replace": _replace,
            "close": _close,
        }
    ),
}

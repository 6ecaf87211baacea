"""The demonstration: an invented maker's book, replayed through the same acts a real one goes through."""

import json
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from sqlalchemy import Engine
from sqlmodel import col, select

from ledger import (
    certificates,
    clock,
    conditions,
    consignments,
    costs,
    declarations,
    editions,
    evidence,
    journal,
    keys,
    numbers,
    occasions,
    papers,
    people,
    pictures,
    pieces,
    pricing,
    reports,
    runs,
    sale_drafts,
    sales,
    studio,
    works,
)
from ledger.database import Book, reading, writing
from ledger.paths import folder
from ledger.pictures import StoredPicture
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
from ledger.reckoning import answers, money, numbering
from ledger.reckoning.answers import KnownFacts
from ledger.tables import Piece

Act = dict[str, Any]
ARTIST = "Ottoline Marrack-Voe"
PASSPHRASE = "this is a demonstration"
"""Of the demonstration's own keys, which sign nothing anybody relies on."""


@dataclass
class Replay:
    """What the scenario calls by name, and the book it is written into."""

    data_dir: Path
    currency: str
    pictures: dict[str, Future[StoredPicture]]
    ids: dict[str, int] = field(default_factory=dict)

    def minor(self, amount: str) -> int:
        return money.parse(amount, self.currency)


def scenario(today: date) -> dict[str, Any]:
    """The invented history. Its last fair is held today, so that there is a stall to try."""
    told = (folder("demo_data") / "book.json").read_text(encoding="utf-8")
    acts: dict[str, Any] = json.loads(told.replace('"today"', f'"{today.isoformat()}"'))
    return acts


def replay(engine: Engine, data_dir: Path, address: str, say: Callable[[str], None]) -> None:
    """Write the whole scenario into an empty ledger, act by act, with progress said.

    `address` is what the QR codes of this demonstration carry. Raises Refusal.
    """
    told = scenario(clock.today())
    acts = sorted(told["acts"], key=lambda act: act["on"])
    first = _moment(acts[0]["on"])
    with writing(engine, "demo", at=first) as book:
        studio.open_studio(book, studio.StudioDraft(**told["studio"]))
        studio.change_address(book, address, demo=True)
    keys.hold(engine, keys.make(engine, data_dir, PASSPHRASE, "demo", at=first))
    with ThreadPoolExecutor(1) as beside:  # pictures are made ready in another process while the acts are written
        ready = {
            act["picture"]: beside.submit(pictures.store, data_dir, folder("demo_data") / "pictures" / act["picture"])
            for act in acts
            if "picture" in act
        }
        run = Replay(data_dir, told["studio"]["currency"], ready)
        for at, act in enumerate(acts, start=1):
            _ACTS[act["do"]](engine, run, act)
            if at % 20 == 0 or at == len(acts):
                say(f"  {at} of {len(acts)} acts, to {act['on']}")


def _moment(on: str) -> datetime:
    return datetime.combine(date.fromisoformat(on), time(12), tzinfo=UTC)


def _in_one_act(write: Callable[[Book, Replay, Act], int | None]) -> Callable[[Engine, Replay, Act], None]:
    def act_on(engine: Engine, run: Replay, act: Act) -> None:
        with writing(engine, "demo", at=_moment(act["on"])) as book:
            made = write(book, run, act)
        if "key" in act and made is not None:
            run.ids[act["key"]] = made

    return act_on


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
    with writing(engine, "demo", at=_moment(act["on"])) as book:
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
    run.ids[f"edition {act['key']}"] = declarations.declare(book, draft).id or 0


def _edition(run: Replay, act: Act) -> int:
    return run.ids[f"edition {act['edition']}"]


def _chosen(book: Book, run: Replay, act: Act) -> list[Piece]:
    main = pieces.find_class(book.session, _edition(run, act), act.get("class", "numbered"))
    wanted = [act["number"]] if "number" in act else numbering.ranges(act["numbers"], main.count or 9999)
    rows = select(Piece).where(Piece.class_id == main.id, col(Piece.latest), col(Piece.number).in_(wanted))
    return list(book.session.exec(rows.order_by(col(Piece.number))))


def _run(book: Book, run: Replay, act: Act) -> int | None:
    return runs.record(
        book,
        runs.RunDraft(
            edition_id=_edition(run, act),
            made_on=book.today,
            sheets=act["sheets"],
            good=act["good"],
            spoilt=act["spoilt"],
            note=act["note"],
        ),
    ).id


def _cost(book: Book, run: Replay, act: Act) -> int | None:
    basis = next(name for name in ("run", "edition", "occasion") if name in act)
    target = run.ids[f"edition {act[basis]}" if basis == "edition" else act[basis]]
    return costs.add(
        book,
        costs.CostDraft(
            basis=basis,
            target_id=target,
            own_labour=act.get("own_labour", False),
            amount_minor=run.minor(act["amount"]),
            spent_on=book.today,
            note=act["note"],
        ),
    ).id


def _number(book: Book, run: Replay, act: Act) -> None:
    given = numbers.allocate(
        book,
        _edition(run, act),
        kind=act.get("class", "numbered"),
        how_many=act.get("how_many", 1),
        numbers=act.get("numbers"),
        reason=act.get("reason", ""),
    )
    for piece in given:
        numbers.inscribe(
            book,
            piece.id or 0,
            numbers.InscribeDraft(
                run_id=run.ids[act["run"]], printed_by="Longshore Print Room", pencil="pencil", where="below the image"
            ),
        )


def _certify(engine: Engine, run: Replay, act: Act) -> None:
    with writing(engine, "demo", at=_moment(act["on"])) as book:
        issued = [certificates.issue(book, piece.id or 0).id or 0 for piece in _chosen(book, run, act)]
    with reading(engine) as session:
        said = [certificates.as_view(certificates.get(session, each)).snapshot for each in issued]
        proved = [evidence.of(session, each) for each in issued]
    kept = {
        each: papers.keep_certificate(run.data_dir, snapshot, proof)
        for each, snapshot, proof in zip(issued, said, proved, strict=True)
    }
    with writing(engine, "demo", at=_moment(act["on"])) as book:
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
        for piece in _chosen(book, run, act)
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
        paid = run.minor(act["deposit"]) if "deposit" in act else pricing.work_out(book.session, draft).due
        draft = draft.model_copy(
            update={"receipts": (sale_drafts.ReceiptDraft(received_on=book.today, amount_minor=paid, how=act["by"]),)}
        )
    return sales.record(book, draft).id


def _order(book: Book, run: Replay, act: Act) -> int | None:
    numbers.allocate(book, _edition(run, act), numbers=[act["number"]], reason="ordered")
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
                for piece in _chosen(book, run, act)
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
        book, _chosen(book, run, act)[0].id or 0, conditions.GiveDraft(how=act["how"], name=act["to"], note=act["note"])
    )


def _loan(book: Book, run: Replay, act: Act) -> None:
    conditions.move(book, _chosen(book, run, act)[0].id or 0, "loan", person_id=run.ids[act["to"]], note=act["note"])


def _damage(book: Book, run: Replay, act: Act) -> None:
    conditions.damage(book, _chosen(book, run, act)[0].id or 0, act["said"])


def _destroy(book: Book, run: Replay, act: Act) -> None:
    conditions.destroy(book, _chosen(book, run, act)[0].id or 0, act["said"])


def _replace(book: Book, run: Replay, act: Act) -> None:
    second = conditions.replace(book, _chosen(book, run, act)[0].id or 0, conditions.ReplaceDraft())
    certificates.issue(book, second.id or 0)


def _close(book: Book, run: Replay, act: Act) -> None:
    numbers.close(book, _edition(run, act), act["numbers"], act["why"], act.get("spares"))


_ACTS: dict[str, Callable[[Engine, Replay, Act], None]] = {
    "work": _work,
    "certify": _certify,
    **{
        name: _in_one_act(write)
        for name, write in {
            "channel": _channel,
            "person": _person,
            "declare": _declare,
            "run": _run,
            "cost": _cost,
            "number": _number,
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
        }.items()
    },
}


def summary(engine: Engine, data_dir: Path) -> list[str]:
    """What the book holds, what each edition has left, and where one certificate lies: lines for a terminal."""
    said = []
    with reading(engine) as session:
        currency = studio.currency(session)
        declared = list(reversed(editions.listing(session)))
        issued = certificates.printed(session)
        for edition in declared:
            left = reports.margin(session, edition.id or 0).with_labour.left
            title = works.get(session, edition.work_id).title
            said.append(f"  {title}: {money.shown(left, currency)} left")
        entries = journal.length(session)
    count = f"{len(declared)} editions, {len(issued)} certificates printed, {entries} entries in the record"
    return [count, *said, *(f"One certificate: {papers.place_of(data_dir, sha256)}" for sha256 in issued[:1])]

"""The demonstration at the bench: sheets planned and printed, mounts, what finishing costs, numbers signed."""

from ledger import costs, editions, mount_stock, mounts, numbers, offers, recipes, runs, sheets, sheets_bought
from ledger.database import Book
from ledger.demo_story import Act, Replay, each_in_one_act
from ledger.mount_drafts import MountDraft
from ledger.promises import OfferDraft, StepDraft
from ledger.reckoning import sheet_plan
from ledger.reckoning.sheet_layout import Job, Sheet, Wanted
from ledger.reckoning.sheet_sizes import SHEETS


def _run(book: Book, run: Replay, act: Act) -> int | None:
    return runs.record(
        book,
        runs.RunDraft(
            edition_id=run.edition(act["edition"]),
            made_on=book.today,
            sheets=act["sheets"],
            good=act["good"],
            spoilt=act["spoilt"],
            note=act["note"],
        ),
    ).id


def _cost(book: Book, run: Replay, act: Act) -> int | None:
    basis = next(name for name in ("run", "edition", "occasion") if name in act)
    target = run.edition(act[basis]) if basis == "edition" else run.ids[act[basis]]
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
        run.edition(act["edition"]),
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


def _plan_sheet(book: Book, run: Replay, act: Act) -> int | None:
    sheet = next(each for each in SHEETS if each.name == act["sheet"])
    size_ids = tuple(run.size(key) for key in act["prints"])
    paper_of = {each.size_id: each.paper_um for each in sheets.for_sizes(book.session, list(size_ids))}
    margin = act["margin_mm"] * 1000
    job = Job(
        sheet=Sheet(sheet.width_um, sheet.height_um, margin, margin, margin, margin),
        wanted=tuple(Wanted(*paper_of[size_id]) for size_id in size_ids),
        gutter_um=act["gutter_mm"] * 1000,
    )
    choices = sheet_plan.work_out(job, "guillotine").choices
    planned = next(each for each in choices if list(each.counts) == act["mix"])
    return sheets.keep(book, sheets.PlanDraft(name=act["name"], planned=planned, size_ids=size_ids)).id


def _accept_sheets(book: Book, run: Replay, act: Act) -> None:
    bought = sheets_bought.AcceptDraft(
        sheets=act["sheets"],
        sheet_minor=run.minor(act["sheet_price"]),
        delivery_minor=run.minor(act["delivery"]),
        made_on=book.today,
    )
    printed = sheets_bought.accept(book, run.ids[act["plan"]], bought)
    run.ids |= {key: row.id or 0 for key, row in zip(act["runs"], printed, strict=True)}


def _count(book: Book, run: Replay, act: Act) -> None:
    runs.count(book, run.ids[act["run"]], runs.CountDraft(spoilt=act["spoilt"]))


def _measure_frame(book: Book, run: Replay, act: Act) -> int | None:
    return mount_stock.add_frame(book, mount_stock.FrameDraft(**act["measured"])).id


def _calibrate(book: Book, run: Replay, act: Act) -> int | None:
    return mount_stock.add_cutter(book, mount_stock.CutterDraft(**act["test_cut"])).id


def _keep_offcut(book: Book, run: Replay, act: Act) -> int | None:
    return mount_stock.keep_offcut(book, mount_stock.OffcutDraft(size=act["size"], board=act["board"])).id


def _plan_mount(book: Book, run: Replay, act: Act) -> int | None:
    asked = MountDraft(
        size_id=run.size(act["edition"]),
        frame_id=run.ids[act["frame"]],
        cutter_id=run.ids[act["cutter"]],
        **act["asked"],
    )
    return mounts.keep(book, asked).id


def _offer_mounted(book: Book, run: Replay, act: Act) -> None:
    """From today a size is sold in a planned mount, all else as before."""
    size_id = run.size(act["edition"])
    before = offers.in_force(book.session, size_id, book.today)
    steps = tuple(StepDraft(from_sold=start, price_minor=price) for start, price in before.steps)
    offer = OfferDraft(
        process=before.process, paper=before.paper, mount_plan_id=run.ids[act["mount"]], prices=steps
    )  # fmt: skip
    editions.new_offer(book, size_id, offer)


def _write_recipe(book: Book, run: Replay, act: Act) -> int | None:
    lines = [
        recipes.LineDraft(amount_minor=run.minor(line.pop("amount")), **line)
        for line in (dict(each) for each in act["lines"])
    ]
    return recipes.write(book, act["name"], lines).id


def _finish(book: Book, run: Replay, act: Act) -> None:
    prints = [piece.id or 0 for piece in run.chosen(book, act)]
    recipes.finish(book, run.ids[act["recipe"]], prints, book.today)


BENCH = each_in_one_act(
    {
        "run": _run,
        "cost": _cost,
        "plan_sheet": _plan_sheet,
        "accept_sheets": _accept_sheets,
        "count": _count,
        "number": _number,
        "measure_frame": _measure_frame,
        "calibrate": _calibrate,
        "keep_offcut": _keep_offcut,
        "plan_mount": _plan_mount,
        "offer_mounted": _offer_mounted,
        "write_recipe": _write_recipe,
        "finish": _finish,
    }
)

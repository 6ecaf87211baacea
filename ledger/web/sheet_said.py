"""What a sheet plan comes to, as pages say it, and a plan as its form holds it."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from ledger import costs, sheets, studio, works
from ledger.database import Session
from ledger.errors import Refusal
from ledger.reckoning import dates, lengths, sheet_plan
from ledger.reckoning.lengths import Unit
from ledger.reckoning.measures import millimetres
from ledger.reckoning.money import bare, half_up, plain, shares, shown
from ledger.reckoning.pixels import print_quality
from ledger.reckoning.sheet_drawing import view_of
from ledger.reckoning.sheet_hints import hints
from ledger.reckoning.sheet_layout import MOST_SIZES
from ledger.reckoning.sheet_plan import Answer, Planned
from ledger.reckoning.sheet_shares import cost_shares
from ledger.reckoning.sheet_steps import CAUTION, Bench, how, repeated, steps
from ledger.reckoning.sheet_words import answer_said, beside_said, hint_said, sizes_said
from ledger.sheets import For, PlanView
from ledger.web import as_shown
from ledger.web.sheet_form import EDGES, NAMED, OWN, Asked


def result_of(session: Session, asked: Asked, found: Answer, chosen: Planned) -> dict[str, Any]:
    """What the page says of a job that was worked out, and of the plan chosen."""
    known = {each.size_id: each for each in sheets.for_sizes(session, [each for each in asked.size_ids if each])}
    drawn = layouts(chosen, [known.get(each or 0) for each in asked.size_ids])
    return {
        "said": answer_said(found, chosen, asked.sheet_name),
        "beside": beside_said(found, chosen),
        "facts": facts(chosen),
        "unlocks": [hint_said(each, asked.unit) for each in hints(chosen)] if asked.cutting == "guillotine" else [],
        "choices": [
            {"value": _mix(each), "words": sizes_said(each.job, each.counts, each.unit)} for each in found.choices
        ],
        "mix": _mix(chosen),
        "digest": as_shown.digest(sheet_plan.written(chosen).hex(), str(asked.size_ids), str(asked.price_minor)),
        "layouts": drawn,
        "how": drawn[0]["how"],
        "caution": CAUTION,
        "pixels": _pixels(session, asked),
        "costs": _costs(chosen, asked.price_minor, studio.currency(session)) if asked.price_minor else [],
    }


def _mix(planned: Planned) -> str:
    return "-".join(map(str, planned.counts))


def bench_of(planned: Planned, for_what: Sequence[object | None]) -> Bench:
    """How a plan is cut. Where a size is for an edition, a file goes to the lab, and its sheets have printed marks."""
    marks = any(each is not None for each in for_what)
    return Bench(planned.unit, knife=planned.cutting == "knife", marks=marks)


def on_their_side(planned: Planned, place: int, made_for: Sequence[For | None]) -> frozenset[str]:
    """The figures of the prints of a layout whose picture lies turned."""
    return frozenset(
        str(figure)
        for figure, placed in enumerate(planned.sheets[place][0].placed, 1)
        if (
            sheets.is_turned(of, placed.width_um, placed.height_um)
            if (of := made_for[placed.wanted])
            else placed.turned
        )
    )


def layouts(planned: Planned, made_for: Sequence[For | None]) -> list[dict[str, Any]]:
    """Each layout of a plan as its template takes it: its drawing and its cut list."""
    told = []
    bench = bench_of(planned, made_for)
    for place, (layout, times) in enumerate(planned.sheets):
        cuts = planned.cuts(place)
        words = sizes_said(planned.job, layout.counts, planned.unit)
        told.append({
            "head": f"{times:,} × {words}" if len(planned.sheets) > 1 else words, "id": f"layout-{place + 1}",
            "view": view_of(planned.job, cuts, planned.unit, on_their_side(planned, place, made_for)),
            "repeated": repeated(times), "steps": steps(cuts, bench), "how": how(bench), "pdf": "",
        })  # fmt: skip
    return told


def _pixels(session: Session, asked: Asked) -> list[dict[str, Any]]:
    """Whether the picture of each edition has pixels enough at its size."""
    told: list[dict[str, Any]] = []
    for each in sheets.for_sizes(session, [size_id for size_id in asked.size_ids if size_id]):
        picture = works.picture_of(session, each.work_id)
        if picture is None:
            told.append({"words": f"{each.title}: no picture is kept of it.", "low": False})
        else:
            quality = print_quality(picture.width_px, picture.height_px, *each.image_um)
            low = quality.word != "good"
            told.append({"words": f"{each.title}, {each.label}: {quality.sentence}", "low": low})
    return told


def _costs(planned: Planned, price: int, currency: str) -> list[str]:
    """What a print of each size bears of the sheets, by its area with the gutter: of one sheet to the penny."""
    if planned.count > 1:
        parts = shares(price * planned.count, planned.areas(planned.count))
        return [
            f"{_size(planned, place)}: {shown(half_up(Fraction(part, count)), currency)} each."
            for place, (part, count) in enumerate(zip(parts, planned.counts, strict=True))
            if count
        ]
    told = []
    for share in cost_shares(planned.job, planned.sheets[0][0].placed, price):
        borne = sorted(set(share.pieces), reverse=True)
        amounts = ", ".join(f"{share.pieces.count(each):,} at {shown(each, currency)}" for each in borne)
        alone = ""
        if share.above_alone and share.alone is not None and len(planned.job.wanted) > 1:
            alone = f" On a sheet of its own kind it would be {shown(half_up(share.alone), currency)}."
        told.append(f"{_size(planned, share.wanted)}: {amounts}.{alone}")
    return told


def _size(planned: Planned, place: int) -> str:
    wanted = planned.job.wanted[place]
    return lengths.size_said(wanted.width_um, wanted.height_um, planned.unit)


def for_words(each: For) -> str:
    """'Forty Minutes of Road, edition 2: 127 × 127 mm'."""
    ordinal = "" if each.ordinal == 1 else f", edition {each.ordinal}"
    return f"{each.title}{ordinal}: {each.label}"


def bought_said(session: Session, seen: PlanView) -> dict[str, Any]:
    """What an accepted plan led to: its sheets in a sentence, each printing with its part, the prints of no edition."""
    currency = studio.currency(session)
    parts = {cost.run_id: cost.amount_minor for cost in costs.of_sheet_plan(session, seen.id)}
    made_for = {each.size_id: for_words(each) for each in seen.sizes if each}
    rows = [
        {
            "words": made_for[run.size_id or 0], "href": f"/editions/{run.edition_id}/runs", "good": f"{run.good:,}",
            "spoilt": f"{run.spoilt:,}", "amount": bare(parts.get(run.id, 0), currency),
            "count_href": f"/runs/{run.id}", "counted": run.counted_on is not None,
        }
        for run in seen.runs
    ]  # fmt: skip
    if seen.bought is None or seen.sheet_minor is None:
        return {"said": "", "rows": rows, "of_no_edition": None, "total": ""}
    sheets_of = f"{seen.bought.sheets:,} {'sheet' if seen.bought.sheets == 1 else 'sheets'}"
    delivery = f" and {shown(seen.bought.delivery_minor, currency)} for delivery" if seen.bought.delivery_minor else ""
    printed = dates.said(seen.bought.printed_on)
    return {
        "said": f"{sheets_of} at {shown(seen.sheet_minor, currency)}{delivery}, printed on {printed}.",
        "rows": rows,
        "of_no_edition": _of_no_edition(seen, seen.bought.sheets, bare(parts.get(None, 0), currency)),
        "total": bare(sum(parts.values()), currency),
    }


def _of_no_edition(seen: PlanView, bought: int, amount: str) -> dict[str, str] | None:
    """The prints that are of no edition, or of one that had ended when the plan was accepted."""
    printed = {run.size_id for run in seen.runs}
    counts = [
        0 if made_for and made_for.size_id in printed else count
        for made_for, count in zip(seen.sizes, seen.planned.prints(bought), strict=True)
    ]
    if not any(counts):
        return None
    words = sizes_said(seen.planned.job, counts, seen.planned.unit)
    return {"words": words, "good": f"{sum(counts):,}", "amount": amount}


def sheets_said(planned: Planned) -> str:
    """'A3', '3 sheets of A3'."""
    sheet = planned.job.sheet
    size = lengths.size_said(sheet.width_um, sheet.height_um, planned.unit)
    called = next((name for name, sides in NAMED.items() if sides == (sheet.width_um, sheet.height_um)), size)
    return called if planned.count == 1 else f"{planned.count:,} sheets of {called}"


def facts(planned: Planned) -> str:
    """The sheet, its margins, gutter and bleed, and how it is cut, in a line."""
    job, unit = planned.job, planned.unit
    margins = ", ".join(f"{edge} {lengths.shown(getattr(job.sheet, f'{edge}_um'), unit)}" for edge in EDGES)
    bleed = f", bleed {lengths.said(job.bleed_um, unit)}" if job.bleed_um else ""
    cut = "every cut right across"
    if planned.cutting == "knife":
        stopping = any(each.runs_um for place in range(len(planned.sheets)) for each in planned.cuts(place))
        cut = "cut with a knife" if stopping else f"cut with a knife, {cut}"
    sheet = lengths.size_said(job.sheet.width_um, job.sheet.height_um, unit)
    return f"Sheet {sheet}, margins {margins}; gutter {lengths.said(job.gutter_um, unit)}{bleed}; {cut}."


def values_of_sizes(sizes: Sequence[For]) -> dict[str, str]:
    """A form with these sizes of an edition."""
    values = {}
    for place, each in enumerate(sizes[:MOST_SIZES]):
        values[f"wanted.{place}.size_id"] = str(each.size_id)
        for side, um in zip(("width", "height"), each.paper_um, strict=True):
            values[f"wanted.{place}.{side}"] = _typed(um, "mm", side=True)
    return values


def _typed(um: int, unit: Unit, *, side: bool = False) -> str:
    """A length as a form holds it, exactly; that of a side with its unit where it could be read in either without."""
    figure = millimetres(um) if unit == "mm" else f"{um / lengths.INCH_UM:.5f}".rstrip("0").rstrip(".")
    if unit == "in" and lengths.on_the_rule(um, unit):
        figure = lengths.shown(um, unit)
    if not side:
        return figure
    try:
        lengths.parse(figure, unit, side=True)
    except Refusal:
        return f"{figure} {unit}"
    return figure


def values_of(seen: PlanView, currency: str) -> dict[str, str]:
    """The form a kept plan came from."""
    planned, job = seen.planned, seen.planned.job

    def typed(um: int, side: bool = False) -> str:
        return _typed(um, planned.unit, side=side)

    values = {edge: typed(getattr(job.sheet, f"{edge}_um")) for edge in EDGES} | {
        "unit": planned.unit,
        "sheet": OWN,
        "sheet_price": plain(seen.sheet_minor, currency) if seen.sheet_minor is not None else "",
        "width": typed(job.sheet.width_um, True), "height": typed(job.sheet.height_um, True),
        "gutter": typed(job.gutter_um), "bleed": typed(job.bleed_um), "least_strip": typed(job.least_strip_um),
        "widest_cut": typed(job.widest_cut_um) if job.widest_cut_um else "", "cutting": planned.cutting,
    }  # fmt: skip
    for place, (wanted, made_for) in enumerate(zip(job.wanted, seen.sizes, strict=True)):
        values |= {
            f"wanted.{place}.size_id": str(made_for.size_id) if made_for else "",
            f"wanted.{place}.width": typed(wanted.width_um, True),
            f"wanted.{place}.height": typed(wanted.height_um, True),
            f"wanted.{place}.quantity": str(wanted.quantity or ""),
            f"wanted.{place}.straight": "" if wanted.may_turn else "yes",
        }  # fmt: skip
    return values

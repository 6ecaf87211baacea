"""A sheet plan as both doors take it, read into the job that is worked out."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated

from pydantic import Field

from ledger import sheets, studio
from ledger.database import Session
from ledger.errors import Refusal
from ledger.reckoning import lengths
from ledger.reckoning.lengths import Unit
from ledger.reckoning.sheet_layout import MOST_SIZES, Job, Sheet, Wanted
from ledger.reckoning.sheet_plan import Answer, Cutting, Planned, work_out
from ledger.reckoning.sheet_sizes import ROLLS_UM, SHEETS, roll_cut
from ledger.sheets import For
from ledger.sheets_bought import AcceptDraft
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Amount, Id, Mm, Shape

OWN = "own"
NAMED = {sheet.name: (sheet.width_um, sheet.height_um) for sheet in SHEETS}
EDGES = ("left", "top", "right", "bottom")
Quantity = Annotated[int, Field(ge=1)]


@dataclass(frozen=True)
class Asked:
    """A job as it was asked for, what its sizes are for, what a sheet costs, and the mix chosen, by its counts."""

    job: Job
    cutting: Cutting
    unit: Unit
    sheet_name: str
    size_ids: tuple[int | None, ...]
    price_minor: int | None
    mix: tuple[int, ...]

    def answer(self) -> tuple[Answer, Planned]:
        """What the job comes to, and the plan chosen of it: the one proposed where the mix is none of them.

        Raises Refusal.
        """
        found = work_out(self.job, self.cutting, self.unit)
        return found, next((each for each in found.choices if each.counts == self.mix), found.choices[0])

    def has_mix(self, chosen: Planned) -> bool:
        """Whether the plan is of the mix that was chosen, if one was."""
        return self.mix in ((), chosen.counts)


class WantedForm(Shape):
    """One size on the form; what it is for gives its width and height where none is typed."""

    size_id: Id | None = None
    width: str = ""
    height: str = ""
    quantity: Quantity | None = None
    straight: str = ""


class PlanForm(Shape):
    """The form: lengths as they are typed, in one unit."""

    name: str = ""
    proposed: str = ""
    unit: Unit = "mm"
    sheet: str
    width: str = ""
    height: str = ""
    length: str = ""
    left: str = "0"
    top: str = "0"
    right: str = "0"
    bottom: str = "0"
    gutter: str = "0"
    bleed: str = "0"
    cutting: Cutting = "guillotine"
    widest_cut: str = ""
    least_strip: str = "0"
    wanted: Annotated[tuple[WantedForm, ...], Field(max_length=MOST_SIZES)] = ()
    sheet_price: Amount | None = None
    mix: Annotated[str, Field(pattern=r"^([0-9]{1,6}(-[0-9]{1,6})*)?$")] = ""

    def asked(self, session: Session) -> Asked:
        """Raises Slips, one for every length that cannot be read."""
        read = _Lengths(self.unit)
        width, height = self._sheet(read)
        margins = [read.one(getattr(self, edge), edge) for edge in EDGES]
        for_what = sheets.for_sizes(session, [each.size_id for each in self.wanted if each.size_id])
        known = {each.size_id: each for each in for_what}
        wanted = tuple(_wanted(each, place, known, read) for place, each in enumerate(self.wanted))
        job = Job(
            sheet=Sheet(width, height, *margins),
            wanted=wanted,
            gutter_um=read.one(self.gutter, "gutter"),
            bleed_um=read.one(self.bleed, "bleed"),
            widest_cut_um=read.one(self.widest_cut, "widest_cut") if self.widest_cut else None,
            least_strip_um=read.one(self.least_strip, "least_strip"),
        )
        if not wanted:
            read.slips.append(Slip("wanted.0.width", "Write what is to be printed: a width and a height."))
        if read.slips:
            raise Slips(read.slips)
        price = self.sheet_price.minor(studio.currency(session), "sheet_price") if self.sheet_price else None
        size_ids = tuple(each.size_id for each in self.wanted)
        mix = tuple(int(each) for each in self.mix.split("-") if each)
        return Asked(job, self.cutting, self.unit, self._name(width, height), size_ids, price, mix)

    def _sheet(self, read: "_Lengths") -> tuple[int, int]:
        if self.sheet in NAMED:
            return NAMED[self.sheet]
        if self.sheet in ROLLS_UM:
            length = read.one(self.length, "length", side=True)
            return ROLLS_UM[self.sheet], length or 1
        if self.sheet != OWN:
            read.slips.append(Slip("sheet", "Choose a sheet from the list, or your own size."))
            return 1, 1
        return read.one(self.width, "width", side=True), read.one(self.height, "height", side=True)

    def _name(self, width: int, height: int) -> str:
        if self.sheet in NAMED:
            return self.sheet
        if self.sheet in ROLLS_UM:
            return roll_cut(self.sheet, height).name
        return f"a sheet of {lengths.size_said(width, height, self.unit)}"


def _wanted(each: WantedForm, place: int, known: Mapping[int, For], read: "_Lengths") -> Wanted:
    made_for = known.get(each.size_id or 0)
    if made_for is not None and not each.width and not each.height:
        width, height = made_for.paper_um
    else:
        width, height = (
            read.one(getattr(each, side), f"wanted.{place}.{side}", side=True) for side in ("width", "height")
        )
    return Wanted(width, height, not each.straight, each.quantity)


class _Lengths:
    """Reads lengths, and keeps what is to be said of those it cannot."""

    def __init__(self, unit: Unit) -> None:
        self.unit, self.slips = unit, list[Slip]()

    def one(self, typed: str, field: str, *, side: bool = False) -> int:
        try:
            if not typed:
                raise Refusal("Write this length.")
            return lengths.parse(typed, self.unit, side=side)
        except Refusal as no:
            self.slips.append(Slip(field, no.message))
            return 0


def as_typed(fault: Refusal | Slips, rename: Callable[[str], str]) -> Refusal | Slips:
    """The same fault, its fields named as the door names them."""
    if isinstance(fault, Slips):
        return Slips(replace(slip, field=rename(slip.field)) for slip in fault.slips)
    return Refusal(fault.message, field=rename(fault.field) if fault.field else None, missing=fault.missing)


def on_the_form(field: str) -> str:
    """A field of a plan as the form names it: 'sheet.left_um' is 'left'."""
    return bought_field(field).removesuffix("_um").removeprefix("sheet.")


def bought_field(field: str) -> str:
    """A field of what sheets cost as both doors name it."""
    return {"sheet_minor": "sheet_price", "delivery_minor": "delivery", "spent_on": "made_on"}.get(field, field)


class SizeShape(Shape):
    """A width and a height."""

    width_mm: Mm
    height_mm: Mm


class MarginsShape(Shape):
    """The four margins, where nothing is placed."""

    left_mm: Mm
    top_mm: Mm
    right_mm: Mm
    bottom_mm: Mm


class PieceShape(SizeShape):
    """A finished size to cut, how many are wanted, and the size of an edition it is for."""

    may_turn: bool = True
    quantity: Quantity | None = None
    size_id: Id | None = None


class LayoutShape(Shape):
    """A job as a program asks for it: the sheet by its name or its size; of several mixes, that with these counts."""

    sheet: str | SizeShape
    margins: MarginsShape
    gutter_mm: Mm
    bleed_mm: Mm = 0
    cutting: Cutting = "guillotine"
    widest_cut_mm: Mm | None = None
    least_strip_mm: Mm = 0
    pieces: Annotated[tuple[PieceShape, ...], Field(max_length=MOST_SIZES)]
    mix: tuple[int, ...] = ()
    sheet_price: Amount | None = None

    def asked(self, currency: str) -> Asked:
        """Raises Slips for a sheet with an unknown name, or a price that cannot be read."""
        if isinstance(self.sheet, SizeShape):
            width, height = self.sheet.width_mm, self.sheet.height_mm
        elif self.sheet in NAMED:
            width, height = NAMED[self.sheet]
        else:
            raise Slips([Slip("sheet", f"Write one of: {', '.join(NAMED)}; or a width_mm and a height_mm.")])
        margins = self.margins
        job = Job(
            sheet=Sheet(width, height, margins.left_mm, margins.top_mm, margins.right_mm, margins.bottom_mm),
            wanted=tuple(Wanted(p.width_mm, p.height_mm, p.may_turn, p.quantity) for p in self.pieces),
            gutter_um=self.gutter_mm,
            bleed_um=self.bleed_mm,
            widest_cut_um=self.widest_cut_mm,
            least_strip_um=self.least_strip_mm,
        )
        name = self.sheet if isinstance(self.sheet, str) else ""
        price = self.sheet_price.minor(currency, "sheet_price") if self.sheet_price else None
        return Asked(job, self.cutting, "mm", name, tuple(p.size_id for p in self.pieces), price, self.mix)


class PlanShape(LayoutShape):
    """A plan as a program keeps it."""

    name: str


def for_a_program(field: str) -> str:
    """A field of a plan as the API names it: 'wanted.0.width_um' is 'pieces.0.width_mm'."""
    named = bought_field(field).replace("wanted", "pieces", 1).replace("_um", "_mm")
    return named.replace("sheet.", "margins.", 1) if named.partition(".")[2].removesuffix("_mm") in EDGES else named


class AcceptShape(Shape):
    """The sheets bought, what each cost, what delivery cost, and the day they were printed."""

    sheets: int
    sheet_price: Amount
    delivery: Amount | None = None
    made_on: date

    def draft(self, currency: str) -> AcceptDraft:
        """Raises Slips."""
        return AcceptDraft(
            sheets=self.sheets,
            sheet_minor=self.sheet_price.minor(currency, "sheet_price"),
            delivery_minor=self.delivery.minor(currency, "delivery") if self.delivery else 0,
            made_on=self.made_on,
        )

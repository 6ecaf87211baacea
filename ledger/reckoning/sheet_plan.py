"""A sheet plan: what to print on how many sheets, worked out for one size or several, and written down to be kept."""

import json
from dataclasses import dataclass
from itertools import islice
from operator import mul
from typing import Any, Literal

from ledger.reckoning.canonical import canonical
from ledger.reckoning.lengths import Unit
from ledger.reckoning.sheet_cuts import Cut, cut_list
from ledger.reckoning.sheet_knife import with_knife, without_cutter
from ledger.reckoning.sheet_knife_mixes import fewest_with_knife, mixes_with_knife
from ledger.reckoning.sheet_layout import (
    Job,
    Layout,
    Leaf,
    Node,
    Pinwheel,
    Sheet,
    Split,
    Wanted,
    area_with_gutter,
    layout_of,
)
from ledger.reckoning.sheet_mixes import Room, mixes
from ledger.reckoning.sheet_one import OneSize, bound_of, one_size
from ledger.reckoning.sheet_quantities import fewest_sheets

Cutting = Literal["guillotine", "knife"]


@dataclass(frozen=True)
class Planned:
    """Layouts, each with its number of sheets. `proved`: no better one is possible with this way of cutting.

    `unit` is what its lengths are read and written in.
    """

    job: Job
    cutting: Cutting
    sheets: tuple[tuple[Layout, int], ...]
    proved: bool
    unit: Unit = "mm"

    @property
    def count(self) -> int:
        """The number of sheets, each layout's together."""
        return sum(times for _, times in self.sheets)

    @property
    def counts(self) -> tuple[int, ...]:
        """How many of each size those sheets give."""
        return self.prints(self.count)

    @property
    def for_quantities(self) -> bool:
        """Whether it is for so many of each of several sizes, on as few sheets as can be."""
        return len(self.job.wanted) > 1 and all(each.quantity for each in self.job.wanted)

    def cuts(self, place: int) -> tuple[Cut, ...]:
        """The cut list of one of the layouts."""
        return cut_list(self.job, self.sheets[place][0].plan, knife=self.cutting == "knife")

    def prints(self, sheets: int) -> tuple[int, ...]:
        """How many of each size so many sheets give: the layouts in turn, each as often as the plan has it."""
        in_turn = [layout.counts for layout, times in self.sheets for _ in range(times)]
        whole, rest = divmod(sheets, len(in_turn))
        places = range(len(self.job.wanted))
        once = [sum(counts[place] for counts in in_turn) for place in places]
        more = [sum(counts[place] for counts in islice(in_turn, rest)) for place in places]
        return tuple(whole * every + some for every, some in zip(once, more, strict=True))

    def areas(self, sheets: int) -> tuple[int, ...]:
        """The area with gutter that the prints of each size take of so many sheets, in square micrometres."""
        each = [area_with_gutter(wanted, self.job.gutter_um) for wanted in self.job.wanted]
        return tuple(map(mul, self.prints(sheets), each))


@dataclass(frozen=True)
class Answer:
    """What a job comes to: the plans to choose from, the one proposed first, and what to hold them against.

    `one` is there for one size: all straight, all turned, and the best cuts right across. `bound` is the number of
    pieces no layout can pass, however it is cut, or of sheets no plan of quantities can go under.
    """

    choices: tuple[Planned, ...]
    one: OneSize | None = None
    bound: int | None = None


def work_out(job: Job, cutting: Cutting, unit: Unit = "mm") -> Answer:
    """The best plans for a job, found or proved. Raises Refusal.

    One size: the most on a sheet. Several: the fewest sheets where every quantity is written, else the mixes worth
    having.
    """
    if len(job.wanted) == 1:
        return _one(job, cutting, unit)
    if all(each.quantity for each in job.wanted):
        found = fewest_with_knife(job) if cutting == "knife" else fewest_sheets(job)
        return Answer((Planned(job, cutting, found.layouts, found.proved, unit),), bound=found.bound)
    several = mixes_with_knife(job) if cutting == "knife" else mixes(job)
    best_used = sorted(several.layouts, key=lambda layout: -_used(job, layout))
    room = Room(job)
    return Answer(
        tuple(
            Planned(job, cutting, ((layout, 1),), several.proved or not room.left(layout.counts), unit)
            for layout in best_used
        )
    )


def _one(job: Job, cutting: Cutting, unit: Unit) -> Answer:
    across = one_size(without_cutter(job) if cutting == "knife" else job)
    layout, proved, bound = across.layout, across.proved, None if across.proved else bound_of(job)
    if cutting == "knife":
        by_hand = with_knife(job)
        layout, proved, bound = by_hand.layout, by_hand.proved, by_hand.bound
    wanted = job.wanted[0].quantity or 1
    sheets = -(-wanted // len(layout.placed))
    return Answer((Planned(job, cutting, ((layout, sheets),), proved, unit),), across, bound)


def _used(job: Job, layout: Layout) -> int:
    """The area its pieces take, with gutter; a layout that leaves a size out counts for less than any that does not."""
    areas = [area_with_gutter(each, job.gutter_um) for each in job.wanted]
    used: int = sum(map(mul, layout.counts, areas))
    return used if all(layout.counts) else used - job.sheet.width_um * job.sheet.height_um


def written(planned: Planned) -> bytes:
    """A plan as canonical bytes, to be kept. 0 stands for a quantity or a longest cut that was not given."""
    job = planned.job
    sheet = job.sheet
    return canonical(
        {
            "sheet": [sheet.width_um, sheet.height_um, sheet.left_um, sheet.top_um, sheet.right_um, sheet.bottom_um],
            "wanted": [[w.width_um, w.height_um, int(w.may_turn), w.quantity or 0] for w in job.wanted],
            "gutter": job.gutter_um,
            "bleed": job.bleed_um,
            "widest_cut": job.widest_cut_um or 0,
            "least_strip": job.least_strip_um,
            "cutting": planned.cutting,
            "sheets": [{"times": times, "plan": _node_written(layout.plan)} for layout, times in planned.sheets],
            "proved": int(planned.proved),
            "unit": planned.unit,
        }
    )


def _node_written(node: Node | None) -> dict[str, object]:
    if node is None:
        return {}
    if isinstance(node, Leaf):
        return {"piece": [node.wanted, int(node.turned), node.width_um, node.height_um]}
    if isinstance(node, Split):
        return {
            "across": node.axis,
            "at": node.at_um,
            "first": _node_written(node.first),
            "second": _node_written(node.second),
        }
    lines = [node.x1_um, node.y1_um, node.x2_um, node.y2_um]
    return {"pinwheel": lines, "parts": [_node_written(part) for part in node.parts]}


def read(kept: bytes) -> Planned:
    """The plan behind its bytes."""
    told: dict[str, Any] = json.loads(kept)
    job = Job(
        sheet=Sheet(*told["sheet"]),
        wanted=tuple(Wanted(w, h, bool(turn), quantity or None) for w, h, turn, quantity in told["wanted"]),
        gutter_um=told["gutter"],
        bleed_um=told["bleed"],
        widest_cut_um=told["widest_cut"] or None,
        least_strip_um=told["least_strip"],
    )
    sheets = tuple((layout_of(job, _read(each["plan"])), each["times"]) for each in told["sheets"])
    return Planned(job, told["cutting"], sheets, bool(told["proved"]), told["unit"])


def _read(told: dict[str, Any]) -> Node:
    if "piece" in told:
        wanted, turned, width, height = told["piece"]
        return Leaf(wanted, bool(turned), width, height)
    if "across" in told:
        return Split(told["across"], told["at"], _read(told["first"]), _read(told["second"]))
    x1, y1, x2, y2 = told["pinwheel"]
    return Pinwheel(x1, y1, x2, y2, tuple(_read(part) if part else None for part in told["parts"]))

"""A layout as cuts, one after another, for a person at the stop.

The first cuts take the margins off, on marks, and make a left and a top edge to measure from. Every later one is
measured from the fresh left or top edge of the part in hand: what lies between stop and blade stays, the rest falls
off, and as it falls it has a fresh edge of its own. So a gutter goes in two cuts, the far side first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from ledger.reckoning.sheet_layout import Job, Leaf, Node, Pinwheel, Split, extent_um, pieces_of

WASTE = "waste"
WHOLE = "sheet"
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without I and O, which beside figures are taken for 1 and 0."""
ORDERS_KEPT = 20
"""So many beginnings are looked at beside one another for an order with few settings."""

Rect = tuple[int, int, int, int]
"""left, top, right and bottom edge on the sheet."""


@dataclass(frozen=True)
class Cut:
    """One cut of `part`, numbered from 1. Pieces are named by their figures, their places among those of the layout;
    parts still to be cut by letters, in the order in which they come about.

    `stop` is the fresh edge against the stop and `set_um` the distance from it; where `stop` is None the cut goes
    on the marks beside `edge`, printed or measured, and `set_um` is what falls off there. `runs_um` is where along
    the part a knife begins and ends, None where the cut goes right across. `stays` lies between stop and blade.
    Of four cuts of a knife that stop at one another none lets anything fall (`falls` is ''); the last frees five
    parts, named in `frees` in a Pinwheel's order.
    """

    number: int
    part: str
    edge: Literal["left", "top"]
    stop: Literal["left", "top"] | None
    set_um: int
    stays: str
    falls: str
    falls_um: int
    runs_um: tuple[int, int] | None = None
    frees: tuple[str, ...] = ()


def cut_list(job: Job, plan: Node, *, knife: bool = False) -> tuple[Cut, ...]:
    """The cuts of a plan in an order that works: with few settings of the stop, and those of one setting as they lie.

    With a knife, which has no stop, part after part is cut, and nothing is held to the job's cutter. Raises ValueError
    where a cut is longer than that reaches, holds a smaller strip than it can, or has to stop: no plan found for the
    job and its cutter does.
    """
    sheet = job.sheet
    pieces = pieces_of(plan, sheet.left_um, sheet.top_um)
    listing = _Listing(job, knife, {(piece.x_um, piece.y_um): str(n) for n, piece in enumerate(pieces, 1)})
    whole = "1" if isinstance(plan, Leaf) else WHOLE
    listing.open(plan, (0, 0, sheet.width_um, sheet.height_um), sheet.left_um, sheet.top_um, whole)
    order = range(len(listing.cuts)) if knife else _in_order(listing.cuts)
    return _named([listing.cuts[n].cut for n in order])


def last_cuts(cuts: Sequence[Cut]) -> dict[str, int]:
    """The number of the last cut of each part: after it a piece is finished. A piece that needs none is not there."""
    return {cut.part: cut.number for cut in cuts}


@dataclass
class _Step:
    cut: Cut
    after: int | None


@dataclass
class _Listing:
    """The cuts as they are found, each with the one that must come before it; `figures` are the pieces by place."""

    job: Job
    knife: bool
    figures: dict[tuple[int, int], str]
    cuts: list[_Step] = field(default_factory=list)
    parts: int = 0

    def named(self, node: Node | None, x: int, y: int) -> str:
        if node is None:
            return WASTE
        if isinstance(node, Leaf):
            return self.figures[x, y]
        self.parts += 1
        return f"part {self.parts}"

    def open(self, node: Node, rect: Rect, x: int, y: int, name: str, after: int | None = None) -> None:
        """Cut up a part: the place where its pieces begin is x, y."""
        width, height = extent_um(node)
        inner = (x, y, x + width, y + height)
        if isinstance(node, Leaf):
            rect, after = self._trim(name, rect, inner, after, ("left", "top"))
            if self._reaches("right", rect) and self._reaches("bottom", rect):
                self._trim(name, rect, inner, after, ("right",))
                self._trim(name, (*rect[:2], inner[2], rect[3]), inner, after, ("bottom",))
            else:
                self._trim(name, rect, inner, after, ("right", "bottom"))
        elif isinstance(node, Split):
            self._open_split(node, rect, inner, name, after)
        elif not self.knife:
            raise ValueError("cuts that stop are for a knife")
        else:
            rect, after = self._trim(name, rect, inner, after, ("left", "top", "right", "bottom"))
            self._open_pinwheel(node, rect, name, after)

    def _open_split(self, node: Split, rect: Rect, inner: Rect, name: str, after: int | None) -> None:
        upright = node.axis == "x"
        edges = ["left", "top"] if upright else ["top", "left"]
        across: Literal["x", "y"] = "y" if upright else "x"
        most = inner[3] - inner[1] if upright else inner[2] - inner[0]
        if self.knife or self.job.widest_cut_um is not None or _ending(node, across, most) > 1:
            edges.append("bottom" if upright else "right")
        rect, after = self._trim(name, rect, inner, after, edges)
        x0, y0, x1, y1 = rect
        x, y = inner[:2]
        at = (x if upright else y) + node.at_um
        first = self.named(node.first, x, y)
        second = self.named(node.second, *((at, y) if upright else (x, at)))
        setting, rest = (at - x0, x1 - at) if upright else (at - y0, y1 - at)
        length = y1 - y0 if upright else x1 - x0
        edge: Literal["left", "top"] = "left" if upright else "top"
        after = self._add(Cut(0, name, edge, edge, setting, first, second, rest), after, length)
        if upright:
            held, fell, start = (x0, y0, at, y1), (at, y0, x1, y1), (at, y)
        else:
            held, fell, start = (x0, y0, x1, at), (x0, at, x1, y1), (x, at)
        self.open(node.first, held, x, y, first, after)
        self.open(node.second, fell, *start, second, after)

    def _open_pinwheel(self, node: Pinwheel, rect: Rect, name: str, after: int | None) -> None:
        x0, y0, x1, y1 = rect
        lines: tuple[tuple[Literal["left", "top"], int, tuple[int, int]], ...] = (
            ("left", node.x1_um, (0, node.y2_um)),
            ("top", node.y1_um, (node.x1_um, x1 - x0)),
            ("left", node.x2_um, (node.y1_um, y1 - y0)),
            ("top", node.y2_um, (0, node.x2_um)),
        )
        names = tuple(
            self.named(part, x0 + x, y0 + y) for part, (x, y) in zip(node.parts, node.corners_um, strict=True)
        )
        for place, (edge, at, runs) in enumerate(lines):
            frees = names if place == len(lines) - 1 else ()
            after = self._add(Cut(0, name, edge, edge, at, name, "", 0, runs, frees), after, runs[1] - runs[0])
        for part, child, (x, y), (right, bottom) in zip(
            node.parts, names, node.corners_um, pinwheel_ends(node, x1 - x0, y1 - y0), strict=True
        ):
            if part:
                self.open(part, (x0 + x, y0 + y, x0 + right, y0 + bottom), x0 + x, y0 + y, child, after)

    def _trim(
        self, name: str, rect: Rect, inner: Rect, after: int | None, edges: Sequence[str]
    ) -> tuple[Rect, int | None]:
        """Cut the paper off these edges; those the cutter does not reach along are left to the smaller parts."""
        sides = ("left", "top", "right", "bottom")
        waiting = [edge for edge in edges if rect[sides.index(edge)] != inner[sides.index(edge)]]
        while waiting:
            edge = next((edge for edge in waiting if self._reaches(edge, rect)), None)
            if edge is None:
                spare = [
                    edge for edge in sides if edge not in edges and rect[sides.index(edge)] != inner[sides.index(edge)]
                ]
                edge = next((edge for edge in spare if self._reaches(edge, rect)), None)
            if edge is None:
                break
            waiting = [each for each in waiting if each != edge]
            rect, after = self._trim_edge(name, rect, inner, edge, after)
        return rect, after

    def _reaches(self, edge: str, rect: Rect) -> bool:
        return self.knife or self.job.widest_cut_um is None or _length(edge, rect) <= self.job.widest_cut_um

    def _trim_edge(self, name: str, rect: Rect, inner: Rect, edge: str, after: int | None) -> tuple[Rect, int]:
        at = ("left", "top", "right", "bottom").index(edge)
        upright = at % 2 == 0
        start: Literal["left", "top"] = "left" if upright else "top"
        off = abs(rect[at] - inner[at])
        setting = off if at < 2 else inner[at] - rect[at - 2]
        stop = None if at < 2 else start
        cut = Cut(0, name, start, stop, setting, name, WASTE, off)
        sides = list(rect)
        sides[at] = inner[at]
        held = sides[at % 2 + 2] - sides[at % 2]
        trimmed = (sides[0], sides[1], sides[2], sides[3])
        return trimmed, self._add(cut, after, _length(edge, rect), held)

    def _add(self, cut: Cut, after: int | None, length: int, held: int | None = None) -> int:
        if not self.knife:
            if self.job.widest_cut_um is not None and length > self.job.widest_cut_um:
                raise ValueError(f"a cut of {length} µm is longer than the cutter reaches")
            if (held or cut.set_um) < self.job.least_strip_um:
                raise ValueError(f"a strip of {held or cut.set_um} µm cannot be held")
        self.cuts.append(_Step(cut, after))
        return len(self.cuts) - 1


def _length(edge: str, rect: Rect) -> int:
    return rect[3] - rect[1] if edge in ("left", "right") else rect[2] - rect[0]


def _ending(node: Node, along: Literal["x", "y"], at_um: int) -> int:
    """How many pieces of a plan end so far from its beginning, along x or y.

    If one ends with its part, nothing is gained by trimming that edge before the part is cut up: the piece takes a cut
    too, and with a setting that is needed anyhow.
    """
    if isinstance(node, Leaf):
        return int((node.width_um if along == "x" else node.height_um) == at_um)
    if isinstance(node, Split):
        past = node.at_um if node.axis == along else 0
        return _ending(node.first, along, at_um) + _ending(node.second, along, at_um - past)
    raise ValueError("cuts that stop are for a knife")


def pinwheel_ends(node: Pinwheel, width: int, height: int) -> tuple[tuple[int, int], ...]:
    """Where each part of a pinwheel ends, its gutter with it, in a part of this size."""
    x1, y1, x2, y2 = node.x1_um, node.y1_um, node.x2_um, node.y2_um
    return (x1, y2), (width, y1), (width, height), (x2, height), (x2, y2)


def _in_order(steps: Sequence[_Step]) -> list[int]:
    """The places of the steps, each after the one it needs, with as few settings as were found.

    A setting, once used, serves every cut that may be made with it. Of the orders begun in this way those that
    leave the fewest cuts to do are followed; among hundreds of small jobs they ended as low as every order looked at.
    """
    begun: dict[frozenset[int], list[int]] = {}
    order = _with_setting(steps, frozenset(), None)
    begun[frozenset(order)] = order
    while len(next(iter(begun))) < len(steps):
        further: dict[frozenset[int], list[int]] = {}
        for done, order in begun.items():
            for setting in dict.fromkeys(
                step.cut.set_um for n, step in enumerate(steps) if n not in done and _ready(step, done)
            ):
                more = _with_setting(steps, done, setting)
                further.setdefault(done.union(more), order + more)
        begun = dict(sorted(further.items(), key=lambda each: -len(each[0]))[:ORDERS_KEPT])
    return next(iter(begun.values()))


def _ready(step: _Step, done: frozenset[int]) -> bool:
    return step.after is None or step.after in done


def _with_setting(steps: Sequence[_Step], done: frozenset[int], setting: int | None) -> list[int]:
    """What can be cut next on printed marks and with this setting, as it lies on the sheet."""
    more: list[int] = []
    reached = set(done)
    for n, step in enumerate(steps):
        fits = step.cut.stop is None or step.cut.set_um == setting
        if n not in done and fits and (step.after is None or step.after in reached):
            more.append(n)
            reached.add(n)
    return more


def _named(cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """The cuts numbered, and the parts lettered, in this order."""
    names: dict[str, str] = {"": "", WASTE: WASTE, WHOLE: WHOLE}
    letters = _letters()
    told = []
    for number, cut in enumerate(cuts, 1):
        for name in (cut.part, cut.stays, cut.falls, *cut.frees):
            if name not in names:
                names[name] = name if name.isdigit() else next(letters)
        frees = tuple(names[name] for name in cut.frees)
        part, stays, falls = names[cut.part], names[cut.stays], names[cut.falls]
        told.append(replace(cut, number=number, part=part, stays=stays, falls=falls, frees=frees))
    return tuple(told)


def _letters() -> Iterator[str]:
    """A, B, ... Z, AA, AB: without I and O."""
    shorter = [""]
    while True:
        shorter = [before + letter for before in shorter for letter in LETTERS]
        yield from shorter

"""A layout as cuts, one after another, for a person at the stop.

The first cuts go on the printed marks and make a left and a top edge to measure from. Every later one is measured
from the fresh left or top edge of the part in hand: what lies between stop and blade stays, the rest falls off,
and as it falls it has a fresh edge of its own. So a gutter goes in two cuts, the far side first.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from ledger.reckoning.sheet_layout import Job, Leaf, Node, Pinwheel, Split, extent_um

WASTE = "waste"
WHOLE = "sheet"

Rect = tuple[int, int, int, int]
"""left, top, right and bottom edge on the sheet."""


@dataclass(frozen=True)
class Cut:
    """One cut of `part`, numbered from 1. Pieces are named by figures, parts still to be cut by letters.

    `stop` is the fresh edge against the stop and `set_um` the distance from it; where `stop` is None the cut goes
    on the printed marks beside `edge` and `set_um` is what falls off there. `runs_um` is where along the part a
    knife begins and ends, None where the cut goes right across. `stays` lies between stop and blade.
    Of four cuts of a knife that stop at one another none lets anything fall (`falls` is ''); the last frees five
    parts, named in `frees` in a Pinwheel's order.
    """

    number: int
    part: str
    edge: Literal["left", "top"]
    stop: Literal["left", "top"] | None
    set_um: int
    length_um: int
    stays: str
    falls: str
    falls_um: int
    runs_um: tuple[int, int] | None = None
    frees: tuple[str, ...] = ()


def cut_list(job: Job, plan: Node, *, knife: bool = False) -> tuple[Cut, ...]:
    """The cuts of a plan in an order that works; those with one setting stand together where the order allows.

    With a knife nothing is held to the job's cutter. Raises ValueError where a cut is longer than that reaches, holds a
    smaller strip than it can, or has to stop: no plan found for the job and its cutter does.
    """
    listing = _Listing(job, knife)
    sheet = job.sheet
    listing.open(plan, (0, 0, sheet.width_um, sheet.height_um), sheet.left_um, sheet.top_um, listing.named(plan, WHOLE))
    return tuple(replace(cut, number=n) for n, cut in enumerate(_in_order(listing.cuts), 1))


@dataclass
class _Step:
    cut: Cut
    after: int | None


@dataclass
class _Listing:
    """The cuts as they are found, each with the one that must come before it."""

    job: Job
    knife: bool
    cuts: list[_Step] = field(default_factory=list)
    letters: int = 0
    pieces: int = 0

    def named(self, node: Node | None, name: str | None = None) -> str:
        if node is None:
            return WASTE
        if isinstance(node, Leaf):
            self.pieces += 1
            return str(self.pieces)
        if name:
            return name
        self.letters += 1
        return _letters(self.letters)

    def open(self, node: Node, rect: Rect, x: int, y: int, name: str, after: int | None = None) -> None:
        """Cut up a part: the place where its pieces begin is x, y."""
        width, height = extent_um(node)
        inner = (x, y, x + width, y + height)
        if isinstance(node, Leaf):
            self._trim(name, rect, inner, after, ("left", "top", "right", "bottom"))
        elif isinstance(node, Split):
            self._open_split(node, rect, inner, name, after)
        elif not self.knife:
            raise ValueError("cuts that stop are for a knife")
        else:
            rect, after = self._trim(name, rect, inner, after, ("left", "top", "right", "bottom"))
            self._open_pinwheel(node, rect, name, after)

    def _open_split(self, node: Split, rect: Rect, inner: Rect, name: str, after: int | None) -> None:
        upright = node.axis == "x"
        edges = ("left", "top", "bottom") if upright else ("top", "left", "right")
        rect, after = self._trim(name, rect, inner, after, edges)
        x0, y0, x1, y1 = rect
        x, y = inner[:2]
        at = (x if upright else y) + node.at_um
        first, second = self.named(node.first), self.named(node.second)
        setting, rest = (at - x0, x1 - at) if upright else (at - y0, y1 - at)
        length = y1 - y0 if upright else x1 - x0
        edge: Literal["left", "top"] = "left" if upright else "top"
        after = self._add(Cut(0, name, edge, edge, setting, length, first, second, rest), after)
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
        names = tuple(self.named(part) for part in node.parts)
        for place, (edge, at, runs) in enumerate(lines):
            frees = names if place == len(lines) - 1 else ()
            cut = Cut(0, name, edge, edge, at, runs[1] - runs[0], name, "", 0, runs, frees)
            after = self._add(cut, after)
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
        cut = Cut(0, name, start, stop, setting, _length(edge, rect), name, WASTE, off)
        sides = list(rect)
        sides[at] = inner[at]
        held = sides[at % 2 + 2] - sides[at % 2]
        trimmed = (sides[0], sides[1], sides[2], sides[3])
        return trimmed, self._add(cut, after, held)

    def _add(self, cut: Cut, after: int | None, held: int | None = None) -> int:
        if not self.knife:
            if self.job.widest_cut_um is not None and cut.length_um > self.job.widest_cut_um:
                raise ValueError(f"a cut of {cut.length_um} µm is longer than the cutter reaches")
            if (held or cut.set_um) < self.job.least_strip_um:
                raise ValueError(f"a strip of {held or cut.set_um} µm cannot be held")
        self.cuts.append(_Step(cut, after))
        return len(self.cuts) - 1


def _length(edge: str, rect: Rect) -> int:
    return rect[3] - rect[1] if edge in ("left", "right") else rect[2] - rect[0]


def _letters(n: int) -> str:
    """A, B, ... Z, AA, AB."""
    text = ""
    while n:
        n, last = divmod(n - 1, 26)
        text = chr(ord("A") + last) + text
    return text


def pinwheel_ends(node: Pinwheel, width: int, height: int) -> tuple[tuple[int, int], ...]:
    """Where each part of a pinwheel ends, its gutter with it, in a part of this size."""
    x1, y1, x2, y2 = node.x1_um, node.y1_um, node.x2_um, node.y2_um
    return (x1, y2), (width, y1), (width, height), (x2, height), (x2, y2)


def _in_order(steps: Sequence[_Step]) -> Iterable[Cut]:
    """Each cut after the one it needs; among those that may come next, first one with the setting just used."""
    ready = [n for n, step in enumerate(steps) if step.after is None]
    waiting: dict[int, list[int]] = {}
    for n, step in enumerate(steps):
        if step.after is not None:
            waiting.setdefault(step.after, []).append(n)
    last: Cut | None = None
    while ready:
        same = [n for n in ready if last and last.stop and steps[n].cut.stop and steps[n].cut.set_um == last.set_um]
        n = same[0] if same else ready[0]
        ready.remove(n)
        ready = waiting.get(n, []) + ready
        last = steps[n].cut
        yield last

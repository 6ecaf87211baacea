"""What a plan for the most valuable pieces leaves of the sheet, filled with the others."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from ledger.reckoning.sheet_layout import Node, Pinwheel, Split, pieces_of, pinwheel_sides
from ledger.reckoning.sheet_search import Bench, Cutting, Part, Search, Spent, Work, split

FILL_STEPS = 25_000
MANY = 1_000_000
"""More pieces than a sheet can have: so much more a piece of some value counts than one without."""


def filled(benches: Sequence[Bench], plan: Node | None, values: Sequence[int]) -> Node | None:
    """The plan of a whole sheet, worth no less, its places left over filled with what is worth nothing.

    The benches are of all the sizes, the thorough one first; the plan stays as it is where no search of them ends.
    """
    for bench in benches:
        with suppress(Spent):
            return _Filling(bench, [value * MANY + 1 for value in values], Work(FILL_STEPS)).filled(plan)
    return plan


class _Filling(Search):
    """A search for the greatest value, and for most pieces where that is the same."""

    def filled(self, plan: Node | None) -> Node | None:
        """Each part of the plan as it is or cut right across anew, whichever is worth more. Raises Spent."""
        job = self.bench.job
        width, height = (side + job.gutter_um for side in job.usable_um)
        return self._filled(plan, width, height)

    def _filled(self, node: Node | None, width: int, height: int) -> Node | None:
        if isinstance(node, Pinwheel):
            sides = pinwheel_sides((width, height), (node.x1_um, node.y1_um, node.x2_um, node.y2_um))
            parts = zip(node.parts, sides, strict=True)
            node = replace(node, parts=tuple(self._filled(part, *side) for part, side in parts))
        elif isinstance(node, Split):
            at = node.at_um
            upright = node.axis == "x"
            first = Part(at, height) if upright else Part(width, at)
            second = Part(width - at, height) if upright else Part(width, height - at)
            halves = self._filled(node.first, *first[:2]), self._filled(node.second, *second[:2])
            node = split(Cutting(node.axis, at, first, second), *halves)
        part = self.bench.settled(Part(width, height))
        return self.plan(part) if self.most(part) > self._worth(node) else node

    def _worth(self, node: Node | None) -> int:
        return sum(self.values[piece.wanted] for piece in pieces_of(node, 0, 0))

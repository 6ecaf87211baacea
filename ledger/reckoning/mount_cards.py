"""The cards that lie on the bench: four figures a board, to be read at arm's length, and what goes with them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ledger.reckoning.drawing import View, edges_said
from ledger.reckoning.lengths import Unit, from_steps, said, shown, thickness_said, typeset, written_steps
from ledger.reckoning.mount_floats import FloatPlan, FramelessPlan
from ledger.reckoning.mount_marks import lean_said, past_said, sheet_behind
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.mount_plan import CutBoard, Cutter, WindowPlan
from ledger.reckoning.mount_shapes import Plan, frameless_front, undermount_view, window_back

BLADE = "Blade: a dull one tears the core. Change it often, cut away from you, with the other hand behind the edge."
FRAMED = (
    BLADE,
    "Glass: carry it on edge, wear gloves, tape a cracked sheet before you move it.",
    "Adhesive: nothing that cannot be undone touches a limited print. Hinge it with paper and paste.",
)
BARE = (BLADE, "Adhesive: let in fresh air, and try it on a spoilt print first. What is stuck down cannot be undone.")
"""Common practice, no source."""

Figures = tuple[str, str]


@dataclass(frozen=True, kw_only=True)
class MountCard:
    """A card for one board: two rows of two figures under the words that say what they are, sentences beside them,
    and the board drawn as it lies, its top edge away from the maker. The cautions are those of the whole plan.
    """

    board: str
    size: str
    lies: str
    rows: tuple[tuple[str, Figures], ...]
    unit: Unit
    sentences: tuple[str, ...]
    aside: str
    drawn: View
    cautions: tuple[str, ...] = FRAMED

    @property
    def figures(self) -> tuple[str, ...]:
        return tuple(figure for _, both in self.rows for figure in both)

    @property
    def typeset(self) -> "MountCard":
        """With its figures as people read them."""
        return replace(
            self,
            size=typeset(self.size),
            rows=tuple((words, (typeset(first), typeset(second))) for words, (first, second) in self.rows),
            sentences=tuple(map(typeset, self.sentences)),
            aside=typeset(self.aside),
            drawn=self.drawn.typeset,
        )


def cards(plan: Plan) -> tuple[MountCard, ...]:
    """A card for each board, from the glass back."""
    if isinstance(plan, WindowPlan):
        return tuple(_window_card(plan, board) for board in plan.boards)
    return (_float_card(plan) if isinstance(plan, FloatPlan) else _frameless_card(plan),)


def _window_card(plan: WindowPlan, board: CutBoard) -> MountCard:
    unit, back = plan.unit, board.borders.mirrored
    across, left = _sum(back.left_um, board.window.width_um, board.size.width_um, unit)
    down, top = _sum(back.top_um, board.window.height_um, board.size.height_um, unit)
    return MountCard(
        board=board.name,
        size=board.size.said(unit),
        lies="face down",
        rows=(("pencil lines from your left (the picture’s right)", left), ("pencil lines from the top", top)),
        unit=unit,
        sentences=(
            _leaning(plan),
            f"Start and stop {past_said(plan.past_corner_um, unit)}.",
            *_checks(across, down),
            *(_behind(plan) if board is plan.inner else ()),
        ),
        aside=_scale(plan, board),
        drawn=window_back(plan, board),
    )


def _float_card(plan: FloatPlan) -> MountCard:
    unit, borders, spacer, inset = plan.unit, plan.spacer_borders, plan.spacer, plan.asked.inset_um
    across, (left, _) = _sum(borders.left_um, spacer.width_um, plan.backing.width_um, unit)
    down, (top, _) = _sum(borders.top_um, spacer.height_um, plan.backing.height_um, unit)
    return MountCard(
        board="undermount",
        size=plan.backing.said(unit),
        lies="face up",
        rows=(
            ("the spacer, width and height", _figures(spacer, unit)),
            ("its upper left corner, from your left and from the top", (left, top)),
        ),
        unit=unit,
        sentences=(f"Gap to be seen around the print: {edges_said(plan.gaps, unit)}.", *_checks(across, down)),
        aside=f"The print passes the spacer by {said(inset, unit)} at each edge. A fillet of "
        f"{thickness_said(plan.fillet_um)} holds the glass off.",
        drawn=undermount_view(plan),
    )


def _frameless_card(plan: FramelessPlan) -> MountCard:
    unit, asked = plan.unit, plan.asked
    if asked.bleed_um:
        inner, past, second = asked.finished, asked.bleed_um, "cut to, width and height"
        how = f"Mount the print {said(past, unit)} past the board at each edge, then trim both to end together."
    else:
        inner, past, second = plan.board, asked.undersize_um, "the board, width and height"
        how = f"The print stands {said(past, unit)} past the board at each edge: trim nothing."
    across, _ = _sum(past, inner.width_um, plan.print_file.width_um, unit)
    down, _ = _sum(past, inner.height_um, plan.print_file.height_um, unit)
    return MountCard(
        board="board",
        size=plan.board.said(unit),
        lies="face up",
        rows=(("the print, width and height", _figures(plan.print_file, unit)), (second, _figures(inner, unit))),
        unit=unit,
        sentences=(how, *_checks(across, down)),
        aside=f"Keep what matters in the picture within {plan.detail.said(unit)}.",
        drawn=frameless_front(plan),
        cautions=BARE,
    )


def _figures(size: Size, unit: Unit) -> Figures:
    return shown(size.width_um, unit), shown(size.height_um, unit)


def _checks(across: str, down: str) -> Sequence[str]:
    if across == down:
        return [f"Check, across and down: {across}."]
    return [f"Check across: {across}.", f"Check down: {down}."]


def _leaning(plan: WindowPlan) -> str:
    run = plan.asked.board.run_um
    opens = f": the face opens {thickness_said(run)} more at each edge" if run else ""
    return f"{lean_said(plan.asked.board)}{opens}."


def _behind(plan: WindowPlan) -> Sequence[str]:
    """Where the under-board is stuck, and where the sheet lies to be hinged."""
    double, lies = plan.asked.double, sheet_behind(plan)
    stuck = []
    if double is not None:
        inside = f"{said(double.smaller_um // 2, plan.unit)} inside its edge all round"
        stuck = [f"Stick it to the back of the top board, {inside}."]
    if lies is None:
        return stuck
    left, top = (
        f"{said(abs(um), plan.unit)} {'past the board at' if um < 0 else 'from'} {edge}"
        for um, edge in zip(lies, ("your left", "the top"), strict=True)
    )
    return [*stuck, f"The sheet lies face down, {left} and {top}: hinge it there."]


def _sum(border: int, window: int, whole: int, unit: Unit) -> tuple[str, Figures]:
    """'69 + 162 + 69 = 300' and the two lines; the last border is what the written figures leave of the whole."""
    first, middle, total = (written_steps(um, unit) for um in (border, window, whole))
    parts = " + ".join(from_steps(steps, unit) for steps in (first, middle, total - first - middle))
    lines = from_steps(first, unit), from_steps(first + middle, unit)
    return f"{parts} = {from_steps(total, unit)}", lines


def _scale(plan: WindowPlan, board: CutBoard) -> str:
    """The cutter’s stops, in the order of the board face down."""
    cutter = plan.asked.cutter
    measures = "taken to measure" if cutter == Cutter() else "which measures"
    edge = "face edge" if cutter.scale == "face" else "back line"
    borders = edges_said(board.scale.mirrored, plan.unit)
    return f"Cutter’s scale, {measures} the {edge}; seen from the back: {borders}."

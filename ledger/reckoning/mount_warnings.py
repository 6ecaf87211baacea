"""What may go wrong with a mount that can be cut, in sentences. The limits are common practice, no source."""

from ledger.reckoning.lengths import on_the_rule, said, thickness_said
from ledger.reckoning.mount_frames import Frame, Outwards
from ledger.reckoning.mount_parts import Diagonal
from ledger.reckoning.mount_plan import Overlap, WindowPlan

PAPER_PAST_WINDOW_UM = 5_000
NARROWEST_BORDER_UM = 40_000
LEAST_CLEARANCE_UM = 1_500
OVERCUT_SEEN_UM = 1_500
STRONG_RATIO = 2


def window_warnings(plan: WindowPlan) -> list[str]:
    """The sentences, in the plan’s unit."""
    frame, unit = plan.outside.frame, plan.unit
    found = frame.warnings() if frame else []
    found += plan.depth.warnings(frame)
    found += _border_warnings(plan) + _paper_warnings(plan) + _pencil_warnings(plan)
    if isinstance(plan.asked.outer, Frame | Outwards) and plan.asked.clearance_um < LEAST_CLEARANCE_UM:
        least = said(LEAST_CLEARANCE_UM, unit)
        found.append(f"Less than {least} between mount and frame: board grows in damp air and may buckle.")
    if abs(plan.asked.cutter.offset_um) > OVERCUT_SEEN_UM:
        found.append(
            f"The cutter’s own offset is more than {thickness_said(OVERCUT_SEEN_UM)}: such a cut shows past the "
            "corner on the face. Cut a scrap and calibrate it again."
        )
    sides = [um for board in plan.boards for edges in (board.borders, board.window) for um in vars(edges).values()]
    if unit == "in" and not all(on_the_rule(um, unit) for um in sides):
        found.append("Not every length falls on a sixteenth of an inch; what is written is the nearest.")
    return found


def _border_warnings(plan: WindowPlan) -> list[str]:
    found, unit, borders = [], plan.unit, plan.boards[0].borders
    narrow = [edge for edge, um in borders.named() if um < NARROWEST_BORDER_UM]
    if narrow:
        found.append(f"A border under {said(NARROWEST_BORDER_UM, unit)} looks mean and is weak: {', '.join(narrow)}.")
    if borders.bottom_um < borders.top_um:
        found.append("The bottom border is narrower than the top: the picture will seem to slip down.")
    if isinstance(plan.asked.placing, Diagonal) and plan.ratio is not None and plan.ratio > STRONG_RATIO:
        found.append(
            f"The construction makes the bottom {float(plan.ratio):.2f} times the top, which is strong: it grows as "
            "the window gets smaller."
        )
    if plan.asked.double is not None and plan.asked.double.strip_um <= plan.asked.board.run_um:
        found.append("The strip is no wider than the bevel: nothing of the under-board’s face will be seen.")
    return found


def _paper_warnings(plan: WindowPlan) -> list[str]:
    unit = plan.unit
    if plan.paper_under is None:
        return []
    short = [f"{said(um, unit)} at the {edge}" for edge, um in plan.paper_under.named() if um < PAPER_PAST_WINDOW_UM]
    if not short:
        return []
    return [
        f"The paper should pass the window by {said(PAPER_PAST_WINDOW_UM, unit)} on each side, to be hinged and to "
        f"stay flat. It passes by {', '.join(short)}."
    ]


def _pencil_warnings(plan: WindowPlan) -> list[str]:
    """Whether signature and number stay in sight; asked where nobody said and the window may hide them."""
    below, shows = plan.asked.pencil_below_um, max(0, plan.asked.opening.past.bottom_um)
    if below is None and isinstance(plan.asked.opening, Overlap):
        return [
            "The window hides the picture’s edge and all below it. If signature or number stand there, choose a window "
            "around the picture; if not, write 0 for how far the signature reaches."
        ]
    if below is None or below <= shows:
        return []
    return [
        f"The pencil reaches {said(below, plan.unit)} below the picture and the window shows {said(shows, plan.unit)}: "
        "signature or number will be hidden. Choose a reveal that shows them."
    ]

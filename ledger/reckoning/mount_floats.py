"""Prints without a window: floating in a frame on a hidden spacer, or bare on a board. Common practice, no source."""

from dataclasses import dataclass, replace

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit, said, thickness_said, written_steps
from ledger.reckoning.mount_frames import PRINT_UM, Depth, Framed, FramedPlan, outside, shares
from ledger.reckoning.mount_parts import Edges, Size, check_size, placed

AIR_UM, LEAST_AIR_UM = 5_000, 4_000
INSETS_UM = (8_000, 15_000)
LEAST_GAP_UM = 10_000
LEAST_HELD_UM = 2_000
BLEEDS_UM = (2_000, 3_000)
UNDERSIZES_UM = (1_500, 3_000)
DETAIL_INSIDE_UM = 5_000
GLUED = (
    "Permanent adhesive cannot be undone and costs a limited print its value. If you use it, the certificate has to "
    "say “mounted”."
)


@dataclass(frozen=True, kw_only=True)
class FloatMount(Framed):
    """What is wanted. `outer` is the sight size, the frame, or the gaps around the print as borders; the spacer is
    smaller than the print by `inset_um` at each edge.
    """

    print: Size
    lip_um: int = 6_000
    spacer_um: int = 5_000
    inset_um: int = 10_000
    print_um: int = PRINT_UM
    undermount_um: int = 1_400


@dataclass(frozen=True, kw_only=True)
class FloatPlan(FramedPlan):
    """What to cut: the backing and undermount, and the spacer that lies `spacer_borders` in from their edges."""

    asked: FloatMount
    rebate: Size
    backing: Size
    spacer: Size
    spacer_borders: Edges
    gaps: Edges
    fillet_um: int

    @property
    def sight(self) -> Size:
        """What the frame’s lip leaves to be seen."""
        return self.outside.mount


def float_plan(asked: FloatMount) -> FloatPlan:
    """The plan of a floated print. Raises Refusal with the field that cannot be."""
    check_size(asked.print, "A print", "print")
    _check(asked)
    out = outside(asked.outer, asked.print, 2 * asked.lip_um)
    if not (out.mount.width_um > asked.print.width_um and out.mount.height_um > asked.print.height_um):
        raise Refusal("No gap is left around the print. Choose a larger frame.", field="outer")
    left_share, top_share = shares(asked.outer, asked.placing, out.mount, asked.print)
    gaps = placed(out.mount, asked.print, left_share, top_share, asked.unit)
    rebate = out.rebate or out.mount.grown(2 * asked.lip_um)
    backing = rebate.grown(-asked.clearance_um)
    if out.frame is not None:
        backing = backing.on_the_rule(asked.unit)
    spacer = asked.print.grown(-2 * asked.inset_um)
    fillet = asked.build.fillet_um or -(-(asked.spacer_um + asked.print_um + AIR_UM) // 1_000) * 1_000
    plan = FloatPlan(
        asked=asked,
        outside=out,
        rebate=rebate,
        backing=backing,
        spacer=spacer,
        spacer_borders=_spacer_borders(asked, rebate, backing, spacer, gaps),
        gaps=gaps,
        fillet_um=fillet,
        depth=Depth(
            (
                ("glazing", asked.build.glazing_um),
                ("fillet", fillet),
                ("undermount", asked.undermount_um),
                ("backing", asked.build.backing_um),
            )
        ),
        warnings=(),
    )
    return replace(plan, warnings=tuple(_warnings(plan)))


def _spacer_borders(asked: FloatMount, rebate: Size, backing: Size, spacer: Size, gaps: Edges) -> Edges:
    """The backing lies in the middle of the rebate, its edge under the frame’s lip."""
    left = gaps.left_um + asked.inset_um + asked.lip_um - (rebate.width_um - backing.width_um) // 2
    top = gaps.top_um + asked.inset_um + asked.lip_um - (rebate.height_um - backing.height_um) // 2
    return Edges(
        top_um=top,
        right_um=backing.width_um - spacer.width_um - left,
        bottom_um=backing.height_um - spacer.height_um - top,
        left_um=left,
    )


def _check(asked: FloatMount) -> None:
    for name in ("lip_um", "clearance_um", "spacer_um", "inset_um", "print_um", "undermount_um"):
        if getattr(asked, name) < 0:
            raise Refusal("A length is not less than nothing. Write 0 or more.", field=name)
    if 2 * asked.inset_um >= min(asked.print.width_um, asked.print.height_um):
        raise Refusal("Nothing is left of the spacer. Set it in less.", field="inset_um")
    if asked.clearance_um >= asked.lip_um:
        raise Refusal(
            "The backing may lie against one side of the frame, and the lip would not reach the other. "
            "Leave less room around it than the lip covers.",
            field="clearance_um",
        )
    fillet = asked.build.fillet_um
    if fillet and fillet <= asked.spacer_um + asked.print_um:
        least = thickness_said(asked.spacer_um + asked.print_um + LEAST_AIR_UM)
        raise Refusal(f"The print would touch the glazing. Use a fillet of {least} or more.", field="build.fillet_um")


def _warnings(plan: FloatPlan) -> list[str]:
    asked, unit, frame = plan.asked, plan.unit, plan.outside.frame
    found = frame.warnings() if frame else []
    found += plan.depth.warnings(frame)
    air = plan.fillet_um - asked.spacer_um - asked.print_um
    if air < LEAST_AIR_UM:
        found.append(
            f"Only {thickness_said(air)} of air between print and glazing. Paper moves: leave "
            f"{thickness_said(LEAST_AIR_UM)}."
        )
    held = asked.lip_um - asked.clearance_um
    if held < LEAST_HELD_UM:
        found.append(
            f"Where the backing lies against one side of the frame, the lip holds only {said(held, unit)} of the other."
            f" Leave less room around it: {said(LEAST_HELD_UM, unit)} should be held."
        )
    if asked.inset_um < INSETS_UM[0]:
        found.append(f"A spacer set in less than {said(INSETS_UM[0], unit)} can be seen from the side.")
    if asked.inset_um > INSETS_UM[1]:
        found.append(f"An edge that hangs free by more than {said(INSETS_UM[1], unit)} may belly. Support it.")
    if min(um for _, um in plan.gaps.named()) < LEAST_GAP_UM:
        found.append(f"A gap under {said(LEAST_GAP_UM, unit)} looks like a mistake rather than a float.")
    return found


@dataclass(frozen=True, kw_only=True)
class Frameless:
    """A print on a board without a frame: it bleeds past the cut at each edge, or the board is smaller all round so
    that no adhesive shows. One of the two is above nothing.
    """

    unit: Unit
    finished: Size
    bleed_um: int = 3_000
    undersize_um: int = 0


@dataclass(frozen=True, kw_only=True)
class FramelessPlan:
    """`print_file` is what to have printed; what matters in the picture stays inside `detail`."""

    asked: Frameless
    print_file: Size
    board: Size
    detail: Size
    warnings: tuple[str, ...]

    @property
    def unit(self) -> Unit:
        return self.asked.unit


def frameless_plan(asked: Frameless) -> FramelessPlan:
    """The plan of a print on board. Raises Refusal with the field that cannot be."""
    check_size(asked.finished, "A finished print", "finished")
    for name in ("bleed_um", "undersize_um"):
        if getattr(asked, name) < 0:
            raise Refusal("A length is not less than nothing. Write 0 or more.", field=name)
    if bool(asked.bleed_um) == bool(asked.undersize_um):
        raise Refusal("Either the print bleeds past the cut, or the board is smaller. Write one.", field="bleed_um")
    smallest = min(asked.finished.width_um, asked.finished.height_um)
    if 2 * max(asked.undersize_um, DETAIL_INSIDE_UM) >= smallest:
        raise Refusal("Nothing is left of the board. Choose a larger size.", field="finished")
    return FramelessPlan(
        asked=asked,
        print_file=asked.finished.grown(2 * asked.bleed_um),
        board=asked.finished.grown(-2 * asked.undersize_um),
        detail=asked.finished.grown(-2 * DETAIL_INSIDE_UM),
        warnings=(GLUED, *_unusual(asked)),
    )


def _unusual(asked: Frameless) -> list[str]:
    name, um, usual = (
        ("Bleeding", asked.bleed_um, BLEEDS_UM)
        if asked.bleed_um
        else ("A board smaller", asked.undersize_um, UNDERSIZES_UM)
    )
    low, high = usual
    # As written: an eighth of an inch is a hair over 3 mm, and as common.
    if written_steps(low, asked.unit) <= written_steps(um, asked.unit) <= written_steps(high, asked.unit):
        return []
    return [
        f"{name} by {said(um, asked.unit)} at each edge is unusual; {said(low, asked.unit)} to "
        f"{said(high, asked.unit)} is common."
    ]

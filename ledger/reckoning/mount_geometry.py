"""The plan of a window mount: from the frame inwards or the picture outwards, to the last half millimetre.

Formulas: common practice, no source.
"""

from dataclasses import replace

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit, said
from ledger.reckoning.mount_frames import PRINT_UM, Depth, outside, shares
from ledger.reckoning.mount_parts import Edges, Ratio, Size, check_size, placed
from ledger.reckoning.mount_plan import CutBoard, Overlap, WindowMount, WindowPlan
from ledger.reckoning.mount_warnings import window_warnings


def window_plan(asked: WindowMount) -> WindowPlan:
    """The plan of a window mount. Raises Refusal with the field that cannot be."""
    _check(asked)
    window = _window(asked)
    out = outside(asked.outer, window, asked.clearance_um)
    if out.frame is not None:
        out = replace(out, mount=out.mount.on_the_rule(asked.unit))  # the room wanted is never less
    _check_room(window, out.mount)
    borders = placed(out.mount, window, *shares(asked.outer, asked.placing, out.mount, window), asked.unit)
    boards = _boards(asked, out.mount, window, borders)
    for board in boards:
        _check_border(board, asked)
    paper_under = _paper_under(asked)
    if paper_under is not None:
        _check_paper(paper_under, borders, asked.unit)
    depth = _depth(asked, len(boards))
    plan = WindowPlan(
        asked=asked,
        outside=out,
        boards=boards,
        past_corner_um=asked.board.run_um + asked.cutter.offset_um,
        paper_under=paper_under,
        depth=depth,
        warnings=(),
    )
    return replace(plan, warnings=tuple(window_warnings(plan)))


def _check(asked: WindowMount) -> None:
    check_size(asked.image, "A picture", "image")
    edges = {"by_um": asked.opening.by_um} if isinstance(asked.opening, Overlap) else vars(asked.opening)
    thin = {
        "clearance_um": asked.clearance_um,
        "board.thickness_um": asked.board.thickness_um,
        **{f"opening.{name}": um for name, um in edges.items()},
    }
    if asked.double is not None:
        thin |= {f"double.{name}": um for name, um in vars(asked.double).items()}
    for field, um in thin.items():
        if um < 0:
            raise Refusal("A length is not less than nothing. Write 0 or more.", field=field)
    if asked.board.thickness_um == 0:
        raise Refusal("Board has a thickness, 1.4 mm most often. Measure it and write it.", field="board.thickness_um")
    if isinstance(asked.placing, Ratio) and (asked.placing.bottom <= 0 or asked.placing.top <= 0):
        raise Refusal("A ratio has two figures above nothing, such as 3:1.", field="placing")


def _window(asked: WindowMount) -> Size:
    past = asked.opening.past
    window = Size(
        asked.image.width_um + past.left_um + past.right_um, asked.image.height_um + past.top_um + past.bottom_um
    )
    if min(window.width_um, window.height_um) <= 0:
        raise Refusal("The overlap leaves nothing of the picture. Write a smaller one.", field="opening.by_um")
    return window


def _check_room(window: Size, mount: Size) -> None:
    for name, inner, outer in (
        ("width_um", window.width_um, mount.width_um),
        ("height_um", window.height_um, mount.height_um),
    ):
        if inner > outer:
            raise Refusal(
                "The window is larger than the mount. Choose a larger frame, or a smaller picture or reveal.",
                field=f"outer.{name}",
            )


def _boards(asked: WindowMount, mount: Size, window: Size, borders: Edges) -> tuple[CutBoard, ...]:
    double = asked.double
    if double is None:
        return (_cut("mount", asked, mount, window, borders),)
    less = double.smaller_um // 2
    under = Edges(
        top_um=borders.top_um - less,
        right_um=borders.right_um - (double.smaller_um - less),
        bottom_um=borders.bottom_um - (double.smaller_um - less),
        left_um=borders.left_um - less,
    )
    top = window.grown(2 * double.strip_um)
    return (
        _cut("top board", asked, mount, top, borders.less(double.strip_um)),
        _cut("under-board", asked, mount.grown(-double.smaller_um), window, under),
    )


def _cut(name: str, asked: WindowMount, size: Size, window: Size, borders: Edges) -> CutBoard:
    run = asked.board.run_um
    scale = borders.less(run) if asked.cutter.scale == "face" else borders
    return CutBoard(name=name, size=size, window=window, borders=borders, face=window.grown(2 * run), scale=scale)


def _check_border(board: CutBoard, asked: WindowMount) -> None:
    for edge, um in board.borders.named():
        if um <= asked.board.run_um:
            raise Refusal(
                f"Nothing is left of the {board.name} at the {edge}: its window is as large as the board. Choose a "
                "larger frame, or a smaller picture, reveal or strip.",
                field="outer.width_um" if edge in ("left", "right") else "outer.height_um",
            )
    sheet = asked.board.sheet
    if sheet is not None and not (sheet.holds(board.size) or sheet.turned.holds(board.size)):
        raise Refusal(
            f"The {board.name} is {board.size.said(asked.unit)}, and the sheet of board is only "
            f"{sheet.said(asked.unit)}. Find a larger sheet.",
            field="board.sheet",
        )


def _paper_under(asked: WindowMount) -> Edges | None:
    """How far the paper passes the window at each edge; less than nothing where it does not reach it."""
    paper, image, past = asked.paper, asked.image, asked.opening.past
    if paper is None:
        return None
    check_size(paper.size, "A sheet", "paper.size")
    spare = Size(paper.size.width_um - image.width_um, paper.size.height_um - image.height_um)
    left = spare.width_um // 2 if paper.image_left_um is None else paper.image_left_um
    top = spare.height_um // 2 if paper.image_top_um is None else paper.image_top_um
    if not (0 <= left <= spare.width_um and 0 <= top <= spare.height_um):
        raise Refusal(
            "The picture does not lie whole on its sheet. Measure the sheet, and where the picture lies on it.",
            field="paper.size",
        )
    return Edges(
        top_um=top - past.top_um,
        right_um=spare.width_um - left - past.right_um,
        bottom_um=spare.height_um - top - past.bottom_um,
        left_um=left - past.left_um,
    )


def _check_paper(under: Edges, borders: Edges, unit: Unit) -> None:
    for (edge, um), (_, border) in zip(under.named(), borders.named(), strict=True):
        if um < 0:
            raise Refusal(
                f"The paper ends {said(-um, unit)} inside the window at the {edge}. Make the reveal smaller, or print "
                "on a larger sheet.",
                field="paper.size",
            )
        if um > border:
            raise Refusal(
                f"The paper would stick out {said(um - border, unit)} past the mount at the {edge}. Choose a larger "
                "frame, or a smaller sheet.",
                field="paper.size",
            )


def _depth(asked: WindowMount, boards: int) -> Depth:
    build = asked.build
    fillet = (("fillet", build.fillet_um),) if build.fillet_um else ()
    mount = ("mount", boards * asked.board.thickness_um)
    print_ = ("print", PRINT_UM)
    return Depth((("glazing", build.glazing_um), *fillet, mount, print_, ("backing", build.backing_um)))

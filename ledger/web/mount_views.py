"""A mount plan as a page shows it and as the API says it."""

from collections.abc import Callable
from typing import Any

from ledger import mounts
from ledger.database import Session
from ledger.mounts import Kept, Unreckoned, Worked
from ledger.reckoning import lengths
from ledger.reckoning.drawing import edges_said
from ledger.reckoning.mount_cards import MountCard, cards
from ledger.reckoning.mount_floats import FloatPlan, FramelessPlan
from ledger.reckoning.mount_frames import FramedPlan
from ledger.reckoning.mount_marks import mark_out
from ledger.reckoning.mount_parts import Edges, Size
from ledger.reckoning.mount_plan import CutBoard, WindowPlan
from ledger.reckoning.mount_shapes import Plan, views
from ledger.tables import Offcut
from ledger.web.shapes import day, mm

LONGEST_GREAT = 5
"""A figure of more characters than this is set smaller, so that two stand side by side on a phone."""


def page_of(session: Session, worked: Worked) -> dict[str, Any]:
    """What a page shows of a plan."""
    plan = worked.plan
    on_the_bench = cards(plan)
    on_cards = [card.drawn.name for card in on_the_bench]
    depth = [plan.depth.said] if isinstance(plan, FramedPlan) else []
    return {
        "words": lengths.typeset(_capital(mounts.words(plan))),
        "cards": [_shown(card) for card in on_the_bench],
        "cut": [(what, lengths.typeset(size)) for what, size in cut_list(plan)],
        "warnings": [lengths.typeset(warning) for warning in plan.warnings],
        "said": [lengths.typeset(sentence) for sentence in (*said_of(plan), *depth)],
        "views": [view.typeset for view in views(plan) if view.name not in on_cards],
        "cautions": on_the_bench[0].cautions,
        "serves": _serves(mounts.serving(session, plan), len(mounts.boards_of(plan)) > 1),
    }


def _capital(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _shown(card: MountCard) -> dict[str, Any]:
    return {"card": card.typeset, "small": max(map(len, card.typeset.figures)) > LONGEST_GREAT}


def offcut_said(row: Offcut) -> str:
    """'600 × 400 mm, cream'."""
    size = lengths.size_said(row.width_um, row.height_um, "in" if row.unit == "in" else "mm")
    return f"{size}, {row.board}" if row.board else size


def _serves(found: list[tuple[str, Offcut]], of_several: bool) -> str:
    if not found:
        return ""
    said = [f"for the {board} {offcut_said(row)}" if of_several else offcut_said(row) for board, row in found]
    return f"Of the board left over, the smallest that serves: {'; '.join(said)}."


def cut_list(plan: Plan) -> list[tuple[str, str]]:
    """What to cut and how large, in words and size."""
    unit = plan.unit
    if isinstance(plan, WindowPlan):
        rows = [row for board in plan.boards for row in _board_rows(board, plan)]
        return [*rows, *_made_rows(plan), *_frame_rows(plan)]
    if isinstance(plan, FloatPlan):
        rows = [
            ("Backing and undermount", plan.backing.said(unit)),
            ("Spacer", plan.spacer.said(unit)),
            ("Fillet", lengths.thickness_said(plan.fillet_um)),
            ("Seen inside the frame", plan.sight.said(unit)),
        ]
        return [*rows, *_frame_rows(plan)]
    return [
        ("Print file", plan.print_file.said(unit)),
        ("Board", plan.board.said(unit)),
        ("Keep what matters within", plan.detail.said(unit)),
    ]


def said_of(plan: Plan) -> list[str]:
    """What a list of pieces and sizes does not say of them."""
    if isinstance(plan, FloatPlan):
        return _float_said(plan)
    if isinstance(plan, WindowPlan) and plan.asked.double:
        return _double_said(plan, plan.asked.double.strip_um)
    return []


def _double_said(plan: WindowPlan, strip: int) -> list[str]:
    unit, top, run = plan.unit, plan.boards[0].borders, plan.asked.board.run_um
    bevel = f", then its bevel of {lengths.thickness_said(plan.asked.board.slope_um)}" if run else ""
    return [
        f"Borders to the top board’s window, which are the ones seen: {edges_said(top, unit)}. To the inner window: "
        f"{edges_said(top.less(-strip), unit)}.",
        f"Between the pencil lines the strip is {lengths.said(strip, unit)}; to be seen are "
        f"{lengths.thickness_said(max(0, strip - run))} of the under-board’s face{bevel}.",
    ]


def _float_said(plan: FloatPlan) -> list[str]:
    width, height = (lengths.said(um, plan.unit) for um in (plan.backing.width_um, plan.backing.height_um))
    return [
        f"The fillet is {lengths.thickness_said(plan.fillet_um)} high and not as wide as the lip covers: 2 strips of "
        f"{width}, and 2 of {height} less twice the fillet’s width."
    ]


def _board_rows(board: CutBoard, plan: WindowPlan) -> list[tuple[str, str]]:
    rows = [
        (board.name.capitalize(), board.size.said(plan.unit)),
        ("Its window, at the pencil line", board.window.said(plan.unit)),
    ]
    if plan.asked.board.run_um:
        rows.append(("Its window, at the face", board.face.said(plan.unit)))
    return rows


def _made_rows(plan: WindowPlan) -> list[tuple[str, str]]:
    rows = []
    if plan.ratio not in (None, 1):
        rows.append(("Bottom border to top border", f"{float(plan.ratio):.2f} : 1"))
    if plan.asked.board.run_um:
        rows.append(("Bevel, along its slope", lengths.thickness_said(plan.asked.board.slope_um)))
    return rows


def _frame_rows(plan: FramedPlan) -> list[tuple[str, str]]:
    rows, outside = [], plan.outside
    if outside.needed:
        rows.append(("Rebate the wanted borders need", outside.needed.said(plan.unit)))
    if outside.frame and outside.rebate:
        sold_as = f"Frame sold as {outside.frame.sold_as}, rebate" if outside.frame.sold_as else "Rebate of the frame"
        rows.append((sold_as, outside.rebate.said(plan.unit)))
    return rows


def as_json(kept: Kept | Unreckoned) -> dict[str, Any]:
    """A kept plan as the API gives it: what was asked as it was typed, what it comes to in millimetres; or why that
    cannot be reckoned any more.
    """
    row = kept.row
    asked = {
        "id": row.id,
        "made_on": day(row.made_on),
        "struck": row.struck_at is not None,
        "asked": kept.draft.model_dump(mode="json", exclude_none=True),
    }
    if isinstance(kept, Unreckoned):
        return {**asked, "unreckoned": kept.why}
    return {**asked, **plan_json(kept.plan)}


def plan_json(plan: Plan) -> dict[str, Any]:
    """What a plan comes to, as the API gives it."""
    return {
        "words": mounts.words(plan),
        "cut": [{"what": what, "size": size} for what, size in cut_list(plan)],
        "boards": [_board_json(board, plan) for board in plan.boards] if isinstance(plan, WindowPlan) else [],
        "float": _float_json(plan) if isinstance(plan, FloatPlan) else None,
        "bare": _bare_json(plan) if isinstance(plan, FramelessPlan) else None,
        "cards": [_card_json(card) for card in cards(plan)],
        "depth": plan.depth.said if isinstance(plan, FramedPlan) else None,
        "said": said_of(plan),
        "warnings": list(plan.warnings),
        "left_over": [{"board": name, "size": size_json(size)} for name, size in mounts.left_over(plan)],
    }


def _float_json(plan: FloatPlan) -> dict[str, Any]:
    return {
        "spacer": size_json(plan.spacer),
        "spacer_borders": _edges_json(plan.spacer_borders),
        "gaps": _edges_json(plan.gaps),
        "backing": size_json(plan.backing),
        "sight": size_json(plan.sight),
        "rebate": size_json(plan.rebate),
        "fillet_mm": mm(plan.fillet_um),
    }


def _bare_json(plan: FramelessPlan) -> dict[str, Any]:
    return {
        "print_file": size_json(plan.print_file),
        "finished": size_json(plan.asked.finished),
        "board": size_json(plan.board),
        "detail": size_json(plan.detail),
    }


def _card_json(card: MountCard) -> dict[str, Any]:
    return {
        "board": card.board,
        "lies": card.lies,
        "rows": [{"words": words, "figures": list(figures)} for words, figures in card.rows],
        "unit": card.unit,
        "sentences": [*card.sentences, card.aside],
    }


def _board_json(board: CutBoard, plan: WindowPlan) -> dict[str, Any]:
    marks = mark_out(board, plan.past_corner_um)
    return {
        "board": board.name,
        "size": size_json(board.size),
        "window": size_json(board.window),
        "face": size_json(board.face),
        "borders": _edges_json(board.borders),
        "scale": _edges_json(board.scale),
        "from_left_mm": [mm(um) for um in marks.from_left_um],
        "from_top_mm": [mm(um) for um in marks.from_top_um],
        "past_corner_mm": mm(marks.past_corner_um),
    }


def size_json(size: Size) -> dict[str, float | int]:
    """A size as the API says it."""
    return {"width_mm": mm(size.width_um), "height_mm": mm(size.height_um)}


def _edges_json(edges: Edges) -> dict[str, float | int]:
    return {f"{edge}_mm": mm(um) for edge, um in edges.named()}


def choices(rows: list[Any], words: Callable[[Any], str], none: str) -> list[dict[str, str]]:
    """The options of a select, `none` first."""
    return [{"value": "", "words": none}, *({"value": str(row.id), "words": words(row)} for row in rows)]

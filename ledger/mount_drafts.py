"""A mount as it is typed at the bench, and what it asks of the reckoning.

Figures stay the text that was typed, in the plan’s one unit; a thickness is in millimetres whatever the plan is in,
unless an inch is written behind it. Usual figures: common practice, no source.
"""

import re
from collections.abc import Mapping
from typing import Literal

from pydantic import BaseModel

from ledger.errors import Refusal
from ledger.mount_stock import TYPED, Figure, RebateDraft, Words, rebate, thickness
from ledger.reckoning import lengths
from ledger.reckoning.lengths import Unit
from ledger.reckoning.mount_floats import FloatMount, Frameless
from ledger.reckoning.mount_frames import Build, Frame, Outwards
from ledger.reckoning.mount_parts import EQUAL, Diagonal, Edges, Placing, Size, Weighted, parse_ratio
from ledger.reckoning.mount_plan import Board, Cutter, Double, Overlap, Paper, Reveal, WindowMount

Asked = WindowMount | FloatMount | Frameless
Kind = Literal["window", "float", "board"]
_LENGTHS = ("overlap", "clearance", "strip", "smaller", "lip", "inset", "bleed")
_USUAL: dict[Unit, dict[str, str]] = {
    "mm": dict(zip(_LENGTHS, ("3", "2", "5", "5", "6", "10", "3"), strict=True)),
    "in": dict(zip(_LENGTHS, ("1/8", "1/16", "3/16", "1/4", "1/4", "3/8", "1/8"), strict=True)),
}
_USUAL_MM = {"board": "1.4", "glazing": "2", "backing": "3", "spacer": "5", "print": "0.4", "undermount": "1.4"}


class MountDraft(BaseModel):
    """What is asked for a mount. Of the figures only those are read that the choices above them call for.
    `keep_frame`: the frame measured here is to be had for other plans too.
    """

    model_config = TYPED
    title: Words
    note: Words = ""
    size_id: int | None = None
    unit: Unit = "mm"
    kind: Kind = "window"
    image: Figure = ""
    sheet: Figure = ""
    image_left: Figure = ""
    image_top: Figure = ""
    pencil_below: Figure = ""
    opening: Literal["overlap", "reveal"] = "overlap"
    overlap: Figure = ""
    reveal_top: Figure = ""
    reveal_sides: Figure = ""
    reveal_bottom: Figure = ""
    outer: Literal["frame", "mount", "borders"] = "frame"
    frame_id: int | None = None
    frame: RebateDraft = RebateDraft()
    keep_frame: bool = False
    mount: Figure = ""
    border_top: Figure = ""
    border_right: Figure = ""
    border_bottom: Figure = ""
    border_left: Figure = ""
    frame_ids: tuple[int, ...] = ()
    placing: Literal["equal", "weighted", "ratio", "diagonal"] = "equal"
    weight: Figure = ""
    ratio: Figure = ""
    clearance: Figure = ""
    board: Figure = ""
    cut: Literal["bevel", "straight"] = "bevel"
    boards: Literal["single", "double"] = "single"
    strip: Figure = ""
    smaller: Figure = ""
    board_sheet: Figure = ""
    cutter_id: int | None = None
    glazing: Figure = ""
    fillet: Figure = ""
    backing: Figure = ""
    lip: Figure = ""
    spacer: Figure = ""
    inset: Figure = ""
    print: Figure = ""
    undermount: Figure = ""
    bleed: Figure = ""
    undersize: Figure = ""

    @property
    def measures_frame(self) -> bool:
        """Whether this is for one frame, measured here."""
        return self.kind != "board" and self.outer == "frame" and not self.frame_id

    @property
    def frames_named(self) -> set[int]:
        """The kept frames this asks for."""
        if self.kind == "board" or self.outer == "mount":
            return set()
        if self.outer == "borders":
            return set(self.frame_ids)
        return {self.frame_id} if self.frame_id else set()


def usual(unit: Unit) -> dict[str, str]:
    """What stands for a figure that is left empty, by field."""
    return _USUAL[unit] | _USUAL_MM


def filled(draft: MountDraft) -> MountDraft:
    """The draft with the usual figure wherever one is called for and none was typed, so that a plan kept today is
    the same when the usual has changed. A cutter or a frame that is chosen on the form and not called for is left out.
    """
    needed = {
        "window": ["clearance", "board", "glazing", "backing"],
        "float": ["clearance", "lip", "spacer", "inset", "print", "undermount", "glazing", "backing"],
        "board": [] if draft.undersize else ["bleed"],
    }[draft.kind]
    if draft.kind == "window" and draft.opening == "overlap":
        needed.append("overlap")
    if draft.kind == "window" and draft.boards == "double":
        needed += ["strip", "smaller"]
    figures = usual(draft.unit)
    more: dict[str, str | None] = {name: figures[name] for name in needed if not getattr(draft, name)}
    if draft.kind != "window":
        more["cutter_id"] = None
    if draft.kind == "board" or draft.outer != "frame":
        more["frame_id"] = None
    return draft.model_copy(update=more)


def asked(draft: MountDraft, frames: Mapping[int, Frame], cutter: Cutter) -> Asked:
    """What a filled draft asks, in micrometres. Raises Refusal, its field named as the draft names it."""
    if draft.kind == "window":
        return _window(draft, frames, cutter)
    if draft.kind == "float":
        return _float(draft, frames)
    return Frameless(
        unit=draft.unit,
        finished=_size(draft, "image"),
        bleed_um=_length(draft, "bleed") if draft.bleed else 0,
        undersize_um=_length(draft, "undersize") if draft.undersize else 0,
    )


def _window(draft: MountDraft, frames: Mapping[int, Frame], cutter: Cutter) -> WindowMount:
    double = None
    if draft.boards == "double":
        double = Double(strip_um=_length(draft, "strip"), smaller_um=_length(draft, "smaller"))
    return WindowMount(
        unit=draft.unit,
        image=_size(draft, "image"),
        opening=_opening(draft),
        outer=_outer(draft, frames),
        placing=_placing(draft),
        paper=_paper(draft),
        pencil_below_um=_length(draft, "pencil_below") if draft.pencil_below else None,
        clearance_um=_length(draft, "clearance"),
        board=Board(
            thickness_um=_thickness(draft, "board"),
            cut=draft.cut,
            sheet=_size(draft, "board_sheet") if draft.board_sheet else None,
        ),
        double=double,
        cutter=cutter,
        build=_build(draft),
    )


def _float(draft: MountDraft, frames: Mapping[int, Frame]) -> FloatMount:
    return FloatMount(
        unit=draft.unit,
        print=_size(draft, "image"),
        outer=_outer(draft, frames),
        placing=_placing(draft),
        lip_um=_length(draft, "lip"),
        clearance_um=_length(draft, "clearance"),
        spacer_um=_thickness(draft, "spacer"),
        inset_um=_length(draft, "inset"),
        print_um=_thickness(draft, "print"),
        undermount_um=_thickness(draft, "undermount"),
        build=_build(draft),
    )


def _opening(draft: MountDraft) -> Overlap | Reveal:
    if draft.opening == "overlap":
        return Overlap(_length(draft, "overlap"))
    return Reveal(
        top_um=_length(draft, "reveal_top"),
        sides_um=_length(draft, "reveal_sides"),
        bottom_um=_length(draft, "reveal_bottom"),
    )


def _paper(draft: MountDraft) -> Paper | None:
    if not draft.sheet:
        return None
    return Paper(
        size=_size(draft, "sheet"),
        image_left_um=_length(draft, "image_left") if draft.image_left else None,
        image_top_um=_length(draft, "image_top") if draft.image_top else None,
    )


def _outer(draft: MountDraft, frames: Mapping[int, Frame]) -> Size | Frame | Outwards:
    if draft.outer == "mount":
        return _size(draft, "mount")
    if draft.outer == "borders":
        borders = {f"{edge}_um": _length(draft, f"border_{edge}") for edge in ("top", "right", "bottom", "left")}
        return Outwards(borders=Edges(**borders), frames=tuple(frames[each] for each in draft.frame_ids))
    return frames[draft.frame_id] if draft.frame_id else rebate(draft.frame, draft.unit, "frame.")


def _placing(draft: MountDraft) -> Placing:
    if draft.placing == "weighted":
        found = re.fullmatch(r"([0-9]{1,4})(?:\.([0-9]{1,2}))?\s*%?", draft.weight)
        if found is None:
            raise Refusal("Write how many per cent the bottom is wider than the top, such as 15.", field="weight")
        return Weighted(int(found[1]) * 100 + int((found[2] or "0").ljust(2, "0")))
    if draft.placing == "ratio":
        return parse_ratio(draft.ratio, "ratio")
    return Diagonal() if draft.placing == "diagonal" else EQUAL


def _build(draft: MountDraft) -> Build:
    return Build(
        glazing_um=_thickness(draft, "glazing"),
        fillet_um=_thickness(draft, "fillet") if draft.fillet else None,
        backing_um=_thickness(draft, "backing"),
    )


def _length(draft: MountDraft, name: str) -> int:
    typed = getattr(draft, name)
    if not typed:
        raise Refusal("A length is needed here. Write it, or 0.", field=name)
    return lengths.parse(typed, draft.unit, field=name)


def _thickness(draft: MountDraft, name: str) -> int:
    return thickness(getattr(draft, name), name)


def _size(draft: MountDraft, name: str) -> Size:
    typed = getattr(draft, name)
    if not typed:
        raise Refusal("A width and a height are needed here, such as 203 x 254 mm.", field=name)
    return Size(*lengths.parse_size(typed, draft.unit, field=name))


_FIELDS = {
    "image": "image",
    "print.": "image",
    "finished": "image",
    "paper.size": "sheet",
    "opening.by_um": "overlap",
    "opening.top_um": "reveal_top",
    "opening.sides_um": "reveal_sides",
    "opening.bottom_um": "reveal_bottom",
    "board.thickness_um": "board",
    "board.sheet": "board_sheet",
    "outer.frames": "frame_ids",
}


def field_of(draft: MountDraft, field: str | None) -> str | None:
    """The draft’s name for a field of what was asked: 'outer.widths_um' is 'frame.width_a'."""
    if field is None or field in MountDraft.model_fields:
        return field
    for asked_name, name in _FIELDS.items():
        if field.startswith(asked_name):
            return name
    across = "width" in field or "left" in field or "right" in field
    if field.startswith("outer.borders."):
        return field.replace("outer.borders.", "border_").removesuffix("_um")
    if field.startswith("outer") and draft.outer == "frame":
        return "frame_id" if draft.frame_id else "frame.width_a" if across else "frame.height_a"
    if field.startswith("outer"):
        return "mount" if draft.outer == "mount" else "border_left" if across else "border_top"
    return field.rpartition(".")[2].removesuffix("_um")

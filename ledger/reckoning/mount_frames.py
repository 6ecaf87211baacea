"""What a mount goes into: a frame by its rebate, the layers within it, and what window and float have in common.

Common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit, thickness_said
from ledger.reckoning.mount_parts import EQUAL, Edges, Placing, Size, check_lengths

PINS_UM = 3_000  # room behind the backing for what holds it in
PRINT_UM = 400


@dataclass(frozen=True, kw_only=True)
class Frame:
    """A frame by its rebate: the width measured at top and bottom, the height at left and right.

    `sold_as` is what its label says, for people only; nothing is reckoned from it.
    """

    widths_um: tuple[int, ...] = ()
    heights_um: tuple[int, ...] = ()
    sold_as: str = ""
    depth_um: int | None = None

    def rebate(self, field: str) -> Size:
        """The smaller measure of each direction. Raises Refusal where only the label is known."""
        for measures, name in ((self.widths_um, "widths_um"), (self.heights_um, "heights_um")):
            if not measures:
                called = f" sold as {self.sold_as}" if self.sold_as else ""
                raise Refusal(
                    f"A frame{called} may be 2 mm more or less inside than its label says. Measure the rebate, width "
                    "and height, at both ends and write what you measured.",
                    field=f"{field}.{name}",
                )
            check_lengths({name: min(measures)}, "A frame’s rebate", field)
        return Size(min(self.widths_um), min(self.heights_um))

    @property
    def turned(self) -> "Frame":
        return replace(self, widths_um=self.heights_um, heights_um=self.widths_um)

    def warnings(self) -> list[str]:
        if min(len(self.widths_um), len(self.heights_um)) < 2:
            return ["The frame is measured at one end only. Measure the other end too; the smaller counts."]
        return []


@dataclass(frozen=True, kw_only=True)
class Outwards:
    """From the picture outwards: the borders wanted, and the frames to be had. Borders keep their proportion when the
    nearest frame turns out larger or smaller; with no frames the borders stay as wanted.
    """

    borders: Edges
    frames: tuple[Frame, ...] = ()


@dataclass(frozen=True)
class Outside:
    """What the outside came to: the mount, and the frame it goes into, where there is one.

    `needed` is the rebate the wanted borders would need, before a frame was chosen.
    """

    mount: Size
    rebate: Size | None = None
    frame: Frame | None = None
    needed: Size | None = None


def outside(outer: Size | Frame | Outwards, inner: Size, allowance_um: int, field: str = "outer") -> Outside:
    """The mount and its frame; the rebate is larger than the mount by `allowance_um`. Raises Refusal."""
    if isinstance(outer, Size):
        check_lengths({"width_um": outer.width_um, "height_um": outer.height_um}, "A mount", field)
        return Outside(outer)
    if isinstance(outer, Frame):
        rebate = outer.rebate(field)
        return Outside(rebate.grown(-allowance_um), rebate, outer)
    for edge, um in outer.borders.named():
        if um < 0:
            raise Refusal("A border is not less than nothing. Write 0 or more.", field=f"{field}.borders.{edge}_um")
    borders = outer.borders
    mount = Size(
        borders.left_um + inner.width_um + borders.right_um, borders.top_um + inner.height_um + borders.bottom_um
    )
    needed = mount.grown(allowance_um)
    if not outer.frames:
        return Outside(mount, needed, needed=needed)
    frame = nearest_frame(outer.frames, needed, inner.grown(allowance_um), field)
    rebate = frame.rebate(field)
    return Outside(rebate.grown(-allowance_um), rebate, frame, needed)


def shares(outer: Size | Frame | Outwards, placing: Placing, mount: Size, inner: Size) -> tuple[Fraction, Fraction]:
    """What part of the spare width is at the left, and of the spare height at the top; wanted borders keep their
    proportion, whatever `placing` says.
    """
    half = Fraction(1, 2)
    if not isinstance(outer, Outwards):
        return half, placing.top_share(mount, inner)
    wanted = outer.borders
    across, down = wanted.left_um + wanted.right_um, wanted.top_um + wanted.bottom_um
    return (Fraction(wanted.left_um, across) if across else half, Fraction(wanted.top_um, down) if down else half)


def nearest_frame(frames: Sequence[Frame], needed: Size, least: Size, field: str) -> Frame:
    """The frame, turned if need be, whose rebate differs least in width and height together; it is larger than
    `least` both ways. Of equals the larger, then the earlier. Raises Refusal where none is large enough.
    """
    fitting: list[tuple[int, int, int, Frame]] = []
    for at, each in enumerate(frames):
        for frame in (each, each.turned):
            rebate = frame.rebate(f"{field}.frames.{at}")
            if rebate.width_um > least.width_um and rebate.height_um > least.height_um:
                off = abs(rebate.width_um - needed.width_um) + abs(rebate.height_um - needed.height_um)
                fitting.append((off, -rebate.width_um * rebate.height_um, len(fitting), frame))
    if not fitting:
        raise Refusal("None of these frames is large enough. Add a larger one.", field=f"{field}.frames")
    return min(fitting)[3]


@dataclass(frozen=True, kw_only=True)
class Build:
    """What stands behind one another in the frame; `fillet_um` holds the glazing off, None where nobody chose."""

    glazing_um: int = 2_000
    fillet_um: int | None = None
    backing_um: int = 3_000


USUAL_BUILD = Build()


@dataclass(frozen=True)
class Depth:
    """Layers from the glass back, and the depth they need with room for pins.

    `buy_um`: the next even millimetre at or above it.
    """

    layers: tuple[tuple[str, int], ...]

    @property
    def layers_um(self) -> int:
        return sum(um for _, um in self.layers)

    @property
    def needed_um(self) -> int:
        return self.layers_um + PINS_UM

    @property
    def buy_um(self) -> int:
        return -(-self.needed_um // 2_000) * 2_000

    @property
    def said(self) -> str:
        """'From the glass back: mount 1.4 mm, print 0.4 mm, backing 3 mm. With pins 7.8 mm: a frame 8 mm deep.'"""
        layers = ", ".join(f"{name} {thickness_said(um)}" for name, um in self.layers)
        with_pins = f"With pins {thickness_said(self.needed_um)}: a frame {thickness_said(self.buy_um)} deep."
        return f"From the glass back: {layers}. {with_pins}"

    def warnings(self, frame: Frame | None) -> list[str]:
        if frame is None or frame.depth_um is None or frame.depth_um >= self.needed_um:
            return []
        return [
            f"The frame is {thickness_said(frame.depth_um)} deep and this needs {thickness_said(self.needed_um)}. "
            "Choose a deeper frame or a thinner backing."
        ]


@dataclass(frozen=True, kw_only=True)
class Framed:
    """What is asked of all that goes into a frame. `placing` is not read where `outer` brings its own borders."""

    unit: Unit
    outer: Size | Frame | Outwards
    placing: Placing = EQUAL
    clearance_um: int = 2_000
    build: Build = USUAL_BUILD


@dataclass(frozen=True, kw_only=True)
class FramedPlan:
    """What all that goes into a frame comes to."""

    asked: Framed
    outside: Outside
    depth: Depth
    warnings: tuple[str, ...]

    @property
    def unit(self) -> Unit:
        return self.asked.unit

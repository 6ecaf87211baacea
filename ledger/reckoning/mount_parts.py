"""What mounts are made of: sizes, edges, ways of placing, frames by their rebate, and the depth a frame needs.

Lengths are whole micrometres, shares exact fractions. The formulas are common practice, no source; the diagonal
construction is derived here.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit, rounded, size_said, thickness_said

PINS_UM = 3_000  # room behind the backing for what holds it in; common practice, no source


@dataclass(frozen=True)
class Size:
    """Width and height as it hangs."""

    width_um: int
    height_um: int

    def grown(self, um: int) -> "Size":
        """So much more in both directions."""
        return Size(self.width_um + um, self.height_um + um)

    def holds(self, inner: "Size") -> bool:
        """Whether `inner` fits as it lies, not turned."""
        return self.width_um >= inner.width_um and self.height_um >= inner.height_um

    @property
    def turned(self) -> "Size":
        return Size(self.height_um, self.width_um)

    def said(self, unit: Unit) -> str:
        return size_said(self.width_um, self.height_um, unit)


@dataclass(frozen=True, kw_only=True)
class Edges:
    """One length at each edge, seen from the front."""

    top_um: int
    right_um: int
    bottom_um: int
    left_um: int

    @classmethod
    def all(cls, um: int) -> "Edges":
        return cls(top_um=um, right_um=um, bottom_um=um, left_um=um)

    def less(self, um: int) -> "Edges":
        return Edges(
            top_um=self.top_um - um,
            right_um=self.right_um - um,
            bottom_um=self.bottom_um - um,
            left_um=self.left_um - um,
        )

    @property
    def mirrored(self) -> "Edges":
        """The same edges with the board turned over, top still at the top."""
        return replace(self, left_um=self.right_um, right_um=self.left_um)

    def named(self) -> tuple[tuple[str, int], ...]:
        return (("top", self.top_um), ("right", self.right_um), ("bottom", self.bottom_um), ("left", self.left_um))


@dataclass(frozen=True)
class Weighted:
    """The bottom border wider than the top by this share, in hundredths of a per cent; 0 is equal."""

    by_bp: int = 0

    def top_share(self, outer: Size, inner: Size) -> Fraction:
        return 1 / (2 + Fraction(self.by_bp, 10_000))


@dataclass(frozen=True)
class Ratio:
    """Bottom to top, as in 3:1."""

    bottom: Fraction
    top: Fraction = Fraction(1)

    def top_share(self, outer: Size, inner: Size) -> Fraction:
        return self.top / (self.bottom + self.top)


def parse_ratio(text: str, field: str = "placing") -> Ratio:
    """Bottom to top as typed: '3:1', '1.5 : 1', or the first figure alone. Raises Refusal."""
    found = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(?::\s*([0-9]+(?:\.[0-9]+)?)\s*)?", text)
    if found is None or not Fraction(found[1]) or not Fraction(found[2] or 1):
        raise Refusal(f"“{text}” is not a ratio. Write bottom to top, such as 3:1.", field=field)
    return Ratio(Fraction(found[1]), Fraction(found[2] or 1))


@dataclass(frozen=True)
class Diagonal:
    """By construction: the window, laid into the top left corner, gives a line from its lower left corner to the
    middle of the gap on the right-hand edge; where that line meets half the side gap the lower right corner sits.
    """

    def top_share(self, outer: Size, inner: Size) -> Fraction:
        return Fraction(outer.width_um + inner.width_um, 4 * outer.width_um)


Placing = Weighted | Ratio | Diagonal
EQUAL = Weighted()


def placed(outer: Size, inner: Size, left_share: Fraction, top_share: Fraction, unit: Unit) -> Edges:
    """The borders: left and top are rounded to the plan's step, right and bottom take the rest."""
    across, down = outer.width_um - inner.width_um, outer.height_um - inner.height_um
    left = min(across, rounded(across * left_share, unit))
    top = min(down, rounded(down * top_share, unit))
    return Edges(top_um=top, right_um=across - left, bottom_um=down - top, left_um=left)


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

    `buy_um`: the next even millimetre at or above it (common practice, no source).
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
        """'From the glass back: glazing 2 mm, mount 1.4 mm, backing 3 mm. With pins 9.4 mm: a frame 10 mm deep.'"""
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


def check_lengths(lengths: dict[str, int], what: str, field: str) -> None:
    """Raises Refusal for a side under 1 mm or over 10 m."""
    for name, um in lengths.items():
        if not 1_000 <= um <= 10_000_000:
            raise Refusal(f"{what} measures between 1 mm and 10 m. Measure it again.", field=f"{field}.{name}")


def check_size(size: Size, what: str, field: str) -> None:
    """Raises Refusal as `check_lengths` does."""
    check_lengths({"width_um": size.width_um, "height_um": size.height_um}, what, field)

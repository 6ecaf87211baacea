"""Paper being printed: lengths in mm from the top left corner of the present place, type in points."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from threading import Lock
from typing import Any, Literal

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from ledger.paper import attachments, faces

INK, GRAPHITE, HAIRLINE, DOT, WHITE = "#191B1E", "#50555A", "#AEB5BA", "#AE1620", "#FFFFFF"
MM = faces.POINTS_A_MM

_colour = cache(HexColor)  # ReportLab reads a colour's name anew for every line of text

rl_config.useA85 = 0  # so that a JPEG goes into the PDF byte for byte

# A face's own reading position is shared while its letters are being embedded: one paper at a time.
_one_at_a_time = Lock()


class Sheet:
    """What the papers draw with; made by `press`, which gives the finished bytes."""

    def __init__(self, canvas: Any) -> None:
        self.canvas = canvas

    @contextmanager
    def page(self, width_mm: float, height_mm: float) -> Iterator[None]:
        """One page of this size."""
        self.canvas.setPageSize((width_mm * MM, height_mm * MM))
        self.canvas.saveState()
        self.canvas.translate(0, height_mm * MM)
        yield
        self.canvas.restoreState()
        self.canvas.showPage()

    @contextmanager
    def place(self, x: float, y: float, scale: float = 1) -> Iterator[None]:
        """A place on the page, or within another place, with its own corner and scale."""
        self.canvas.saveState()
        self.canvas.translate(x * MM, -y * MM)
        self.canvas.scale(scale, scale)
        yield
        self.canvas.restoreState()

    @contextmanager
    def clipped(self, width: float, height: float, slack: float = 0) -> Iterator[None]:
        """Only what lies within this width and height of the present corner is drawn, and `slack` around it."""
        self.canvas.saveState()
        path = self.canvas.beginPath()
        path.rect(-slack * MM, -(height + slack) * MM, (width + 2 * slack) * MM, (height + 2 * slack) * MM)
        self.canvas.clipPath(path, stroke=0, fill=0)
        yield
        self.canvas.restoreState()

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        italic: bool = False,
        colour: str = INK,
        spacing: float = 0,
        align: Literal["left", "centre", "right"] = "left",
    ) -> None:
        """One line of text standing on y."""
        line = faces.folded(text)
        share = {"left": 0.0, "centre": 0.5, "right": 1.0}[align]
        x -= share * faces.width_mm(line, size, italic=italic, spacing=spacing)
        self.canvas.setFillColor(_colour(colour))
        words = self.canvas.beginText(x * MM, -y * MM)
        words.setFont(faces.name_of(italic), size)
        words.setCharSpace(spacing)  # always: letter spacing outlives the text it is meant for
        words.textOut(line)
        self.canvas.drawText(words)

    def rule(self, x1: float, x2: float, y: float, width: float, colour: str = INK) -> None:
        """A level line, `width` in points."""
        self.shape(((x1, y), (x2, y)), width=width, stroke=colour)

    def shape(
        self,
        points: Sequence[tuple[float, float]],
        *,
        width: float,
        closed: bool = False,
        fill: str | None = None,
        stroke: str = INK,
        dash: Sequence[float] = (),
    ) -> None:
        """Straight lines from point to point, `width` and `dash` in points."""
        path = self.canvas.beginPath()
        path.moveTo(points[0][0] * MM, -points[0][1] * MM)
        for x, y in points[1:]:
            path.lineTo(x * MM, -y * MM)
        if closed:
            path.close()
        self._pen(width, stroke, fill, dash)
        self.canvas.drawPath(path, stroke=1, fill=int(fill is not None))
        self.canvas.restoreState()

    def ring(
        self,
        x: float,
        y: float,
        radius: float,
        *,
        width: float,
        fill: str | None = None,
        stroke: str = INK,
        dash: Sequence[float] = (),
    ) -> None:
        """A circle about x, y; `width` in points."""
        self._pen(width, stroke, fill, dash)
        self.canvas.circle(x * MM, -y * MM, radius * MM, stroke=int(width > 0), fill=int(fill is not None))
        self.canvas.restoreState()

    def _pen(self, width: float, stroke: str, fill: str | None, dash: Sequence[float]) -> None:
        self.canvas.saveState()
        self.canvas.setLineWidth(width)
        self.canvas.setStrokeColor(_colour(stroke))
        if fill is not None:
            self.canvas.setFillColor(_colour(fill))
        if dash:
            self.canvas.setDash(list(dash))

    def picture(self, path: Path, px: tuple[int, int], x: float, y: float, side: float) -> None:
        """The picture, whole, in the top left corner of a square place of `side` mm, with a fine edge.

        Given by its file name, so that a JPEG is kept as it is, and once however often it is printed.
        """
        scale = side / max(px)
        wide, high = px[0] * scale, px[1] * scale
        self.canvas.drawImage(str(path), x * MM, -(y + high) * MM, wide * MM, high * MM)
        corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        self.shape(corners, width=0.25, closed=True, stroke=GRAPHITE)


@dataclass(frozen=True)
class Line:
    """One line of text set and not yet drawn; right of it, or else left of it, is x."""

    x: float
    y: float
    text: str
    size: float
    italic: bool = False
    colour: str = INK
    spacing: float = 0
    right: bool = False

    def draw(self, sheet: Sheet) -> None:
        sheet.text(
            self.x,
            self.y,
            self.text,
            self.size,
            italic=self.italic,
            colour=self.colour,
            spacing=self.spacing,
            align="right" if self.right else "left",
        )


class Press:
    """Holds the bytes once the paper is finished."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.pdf = b""


@contextmanager
def press(title: str, files: Mapping[str, bytes] | None = None) -> Iterator[Press]:
    """A paper with this title, and these files in it: draw on `sheet` inside, read `pdf` after.

    Same words, same bytes.
    """
    for name in (faces.REGULAR, faces.ITALIC):
        faces.face(name)
    with _one_at_a_time:
        canvas = Canvas(BytesIO(), invariant=1, initialFontName=faces.REGULAR, lang="en-GB")
        canvas.setTitle(title)
        printing = Press(Sheet(canvas))
        yield printing
        attachments.attach(canvas, files or {})
        printing.pdf = canvas.getpdfdata()

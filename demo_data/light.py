"""Drawing with light, from 0 (black) to 1 (paper white), in floating point: a soft sky has no steps."""

import math
from collections.abc import Callable
from itertools import pairwise
from random import Random

from PIL import Image, ImageDraw, ImageFilter, ImageMath

Size = tuple[int, int]
Point = tuple[float, float]
Pen = ImageDraw.ImageDraw
At = Callable[[float, float], Point]
"""Turns a place in shares of the picture's sides into the pen's own."""
Sketch = Callable[[Pen, At, float], None]
"""Draws with the pen; the last is the pen's width of the picture."""


def level(size: Size, light: float) -> Image.Image:
    return Image.new("F", size, light)


def drawn(size: Size, cells: Size, light: Callable[[float, float], float]) -> Image.Image:
    """A smooth light given by a function of (across, down), reckoned on a few cells and spread out."""
    wide, high = cells
    small = Image.new("F", cells)
    small.putdata([light((x + 0.5) / wide, (y + 0.5) / high) for y in range(high) for x in range(wide)])
    return small.resize(size, Image.Resampling.BICUBIC)


def glow(size: Size, centre: Point, spread: Point) -> Image.Image:
    """Light that is 1 at the centre and dies away, slower the wider the spread."""
    (x0, y0), (wide, high) = centre, spread
    return drawn(size, (100, 150), lambda x, y: math.exp(-(((x - x0) / wide) ** 2) - ((y - y0) / high) ** 2))


def down(size: Size, light: Callable[[float], float]) -> Image.Image:
    """A light that changes from the top to the bottom only."""
    return drawn(size, (1, size[1]), lambda _, y: light(y))


def cloud(chance: Random, size: Size, cells: Size, octaves: int = 5, gain: float = 0.5) -> Image.Image:
    """Soft noise around 0, mostly within -1 and 1: coarse cells first, each octave twice as fine."""
    total, weight = level(size, 0), 0.0
    for octave in range(octaves):
        wide, high = (min(cell << octave, side) for cell, side in zip(cells, size, strict=True))
        grain = Image.frombytes("L", (wide + 2, high + 2), chance.randbytes((wide + 2) * (high + 2)))
        soft = grain.convert("F").resize(size, Image.Resampling.BICUBIC, box=(1, 1, wide + 1, high + 1))
        total = reckon(lambda v, share=gain**octave: v["total"] + v["soft"] * share, total=total, soft=soft)
        weight += 127.5 * gain**octave
    return reckon(lambda v: (v["total"] - weight) / (weight * 0.6), total=total)


def reckon(sum_: Callable[[dict[str, object]], object], **images: Image.Image) -> Image.Image:
    return ImageMath.lambda_eval(lambda v: v["float"](sum_(v)), **images)


def mixed(under: Image.Image, over: Image.Image, amount: Image.Image) -> Image.Image:
    return reckon(lambda v: v["a"] + (v["b"] - v["a"]) * v["m"], a=under, b=over, m=amount)


def times(*images: Image.Image) -> Image.Image:
    product = images[0]
    for image in images[1:]:
        product = reckon(lambda v: v["a"] * v["b"], a=product, b=image)
    return product


def plus(image: Image.Image, other: Image.Image, share: float = 1.0) -> Image.Image:
    return reckon(lambda v: v["a"] + v["b"] * share, a=image, b=other)


def shape(size: Size, sketch: Sketch, blur: float = 0.0) -> Image.Image:
    """1 where the sketch draws and 0 elsewhere. It is given places as shares of the picture's sides."""
    fine = 2
    paper = Image.new("L", (size[0] * fine, size[1] * fine))
    sketch(ImageDraw.Draw(paper), lambda x, y: (x * paper.width, y * paper.height), paper.width)
    soft = paper.resize(size, Image.Resampling.BOX)
    if blur:
        soft = soft.filter(ImageFilter.GaussianBlur(blur * size[0]))
    return soft.convert("F").point(lambda value: value * (1 / 255) + 0)


def laid_flat(texture: Image.Image, size: Size, horizon: float, eye: float = 0.06) -> Image.Image:
    """Bands lying on the ground below the horizon; a small `eye` draws them together towards it."""
    wide, high = size
    top, strips = horizon * high, 300
    rows = [round(top + (high - top) * (step / strips) ** 2) for step in range(strips + 1)]

    def source(row: float) -> float:
        below = max(0.0, row - top) / (high - top)
        return texture.height * below * (1 + eye) / (below + eye)

    mesh = []
    for upper, lower in pairwise(rows):
        if lower > upper:
            first, last = source(upper), source(lower)
            mesh.append(((0, upper, wide, lower), (0, first, 0, last, texture.width, last, texture.width, first)))
    return texture.transform(size, Image.Transform.MESH, mesh, Image.Resampling.BICUBIC)


def finish(chance: Random, light: Image.Image, vignette: float = 0.25, grain: float = 0.011) -> Image.Image:
    """The print: darker corners, a gentle curve, grain."""
    size = light.size
    corners = drawn(size, (60, 60), lambda x, y: 1 - vignette * min(1.0, ((x - 0.5) ** 2 + (y - 0.5) ** 2) * 2) ** 1.3)
    speck = Image.frombytes("L", size, chance.randbytes(size[0] * size[1])).filter(ImageFilter.GaussianBlur(1.2))
    # 16 is about the spread of the blurred specks
    grainy = reckon(
        lambda v: (v["light"] * v["corners"] + (v["speck"] - 127.5) * (grain / 16)) * 255 + 0.5,
        light=light, corners=corners, speck=speck.convert("F"),
    )  # fmt: skip
    return grainy.convert("L")


def polygon(points: list[Point]) -> Sketch:
    return lambda pen, at, _: pen.polygon([at(*point) for point in points], fill=255)

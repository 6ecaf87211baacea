"""Draws the pictures of the demonstration: invented places, seen as long exposures in black and white.

Run `python demo_data/make_pictures.py` to draw them all again into `demo_data/pictures/`, or name some.
Every length is a share of the picture, so that a picture can be drawn at any size.
"""

import io
import math
import sys
from collections.abc import Callable
from pathlib import Path
from random import Random

from light import (
    At,
    Pen,
    Point,
    Size,
    Sketch,
    cloud,
    down,
    drawn,
    finish,
    glow,
    laid_flat,
    level,
    mixed,
    plus,
    polygon,
    reckon,
    shape,
    times,
)
from PIL import Image

FOLDER = Path(__file__).parent / "pictures"
MAKER = "Ottoline Marrack-Voe"
LONG_SIDE = 2400
MOST_BYTES = 345_000


# Things seen


def ridge(chance: Random, span: Point, base: float, high: float, lean: float = 1.0, crag: float = 0.2) -> list[Point]:
    """The outline of an island: `lean` below 1 sets its summit to the left, above 1 to the right."""
    left, right = span
    waves = [
        (chance.uniform(0.5, 1) / n, n * math.pi, chance.uniform(0, math.tau)) for n in (2, 3, 5, 8, 13, 21, 34, 55)
    ]
    points = [(left, base)]
    for step in range(241):
        t = step / 240
        body = 0.72 * math.sin(math.pi * t**lean) ** 2 + 0.28 * math.sin(math.pi * t) ** 0.6
        rough = 1 + crag * sum(size * math.sin(rate * t + shift) for size, rate, shift in waves)
        points.append((left + (right - left) * t, base - high * max(0.0, body * rough)))
    return [*points, (right, base)]


def mirrored(points: list[Point], base: float, stretch: float = 1.0) -> list[Point]:
    return [(x, base + (base - y) * stretch) for x, y in points]


def sky(chance: Random, size: Size, horizon: float, top: float, low: float, streaks: float) -> Image.Image:
    """Dark above, light at the horizon, clouds drawn out by the wind of a long exposure."""
    air = down(size, lambda y: top + (low - top) * min(1.0, y / horizon) ** 1.6)
    wind = cloud(chance, size, (2, 5), 6, 0.55)
    return reckon(lambda v: v["air"] * (1 + v["wind"] * streaks), air=air, wind=wind)


def sea(chance: Random, size: Size, horizon: float, far: float, near: float, streaks: float) -> Image.Image:
    """Water smoothed by time: level bands that widen towards the viewer."""
    bands = laid_flat(cloud(chance, (size[0], 1200), (3, 26), 6, 0.62), size, horizon)
    bands = times(bands, down(size, lambda y: min(1.0, 0.15 + max(0.0, y - horizon) * 9)))  # far ones run together
    depth = down(size, lambda y: far + (near - far) * max(0.0, (y - horizon) / (1 - horizon)) ** 0.6)
    return reckon(lambda v: v["depth"] * (1 + v["bands"] * streaks), depth=depth, bands=bands)


def below(size: Size, horizon: float) -> Image.Image:
    return shape(size, lambda pen, at, _: pen.rectangle((*at(0, horizon), *at(1, 1)), fill=255))


def land(chance: Random, light: Image.Image, outline: list[Point], base: float, tone: float = 0.055) -> Image.Image:
    """An island with a little light on its slopes, its foot in mist, and its dim image in the water."""
    size = light.size
    slopes = reckon(lambda v: tone * (1 + v["rock"] * 0.5), rock=cloud(chance, size, (12, 16), 6, 0.7))
    image = shape(size, polygon(mirrored(outline, base, 0.75)), 0.008)
    fading = down(size, lambda y: 0.62 * max(0.0, 1 - max(0.0, y - base) * 7))
    light = mixed(light, level(size, tone), times(image, fading))
    light = mixed(light, slopes, shape(size, polygon(outline), 0.0005))
    mist = drawn(size, (90, 240), lambda x, y: 0.34 * math.exp(-(((y - base) / 0.013) ** 2)))
    return mixed(light, level(size, 0.6), times(mist, shape(size, polygon(outline), 0.02)))


# The pictures


def forty_minutes_of_road(chance: Random, size: Size) -> Image.Image:
    horizon = 0.37
    light = sky(chance, size, horizon, 0.17, 0.8, 0.42)
    blaze = glow(size, (0.62, horizon), (0.3, 0.15))
    light = plus(light, blaze, 0.22)
    water = sea(chance, size, horizon, 0.52, 0.12, 0.5)
    shine = glow(size, (0.63, horizon), (0.13, 0.2))
    light = mixed(light, plus(water, shine, 0.28), below(size, horizon))
    light = land(chance, light, ridge(chance, (0.36, 0.92), horizon + 0.002, 0.082, 1.25, 0.22), horizon)

    def depth(y: float) -> float:
        return max(0.0, (y - horizon) / (1 - horizon))

    def middle(t: float) -> Point:  # t runs from the near edge to the island
        y = 1.03 - (1.03 - horizon) * t
        return 0.47 - 0.2 * math.sin(math.pi * min(1, t * 1.02)) * (1 - t) ** 0.35 + 0.16 * t**1.6, y

    def side(which: int, spread: float, rough: float) -> list[Point]:
        spots = (middle(step / 399) for step in range(400))
        return [
            (x + which * spread * (0.005 + 0.2 * depth(y) ** 1.25) * (1 + chance.gauss(0, rough)), y) for x, y in spots
        ]

    def road(spread: float, rough: float = 0.0) -> Sketch:
        return polygon(side(-1, spread, rough) + side(1, spread, rough)[::-1])

    wet = laid_flat(cloud(chance, (1400, 1400), (6, 90), 5, 0.6), size, horizon)
    pools = laid_flat(cloud(chance, (1400, 1400), (9, 22), 4, 0.5), size, horizon)
    surface = reckon(
        lambda v: v["far"] * (1 + v["wet"] * 0.13 + v["pools"] * 0.12),
        far=down(size, lambda y: 0.94 - 0.34 * depth(y) ** 1.3), wet=wet, pools=pools,
    )  # fmt: skip
    light = mixed(light, level(size, 0.045), times(shape(size, road(1.3), 0.012), level(size, 0.7)))
    light = mixed(light, level(size, 0.3), shape(size, road(1.05, 0.025), 0.0012))
    light = mixed(light, surface, shape(size, road(0.97, 0.012), 0.0016))

    def posts(pen: Pen, at: At, scale: float) -> None:
        nearness = 0.42
        while nearness > 0.01:
            x, y = min(side(1, 1.13, 0), key=lambda spot: abs(depth(spot[1]) - nearness))
            pen.line([at(x, y), at(x, y - 0.16 * nearness - 0.003)], 255, max(2, round(0.011 * nearness * scale)))
            nearness *= 0.62

    light = mixed(light, level(size, 0.03), shape(size, posts, 0.0004))
    return finish(chance, light)


def half_sunk_bell(chance: Random, light: Image.Image, cx: float, cy: float) -> Image.Image:
    size, tall = light.size, light.height / light.width

    def half(t: float) -> float:  # the bell's half width, from its shoulder (0) to its lip (1)
        dome = math.sqrt(1 - (1 - min(1.0, t / 0.2)) ** 2)
        return dome * (0.054 + 0.026 * t + 0.075 * t**3.4)

    high, lean = 0.19, math.radians(-7)

    def placed(across: float, up: float) -> Point:  # in widths, leaning about the water line
        x = across * math.cos(lean) - up * math.sin(lean)
        y = across * math.sin(lean) + up * math.cos(lean)
        return cx + x, cy - y / tall

    crown, sunk = high * tall * 1.02, 0.035

    def up(t: float) -> float:
        return crown - (crown + sunk) * t

    body = [(half(step / 80), up(step / 80)) for step in range(81)]
    outline = [placed(-w, u) for w, u in body[::-1]] + [placed(w, u) for w, u in body]
    # the water line is level and bulges towards the viewer
    bulge = [(cx + 0.17 * math.cos(a), cy + 0.02 * math.sin(a)) for a in (math.pi * n / 60 for n in range(61))]
    dry = shape(size, polygon([(0.0, 0.0), (1.0, 0.0), (1.0, cy), *bulge, (0.0, cy)]), 0.001)

    def loop(pen: Pen, at: At, scale: float) -> None:
        x, y = at(*placed(0, crown + 0.028))
        pen.ellipse(
            (x - 0.03 * scale, y - 0.034 * scale, x + 0.03 * scale, y + 0.034 * scale),
            outline=255,
            width=round(0.014 * scale),
        )

    def wavering(points: list[Point]) -> list[Point]:
        return [(x + 0.016 * math.sin((y - cy) * 95) * min(1, abs(y - cy) * 9), 2 * cy + 0.012 - y) for x, y in points]

    fading = down(size, lambda y: 0.85 * max(0.0, 1 - max(0.0, y - cy) * 4.2))
    light = mixed(light, level(size, 0.025), times(shape(size, polygon(wavering(outline)), 0.003), fading))
    rust = cloud(chance, size, (20, 30), 5, 0.7)
    turn = plus(
        drawn(size, (300, 200), lambda x, y: 0.3 * math.exp(-(((x - cx + 0.035 + (y - cy) * 0.12) / 0.02) ** 2))),
        glow(size, (cx + 0.085, cy), (0.03, 9)),
        0.09,
    )
    bronze = reckon(lambda v: (0.03 + v["turn"]) * (1 + v["rust"] * 0.35), turn=turn, rust=rust)
    light = mixed(light, level(size, 0.03), shape(size, loop, 0.0006))
    light = mixed(light, bronze, times(shape(size, polygon(outline), 0.0007), dry))

    def mouldings(pen: Pen, at: At, scale: float) -> None:
        for t in (0.24, 0.27, 0.7, 0.74):
            w, u = half(t), up(t)
            bow = [
                placed(w * math.sin(a), u - w * 0.13 * math.cos(a))
                for a in (math.pi * n / 60 - math.pi / 2 for n in range(61))
            ]
            pen.line([at(*point) for point in bow], 255, max(2, round(0.0035 * scale)))

    return mixed(light, level(size, 0.02), times(shape(size, mouldings, 0.0005), level(size, 0.75)))


def the_bell_below_thessrow(chance: Random, size: Size) -> Image.Image:
    horizon, tall = 0.31, size[1] / size[0]
    light = sky(chance, size, horizon, 0.24, 0.72, 0.25)
    blaze = glow(size, (0.5, horizon), (0.32, 0.12))
    light = plus(light, blaze, 0.25)
    water = sea(chance, size, horizon, 0.4, 0.07, 0.28)
    path = glow(size, (0.5, horizon), (0.16, 0.24))
    water = plus(water, path, 0.3)
    cx, cy = 0.5, 0.66

    def rings(x: float, y: float) -> float:
        far = math.hypot(x - cx, (y - cy) * tall * (2.7 if y < cy else 2.3))
        return math.cos(math.tau * (far / 0.052) ** 0.93) * math.exp(-far * 4.2) * (1 - math.exp(-far * 14))

    water = plus(water, times(drawn(size, (480, 720), rings), down(size, lambda y: 0.28 - 0.1 * y)), 1.0)
    light = mixed(light, water, below(size, horizon))
    light = land(chance, light, ridge(chance, (0.04, 0.37), horizon + 0.001, 0.03, 0.8, 0.35), horizon, 0.1)
    light = land(chance, light, ridge(chance, (0.39, 0.45), horizon + 0.001, 0.008), horizon, 0.1)

    light = half_sunk_bell(chance, light, cx, cy)
    return finish(chance, light, 0.35)


def flock(chance: Random) -> list[tuple[float, float, float]]:
    """Where each sheep walks (across), how tall it is, where it is in its step. The last is left behind."""
    walking, x = [], 0.86
    for number in range(10):
        lamb = number in (3, 8)
        walking.append((x, 0.029 if lamb else chance.uniform(0.047, 0.053), chance.uniform(0, math.tau)))
        x -= 0.058 if lamb else chance.uniform(0.068, 0.088)
    return [*walking, (x - 0.05, 0.05, 0.4)]


def sheep(pen: Pen, at: At, x: float, y: float, high: float, step: float) -> None:
    """One, walking to the right; y is the ground; with a height below 0 it hangs upside down."""

    def spot(across: float, up: float) -> Point:
        return at(x + across * abs(high), y - up * high)

    def blob(across: float, up: float, wide: float, tall: float) -> None:
        (left, top), (right, bottom) = sorted_box(spot(across - wide, up + tall), spot(across + wide, up - tall))
        pen.ellipse((left, top, right, bottom), fill=255)

    unit = abs(spot(1, 0)[0] - spot(0, 0)[0])
    for hip, swing in ((-0.42, 0), (-0.3, math.pi), (0.3, math.pi), (0.42, 0)):
        foot = hip + 0.13 * math.sin(step + swing)
        pen.line(
            [spot(hip, 0.45), spot((hip + foot) / 2 + 0.02, 0.22), spot(foot, 0)], 255, max(2, round(unit * 0.085))
        )
    blob(0, 0.67, 0.6, 0.28)
    for bump in range(14):
        angle = math.tau * bump / 14
        blob(0.5 * math.cos(angle), 0.68 + 0.19 * math.sin(angle), 0.15, 0.13)
    pen.line([spot(0.5, 0.7), spot(0.78, 0.78)], 255, max(2, round(unit * 0.24)))
    pen.polygon([spot(0.68, 0.95), spot(0.82, 0.93), spot(1.03, 0.66), spot(0.94, 0.58), spot(0.72, 0.68)], fill=255)
    pen.polygon([spot(0.72, 0.9), spot(0.56, 0.84), spot(0.68, 0.78)], fill=255)


def sorted_box(one: Point, other: Point) -> tuple[Point, Point]:
    return (min(one[0], other[0]), min(one[1], other[1])), (max(one[0], other[0]), max(one[1], other[1]))


def sheep_walking_home(chance: Random, size: Size) -> Image.Image:
    horizon = 0.4
    light = sky(chance, size, horizon, 0.74, 1.0, 0.13)
    sand = sea(chance, size, horizon, 0.98, 0.72, 0.12)
    light = mixed(light, sand, below(size, horizon))
    light = land(chance, light, ridge(chance, (0.5, 1.25), horizon + 0.002, 0.12, 0.9, 0.16), horizon, 0.4)
    light = land(chance, light, ridge(chance, (-0.1, 0.2), horizon + 0.001, 0.02), horizon, 0.72)

    def path(x: float) -> float:
        return 0.6 - 0.035 * x + 0.006 * math.sin(x * 9)

    steps = [n / 400 for n in range(401)]
    top = [(x, path(x) + chance.gauss(0, 0.0006)) for x in steps]
    foot = [(x, path(x) + 0.017 + 0.012 * (1 - x) + chance.gauss(0, 0.0011)) for x in steps]
    image = [(x, y + 0.05) for x, y in foot]
    walkers = flock(chance)

    def walking(pen: Pen, at: At, scale: float) -> None:
        for x, high, step in walkers:
            sheep(pen, at, x, path(x) + 0.002, high, step)

    def mirrored_walking(pen: Pen, at: At, scale: float) -> None:
        for x, high, step in walkers:
            sheep(pen, at, x, path(x) + 0.05, -high * 0.9, step)

    light = mixed(light, level(size, 0.25), times(shape(size, polygon(foot + image[::-1]), 0.004), level(size, 0.5)))
    light = mixed(light, level(size, 0.2), times(shape(size, mirrored_walking, 0.0022), level(size, 0.5)))
    stones = reckon(lambda v: 0.16 * (1 + v["stone"] * 0.6), stone=cloud(chance, size, (90, 300), 3, 0.8))
    light = mixed(light, stones, shape(size, polygon(top + foot[::-1]), 0.0005))
    light = mixed(light, level(size, 0.07), shape(size, walking, 0.0004))

    # the water comes in from the left, with a thin bright edge
    def tide(shift: float) -> Sketch:
        edge = [
            (0.9 - 1.05 * t**1.2 + 0.05 * math.sin(t * 11) + shift, 1.01 - 0.3 * t)
            for t in (n / 200 for n in range(201))
        ]
        return polygon([*edge, (-0.3, 0.71), (-0.3, 1.01)])

    deep = sea(chance, size, horizon, 0.5, 0.22, 0.35)
    light = mixed(light, level(size, 0.97), times(shape(size, tide(0.012), 0.003), level(size, 0.7)))
    light = mixed(light, deep, times(shape(size, tide(0), 0.004), down(size, lambda y: 0.55 + 0.4 * y)))
    return finish(chance, light, 0.1, 0.009)


def island_for_six_hours(chance: Random, size: Size) -> Image.Image:
    horizon = 0.74
    night = down(size, lambda y: 0.05 + 0.42 * min(1.0, y / horizon) ** 3.0)
    light = reckon(lambda v: v["night"] * (1 + v["veil"] * 0.2), night=night, veil=cloud(chance, size, (2, 3), 5, 0.5))
    pole = (0.36, 0.3)

    def trails(many: int, width: float) -> Sketch:
        stars = [(0.012 + 1.15 * chance.random() ** 0.62, chance.uniform(0, 360)) for _ in range(many)]

        def arcs(pen: Pen, at: At, scale: float) -> None:
            x, y = at(*pole)
            for far, begins in stars:  # six hours turn the sky by a quarter
                ring = far * scale
                pen.arc(
                    (x - ring, y - ring, x + ring, y + ring), begins, begins + 90, 255, max(2, round(width * scale))
                )

        return arcs

    haze = down(size, lambda y: 1 - min(1.0, y / horizon) ** 5)
    for many, width, bright in ((260, 0.001, 0.2), (150, 0.0014, 0.42), (60, 0.002, 0.75)):
        light = plus(light, times(shape(size, trails(many, width), 0.0003), haze), bright)
    light = plus(
        light,
        shape(size, lambda pen, at, s: pen.ellipse((*at(0.357, 0.2976), *at(0.363, 0.3024)), fill=255), 0.001),
        0.7,
    )
    water = sea(chance, size, horizon, 0.42, 0.1, 0.3)
    light = mixed(light, water, below(size, horizon))
    outline = ridge(chance, (0.22, 0.9), horizon + 0.004, 0.17, 1.35, 0.24)
    light = land(chance, light, outline, horizon, 0.03)

    def surf(x: float, y: float) -> float:
        aside = max(0.0, 0.24 - x, x - 0.88) / 0.07
        return 0.8 * math.exp(-(((y - horizon - 0.008) / 0.014) ** 2) - aside**2)

    foam = drawn(size, (200, 250), surf)
    breath = reckon(
        lambda v: v["foam"] * (0.8 + v["soft"] * 0.45), foam=foam, soft=cloud(chance, size, (9, 14), 5, 0.5)
    )
    light = mixed(light, level(size, 0.72), breath)

    def window(pen: Pen, at: At, scale: float) -> None:
        pen.rectangle((*at(0.424, 0.677), *at(0.432, 0.685)), fill=255)

    light = plus(light, shape(size, window, 0.012), 2.2)
    light = mixed(light, level(size, 1.0), shape(size, window, 0.0006))
    lane = drawn(
        size,
        (160, 200),
        lambda x, y: 0.2 * math.exp(-(((x - 0.428) / 0.012) ** 2)) * max(0.0, 1 - abs(y - 0.82) / 0.07),
    )
    return finish(chance, plus(light, lane), 0.3)


def poles_and_wires(ground: Callable[[float, float, float], Point]) -> Sketch:
    poles = [1.28 * 1.5**n for n in range(10)]

    def wires(pen: Pen, at: At, scale: float) -> None:
        for far in poles:
            pen.line(
                [at(*ground(-0.5, far, -0.02)), at(*ground(-0.5, far, 0.98))], 255, max(2, round(0.017 * scale / far))
            )
            for up in (0.93, 0.84):
                pen.line(
                    [at(*ground(-0.57, far, up)), at(*ground(-0.43, far, up))], 255, max(2, round(0.01 * scale / far))
                )
        for across, up in ((-0.56, 0.945), (-0.44, 0.945), (-0.56, 0.855), (-0.44, 0.855)):
            for near, far in zip([0.6, *poles], poles, strict=False):
                spans = [(near + (far - near) * n / 40, n / 40) for n in range(41)]
                slack = [at(*ground(across, d, up - 0.13 * t * (1 - t))) for d, t in spans]
                pen.line(slack, 255, max(2, round(0.0022 * scale / near)))

    return wires


def standing_stones(ground: Callable[[float, float, float], Point]) -> Sketch:
    def stones(pen: Pen, at: At, scale: float) -> None:
        far = 1.0
        while far < 30:
            pen.polygon(
                [at(*ground(0.42 + dx, far, up)) for dx, up in ((-0.02, 0), (-0.017, 0.12), (0.017, 0.125), (0.02, 0))],
                fill=255,
            )
            far *= 1.19

    return stones


def postman(ground: Callable[[float, float, float], Point], sign: float) -> Sketch:
    """He rides away from us; a sign of -1 hangs him upside down, as his image in the wet road."""

    def rider(pen: Pen, at: At, scale: float) -> None:
        def blob(x: float, up: float, wide: float, tall: float) -> None:
            corners = sorted_box(
                at(*ground(x - wide, 5.2, sign * (up + tall))), at(*ground(x + wide, 5.2, sign * (up - tall)))
            )
            pen.ellipse((*corners[0], *corners[1]), fill=255)

        def bar(x: float, up: float, x2: float, up2: float, thick: float) -> None:
            ends = [at(*ground(x, 5.2, sign * up)), at(*ground(x2, 5.2, sign * up2))]
            pen.line(ends, 255, max(2, round(thick * scale / 5.2)))

        x = 0.04
        blob(x, 0.15, 0.014, 0.15)
        bar(x - 0.035, 0.3, x - 0.05, 0.12, 0.035)
        bar(x + 0.035, 0.3, x + 0.045, 0.2, 0.035)
        blob(x, 0.44, 0.066, 0.16)
        bar(x - 0.055, 0.52, x - 0.1, 0.36, 0.03)
        bar(x + 0.055, 0.52, x + 0.1, 0.36, 0.03)
        bar(x - 0.11, 0.36, x + 0.11, 0.36, 0.014)
        blob(x + 0.065, 0.34, 0.05, 0.07)
        blob(x, 0.655, 0.034, 0.045)
        bar(x - 0.042, 0.685, x + 0.042, 0.685, 0.024)

    return rider


def the_postmans_causeway(chance: Random, size: Size) -> Image.Image:
    horizon, vx = 0.45, 0.52
    light = sky(chance, size, horizon, 0.1, 0.62, 0.6)
    gap = glow(size, (vx, horizon + 0.03), (0.42, 0.075))
    light = plus(light, gap, 0.42)
    light = mixed(light, sea(chance, size, horizon, 0.6, 0.2, 0.4), below(size, horizon))
    light = land(chance, light, ridge(chance, (0.28, 0.84), horizon + 0.002, 0.05, 0.85, 0.2), horizon, 0.075)

    def ground(across: float, far: float, up: float) -> Point:
        """A place on the road: across from its middle, how far away (1 is near), how high above it."""
        return vx + (across - 0.02) / far, horizon + (0.56 - up) / far

    def strip(left: float, right: float, rough: float = 0.0) -> Sketch:
        depths = [1.0 * 1.035**n for n in range(150)]
        one = [ground(left + chance.gauss(0, rough), far, 0) for far in depths]
        return polygon(one + [ground(right + chance.gauss(0, rough), far, 0) for far in depths][::-1])

    setts = laid_flat(cloud(chance, (1600, 1600), (60, 240), 3, 0.8), size, horizon)
    wet = laid_flat(cloud(chance, (1600, 1600), (5, 40), 5, 0.6), size, horizon)
    stone = reckon(
        lambda v: v["far"] * (1 + v["setts"] * 0.2 + v["wet"] * 0.25),
        far=down(size, lambda y: 0.55 - 0.36 * max(0.0, (y - horizon) / (1 - horizon)) ** 0.6),
        setts=setts,
        wet=wet,
    )
    light = mixed(light, level(size, 0.03), times(shape(size, strip(-0.42, 0.44), 0.006), level(size, 0.75)))
    light = mixed(light, stone, shape(size, strip(-0.36, 0.38, 0.006), 0.0006))
    shining = down(size, lambda y: 0.95 - 0.4 * max(0.0, (y - horizon) / (1 - horizon)) ** 0.8)
    ruts = [shape(size, strip(left, left + 0.12, 0.01), 0.004) for left in (-0.2, 0.1)]
    worn = reckon(lambda v: v["ruts"] * (0.75 + v["wet"] * 0.3), ruts=plus(*ruts), wet=wet)
    light = mixed(light, shining, worn)

    light = mixed(light, level(size, 0.05), times(shape(size, postman(ground, -1), 0.0015), level(size, 0.55)))
    light = mixed(light, level(size, 0.022), shape(size, postman(ground, 1), 0.0004))
    light = mixed(light, level(size, 0.04), shape(size, standing_stones(ground), 0.0006))
    light = mixed(light, level(size, 0.025), shape(size, poles_and_wires(ground), 0.0004))
    return finish(chance, light, 0.35)


Line = Callable[[float], float]


def weed_strands(chance: Random, lines: list[tuple[Line, float, int]], tall: float) -> list[tuple[list[Point], float]]:
    """Strands of weed along the tide lines, each its course and width, more in clumps."""
    strands: list[tuple[list[Point], float]] = []
    for line, thick, many in lines:
        clumps = [chance.random() for _ in range(26)]
        for _ in range(many):
            x = chance.gauss(chance.choice(clumps), 0.03) if chance.random() < 0.6 else chance.uniform(-0.02, 1.02)
            y = line(x) + chance.gauss(0, thick) - abs(chance.gauss(0, thick * 0.4))
            angle, bend = chance.gauss(0, 0.75), chance.gauss(0, 1.1)
            long = min(0.03, chance.lognormvariate(-5.2, 0.5) * (0.6 + thick * 25))
            strand = []
            for _ in range(9):
                strand.append((x, y))
                angle += bend / 8 + chance.gauss(0, 0.12)
                x, y = x + long * math.cos(angle) / 3, y + long * math.sin(angle) / 3 / tall
            strands.append((strand, chance.lognormvariate(-6.7, 0.5) * (0.8 + thick * 16)))
    return strands


def what_the_wrack_line_kept(chance: Random, size: Size) -> Image.Image:
    tall = size[1] / size[0]
    ripples = cloud(chance, size, (5, 34), 5, 0.6)
    light = reckon(
        lambda v: v["slope"] * (1 + v["ripples"] * 0.05 + v["damp"] * 0.07),
        slope=down(size, lambda y: 0.97 - 0.2 * y),
        ripples=ripples,
        damp=cloud(chance, size, (3, 3), 5, 0.55),
    )

    def tide_line(base: float, reach: float, shift: float) -> Line:
        return lambda x: (
            base + reach * (abs(math.sin(x * 5.2 + shift)) ** 1.4 - 0.5) + 0.03 * math.sin(x * 13 + shift * 2)
        )

    lines = [(tide_line(0.2, 0.07, 0.3), 0.006, 800), (tide_line(0.42, 0.11, 1.4), 0.012, 2200),
             (tide_line(0.5, 0.06, 2.9), 0.007, 800), (tide_line(0.74, 0.13, 0.9), 0.021, 5200)]  # fmt: skip
    for line, thick, _ in lines:
        wet = [(n / 200, line(n / 200)) for n in range(201)] + [(1.0, line(1) + 0.12), (0.0, line(0) + 0.12)]
        fade = shape(size, polygon(wet), 0.012)
        light = mixed(light, level(size, 0.5), times(fade, level(size, 3.2 * thick + 0.05)))

    strands = weed_strands(chance, lines, tall)

    def weed(shift: float, every: int = 1) -> Sketch:
        def strokes(pen: Pen, at: At, scale: float) -> None:
            for strand, width in strands[::every]:
                pen.line(
                    [at(x + shift, y + shift) for x, y in strand], 255, max(1, round(width * scale)), joint="curve"
                )

        return strokes

    light = mixed(light, level(size, 0.3), times(shape(size, weed(0.0026), 0.0024), level(size, 0.6)))
    tone = reckon(lambda v: 0.085 * (1 + v["gleam"] * 0.8), gleam=cloud(chance, size, (60, 45), 3, 0.7))
    light = mixed(light, tone, shape(size, weed(0), 0.0003))
    light = mixed(light, level(size, 0.34), times(shape(size, weed(-0.0006, 7), 0.0003), level(size, 0.8)))
    light = kept_things(light, tall)
    return finish(chance, light, 0.2, 0.009)


def kept_things(light: Image.Image, tall: float) -> Image.Image:
    """What the sea left among the weed: a gull's feather and four shells."""
    size = light.size
    start, angle, long = (0.615, 0.335), math.radians(-24), 0.135

    def along(t: float, aside: float) -> Point:
        x = long * t
        y = aside + 0.014 * math.sin(t * 2.6)
        return (
            start[0] + x * math.cos(angle) - y * math.sin(angle),
            start[1] + (x * math.sin(angle) + y * math.cos(angle)) / tall,
        )

    def vane(t: float) -> float:
        return 0.0145 * math.sin(math.pi * min(1, max(0, t - 0.16) / 0.84)) ** 0.6

    steps = [n / 60 for n in range(61)]
    outline = [along(t, -vane(t)) for t in steps] + [along(t, vane(t) * 0.72) for t in steps[::-1]]

    def barbs(pen: Pen, at: At, scale: float) -> None:
        pen.line([at(*along(t, 0)) for t in steps], 255, round(0.0018 * scale))
        for t in (0.34, 0.37, 0.62, 0.8):
            pen.line([at(*along(t, 0)), at(*along(t + 0.06, -vane(t)))], 255, round(0.0011 * scale))

    shells = ((0.285, 0.565, 0.011, 0.5), (0.31, 0.585, 0.007, 2.2), (0.845, 0.71, 0.012, 1.3), (0.5, 0.16, 0.007, 0.2))

    def fans(shift: float) -> Sketch:
        def draw(pen: Pen, at: At, scale: float) -> None:
            for x, y, half, turn in shells:
                rim = [(turn + math.pi * (n / 30 - 0.5) * 1.25, 1 + 0.05 * math.cos(n * 1.9)) for n in range(31)]
                points = [(x - half * 0.6 * math.cos(turn), y - half * 0.6 * math.sin(turn) / tall)]
                points += [(x + half * far * math.cos(a), y + half * far * math.sin(a) / tall) for a, far in rim]
                pen.polygon([at(px + shift, py + shift) for px, py in points], fill=255)

        return draw

    def ribs(pen: Pen, at: At, scale: float) -> None:
        for x, y, half, turn in shells:
            root = at(x - half * 0.6 * math.cos(turn), y - half * 0.6 * math.sin(turn) / tall)
            for n in range(-4, 5):
                a = turn + n * 0.4
                pen.line(
                    [root, at(x + half * 0.96 * math.cos(a), y + half * 0.96 * math.sin(a) / tall)],
                    255,
                    max(1, round(0.0007 * scale)),
                )

    shadow = [(x + 0.004, y + 0.006) for x, y in outline]
    light = mixed(light, level(size, 0.28), times(shape(size, polygon(shadow), 0.003), level(size, 0.6)))
    light = mixed(light, level(size, 0.28), times(shape(size, fans(0.003), 0.002), level(size, 0.65)))
    light = mixed(light, level(size, 0.97), shape(size, polygon(outline), 0.0008))
    light = mixed(light, level(size, 0.55), shape(size, barbs, 0.0004))
    light = mixed(light, level(size, 0.93), shape(size, fans(0), 0.0005))
    return mixed(light, level(size, 0.6), times(shape(size, ribs, 0.0004), level(size, 0.8)))


# name: title, width by height, when it was taken, how it is drawn
PICTURES: dict[str, tuple[str, float, str, Callable[[Random, Size], Image.Image]]] = {
    "forty-minutes-of-road": ("Forty Minutes of Road", 1, "2023:10:14 06:51:09", forty_minutes_of_road),
    "the-bell-below-thessrow": ("The Bell Below Thessrow", 2 / 3, "2022:11:05 16:20:41", the_bell_below_thessrow),
    "sheep-walking-home": ("Sheep Walking Home Before the Water", 1, "2024:05:19 05:38:12", sheep_walking_home),
    "island-for-six-hours": ("Island for Six Hours", 4 / 5, "2023:02:18 21:04:00", island_for_six_hours),
    "the-postmans-causeway": ("The Postman's Causeway", 1, "2010:09:30 07:12:55", the_postmans_causeway),
    "what-the-wrack-line-kept": ("What the Wrack Line Kept", 4 / 3, "2021:08:08 09:45:30", what_the_wrack_line_kept),
}


def write(name: str) -> None:
    """Draw one picture and save it as finely as fits, with its title, maker, date and rights inside."""
    title, ratio, taken, draw = PICTURES[name]
    size = (LONG_SIDE, round(LONG_SIDE / ratio)) if ratio >= 1 else (round(LONG_SIDE * ratio), LONG_SIDE)
    picture = draw(Random(title), size)
    exif = Image.Exif()
    exif[0x010E], exif[0x013B] = title, MAKER
    exif[0x8298] = f"© {taken[:4]} {MAKER}".encode()
    exif.get_ifd(0x8769)[0x9003] = taken
    for quality in range(92, 40, -2):
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=quality, optimize=True, progressive=True, exif=exif, dpi=(300, 300))
        if out.tell() <= MOST_BYTES:
            break
    (FOLDER / f"{name}.jpg").write_bytes(out.getvalue())
    print(f"{name}.jpg  {size[0]} x {size[1]} px  {out.tell() // 1000} kB  quality {quality}")


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for wanted in sys.argv[1:] or PICTURES:
        write(wanted)

"""The drawing of a mount plan on a page."""

import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import pytest

from ledger.reckoning.drawing import View
from ledger.reckoning.mount_floats import float_plan, frameless_plan
from ledger.reckoning.mount_geometry import window_plan
from ledger.reckoning.mount_plan import Double
from ledger.reckoning.mount_shapes import views
from ledger.web.pages import environment
from tests.reckoning.test_mount_floats import BARE, FLOAT
from tests.reckoning.test_mount_geometry import COVER, SIGNED

SVG = "{http://www.w3.org/2000/svg}"
VIEWS = [
    *views(window_plan(COVER)),
    *views(window_plan(replace(SIGNED, double=Double()))),
    *views(float_plan(FLOAT)),
    *views(frameless_plan(BARE)),
]


@pytest.mark.parametrize("view", [pytest.param(view, id=view.title) for view in VIEWS])
def test_a_drawing_says_in_words_what_it_shows_and_stays_in_its_box(view: View) -> None:
    template: Any = environment().get_template("parts/drawing.html").module
    drawn = str(template.drawing(view, "plan"))
    svg = ElementTree.fromstring(drawn.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1))
    assert svg.findtext(f"{SVG}title[@id='plan-title']") == view.title
    assert svg.findtext(f"{SVG}desc[@id='plan-desc']") == view.desc
    assert "style=" not in drawn
    words = [text.text for text in svg.findall(f"{SVG}text")]
    assert words == [each.words for each in view.dimensions] + [note.words for note in view.notes]
    _, _, width, height = map(float, svg.attrib["viewBox"].split())
    shapes = [path for path in svg.findall(f"{SVG}path") if path.attrib["class"] != "d-measure"]
    assert len(shapes) == len(view.shapes)
    for path in shapes:
        for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.attrib["d"]):
            assert 0 <= float(x) <= width
            assert 0 <= float(y) <= height

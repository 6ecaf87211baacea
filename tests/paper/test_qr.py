"""The square is read from the printed page, clean and soiled, and keeps to ISO/IEC 18004."""

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import pytest
import zxingcpp
from PIL import ImageDraw

from ledger.errors import Refusal
from ledger.paper import qr
from ledger.paper.label import LabelFacts, LabelSheet, render_labels
from tests.paper.cast import LABEL, rendered

SHEET = LabelSheet(210, 297, 70, 42, 0, 1)
A_SHEET = SHEET.columns * SHEET.rows
MM = 150 / 25.4
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def links(seed: int) -> Iterator[str]:
    """Links with hosts of 4 to 40 characters in turn, and chance codes."""
    chance = random.Random(seed)
    while True:
        for length in range(4, 41):
            name = "".join(chance.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") for _ in range(length - 3))
            code = "".join(chance.choice(LETTERS) for _ in range(16))
            yield f"HTTPS://{name}.EX/C/{code}"


def label(link: str) -> LabelFacts:
    return replace(LABEL, qr_text=link, address_words="")


def read_back(texts: list[str], dirt_mm: float = 0) -> set[str]:
    """What a reader makes of the labels on their sheets at 150 dots an inch, label by label."""
    pdf, read = render_labels([label(text) for text in texts], SHEET), set()
    for page in range(-(-len(texts) // A_SHEET)):
        image = rendered(pdf, page)
        for n in range(min(A_SHEET, len(texts) - page * A_SHEET)):
            down, across = divmod(n, SHEET.columns)
            x, y = across * 70, 1 + down * 42
            # the dark modules end 4 mm from the label's right edge and 3.2 mm from its foot
            right, foot = (x + 70 - 4) * MM, (y + 42 - 3.2) * MM
            if dirt_mm:
                dirty = (right - dirt_mm * MM, foot - dirt_mm * MM, right, foot)
                ImageDraw.Draw(image).rectangle(dirty, fill=90)
            one = image.crop(tuple(round(mm * MM) for mm in (x + 35, y, x + 70, y + 42)))
            read |= {each.text for each in zxingcpp.read_barcodes(one)}
    return read


def test_four_hundred_codes_are_read_from_the_printed_sheet() -> None:
    texts = list(islice(links(1), 400))
    assert {len(text.split("/")[2]) for text in texts} == set(range(4, 41))
    assert read_back(texts) == set(texts)


def test_a_hundred_are_read_with_3_mm_of_dirt_over_the_corner_that_has_no_finder() -> None:
    texts = list(islice(links(2), 100))
    assert read_back(texts, dirt_mm=3) == set(texts)


# ISO/IEC 18004: side = 17 + 4 x version; alphanumeric capacity at level Q.
CAPACITY_Q = {1: 16, 2: 29, 3: 47, 4: 67, 5: 87, 6: 108, 7: 125, 8: 157, 9: 189, 10: 221}


@pytest.mark.parametrize(("version", "capacity"), CAPACITY_Q.items())
def test_each_version_holds_what_the_standard_says(version: int, capacity: int) -> None:
    assert len(qr.matrix("A" * capacity)) == 17 + 4 * version
    assert len(qr.matrix("A" * (capacity + 1))) == 17 + 4 * (version + 1)


def test_hosts_to_twenty_characters_take_version_3_and_to_forty_version_4() -> None:
    def side(host: int) -> int:
        return len(qr.matrix("HTTPS://" + "H" * host + "/C/" + "0" * 16))

    assert [side(host) for host in (4, 20, 21, 40)] == [29, 29, 33, 33]


def test_the_quiet_zone_is_four_modules() -> None:
    # ISO/IEC 18004: four modules clear on every side
    assert qr.QUIET >= 4
    assert qr.side_mm(qr.matrix("A" * 47), 0.5) == 18.5


def test_the_paper_around_the_square_is_clear() -> None:
    image = rendered(render_labels([label(next(links(3)))]), dpi=300)
    px, dark = 300 / 25.4, 29 * 0.5
    right, foot = 66.0, 42 - 3.2
    box = (right - dark - 2, foot - dark - 2, right + 2, foot + 2)
    around = image.crop(tuple(round(mm * px) for mm in box))
    inside = tuple(round(mm * px) for mm in (1.9, 1.9, 2.1 + dark, 2.1 + dark))
    ImageDraw.Draw(around).rectangle(inside, fill=255)
    assert around.getextrema() == (255, 255)


def test_small_letters_and_endless_addresses_are_refused() -> None:
    with pytest.raises(Refusal, match="square cannot hold"):
        qr.matrix("https://marrack-voe.example")
    with pytest.raises(Refusal, match="too long"):
        qr.matrix("A" * 5000)

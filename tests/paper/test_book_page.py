"""The edition book's page: every number told, the sum carried from page to page."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import get_args

import pytest
from pypdf import PdfReader

from ledger.errors import Refusal
from ledger.paper.book_page import BookRow, EditionPage, render_edition
from ledger.paper.marks import Mark
from tests.paper.cast import assert_fonts_embedded, assert_no_metadata, grey_picture, rendered, sizes_mm, words


def row(n: int, sold: bool = True) -> BookRow:
    return BookRow(
        mark="sold" if sold else "studio",
        figure=str(n),
        inscribed="22 Mar 2024",
        out="2 Jun 2024" if sold else "",
        where="Saltrigg Harbour Fair" if sold else "Studio drawer 2",
        price_minor=6500 if sold else None,
        certificate="FK6S Y954 …",
    )


PAGE = EditionPage(
    maker="Ottoline Marrack-Voe",
    as_of="9 June 2026",
    title="Forty Minutes of Road",
    facts="2023. Pigment print on cotton rag, 308 gsm. Image 127 × 127 mm, sheet 180 × 200 mm.",
    declaration="Declared 4 March 2024: twenty-five, numbered, in one size.",
    currency="GBP",
    rows=tuple(row(n, sold=n <= 17) for n in range(1, 26)),
    counts="17 sold + 8 in the studio = 25",
    beside_heading="Beside the twenty-five",
    beside=(BookRow(mark="gone", figure="I", inscribed="AP I/III", where="Given, 3 June 2024"),),
    closing=("Destroyed: first print of 7/25, 11 May 2026, seen by T. Orrey.",),
    first_page=3,
)


def test_an_edition_of_twenty_five_is_one_page_of_a4_to_sign(tmp_path: Path) -> None:
    picture = grey_picture(tmp_path / "picture.jpg")
    pdf = render_edition(replace(PAGE, picture_path=picture, picture_px=(600, 600)))
    assert sizes_mm(pdf) == [(210, 297)]  # ISO 216
    said = words(pdf)
    for text in (
        "EDITION BOOK OF OTTOLINE MARRACK-VOE",
        "PAGE 3, AS OF 9 JUNE 2026",
        "Forty Minutes of Road",
        "Declared 4 March 2024: twenty-five, numbered, in one size.",
        "Signed by the maker",
        "Beside the twenty-five",
        "AP I/III",
        "Destroyed: first print of 7/25",
        "17 sold + 8 in the studio = 25",
        "Taken £1,105.00",
        "Looked over and found right",
    ):
        assert text in said
    assert picture.read_bytes() in pdf
    assert_fonts_embedded(pdf)
    assert_no_metadata(pdf)


def test_a_longer_run_takes_thirty_rows_a_page_and_carries_the_sum_forward() -> None:
    pdf = render_edition(replace(PAGE, rows=tuple(row(n) for n in range(1, 76)), beside=()))
    assert len(sizes_mm(pdf)) == 3
    first, second, third = (words(pdf, n) for n in range(3))
    assert first.count("FK6S") == second.count("FK6S") == 30
    assert third.count("FK6S") == 15
    assert "Carried forward £1,950.00" in first
    assert "Brought forward £1,950.00" in second
    assert "Carried forward £3,900.00" in second
    assert "Brought forward £3,900.00" in third
    assert "Taken £4,875.00" in third  # 75 x 65.00
    assert "PAGE 5" in third
    assert "Looked over" not in first


def test_every_kind_of_mark_is_drawn_and_only_sold_is_red() -> None:
    red = b".682353 .086275 .12549 rg"  # #AE1620
    sold = {"sold", "sold_again"}
    for kind in get_args(Mark):
        pdf = render_edition(replace(PAGE, rows=(replace(row(1, sold=False), mark=kind),), beside=()))
        contents = PdfReader(BytesIO(pdf)).pages[0].get_contents()
        assert contents is not None
        assert (red in contents.get_data()) == (kind in sold), kind


def test_long_words_are_cut_and_never_run_into_the_next_column() -> None:
    where = "The Old Harbour Trustees’ Reading Room and Gallery, buyer not known, by post"
    long = replace(row(1), where=where)
    said = words(render_edition(replace(PAGE, rows=(long,))))
    assert "The Old Harbour Trustees’" in said
    assert "by post" not in said


def test_a_long_declaration_pushes_rows_to_the_next_page_and_loses_none() -> None:
    pdf = render_edition(replace(PAGE, declaration="Declared in very many words. " * 60))
    pages = [words(pdf, n) for n in range(len(sizes_mm(pdf)))]
    assert sum(page.count("FK6S") for page in pages) == 25
    assert sum(page.count("Looked over and found right") for page in pages) == 1
    image = rendered(pdf)
    px = 150 / 25.4
    assert image.crop((0, round(290 * px), image.width, image.height)).getextrema() == (255, 255)


def test_a_sign_the_typeface_lacks_and_an_endless_closing_are_refused() -> None:
    with pytest.raises(Refusal, match=r"The row of number 1 has “東” \(U\+6771\)"):
        render_edition(replace(PAGE, rows=(replace(row(1), where="東"),)))
    with pytest.raises(Refusal, match="more than a page"):
        render_edition(replace(PAGE, closing=("Destroyed. " * 2000,)))

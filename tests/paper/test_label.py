"""The label on the back: one, or on a sheet of labels."""

from dataclasses import fields, replace

import pytest
import zxingcpp

from ledger.errors import Refusal
from ledger.paper.label import LabelFacts, LabelSheet, render_labels
from tests.paper.cast import CODE, LABEL, assert_fonts_embedded, assert_no_metadata, rendered, sizes_mm, words

TWENTY_ONE = LabelSheet(210, 297, 63.5, 38.1, 7.2, 15.1, 2.5, 0)


def test_a_single_label_says_what_the_print_is_and_how_to_keep_it() -> None:
    pdf = render_labels([LABEL])
    assert sizes_mm(pdf) == [(70, 42)]
    said = words(pdf)
    for text in (
        "Forty Minutes of Road",
        "7/25",
        "Ottoline Marrack-Voe, 2023",
        "Pigment print, cotton rag 308 gsm",
        "Image 127 × 127 mm",
        "Out of the sun, out of the damp",
        CODE,
        "marrack-voe.example/c",
        "The old net loft, Quern Slip, Saltrigg",
    ):
        assert text in said
    assert [each.text for each in zxingcpp.read_barcodes(rendered(pdf))] == [LABEL.qr_text]
    assert_fonts_embedded(pdf)
    assert_no_metadata(pdf)


def test_where_there_is_no_room_for_both_the_mounting_comes_before_the_care() -> None:
    details = (*LABEL.details, "Window mount 300 × 250 mm, window 162 × 122 mm")
    mounted = replace(LABEL, details=details, write_to=f"book@marrack-voe.example, {LABEL.write_to}")
    said = words(render_labels([mounted]))
    assert "Window mount 300 × 250 mm" in said and "162 × 122 mm" in said and "Out of the sun" not in said
    assert "Out of the sun" in words(render_labels([mounted], LabelSheet(99, 68, 99, 68, 0, 0)))


def test_a_label_has_no_place_for_a_price() -> None:
    assert not [field.name for field in fields(LabelFacts) if "price" in field.name or "minor" in field.name]
    assert "£" not in words(render_labels([LABEL]))


def test_a_label_without_an_address_has_no_square() -> None:
    pdf = render_labels([replace(LABEL, qr_text=None, address_words=None)])
    assert CODE in words(pdf)
    assert not zxingcpp.read_barcodes(rendered(pdf))


def test_labels_begin_at_the_place_left_on_a_used_sheet_and_go_on_to_the_next() -> None:
    assert (TWENTY_ONE.columns, TWENTY_ONE.rows) == (3, 7)
    labels = [replace(LABEL, number_shown=f"{n}/25") for n in range(1, 6)]
    pdf = render_labels(labels, TWENTY_ONE, start=19)
    assert len(sizes_mm(pdf)) == 2
    assert "3/25" in words(pdf, 0)
    assert "4/25" not in words(pdf, 0)
    assert "4/25" in words(pdf, 1)
    px = 150 / 25.4
    used = rendered(pdf).crop((0, 0, round(210 * px), round((15.1 + 6 * 38.1) * px)))
    assert used.getextrema() == (255, 255)


def test_small_and_large_labels_keep_the_square_readable() -> None:
    eight = LabelSheet(210, 297, 99.1, 67.7, 4.6, 13, 2.5, 0)
    for sheet in (TWENTY_ONE, eight, LabelSheet(62, 100, 62, 100, 0, 0)):
        image = rendered(render_labels([LABEL], sheet))
        assert [each.text for each in zxingcpp.read_barcodes(image)] == [LABEL.qr_text]


def test_a_start_beyond_the_sheet_is_refused() -> None:
    for start in (0, 22):
        with pytest.raises(Refusal, match=r"This sheet has 21 labels\. Start at one of 1 to 21"):
            render_labels([LABEL], TWENTY_ONE, start=start)


def test_sheets_that_cannot_be_are_refused() -> None:
    with pytest.raises(Refusal, match="No label of 120 × 42 mm fits on a sheet of 100 × 100 mm"):
        LabelSheet(100, 100, 120, 42, 0, 0)
    with pytest.raises(Refusal, match="No label"):
        LabelSheet(210, 297, 70, 42, 150, 0)
    with pytest.raises(Refusal, match="0 mm or more"):
        LabelSheet(210, 297, 70, 42, 0, 0, -1, 0)
    with pytest.raises(Refusal, match="have a width and a height"):
        LabelSheet(210, 297, 0, 42, 0, 0)


def test_a_label_too_small_for_code_and_square_is_refused() -> None:
    with pytest.raises(Refusal, match=r"48.5 × 25.4 mm is too small .* Use one of 60 × 36 mm or more"):
        LabelSheet(210, 297, 48.5, 25.4, 8, 11)


def test_words_that_do_not_fit_and_signs_the_typeface_lacks_are_refused() -> None:
    with pytest.raises(Refusal, match="label"):
        render_labels([replace(LABEL, title="The Long Afternoon Before the Harbour Wall " * 5)])
    with pytest.raises(Refusal, match=r"“東” \(U\+6771\)"):
        render_labels([replace(LABEL, title="東")])


def test_several_labels_without_a_sheet_stand_a_page_each() -> None:
    pdf = render_labels([replace(LABEL, number_shown=f"{n}/25") for n in (7, 8)])
    assert sizes_mm(pdf) == [(70, 42), (70, 42)]
    assert "7/25" in words(pdf, 0) and "8/25" in words(pdf, 1)

"""What a buyer keeps: the certificate's face and its second side, read back from the PDF."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
import zxingcpp
from pypdf import PdfReader

from ledger.errors import Refusal
from ledger.paper.certificate import CertificateFace, CertificatePages, Paper, render
from ledger.paper.particulars import Particulars
from ledger.paper.standing import Standing
from tests.paper.cast import (
    CODE,
    FACE,
    PARTICULARS,
    assert_fonts_embedded,
    assert_no_metadata,
    grey_picture,
    objects,
    rendered,
    sizes_mm,
    words,
)


def printed(*pages: CertificatePages, paper: Paper = "a5") -> bytes:
    return render(pages, paper=paper, title="Certificate")


def test_everything_the_buyer_should_know_can_be_read_on_the_face() -> None:
    said = words(printed(CertificatePages(FACE)))
    for label, value in FACE.facts:
        assert label in said
        assert value in said
    for text in (
        FACE.title,
        FACE.artist,
        "2023",
        "7/25",
        FACE.statement,
        FACE.fixed_sentence,
        "Saltrigg",
        "12 May 2026",
        "Ottoline Marrack-Voe, by hand",
        CODE,
        "marrack-voe.example/c",
        "or write to Quern Slip, Saltrigg",
        "CERTIFICATE OF AUTHENTICITY",
    ):
        assert text is not None
        assert text in said


def test_the_fixed_sentence_is_there_only_if_chosen() -> None:
    assert "This is to certify" not in words(printed(CertificatePages(replace(FACE, fixed_sentence=None))))


def test_a5_and_a4_are_the_sheets_of_iso_216_lying_down() -> None:
    # ISO 216: A5 148 x 210 mm, A4 210 x 297 mm
    pages = CertificatePages(FACE, PARTICULARS)
    assert sizes_mm(printed(pages)) == [(210, 148)] * 2
    assert sizes_mm(printed(pages, paper="a4")) == [(297, 210)] * 2


@pytest.mark.parametrize("paper", ["a5", "a4"])
def test_the_square_on_the_face_is_read_by_an_independent_reader(paper: Paper) -> None:
    read = zxingcpp.read_barcodes(rendered(printed(CertificatePages(FACE), paper=paper)))
    assert [each.text for each in read] == [FACE.qr_text]


def test_issued_without_an_address_it_shows_the_code_in_letters_and_where_to_write() -> None:
    pdf = printed(CertificatePages(replace(FACE, qr_text=None, address_words=None)))
    said = words(pdf)
    assert CODE in said
    assert "Write to Quern Slip, Saltrigg" in said
    assert "example" not in said
    assert not zxingcpp.read_barcodes(rendered(pdf))


def test_the_longest_host_keeps_its_address_and_its_square() -> None:
    host = "prints." + "a" * 25 + ".example"
    link = f"HTTPS://{host.upper()}/C/{CODE.replace(' ', '')}"
    face = replace(FACE, qr_text=link, address_words=f"{host}/c")
    pdf = printed(CertificatePages(face))
    assert f"{host}/c" in words(pdf).replace(" ", "")
    assert [each.text for each in zxingcpp.read_barcodes(rendered(pdf))] == [face.qr_text]


def test_the_picture_goes_in_byte_for_byte_and_whole(tmp_path: Path) -> None:
    picture = grey_picture(tmp_path / "picture.jpg", (900, 500))
    pdf = printed(CertificatePages(replace(FACE, picture_path=picture, picture_px=(900, 500))))
    assert picture.read_bytes() in pdf
    (image,) = objects(pdf, "/Subtype", "/Image")
    assert (image["/Width"], image["/Height"], image["/Filter"]) == (900, 500, ["/DCTDecode"])


def test_a_batch_keeps_the_picture_once(tmp_path: Path) -> None:
    picture = grey_picture(tmp_path / "picture.jpg")
    face = replace(FACE, picture_path=picture, picture_px=(600, 600))
    numbers = [replace(face, number_shown=f"{n}/25") for n in range(1, 26)]
    pdf = printed(*(CertificatePages(number, PARTICULARS) for number in numbers))
    assert len(sizes_mm(pdf)) == 50
    assert pdf.count(picture.read_bytes()) == 1
    assert len(objects(pdf, "/Subtype", "/Image")) == 1
    assert "25/25" in words(pdf, 48)


def test_the_face_is_embedded_and_nothing_of_a_camera_is_in_the_file(tmp_path: Path) -> None:
    picture = grey_picture(tmp_path / "picture.jpg")
    face = replace(FACE, picture_path=picture, picture_px=(600, 600))
    pdf = printed(CertificatePages(face, PARTICULARS))
    assert_fonts_embedded(pdf)
    assert_no_metadata(pdf)


def test_the_same_words_give_the_same_bytes() -> None:
    assert printed(CertificatePages(FACE, PARTICULARS)) == printed(CertificatePages(FACE, PARTICULARS))


def test_a_sign_the_typeface_lacks_is_named_and_nothing_is_printed() -> None:
    with pytest.raises(Refusal, match=r"The title has “東” \(U\+6771\)"):
        printed(CertificatePages(replace(FACE, title="東京")))
    with pytest.raises(Refusal, match=r"“Paper” has “和” \(U\+548C\)"):
        printed(CertificatePages(replace(FACE, facts=(("Paper", "Thin 和紙"),))))
    with pytest.raises(Refusal, match=r"U\+6771"):
        printed(CertificatePages(FACE, Particulars(items=(("Artist", "東"),))))


@pytest.mark.parametrize("title", ["Зимняя дорога", "Ο δρόμος της θάλασσας", "Zażółć gęślą jaźń", "Bäume № Ⅲ"])
def test_titles_in_cyrillic_greek_and_polish_are_printed(title: str) -> None:
    assert title in words(printed(CertificatePages(replace(FACE, title=title))))


@pytest.mark.parametrize("paper", ["a5", "a4"])
def test_a_title_of_two_hundred_characters_fits_where_the_facts_are_few(paper: Paper) -> None:
    title = ("The Long Afternoon Before the Harbour Wall Came Down and Nobody Said a Word " * 3)[:200].strip()
    face = replace(FACE, title=title, facts=FACE.facts[:4])
    assert title in words(printed(CertificatePages(face, PARTICULARS), paper=paper))


def test_a_long_title_on_a_full_face_is_refused_on_a5_and_fits_on_a4() -> None:
    title = ("The Long Afternoon Before the Harbour Wall Came Down " * 4)[:200].strip()
    face = replace(FACE, title=title)
    with pytest.raises(Refusal, match=r"less than 14 mm for the signature\. Print it on A4"):
        printed(CertificatePages(face))
    assert face.title in words(printed(CertificatePages(face), paper="a4"))


def test_one_word_as_long_as_the_sheet_is_broken_and_not_run_off_it() -> None:
    face = replace(FACE, title="W" * 60, facts=(("Paper", "o" * 300),))
    pdf = printed(CertificatePages(face))
    assert words(pdf).count("W") >= 60
    image = rendered(pdf)
    assert image.crop((round(198 / 25.4 * 150), 0, image.width, image.height)).getextrema() == (255, 255)


def assert_clear_above_the_line(face: CertificateFace, paper: Paper) -> None:
    """14 mm of the sheet above the signature line, in the corner it is signed in, are white."""
    scale = {"a5": 1.0, "a4": 297 / 210}[paper]
    image = rendered(printed(CertificatePages(face), paper=paper))
    px = 150 / 25.4
    line_y = image.height / 2 + (148 / 2 - 15.4) * scale * px
    left, right = round(133 * scale * px), round(196 * scale * px)
    clear = image.crop((left, round(line_y - 14 * px), right, round(line_y - 3)))
    assert clear.getextrema() == (255, 255)


@pytest.mark.parametrize("paper", ["a5", "a4"])
def test_there_is_room_to_sign_above_the_line(paper: Paper) -> None:
    assert_clear_above_the_line(FACE, paper)


def test_fuller_facts_are_set_smaller_before_the_signature_gives_way() -> None:
    mount = ("Mount", "Window mount of museum board, hinged at the top edge, glazed with clear acrylic.")
    fuller = replace(FACE, facts=(*FACE.facts, mount, ("Care", "Out of the sun, out of the damp.")))
    assert_clear_above_the_line(fuller, "a5")
    assert all(value in words(printed(CertificatePages(fuller))) for _, value in fuller.facts)


def test_a_place_and_a_name_too_long_for_the_foot_are_refused_in_a_sentence() -> None:
    with pytest.raises(Refusal, match="too long"):
        printed(CertificatePages(replace(FACE, place="The old net loft behind the church, " * 5)))


def test_particulars_answer_every_item_and_close_what_does_not_apply_in_one_sentence() -> None:
    said = words(printed(CertificatePages(FACE, PARTICULARS)), 1)
    for label, answer in PARTICULARS.items:
        assert label in said
        assert answer in said
    assert "Not applicable to this print: approved in writing; printed after the artist’s death." in said
    assert CODE in said


def test_what_is_not_known_stands_on_its_own_line() -> None:
    said = words(printed(CertificatePages(FACE, PARTICULARS)), 1)
    assert "Maker of the paper Not known." in said
    assert "Year of the master Not known." in said


def test_the_foot_of_particulars_is_left_clear() -> None:
    full = Particulars(tuple((f"Question {n}", "A long answer in so many words. " * 3) for n in range(18)))
    image = rendered(printed(CertificatePages(FACE, full)), 1)
    assert image.crop((0, round(122 / 25.4 * 150), image.width, image.height)).getextrema() == (255, 255)


def test_particulars_that_no_type_can_hold_are_refused() -> None:
    full = Particulars(tuple((f"Question {n}", "A long answer in so many words. " * 12) for n in range(18)))
    with pytest.raises(Refusal, match="Particulars do not fit"):
        printed(CertificatePages(FACE, full))


def test_the_second_side_can_be_left_off() -> None:
    assert len(sizes_mm(printed(CertificatePages(FACE)))) == 1


def test_papers_printed_at_the_same_time_do_not_mix() -> None:
    numbers = [CertificatePages(replace(FACE, number_shown=f"{n}/25"), PARTICULARS) for n in range(1, 13)]
    alone = [printed(number) for number in numbers]
    with ThreadPoolExecutor(4) as threads:
        assert list(threads.map(printed, numbers)) == alone


def test_the_face_says_what_to_do_with_square_and_code() -> None:
    assert "SCAN OR TYPE THIS TO CHECK" in words(printed(CertificatePages(FACE)))
    without = words(printed(CertificatePages(replace(FACE, qr_text=None, address_words=None))))
    assert "SCAN" not in without and "CHECK THIS CERTIFICATE" in without


STANDING = Standing(412, 413, bytes(range(32)), "MQ3Z A7KF WQ2Z BBTN L5YU 2OQD PVKM W4GH")


@pytest.mark.parametrize("paper", ["a5", "a4"])
def test_the_second_side_says_where_it_stands_in_the_record_and_which_keys_signed(paper: Paper) -> None:
    said = words(printed(CertificatePages(FACE, PARTICULARS, STANDING), paper=paper), page=1)
    assert "Entry 412 of the record, head of size 413:" in said
    assert "00010203 04050607 08090a0b 0c0d0e0f 10111213 14151617 18191a1b 1c1d1e1f" in said
    assert STANDING.fingerprint in said
    assert "print-ledger verify" in said
    assert "Entry" not in words(printed(CertificatePages(FACE, PARTICULARS, STANDING), paper=paper))


def test_without_a_second_side_the_last_line_of_the_face_says_it_in_short() -> None:
    said = words(printed(CertificatePages(FACE, None, STANDING)))
    assert "Entry 412, head 0001020304050607, keys MQ3Z A7KF WQ2Z BBTN" in said


def test_a_certificate_that_was_not_signed_says_nothing_of_the_record() -> None:
    pdf = printed(CertificatePages(FACE, PARTICULARS))
    assert "head of size" not in words(pdf, page=1) and "Entry" not in words(pdf)


def test_files_come_out_of_a_certificate_byte_for_byte() -> None:
    files = {
        "credential.json": '{"title":"Förty (minutes)"}'.encode(),
        "entry.json": bytes(range(256)) * 9,
        "keys.json": b"",
        "proof.tlog-proof": b"endstream\nendobj\n",
    }
    pdf = render([CertificatePages(FACE)], paper="a5", title="Certificate", files=files)
    assert pdf == render([CertificatePages(FACE)], paper="a5", title="Certificate", files=files)
    read = PdfReader(BytesIO(pdf))
    assert {name: data[0] for name, data in read.attachments.items()} == files
    assert [each["/Subtype"] for each in objects(pdf, "/Type", "/EmbeddedFile")] == [
        "/application/json", "/application/json", "/application/json", "/text/plain",
    ]  # fmt: skip

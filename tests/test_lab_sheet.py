"""The file a lab prints a sheet from: exact pixels, one profile, nothing of the camera, or a sentence why not.

The cast: Ottoline Marrack-Voe sends her sheets to Longshore Print Room.
"""

import errno
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageChops, ImageCms, ImageStat

from ledger import lab_sheet
from ledger.errors import Refusal
from ledger.lab_sheet import (
    LabSheet,
    LaidPicture,
    Written,
    foretold,
    order_note,
    shortcomings,
    write_jpeg,
    write_pdf,
    write_tiff,
)
from ledger.profiles import grey_file
from ledger.reckoning.lab_marks import Box, lay
from ledger.reckoning.sheet_layout import Placed
from tests.paper.cast import assert_fonts_embedded, assert_no_metadata, objects, rendered, sizes_mm, words
from tests.test_pictures import EXIF_CREATOR, EXIF_GPS, EXIF_TITLE, EXIF_TURN, XMP, landscape, png, wide_gamut_profile

PPI = 100
BOX = Box(20_000, 30_000, 96_200, 80_800)
"""76.2 × 50.8 mm: 300 × 200 px at 100 pixels an inch."""
# Baseline TIFF 6.0 fields of an RGB picture with a resolution, and the profile's: no other may be there
TAGS = {256, 257, 258, 259, 262, 273, 277, 278, 279, 282, 283, 284, 296, 34675}


def kept(folder: Path, image: Image.Image, name: str = "master.png", **options: Any) -> Path:
    image.save(folder / name, **options)
    return folder / name


def kept16(folder: Path, pixels: np.ndarray, name: str = "master16.tif", **options: Any) -> Path:
    photometric = "rgb" if pixels.ndim == 3 else "minisblack"
    tifffile.imwrite(folder / name, pixels, photometric=photometric, metadata=None, **options)
    return folder / name


def laid(
    master: Path, box: Box = BOX, *, turned: bool = False, size: tuple[int, int] | None = None, **more: Any
) -> LaidPicture:
    """A piece covered by its picture."""
    placed = Placed(0, box.left_um, box.top_um, box.width_um, box.height_um, turned)
    finished = Box(placed.x_um, placed.y_um, placed.x_um + placed.width_um, placed.y_um + placed.height_um)
    upright = (placed.height_um, placed.width_um) if turned else (placed.width_um, placed.height_um)
    piece = lay(finished, Box(0, 0, *upright), turned=placed.turned)
    width, height = size or Image.open(master).size
    told: dict[str, Any] = {"title": "Pellow, Two Tides", "width_px": width, "height_px": height, **more}
    return LaidPicture(master=master, piece=piece, turned=turned, **told)


def a_sheet(*pictures: LaidPicture, width_um: int = 200_000, height_um: int = 150_000, **more: Any) -> LabSheet:
    usable = Box(4_000, 4_000, width_um - 4_000, height_um - 4_000)
    told: dict[str, Any] = {"ppi": PPI, **more}
    return LabSheet(width_um=width_um, height_um=height_um, usable=usable, pictures=pictures, **told)


def part(pixels: np.ndarray, box: Box = BOX, ppi: int = PPI) -> np.ndarray:
    left, top, right, bottom = box.in_pixels(ppi)
    return pixels[top:bottom, left:right]


def tiff_of(folder: Path, sheet: LabSheet) -> np.ndarray:
    write_tiff(sheet, folder / "sheet.tif")
    return np.asarray(tifffile.imread(folder / "sheet.tif"))


def colours(width: int, height: int) -> Image.Image:
    """Three different channels, fine detail in each."""
    bands = landscape(width, height).getchannel("R"), landscape(height, width).getchannel("R").resize((width, height))
    return Image.merge("RGB", (*bands, Image.linear_gradient("L").resize((width, height))))


def deep_colours(width: int, height: int) -> np.ndarray:
    """Sixteen bits a channel, the lower eight as busy as the upper."""
    down, across = np.mgrid[0:height, 0:width]
    bands = (across * 65_535 // width, down * 65_535 // height, (across * 7_919 + down * 104_729) % 65_536)
    return np.stack(bands, axis=-1).astype(np.uint16)


def lanczos(pixels: np.ndarray, width: int, height: int) -> np.ndarray:
    """The resize by its definition, across and then down: a sinc of three lobes, widened when reducing."""

    def weights(there: int, here: int) -> np.ndarray:
        scale = max(1.0, here / there)
        middles = (np.arange(there)[:, None] + 0.5) * here / there
        x = (np.arange(here)[None, :] + 0.5 - middles) / scale
        table = np.where(np.abs(x) < 3, np.sinc(x) * np.sinc(x / 3), 0)
        return np.asarray(table / table.sum(axis=1, keepdims=True))

    brightest = np.iinfo(pixels.dtype).max
    across = np.einsum("xi,yi...->yx...", weights(width, pixels.shape[1]), pixels.astype(float), optimize=True)
    across = across.round().clip(0, brightest)
    down = np.einsum("yi,ix...->yx...", weights(height, pixels.shape[0]), across, optimize=True)
    return np.asarray(down.round().clip(0, brightest))


def pdf_of(folder: Path, sheet: LabSheet) -> tuple[bytes, tuple[str, ...]]:
    """The PDF, and what is told of it; the same is told before it is made."""
    written = write_pdf(sheet, folder / "sheet.pdf", "Sheet")
    assert foretold(sheet, "pdf") == written
    return (folder / "sheet.pdf").read_bytes(), written.notes


def difference(one: np.ndarray, other: np.ndarray) -> int:
    assert one.shape == other.shape
    return int(np.abs(one.astype(int) - other.astype(int)).max())


# The exact pixels


def test_an_a3_sheet_at_300_pixels_an_inch_has_3508_by_4961_pixels_and_says_so(tmp_path: Path) -> None:
    master = kept(tmp_path, colours(600, 400))
    sheet = a_sheet(laid(master), width_um=297_000, height_um=420_000, ppi=300)
    written = write_tiff(sheet, tmp_path / "sheet.tif")
    with tifffile.TiffFile(tmp_path / "sheet.tif") as opened:
        page = opened.pages[0]
        assert (len(opened.pages), page.shape, page.dtype) == (1, (4961, 3508, 3), np.uint8)
        assert {tag.code for tag in page.tags} == TAGS
        assert (page.tags[282].value, page.tags[283].value, page.tags[296].value) == ((300, 1), (300, 1), 2)
        profile = ImageCms.ImageCmsProfile(io.BytesIO(page.tags[34675].value))
    assert "sRGB" in ImageCms.getProfileDescription(profile)
    assert (written.bits, written.profile) == (8, "sRGB")


def test_a_picture_on_the_sheet_is_its_reference_resize_pixel_for_pixel(tmp_path: Path) -> None:
    image = colours(900, 600)
    found = part(tiff_of(tmp_path, a_sheet(laid(kept(tmp_path, image)))))
    assert difference(found, np.asarray(image.resize((300, 200), Image.Resampling.LANCZOS))) == 0
    assert difference(found, lanczos(np.asarray(image), 300, 200)) <= 1


def test_a_turned_picture_lies_a_quarter_turn_clockwise(tmp_path: Path) -> None:
    image = colours(400, 600)
    found = part(tiff_of(tmp_path, a_sheet(laid(kept(tmp_path, image), turned=True))))
    upright = np.asarray(image.resize((200, 300), Image.Resampling.LANCZOS))
    assert difference(found, np.rot90(upright, -1)) == 0


def test_one_master_on_several_places_has_the_pixels_of_each(tmp_path: Path) -> None:
    image = colours(900, 600)
    master, small = kept(tmp_path, image), Box(110_000, 30_000, 148_100, 55_400)
    found = tiff_of(tmp_path, a_sheet(laid(master), laid(master, small)))
    for box, size in ((BOX, (300, 200)), (small, (150, 100))):
        assert difference(part(found, box), np.asarray(image.resize(size, Image.Resampling.LANCZOS))) == 0


def test_a_picture_of_another_shape_loses_the_same_at_both_ends_and_a_sentence_says_how_much(tmp_path: Path) -> None:
    image = colours(800, 400)
    sheet = a_sheet(laid(kept(tmp_path, image)))
    middle = image.resize((300, 200), Image.Resampling.LANCZOS, box=(100, 0, 700, 400))
    assert difference(part(tiff_of(tmp_path, sheet)), np.asarray(middle)) == 0
    said = "“Pellow, Two Tides” is not of the shape of its place: 25 % is cut off, left and right alike."
    assert said in shortcomings(sheet)


def test_beside_the_pictures_there_is_white_paper_marks_captions_and_a_rule_of_100_mm(tmp_path: Path) -> None:
    sheet = a_sheet(laid(kept(tmp_path, Image.new("RGB", (600, 400), (200, 30, 30))), caption="Pellow 7/25, place 1"))
    found = tiff_of(tmp_path, sheet)
    marks = sheet.marks
    assert marks.rule and marks.captions[0]
    allowed = np.zeros(found.shape[:2], bool)
    for box in (BOX, *marks.lines, marks.captions[0].box, marks.rule.box):
        part(allowed, box.grown(300))[:] = True
    assert (found[~allowed] == 255).all()
    assert (part(found) == (200, 30, 30)).all()
    assert part(found, marks.captions[0].box).min() < 128
    foot = found[marks.lines[-1].in_pixels(PPI)[3] - 4]  # a row of the rule above its line
    strokes = np.flatnonzero((foot == 40).all(axis=-1))
    assert abs(int(strokes[-1] - strokes[0]) - 100 / 25.4 * PPI) <= 1


def test_a_jpeg_of_the_sheet_has_its_pixels_its_resolution_and_its_profile(tmp_path: Path) -> None:
    sheet = a_sheet(laid(kept(tmp_path, colours(900, 600))))
    assert write_jpeg(sheet, tmp_path / "sheet.jpg").profile == "sRGB"
    exact = Image.fromarray(tiff_of(tmp_path, sheet))
    with Image.open(tmp_path / "sheet.jpg") as image:
        assert (image.size, image.info["dpi"]) == (exact.size, (PPI, PPI))
        assert "sRGB" in ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"])))
        assert max(ImageStat.Stat(ImageChops.difference(image, exact)).mean) < 1.5


def test_the_same_sheet_is_the_same_file(tmp_path: Path) -> None:
    sheet = a_sheet(laid(kept(tmp_path, colours(300, 200))))
    for name in ("one.tif", "other.tif"):
        write_tiff(sheet, tmp_path / name)
    assert (tmp_path / "one.tif").read_bytes() == (tmp_path / "other.tif").read_bytes()


# Sixteen bits


@pytest.mark.parametrize(
    "options",
    [{}, {"byteorder": ">"}, {"compression": "zlib", "predictor": True}, {"compression": "zlib", "byteorder": ">"}],
)
def test_16_bit_masters_in_the_sheets_profile_make_a_16_bit_sheet(tmp_path: Path, options: dict[str, Any]) -> None:
    pixels = deep_colours(600, 400)
    sheet = a_sheet(laid(kept16(tmp_path, pixels, **options), size=(600, 400)))
    assert write_tiff(sheet, tmp_path / "sheet.tif") == Written(16, "sRGB", ())
    found = np.asarray(tifffile.imread(tmp_path / "sheet.tif"))
    assert found.dtype == np.uint16
    assert difference(part(found), lanczos(pixels, 300, 200)) <= 1
    assert found.max() == 65_535


def test_a_deep_picture_as_large_as_its_place_keeps_every_value(tmp_path: Path) -> None:
    pixels = deep_colours(300, 200)
    found = tiff_of(tmp_path, a_sheet(laid(kept16(tmp_path, pixels), size=(300, 200))))
    assert difference(part(found), pixels) == 0


def test_a_16_bit_png_keeps_every_value_too(tmp_path: Path) -> None:
    pixels = deep_colours(300, 200)
    rows = b"".join(b"\0" + row.astype(">u2").tobytes() for row in pixels)
    (tmp_path / "deep.png").write_bytes(png(300, 200, 16, 2, rows))
    found = tiff_of(tmp_path, a_sheet(laid(tmp_path / "deep.png")))
    assert difference(part(found), pixels) == 0


def test_a_grey_16_bit_picture_is_the_same_in_all_three_channels(tmp_path: Path) -> None:
    pixels = deep_colours(300, 200)[..., 2]
    found = tiff_of(tmp_path, a_sheet(laid(kept16(tmp_path, pixels), size=(300, 200))))
    assert difference(part(found), np.stack([pixels] * 3, axis=-1)) == 0


def test_a_16_bit_picture_held_sideways_stands_upright(tmp_path: Path) -> None:
    pixels = deep_colours(300, 200)
    lying = np.rot90(pixels)  # Exif 2.32: orientation 6 needs a quarter turn clockwise
    master = kept16(tmp_path, np.ascontiguousarray(lying), extratags=[(274, "H", 1, 6, True)])
    found = tiff_of(tmp_path, a_sheet(laid(master, size=(300, 200))))
    assert difference(part(found), pixels) == 0


def test_the_pictures_own_profile_keeps_16_bits(tmp_path: Path) -> None:
    profile = wide_gamut_profile()
    picture = laid(kept16(tmp_path, deep_colours(300, 200), iccprofile=profile), size=(300, 200))
    written = write_tiff(a_sheet(picture, profile="own"), tmp_path / "sheet.tif")
    assert written == Written(16, "Wide test", ())
    with tifffile.TiffFile(tmp_path / "sheet.tif") as opened:
        assert opened.pages[0].tags[34675].value == profile


def test_a_sheet_of_8_bits_says_which_picture_is_the_reason(tmp_path: Path) -> None:
    deep = laid(kept16(tmp_path, deep_colours(300, 200)), size=(300, 200))
    shallow = laid(kept(tmp_path, colours(300, 200)), title="Slack Water")
    other = kept16(tmp_path, deep_colours(300, 200), "other.tif", iccprofile=wide_gamut_profile())
    four = np.concatenate([deep_colours(300, 200), np.full((200, 300, 1), 65_535, np.uint16)], axis=-1)
    glass = kept16(tmp_path, four, "glass.tif", extrasamples=["unassalpha"])
    apart = np.moveaxis(deep_colours(300, 200), -1, 0)
    planes = kept16(tmp_path, apart, "planes.tif", planarconfig="separate", compression="zlib")
    for pictures, said in (
        ((deep, shallow), "8 bits a channel, not 16: “Slack Water” itself has 8."),
        (
            (deep, laid(other, title="Slack Water", size=(300, 200))),
            "8 bits a channel, not 16: “Slack Water” has to be converted from Wide test to sRGB, which is done with 8.",
        ),
        *(
            ((laid(one, size=(300, 200)),), "8 bits a channel, not 16: “Pellow, Two Tides” is not plain grey or RGB.")
            for one in (glass, planes)
        ),
    ):
        written = write_tiff(a_sheet(*pictures), tmp_path / "sheet.tif")
        assert (written.bits, written.notes) == (8, (said,))
        assert foretold(a_sheet(*pictures), "tiff") == written
        assert tifffile.imread(tmp_path / "sheet.tif").dtype == np.uint8


def test_a_sheet_of_16_bits_for_which_the_memory_does_not_reach_is_made_with_8_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lab_sheet, "MOST_MEMORY", 500 << 20)
    picture = laid(kept16(tmp_path, deep_colours(300, 200)), size=(300, 200))
    large = a_sheet(picture, width_um=1_500_000, height_um=1_500_000, ppi=PPI * 2)
    assert foretold(large, "tiff").notes == (
        "8 bits a channel, not 16: with 16 the sheet and its largest picture would need 0.9 GB.",
    )
    assert foretold(a_sheet(picture), "tiff").bits == 16


def test_a_piece_without_a_picture_has_its_trim_marks_and_stays_white(tmp_path: Path) -> None:
    picture, empty = laid(kept(tmp_path, colours(300, 200))), Box(110_000, 30_000, 186_200, 80_800)
    sheet = a_sheet(picture, blank=(empty,))
    pixels = tiff_of(tmp_path, sheet)
    assert part(pixels, empty).min() == 255
    beside = Box(empty.right_um - 300, empty.top_um - 2_500, empty.right_um + 300, empty.top_um - 1_000)
    assert part(pixels, beside).min() < 128 < part(tiff_of(tmp_path, a_sheet(picture)), beside).min()


# Colour


def converted(image: Image.Image, held: bytes, wanted: bytes | None = None) -> np.ndarray:
    target = ImageCms.ImageCmsProfile(io.BytesIO(wanted)) if wanted else ImageCms.createProfile("sRGB")
    intent, flags = ImageCms.Intent.RELATIVE_COLORIMETRIC, ImageCms.Flags.BLACKPOINTCOMPENSATION
    profile = ImageCms.ImageCmsProfile(io.BytesIO(held))
    return np.asarray(ImageCms.profileToProfile(image, profile, target, intent, "RGB", flags=flags))


def test_a_picture_in_another_profile_is_converted_to_the_sheets(tmp_path: Path) -> None:
    image, profile = colours(600, 400), wide_gamut_profile()
    found = part(tiff_of(tmp_path, a_sheet(laid(kept(tmp_path, image, icc_profile=profile)))))
    plain = image.resize((300, 200), Image.Resampling.LANCZOS)
    assert difference(found, converted(plain, profile)) <= 1
    assert difference(found, np.asarray(plain)) > 20  # the profile matters


def test_with_the_first_pictures_own_profile_the_others_are_converted_to_that(tmp_path: Path) -> None:
    image, profile = colours(600, 400), wide_gamut_profile()
    right = Box(110_000, 30_000, 186_200, 80_800)
    first, second = kept(tmp_path, image, icc_profile=profile), kept(tmp_path, image, "other.png")
    found = tiff_of(tmp_path, a_sheet(laid(first), laid(second, right), profile="own"))
    plain = image.resize((300, 200), Image.Resampling.LANCZOS)
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert difference(part(found), np.asarray(plain)) == 0
    assert difference(part(found, right), converted(plain, srgb, profile)) <= 1


def test_a_cmyk_picture_becomes_the_colours_it_stands_for(tmp_path: Path) -> None:
    ink = kept(tmp_path, Image.new("CMYK", (600, 400), (0, 255, 255, 0)), "ink.jpg", quality=95)
    sheet = a_sheet(laid(ink))
    assert difference(part(tiff_of(tmp_path, sheet)), np.full((200, 300, 3), (255, 0, 0))) <= 6
    data, told = pdf_of(tmp_path, sheet)
    assert told == ("“Pellow, Two Tides” goes into the PDF as a new JPEG, in sRGB.",)
    (image,) = objects(data, "/Subtype", "/Image")
    assert Image.open(io.BytesIO(image._data)).mode == "RGB"


# Nothing of the camera


def with_everything(image: Image.Image, turn: int = 1) -> dict[str, Any]:
    exif = Image.Exif()
    exif[EXIF_TITLE], exif[EXIF_CREATOR], exif[EXIF_TURN] = "Forty Minutes of Road", "Ottoline Marrack-Voe", turn
    exif.get_ifd(EXIF_GPS).update({1: "N", 2: (50.0, 11.0, 6.0), 3: "W", 4: (5.0, 25.0, 12.0), 18: "WGS-84"})
    return {"exif": exif, "xmp": XMP.encode(), "comment": b"Quern Slip", "quality": 95}


TRACES = (b"Exif", b"http://ns.adobe.com", b"xmpmeta", b"WGS-84", b"Quern", b"Marrack", b"Forty")


def test_no_place_and_no_other_metadata_leaves_with_a_sheet(tmp_path: Path) -> None:
    master = kept(tmp_path, colours(600, 400), "gps.jpg", **with_everything(colours(600, 400)))
    assert all(trace in master.read_bytes() for trace in TRACES)
    sheet = a_sheet(laid(master))
    write_tiff(sheet, tmp_path / "sheet.tif")
    write_jpeg(sheet, tmp_path / "sheet.jpg")
    data, _ = pdf_of(tmp_path, sheet)
    (tmp_path / "sheet.pdf").write_bytes(data)
    for name in ("sheet.tif", "sheet.jpg", "sheet.pdf"):
        plain = (tmp_path / name).read_bytes()
        assert [trace for trace in TRACES if trace in plain] == [], name
    assert_no_metadata(data)
    with tifffile.TiffFile(tmp_path / "sheet.tif") as opened:
        assert {tag.code for tag in opened.pages[0].tags} == TAGS
    with Image.open(tmp_path / "sheet.jpg") as image:
        assert dict(image.getexif()) == {}


@pytest.mark.parametrize("turn", range(1, 9))
def test_a_picture_held_sideways_stands_upright_on_the_sheet_and_in_the_pdf(tmp_path: Path, turn: int) -> None:
    undone = {2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}  # Pillow's numbers of what was done to it
    upright = colours(600, 400)
    lying = upright.transpose(Image.Transpose(undone[turn])) if turn > 1 else upright
    master = kept(tmp_path, lying, "gps.jpg", **with_everything(lying, turn))
    sheet = a_sheet(laid(master, size=(600, 400)))
    wanted = Image.fromarray(np.asarray(upright.resize((300, 200), Image.Resampling.LANCZOS))).convert("L")
    found = Image.fromarray(part(tiff_of(tmp_path, sheet))).convert("L")
    drawn = rendered(pdf_of(tmp_path, sheet)[0], dpi=PPI).crop(BOX.in_pixels(PPI))
    for image in (found, drawn):
        assert ImageStat.Stat(ImageChops.difference(image, wanted)).mean[0] < 6


# The PDF


def streams(data: bytes) -> list[bytes]:
    return [image._data for image in objects(data, "/Subtype", "/Image")]


def test_a_jpeg_without_metadata_passes_into_the_pdf_byte_for_byte_and_once(tmp_path: Path) -> None:
    master = kept(tmp_path, colours(600, 400), "plain.jpg", quality=95)
    other = Box(110_000, 30_000, 186_200, 80_800)
    data, told = pdf_of(tmp_path, a_sheet(laid(master), laid(master, other)))
    assert streams(data) == [master.read_bytes()]
    assert told == ()


@pytest.mark.parametrize("progressive", [False, True])
def test_a_jpeg_with_metadata_passes_with_every_pixel_as_it_was(tmp_path: Path, progressive: bool) -> None:
    profile = wide_gamut_profile()
    options = with_everything(colours(600, 400)) | {"icc_profile": profile, "progressive": progressive}
    master = kept(tmp_path, colours(600, 400), "gps.jpg", **options)
    # a second picture behind the first, as cameras add one to look at
    master.write_bytes(master.read_bytes() + master.read_bytes())
    data, told = pdf_of(tmp_path, a_sheet(laid(master)))
    (jpeg,) = streams(data)
    assert not [trace for trace in TRACES if trace in jpeg]
    assert difference(np.asarray(Image.open(io.BytesIO(jpeg))), np.asarray(Image.open(master))) == 0
    assert told == ()
    (image,) = objects(data, "/Subtype", "/Image")
    kind, held = image["/ColorSpace"]
    assert (kind, held.get_object().get_data()) == ("/ICCBased", profile)


@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_the_pdf_shows_what_the_tiff_shows_at_its_true_size(tmp_path: Path, mode: str) -> None:
    master = kept(tmp_path, colours(900, 600).convert(mode), "plain.jpg", quality=95)
    turned = Box(120_000, 20_000, 170_800, 96_200)
    pictures = laid(master, caption="Pellow 7/25"), laid(master, turned, turned=False)
    sheet = a_sheet(*pictures)
    data, _ = pdf_of(tmp_path, sheet)
    assert sizes_mm(data) == [(200, 150)]
    assert "Pellow 7/25" in words(data)
    assert "100 mm" in words(data)
    assert_fonts_embedded(data)
    exact = Image.fromarray(tiff_of(tmp_path, sheet)).convert("L")
    drawn = rendered(data, dpi=PPI).crop((0, 0, *exact.size))
    assert ImageStat.Stat(ImageChops.difference(drawn, exact)).mean[0] < 2


def test_a_master_that_is_no_jpeg_is_made_one_for_the_pdf_with_a_sentence(tmp_path: Path) -> None:
    image = colours(600, 400)
    master = kept(tmp_path, image, icc_profile=wide_gamut_profile())
    data, told = pdf_of(tmp_path, a_sheet(laid(master)))
    assert told == ("“Pellow, Two Tides” goes into the PDF as a new JPEG, in sRGB.",)
    (jpeg,) = streams(data)
    wanted = Image.fromarray(converted(image, wide_gamut_profile()))
    assert max(ImageStat.Stat(ImageChops.difference(Image.open(io.BytesIO(jpeg)), wanted)).mean) < 2


# Refused, each in its own sentence, and nothing left behind


def both_refuse(tmp_path: Path, sheet: LabSheet) -> str:
    said = set()
    for write in (write_tiff, write_jpeg, lambda sheet, target: write_pdf(sheet, target, "Sheet")):
        with pytest.raises(Refusal) as refused:
            write(sheet, tmp_path / "sheet.tif")
        said.add(refused.value.message)
    assert not (tmp_path / "sheet.tif").exists()
    (sentence,) = said
    return sentence


def test_a_master_that_is_gone_is_named(tmp_path: Path) -> None:
    picture = laid(tmp_path / "gone.jpg", size=(600, 400))
    said = both_refuse(tmp_path, a_sheet(picture))
    assert said == "The picture of “Pellow, Two Tides” is not in the ledger’s folder. Restore it from a backup."


@pytest.mark.parametrize("name", ["cut.jpg", "cut.png", "cut.tif"])
def test_a_master_that_breaks_off_is_named(tmp_path: Path, name: str) -> None:
    master = kept(tmp_path, colours(600, 400), name)
    master.write_bytes(master.read_bytes()[:-3_000])
    assert both_refuse(tmp_path, a_sheet(laid(master, size=(600, 400)))) == (
        "The picture of “Pellow, Two Tides” breaks off or is damaged: not all of it can be read. "
        "Restore it from a backup, or add it again."
    )


def test_a_16_bit_master_that_breaks_off_is_named(tmp_path: Path) -> None:
    master = kept16(tmp_path, deep_colours(600, 400))
    master.write_bytes(master.read_bytes()[:-3_000])
    said = both_refuse(tmp_path, a_sheet(laid(master, size=(600, 400))))
    assert said.startswith("The picture of “Pellow, Two Tides” breaks off or is damaged")


def test_a_profile_that_is_not_of_rgb_cannot_be_the_sheets(tmp_path: Path) -> None:
    master = kept(tmp_path, Image.new("L", (600, 400), 90), icc_profile=grey_file())
    said = both_refuse(tmp_path, a_sheet(laid(master), profile="own"))
    assert said == (
        "“Pellow, Two Tides”: Its colour profile is not one of RGB, and a sheet needs one. Choose sRGB for the sheet."
    )


def test_a_sheet_of_too_many_pixels_is_refused_before_any_picture_is_read(tmp_path: Path) -> None:
    sheet = a_sheet(laid(tmp_path / "gone.jpg", size=(1, 1)), width_um=841_000, height_um=1_189_000, ppi=600)
    assert both_refuse(tmp_path, sheet) == (
        "The sheet would have 19,866 × 28,087 px. At most 200 million can be made: "
        "choose a smaller sheet, or fewer pixels an inch."
    )


@pytest.mark.parametrize(
    ("limit", "value", "said"),
    [
        ("LONGEST_SECONDS", 0.001, "Making the sheet took longer than 0.001 seconds and was stopped."),
        ("MOST_MEMORY", 150 << 20, "memory"),
    ],
)
def test_a_sheet_that_takes_too_much_is_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, value: float, said: str
) -> None:
    monkeypatch.setattr(lab_sheet, limit, value)
    sheet = a_sheet(laid(kept(tmp_path, colours(600, 400))), width_um=297_000, height_um=420_000, ppi=600)
    with pytest.raises(Refusal, match=said):
        write_tiff(sheet, tmp_path / "sheet.tif")
    assert not (tmp_path / "sheet.tif").exists()


def test_a_full_disk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(lab_sheet, "ask", full)
    said = both_refuse(tmp_path, a_sheet(laid(kept(tmp_path, colours(300, 200)))))
    assert said == "The disk is full: the sheet was not made. Make room and try again."


# What is told beside


def test_a_picture_of_few_pixels_is_warned_of_with_those_it_has_and_those_wanted(tmp_path: Path) -> None:
    master = tmp_path / "never-opened.jpg"
    sheet = a_sheet(*(laid(master, size=size, title=title) for size, title in (
        ((900, 600), "Slack Water"), ((750, 500), "Low Ebb"), ((300, 200), "Pellow"),
    )))  # fmt: skip
    assert shortcomings(sheet) == (
        "“Low Ebb”: 250 pixels an inch at this size: soft when seen close. 300 is usual.",
        "“Pellow”: 100 pixels an inch at this size is too few: add a larger picture, or choose a smaller size.",
    )


def test_the_order_note_says_what_the_lab_must_not_do_and_what_the_file_is(tmp_path: Path) -> None:
    sheet = a_sheet(laid(tmp_path / "never-opened.jpg", size=(900, 600)), width_um=297_000, height_um=420_000, ppi=300)
    assert order_note(sheet, Written(16, "sRGB", ()), "sheet-6-1.tif", 3) == (
        "File sheet-6-1.tif: 3 copies.\n"
        "Sheet 297 × 420 mm: 3508 × 4961 px at 300 pixels an inch.\n"
        "Print it at its own size: no resizing, no fit to sheet. Leave the colours as they are.\n"
        "Paper of the same size: print to the edge without enlarging. Larger paper: leave it untrimmed.\n"
        "Colour profile sRGB, embedded; 16 bits a channel.\n"
        "Rendering intent relative colorimetric, with black point compensation.\n"
        "The rule on the sheet is 100 mm long: please measure it on the print."
    )
    pdf = order_note(sheet, Written(0, "sRGB", ()), "sheet-6-1.pdf", 1).splitlines()
    assert pdf[:2] == ["File sheet-6-1.pdf: 1 copy.", "Sheet 297 × 420 mm: a PDF at its true size."]
    assert "Each picture has its colour profile." in pdf


def test_what_has_no_room_is_told(tmp_path: Path) -> None:
    box = Box(500, 500, 89_500, 59_500)
    picture = laid(tmp_path / "never-opened.jpg", box, size=(8900, 5900), caption="Pellow 7/25")
    assert shortcomings(a_sheet(picture, width_um=90_000, height_um=60_000)) == (
        "1 of 1 prints has no caption: the gutter below is too narrow for one.",
        "The rule of 100 mm is left out: no free place on the sheet is long enough.",
    )

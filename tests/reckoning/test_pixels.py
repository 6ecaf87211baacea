import pytest

from ledger.reckoning.pixels import ppi, print_quality


def test_pixels_an_inch_are_rounded_down() -> None:
    assert ppi(1500, 127_000) == 300  # 127 mm are 5 inches
    assert ppi(1499, 127_000) == 299


@pytest.mark.parametrize(
    ("pixels", "word"), [(3000, "good"), (1500, "good"), (1499, "low"), (900, "low"), (899, "too low")]
)
def test_a_picture_is_called_good_low_or_too_low_for_a_size(pixels: int, word: str) -> None:
    quality = print_quality(pixels, pixels, 127_000, 127_000)
    assert quality.word == word
    assert quality.sentence.startswith(f"{quality.ppi} pixels an inch at this size")


def test_the_direction_with_fewer_pixels_decides() -> None:
    assert print_quality(6000, 1000, 127_000, 127_000).ppi == 200
    assert print_quality(1000, 6000, 127_000, 127_000).ppi == 200

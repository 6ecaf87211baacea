"""What may be written into the book, letter by letter."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.reckoning.texts import TURNING, tidy
from tests.cast import refused


@pytest.mark.parametrize(
    "sign",
    [
        "\u200b",
        "\u2060",
        "\ufeff",
        "\u00ad",
        "\u3164",
        "\u2063",
        "\u200c",
        "\u200d",
        "\u200b\u200d\u2060",
        "\U000e0041",
    ],
)
def test_a_name_with_a_sign_that_shows_nothing_is_the_name_without_it(sign: str) -> None:
    for text in (f"Wil{sign}helmina Tarn", f"{sign}Wilhelmina{sign} {sign} Tarn{sign}", f"Wilhelmina Tar{sign}n"):
        assert tidy(text, "The name") == "Wilhelmina Tarn"


def test_an_accent_behind_such_a_sign_comes_to_its_letter() -> None:
    assert tidy("Cafe\u200b\u0301", "The title") == "Café"


def test_a_name_of_nothing_but_such_signs_is_empty() -> None:
    with refused("The name is empty"):
        tidy("\u200b\u2060\ufeff\u200d", "The name")


@pytest.mark.parametrize("sign", sorted(TURNING))
def test_a_sign_that_turns_text_around_is_refused_and_not_left_out(sign: str) -> None:
    with refused("The name holds a hidden sign that turns text around."):
        tidy(f"Wilhelmina{sign} Tarn", "The name")


@pytest.mark.parametrize(
    "word",
    [
        "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",  # Persian, I want: the prefix stands apart
        "\u0646\u0627\u0645\u0647\u200c\u0647\u0627",  # Persian, letters: the plural's ending stands apart
        "\u0628\u064f\u200c\u0634",  # Arabic script with a vowel on the letter before
        "\u0647\u200d\u0640",  # Arabic heh in the shape it has before another
        "\u0915\u094d\u200d\u0937",  # Hindi, ka and ssa side by side
        "\u0930\u093e\u091c\u094d\u200c\u0935\u0940",  # Hindi, the virama seen
        "\u0d28\u0d4d\u200d",  # Malayalam, a bare consonant at the end of a word
        "\u09b0\u200d\u09cd\u09af\u09be",  # Bengali, ra with ya-phalaa
        "\u0628\u062d\u0631",  # Arabic, sea: no joiner at all
        "\u845b\U000e0100",  # a Chinese name in the shape its bearer writes
    ],
)
def test_words_that_a_joiner_or_selector_shapes_are_kept_whole(word: str) -> None:
    assert tidy(word, "The title") == unicodedata.normalize("NFC", word)


def test_a_joiner_that_shapes_nothing_is_left_out_in_those_scripts_too() -> None:
    persian, hindi = "\u0645\u06cc", "\u0915\u094d"
    assert tidy(f"\u200c{persian}\u200c {persian}", "The title") == f"{persian} {persian}"
    assert tidy(f"{hindi}\u200d\u200d\u0937", "The title") == f"{hindi}\u200d\u0937"
    assert tidy(f"\u200d{hindi}\u0937", "The title") == f"{hindi}\u0937"


@given(st.text(st.characters(exclude_categories=["Cc", "Cs", "Cn"], exclude_characters="".join(TURNING)), max_size=60))
def test_what_was_tidied_once_stays_as_it_is(text: str) -> None:
    once = tidy(text, "The note", needed=False, limit=500)
    assert tidy(once, "The note", needed=False, limit=500) == once

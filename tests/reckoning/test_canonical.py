import json
import unicodedata
from enum import StrEnum
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning.canonical import canonical

# The RFC 8785 author's own vectors; the file names its source. Most hold what the profile refuses.
FILE = Path(__file__).parent.parent / "vectors" / "jcs.json"
VECTORS = {vector["name"]: vector for vector in json.loads(FILE.read_text())["vectors"]}
BIDIRECTIONAL = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def published(name: str) -> tuple[dict[str, Any], bytes]:
    return json.loads(VECTORS[name]["input"]), bytes.fromhex(VECTORS[name]["canonical_hex"])


def test_the_french_vector_is_as_published_where_its_keys_are_ours() -> None:
    value, expected = published("french")
    ours = {key: text for key, text in value.items() if key.isascii()}
    assert canonical(ours) == b'{"peach":"This sorting order","sin":"ignore locale"}'
    assert expected.startswith(b'{"peach":"This sorting order",')
    with pytest.raises(TypeError, match="is not a key"):
        canonical(value)


def test_the_string_of_the_values_vector_is_as_published_without_its_control_characters() -> None:
    value, expected = published("values")
    text = value["string"].replace("\x0f", "").replace("\n", "")
    assert canonical({"string": text}) == b'{"string":"\xe2\x82\xac$A\'B\\"\\\\\\\\\\"/"}'
    assert expected.endswith(b'"string":"\xe2\x82\xac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}')
    with pytest.raises(Refusal, match="hidden character"):
        canonical({"string": value["string"]})


@pytest.mark.parametrize("name", ["french", "structures", "unicode", "values", "weird"])
def test_a_published_vector_outside_the_profile_is_refused_whole(name: str) -> None:
    value, _ = published(name)
    with pytest.raises((TypeError, ValueError, Refusal)):
        canonical(value)


@pytest.mark.parametrize("name", sorted(VECTORS))
def test_the_library_we_compare_with_gives_the_published_bytes(name: str) -> None:
    value, expected = published(name)
    assert rfc8785.dumps(value) == expected


keys = st.from_regex(r"\A[a-z][a-z0-9_.]{0,8}\Z")
letters = st.characters(exclude_categories=["Cc", "Cs"], exclude_characters=BIDIRECTIONAL)
texts = st.text(letters, max_size=20).map(lambda text: unicodedata.normalize("NFC", text))
values = st.recursive(
    texts | st.integers(-(2**53) + 1, 2**53 - 1),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(keys, values, max_size=6))
def test_a_record_is_written_as_rfc_8785_writes_it_and_reads_back_the_same(record: dict[str, Any]) -> None:
    written = canonical(record)
    assert written == rfc8785.dumps(record)
    assert json.loads(written) == record


class Kind(StrEnum):
    LIMITED = "limited"


@pytest.mark.parametrize("value", [1.0, None, True, (1,), b"x", {1}, Kind.LIMITED])
def test_a_record_holds_only_text_whole_numbers_lists_and_dicts(value: object) -> None:
    for record in ({"a": value}, {"a": [value]}, {"a": {"b": value}}):
        with pytest.raises(TypeError):
            canonical(record)


def test_a_record_is_a_dict() -> None:
    with pytest.raises(TypeError):
        canonical(["a"])


@pytest.mark.parametrize("key", ["A", "", "1a", "a-b", "é", "a b", "a\n", "@context"])
def test_keys_are_plain(key: str) -> None:
    with pytest.raises(TypeError):
        canonical({key: "x"})


def test_a_number_too_large_to_be_exact_everywhere_is_refused() -> None:
    assert canonical({"n": 2**53 - 1}) == b'{"n":9007199254740991}'
    for number in (2**53, -(2**53)):
        with pytest.raises(ValueError):
            canonical({"n": number})


@pytest.mark.parametrize("text", ["cafe\u0301", "a\nb", "a\x7f", "a\u202eb", "a\u200fb", "\u2067", "\ud800"])
def test_text_that_could_be_written_or_seen_in_two_ways_is_refused(text: str) -> None:
    with pytest.raises(Refusal):
        canonical({"title": text})

"""What a person is told about something typed wrong: a sentence that quotes it and says what to write."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic_core import ErrorDetails

from ledger.reckoning import numbering

NEEDED = "This is needed."
MOST_SLIPS = 100  # nobody reads more, and a hostile body may have ten thousand


@dataclass(frozen=True)
class Slip:
    """A message about one field. `field` is a dotted path, '' for the whole; `on_form` says that it is the name a
    posted form has for it already, whatever empty rows were left out.
    """

    field: str
    message: str
    on_form: bool = False


class Slips(Exception):
    """What was sent cannot be read as what is asked for; one message a field."""

    def __init__(self, slips: Iterable[Slip]) -> None:
        self.slips = tuple(slips)
        super().__init__("; ".join(f"{slip.field}: {slip.message}" for slip in self.slips))


def quoted(value: object) -> str:
    """What was typed, in quotation marks, shortened where it is long."""
    text = " ".join(str(value).split())
    return f"“{text[:40]}…”" if len(text) > 40 else f"“{text}”"


def headline(verdict: str, how_many: int) -> str:
    """ "Not declared. Three things to put right." """
    things = "One thing" if how_many == 1 else f"{numbering.words(how_many).capitalize()} things"
    return f"{verdict}. {things} to put right."


def field_name(path: str | None) -> str:
    """The name outside for a draft's field, which carries its unit: price_minor is `price`."""
    return re.sub(r"_minor\b", "", path or "")


def _whole(typed: object, example: int) -> str:
    figures = re.search(r"-?[0-9]+", str(typed))
    if typed == "" or typed is None:
        return "Write a whole number."
    write = f"Write {figures[0]}." if figures else f"Write it in figures, such as {example}."
    return f"{quoted(typed)} is not a whole number. {write}"


def _one_of(context: Mapping[str, Any], typed: object) -> str:
    choices = str(context.get("expected", "")).replace("'", "").replace(" or ", ", ")
    return f"{quoted(typed)} is not among the choices: {choices}."


def _length(context: Mapping[str, Any], typed: object) -> str:
    if "max_length" in context:
        return f"This is too long. Use {context['max_length']} at most."
    return (
        "Write something here."
        if context.get("min_length") == 1
        else (f"This is too short. Use {context.get('min_length')} or more.")
    )


def message(error: ErrorDetails) -> str:
    """One finding of the validator as a plain sentence."""
    kind, typed, context = error["type"], error["input"], error.get("ctx", {})
    last = str(error["loc"][-1]) if error["loc"] else ""
    if kind == "value_error":
        return str(context["error"])
    if kind == "missing":
        return NEEDED
    if kind == "extra_forbidden":
        return f"{quoted(last)} is not known here. Leave it out."
    if kind.startswith("int_"):
        return _whole(typed, 2026 if "year" in last else 25)
    if kind.startswith(("date_", "datetime_")):
        return f"{quoted(typed)} is not a day. Write year, month and day, such as 2026-05-04."
    if kind.startswith("bool_"):
        return f"{quoted(typed)} is neither true nor false."
    if kind.startswith("string_to") or kind.endswith(("_too_long", "_too_short")):
        return _length(context, typed)
    if kind in ("literal_error", "enum"):
        return _one_of(context, typed)
    if kind in ("greater_than_equal", "greater_than"):
        least = context.get("ge", context.get("gt"))
        return f"{quoted(typed)} is too low. Write {'more than ' if 'gt' in context else ''}{least}."
    if kind in ("less_than_equal", "less_than"):
        return f"{quoted(typed)} is too high. Write {context.get('le', context.get('lt'))} at most."
    return _SHAPES.get(kind, f"{quoted(typed)} cannot be read here.")


_SHAPES = {
    "json_invalid": "The body is not JSON.",
    "string_type": "Write this as text.",
    "list_type": "Write this as a list.",
    "tuple_type": "Write this as a list.",
    "dict_type": "Write this as an object with named parts.",
    "model_type": "Write this as an object with named parts.",
    "model_attributes_type": "Write this as an object with named parts.",
    "recursion_loop": "This is nested too deep.",
}


def slips_of(errors: Sequence[Any], drop: int = 0) -> list[Slip]:
    """The validator's findings, one a field. `drop` leaves out the first steps of each path ('body')."""
    found: dict[str, Slip] = {}
    for error in errors:
        steps = () if error["type"] == "json_invalid" else error["loc"][drop:]
        name = ".".join(str(step) for step in steps)
        found.setdefault(name, Slip(name, message(error)))
    return list(found.values())[:MOST_SLIPS]

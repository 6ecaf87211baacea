"""How amounts, lengths and rates are written outside, in JSON and in forms, and read into whole units."""

import re
from datetime import date
from fractions import Fraction
from typing import Annotated, Any

from fastapi import Query
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, WithJsonSchema, model_validator

from ledger.errors import Refusal
from ledger.reckoning import money
from ledger.web.sentences import Slip, Slips, quoted

FORM = "form"
"""The validation context's key for the currency of amounts typed into a form, where none is written."""


class Shape(BaseModel):
    """What a door takes: unknown fields are refused, white space round a text is dropped."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class WhyShape(Shape):
    """A reason, which the record keeps."""

    why: str = ""


class Amount(Shape):
    """An amount of money: `{"amount": "65.00", "currency": "GBP"}`."""

    amount: str
    currency: str

    @model_validator(mode="before")
    @classmethod
    def _typed(cls, value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, str) and info.context and FORM in info.context:
            return {"amount": value, "currency": info.context[FORM]}
        if not isinstance(value, dict | cls):
            raise ValueError('Write this as {"amount": "65.00", "currency": "GBP"}.')
        return value

    def minor(self, currency: str, field: str, *, allow_negative: bool = False) -> int:
        """Whole minor units of the ledger's currency. Raises Slips for another one, or unreadable figures."""
        if self.currency != currency:
            raise Slips(
                [
                    Slip(
                        f"{field}.currency",
                        (
                            f"{quoted(self.currency)} cannot stand in a book kept in {currency}. "
                            f"Write what arrived in {currency}."
                        ),
                    )
                ]
            )
        try:
            return money.parse(self.amount, currency, allow_negative=allow_negative)
        except Refusal as refusal:
            raise Slips([Slip(field, refusal.message)]) from refusal


def amount(minor: int, currency: str) -> dict[str, str]:
    """An amount as the API says it."""
    return {"amount": money.plain(minor, currency), "currency": currency}


MOST_ID = 2**31 - 1
"""The highest number a thing in the book can have: PostgreSQL keeps it in an integer of four bytes."""

Id = Annotated[int, Field(ge=1, le=MOST_ID)]
"""The number of a thing in the book, in a path, a query or a body. In a path anything else is not found."""

After = Annotated[int, Query(ge=0, le=MOST_ID)]
"""The last number the caller has of a list."""

Whole = Annotated[int, Field(ge=0, le=999_999)]
"""How many, or a number of an edition."""

Year = Annotated[int, Field(ge=0, le=9999)]


def read_id(typed: str) -> int | None:
    """The number of a thing as it stands in a list of choices; None for what can be no such number."""
    found = int(typed) if re.fullmatch(r"[0-9]{1,10}", typed) else 0
    return found if 1 <= found <= MOST_ID else None


def _decimal(value: Any, places: int, example: str) -> int:
    """A plain decimal as a whole number of its smallest part; nothing is rounded unseen."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError(f"Write this as a number, such as {example}.")
    typed = str(value).strip()
    if re.fullmatch(r"[0-9]{1,9},[0-9]{1,3}", typed):
        thousands = f" or {typed.replace(',', '')}" if re.search(r",[0-9]{3}$", typed) else ""
        raise ValueError(f"{quoted(typed)} has a comma: write {typed.replace(',', '.')}{thousands}.")
    found = re.fullmatch(r"[0-9]{1,9}(?:\.([0-9]+))?", typed)
    if not found:
        raise ValueError(f"{quoted(typed)} is not a number. Write it in figures, such as {example}.")
    if len((found[1] or "").rstrip("0")) > places:
        raise ValueError(f"{quoted(typed)} has more decimals than are kept. Use {places} at most.")
    return int(Fraction(typed) * 10**places)


def _number(title: str, places: int) -> WithJsonSchema:
    said = f"{title}, {places} decimals at most"
    return WithJsonSchema({"type": "number", "minimum": 0, "description": said})


Mm = Annotated[int, BeforeValidator(lambda value: _decimal(value, 3, "127.5")), _number("Millimetres", 3)]
"""Whole micrometres, written as millimetres."""


def _percent(value: Any) -> int:
    """A share with the sign of its field, '50%' or '50 %', or without."""
    typed = re.sub(r"\s*%$", "", value.strip()) if isinstance(value, str) else value
    return _decimal(typed, 2, "17.5")


Percent = Annotated[int, BeforeValidator(_percent), _number("Per cent", 2)]
"""Hundredths of a per cent, written as per cent."""


def mm(um: int) -> float | int:
    """A length as the API says it: millimetres."""
    return um // 1000 if um % 1000 == 0 else um / 1000


def percent_said(bp: int) -> str:
    """A rate as a page says it and a form holds it: 40, 17.5."""
    return f"{bp // 100}.{bp % 100:02}".rstrip("0").rstrip(".")


def day(value: date | None) -> str | None:
    """A day as the API says it."""
    return value.isoformat() if value else None

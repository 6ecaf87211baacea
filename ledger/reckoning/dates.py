"""Days in words, and dates of which only a part is known."""

import calendar
import re
from dataclasses import dataclass
from datetime import date

from ledger.errors import Refusal

# Written out, because month names from the system would follow whatever language it is set to.
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def said(day: date) -> str:
    """A day in words: "4 May 2026"."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def span(first: date, last: date) -> str:
    """Two days in words, without saying twice what they share: "4 to 6 May 2026", "30 May to 1 June 2026"."""
    if first == last:
        return said(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {said(last)}"
    if first.year == last.year:
        return f"{first.day} {_MONTHS[first.month - 1]} to {said(last)}"
    return f"{said(first)} to {said(last)}"


@dataclass(frozen=True)
class PartDate:
    """A date as far as it is known: a year, perhaps month and day; `about` where even that is a guess."""

    year: int
    month: int | None = None
    day: int | None = None
    about: bool = False

    @property
    def first(self) -> date:
        """The first day it can mean. `about` does not widen it, for nobody said by how much."""
        return date(self.year, self.month or 1, self.day or 1)

    @property
    def last(self) -> date:
        """The last day it can mean."""
        month = self.month or 12
        return date(self.year, month, self.day or calendar.monthrange(self.year, month)[1])

    def said(self) -> str:
        """As "2011", "May 2011", "4 May 2011", "about 2011"."""
        if self.month and self.day:
            words = said(self.first)
        elif self.month:
            words = f"{_MONTHS[self.month - 1]} {self.year}"
        else:
            words = str(self.year)
        return f"about {words}" if self.about else words

    def written(self) -> str:
        """As "2011", "2011-05", "2011-05-04", "about 2011": what is kept, and read again by `parse_part`."""
        parts = [f"{self.year:04}"] + [f"{part:02}" for part in (self.month, self.day) if part]
        return ("about " if self.about else "") + "-".join(parts)


_ABOUT = re.compile(r"(?:about|around|circa|c\.|c|ca\.?)\s*(?=\w)", re.IGNORECASE)
_FIGURES = re.compile(r"([0-9]{4})(?:-([0-9]{1,2})(?:-([0-9]{1,2}))?)?")
_WORDS = re.compile(r"(?:([0-9]{1,2})\s+)?([A-Za-z]{3,9})\.?\s+([0-9]{4})")


def parse_part(text: str) -> PartDate:
    """Read "2011", "2011-05", "2011-05-04", "May 2011", "4 May 2011", any of them after "about".

    Raises Refusal.
    """
    typed = " ".join(text.split())
    about = _ABOUT.match(typed)
    rest = typed[about.end() :] if about else typed
    year: str
    month: int | None
    if found := _FIGURES.fullmatch(rest):
        year, month, day = found[1], int(found[2]) if found[2] else None, found[3]
    elif (found := _WORDS.fullmatch(rest)) and (named := _month(found[2])):
        year, month, day = found[3], named, found[1]
    else:
        raise Refusal(f"“{typed}” is not a date. Write 2011, May 2011, 4 May 2011 or about 2011.")
    known = PartDate(int(year), month, int(day) if day else None, bool(about))
    try:
        date(known.year, 1 if month is None else month, 1 if day is None else int(day))
    except ValueError:
        raise Refusal(f"“{typed}” is a date no calendar has. Look at the day and the month.") from None
    return known


def _month(name: str) -> int | None:
    """The month these letters begin, at least three of them ("Sept" too)."""
    for place, month in enumerate(_MONTHS, start=1):
        if month.lower().startswith(name.lower()):
            return place
    return None

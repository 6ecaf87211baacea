"""An act tried out and taken back: a slip is found before a maker reads what is for good, not after."""

from collections.abc import Callable
from typing import TypeVar

from ledger.accounts import Who
from ledger.database import Book, writing
from ledger.web.house import House

T = TypeVar("T")


class _Enough(Exception):
    """Raised to roll back what was only tried out."""


def rehearse(house: House, who: Who, act: Callable[[Book], T]) -> T:
    """What `act` would return; nothing of it is kept. Raises what the act raises."""
    told: list[T] = []
    try:
        with writing(house.engine, who.name) as book:
            told.append(act(book))
            raise _Enough
    except _Enough:
        return told[0]

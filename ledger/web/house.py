"""What every door needs: the ledger it opens, and an act carried out once however often it is sent."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, cast

from fastapi import Depends, Request

from ledger import repeats
from ledger.accounts import Who
from ledger.database import Book, Engine, writing
from ledger.settings import Settings
from ledger.web.hosts import Hosts
from ledger.web.limits import UnknownCodes, network_of


@dataclass(frozen=True)
class Repeat:
    """How a request sent twice is known again: the sender's key, and a hash of what was asked for."""

    key: str
    fingerprint: str


@dataclass(frozen=True)
class Done:
    """Where the result of an act is found, and whether an earlier request made it."""

    path: str
    again: bool = False


@dataclass(frozen=True)
class House:
    """One ledger as the doors see it."""

    engine: Engine
    settings: Settings
    data_dir: Path
    demo: bool
    hosts: Hosts
    mismatch: bool = False
    """What was looked at on opening does not match the record: nothing is issued."""
    unknown_codes: UnknownCodes = field(default_factory=UnknownCodes)

    def record(self, who: Who, act: Callable[[Book], str], repeat: Repeat | None = None) -> Done:
        """Carry out an act, which returns where its result is found; durable when this returns.

        The same request under the same key is not carried out again. Raises what the act raises, and UsedKey.
        """
        with writing(self.engine, who.name) as book:
            if repeat:
                earlier = repeats.once(book, who.account_id, repeat.key, repeat.fingerprint)
                if earlier is not None:
                    return Done(earlier, again=True)
            path = act(book)
            if repeat:
                repeats.remember(book, who.account_id, repeat.key, repeat.fingerprint, path)
        return Done(path)


def house_of(request: Request) -> House:
    """The ledger this request is about."""
    return cast(House, request.app.state.house)


def network(request: Request) -> str:
    """The network a request came from, as far as limits care."""
    return network_of(request.client.host if request.client else None)


async def _here(request: Request) -> House:
    # A plain function would be carried out in another thread, which takes longer than all else on a short page.
    return house_of(request)


Here = Annotated[House, Depends(_here)]

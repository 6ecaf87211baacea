"""Requests that were already carried out: asked again under the same key, they are answered and not done twice.

Housekeeping, no part of the record: these rows go after a week.
"""

import hashlib
from collections.abc import Iterable
from datetime import timedelta

from sqlmodel import col, delete, select

from ledger.database import Book
from ledger.errors import Refusal
from ledger.tables import Idempotency

REPEATS_KEPT = timedelta(days=7)


class UsedKey(Refusal):
    """A key of an earlier request came with another body. `path` is what the earlier one made."""

    def __init__(self, path: str) -> None:
        super().__init__("This was sent before with other words in it. Open it afresh to send a second one.")
        self.path = path


def fingerprint(parts: Iterable[str]) -> str:
    """SHA-256 of what a request asks for, to tell a repeat from another request under the same key."""
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def once(book: Book, account_id: int, key: str, request_sha256: str) -> str | None:
    """Where the result of an earlier request with this key is found; None when there was none.

    Ask inside the act's own transaction. Raises UsedKey when that request asked for something else.
    """
    earlier = book.session.exec(
        select(Idempotency).where(
            Idempotency.account_id == account_id, Idempotency.key == key, col(Idempotency.at) > book.at - REPEATS_KEPT
        )
    ).first()
    if earlier is None:
        return None
    if earlier.request_sha256 != request_sha256:
        raise UsedKey(earlier.result_path)
    return earlier.result_path


def remember(book: Book, account_id: int, key: str, request_sha256: str, path: str) -> None:
    """Keep where the result is, in the act's own transaction and after its entry."""
    book.session.exec(delete(Idempotency).where(col(Idempotency.at) <= book.at - REPEATS_KEPT))
    book.session.add(
        Idempotency(account_id=account_id, key=key, request_sha256=request_sha256, result_path=path, at=book.at)
    )

"""Who may open the book: accounts, their sessions and tokens, and requests that were already carried out.

Housekeeping, no part of the record: these rows may go. Passwords are kept as argon2id; of sessions, tokens
and one-time addresses only the SHA-256 is kept, so that a copy of the book opens nothing.
"""

import hashlib
import re
import threading
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import func
from sqlmodel import Session, col, delete, select, update

from ledger import chance
from ledger.database import Book
from ledger.errors import Refusal
from ledger.reckoning.texts import tidy
from ledger.tables import Account, FirstSignIn, Idempotency, SignedIn, SignInTry, Token

LASTS = timedelta(days=14)
IDLE = timedelta(hours=12)
FIRST_LASTS = timedelta(days=1)
REPEATS_KEPT = timedelta(days=7)
TRIES_KEPT = timedelta(days=1)
SEEN_EVERY = timedelta(minutes=5)  # so that looking at a page is not a write every time

LEAST_LETTERS = 12
TOKEN_BEGINS = "ledger-"  # tells whoever finds one lying about what it opens

# So many misses are free, then each waits longer, up to the longest: by name and network, and, for many
# networks at work on one name, by name alone. That wait is short, or a stranger could lock the maker out.
BY_NAME_AND_NETWORK = (5, timedelta(minutes=15))
BY_NAME = (50, timedelta(seconds=30))
FIRST_WAIT = timedelta(seconds=5)

# OWASP's least for argon2id (Password Storage Cheat Sheet, from memory): 19 MiB, two passes, one lane.
hasher = PasswordHasher(time_cost=2, memory_cost=19456, parallelism=1)
_hashing = threading.BoundedSemaphore(2)
# The hash of a thrown-away password: an unknown name costs the same time as a wrong password.
NOBODY = "$argon2id$v=19$m=19456,t=2,p=1$35Kfm8RjyZsJ0yZJB2eNBg$oZbYHqeBmbgvNMltl4hbsvbinSGmdRGbBKjma7LSIE0"


@dataclass(frozen=True)
class Who:
    """Somebody who is signed in, or whose token was shown."""

    account_id: int
    name: str


@dataclass(frozen=True)
class Credentials:
    """An account as sign-in reads it."""

    who: Who
    password_hash: str


@dataclass(frozen=True)
class TokenFacts:
    """A token as its list shows it; the token itself is not kept."""

    id: int
    label: str
    made_at: datetime
    ended_at: datetime | None


class TryLater(Refusal):
    """Too often, too fast. `seconds` says how long to wait."""

    def __init__(self, message: str, seconds: int) -> None:
        super().__init__(message)
        self.seconds = seconds


class UsedKey(Refusal):
    """A key of an earlier request came with another body. `path` is what the earlier one made."""

    def __init__(self, path: str) -> None:
        super().__init__("This was sent before with other words in it. Open it afresh to send a second one.")
        self.path = path


def digest(secret: str) -> str:
    """SHA-256, in hexadecimal: what is kept of a secret that is long enough not to be guessed."""
    return hashlib.sha256(secret.encode()).hexdigest()


# --- passwords ---


def _normal(password: str) -> str:
    return unicodedata.normalize("NFC", password)  # one keyboard composes é, another does not


def hash_password(password: str) -> str:
    """The argon2id hash. Slow on purpose, two at a time: call it outside any transaction."""
    with _hashing:
        return hasher.hash(_normal(password))


def proven(credentials: Credentials | None, password: str) -> bool:
    """Whether the password is this account's; for no account false, after the same time.

    Raises TryLater when too many are being checked at once. Call it outside any transaction.
    """
    if not _hashing.acquire(timeout=5):
        raise TryLater("Too many are signing in at this moment. Try again in a minute.", 60)
    try:
        return hasher.verify(credentials.password_hash if credentials else NOBODY, _normal(password))
    except (VerificationError, InvalidHashError):
        return False
    finally:
        _hashing.release()


def check_password(password: str, name: str) -> None:
    """Raises Refusal for a password that would be guessed."""
    normal = _normal(password)
    if len(normal) < LEAST_LETTERS:
        raise Refusal(f"Use {LEAST_LETTERS} characters or more. Four plain words are easy to keep.", field="password")
    if len(set(normal.casefold())) < 5:
        raise Refusal("Use more than four different characters.", field="password")
    own = name.casefold().split("@")[0].strip()
    if own and own in normal.casefold():
        raise Refusal("Leave your own name out of the password.", field="password")


# --- accounts ---


def _named(session: Session, name: str) -> Account | None:
    folded = " ".join(unicodedata.normalize("NFC", name).casefold().split())
    return next((row for row in session.exec(select(Account)) if row.name.casefold() == folded), None)


def _who(account: Account) -> Who:
    assert account.id is not None
    return Who(account.id, account.name)


def any_account(session: Session) -> bool:
    """Whether anybody can sign in yet."""
    return session.exec(select(Account.id).limit(1)).first() is not None


def everybody(session: Session) -> list[Who]:
    """All accounts, by name."""
    return [_who(account) for account in session.exec(select(Account).order_by(Account.name))]


def credentials_of(session: Session, name: str) -> Credentials | None:
    """What sign-in compares with, upper and lower case alike; None for a name nobody has."""
    account = _named(session, name)
    return Credentials(_who(account), account.password_hash) if account else None


def make_account(session: Session, name: str, password_hash: str, now: datetime) -> Who:
    """Make an account, named by an e-mail address. Raises Refusal for a name that is none, or is taken."""
    tidied = tidy(name, "The e-mail address", limit=200, field="email")
    if not re.fullmatch(r"[^@\s]+@[^@\s]+", tidied):
        raise Refusal(f"“{tidied}” is not an e-mail address. Write it as name@example.org.", field="email")
    if _named(session, tidied):
        raise Refusal(f"Somebody signs in as {tidied} already. Use another address.", field="email")
    account = Account(name=tidied, password_hash=password_hash, made_at=now)
    session.add(account)
    session.flush()
    return _who(account)


def set_password(session: Session, account_id: int, password_hash: str) -> None:
    """Give an account another password; everybody signed in under it is signed out."""
    session.exec(update(Account).where(col(Account.id) == account_id).values(password_hash=password_hash))
    end_sessions(session, account_id)


def remove_account(session: Session, account_id: int) -> None:
    """Close an account: its sessions and tokens stop at once. Raises Refusal for the last one."""
    if len(everybody(session)) < 2:
        raise Refusal("This is the only account. Make another before you close it.")
    for table in (SignedIn, Token, Idempotency):
        session.exec(delete(table).where(col(table.account_id) == account_id))
    session.exec(delete(Account).where(col(Account.id) == account_id))


# --- the one-time address ---


def offer_first_sign_in(session: Session, now: datetime) -> str:
    """The secret of a one-time address that makes one account; any earlier address stops."""
    secret = chance.token()
    session.exec(delete(FirstSignIn))
    session.add(FirstSignIn(token_sha256=digest(secret), made_at=now))
    return secret


def first_sign_in_stands(session: Session, secret: str, now: datetime) -> bool:
    """Whether the one-time address may still be used."""
    row = select(FirstSignIn).where(
        FirstSignIn.token_sha256 == digest(secret), col(FirstSignIn.made_at) > now - FIRST_LASTS
    )
    return session.exec(row).first() is not None


def use_first_sign_in(session: Session, secret: str, name: str, password_hash: str, now: datetime) -> Who:
    """Make the account a one-time address promises, and spend the address. Raises Refusal."""
    if not first_sign_in_stands(session, secret, now):
        raise Refusal("This address was used already, or is more than a day old.", missing=True)
    session.exec(delete(FirstSignIn).where(col(FirstSignIn.token_sha256) == digest(secret)))
    return make_account(session, name, password_hash, now)


# --- tries ---


def _keys(name: str, network: str) -> list[tuple[str, int, timedelta]]:
    folded = " ".join(unicodedata.normalize("NFC", name).casefold().split())
    return [(digest(f"{folded}\n{network}"), *BY_NAME_AND_NETWORK), (digest(folded), *BY_NAME)]


def count_try(session: Session, name: str, network: str, now: datetime) -> None:
    """Count one more try, before its password is looked at, so that tries at the same moment all count.

    Raises TryLater, counting nothing, while an earlier miss still has to be waited for.
    """
    session.exec(delete(SignInTry).where(col(SignInTry.at) <= now - TRIES_KEPT))
    keys = _keys(name, network)
    for key, free, longest in keys:
        made = session.exec(select(func.count()).where(SignInTry.key == key)).one()
        if made < free:
            continue
        wait = min(FIRST_WAIT * 2 ** min(made - free, 20), longest)
        lately = select(SignInTry.id).where(SignInTry.key == key, col(SignInTry.at) > now - wait)
        if session.exec(lately).first() is not None:
            seconds = int(wait.total_seconds())
            said = f"{seconds} seconds" if seconds < 120 else f"{-(-seconds // 60)} minutes"
            raise TryLater(f"Too many tries. Wait {said}, then try again.", seconds)
    session.add_all(SignInTry(key=key, at=now) for key, _, _ in keys)


# --- sessions ---


def open_session(
    session: Session, credentials: Credentials, network: str, now: datetime, *, better_hash: str | None = None
) -> str:
    """Sign somebody in whose password was proven; the secret for the cookie is returned.

    Raises Refusal when the password was changed meanwhile.
    """
    account = session.get(Account, credentials.who.account_id)
    if account is None or account.password_hash != credentials.password_hash:
        raise Refusal("The password was changed a moment ago. Sign in again.")
    if better_hash:
        account.password_hash = better_hash
    keys = [key for key, _, _ in _keys(account.name, network)]
    session.exec(delete(SignInTry).where(col(SignInTry.key).in_(keys)))
    session.exec(delete(SignedIn).where((col(SignedIn.made_at) <= now - LASTS) | (col(SignedIn.seen_at) <= now - IDLE)))
    return open_session_for(session, credentials.who, now)


def open_session_for(session: Session, who: Who, now: datetime) -> str:
    """A fresh session of this account; its secret is returned."""
    secret = chance.token()
    session.add(SignedIn(token_sha256=digest(secret), account_id=who.account_id, made_at=now, seen_at=now))
    return secret


def signed_in(session: Session, secret: str, now: datetime) -> Who | None:
    """Who is signed in; None for a secret that is unknown, idle too long or too old."""
    account = session.exec(
        select(Account)
        .join(SignedIn, col(SignedIn.account_id) == Account.id)
        .where(
            SignedIn.token_sha256 == digest(secret),
            col(SignedIn.made_at) > now - LASTS,
            col(SignedIn.seen_at) > now - IDLE,
        )
    ).first()
    return _who(account) if account else None


def seen_long_ago(session: Session, secret: str, now: datetime) -> bool:
    """Whether the session's last sign of life is old enough to be written anew."""
    row = select(SignedIn).where(SignedIn.token_sha256 == digest(secret), col(SignedIn.seen_at) <= now - SEEN_EVERY)
    return session.exec(row).first() is not None


def seen(session: Session, secret: str, now: datetime) -> None:
    """Write down a sign of life."""
    session.exec(update(SignedIn).where(col(SignedIn.token_sha256) == digest(secret)).values(seen_at=now))


def close_session(session: Session, secret: str) -> None:
    """Sign out, here, whatever the cookie goes on saying."""
    session.exec(delete(SignedIn).where(col(SignedIn.token_sha256) == digest(secret)))


def end_sessions(session: Session, account_id: int, *, but: str = "") -> None:
    """Sign an account out everywhere, but where `but` is the secret."""
    session.exec(
        delete(SignedIn).where(col(SignedIn.account_id) == account_id, col(SignedIn.token_sha256) != digest(but))
    )


# --- tokens ---


def sign_everybody_out(session: Session) -> None:
    """End every session, token and one-time address; passwords stay."""
    for table in (SignedIn, Token, FirstSignIn):
        session.exec(delete(table))


def new_token(session: Session, account_id: int, label: str, now: datetime) -> str:
    """A token for the API, to be shown once. Raises Refusal without a label."""
    tidied = tidy(label, "What the token is for", limit=80, field="label")
    secret = TOKEN_BEGINS + chance.token()
    session.add(Token(token_sha256=digest(secret), account_id=account_id, label=tidied, made_at=now))
    return secret


def tokens_of(session: Session, account_id: int) -> list[TokenFacts]:
    """An account's tokens, those ended too, the latest first."""
    rows = session.exec(select(Token).where(Token.account_id == account_id).order_by(col(Token.id).desc()))
    return [TokenFacts(row.id or 0, row.label, row.made_at, row.ended_at) for row in rows]


def end_token(session: Session, account_id: int, token_id: int, now: datetime) -> None:
    """End a token of this account. Raises Refusal where it has no such token."""
    row = session.get(Token, token_id)
    if row is None or row.account_id != account_id:
        raise Refusal("This account has no such token.", missing=True)
    row.ended_at = row.ended_at or now


def token_holder(session: Session, secret: str) -> Who | None:
    """Whose token this is; None where it is unknown or ended."""
    account = session.exec(
        select(Account)
        .join(Token, col(Token.account_id) == Account.id)
        .where(Token.token_sha256 == digest(secret), col(Token.ended_at).is_(None))
    ).first()
    return _who(account) if account else None


# --- requests carried out once ---


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

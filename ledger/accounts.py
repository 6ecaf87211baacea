"""Who may open the book: accounts, their passwords, and tries to sign in.

Housekeeping, no part of the record: these rows may go. Passwords are kept as argon2id.
"""

import hashlib
import re
import threading
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import func
from sqlmodel import Session, col, delete, select, update

from ledger.errors import Refusal
from ledger.reckoning.texts import tidy
from ledger.tables import Account, Idempotency, SignedIn, SignInTry, Token

TRIES_KEPT = timedelta(days=1)

LEAST_LETTERS = 12
LEAST_OWN = 4
"""A name of fewer letters stands in many words."""

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


class TryLater(Refusal):
    """Too often, too fast. `seconds` says how long to wait."""

    def __init__(self, message: str, seconds: int) -> None:
        super().__init__(message)
        self.seconds = seconds


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
    if len(own) >= LEAST_OWN and own in normal.casefold():
        raise Refusal("Leave your own name out of the password.", field="password")


# --- accounts ---


def _named(session: Session, name: str) -> Account | None:
    folded = " ".join(unicodedata.normalize("NFC", name).casefold().split())
    return next((row for row in session.exec(select(Account)) if row.name.casefold() == folded), None)


def who_of(account: Account) -> Who:
    assert account.id is not None
    return Who(account.id, account.name)


def any_account(session: Session) -> bool:
    """Whether anybody can sign in yet."""
    return session.exec(select(Account.id).limit(1)).first() is not None


def everybody(session: Session) -> list[Who]:
    """All accounts, by name."""
    return [who_of(account) for account in session.exec(select(Account).order_by(Account.name))]


def credentials_of(session: Session, name: str) -> Credentials | None:
    """What sign-in compares with, upper and lower case alike; None for a name nobody has."""
    account = _named(session, name)
    return Credentials(who_of(account), account.password_hash) if account else None


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
    return who_of(account)


def set_password(session: Session, account_id: int, password_hash: str) -> None:
    """Give an account another password; everybody signed in under it is signed out."""
    session.exec(update(Account).where(col(Account.id) == account_id).values(password_hash=password_hash))
    session.exec(delete(SignedIn).where(col(SignedIn.account_id) == account_id))


def remove_account(session: Session, account_id: int) -> None:
    """Close an account: its sessions and tokens stop at once. Raises Refusal for the last one."""
    if len(everybody(session)) < 2:
        raise Refusal("This is the only account. Make another before you close it.")
    for table in (SignedIn, Token, Idempotency):
        session.exec(delete(table).where(col(table.account_id) == account_id))
    session.exec(delete(Account).where(col(Account.id) == account_id))


# --- tries ---


def keys_of_tries(name: str, network: str) -> list[tuple[str, int, timedelta]]:
    folded = " ".join(unicodedata.normalize("NFC", name).casefold().split())
    return [(digest(f"{folded}\n{network}"), *BY_NAME_AND_NETWORK), (digest(folded), *BY_NAME)]


def count_try(session: Session, name: str, network: str, now: datetime) -> None:
    """Count one more try, before its password is looked at, so that tries at the same moment all count.

    Raises TryLater, counting nothing, while an earlier miss still has to be waited for.
    """
    session.exec(delete(SignInTry).where(col(SignInTry.at) <= now - TRIES_KEPT))
    keys = keys_of_tries(name, network)
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

"""What stands for somebody who signed in: sessions, tokens of programs, and the one-time address of the first account.

Housekeeping, no part of the record: these rows may go. Only the SHA-256 of each secret is kept, so that a copy of
the book opens nothing.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, delete, select, update

from ledger import accounts, chance
from ledger.accounts import Credentials, Who, digest
from ledger.errors import Refusal
from ledger.reckoning.texts import tidy
from ledger.tables import Account, FirstSignIn, SignedIn, SignInTry, Token

LASTS = timedelta(days=14)
IDLE = timedelta(hours=12)
FIRST_LASTS = timedelta(days=1)
SEEN_EVERY = timedelta(minutes=5)  # so that looking at a page is not a write every time

TOKEN_BEGINS = "ledger-"  # tells whoever finds one lying about what it opens


@dataclass(frozen=True)
class TokenFacts:
    """A token as its list shows it; the token itself is not kept."""

    id: int
    label: str
    made_at: datetime
    ended_at: datetime | None


def sign_everybody_out(session: Session) -> None:
    """End every session, token and one-time address; passwords stay."""
    for table in (SignedIn, Token, FirstSignIn):
        session.exec(delete(table))


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
    return accounts.make_account(session, name, password_hash, now)


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
    keys = [key for key, _, _ in accounts.keys_of_tries(account.name, network)]
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
    return accounts.who_of(account) if account else None


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
    return accounts.who_of(account) if account else None

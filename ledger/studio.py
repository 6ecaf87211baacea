"""The studio: whose book this is, in which currency, at which address, under which tax."""

import ipaddress
import re
from datetime import date
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import journal
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning.money import CURRENCIES
from ledger.reckoning.texts import tidy
from ledger.reckoning.web_addresses import scheme_and_host
from ledger.tables import Address, Studio, TaxStanding


class StudioDraft(BaseModel):
    """Who keeps the book. The currency can never be changed afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    maker_name: str
    name_as_signed: str = ""
    address: str
    contact_line: str = ""
    place: str
    currency: str = "GBP"
    paper: Literal["a5", "a4"] = "a5"
    tax_by: Literal["line", "invoice"] = "line"
    works_cap: int = 30
    particulars: bool = True
    fixed_sentence: bool = False
    care_line: str = "Out of the sun, out of the damp"


def open_studio(book: Book, draft: StudioDraft) -> Studio:
    """Open the book: its first entry.

    Raises Refusal when it is open already, or for a currency that is not in ISO 4217.
    """
    if find_studio(book.session) is not None:
        raise Refusal("This book is open already. Change its lines under Settings.")
    if draft.currency not in CURRENCIES:
        raise Refusal(
            f"“{draft.currency}” is not a currency code of ISO 4217. Write GBP, EUR, USD or another.", field="currency"
        )
    studio = Studio(id=1, currency=draft.currency, **_lines(draft))
    book.session.add(studio)
    journal.public(
        book, "studio.opened", {"maker": studio.maker_name, "currency": studio.currency}, Touched("opened", book.today)
    )
    return studio


def change_studio(book: Book, draft: StudioDraft) -> Studio:
    """Change the lines printed on papers not yet issued. The currency stays.

    Raises Refusal.
    """
    studio = the_studio(book.session)
    if draft.currency != studio.currency:
        raise Refusal(f"This book is kept in {studio.currency} for good.", field="currency")
    for name, value in _lines(draft).items():
        setattr(studio, name, value)
    book.session.add(studio)
    journal.sealed(book, "studio_changed", {}, Touched("changed_studio", book.today), person=_as_text(draft))
    return studio


def _lines(draft: StudioDraft) -> dict[str, Any]:
    if not 0 <= draft.works_cap <= 9999:
        raise Refusal(
            "The count to warn at lies between 0 and 9,999. Write 30, or 0 for no warning.", field="works_cap"
        )
    maker = tidy(draft.maker_name, "The maker’s name", limit=80, field="maker_name")
    return {
        "maker_name": maker,
        "name_as_signed": tidy(draft.name_as_signed, "The name as signed", limit=80, needed=False) or maker,
        "address": tidy(draft.address, "The address", limit=160, field="address"),
        "contact_line": tidy(draft.contact_line, "The line on how to write to you", limit=120, needed=False),
        "place": tidy(draft.place, "The place", limit=60, field="place"),
        "paper": draft.paper,
        "tax_by": draft.tax_by,
        "works_cap": draft.works_cap,
        "particulars": draft.particulars,
        "fixed_sentence": draft.fixed_sentence,
        "care_line": tidy(draft.care_line, "The line on care", limit=80, needed=False),
    }


def _as_text(draft: StudioDraft) -> dict[str, str]:
    return {name: str(value) for name, value in _lines(draft).items()}


def find_studio(session: Session) -> Studio | None:
    return session.get(Studio, 1)


def the_studio(session: Session) -> Studio:
    """The studio's row. Raises Refusal while the book is not open."""
    studio = find_studio(session)
    if studio is None:
        raise Refusal("This book is not open yet. Write who keeps it, on its first page.")
    return studio


def currency(session: Session) -> str:
    return the_studio(session).currency


def address_from(url: str, *, demo: bool = False) -> str:
    """The public address as certificates carry it: https and a host, nothing after.

    Raises Refusal for an address nobody outside could open; a demo ledger may use any.
    """
    parts = scheme_and_host(url)
    host, port = (parts.hostname or "").lower(), parts.port
    netloc = f"{host}:{port}" if port else host
    if demo:
        return f"{parts.scheme or 'http'}://{netloc}"
    if parts.scheme != "https":
        raise Refusal("Certificates carry an https address, or a phone warns your buyer. Write https://…", field="url")
    if not _is_public(host):
        raise Refusal(f"“{host}” cannot be opened from outside your studio. Use a host name of your own.", field="url")
    if not re.fullmatch(r"[a-z0-9.-]{4,60}", host) or "." not in host:
        raise Refusal(f"“{host}” is not a host name that a certificate can carry.", field="url")
    return f"https://{netloc}"


def _is_public(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_global
    except ValueError:
        return host != "localhost" and not host.endswith((".localhost", ".local", ".internal", ".lan", ".home.arpa"))


def change_address(book: Book, url: str, *, demo: bool = False) -> str:
    """From now on certificates carry this address; every earlier one goes on answering.

    Raises Refusal.
    """
    address = address_from(url, demo=demo)
    if address == present_address(book.session):
        raise Refusal(f"Certificates carry {address} already.", field="url")
    seq = journal.sealed(book, "address_set", {"url": address}, Touched("changed_address", book.today))
    again = book.session.exec(select(Address).where(Address.url == address)).first()
    if again is None:
        book.session.add(Address(url=address, from_on=book.today, entry_seq=seq))
    else:
        again.from_on, again.entry_seq = book.today, seq
        book.session.add(again)
    return address


def present_address(session: Session) -> str | None:
    """The address on certificates issued now; None while none was chosen."""
    return session.exec(select(Address.url).order_by(col(Address.entry_seq).desc())).first()


def addresses(session: Session) -> list[str]:
    """Every public address there ever was, the present one first."""
    return list(session.exec(select(Address.url).order_by(col(Address.entry_seq).desc())))


def former_addresses(session: Session) -> list[Address]:
    """The addresses certificates carried before the present one, the latest first; each must go on answering."""
    return list(session.exec(select(Address).order_by(col(Address.entry_seq).desc()).offset(1)))


def set_tax(book: Book, from_on: date, *, registered: bool, number: str = "", rate_bp: int = 0) -> TaxStanding:
    """Say from which day the maker is registered for sales tax, or no longer is.

    Raises Refusal.
    """
    if registered and not 0 < rate_bp <= 10000:
        raise Refusal("A registered maker’s rate lies between 0.01 and 100 %. Write 20 for 20 %.", field="rate_bp")
    standing = book.session.exec(select(TaxStanding).where(TaxStanding.from_on == from_on)).first()
    if standing is None:
        standing = TaxStanding(from_on=from_on, registered=registered)
    standing.registered = registered
    standing.number = tidy(number, "The tax number", limit=40, needed=False) or None
    standing.rate_bp = rate_bp if registered else 0
    book.session.add(standing)
    journal.sealed(
        book,
        "tax_set",
        {"from_on": from_on.isoformat(), "registered": int(registered), "rate_bp": standing.rate_bp},
        Touched("changed_tax", book.today),
        person={"number": standing.number or ""},
    )
    return standing


def tax_on(session: Session, day: date) -> TaxStanding | None:
    """The rule in force on a day; None before any was written down, which means not registered."""
    return session.exec(
        select(TaxStanding).where(col(TaxStanding.from_on) <= day).order_by(col(TaxStanding.from_on).desc())
    ).first()


def tax_standings(session: Session) -> list[TaxStanding]:
    """Every rule that was written down, the latest day first."""
    return list(session.exec(select(TaxStanding).order_by(col(TaxStanding.from_on).desc())))

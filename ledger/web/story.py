"""A print's story in sentences: one for each thing an entry says of it."""

from collections.abc import Iterable
from dataclasses import dataclass

from ledger.reckoning import dates
from ledger.tables import Event

SAID = {
    "declared": "Edition declared", "withdrawn_edition": "Edition withdrawn: declared by mistake",
    "closed": "Edition closed early", "answered": "A question of the certificate answered",
    "priced": "Offered otherwise from this day", "allocated": "Number assigned",
    "given_back": "Number given back: free again", "inscribed": "Numbered and signed",
    "uninscribed": "Not signed after all", "spoilt": "Spoilt at the bench: the number goes to the next sheet",
    "withdrawn": "Never to be made", "entered": "Entered as made before this record",
    "damaged": "Damaged", "missing": "Missing", "found": "Found again", "destroyed": "Destroyed",
    "replaced": "Printed a second time", "certified": "Certificate issued",
    "printed_certificate": "Certificate printed", "superseded": "Certificate replaced",
    "suspended": "Certificate put on hold", "restored": "Certificate stands again", "voided": "Certificate void",
    "lent": "Lent to a gallery", "taken_back": "Taken back", "sold": "Sold", "buyer_named": "Its buyer named",
    "handed_over": "Handed over",
    "struck": "Not sold after all", "returned": "Came back", "given": "Passed on", "moved": "Moved",
    "corrected": "A line put right", "told": "The gallery was told a price", "cost": "A cost written down",
    "received": "Money arrived", "pictured": "Its picture kept", "added": "Written down",
    "exchanged": "The order moved to another number", "cancelled": "Order cancelled",
    "printed": "A printing written down", "erased": "A name erased",
}  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One dated line of a story: the day, the sentence, and the place of its entry in the record."""

    on: str
    words: str
    seq: int


def sentence(event: Event) -> str:
    """What happened, and what was written beside it: 'Destroyed. Corner kept, seen by a witness.'"""
    said = SAID.get(event.kind, event.kind.replace("_", " ").capitalize())
    if not event.text:
        return f"{said}."
    note = event.text[0].upper() + event.text[1:]
    return f"{said}. {note}" if note.endswith((".", "!", "?")) else f"{said}. {note}."


def lines(events: Iterable[Event]) -> list[Line]:
    """The story as its template takes it."""
    return [Line(dates.said(event.happened_on), sentence(event), event.entry_seq) for event in events]

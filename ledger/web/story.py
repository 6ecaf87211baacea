"""A print's story in sentences: one for each thing an entry says of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ledger import stories, studio
from ledger.database import Session
from ledger.reckoning import dates, money
from ledger.stories import Named
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
    "printed": "A printing written down", "unprinted": "Not printed after all", "counted": "A printing counted",
    "spares_settled": "Good prints without a number accounted for", "erased": "A name erased",
    "mount_planned": "A mount planned", "mount_struck": "A mount plan struck",
    "sheet_planned": "Laid out on a lab sheet", "recipe": "A recipe written down", "made_keys": "Signing keys made",
    "finished": "Finished", "finished_struck": "Not finished so after all",
}  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One dated line of a story: the day, the sentence, and the place of its entry in the record."""

    on: str
    words: str
    seq: int


def sentence(event: Event, said: str = "") -> str:
    """What happened, `said` where a name belongs in it, and the note beside it."""
    said = said or SAID.get(event.kind, event.kind.replace("_", " ").capitalize())
    if not event.text:
        return f"{said}."
    note = event.text[0].upper() + event.text[1:]
    told = note if note.startswith(said) else f"{said}. {note}"
    return told if told.endswith((".", "!", "?")) else f"{told}."


def teller(session: Session, events: Sequence[Event]) -> Callable[[Event], str]:
    """The sentence of each of these events, on the maker's own pages: galleries, buyers and prices are named."""
    names, currency = stories.named(session, events), studio.currency(session)

    def tell(event: Event) -> str:
        known = names.get(event.id or 0)
        return sentence(event, _named(event.kind, known, currency) if known else "")

    return tell


def _named(kind: str, known: Named, currency: str) -> str:
    if kind == "sold":
        to = f", to {known.who}" if known.who else ""
        return f"Sold for {money.shown(known.price, currency)}: {known.where}{to}"
    return {
        "lent": f"Lent to {known.who}", "taken_back": f"Taken back from {known.who}",
        "told": f"{known.who} was told a price", "buyer_named": f"Its buyer named: {known.who}",
    }[kind]  # fmt: skip


def lines(session: Session, events: Sequence[Event]) -> list[Line]:
    """The story as its template takes it."""
    tell = teller(session, events)
    return [Line(dates.said(event.happened_on), tell(event), event.entry_seq) for event in events]

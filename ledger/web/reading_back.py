"""The promise read back in prose before it is for good: facts in, sentences out."""

from collections.abc import Sequence
from dataclasses import dataclass

from ledger import editions, promises
from ledger.editions import EditionFacts, SizeFacts
from ledger.promises import LABELS, EditionDraft
from ledger.reckoning import dates, numbering
from ledger.reckoning.answers import ASKED
from ledger.reckoning.measures import by_measure
from ledger.reckoning.money import shown
from ledger.reckoning.texts import folded_words
from ledger.tables import Edition

_IRREGULAR = {
    "one": "first", "two": "second", "three": "third", "five": "fifth", "eight": "eighth", "nine": "ninth",
    "twelve": "twelfth",
}  # fmt: skip
CHANGEABLE = (
    "Process, paper and mounting of prints not yet made",
    "Closing early, at no fewer than exist by then",
    "A title, a name or a year, with the old one and the reason kept",
    "An answer on the papers, with the earlier answer kept",
)


@dataclass(frozen=True)
class Promise:
    """The oath: what is promised of which title, and what more there is to say."""

    opening: str
    title: str
    rest: str
    more: tuple[str, ...]


@dataclass(frozen=True)
class ReadBack:
    """The page: the promise, what is worth stopping for, what is fixed and what is not."""

    promise: Promise
    notes: tuple[str, ...]
    fixed: tuple[str, ...]
    changeable: tuple[str, ...]


def ordinal_words(n: int) -> str:
    """26 as 'twenty-sixth'."""
    said = numbering.words(n)
    last = said.replace("-", " ").split()[-1]
    head = said[: len(said) - len(last)]
    if last in _IRREGULAR:
        return head + _IRREGULAR[last]
    return head + (f"{last[:-1]}ieth" if last.endswith("y") else f"{last}th")


def _a(word: str) -> str:
    """'a twenty-sixth', 'an eighth', 'a hundred and first'."""
    plain = word.removeprefix("one ")
    return f"an {plain}" if plain.startswith(("eigh", "eleven")) else f"a {plain}"


def tell(
    declared: Sequence[EditionFacts],
    drafts: Sequence[EditionDraft],
    total: int,
    cap: int,
    currency: str,
    others: Sequence[Edition],
) -> ReadBack:
    """The page for one edition, or for several of one work that are declared together.

    `total` is what all editions of the work allow with these; more than `cap` of them are worth a note, and so are
    the `others` of the work.
    """
    fixed = [line for facts in declared for line in _fixed(facts)]
    fixed += _entered(drafts[0])
    prices = [_prices(size, currency) for facts in declared for size in facts.sizes]
    return ReadBack(
        promise=_promise(declared),
        notes=(*_ruling_out(declared[0], others), *_notes(declared[0], drafts[0], total, cap)),
        fixed=tuple(dict.fromkeys(fixed)),
        changeable=(*dict.fromkeys(prices), *CHANGEABLE),
    )


def _prices(size: SizeFacts, currency: str) -> str:
    (_, first), *later = size.offer.steps
    steps = [f"{shown(price, currency)} from the {numbering.ordinal(start)}" for start, price in later]
    return f"The price of prints not yet sold, {size.label}: {', '.join([shown(first, currency), *steps])}"


def _entered(draft: EditionDraft) -> list[str]:
    return [
        f"Entered as {each.fate.replace('_', ' ')} before this book: {_of_kind(each.kind)}"
        + numbering.said(numbering.ranges(each.numbers, 9999))
        for each in (draft.begun.ranges if draft.begun else ())
    ]


def _of_kind(kind: str) -> str:
    return "" if kind == "numbered" else f"{kind} "


def _promise(declared: Sequence[EditionFacts]) -> Promise:
    facts = declared[0]
    more = [_each(size, several=len(facts.sizes) > 1) for size in facts.sizes]
    more += [line for each in declared[1:] for line in (_another(each), _each(each.sizes[0], several=False))]
    more.append(_beside(declared))
    if facts.edition.begun_words:
        begun = dates.parse_part(facts.edition.begun_words).said()
        more.append(f"It was begun before this book: {begun}.")
    more.append(f"Every certificate carries your words: “{facts.edition.statement}”")
    if facts.edition.kind == "open":
        rest = " with no highest number, and every paper says: Not a limited edition."
        return Promise("You promise prints of", facts.work.title, rest, tuple(filter(None, more)))
    count = facts.numbered.count
    prints = f"{numbering.words(count)} {'print' if count == 1 else 'prints'}"
    return Promise(
        f"You promise {prints} of", facts.work.title, f", and never {_never(facts)}", tuple(filter(None, more))
    )


def _never(facts: EditionFacts) -> str:
    following = _a(ordinal_words(facts.numbered.count + 1)) if facts.numbered.count < 9999 else "one more"
    return (
        following
        + {
            "ruled_out": ", in any size or process.",
            "reserved": " of this edition. Other sizes may follow, and every certificate says so.",
            "not_stated": " of this edition. Whether others follow is not stated.",
        }[facts.edition.later_editions]
    )


def _each(size: SizeFacts, *, several: bool) -> str:
    name = f"In the size {size.label}, each" if several else "Each"
    image = by_measure(size.image_w_um, size.image_h_um)
    sheet = (
        f" on a sheet of {by_measure(size.sheet_w_um, size.sheet_h_um)}" if size.sheet_w_um and size.sheet_h_um else ""
    )
    return f"{name} has an image of {image}{sheet}. Process: {size.offer.process}. Paper: {size.offer.paper}."


def _another(facts: EditionFacts) -> str:
    if facts.edition.kind == "open":
        return "And another, with no highest number."
    return f"And another edition of it: {numbering.words(facts.numbered.count)}, and never one more."


def _beside(declared: Sequence[EditionFacts]) -> str:
    facts = declared[0]
    outside = [_in_words(each.count, each.kind) for each in facts.outside]
    if not outside:
        return "No proofs stand outside the count." if facts.edition.kind == "limited" else ""
    listed = outside[0] if len(outside) == 1 else f"{', '.join(outside[:-1])} and {outside[-1]}"
    verb = "stands" if len(outside) == 1 and facts.outside[0].count == 1 else "stand"
    each = " of each" if len(declared) > 1 else ""
    said = f"{listed[0].upper()}{listed[1:]} {verb} outside the count{each}"
    if facts.edition.kind == "open":
        return f"{said}."
    return f"{said}: {numbering.words(sum(each.total for each in declared))} in all."


def _in_words(count: int, kind: str) -> str:
    name = LABELS[kind]
    one = name.removesuffix("s") if count == 1 else name
    return f"{numbering.words(count)} {one}"


def _fixed(facts: EditionFacts) -> list[str]:
    main, limited = facts.numbered, facts.edition.kind == "limited"
    if limited and main.count > 1:
        said = [f"{main.count:,} numbers, {editions.shown(main, 1)} to {editions.shown(main, main.count)}"]
    else:
        said = [f"One number, {editions.shown(main, 1)}" if limited else "No ceiling, and no count on any paper"]
    for each in facts.outside:
        first, last = editions.shown(each, 1), editions.shown(each, each.count)
        said.append(first if first == last else f"{first} to {last}")
    said += [f"The size {size.label}" + _on_sheet(size) for size in facts.sizes]
    said.append(
        {
            "ruled_out": "No later edition, in any size or process",
            "reserved": "Later editions kept open, and said so on every certificate",
            "not_stated": "Nothing stated on later editions",
        }[facts.edition.later_editions]
    )
    return [*said, "Your statement, word for word"]


def _on_sheet(size: SizeFacts) -> str:
    if not size.sheet_w_um or not size.sheet_h_um:
        return ""
    return f", on a sheet of {by_measure(size.sheet_w_um, size.sheet_h_um)}"


def _notes(facts: EditionFacts, draft: EditionDraft, total: int, cap: int) -> list[str]:
    notes = []
    if draft.begun and draft.kind == "limited":
        for kind, numbers in promises.left_free(draft).items():
            notes.append(
                f"In no line, and so free to be made: {_of_kind(kind)}{numbering.said(numbers)}. "
                "If one of them exists already, go back and write what became of it."
            )
    if cap and total > cap:
        notes.append(past_the_cap(total, cap))
    if facts.work.artist_died:
        notes.append(
            f"{facts.work.artist} died in {facts.work.artist_died}. Look once more at the answers on signature, "
            "on who printed it, and on printing after the artist’s death."
        )
    still = [item.question for item in ASKED if item.key not in draft.answers]
    if still:
        first = "One question is" if len(still) == 1 else f"{numbering.words(len(still)).capitalize()} questions are"
        notes.append(f"{first} still open, and no certificate is issued before: {' '.join(still)}")
    return notes


def _ruling_out(facts: EditionFacts, others: Sequence[Edition]) -> list[str]:
    """Of the others declared the same day, those that rule out any later one; this one is not held to them."""
    today = facts.edition.declared_on
    return [
        f"Edition {each.ordinal} of this picture was declared today too, and promises that no other follows, in any "
        "size or process. Editions declared on one day belong together, so this one can still stand beside it; after "
        "today none can. Whoever was told of that promise today was told of one edition."
        for each in others
        if each.later_editions == "ruled_out" and each.declared_on == today
    ]


def past_the_cap(total: int, cap: int) -> str:
    """What may follow for tax. The rule is Directive 2006/112/EC, Annex IX, Part A, point 7."""
    return (
        f"With this, {total:,} prints of this picture may exist, over all editions and sizes, proofs included. "
        f"That is past {cap}. Under EU VAT Directive 2006/112/EC, Annex IX Part A point 7, a photograph is a work "
        "of art for tax when it is printed by the artist or under the artist’s supervision, signed, numbered and "
        "limited to 30 copies, all sizes and mounts included. Another rate of tax may follow, and other countries "
        "have rules of their own: ask an accountant. Nothing is refused for it."
    )


def same_title(typed: str, title: str) -> bool:
    """Whether a title was typed again; capitals and commas do not matter."""
    if not folded_words(title):
        return typed.strip() == title
    return folded_words(typed) == folded_words(title)

"""Where a certificate stands in the record, in print: what keeps the maker to it when the site is gone."""

from dataclasses import dataclass

from ledger.paper import faces
from ledger.paper.sheet import GRAPHITE, HAIRLINE, Line, Sheet

LEFT, RIGHT, TOP = 13, 197, 124.5
SIZE, LEAD = 7.5, 3.5
SMALLEST = 7
LABELS = 31
USE = (
    "Its PDF carries the signed text, the entry and the proof: ‘print-ledger verify’, or other tools, "
    "hold them against this head and these keys."
)


@dataclass(frozen=True)
class Standing:
    """A certificate's entry, the signed head of the record right after it, and the fingerprint of the keys."""

    entry: int
    size: int
    root: bytes
    fingerprint: str

    @property
    def in_short(self) -> str:
        """One line for a certificate without a second side."""
        groups = " ".join(self.fingerprint.split()[:4])
        return f"Entry {self.entry}, head {self.root.hex()[:16]}, keys {groups}"

    @property
    def root_in_words(self) -> str:
        """The root as on paper: 64 hexadecimal digits in groups of eight."""
        digits = self.root.hex()
        return " ".join(digits[at : at + 8] for at in range(0, 64, 8))


def foot(standing: Standing) -> tuple[Line, ...]:
    """The foot of the second side, on its A5 grid."""
    told = (
        ("In the record", f"Entry {standing.entry} of the record, head of size {standing.size}:"),
        ("", standing.root_in_words),
        ("Signed with keys", standing.fingerprint),
    )
    lines: list[Line] = []
    y = TOP + 4
    for label, words in told:
        if label:
            lines.append(Line(LEFT, y, label, SIZE, italic=True, colour=GRAPHITE))
        lines.append(Line(LEFT + LABELS, y, words, SIZE))
        y += LEAD
    y += 0.9
    for words in faces.wrap(USE, RIGHT - LEFT, SMALLEST):
        lines.append(Line(LEFT, y, words, SMALLEST, colour=GRAPHITE))
        y += LEAD - 0.3
    return tuple(lines)


def draw_foot(sheet: Sheet, standing: Standing) -> None:
    sheet.rule(LEFT, RIGHT, TOP, 0.3, HAIRLINE)
    for line in foot(standing):
        line.draw(sheet)

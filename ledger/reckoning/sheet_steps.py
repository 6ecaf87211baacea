"""The cuts of a sheet as sentences, for a person at the stop of a cutter or with a knife and a straightedge."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ledger.reckoning.lengths import Unit, shown, size_said
from ledger.reckoning.sheet_cuts import WASTE, WHOLE, Cut, last_cuts

CAUTION = (
    "Blades cut fingers: keep both hands behind the guard or the rule, clamp before each cut, and close the knife "
    "between cuts."
)
NO_BREAK = "\u00a0"
_AT_THE_STOP = (
    "A margin is cut off by eye, on its marks. At every other cut the edge put to the stop has already been cut: what "
    "lies between stop and blade stays, and the rest falls off."
)
_BY_HAND = (
    "A margin falls off beside its edge. At every other cut the edge measured from has already been cut: what lies "
    "between it and the line stays, and the rest falls off."
)
_NAMES = (
    "Top and left are those of the sheet as drawn, even where a picture lies turned: there a triangle points to the "
    "picture’s top. Letters are parts still to be cut, figures are prints, as in the drawing, where a letter stands at "
    "the top left corner of its part: pencil the letter or figure on the back before you lay a piece aside."
)
_CORNERS = ("top left", "top right", "bottom right", "bottom left", "in the middle")


@dataclass(frozen=True)
class Bench:
    """How the cuts are made: at a stop or with a knife, on printed marks or on measured ones, in which unit."""

    unit: Unit = "mm"
    knife: bool = False
    marks: bool = True


@dataclass(frozen=True)
class Step:
    """One numbered line: the part in hand, what to do, and what comes of it. `again`: with the setting before."""

    part: str
    do: str
    comes: str
    again: bool


@dataclass(frozen=True)
class Line:
    """Where a knife's line lies: beside an edge, and from where to where; the ends are None at the part's edges.

    `into` is the part the knife must not run into past the line's end, '' where there is none.
    """

    edge: Literal["left", "top"]
    at_um: int
    start_um: int | None
    end_um: int | None
    into: str


def how(bench: Bench) -> str:
    """What to know before the first cut."""
    return f"{_BY_HAND if bench.knife else _AT_THE_STOP} {_NAMES}"


def repeated(times: int) -> str:
    """What to do where several sheets are cut alike; '' for one."""
    return f"{times:,} sheets are cut so: follow the whole list for each of them." if times > 1 else ""


def steps(cuts: Sequence[Cut], bench: Bench) -> list[Step]:
    """The cut list in words."""
    told, last = [], last_cuts(cuts)
    for cut, again in zip(cuts, set_again(cuts, bench), strict=True):
        part = _part(cut.part)
        do = _by_hand(cuts, cut, bench) if bench.knife else _at_the_stop(cut, bench, again)
        told.append(Step(part[0].upper() + part[1:], do, _comes(cuts, cut, last, bench.unit), again))
    return told


def set_again(cuts: Sequence[Cut], bench: Bench) -> list[bool]:
    """Of each cut, whether the stop stands where the cut before it had it."""
    settings = [cut.set_um if cut.stop and not bench.knife else None for cut in cuts]
    return [now is not None and now == before for before, now in zip([None, *settings], settings, strict=False)]


def _said(um: int, unit: Unit) -> str:
    """The figure with its unit; the line never breaks within '5 1/4', for 5 alone is a setting too."""
    return f"{shown(um, unit).replace(' ', NO_BREAK)} {unit}"


def _part(name: str) -> str:
    if name == WHOLE:
        return "the whole sheet"
    return f"print {name}" if name.isdigit() else f"part {name}"


def _at_the_stop(cut: Cut, bench: Bench, again: bool) -> str:
    length = _said(cut.set_um, bench.unit)
    if cut.stop is None:
        if bench.marks:
            return f"line the blade up on the printed marks nearest the {cut.edge} edge, about {length} from it."
        return f"mark {length} from the {cut.edge} edge, and line the blade up on that."
    return f"{cut.stop} edge to the stop, {'the same setting,' if again else 'set'} {length}."


def _by_hand(cuts: Sequence[Cut], cut: Cut, bench: Bench) -> str:
    length = _said(cut.set_um, bench.unit)
    if cut.stop is None and bench.marks:
        return f"cut right across on the printed marks nearest the {cut.edge} edge, about {length} from it."
    if cut.runs_um is None:
        return f"measure {length} from the {cut.edge} edge, and cut right across."
    line = line_of(cuts, cut)
    along, far, to = ("top", "bottom", "down to") if cut.edge == "left" else ("left", "right", "to")
    if line.start_um is not None:
        start = f"from the line just cut, {_said(line.start_um, bench.unit)} from the {along},"
        return f"a line {length} from the {cut.edge} edge, {start} {to} the {far} edge."
    end = f"{to} {_said(line.end_um or 0, bench.unit)} from the {along}"
    stop = f" Do not run past that, into {_part(line.into)}." if line.into else ""
    return f"a line {length} from the {cut.edge} edge, from the {along} edge {end}.{stop}"


def line_of(cuts: Sequence[Cut], cut: Cut) -> Line:
    """The line of a knife's cut, one that stops or one right across.

    Of four that stop at one another the first and the last begin at an edge and end inside, the others the other way.
    """
    if cut.runs_um is None:
        return Line(cut.edge, cut.set_um, None, None, "")
    start, end = cut.runs_um
    if start:
        return Line(cut.edge, cut.set_um, start, None, "")
    freed = next(each.frees for each in cuts if each.part == cut.part and each.frees)
    into = freed[3] if cut.edge == "left" else freed[2]
    return Line(cut.edge, cut.set_um, None, end, "" if into == WASTE else into)


def _comes(cuts: Sequence[Cut], cut: Cut, last: dict[str, int], unit: Unit) -> str:
    if cut.frees:
        return _freed(cuts, cut, last, unit)
    if not cut.falls:
        return ""
    falls = _said(cut.falls_um, unit)
    if cut.falls == WASTE:
        done = f" {_part(cut.part).capitalize()} is finished." if cut.part in finished_by(cut, last) else ""
        return f"Falls off: {f'the margin, {falls}' if cut.stop is None else f'{falls} of waste'}.{done}"
    stays, state, state_fallen = _part(cut.stays), _state(cut.stays, last), _state(cut.falls, last)
    return f"Stays: {stays}{state}. Falls off: {_part(cut.falls)}, {falls}{state_fallen}."


def _state(name: str, last: dict[str, int]) -> str:
    if not name.isdigit():
        return ""
    return ", still to be trimmed" if name in last else ", finished"


def finished_by(cut: Cut, last: dict[str, int]) -> list[str]:
    """The prints that need no cut after this one and did before it; `last` is what `last_cuts` tells."""
    touched = dict.fromkeys((cut.stays, cut.falls, *cut.frees))
    return [name for name in touched if name.isdigit() and last.get(name, cut.number) == cut.number]


def _freed(cuts: Sequence[Cut], cut: Cut, last: dict[str, int], unit: Unit) -> str:
    parts = [f"{_part(name)} {corner}" for name, corner in zip(cut.frees, _CORNERS, strict=True) if name != WASTE]
    if cut.frees[-1] == WASTE:
        x1, y1, x2, y2 = (each.set_um for each in cuts if each.part == cut.part and each.runs_um)
        parts.append(f"{size_said(x2 - x1, y2 - y1, unit)} of waste in the middle")
    done = finished_by(cut, last)
    waiting = [name for name in cut.frees if name.isdigit() and name not in done]
    told = f"Now free: {_and(parts)}."
    if waiting:
        told += f" Still to be trimmed: {_and(waiting)}."
    return f"{told} Finished: {_and(done)}." if done else told


def _and(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)

"""What a sheet plan comes to, in sentences."""

from collections.abc import Sequence

from ledger.reckoning.lengths import Unit, said, size_said
from ledger.reckoning.sheet_hints import Hint
from ledger.reckoning.sheet_layout import Job
from ledger.reckoning.sheet_mixes import Room
from ledger.reckoning.sheet_plan import Answer, Planned


def sizes_said(job: Job, counts: Sequence[int], unit: Unit) -> str:
    """'4 of 127 × 127 mm and 7 of 60 × 90 mm'; a size with none is left out."""
    parts = [
        f"{count:,} of {size_said(wanted.width_um, wanted.height_um, unit)}"
        for count, wanted in zip(counts, job.wanted, strict=True)
        if count
    ]
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 2 else parts)


def answer_said(answer: Answer, chosen: Planned, sheet: str) -> str:
    """What a job comes to, the count first: '6 prints of 100 × 150 mm on A3. No layout gives more.'"""
    sizes, proof = sizes_said(chosen.job, chosen.counts, chosen.unit), proof_said(chosen, answer.bound)
    if len(chosen.job.wanted) == 1:
        return _one_said(chosen, sheet, proof)
    if chosen.for_quantities:
        return f"{chosen.count:,} {'sheet' if chosen.count == 1 else 'sheets'} of {sheet}: {sizes}. {proof}"
    others = len(answer.choices) - 1
    besides = f" {others:,} other {'mix is' if others == 1 else 'mixes are'} worth having." if others else ""
    return f"{sizes} on {sheet}. {proof}{besides}"


def _one_said(chosen: Planned, sheet: str, proof: str) -> str:
    each = len(chosen.sheets[0][0].placed)
    wanted = chosen.job.wanted[0]
    prints = "1 print" if each == 1 else f"{each:,} prints"
    told = f"{prints} of {size_said(wanted.width_um, wanted.height_um, chosen.unit)} on {sheet}. {proof}"
    if wanted.quantity is None:
        return told
    sheets = "1 sheet is" if chosen.count == 1 else f"{chosen.count:,} sheets are"
    return f"{told} For {wanted.quantity:,}, {sheets} needed."


def proof_said(planned: Planned, bound: int | None = None) -> str:
    """Whether a better plan is possible, and how much better at most; `bound` as an Answer has it."""
    if planned.proved:
        knife = planned.cutting == "knife"
        if planned.for_quantities:
            return "No layouts take fewer sheets." if knife else "No cuts right across take fewer sheets."
        more = "No layout gives more" if knife else "No cuts right across give more"
        if len(planned.job.wanted) == 1:
            return f"{more}."
        still = " still wanted" if any(each.quantity for each in planned.job.wanted) else ""
        return f"{more} of one{still} and no less of another."
    if planned.for_quantities:
        return f"The fewest found; {_possible(planned.count, bound, 'fewer', 'at least')}."
    if len(planned.job.wanted) == 1:
        return f"The best found; {_possible(planned.counts[0] // planned.count, bound, 'more', 'at most')}."
    left = Room(planned.job).left(planned.counts)
    return f"The best found; {'one' if left == 1 else f'at most {left:,}'} more may be possible."


def _possible(found: int, bound: int | None, more: str, limit: str) -> str:
    if bound is None:
        return f"{more} may be possible"
    return f"one {more} may be possible" if abs(bound - found) == 1 else f"{more} may be possible, {limit} {bound:,}"


def beside_said(answer: Answer, chosen: Planned) -> str:
    """What stands beside the count of one size: all straight, all turned, and cuts right across for a knife; or ''."""
    if answer.one is None:
        return ""
    told = [f"All straight {answer.one.straight:,}"]
    if answer.one.turned is not None:
        told.append(f"all turned {answer.one.turned:,}")
    if chosen.cutting == "knife":
        told.append(f"with cuts right across {len(answer.one.layout.placed):,}")
    return ", ".join(told) + "."


def hint_said(hint: Hint, unit: Unit) -> str:
    """One change and how many prints it adds, or sheets it saves."""
    saved = "1 sheet fewer" if hint.saves == 1 else f"{hint.saves:,} sheets fewer"
    better = saved if hint.saves else f"{hint.adds:,} more"
    if hint.sheet is not None:
        return f"{hint.sheet.name}: {better}."
    if hint.before is not None:
        sizes = (hint.job.wanted[hint.place], hint.before)
        after, before = (size_said(each.width_um, each.height_um, unit) for each in sizes)
        return f"{after} in place of {before}: {better}."
    what = "Every margin" if hint.change == "margin" else "The gutter"
    return f"{what} {said(hint.by_um, unit)} less: {better}."

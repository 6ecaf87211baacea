"""Measuring on a machine that others use too: what is compared takes turns, and medians are compared."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True)
class Row:
    """One line of the table: what was measured, against what, and the goal in words."""

    what: str
    ours: str
    against: str = ""
    ratio: str = ""
    goal: str = ""


def seconds(job: Callable[[], object]) -> float:
    begun = time.perf_counter()
    job()
    return time.perf_counter() - begun


def in_turns(rounds: int, *jobs: Callable[[], object]) -> list[float]:
    """The median seconds of each job, each done once a round after one round to warm up."""
    for job in jobs:
        job()
    taken = [[seconds(job) for job in jobs] for _ in range(rounds)]
    return [median(each) for each in zip(*taken, strict=True)]


def ms(taken: float) -> str:
    return f"{taken * 1000:,.2f} ms"


def table(rows: list[Row]) -> str:
    heads = Row("measured", "ours", "against", "ratio", "goal")
    cells = [(row.what, row.ours, row.against, row.ratio, row.goal) for row in (heads, *rows)]
    wide = [max(len(line[at]) for line in cells) for at in range(5)]
    set_out = (" | ".join(map(str.ljust, line, wide)).rstrip(" |") for line in cells)
    return "\n".join(set_out)

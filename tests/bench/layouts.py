"""Lab sheets laid out: the slowest of the worked cases, one size, two and four, and what would make room for more."""

from collections.abc import Callable

from ledger.reckoning.sheet_hints import hints
from ledger.reckoning.sheet_knife import with_knife
from ledger.reckoning.sheet_layout import Job
from ledger.reckoning.sheet_one import best_plan, one_size
from ledger.reckoning.sheet_plan import Cutting, work_out
from tests.bench.measure import Row, ms, seconds
from tests.reckoning.sheet_jobs import A1, A2, A3, mm_job

ONE = [
    mm_job(A3, (100, 150)), mm_job(A3, (60, 90)), mm_job(A2, (100, 150)), mm_job(A2, (60, 90)), mm_job(A1, (60, 90)),
    mm_job(A1, (75, 105)), mm_job(A1, (203, 254), margin=0, gutter=0), mm_job((815, 1120), (200, 250), gutter=2),
    mm_job((264, 264), (100, 150)),
]  # fmt: skip
TWO = [mm_job(A3, (127, 127), (60, 90)), mm_job(A3, (203, 203), (60, 90))]
FOUR = ((127, 127), (60, 90), (100, 150), (75, 105))
SMALL = ((50, 70), (60, 90), (51, 76), (63, 89))
MANY = [mm_job(A3, *FOUR), mm_job(A2, *FOUR), mm_job(A1, *FOUR)]
WANTED = [mm_job(sheet, *FOUR, quantities=(25, 40, 15, 30)) for sheet in (A3, A2, A1)]
WORST = [mm_job(A1, *SMALL), mm_job(A1, *SMALL, quantities=(10_000, 9_999, 9_998, 9_997))]


def rows() -> list[Row]:
    return [
        Row("one size, guillotine", _slowest(one_size, ONE), goal="100 ms"),
        Row("one size, knife", _slowest(with_knife, ONE), goal="100 ms"),
        Row("one size, and what makes room", _slowest(_with_hints, ONE), goal="500 ms"),
        Row("two sizes, and what makes room", _slowest(_with_hints, TWO), goal="500 ms"),
        Row("two sizes, knife", _slowest(_by("knife"), TWO), goal="500 ms"),
        Row("four sizes, every mix", _slowest(_by("guillotine"), MANY), goal="500 ms"),
        Row("four sizes, fewest sheets", _slowest(_by("guillotine"), WANTED), goal="500 ms"),
        Row("four sizes, and what makes room", _slowest(_with_hints, MANY + WANTED), goal="2 s"),
        Row("four sizes, knife", _slowest(_by("knife"), MANY + WANTED), goal="2 s"),
        Row("four small sizes on A1", _slowest(_by("guillotine"), WORST), goal="2 s"),
        Row("four small sizes on A1, knife", _slowest(_by("knife"), WORST)),
    ]


def _by(cutting: Cutting) -> Callable[[Job], object]:
    return lambda job: work_out(job, cutting)


def _with_hints(job: Job) -> object:
    return hints(work_out(job, "guillotine").choices[0])


def _slowest(lay_out: Callable[[Job], object], jobs: list[Job]) -> str:
    def anew(job: Job) -> None:
        best_plan.cache_clear()
        lay_out(job)

    return ms(max(seconds(lambda job=job: anew(job)) for job in jobs))

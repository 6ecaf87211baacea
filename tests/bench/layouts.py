"""Lab sheets laid out: the slowest of the worked cases, one size and four."""

from collections.abc import Callable

from ledger.reckoning.sheet_knife import with_knife
from ledger.reckoning.sheet_layout import Job
from ledger.reckoning.sheet_mixes import mixes
from ledger.reckoning.sheet_one import one_size
from ledger.reckoning.sheet_quantities import fewest_sheets
from tests.bench.measure import Row, ms, seconds
from tests.reckoning.sheet_jobs import A1, A2, A3, mm_job

ONE = [
    mm_job(A3, (100, 150)), mm_job(A3, (60, 90)), mm_job(A2, (100, 150)), mm_job(A2, (60, 90)), mm_job(A1, (60, 90)),
    mm_job(A1, (203, 254), margin=0, gutter=0), mm_job((815, 1120), (200, 250), gutter=2),
    mm_job((264, 264), (100, 150)),
]  # fmt: skip
FOUR = ((127, 127), (60, 90), (100, 150), (75, 105))
MANY = [mm_job(A3, *FOUR), mm_job(A2, *FOUR)]
WANTED = [mm_job(A3, *FOUR, quantities=(25, 40, 15, 30)), mm_job(A2, *FOUR, quantities=(25, 40, 15, 30))]


def rows() -> list[Row]:
    return [
        Row("one size, guillotine", _slowest(one_size, ONE), goal="100 ms"),
        Row("one size, knife", _slowest(with_knife, ONE), goal="100 ms"),
        Row("four sizes, every mix", _slowest(mixes, MANY), goal="2 s"),
        Row("four sizes, fewest sheets", _slowest(fewest_sheets, WANTED), goal="2 s"),
    ]


def _slowest(lay_out: Callable[[Job], object], jobs: list[Job]) -> str:
    return ms(max(seconds(lambda job=job: lay_out(job)) for job in jobs))

"""How quick the ledger is, as ratios within one run: `python -m tests.bench`. No test asserts a time."""

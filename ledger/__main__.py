"""`python -m ledger`, the same as `print-ledger`."""

from ledger.cli import main

main()

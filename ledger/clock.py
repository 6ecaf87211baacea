"""The one clock."""

from datetime import UTC, date, datetime


def now() -> datetime:
    """This moment, UTC, whole seconds."""
    return datetime.now(UTC).replace(microsecond=0)


def today() -> date:
    """The day on the maker's own calendar (the machine's time zone)."""
    return datetime.now().astimezone().date()

"""How often a stranger may ask for codes that are not in the record."""

from datetime import UTC, datetime, timedelta

from ledger.web.limits import UnknownCodes, network_of

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def test_twenty_unknown_codes_an_hour_then_nothing_is_looked_up() -> None:
    codes = UnknownCodes()
    for _ in range(20):
        assert not codes.spent("203.0.113.7", NOON)
        codes.count("203.0.113.7", NOON)
    assert codes.spent("203.0.113.7", NOON)
    assert not codes.spent("203.0.113.8", NOON)
    assert codes.spent("203.0.113.7", NOON + timedelta(minutes=59))
    assert not codes.spent("203.0.113.7", NOON + timedelta(minutes=60))


def test_one_household_counts_as_one_caller() -> None:
    """Addresses from the blocks reserved for documentation (RFC 5737, RFC 3849)."""
    assert network_of("2001:db8:1:2::a") == network_of("2001:db8:1:2:ffff::b") == "2001:db8:1:2::/64"
    assert network_of("2001:db8:1:3::a") != network_of("2001:db8:1:2::a")
    assert network_of("::ffff:203.0.113.7") == network_of("203.0.113.7") == "203.0.113.7"
    assert network_of(None) == network_of("testclient") == "unknown"

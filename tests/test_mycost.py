import pytest
@pytest.mark.parametrize("n", range(60))
def test_s(sqlite_engine, n): pass
@pytest.mark.parametrize("n", range(60))
def test_e(unaudited_engine, n): pass

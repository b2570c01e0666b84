"""Holdings made once for all tests of the demo."""

import pytest

from limbwright.demo import InventedHolding, make_holding

SEEDS = (1, 2, 17)


@pytest.fixture(scope="session", params=SEEDS)
def holding(request: pytest.FixtureRequest) -> InventedHolding:
    return make_holding(request.param)

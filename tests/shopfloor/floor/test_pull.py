import pytest

from shopfloor.floor.models import LoadState
from shopfloor.floor.pull import pull_next, queue_of


@pytest.fixture
def loads(shop):
    shop.sheets(on_hand=3, heat_no="H1", length_mm=130, width_mm=90)
    return shop.loads(shop.line(3))


def test_the_next_load_is_pulled_into_a_persons_hands(shop, loads, people):
    load = pull_next(shop.machine, by=people.operator)
    load.refresh_from_db()
    assert load == loads[0]
    assert (load.state, load.pulled_by, load.heat_no) == (LoadState.AT_MACHINE, people.operator, "H1")
    assert list(queue_of(shop.machine)) == loads[1:]

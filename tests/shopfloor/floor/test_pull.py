from datetime import date

import pytest

from shopfloor.base.errors import NotYourRole, Refused, WrongState
from shopfloor.floor.models import FloorEvent, Load, LoadState
from shopfloor.floor.pull import pull, pull_next, put_back, queue_of
from tests.factories.accounts import person
from tests.factories.orders import ConfirmedOrderFactory
from tests.ledger import assert_all_agrees

KEY = "7f3b3a4e-56a7-4d5f-9f0e-3f1f4f3c2b1a"


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
    assert_all_agrees()


def test_what_is_due_first_comes_first_whenever_it_was_released(shop, people):
    shop.sheets(on_hand=2)
    late = shop.loads(shop.line(order=ConfirmedOrderFactory(due_on=date(2027, 3, 9))))
    soon = shop.loads(shop.line(order=ConfirmedOrderFactory(due_on=date(2027, 3, 2)), thickness_mm="2"))
    assert [pull_next(shop.machine, by=people.operator) for _ in range(2)] == soon + late


def test_a_machine_gets_nothing_of_another_machines_queue(shop, loads, people):
    with pytest.raises(Refused, match="Nothing waits for Tube laser") as refusal:
        pull_next(shop.tube_machine, by=people.operator)
    assert refusal.value.code == "queue-empty"


@pytest.mark.parametrize("verb", [pull_next, pull, put_back], ids=lambda verb: verb.__name__)
@pytest.mark.parametrize("who", ["office", "inspector", "nobody"])
def test_whoever_does_not_work_at_the_machine_moves_no_load(shop, loads, people, verb, who):
    with pytest.raises(NotYourRole):
        verb(shop.machine if verb is pull_next else loads[0], by=getattr(people, who))
    assert not FloorEvent.objects.exists()


def test_pulling_next_sent_twice_pulls_one(shop, loads, people):
    first = pull_next(shop.machine, by=people.operator, key=KEY)
    assert pull_next(shop.machine, by=people.operator, key=KEY) == first
    assert FloorEvent.objects.count() == 1
    assert queue_of(shop.machine).count() == 2


def test_a_load_put_back_is_next_again_and_in_nobodys_hands(shop, loads, people):
    load = pull_next(shop.machine, by=people.operator)
    for _ in range(2):
        put_back(load, by=people.operator, key=KEY)
    load.refresh_from_db()
    assert (load.state, load.pulled_by, load.pulled_at) == (LoadState.WAITING, None, None)
    assert pull_next(shop.machine, by=people.operator) == load
    assert_all_agrees()


def test_a_load_that_is_at_the_machine_is_pulled_by_nobody_else(loads, people):
    pull(loads[0], by=people.operator)
    with pytest.raises(WrongState, match="at machine"):
        pull(loads[0], by=people.manager)
    assert Load.objects.get(pk=loads[0].pk).pulled_by == people.operator


@pytest.mark.django_db(transaction=True)
class TestEightTabletsAtOnce:
    @pytest.fixture
    def tablets(self, transactional_db):
        return [person("operator") for _ in range(8)]

    def test_each_gets_a_load_of_its_own(self, shop, tablets, at_once):
        shop.sheets(on_hand=8, length_mm=130, width_mm=90)
        loads = shop.loads(shop.line(8))
        assert len(loads) == 8
        pulled = at_once(8, lambda n: pull_next(shop.machine, by=tablets[n]).pk)
        assert sorted(pulled) == [load.pk for load in loads]
        # Whom the answer told that he has a load, has it.
        assert [Load.objects.get(pk=pk).pulled_by for pk in pulled] == tablets
        assert FloorEvent.objects.filter(verb="pull").count() == 8
        assert_all_agrees()

    def test_of_fewer_loads_than_tablets_each_is_pulled_once_and_the_others_are_told(self, shop, tablets, at_once):
        shop.sheets(on_hand=5, length_mm=130, width_mm=90)
        loads = shop.loads(shop.line(5))

        def take(number):
            try:
                return pull_next(shop.machine, by=tablets[number]).pk
            except Refused as refusal:
                return refusal.code

        answers = at_once(8, take)
        assert answers.count("queue-empty") == 3
        assert sorted(a for a in answers if a != "queue-empty") == [load.pk for load in loads]
        assert not queue_of(shop.machine).exists()
        assert_all_agrees()

    def test_one_request_sent_eight_times_at_once_pulls_one_load(self, shop, people, at_once):
        shop.sheets(on_hand=8, length_mm=130, width_mm=90)
        shop.loads(shop.line(8))
        pulled = at_once(8, lambda _: pull_next(shop.machine, by=people.operator, key=KEY).pk)
        assert len(set(pulled)) == 1
        assert queue_of(shop.machine).count() == 7
        assert FloorEvent.objects.count() == 1
        assert_all_agrees()

    def test_of_eight_who_want_the_same_load_one_gets_it(self, shop, tablets, at_once):
        shop.sheets()
        load = shop.loads(shop.line())[0]

        def take(number):
            try:
                pull(Load.objects.get(pk=load.pk), by=tablets[number])
            except WrongState:
                return None
            return tablets[number]

        (winner,) = [who for who in at_once(8, take) if who]
        assert Load.objects.get(pk=load.pk).pulled_by == winner
        assert FloorEvent.objects.get().actor == winner

import uuid

import pytest

from shopfloor.base.errors import NotYourRole, WrongState
from shopfloor.base.leases import claim
from shopfloor.floor.release import recall, release
from shopfloor.planning.models import Nest, NestEvent, NestState
from shopfloor.planning.nest_state import NEST_WORK, cancel, give_up, settle, take_best, throw_away
from shopfloor.planning.rival import ask_for_rival
from shopfloor.planning.run import run
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db

S = NestState
VERBS = {
    # verb: (call, states it may start from, state it ends in, roles beside manager)
    "cancel": (cancel, {S.QUEUED, S.LAYING}, S.THROWN_AWAY, {"office", "operator"}),
    "throw-away": (throw_away, {S.READY, S.FAILED, S.PROPOSED}, S.THROWN_AWAY, {"office", "operator"}),
    "release": (release, {S.READY}, S.RELEASED, {"office", "operator"}),
    "recall": (recall, {S.RELEASED}, S.READY, {"office", "operator"}),
}


@pytest.fixture
def nest_in(shop):
    """Makes a nest of 3 plates in a state, by the verbs that lead there."""

    def make(state):
        shop.sheets(on_hand=9)
        nest = shop.ask(shop.line(3))
        if state == S.QUEUED:
            return nest
        if state == S.LAYING:
            return claim(NEST_WORK, nest.pk)
        if state == S.FAILED:
            give_up(claim(NEST_WORK, nest.pk), "No engine.")
        elif state == S.THROWN_AWAY:
            cancel(nest, by=shop.people.office)
        else:
            run(nest.pk)
            if state in (S.RELEASED, S.DONE):
                release(nest, by=shop.people.office)
            if state == S.PROPOSED:
                nest = ask_for_rival(nest, by=shop.people.office)
                run(nest.pk)
            if state == S.DONE:
                Nest.objects.filter(pk=nest.pk).update(state=S.DONE)
        nest.refresh_from_db()
        assert nest.state == state
        return nest

    return make


@pytest.mark.parametrize(("verb", "state"), [(v, s) for v, (_, states, _, _) in VERBS.items() for s in states])
def test_it_works(nest_in, people, verb, state):
    call, _, ends_in, _ = VERBS[verb]
    nest = nest_in(state)
    call(nest, by=people.operator)
    nest.refresh_from_db()
    assert nest.state == ends_in
    event = nest.events.order_by("pk").last()
    assert (event.verb, event.actor, event.from_state, event.to_state) == (verb, people.operator, state, ends_in)
    assert_all_agrees()


@pytest.mark.parametrize(
    ("verb", "state"), [(v, s) for v, (_, states, _, _) in VERBS.items() for s in NestState if s not in states]
)
def test_in_a_wrong_state_it_is_refused(nest_in, people, verb, state):
    nest = nest_in(state)
    count = NestEvent.objects.count()
    with pytest.raises(WrongState):
        VERBS[verb][0](nest, by=people.office)
    nest.refresh_from_db()
    assert nest.state == state
    assert NestEvent.objects.count() == count
    if state != S.DONE:
        assert_all_agrees()


@pytest.mark.parametrize("verb", VERBS)
def test_a_wrong_role_is_refused(nest_in, people, verb):
    call, states, _, _ = VERBS[verb]
    nest = nest_in(min(states))
    for role in ("inspector", "nobody"):
        with pytest.raises(NotYourRole):
            call(nest, by=getattr(people, role))
    nest.refresh_from_db()
    assert nest.state in states
    call(nest, by=people.manager)


@pytest.mark.parametrize("verb", VERBS)
def test_sent_twice_it_counts_once(nest_in, people, verb):
    call, states, ends_in, _ = VERBS[verb]
    nest, key = nest_in(min(states)), uuid.uuid4()
    first = call(nest, by=people.office, key=key)
    assert call(Nest.objects.get(pk=nest.pk), by=people.office, key=key) == first
    nest.refresh_from_db()
    assert nest.state == ends_in
    assert NestEvent.objects.filter(key=key).count() == 1
    assert_all_agrees()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("verb", VERBS)
def test_sent_eight_times_at_once_it_counts_once(nest_in, people, at_once, verb):
    call, states, ends_in, _ = VERBS[verb]
    nest, key = nest_in(min(states)), uuid.uuid4()
    at_once(8, lambda _: call(Nest.objects.get(pk=nest.pk), by=people.office, key=key))
    nest.refresh_from_db()
    assert nest.state == ends_in
    assert NestEvent.objects.filter(key=key).count() == 1
    assert_all_agrees()


def open_count(nest):
    return nest.demands.get().line.open_count


def test_a_cancelled_nest_gives_its_pieces_back(nest_in, people):
    nest = nest_in(S.LAYING)
    assert open_count(nest) == 0
    cancel(nest, by=people.office)
    assert open_count(nest) == 3


def test_a_nest_thrown_away_gives_pieces_and_stock_back(nest_in, shop):
    nest = nest_in(S.READY)
    item = nest.layouts.get().stock
    assert item.reserved == 1
    throw_away(nest, by=shop.people.office, why="The customer has waived it.")
    item.refresh_from_db()
    assert (open_count(nest), item.reserved, item.on_hand) == (3, 0, 9)
    assert nest.events.order_by("pk").last().why == "The customer has waived it."


def test_a_failed_nest_thrown_away_gives_back_nothing_twice(nest_in, people):
    nest = nest_in(S.FAILED)
    assert open_count(nest) == 3
    throw_away(nest, by=people.office)
    assert open_count(nest) == 3
    assert_all_agrees()


def test_a_nest_that_was_recalled_can_be_thrown_away(nest_in, people):
    nest = nest_in(S.RELEASED)
    recall(nest, by=people.office)
    throw_away(nest, by=people.office)
    assert open_count(nest) == 3
    assert_all_agrees()


class TestTakeBest:
    def test_it_asks_the_worker_to_stop(self, nest_in, people):
        nest = nest_in(S.LAYING)
        take_best(nest, by=people.operator)
        nest.refresh_from_db()
        assert (nest.stop_asked, nest.state) == (True, S.LAYING)

    @pytest.mark.parametrize("state", [s for s in NestState if s != S.LAYING])
    def test_it_does_nothing_where_nothing_is_laid_out(self, nest_in, people, state):
        nest = nest_in(state)
        before = nest.stop_asked
        take_best(nest, by=people.operator)
        nest.refresh_from_db()
        assert (nest.stop_asked, nest.state) == (before, state)

    def test_a_wrong_role_is_refused(self, nest_in, people):
        nest = nest_in(S.LAYING)
        with pytest.raises(NotYourRole):
            take_best(nest, by=people.inspector)


class TestGiveUp:
    def test_pieces_are_open_again_and_the_planner_reads_why(self, nest_in):
        nest = nest_in(S.LAYING)
        give_up(nest, "The engine came to no result.")
        nest.refresh_from_db()
        assert (nest.state, nest.failure) == (S.FAILED, "The engine came to no result.")
        assert nest.finished_at is not None
        assert open_count(nest) == 3
        assert_all_agrees()

    def test_a_late_twin_does_not_give_up_what_waits_for_another_worker(self, nest_in):
        nest = nest_in(S.LAYING)
        Nest.objects.filter(pk=nest.pk).update(state=S.QUEUED)
        with pytest.raises(WrongState):
            give_up(nest, "Too late.")
        nest.refresh_from_db()
        assert nest.state == S.QUEUED
        assert open_count(nest) == 0

    def test_a_late_twin_does_not_give_up_what_another_worker_has(self, nest_in):
        nest = nest_in(S.LAYING)
        Nest.objects.filter(pk=nest.pk).update(attempt=2)
        with pytest.raises(WrongState):
            give_up(nest, "Too late.")
        assert open_count(nest) == 0


class TestSettle:
    def test_a_nest_is_done_when_all_loads_have_ended_and_not_before(self, nest_in):
        nest = nest_in(S.RELEASED)
        settle(nest, all_ended=False)
        assert nest.state == S.RELEASED
        settle(nest, all_ended=True)
        nest.refresh_from_db()
        assert nest.state == S.DONE
        settle(nest, all_ended=False)
        nest.refresh_from_db()
        assert nest.state == S.RELEASED

    @pytest.mark.parametrize("state", [S.READY, S.THROWN_AWAY, S.FAILED])
    def test_a_nest_that_is_not_at_a_machine_stays_as_it_is(self, nest_in, state):
        nest = nest_in(state)
        for all_ended in (True, False):
            settle(nest, all_ended=all_ended)
            nest.refresh_from_db()
            assert nest.state == state

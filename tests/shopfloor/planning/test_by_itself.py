"""Nesting by itself: when enough waits, or when a due date nears."""

from datetime import timedelta

import pytest
from django.utils import timezone

from shopfloor.base import leases
from shopfloor.planning.by_itself import nest_what_is_due
from shopfloor.planning.models import Nest, NestState, PlanningRule
from shopfloor.planning.nest_state import throw_away
from shopfloor.planning.run import run
from tests.factories.orders import ConfirmedOrderFactory, OrderFactory
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def rule(db):
    return PlanningRule.objects.create(pk=1, by_itself=True, enough_share=0.5, days_ahead=3, budget_s=15)


def order_due_in(days):
    return ConfirmedOrderFactory(due_on=timezone.localdate() + timedelta(days=days))


@pytest.mark.parametrize(("days", "nested"), [(-1, True), (0, True), (3, True), (4, False)])
def test_a_group_is_nested_once_its_due_date_is_near(shop, days, nested):
    shop.sheets()
    line = shop.line(1, order=order_due_in(days))
    assert bool(nest_what_is_due()) == nested
    line.refresh_from_db()
    assert line.planned_count == nested
    assert_all_agrees()


# Source: by hand, a plate of 100 × 60 is 6 000 mm² and half a sheet of 240 × 200 is 24 000 mm².
@pytest.mark.parametrize(("quantity", "nested"), [(3, False), (4, True)])
def test_a_group_is_nested_once_enough_of_it_waits_for_the_largest_sheet(shop, quantity, nested):
    shop.sheets(length_mm=240, width_mm=200)
    shop.sheets(length_mm=120, width_mm=100)
    shop.line(quantity, order=order_due_in(30))
    assert bool(nest_what_is_due()) == nested


# Source: by hand, half a bar of 6 000 is 3 000.
@pytest.mark.parametrize(("quantity", "nested"), [(2, False), (3, True)])
def test_of_tube_it_is_the_length_that_counts(shop, quantity, nested):
    shop.bars()
    shop.tube_line(quantity, length=1000.0, order=order_due_in(30))
    assert bool(nest_what_is_due()) == nested


def test_what_waits_is_counted_over_all_orders_together(shop):
    shop.sheets(length_mm=240, width_mm=200)
    for _ in range(2):
        shop.line(2, order=order_due_in(30))
    (nest,) = nest_what_is_due()
    assert (nest.wanted_count, nest.asked_by, nest.budget_s, nest.events.get().actor) == (4, None, 15, None)
    run(nest.pk)
    assert Nest.objects.get().state == NestState.READY
    assert_all_agrees()


def test_drafts_are_never_nested(shop):
    shop.sheets()
    shop.line(9, order=OrderFactory(due_on=timezone.localdate()))
    assert nest_what_is_due() == []


def test_without_stock_nothing_is_asked_for_and_other_groups_go_on(shop):
    shop.sheets()
    shop.line(1, order=order_due_in(0), thickness_mm="8")
    line = shop.line(1, order=order_due_in(1))
    (nest,) = nest_what_is_due()
    assert nest.demands.get().line == line


def test_a_shop_that_did_not_ask_for_it_nests_nothing_by_itself(shop, rule):
    PlanningRule.objects.update(by_itself=False)
    shop.sheets()
    shop.line(1, order=order_due_in(0))
    assert nest_what_is_due() == []


def test_a_round_after_the_other_asks_once_though_more_comes_in(shop):
    shop.sheets(on_hand=9)
    shop.line(1, order=order_due_in(0))
    (first,) = nest_what_is_due()
    shop.line(1, order=order_due_in(0))
    assert nest_what_is_due() == [], "a nest of the group waits already"
    run(first.pk)
    (second,) = nest_what_is_due()
    assert [nest.wanted_count for nest in (first, second)] == [1, 1]
    assert_all_agrees()


def test_a_group_that_came_to_nothing_is_left_to_a_person_for_a_while(shop):
    shop.sheets(length_mm=70, width_mm=50)
    shop.line(1, order=order_due_in(0))
    (nest,) = nest_what_is_due()
    run(nest.pk)
    nest.refresh_from_db()
    assert nest.state == NestState.FAILED
    assert nest_what_is_due() == []
    Nest.objects.update(finished_at=timezone.now() - timedelta(minutes=31))
    assert len(nest_what_is_due()) == 1


def test_the_parts_of_a_nest_thrown_away_wait_again(shop, people):
    shop.sheets()
    line = shop.line(2, order=order_due_in(30))
    throw_away(shop.ready_nest(line), by=people.office)
    line.refresh_from_db()
    assert (line.open_count, line.nested_count, line.planned_count) == (2, 0, 0)
    assert_all_agrees()


def test_the_sweep_looks_at_it():
    assert nest_what_is_due in [chore.work for chore in leases._chores]


def test_two_sweeps_at_once_take_no_piece_twice(shop, at_once):
    shop.sheets(on_hand=9)
    lines = [shop.line(3, order=order_due_in(0)) for _ in range(3)]
    at_once(4, lambda _: nest_what_is_due())
    for line in lines:
        line.refresh_from_db()
    assert [line.planned_count for line in lines] == [3, 3, 3]
    assert_all_agrees()

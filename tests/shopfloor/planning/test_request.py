import uuid
from datetime import date

import pytest

from shopfloor.base.errors import BadInput, NotYourRole, Refused
from shopfloor.orders.models import OrderLine
from shopfloor.planning import request
from shopfloor.planning.demand import GroupKey, key_of
from shopfloor.planning.models import Nest, NestEvent, NestState, PlanningRule
from shopfloor.planning.request import ask_for_nest
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.stock import CuttingRuleFactory, MachineFactory
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db


def code_of(call):
    with pytest.raises(Refused) as refusal:
        call()
    return refusal.value.code


def held(nest):
    return {demand.line_id: demand.count for demand in nest.demands.all()}


def test_it_holds_all_open_pieces_of_the_group_and_waits_for_a_worker(shop, people):
    shop.sheets()
    soon, late = ConfirmedOrderFactory(due_on=date(2026, 12, 3)), ConfirmedOrderFactory(due_on=date(2026, 12, 24))
    first, second, other = shop.line(3, order=late), shop.line(2, order=soon), shop.line(thickness_mm="3")
    nest = shop.ask(first, seed=7)
    assert (nest.state, nest.kind, nest.machine, nest.material) == ("queued", "sheet", shop.machine, shop.material)
    assert (nest.thickness_mm, nest.section, nest.due_on, nest.seed) == (2, None, date(2026, 12, 3), 7)
    assert (nest.wanted_count, nest.asked_by, nest.budget_s) == (5, people.office, 20)
    assert held(nest) == {first.pk: 3, second.pk: 2}
    other.refresh_from_db()
    assert other.open_count == 1
    event = nest.events.get()
    assert (event.verb, event.actor, event.to_state) == ("ask", people.office, NestState.QUEUED)
    assert_all_agrees()


def test_its_message_goes_out_after_the_commit(shop, settings, sent_messages, django_capture_on_commit_callbacks):
    settings.BROKER_IS_EMBEDDED = False
    shop.sheets()
    with django_capture_on_commit_callbacks(execute=True):
        nest = shop.ask(shop.line())
    assert sent_messages == [("shopfloor.planning.tasks.lay_out", nest.pk)]


def test_tube_is_asked_for_alike(shop):
    shop.bars()
    nest = shop.ask(shop.tube_line(4))
    assert (nest.kind, nest.thickness_mm, nest.machine) == ("tube", None, shop.tube_machine)
    assert nest.section is not None


def test_a_part_of_what_waits_can_be_asked_for(shop):
    shop.sheets()
    first, second = shop.line(3), shop.line(2)
    nest = shop.ask(first, only={first.pk: 2, second.pk: -1, 10**9: 5})
    assert held(nest) == {first.pk: 2}
    rest = shop.ask(first)
    assert held(rest) == {first.pk: 1, second.pk: 2}
    assert_all_agrees()


def test_more_than_is_open_of_a_line_is_not_taken(shop):
    shop.sheets()
    line = shop.line(3)
    assert held(shop.ask(line, only={line.pk: 99})) == {line.pk: 3}


def test_a_nest_takes_the_earliest_due_up_to_its_limit(shop, monkeypatch):
    monkeypatch.setattr(request, "MOST_PER_NEST", 5)
    shop.sheets()
    late = shop.line(4, order=ConfirmedOrderFactory(due_on=date(2026, 12, 24)))
    soon = shop.line(3, order=ConfirmedOrderFactory(due_on=date(2026, 12, 3)))
    assert held(shop.ask(late)) == {soon.pk: 3, late.pk: 2}
    assert held(shop.ask(late)) == {late.pk: 2}


def test_the_planning_rule_says_how_long_to_think(shop):
    shop.sheets()
    PlanningRule.objects.create(pk=1, budget_s=45)
    assert shop.ask(shop.line()).budget_s == 45
    assert shop.ask(shop.line(), budget_s=3).budget_s == 3


@pytest.mark.parametrize("budget", [0, 1, 601, -5])
def test_a_budget_out_of_range_is_refused(shop, budget):
    shop.sheets()
    line = shop.line()
    with pytest.raises(BadInput) as refusal:
        shop.ask(line, budget_s=budget)
    assert refusal.value.field == "budget_s"


class TestFill:
    """Pieces that are not wanted yet and may fill room that is left over."""

    def test_the_nest_holds_them_beside_those_wanted(self, shop):
        shop.sheets()
        soon, late = ConfirmedOrderFactory(due_on=date(2026, 12, 3)), ConfirmedOrderFactory(due_on=date(2026, 12, 24))
        wanted, other = shop.line(5, order=late), shop.line(4, order=soon)
        nest = shop.ask(wanted, only={wanted.pk: 2}, fill={wanted.pk: 2, other.pk: 99, 10**9: 5})
        assert {d.line_id: (d.count, d.fill_count) for d in nest.demands.all()} == {
            wanted.pk: (4, 2),
            other.pk: (4, 4),
        }
        assert nest.events.get().why == "6 more may fill left-over room"
        # They hurry nothing.
        assert (nest.wanted_count, nest.due_on) == (2, date(2026, 12, 24))
        for line, still_open in ((wanted, 1), (other, 0)):
            line.refresh_from_db()
            assert line.open_count == still_open
        assert_all_agrees()

    def test_beside_all_that_waits_nothing_is_left_to_fill(self, shop):
        shop.sheets()
        line = shop.line(5)
        (demand,) = shop.ask(line, fill={line.pk: 5}).demands.all()
        assert (demand.count, demand.fill_count) == (5, 0)

    def test_those_wanted_come_first_up_to_the_limit(self, shop, monkeypatch):
        monkeypatch.setattr(request, "MOST_PER_NEST", 6)
        shop.sheets()
        first, second = shop.line(5), shop.line(4)
        nest = shop.ask(first, only={second.pk: 4}, fill={first.pk: 5})
        assert {d.line_id: (d.count, d.fill_count) for d in nest.demands.all()} == {
            first.pk: (2, 2),
            second.pk: (4, 0),
        }

    def test_they_alone_are_no_nest(self, shop):
        shop.sheets()
        line = shop.line(5)
        with pytest.raises(Refused, match="laid beside others only") as refusal:
            shop.ask(line, only={}, fill={line.pk: 5})
        assert refusal.value.code == "nothing-waits"
        assert not Nest.objects.exists()

    def test_bars_have_no_room_and_no_orders_together(self, shop):
        shop.bars()
        line = shop.tube_line(4)
        for wish in ({"fill": {line.pk: 2}}, {"together": True}):
            with pytest.raises(BadInput) as refusal:
                shop.ask(line, only={line.pk: 1}, **wish)
            assert refusal.value.field in wish
        assert not Nest.objects.exists()

    def test_where_few_kinds_may_lie_on_a_sheet_nothing_fills_it(self, shop):
        CuttingRuleFactory(material=shop.material, thickness_mm=None, most_kinds=2)
        shop.sheets()
        line = shop.line(4)
        with pytest.raises(BadInput, match="at most 2 different parts") as refusal:
            shop.ask(line, only={line.pk: 1}, fill={line.pk: 2})
        assert refusal.value.field == "fill"


class TestRefused:
    def test_where_nothing_waits(self, shop):
        shop.sheets()
        line = shop.line()
        shop.ask(line)
        assert code_of(lambda: shop.ask(line)) == "nothing-waits"
        key = GroupKey("sheet", shop.material.pk, line.thickness_mm + 1, None)
        assert code_of(lambda: ask_for_nest(key, by=shop.people.office)) == "nothing-waits"

    def test_where_none_of_the_chosen_lines_waits(self, shop):
        shop.sheets()
        line = shop.line()
        assert code_of(lambda: shop.ask(line, only={line.pk: 0})) == "nothing-waits"
        assert not Nest.objects.exists()

    def test_where_there_is_no_stock(self, shop):
        shop.sheets(on_hand=0)
        shop.sheets(on_hand=1, reserved=1)
        assert code_of(lambda: shop.ask(shop.line())) == "no-stock"

    def test_where_no_machine_cuts_it(self, shop):
        shop.sheets()
        type(shop.machine).objects.update(in_use=False)
        with pytest.raises(Refused, match="No machine in use cuts sheet in S235") as refusal:
            shop.ask(shop.line())
        assert refusal.value.code == "no-machine"

    def test_where_all_stock_is_too_large_for_every_machine(self, shop):
        shop.sheets(length_mm=4000)
        with pytest.raises(Refused, match="too large for every machine") as refusal:
            shop.ask(shop.line())
        assert refusal.value.code == "no-machine"

    @pytest.mark.parametrize("role", ["inspector", "nobody"])
    def test_for_those_who_may_not(self, shop, people, role):
        shop.sheets()
        line = shop.line()
        with pytest.raises(NotYourRole):
            ask_for_nest(key_of(line), by=getattr(people, role))
        line.refresh_from_db()
        assert line.open_count == 1

    def test_leaves_no_nest_behind(self, shop):
        shop.sheets(on_hand=0)
        code_of(lambda: shop.ask(shop.line()))
        assert not Nest.objects.exists()
        assert not NestEvent.objects.exists()


class TestMachine:
    def test_it_is_the_first_by_name_that_takes_any_of_the_stock(self, shop):
        MachineFactory(name="A small one", table_length_mm=500, table_width_mm=300)
        shop.sheets()
        assert shop.ask(shop.line()).machine == shop.machine

    def test_another_can_be_asked_for(self, shop):
        other = MachineFactory(name="Other")
        shop.sheets()
        assert shop.ask(shop.line(), machine=other).machine == other

    def test_one_that_does_not_cut_this_or_takes_none_of_it_is_refused(self, shop):
        small = MachineFactory(name="A small one", table_length_mm=500, table_width_mm=300)
        shop.sheets()
        line = shop.line()
        for machine in (shop.tube_machine, small):
            with pytest.raises(BadInput) as refusal:
                shop.ask(line, machine=machine)
            assert refusal.value.field == "machine"


class TestSentTwice:
    def test_it_makes_one_nest(self, shop):
        shop.sheets()
        line, key = shop.line(4), uuid.uuid4()
        first = shop.ask(line, key=key, only={line.pk: 2})
        assert shop.ask(line, key=key, only={line.pk: 2}) == first
        assert Nest.objects.count() == 1

    def test_it_makes_one_nest_also_where_nothing_waits_any_more(self, shop):
        shop.sheets()
        line, key = shop.line(), uuid.uuid4()
        assert shop.ask(line, key=key) == shop.ask(line, key=key)

    def test_a_key_of_another_verb_is_refused(self, shop):
        shop.sheets()
        line, key = shop.line(), uuid.uuid4()
        NestEvent.objects.create(nest=shop.ask(line), key=key, verb="cancel")
        with pytest.raises(BadInput):
            shop.ask(line, key=key)

    @pytest.mark.slow
    def test_eight_times_at_once_it_makes_one_nest(self, shop, at_once):
        shop.sheets()
        line, key = shop.line(9), uuid.uuid4()
        nests = at_once(8, lambda _: ask_for_nest(key_of(line), by=shop.people.office, key=key, only={line.pk: 2}).pk)
        assert len(set(nests)) == 1
        line.refresh_from_db()
        assert line.planned_count == 2
        assert_all_agrees()


@pytest.mark.slow
def test_eight_nests_asked_for_the_same_group_at_once_never_hold_a_piece_twice(shop, at_once):
    shop.sheets(on_hand=100)
    lines = [shop.line(10) for _ in range(3)]

    def ask(number):
        only = {line.pk: 1 + number % 4 for line in lines}
        try:
            return held(ask_for_nest(key_of(lines[0]), by=shop.people.office, only=only))
        except Refused as refusal:
            return refusal.code

    for _ in range(2):
        at_once(8, ask)
    for line in OrderLine.objects.all():
        assert 0 < line.planned_count <= 10
    assert_all_agrees()

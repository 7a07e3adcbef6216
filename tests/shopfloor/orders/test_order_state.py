import uuid

import pytest

from shopfloor.base.errors import BadInput, NotYourRole, Refused, WrongState
from shopfloor.orders.models import Order, OrderEvent, OrderState
from shopfloor.orders.order_state import cancel, confirm, confirm_faults, hand_over, take_back
from shopfloor.orders.progress import OPEN, Shift, report
from shopfloor.parts.models import DrawingState
from shopfloor.planning.demand import key_of
from shopfloor.planning.request import ask_for_nest
from tests.factories.orders import ConfirmedOrderFactory, OrderFactory, OrderFileFactory, line_of
from tests.factories.parts import DrawingFactory, tube_part
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db

VERBS = {
    # verb: (call, states it may start from, state it ends in, roles beside manager)
    "confirm": (confirm, {OrderState.DRAFT}, OrderState.CONFIRMED, {"office"}),
    "hand-over": (hand_over, {OrderState.COMPLETE}, OrderState.HANDED_OVER, {"office"}),
    "take-back": (take_back, {OrderState.HANDED_OVER}, OrderState.COMPLETE, {"office"}),
    "cancel": (cancel, {OrderState.DRAFT, OrderState.CONFIRMED}, OrderState.CANCELLED, {"office"}),
}


def order_in(state):
    order = OrderFactory(state=state)
    line_of(order)
    return order


@pytest.mark.parametrize(("verb", "state"), [(v, s) for v, (_, states, _, _) in VERBS.items() for s in states])
def test_it_works(people, verb, state):
    call, _, ends_in, _ = VERBS[verb]
    order = order_in(state)
    call(order, by=people.office)
    order.refresh_from_db()
    assert order.state == ends_in
    event = order.events.get()
    assert (event.verb, event.actor, event.from_state, event.to_state) == (verb, people.office, state, ends_in)


@pytest.mark.parametrize(
    ("verb", "state"), [(v, s) for v, (_, states, _, _) in VERBS.items() for s in OrderState if s not in states]
)
def test_in_a_wrong_state_it_is_refused(people, verb, state):
    order = order_in(state)
    with pytest.raises(WrongState):
        VERBS[verb][0](order, by=people.office)
    order.refresh_from_db()
    assert order.state == state
    assert not order.events.exists()


@pytest.mark.parametrize("verb", VERBS)
def test_a_wrong_role_is_refused(people, verb):
    call, states, _, roles = VERBS[verb]
    for role in ("operator", "inspector", "nobody"):
        assert role not in roles
        order = order_in(next(iter(states)))
        with pytest.raises(NotYourRole):
            call(order, by=getattr(people, role))
        order.refresh_from_db()
        assert order.state in states
    call(order, by=people.manager)


@pytest.mark.parametrize("verb", VERBS)
def test_sent_twice_it_counts_once(people, verb):
    call, states, ends_in, _ = VERBS[verb]
    order, key = order_in(next(iter(states))), uuid.uuid4()
    call(order, by=people.office, key=key)
    call(Order.objects.get(pk=order.pk), by=people.office, key=key)
    order.refresh_from_db()
    assert order.state == ends_in
    assert OrderEvent.objects.filter(order=order).count() == 1


@pytest.mark.slow
@pytest.mark.parametrize("verb", VERBS)
def test_sent_eight_times_at_once_it_counts_once(people, at_once, verb):
    call, states, ends_in, _ = VERBS[verb]
    order, key = order_in(next(iter(states))), uuid.uuid4()
    at_once(8, lambda _: call(Order.objects.get(pk=order.pk), by=people.office, key=key))
    order.refresh_from_db()
    assert order.state == ends_in
    assert OrderEvent.objects.filter(order=order).count() == 1


class TestConfirm:
    def faults(self, order, people):
        with pytest.raises(BadInput) as refusal:
            confirm(order, by=people.office)
        assert str(refusal.value) == " ".join(confirm_faults(order))
        order.refresh_from_db()
        assert order.state == OrderState.DRAFT
        return confirm_faults(order)

    def test_an_order_without_parts_is_refused(self, people):
        assert self.faults(OrderFactory(), people) == ["The order has no parts yet. Add at least one drawing."]

    @pytest.mark.parametrize("state", [DrawingState.QUEUED, DrawingState.READING])
    def test_a_file_that_is_still_being_read_is_named(self, people, state):
        order = order_in(OrderState.DRAFT)
        OrderFileFactory(order=order, drawing=DrawingFactory(name="gate.dxf", state=state))
        assert self.faults(order, people) == ["gate.dxf is still being read. Wait a moment."]

    @pytest.mark.parametrize("state", [DrawingState.REFUSED, DrawingState.FAILED])
    def test_a_file_that_cannot_be_used_is_named(self, people, state):
        order = order_in(OrderState.DRAFT)
        OrderFileFactory(order=order, drawing=DrawingFactory(name="gate.dxf", state=state))
        assert self.faults(order, people) == [
            "gate.dxf cannot be used: correct it and upload it again, or take it out of the order."
        ]

    def test_a_usable_file_whose_parts_are_not_in_the_order_is_named(self, people):
        order = order_in(OrderState.DRAFT)
        OrderFileFactory(order=order, drawing=DrawingFactory(name="gate.dxf"))
        assert self.faults(order, people) == ["gate.dxf: its parts are not in the order. Take it out and add it again."]

    def test_what_a_line_lacks_is_named(self, people):
        order = OrderFactory()
        sheet, tube = line_of(order), line_of(order, tube_part())
        type(sheet).objects.update(material=None, thickness_mm=None)
        assert self.faults(order, people) == [
            f"{sheet.part.name}: say the material and thickness.",
            f"{tube.part.name}: say the material.",
        ]


class TestCancel:
    @pytest.mark.parametrize("step", ["planned", "nested", "cut", "broken_out", "rework"])
    def test_an_order_with_pieces_under_way_is_not_cancelled(self, people, step):
        line = line_of(ConfirmedOrderFactory(), quantity=3)
        report([Shift(line.pk, OPEN, step, 1)], by=None)
        with pytest.raises(Refused) as refusal:
            cancel(line.order, by=people.office)
        assert refusal.value.code == "pieces-under-way"
        line.order.refresh_from_db()
        assert line.order.state == OrderState.CONFIRMED

    def test_an_order_with_good_and_lost_pieces_is(self, people):
        line = line_of(ConfirmedOrderFactory(), quantity=3)
        report([Shift(line.pk, OPEN, step, 1) for step in ("good", "lost", "scrapped")], by=None)
        cancel(line.order, by=people.office, why="The customer called.")
        assert line.order.events.last().why == "The customer called."
        assert line.order.state == OrderState.CANCELLED

    def test_its_open_pieces_are_nested_no_more(self, shop, people):
        shop.sheets()
        line = shop.line(3)
        cancel(line.order, by=people.office)
        with pytest.raises(Refused) as refusal:
            shop.ask(line)
        assert refusal.value.code == "nothing-waits"

    @pytest.mark.slow
    def test_cancelled_and_nested_at_once_only_one_of_both_happens(self, shop, people, at_once):
        shop.sheets(on_hand=100)
        for _ in range(6):
            line = shop.line(3)

            def cancel_or_nest(number, line=line):
                try:
                    if number:
                        cancel(Order.objects.get(pk=line.order_id), by=people.office)
                    else:
                        ask_for_nest(key_of(line), by=people.office)
                except Refused as refusal:
                    return refusal.code
                return "done"

            answers = at_once(2, cancel_or_nest)
            line.refresh_from_db()
            line.order.refresh_from_db()
            assert "done" in answers
            assert (line.order.state == OrderState.CANCELLED) == (line.planned_count == 0), answers
        assert_all_agrees()

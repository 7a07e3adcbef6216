import uuid

import pytest

from shopfloor.base.errors import BadInput, Refused, WrongState
from shopfloor.base.moves import as_key, move
from shopfloor.orders.models import OrderEvent, OrderState
from shopfloor.orders.order_state import ORDER
from tests.factories.orders import OrderFactory

pytestmark = pytest.mark.django_db


def test_a_move_changes_the_state_and_writes_who_when_from_to_and_why(people):
    order, key = OrderFactory(), uuid.uuid4()
    event = move(ORDER, order, "cancel", by=people.office, key=key, why="entered twice")
    assert order.state == OrderState.CANCELLED
    order.refresh_from_db()
    assert order.state == OrderState.CANCELLED
    stored = OrderEvent.objects.get()
    assert stored == event
    assert (stored.order, stored.actor, stored.verb) == (order, people.office, "cancel")
    assert (stored.from_state, stored.to_state, stored.why, stored.key) == ("draft", "cancelled", "entered twice", key)
    assert stored.at is not None


def test_a_move_from_a_state_that_does_not_allow_it_changes_nothing(people):
    order = OrderFactory()
    with pytest.raises(WrongState, match="it is draft, so this cannot be done"):
        move(ORDER, order, "hand-over", by=people.office)
    order.refresh_from_db()
    assert order.state == OrderState.DRAFT
    assert not OrderEvent.objects.exists()


def test_what_counts_is_the_stored_state_and_not_that_of_an_old_object(people):
    order = OrderFactory()
    stale = type(order).objects.get(pk=order.pk)
    move(ORDER, order, "cancel", by=people.office)
    with pytest.raises(WrongState):
        move(ORDER, stale, "confirm", by=people.office)


def test_a_key_sent_twice_gives_the_first_event_and_changes_nothing(people):
    order, key = OrderFactory(), uuid.uuid4()
    first = move(ORDER, order, "confirm", by=people.office, key=key)
    move(ORDER, order, "complete", by=None)
    again = move(ORDER, order, "confirm", by=people.office, key=str(key))
    assert again == first
    order.refresh_from_db()
    assert order.state == OrderState.COMPLETE
    assert OrderEvent.objects.filter(key=key).count() == 1


def test_a_key_of_another_row_or_another_verb_is_refused(people):
    order, other, key = OrderFactory(), OrderFactory(), uuid.uuid4()
    move(ORDER, order, "confirm", by=people.office, key=key)
    with pytest.raises(BadInput, match="used for something else"):
        move(ORDER, other, "confirm", by=people.office, key=key)
    with pytest.raises(BadInput, match="used for something else"):
        move(ORDER, order, "cancel", by=people.office, key=key)
    other.refresh_from_db()
    assert other.state == OrderState.DRAFT


def test_a_key_that_is_no_uuid_is_refused_and_a_missing_one_is_made():
    with pytest.raises(BadInput) as refusal:
        as_key("seven")
    assert refusal.value.field == "key"
    assert as_key("") != as_key(None)
    key = uuid.uuid4()
    assert as_key(str(key)) == as_key(key) == key


def test_where_the_work_refuses_nothing_has_happened_not_even_to_the_object(people):
    order = OrderFactory()

    def refuse(order):
        order.lines.update(quantity=3)
        raise Refused("No.", "no")

    with pytest.raises(Refused, match="No"):
        move(ORDER, order, "confirm", by=people.office, work=refuse, set_fields={"note": "changed"})
    assert (order.state, order.note) == (OrderState.DRAFT, "")
    order.refresh_from_db()
    assert (order.state, order.note) == (OrderState.DRAFT, "")
    assert not OrderEvent.objects.exists()


def test_fields_are_set_and_the_work_sees_them(people):
    order, seen = OrderFactory(), []
    move(ORDER, order, "confirm", by=people.office, set_fields={"note": "n"}, work=lambda o: seen.append(o.note))
    assert seen == ["n"]
    order.refresh_from_db()
    assert order.note == "n"


def test_a_row_that_is_not_as_stated_is_not_moved(people):
    order = OrderFactory(reference="A")
    with pytest.raises(WrongState, match="changed by somebody else"):
        move(ORDER, order, "confirm", by=people.office, only_if={"reference": "B"})
    order.refresh_from_db()
    assert order.state == OrderState.DRAFT
    move(ORDER, order, "confirm", by=people.office, only_if={"reference": "A"})
    assert order.state == OrderState.CONFIRMED


def test_an_event_says_what_and_when(people):
    event = move(ORDER, OrderFactory(), "confirm", by=people.office)
    assert str(event) == f"confirm at {event.at:%Y-%m-%d %H:%M}"

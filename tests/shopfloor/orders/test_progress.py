import pytest
from django.db import IntegrityError, transaction

from shopfloor.base.errors import WrongState
from shopfloor.orders.models import LineEvent, Order, OrderState
from shopfloor.orders.progress import OPEN, Shift, report
from tests.factories.orders import ConfirmedOrderFactory, line_of
from tests.factories.stock import MaterialFactory
from tests.ledger import assert_ledger_agrees

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(db):
    return line_of(ConfirmedOrderFactory(), quantity=10)


def counts(line):
    line.refresh_from_db()
    steps = ("planned", "nested", "cut", "broken_out", "rework", "good", "scrapped", "lost")
    return {step: n for step in steps if (n := getattr(line, f"{step}_count"))} | {"open": line.open_count}


def state_of(line):
    return Order.objects.get(pk=line.order_id).state


def test_pieces_move_from_step_to_step_and_leave_a_ledger(line, people):
    report([Shift(line.pk, OPEN, "planned", 6, "asked")], by=people.office, place="Nest 1")
    report([Shift(line.pk, "planned", "nested", 5), Shift(line.pk, "planned", OPEN, 1)], by=None, place="Nest 1")
    assert counts(line) == {"nested": 5, "open": 5}
    rows = [(e.from_step, e.to_step, e.count, e.actor, e.place, e.why) for e in line.events.order_by("pk")]
    assert rows == [
        ("", "planned", 6, people.office, "Nest 1", "asked"),
        ("planned", "nested", 5, None, "Nest 1", ""),
        ("planned", "", 1, None, "Nest 1", ""),
    ]
    assert_ledger_agrees()


@pytest.mark.parametrize("loss", ["scrapped", "lost"])
def test_a_lost_piece_is_wanted_again_at_once(line, loss):
    report([Shift(line.pk, OPEN, "nested", 10)], by=None)
    report([Shift(line.pk, "nested", loss, 3)], by=None)
    assert counts(line) == {"nested": 7, loss: 3, "open": 3}
    report([Shift(line.pk, OPEN, "planned", 3)], by=None)
    assert counts(line) == {"nested": 7, loss: 3, "planned": 3, "open": 0}
    assert_ledger_agrees()


@pytest.mark.parametrize(
    "shift",
    [(OPEN, "planned", 11), ("planned", "nested", 1), ("good", "broken_out", 1), ("scrapped", OPEN, 1)],
)
def test_more_than_there_are_is_refused(line, shift):
    with pytest.raises(WrongState):
        report([Shift(line.pk, *shift)], by=None)
    assert counts(line) == {"open": 10}
    assert not LineEvent.objects.exists()


def test_all_shifts_are_booked_or_none(line):
    other = line_of(line.order, quantity=1)
    with pytest.raises(WrongState):
        report([Shift(line.pk, OPEN, "planned", 5), Shift(other.pk, OPEN, "planned", 2)], by=None)
    assert counts(line) == {"open": 10}
    assert counts(other) == {"open": 1}


def test_a_shift_of_nothing_or_to_the_same_step_leaves_no_trace(line):
    report([Shift(line.pk, OPEN, "planned", 0), Shift(line.pk, "nested", "nested", 4)], by=None)
    assert not LineEvent.objects.exists()


def test_a_step_that_is_none_is_a_fault_of_ours(line):
    with pytest.raises(ValueError, match="no step of a piece"):
        report([Shift(line.pk, OPEN, "painted", 1)], by=None)


def test_an_order_completes_with_its_last_good_piece_and_reopens_without_it(line):
    other = line_of(line.order, quantity=1)
    report([Shift(line.pk, OPEN, "good", 10)], by=None)
    assert state_of(line) == OrderState.CONFIRMED
    report([Shift(other.pk, OPEN, "broken_out", 1)], by=None)
    report([Shift(other.pk, "broken_out", "good", 1)], by=None)
    assert state_of(line) == OrderState.COMPLETE
    assert Order.objects.get().completed_at is not None
    report([Shift(other.pk, "good", "broken_out", 1)], by=None)
    assert state_of(line) == OrderState.CONFIRMED
    assert Order.objects.get().completed_at is None
    assert [e.verb for e in line.order.events.order_by("pk")] == ["complete", "reopen"]


@pytest.mark.parametrize(
    ("state", "word"), [(OrderState.HANDED_OVER, "handed over"), (OrderState.CANCELLED, "cancelled")]
)
@pytest.mark.parametrize(
    "shift", [("good", "broken_out"), ("scrapped", "broken_out"), ("lost", "cut"), (OPEN, "planned")]
)
def test_no_piece_comes_back_into_work_for_an_order_that_is_not_in_work(line, state, word, shift):
    report([Shift(line.pk, OPEN, s, 2) for s in ("good", "broken_out")], by=None)
    report([Shift(line.pk, "broken_out", "scrapped", 1), Shift(line.pk, "broken_out", "lost", 1)], by=None)
    before = counts(line)
    Order.objects.update(state=state)
    with pytest.raises(WrongState, match=word):
        report([Shift(line.pk, *shift, 1)], by=None)
    assert counts(line) == before


def test_a_long_reason_is_cut_to_what_the_ledger_holds(line):
    report([Shift(line.pk, OPEN, "planned", 1, "w" * 300)], by=None, place="p" * 300)
    event = LineEvent.objects.get()
    assert (event.place, event.why) == ("p" * 120, "w" * 200)


def test_the_table_itself_refuses_more_pieces_under_way_than_ordered(line):
    with pytest.raises(IntegrityError, match="pieces_under_way_le_quantity"), transaction.atomic():
        type(line).objects.filter(pk=line.pk).update(planned_count=6, good_count=5)


@pytest.mark.parametrize("quantity", [0, 100_001])
def test_the_table_refuses_a_quantity_out_of_range(line, quantity):
    with pytest.raises(IntegrityError, match="quantity_in_range"), transaction.atomic():
        type(line).objects.filter(pk=line.pk).update(quantity=quantity)


def test_eight_that_take_open_pieces_at_once_take_no_more_than_there_are(line, at_once):
    def take(_):
        try:
            report([Shift(line.pk, OPEN, "planned", 3)], by=None)
        except WrongState:
            return 0
        return 3

    assert sum(at_once(8, take)) == 9
    assert counts(line) == {"planned": 9, "open": 1}
    assert_ledger_agrees()


def test_two_that_report_the_last_pieces_of_two_lines_at_once_complete_the_order(at_once):
    for _ in range(5):
        material = MaterialFactory()
        order = ConfirmedOrderFactory()
        lines = [line_of(order, material=material) for _ in range(4)]
        at_once(4, lambda n, lines=lines: report([Shift(lines[n].pk, OPEN, "good", 1)], by=None))
        order.refresh_from_db()
        assert order.state == OrderState.COMPLETE
    assert_ledger_agrees()


def test_many_that_report_on_the_same_lines_crosswise_wait_for_each_other_and_lose_nothing(at_once):
    lines = [line_of(ConfirmedOrderFactory(), quantity=100) for _ in range(3)]

    def work(number):
        for _ in range(4):
            mine = lines if number % 2 else lines[::-1]
            report([Shift(line.pk, OPEN, "planned", 1) for line in mine], by=None)

    at_once(6, work)
    assert [counts(line) for line in lines] == [{"planned": 24, "open": 76}] * 3
    assert_ledger_agrees()

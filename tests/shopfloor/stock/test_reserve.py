import pytest
from django.db import transaction

from shopfloor.base.errors import Refused
from shopfloor.stock.models import StockItem
from shopfloor.stock.reserve import exchange, give_back, put_back, reserve, take_out
from tests.factories.stock import SheetFactory

pytestmark = pytest.mark.django_db


def counts(item):
    item.refresh_from_db()
    return item.on_hand, item.reserved


def test_stock_is_promised_used_and_put_back():
    item = SheetFactory(on_hand=5)
    reserve({item.pk: 3})
    assert counts(item) == (5, 3)
    assert item.free == 2
    take_out(item.pk)
    assert counts(item) == (4, 2)
    put_back(item.pk)
    assert counts(item) == (5, 3)
    give_back({item.pk: 3})
    assert counts(item) == (5, 0)


def test_stock_that_is_not_counted_is_promised_without_end():
    item = SheetFactory(on_hand=None)
    reserve({item.pk: 100})
    take_out(item.pk)
    assert counts(item) == (None, 99)
    assert item.free is None
    put_back(item.pk)
    give_back({item.pk: 100})
    assert counts(item) == (None, 0)


def test_more_than_is_free_is_refused_and_then_nothing_is_promised():
    plenty, short = SheetFactory(on_hand=9), SheetFactory(on_hand=2, reserved=1)
    with pytest.raises(Refused, match=r"2 needed, 1 free") as refusal:
        reserve({plenty.pk: 1, short.pk: 2})
    assert refusal.value.code == "stock-gone"
    assert counts(plenty) == (9, 0)
    assert counts(short) == (2, 1)


def test_stock_that_was_deleted_meanwhile_is_refused_too():
    item, gone = SheetFactory(on_hand=3), SheetFactory()
    pk = gone.pk
    gone.delete()
    with pytest.raises(Refused, match="no longer in stock") as refusal:
        reserve({item.pk: 1, pk: 1})
    assert refusal.value.code == "stock-gone"
    assert counts(item) == (3, 0)


def test_eight_nests_at_once_are_promised_no_more_than_there_is(at_once):
    items = [SheetFactory(on_hand=3), SheetFactory(on_hand=5), SheetFactory(on_hand=4)]

    def promise(number):
        # In different orders: two that wait for each other crosswise would wait for ever.
        wanted = items if number % 2 else items[::-1]
        try:
            reserve({item.pk: 1 for item in wanted})
        except Refused as refusal:
            return refusal.code
        return "promised"

    answers = at_once(8, promise)
    assert sorted(answers) == ["promised"] * 3 + ["stock-gone"] * 5
    assert [counts(item) for item in items] == [(3, 3), (5, 3), (4, 3)]


def test_promises_are_exchanged_all_or_none():
    first, second = SheetFactory(on_hand=2, reserved=2), SheetFactory(on_hand=2)
    exchange({first.pk: 2}, {first.pk: 1, second.pk: 1})
    assert (counts(first), counts(second)) == ((2, 1), (2, 1))
    with pytest.raises(Refused, match="2 needed, 1 free"):
        exchange({first.pk: 1}, {second.pk: 2})
    assert (counts(first), counts(second)) == ((2, 1), (2, 1))


def test_promises_that_are_exchanged_crosswise_at_once_do_not_wait_for_ever(at_once):
    first, second = SheetFactory(on_hand=8, reserved=4), SheetFactory(on_hand=8, reserved=4)

    def swap(number):
        one, other = (first, second) if number % 2 else (second, first)
        exchange({one.pk: 1}, {other.pk: 1})

    at_once(8, swap)
    assert (counts(first), counts(second)) == ((8, 4), (8, 4))


def test_promising_and_using_up_at_once_lose_nothing(at_once):
    item = SheetFactory(on_hand=20, reserved=8)

    def work(number):
        if number % 2:
            take_out(item.pk)
        else:
            with transaction.atomic():
                reserve({item.pk: 2})

    at_once(8, work)
    assert counts(item) == (16, 12)
    assert StockItem.objects.get().free == 4

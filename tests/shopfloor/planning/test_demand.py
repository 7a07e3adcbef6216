from datetime import date
from decimal import Decimal

import pytest

from shopfloor.orders.models import OrderState
from shopfloor.orders.progress import OPEN, Shift, report
from shopfloor.planning.demand import (
    GroupKey,
    free_stock,
    group_of,
    key_from_slug,
    key_of,
    stock_by_group,
    waiting_groups,
)
from shopfloor.stock.models import StockItem
from tests.factories.orders import ConfirmedOrderFactory, OrderFactory, line_of
from tests.factories.parts import sheet_part, tube_part
from tests.factories.stock import MaterialFactory, SheetFactory, TubeSectionFactory

pytestmark = pytest.mark.django_db


def lines_of_groups():
    return [[line.pk for line in group.lines] for group in waiting_groups()]


def test_lines_of_all_orders_that_can_share_a_sheet_wait_together_earliest_due_first(shop):
    late = shop.line(order=ConfirmedOrderFactory(due_on=date(2026, 12, 24)))
    soon = shop.line(order=ConfirmedOrderFactory(due_on=date(2026, 12, 3)))
    other = shop.line(order=ConfirmedOrderFactory(due_on=date(2026, 12, 10)), thickness_mm="3")
    assert lines_of_groups() == [[soon.pk, late.pk], [other.pk]]


def test_material_thickness_and_section_part_the_groups(shop):
    shop.line()
    shop.line(thickness_mm="2.50")
    line_of(ConfirmedOrderFactory())
    shop.tube_line()
    wide = tube_part()
    type(wide).objects.filter(pk=wide.pk).update(section=TubeSectionFactory(height_mm=60, width_mm=60))
    wide.refresh_from_db()
    shop.line(part=wide)
    assert len(waiting_groups()) == 5


@pytest.mark.parametrize("state", [s for s in OrderState if s != OrderState.CONFIRMED])
def test_only_confirmed_orders_wait(shop, state):
    shop.line(order=OrderFactory(state=state))
    assert waiting_groups() == []


def test_what_is_under_way_does_not_wait_and_what_was_lost_waits_again(shop):
    line = shop.line(5)
    report([Shift(line.pk, OPEN, "nested", 3), Shift(line.pk, OPEN, "good", 2)], by=None)
    assert waiting_groups() == []
    report([Shift(line.pk, "nested", "lost", 1)], by=None)
    assert waiting_groups()[0].piece_count == 1


def test_a_group_says_what_it_comes_to(shop):
    first = shop.line(2, order=ConfirmedOrderFactory(due_on=date(2026, 12, 24)))
    second = shop.line(3, sheet_part(length=200, width=50), order=ConfirmedOrderFactory(due_on=date(2026, 12, 3)))
    group = group_of(key_of(first))
    assert (group.kind, group.piece_count, group.due_on) == ("sheet", 5, date(2026, 12, 3))
    assert group.orders == [second.order.number, first.order.number]
    # Source: by hand, 2 × 100 × 60 + 3 × 200 × 50 mm².
    assert group.amount == pytest.approx(42_000)
    assert group.title == "S235, 2 mm"


def test_a_group_of_tube_comes_to_a_length(shop):
    line = shop.tube_line(4, length=1250)
    group = group_of(key_of(line))
    assert (group.kind, group.amount, group.title) == ("tube", 5000, "S235, square 40 x 40 x 3")


def test_a_group_in_which_nothing_waits_is_none(shop):
    assert group_of(GroupKey("sheet", shop.material.pk, Decimal(9), None)) is None


class TestSlug:
    @pytest.mark.parametrize(
        "key",
        [GroupKey("sheet", 3, Decimal("1.50"), None), GroupKey("tube", 7, None, 12), GroupKey("sheet", 1, None, None)],
    )
    def test_it_reads_back(self, key):
        assert key_from_slug(key.slug) == key

    @pytest.mark.parametrize(
        "slug",
        [
            "",
            "sheet",
            "sheet-1",
            "plate-1-2-",
            "sheet-x-2-",
            "sheet-1-thin-",
            "tube-1--x",
            "sheet-1-2-3-4",
            "sheet-1-NaN0-",
        ],
    )
    def test_what_is_none_is_a_value_error(self, slug):
        with pytest.raises(ValueError):  # noqa: PT011 - the message is the slug
            key_from_slug(slug)


class TestFreeStock:
    def test_remnants_come_first_then_the_smallest(self, shop):
        large, small = shop.sheets(length_mm=2000), shop.sheets(length_mm=500)
        remnant = shop.sheets(is_remnant=True, length_mm=800)
        assert free_stock(key_of(shop.line())) == [remnant, small, large]

    def test_what_is_promised_or_used_up_is_not_free_and_what_is_not_counted_always_is(self, shop):
        shop.sheets(on_hand=0)
        shop.sheets(on_hand=2, reserved=2)
        one_left, endless = shop.sheets(on_hand=2, reserved=1), shop.sheets(on_hand=None, reserved=9, length_mm=1500)
        assert free_stock(key_of(shop.line())) == [one_left, endless]

    def test_it_is_of_the_same_material_thickness_and_section(self, shop):
        SheetFactory(material=MaterialFactory())
        shop.sheets(thickness_mm=3)
        shop.bars(section=TubeSectionFactory(wall_mm=4))
        bar, sheet = shop.bars(), shop.sheets()
        assert free_stock(key_of(shop.line())) == [sheet]
        assert free_stock(key_of(shop.tube_line())) == [bar]

    def test_of_many_groups_it_is_found_in_one_query(self, shop, django_assert_num_queries):
        keys = [key_of(shop.line()), key_of(shop.tube_line()), key_of(shop.line(thickness_mm="3"))]
        shop.sheets()
        shop.bars()
        shop.sheets(on_hand=0)
        with django_assert_num_queries(1):
            found = stock_by_group(keys)
        assert {key: [i.kind for i in items] for key, items in found.items()} == {keys[0]: ["sheet"], keys[1]: ["tube"]}
        assert StockItem.objects.count() == 3


def test_waiting_work_is_found_in_one_query(shop, django_assert_num_queries):
    for _ in range(3):
        shop.line()
    with django_assert_num_queries(1):
        groups = waiting_groups()
        assert [(g.title, g.orders, g.amount) for g in groups]

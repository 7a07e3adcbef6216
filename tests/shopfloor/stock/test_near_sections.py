from decimal import Decimal

import pytest

from shopfloor.stock.near_sections import may_take, near_sections
from tests.factories.stock import BarFactory, TubeSectionFactory

pytestmark = pytest.mark.django_db


def square(wall="3", corner="6", side="40", **more):
    measures = {"height_mm": Decimal(side), "width_mm": Decimal(side), "wall_mm": Decimal(wall)}
    return TubeSectionFactory(**measures, corner_radius_mm=Decimal(corner), **more)


def offered(drawn):
    near = near_sections([drawn]).get(drawn.pk)
    return near and (near.section, near.words)


def test_a_section_in_stock_of_much_the_same_size_is_offered_with_the_difference():
    drawn, stocked = square("2.6", "5.2"), square("3", "6", standard="EN 10219-2")
    BarFactory(section=stocked)
    words = "a wall of 2.6 mm instead of 3 mm and an outer corner radius of 5.2 mm instead of 6 mm"
    assert offered(drawn) == (stocked, words)
    assert near_sections([drawn])[drawn.pk].name == "square 40 x 40 x 3 (EN 10219-2)"


def test_hot_finished_tube_is_offered_where_cold_formed_was_drawn():
    # Source: EN 10219-2 and EN 10210-2, outer corners of 2 T and 1.5 T.
    cold, hot = square("4", "8", "60"), square("4", "6", "60", standard="EN 10210-2")
    BarFactory(section=hot)
    assert offered(cold) == (hot, "an outer corner radius of 8 mm instead of 6 mm")


def test_what_lies_in_the_rack_itself_is_not_replaced():
    drawn, other = square("3"), square("3.2")
    BarFactory(section=drawn)
    BarFactory(section=other)
    assert offered(drawn) is None


def test_a_near_section_that_is_used_up_is_not_offered_and_one_not_counted_is():
    drawn, near = square("3"), square("3.2")
    bar = BarFactory(section=near, on_hand=0)
    assert offered(drawn) is None
    bar.on_hand = None
    bar.save()
    assert offered(drawn)[0] == near


def test_the_nearest_of_several_is_offered():
    drawn = square("3")
    further, nearer = square("3.4"), square("3.2")
    for section in (further, nearer):
        BarFactory(section=section)
    assert offered(drawn)[0] == nearer


@pytest.mark.parametrize("other", [{"side": "41.1"}, {"wall": "3.6"}, {"shape": "round", "corner": "0"}])
def test_another_size_or_shape_is_not_near(other):
    drawn = square("3")
    section = square(**other)
    BarFactory(section=section)
    assert offered(drawn) is None
    assert not may_take(drawn, section)
    assert may_take(drawn, drawn)


def test_many_drawn_sections_take_one_query(django_assert_num_queries):
    drawn = [square(f"{3 + k / 100}") for k in range(1, 6)]
    BarFactory(section=square("3"))
    with django_assert_num_queries(1):
        assert len(near_sections(drawn)) == 5

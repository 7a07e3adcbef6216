"""With short stock what is due first is laid first, also where one part is wanted on several dates."""

from datetime import date
from decimal import Decimal

import pytest

from nesting import route
from nesting.model.nest import Placement, SheetLayout, SheetNest, Unplaced
from shopfloor.planning.due_apart import DueApart
from shopfloor.planning.job import demands_of, job_of, shares_of
from shopfloor.planning.run import run
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.parts import sheet_part
from tests.factories.stock import CuttingRuleFactory
from tests.ledger import assert_all_agrees
from tests.shopfloor.conftest import Shop

pytestmark = pytest.mark.django_db

MONDAY, TUESDAY, LATER = date(2026, 12, 7), date(2026, 12, 8), date(2027, 1, 15)


def due(day):
    return ConfirmedOrderFactory(due_on=day)


def apart_of(nest):
    demands = demands_of(nest)
    return DueApart(job_of(nest, demands), shares_of(nest, demands))


@pytest.fixture
def three_lines(shop):
    """A part wanted on Monday and much later, another on Tuesday; a sheet of 330 x 220 takes nine plates."""
    shop.sheets(on_hand=1, length_mm=330, width_mm=220)
    part = sheet_part()
    return shop.line(2, part, due(MONDAY)), shop.line(9, part, due(LATER)), shop.line(5, order=due(TUESDAY))


def test_the_earlier_due_order_is_laid_whole_and_the_later_waits_on(shop):
    # Source: by hand, 3 x 3 plates of 100 x 60 with gaps of 5 and margins of 10 need 330 x 210.
    shop.sheets(on_hand=1, length_mm=330, width_mm=220)
    late, soon = shop.line(6, order=due(LATER)), shop.line(7, order=due(MONDAY))
    nest = shop.ready_nest(late)
    for line in (late, soon):
        line.refresh_from_db()
    assert (soon.nested_count, soon.open_count) == (7, 0)
    assert (late.nested_count, late.open_count) == (2, 4)
    assert nest.unplaced == [{"part": late.part.name, "count": 4, "reason": "No stock that fits is left."}]
    assert_all_agrees()


def test_pieces_due_late_do_not_go_first_because_others_of_their_part_are_due(shop, three_lines):
    monday, later, tuesday = three_lines
    nest = shop.ready_nest(monday)
    for line in three_lines:
        line.refresh_from_db()
    assert [line.nested_count for line in (monday, tuesday, later)] == [2, 5, 2]
    assert {d.part.name: (d.count, d.due) for d in nest.noun.job.demands} == {
        monday.part.name: (11, MONDAY),
        tuesday.part.name: (5, TUESDAY),
    }
    assert [(row["part"], row["count"]) for row in nest.unplaced] == [(monday.part.name, 7)]
    assert route.check_nest(nest.noun) == ()
    assert_all_agrees()


@pytest.mark.slow
def test_so_it_is_with_the_engines(people):
    shop = Shop(people)
    shop.sheets(on_hand=1, length_mm=330, width_mm=220)
    part = sheet_part()
    lines = [shop.line(2, part, due(MONDAY)), shop.line(9, part, due(LATER)), shop.line(5, order=due(TUESDAY))]
    nest = shop.ask(lines[0])
    apart = apart_of(nest)
    answer = apart.joined(route.lay_out(apart.job, budget=2.0))
    assert route.check_nest(answer) == ()
    laid = [p.part for layout in answer.layouts for p in layout.placements]
    assert (laid.count(part.name), laid.count(lines[2].part.name)) == (4, 5)


def test_each_date_is_a_part_of_its_own_to_the_engine(shop, three_lines):
    job = apart_of(shop.ask(three_lines[0])).job
    name = three_lines[0].part.name
    assert [(d.part.name, d.count, d.due) for d in job.demands] == [
        (f"{name}, due 2026-12-07", 2, MONDAY),
        (f"{name}, due 2027-01-15", 9, LATER),
        (three_lines[2].part.name, 5, TUESDAY),
    ]


@pytest.mark.parametrize("on_hand", [None, 20])
def test_where_stock_is_ample_one_part_stays_one(shop, three_lines, on_hand):
    shop.sheets(on_hand=on_hand)
    job = apart_of(shop.ask(three_lines[0])).job
    assert [(d.count, d.due) for d in job.demands] == [(11, MONDAY), (5, TUESDAY)]


def test_where_few_kinds_may_lie_on_a_sheet_one_part_stays_one(shop, three_lines):
    CuttingRuleFactory(material=shop.material, thickness_mm=Decimal(2), most_kinds=1)
    job = apart_of(shop.ask(three_lines[0])).job
    assert [d.count for d in job.demands] == [11, 5]


def test_sheets_that_are_alike_again_are_one_with_copies(shop, three_lines):
    nest = shop.ask(three_lines[0])
    apart = apart_of(nest)
    (stock,) = apart.job.stock
    first, second, _ = (demand.part.name for demand in apart.job.demands)
    layouts = tuple(SheetLayout(stock.name, (Placement(name, 10, 10),)) for name in (first, second, second))
    rest = (Unplaced(first, 1, "no room"), Unplaced(second, 7, "no room"))
    joined = apart.joined(SheetNest(apart.job, layouts, rest))
    name = three_lines[0].part.name
    assert joined.layouts == (SheetLayout(stock.name, (Placement(name, 10, 10),), 3),)
    assert joined.unplaced == (Unplaced(name, 8, "no room"),)


def test_a_piece_that_fills_room_takes_the_place_of_a_wanted_one_that_was_left_out(shop):
    """Alike as they are, the one that lies there is then the wanted one."""
    shop.sheets(on_hand=1, length_mm=330, width_mm=220)
    part = sheet_part()
    monday, later = shop.line(6, part, due(MONDAY)), shop.line(9, part, due(LATER))
    nest = shop.ask(monday, only={monday.pk: 6}, fill={later.pk: 9})
    apart = apart_of(nest)
    first, second = (demand.part.name for demand in apart.job.demands)
    placements = [Placement(first, 10 + 105 * k, 10) for k in range(3)]
    placements += [Placement(second, 10 + 105 * k, 75) for k in range(3)]
    layout = SheetLayout(apart.job.stock[0].name, tuple(placements))
    joined = apart.joined(SheetNest(apart.job, (layout,), (Unplaced(first, 3, "no room"),)))
    assert joined.unplaced == ()
    assert [(d.count, d.fill_up_to) for d in joined.job.demands] == [(6, 15)]
    assert route.check_nest(joined) == ()


def test_a_nest_that_is_laid_out_tells_of_its_own_names(shop, three_lines, monkeypatch):
    shown = []
    monkeypatch.setattr("shopfloor.planning.follow.Following.show", lambda _, best: shown.append(best))
    run(shop.ask(three_lines[0]).pk)
    names = {three_lines[0].part.name, three_lines[2].part.name}
    assert [{d.part.name for d in best.job.demands} for best in shown] == [names]

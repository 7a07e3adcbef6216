"""Pages, order, and that a longer list takes no more queries than a short one."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shopfloor.floor.inspection import all_good, inspect
from shopfloor.floor.mark import break_out, mark_cut
from shopfloor.floor.pull import pull
from shopfloor.stock.correct import correct_item
from tests.factories.orders import CustomerFactory, OrderFactory, line_of
from tests.factories.parts import DrawingFactory, part_row, plate, sheet_part, tube_part
from tests.factories.stock import CuttingRuleFactory, MachineFactory, MaterialFactory, TubeSectionFactory

LISTS = {
    "/customers/",
    "/orders/",
    "/order-files/",
    "/order-lines/",
    "/line-events/",
    "/drawings/",
    "/parts/",
    "/materials/",
    "/sections/",
    "/machines/",
    "/cutting-rules/",
    "/stock/",
    "/groups/",
    "/nests/",
    "/layouts/",
    "/loads/",
    "/floor-events/",
}


def grow(shop):
    """One more of everything: an order waiting, another one cut and inspected, and what they need."""
    CuttingRuleFactory(material=MaterialFactory())
    machine = MachineFactory()
    machine.materials.add(MaterialFactory(), MaterialFactory())
    TubeSectionFactory(width_mm=20 + TubeSectionFactory._meta.model.objects.count() / 100)
    item = shop.sheets(on_hand=1)
    correct_item(item, {"place": "Rack"}, by=shop.people.office)
    [load] = shop.loads(shop.line(2))
    pull(load, by=shop.people.operator)
    mark_cut(load, by=shop.people.operator)
    break_out(load, by=shop.people.operator)
    inspect(load, all_good(load), by=shop.people.inspector)
    shop.sheets(on_hand=1)
    shop.loads(shop.line(2))
    shop.line(3, thickness_mm="5")
    shop.tube_line(2)


def queries(caller, path, **params):
    with CaptureQueriesContext(connection) as captured:
        answer = caller.get(path, **params)
    assert answer.status_code == 200, answer.content
    return len(captured), answer.json()


def test_the_lists_tested_here_are_all_there_are(operations):
    paths = {path for name, (method, path) in operations.items() if name.endswith("_list") and "/1/" not in path}
    assert paths == LISTS


@pytest.mark.slow
def test_a_longer_list_takes_no_more_queries(office, shop):
    grow(shop)
    short = {path: queries(office, path) for path in sorted(LISTS)}
    queue = queries(office, f"/queues/{shop.machine.pk}/")
    for _ in range(3):
        grow(shop)
    for path in sorted(LISTS):
        count, body = queries(office, path)
        assert body["count"] > short[path][1]["count"] or path == "/groups/", path
        assert count == short[path][0], path
    longer = queries(office, f"/queues/{shop.machine.pk}/")
    assert longer[1]["count"] > queue[1]["count"]
    assert longer[0] == queue[0]


def test_more_waiting_lines_take_no_more_queries(office, shop):
    shop.line(1)
    shop.sheets()
    few, body = queries(office, "/groups/")
    for thickness in ("1", "2", "2", "3"):
        shop.line(1, thickness_mm=thickness)
        shop.sheets(thickness_mm=thickness)
    many, longer = queries(office, "/groups/")
    assert (body["count"], longer["count"]) == (1, 3)
    assert many == few


def test_an_order_of_many_lines_takes_no_more_queries(office):
    order = OrderFactory()
    line_of(order)
    few, _ = queries(office, f"/orders/{order.pk}/")
    for part in (sheet_part(), tube_part(), sheet_part()):
        line_of(order, part)
    many, body = queries(office, f"/orders/{order.pk}/")
    assert len(body["lines"]) == len(body["files"]) == 4
    assert many == few


def test_a_drawing_of_many_parts_takes_no_more_queries(office):
    drawing = DrawingFactory()
    part_row(plate("a"), drawing)
    few, _ = queries(office, f"/drawings/{drawing.pk}/")
    for position in (2, 3, 4):
        part_row(plate(f"part {position}"), drawing, position)
    many, body = queries(office, f"/drawings/{drawing.pk}/")
    assert len(body["parts"]) == body["part_count"] == 4
    assert many == few


def test_a_load_and_a_nest_of_many_orders_take_no_more_queries(office, shop):
    shop.sheets(on_hand=2)
    [small] = shop.loads(shop.line(1))
    for _ in range(4):
        line = shop.line(2)
    [large] = shop.loads(line)
    for path, one, many in (
        ("loads", small.pk, large.pk),
        ("nests", small.layout.nest_id, large.layout.nest_id),
    ):
        assert queries(office, f"/{path}/{one}/")[0] == queries(office, f"/{path}/{many}/")[0], path
    assert len(office.get(f"/loads/{large.pk}/").json()["workpieces"]) == 8
    assert len(office.get(f"/nests/{large.layout.nest_id}/").json()["demands"]) == 4


class TestPages:
    @pytest.fixture(autouse=True)
    def customers(self, db):
        return [CustomerFactory(name=f"Customer {n:03d}") for n in range(120)]

    def test_a_page_has_fifty_rows_unless_said_otherwise(self, office):
        body = office.get("/customers/").json()
        assert (body["count"], len(body["results"]), body["previous"]) == (120, 50, None)
        assert "offset=50" in body["next"]
        assert len(office.rows("/customers/", limit=7)) == 7

    def test_a_page_has_two_hundred_rows_at_most(self, office, settings):
        for n in range(120, 210):
            CustomerFactory(name=f"Customer {n:03d}")
        assert len(office.rows("/customers/", limit=10**30)) == 200

    def test_the_pages_together_are_the_list(self, office):
        names = [row["name"] for offset in (0, 50, 100) for row in office.rows("/customers/", offset=offset)]
        assert names == [f"Customer {n:03d}" for n in range(120)]

    def test_behind_the_last_page_there_is_nothing(self, office):
        assert office.rows("/customers/", offset=10**30) == []


def test_equal_rows_are_on_one_page_each(office):
    orders = [OrderFactory(due_on="2030-05-01").pk for _ in range(6)]
    pages = [[row["id"] for row in office.rows("/orders/", ordering="-state", limit=2, offset=n)] for n in (0, 2, 4)]
    assert [pk for page in pages for pk in page] == orders


def test_a_list_is_ordered_by_what_is_offered_alone(office):
    first, second = OrderFactory(due_on="2030-05-01"), OrderFactory(due_on="2030-04-01")
    assert [row["id"] for row in office.rows("/orders/", ordering="-due_on")] == [first.pk, second.pk]
    # What is not offered is passed over, so nobody can order by what they may not see.
    assert [row["id"] for row in office.rows("/orders/", ordering="customer__note")] == [second.pk, first.pk]

import uuid

import pytest

from shopfloor.stock.models import StockEvent, StockItem
from shopfloor.stock.reserve import reserve
from tests.factories.stock import BarFactory, MaterialFactory, SheetFactory, TubeSectionFactory


@pytest.fixture
def sheet():
    material = MaterialFactory(name="S235", density_kg_m3=7850)
    return {"kind": "sheet", "material": material.pk, "thickness_mm": 3, "length_mm": 2500, "width_mm": 1250}


@pytest.fixture
def bar():
    section = TubeSectionFactory()
    return {"kind": "tube", "material": MaterialFactory().pk, "section": section.pk, "length_mm": 6000}


def test_sheets_are_entered_with_heat_number_and_place(operator, people, sheet):
    answer = operator.post("/stock/", {**sheet, "on_hand": 4, "heat_no": "H77", "place": "Rack 2"})
    assert answer.status_code == 201
    body = answer.json()
    assert (body["on_hand"], body["reserved"], body["free"], body["heat_no"]) == (4, 0, 4, "H77")
    # Source: by hand, 2.5 m x 1.25 m x 0.003 m x 7850 kg/m3
    assert body["mass_kg"] == pytest.approx(73.59375)
    event = StockEvent.objects.get()
    assert (event.verb, event.actor) == ("enter", people.operator)


def test_a_bar_is_entered_by_its_section(operator, bar):
    body = operator.post("/stock/", {**bar, "on_hand": None}).json()
    assert (body["free"], body["thickness_mm"], body["section_name"]) == (None, None, str(TubeSectionFactory()))


def test_stock_sent_twice_is_one_entry(operator, sheet, key):
    first = operator.post("/stock/", {**sheet, "key": key})
    again = operator.post("/stock/", {**sheet, "key": key})
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["id"] == again.json()["id"]
    assert StockItem.objects.count() == 1
    # The same sheet with another key is another delivery.
    assert operator.post("/stock/", {**sheet, "key": str(uuid.uuid4())}).status_code == 201


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"thickness_mm": None}, "thickness_mm"),
        ({"width_mm": 0}, "width_mm"),
        ({"length_mm": -5}, "length_mm"),
        ({"length_mm": None}, "length_mm"),
        ({"material": 10**30}, "material"),
        ({"material": "S235"}, "material"),
        ({"kind": "plate"}, "kind"),
        ({"on_hand": -1}, "on_hand"),
        ({"on_hand": 10**9}, "on_hand"),
        ({"on_hand": 2.5}, "on_hand"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_by_its_field(operator, refused, sheet, change, field):
    refused(operator.post("/stock/", {**sheet, **change}), 400, "bad-input", field)
    assert not StockItem.objects.exists()


def test_a_bar_has_a_section_and_a_sheet_has_none(operator, refused, sheet, bar):
    refused(operator.post("/stock/", {**bar, "section": None}), 400, "bad-input", "section")
    refused(operator.post("/stock/", {**bar, "width_mm": 40}), 400, "bad-input", "width_mm")
    refused(operator.post("/stock/", {**sheet, "section": bar["section"]}), 400, "bad-input", "section")


def test_a_count_is_corrected_once_for_its_key(operator, key):
    item = SheetFactory(on_hand=5)
    for _ in range(2):
        assert operator.patch(f"/stock/{item.pk}/", {"on_hand": 4, "key": key}).json()["on_hand"] == 4
    [event] = operator.rows(f"/stock/{item.pk}/history/")
    assert (event["verb"], event["why"]) == ("correct", "on_hand 5 → 4")
    # Counted again since: the late repeat must not bring the old count back.
    operator.patch(f"/stock/{item.pk}/", {"on_hand": 3})
    assert operator.patch(f"/stock/{item.pk}/", {"on_hand": 4, "key": key}).json()["on_hand"] == 3


def test_a_count_below_what_nests_were_promised_is_refused(operator, refused):
    item = SheetFactory(on_hand=5)
    reserve({item.pk: 2})
    refused(operator.patch(f"/stock/{item.pk}/", {"on_hand": 1}), 400, "bad-input", "on_hand")
    assert operator.patch(f"/stock/{item.pk}/", {"on_hand": 2}).json()["free"] == 0


def test_measures_stay_while_a_nest_relies_on_them(operator, refused):
    item = SheetFactory(on_hand=5)
    reserve({item.pk: 1})
    refused(operator.patch(f"/stock/{item.pk}/", {"length_mm": 900}), 409, "stock-promised")
    assert operator.patch(f"/stock/{item.pk}/", {"place": "Rack 9"}).json()["place"] == "Rack 9"


def test_what_nests_book_cannot_be_set_by_hand(operator):
    item = SheetFactory(on_hand=5)
    body = operator.patch(f"/stock/{item.pk}/", {"reserved": 3, "came_from": "nowhere"}).json()
    assert (body["reserved"], body["came_from"]) == (0, "")


def test_stock_is_found_by_what_it_is(operator):
    thin = SheetFactory(thickness_mm=2, on_hand=1, heat_no="H1")
    thick = SheetFactory(thickness_mm=8, on_hand=2, is_remnant=True)
    bar = BarFactory(on_hand=None)
    reserve({thin.pk: 1})

    def found(**params):
        return {row["id"] for row in operator.rows("/stock/", **params)}

    assert found() == {thin.pk, thick.pk, bar.pk}
    assert found(kind="tube") == {bar.pk}
    assert found(thickness_mm="8.00") == {thick.pk}
    assert found(is_remnant="true") == {thick.pk}
    assert found(material=thin.material_id) == {thin.pk}
    assert found(section=bar.section_id) == {bar.pk}
    assert found(has_free="true") == {thick.pk, bar.pk}
    assert found(has_free="false") == {thin.pk}
    assert found(heat_no="h1") == {thin.pk}

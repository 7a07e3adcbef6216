"""Stock pages: the racks, corrections, and the tables that are set up once."""

from uuid import uuid4

import pytest
from django.urls import reverse

from shopfloor.stock.models import CuttingRule, Machine, Material, StockItem, TubeSection
from tests.factories.stock import BarFactory, CuttingRuleFactory, MaterialFactory, SheetFactory, TubeSectionFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(client, people):
    client.force_login(people.office)
    return client


@pytest.fixture
def manager(client, people):
    client.force_login(people.manager)
    return client


def url(name, *args):
    return reverse(f"stock:{name}", args=args)


def sheet(steel, /, **fields):
    stated = {
        "kind": "sheet",
        "material": steel.pk,
        "thickness_mm": "3",
        "length_mm": "2500",
        "width_mm": "1250",
        "on_hand": "4",
        "heat_no": "H1",
        "place": "rack 2",
        "key": uuid4(),
    }
    return {name: value for name, value in (stated | fields).items() if value is not None}


def test_a_sheet_is_entered(office):
    office.post(url("item-new"), sheet(MaterialFactory()))
    item = StockItem.objects.get()
    assert (item.on_hand, item.heat_no, float(item.length_mm)) == (4, "H1", 2500.0)


def test_a_sheet_entered_twice_by_one_lost_answer_is_there_once(office):
    sent = sheet(MaterialFactory())
    for _ in range(2):
        office.post(url("item-new"), sent)
    assert StockItem.objects.count() == 1


def test_a_bar_needs_no_thickness_and_keeps_its_section(office):
    section = TubeSectionFactory()
    sent = sheet(MaterialFactory(), kind="tube", section=section.pk, length_mm="6000", width_mm="9", thickness_mm="9")
    office.post(url("item-new"), sent)
    item = StockItem.objects.get()
    assert (item.section, item.thickness_mm, item.width_mm) == (section, None, None)


def test_stock_that_is_not_counted_never_runs_out(office):
    office.post(url("item-new"), sheet(MaterialFactory(), on_hand=None, not_counted="on"))
    assert StockItem.objects.get().free is None


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("length_mm", "0"),
        ("length_mm", "-5"),
        ("length_mm", "long"),
        ("width_mm", ""),
        ("on_hand", "-1"),
        ("material", ""),
    ],
)
def test_what_cannot_be_is_said_beside_its_field_and_what_was_typed_is_kept(office, field, value):
    answer = office.post(url("item-new"), sheet(MaterialFactory(), **{field: value}))
    assert answer.status_code == 200
    assert "errorlist" in answer.text
    assert 'value="rack 2"' in answer.text
    assert not StockItem.objects.exists()


def test_a_count_below_what_is_promised_is_refused_in_words(office):
    item = SheetFactory(on_hand=3, reserved=2)
    sent = sheet(item.material, thickness_mm="2", length_mm="1000", width_mm="500", on_hand="1")
    answer = office.post(url("item-edit", item.pk), sent)
    assert "2 of these are promised to nests" in answer.text
    item.refresh_from_db()
    assert item.on_hand == 3


def test_a_correction_is_kept_with_who_made_it(office, people):
    item = SheetFactory(on_hand=3)
    sent = sheet(item.material, thickness_mm="2", length_mm="1000", width_mm="500", on_hand="2")
    office.post(url("item-edit", item.pk), sent)
    item.refresh_from_db()
    assert item.on_hand == 2
    page = office.get(url("item-edit", item.pk)).text
    assert "on_hand 3 → 2" in page
    assert str(people.office) in page


def test_an_inspector_sees_stock_and_cannot_correct_it(client, people):
    client.force_login(people.inspector)
    item = SheetFactory(heat_no="H77")
    page = client.get(url("stock-list")).text
    assert "H77" in page
    assert "Correct" not in page
    assert client.get(url("item-edit", item.pk)).status_code == 403


def test_stock_is_found_by_heat_number(office):
    SheetFactory(heat_no="H77", place="here")
    SheetFactory(heat_no="H88", place="there")
    page = office.get(url("stock-list"), {"q": "h77"}).text
    assert "here" in page
    assert "there" not in page.split("</form>")[-1]


def test_what_is_used_up_shows_only_where_asked_for(office):
    SheetFactory(heat_no="H77", on_hand=0)
    assert "H77" not in office.get(url("stock-list")).text
    assert "H77" in office.get(url("stock-list"), {"empty": "1"}).text


def test_the_stock_list_takes_as_many_queries_for_many_items_as_for_one(office, django_assert_max_num_queries):
    for _ in range(6):
        SheetFactory()
        BarFactory()
    with django_assert_max_num_queries(4):
        office.get(url("stock-list"))


def test_a_manager_sets_up_material_rule_machine_and_section(manager):
    manager.post(url("material-list"), {"name": "DX51", "family": "galvanised", "density_kg_m3": "7850"})
    material = Material.objects.get()
    assert "zinc fume" in manager.get(url("material-list")).text
    rule = {
        "material": material.pk,
        "kind": "sheet",
        "thickness_mm": "1.5",
        "gap_mm": "4",
        "margin_mm": "8",
        "turns": "half",
    }
    manager.post(url("rule-list"), rule)
    assert str(CuttingRule.objects.get().thickness_mm) == "1.50"
    machine = {"name": "Bed", "table_length_mm": "3000", "table_width_mm": "1500", "front_trim_mm": "0", "in_use": "on"}
    manager.post(url("machine-list"), machine)
    assert Machine.objects.get().cuts_sheet
    section = {"shape": "round", "height_mm": "48.3", "width_mm": "48.3", "wall_mm": "3", "corner_radius_mm": "0"}
    manager.post(url("section-list"), section)
    assert str(TubeSection.objects.get()) == "round 48.3 x 3"


def test_a_section_that_cannot_be_is_refused_in_words(manager):
    sent = {"shape": "square", "height_mm": "40", "width_mm": "40", "wall_mm": "20", "corner_radius_mm": "6"}
    answer = manager.post(url("section-list"), sent)
    assert "leaves no inside" in answer.text
    assert not TubeSection.objects.exists()


@pytest.mark.parametrize(
    ("sizes", "said"),
    [
        ({}, "Say what it cuts"),
        ({"table_length_mm": "3000"}, "give both, or none"),
        ({"table_width_mm": "1500"}, "give both, or none"),
        ({"table_length_mm": "0", "table_width_mm": "1500"}, "longer and wider than 0 mm"),
        ({"longest_bar_mm": "6000"}, "how much of the bar"),
        ({"chuck_dead_mm": "250"}, "Give the longest bar too"),
        ({"longest_bar_mm": "200", "chuck_dead_mm": "250"}, "longer than the end"),
        ({"table_length_mm": "3000", "table_width_mm": "1500", "free_left_mm": "-1"}, "greater than or equal to 0"),
        (
            {"table_length_mm": "3000", "table_width_mm": "1500", "free_front_mm": "800", "free_back_mm": "700"},
            "front and back edges leave nothing of the table&#x27;s 1500 mm",
        ),
    ],
)
def test_a_machine_that_cuts_nothing_or_is_half_described_is_refused_in_words(manager, sizes, said):
    answer = manager.post(url("machine-list"), {"name": "Bed", "front_trim_mm": "0", "in_use": "on"} | sizes)
    assert said in answer.text
    assert "Constraint" not in answer.text
    assert not Machine.objects.exists()


@pytest.mark.parametrize("density", ["-5", "0", "7.8", "78500"])
def test_a_density_that_no_metal_has_is_refused_in_words(manager, density):
    answer = manager.post(url("material-list"), {"name": "S235", "family": "mild", "density_kg_m3": density})
    assert "The density is in kg/m³" in answer.text
    assert "Constraint" not in answer.text
    assert not Material.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"gap_mm": "-1"}, "The gap cannot be below 0."),
        ({"margin_mm": "-1"}, "The margin cannot be below 0."),
        ({"thickness_mm": "-1"}, "The thickness must be 0.05 to 100 mm, or empty."),
        ({"thickness_mm": "3"}, "There is a rule for this already."),
        ({"thickness_mm": ""}, "There is a rule for this already."),
    ],
)
def test_a_cutting_rule_that_cannot_be_is_refused_in_words(manager, wrong, said):
    material = MaterialFactory()
    for thickness in (None, 3):
        CuttingRuleFactory(material=material, kind="sheet", thickness_mm=thickness)
    fine = {"material": material.pk, "kind": "sheet", "thickness_mm": "2", "gap_mm": "4", "margin_mm": "8"}
    answer = manager.post(url("rule-list"), fine | {"turns": "half"} | wrong)
    assert said in answer.text
    assert "Constraint" not in answer.text
    assert CuttingRule.objects.count() == 2


@pytest.mark.parametrize("table", ["material", "rule", "machine", "section"])
def test_only_a_manager_sets_up_the_shop(office, table):
    assert office.get(url(f"{table}-list")).status_code == 200
    assert office.post(url(f"{table}-list"), {}).status_code == 403


@pytest.mark.parametrize(("bar", "kept"), [({"longest_bar_mm": "6500", "chuck_dead_mm": "200"}, "right"), ({}, "")])
def test_only_a_machine_for_bars_has_a_side_they_are_loaded_from(manager, bar, kept):
    sent = {"name": "Laser", "table_length_mm": "3000", "table_width_mm": "1500", "front_trim_mm": "0", "in_use": "on"}
    assert manager.post(url("machine-list"), {**sent, **bar, "loading_side": "right"}).status_code == 302
    assert Machine.objects.get().loading_side == kept
    assert ("loaded from the right" in manager.get(url("machine-list")).text) is bool(kept)


@pytest.mark.parametrize(("kind", "kept"), [("tube", "down"), ("sheet", "")])
def test_only_a_rule_for_tube_says_where_the_seam_lies(manager, kind, kept):
    sent = {"material": MaterialFactory().pk, "kind": kind, "gap_mm": "5", "margin_mm": "10", "turns": "quarter"}
    assert manager.post(url("rule-list"), {**sent, "seam_towards": "down"}).status_code == 302
    assert CuttingRule.objects.get().seam_towards == kept


def test_a_machine_says_what_it_keeps_free_at_the_edges_of_a_sheet(manager):
    sent = {"name": "Bed", "table_length_mm": "3000", "table_width_mm": "1500", "front_trim_mm": "0", "in_use": "on"}
    assert manager.post(url("machine-list"), {**sent, "free_left_mm": "60", "free_back_mm": ""}).status_code == 302
    machine = Machine.objects.get()
    assert machine.kept_free == [("left", 60)]
    assert "kept free: left 60" in manager.get(url("machine-list")).text
    form = manager.get(url("machine-edit", machine.pk)).text
    assert "Kept free left, mm" in form


def test_a_machine_without_a_table_keeps_no_edge_free(manager):
    sent = {"name": "Tube laser", "longest_bar_mm": "6500", "chuck_dead_mm": "200", "front_trim_mm": "0"}
    assert manager.post(url("machine-list"), {**sent, "free_left_mm": "60"}).status_code == 302
    assert Machine.objects.get().kept_free == []


@pytest.mark.parametrize(("kind", "kept"), [("sheet", 3), ("tube", None)])
def test_only_a_rule_for_sheet_says_how_many_different_parts_lie_on_one(manager, kind, kept):
    sent = {"material": MaterialFactory().pk, "kind": kind, "gap_mm": "5", "margin_mm": "10", "turns": "quarter"}
    assert manager.post(url("rule-list"), {**sent, "most_kinds": "3"}).status_code == 302
    assert CuttingRule.objects.get().most_kinds == kept


def test_a_sheet_for_no_part_at_all_is_refused(manager):
    sent = {"material": MaterialFactory().pk, "kind": "sheet", "gap_mm": "5", "margin_mm": "10", "turns": "quarter"}
    answer = manager.post(url("rule-list"), {**sent, "most_kinds": "0"})
    assert "greater than or equal to 1" in answer.text
    assert not CuttingRule.objects.exists()

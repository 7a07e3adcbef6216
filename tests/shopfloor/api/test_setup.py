"""Materials, sections, machines and rules; and with them what `entries` does for everything that has a name."""

import pytest

from shopfloor.stock.models import CuttingRule, Machine, Material, TubeSection
from tests.factories.stock import CuttingRuleFactory, MachineFactory, MaterialFactory, TubeSectionFactory

SECTION = {"shape": "round", "height_mm": 42.4, "width_mm": 42.4, "wall_mm": 2.6}
CHUCK = {"name": "Tube laser", "longest_bar_mm": 6500, "chuck_dead_mm": 200}


def test_a_material_is_entered_with_the_cautions_of_its_family(manager):
    answer = manager.post("/materials/", {"name": "DX51D", "family": "galvanised", "own_caution": "Wipe the oil off."})
    assert answer.status_code == 201
    material = Material.objects.get(name="DX51D")
    assert answer.json()["cautions"] == material.cautions
    assert any("zinc" in caution.lower() for caution in answer.json()["cautions"])
    assert answer.json()["cautions"][-1] == "Wipe the oil off."


def test_a_section_is_entered_and_named_by_its_measures(manager):
    answer = manager.post("/sections/", SECTION)
    assert answer.status_code == 201
    assert answer.json()["name"] == str(TubeSection.objects.get())
    assert answer.json()["wall_mm"] == 2.6


def test_a_machine_is_entered_with_the_materials_it_takes(manager):
    steel = MaterialFactory()
    answer = manager.post("/machines/", {**CHUCK, "materials": [steel.pk]})
    assert answer.status_code == 201
    assert answer.json()["materials"] == [steel.pk]
    assert Machine.objects.get().cuts_tube


def test_a_machine_says_what_it_keeps_free_for_clamps(manager, refused):
    bed = {"name": "Bed", "table_length_mm": 3000, "table_width_mm": 1500, "free_left_mm": 60}
    answer = manager.post("/machines/", bed)
    assert answer.status_code == 201
    assert (answer.json()["free_left_mm"], answer.json()["free_back_mm"]) == (60, 0)
    place = f"/machines/{answer.json()['id']}/"
    assert manager.patch(place, {"free_right_mm": 2940}).status_code == 400
    assert manager.patch(place, {"free_right_mm": 2939}).json()["free_right_mm"] == 2939
    # Strips belong to a table.
    assert manager.post("/machines/", {**CHUCK, "free_back_mm": 20}).status_code == 400


def test_a_rule_says_how_many_different_parts_lie_on_a_sheet(manager):
    steel = MaterialFactory()
    answer = manager.post("/cutting-rules/", {"material": steel.pk, "most_kinds": 2})
    assert (answer.status_code, answer.json()["most_kinds"]) == (201, 2)
    assert manager.patch(f"/cutting-rules/{answer.json()['id']}/", {"most_kinds": 0}).status_code == 400


def test_a_rule_is_entered_for_all_other_thicknesses(manager):
    steel = MaterialFactory()
    answer = manager.post("/cutting-rules/", {"material": steel.pk, "gap_mm": 8, "settings_note": "Nozzle 1.5"})
    assert answer.status_code == 201
    rule = CuttingRule.objects.get()
    assert (rule.thickness_mm, rule.gap_mm, rule.kind, rule.settings_note) == (None, 8, "sheet", "Nozzle 1.5")


@pytest.mark.parametrize(
    ("path", "body", "model"),
    [
        ("/materials/", {"name": "S235"}, Material),
        ("/sections/", SECTION, TubeSection),
        ("/machines/", CHUCK, Machine),
    ],
)
def test_an_entry_sent_twice_counts_once(manager, refused, key, path, body, model):
    first = manager.post(path, {**body, "key": key})
    again = manager.post(path, {**body, "key": key})
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert model.objects.count() == 1
    # Without a key nobody can know that it is the same request.
    assert manager.post(path, body).status_code == 400


def test_a_rule_sent_twice_counts_once(manager, key):
    body = {"material": MaterialFactory().pk, "key": key}
    assert [manager.post("/cutting-rules/", body).status_code for _ in range(2)] == [201, 200]
    assert CuttingRule.objects.count() == 1


def test_a_machine_sent_twice_counts_once_with_its_materials(manager, key):
    body = {**CHUCK, "materials": [MaterialFactory().pk, MaterialFactory().pk], "key": key}
    assert [manager.post("/machines/", body).status_code for _ in range(2)] == [201, 200]


def test_another_entry_of_the_same_name_is_refused(manager, refused, key):
    manager.post("/materials/", {"name": "S235", "key": key})
    refused(manager.post("/materials/", {"name": "S235", "grade": "J2", "key": key}), 400, "bad-input", "name")
    assert Material.objects.get().grade == ""


def test_a_name_that_another_has_cannot_be_taken(manager, refused):
    MaterialFactory(name="S235")
    other = MaterialFactory(name="S355")
    refused(manager.patch(f"/materials/{other.pk}/", {"name": "S235"}), 400, "bad-input", "name")


def test_what_is_not_said_stays_as_it_is(manager):
    material = MaterialFactory(name="S235", grade="JR")
    answer = manager.patch(f"/materials/{material.pk}/", {"own_caution": "Oily."})
    assert answer.status_code == 200
    material.refresh_from_db()
    assert (material.name, material.grade, material.own_caution) == ("S235", "JR", "Oily.")


def test_a_machine_is_put_out_of_use(manager):
    machine = MachineFactory()
    assert manager.patch(f"/machines/{machine.pk}/", {"in_use": False}).json()["in_use"] is False
    assert [row["id"] for row in manager.rows("/machines/", in_use="true")] == []


def test_a_rule_can_be_removed(manager, refused):
    rule = CuttingRuleFactory()
    assert manager.delete(f"/cutting-rules/{rule.pk}/").status_code == 204
    refused(manager.delete(f"/cutting-rules/{rule.pk}/"), 404, "not-found")


@pytest.mark.parametrize(
    ("path", "body", "words"),
    [
        ("/materials/", {"name": "Air", "density_kg_m3": 0}, "density above zero"),
        ("/machines/", {"name": "Half a table", "table_length_mm": 3000}, "a table has length and width"),
        ("/machines/", {"name": "No end", "longest_bar_mm": 6000}, "a chuck has bar length and dead end"),
        ("/sections/", {**SECTION, "wall_mm": 0}, "height, width and wall must be above 0"),
        ("/sections/", {**SECTION, "wall_mm": 30}, "a wall of 30.0 mm leaves no inside"),
        ("/sections/", {**SECTION, "height_mm": 20}, "Height and width of round and square tube are the same"),
        ("/sections/", {**SECTION, "shape": "rectangular", "height_mm": 20}, "swap height and width"),
    ],
)
def test_what_a_table_must_hold_is_said_in_words(manager, refused, path, body, words):
    assert words in refused(manager.post(path, body), 400, "bad-input")["message"]


def test_a_correction_that_breaks_what_must_hold_is_refused(manager, refused):
    machine = MachineFactory()
    refused(manager.patch(f"/machines/{machine.pk}/", {"table_width_mm": None}), 400, "bad-input")
    machine.refresh_from_db()
    assert machine.table_width_mm == 1500


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "name"),
        ({"name": ""}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"name": "a\0b"}, "name"),
        ({"name": "\ud800"}, "name"),
        ({"name": "S235", "family": "wood"}, "family"),
        ({"name": "S235", "density_kg_m3": "heavy"}, "density_kg_m3"),
        ({"name": "S235", "density_kg_m3": "1e400"}, "density_kg_m3"),
        ({"name": "S235", "key": "seven"}, "key"),
    ],
)
def test_a_value_that_cannot_be_is_named(manager, refused, body, field):
    refused(manager.post("/materials/", body), 400, "bad-input", field)
    assert not Material.objects.exists()


def test_filters_of_the_setup(manager):
    MaterialFactory(name="A", family="copper")
    MaterialFactory(name="B")
    TubeSectionFactory()
    rule = CuttingRuleFactory(kind="tube")
    assert [row["name"] for row in manager.rows("/materials/", family="copper")] == ["A"]
    assert manager.rows("/sections/", shape="round") == []
    assert len(manager.rows("/sections/", shape="square")) == 1
    assert [row["id"] for row in manager.rows("/cutting-rules/", material=rule.material_id)] == [rule.pk]
    assert manager.rows("/cutting-rules/", kind="sheet") == []

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from nesting.geometry.contour import Contour
from nesting.records.parts import path_to_record
from shopfloor.stock.models import Kind
from tests.factories.stock import (
    BarFactory,
    CuttingRuleFactory,
    MachineFactory,
    MaterialFactory,
    SheetFactory,
    TubeMachineFactory,
    TubeSectionFactory,
)

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("name", "build"),
    [
        ("density_above_zero", lambda: MaterialFactory(density_kg_m3=0)),
        ("section_measures_above_zero", lambda: TubeSectionFactory(wall_mm=0)),
        ("section_height_is_longer_side", lambda: TubeSectionFactory(height_mm=30, width_mm=40)),
        ("gap_and_margin_not_negative", lambda: CuttingRuleFactory(gap_mm=-1)),
        ("gap_and_margin_not_negative", lambda: CuttingRuleFactory(margin_mm=-1)),
        ("a_table_has_length_and_width", lambda: MachineFactory(table_width_mm=None)),
        ("a_chuck_has_bar_length_and_dead_end", lambda: TubeMachineFactory(chuck_dead_mm=None)),
        ("a_chuck_has_bar_length_and_dead_end", lambda: TubeMachineFactory(longest_bar_mm=None)),
        ("a_chuck_has_bar_length_and_dead_end", lambda: TubeMachineFactory(chuck_dead_mm=6500)),
        ("reserved_le_on_hand", lambda: SheetFactory(on_hand=1, reserved=2)),
        ("a_sheet_has_thickness_and_width_a_bar_has_section", lambda: SheetFactory(thickness_mm=None)),
        ("a_sheet_has_thickness_and_width_a_bar_has_section", lambda: SheetFactory(width_mm=None)),
        ("a_sheet_has_thickness_and_width_a_bar_has_section", lambda: SheetFactory(section=TubeSectionFactory())),
        ("a_sheet_has_thickness_and_width_a_bar_has_section", lambda: BarFactory(section=None)),
        ("a_sheet_has_thickness_and_width_a_bar_has_section", lambda: BarFactory(width_mm=100)),
        ("stock_length_above_zero", lambda: SheetFactory(length_mm=0)),
    ],
)
def test_the_table_refuses_what_cannot_be(name, build):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        build()


def test_there_is_one_rule_a_material_kind_and_thickness():
    rule = CuttingRuleFactory(thickness_mm=Decimal(3))
    CuttingRuleFactory(material=rule.material, thickness_mm=Decimal(3), kind=Kind.TUBE)
    with pytest.raises(IntegrityError), transaction.atomic():
        CuttingRuleFactory(material=rule.material, thickness_mm=Decimal(3))


def test_there_is_one_rule_for_all_other_thicknesses():
    rule = CuttingRuleFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        CuttingRuleFactory(material=rule.material)


def test_a_machine_says_what_it_cuts():
    assert (MachineFactory().cuts_sheet, MachineFactory().cuts_tube) == (True, False)
    assert (TubeMachineFactory().cuts_sheet, TubeMachineFactory().cuts_tube) == (False, True)


@pytest.mark.parametrize(
    ("length", "width", "thickness", "mass"),
    [(2000, 1000, 1, 15.70), (2500, 1250, 2, 49.06), (3000, 1500, 3, 105.98)],
)
def test_the_mass_of_a_sheet(length, width, thickness, mass):
    # Source: by hand, length × width × thickness × 7850 kg/m³ (structural steel, EN 10219-2 annex).
    sheet = SheetFactory(length_mm=length, width_mm=width, thickness_mm=thickness)
    assert sheet.mass_kg == pytest.approx(mass, abs=0.006)


def test_the_mass_of_a_remnant_is_that_of_its_outline():
    # Source: by hand, an L of 600 × 400 less 300 × 200 makes 180 000 mm²; × 2 mm × 7850 kg/m³ = 2.826 kg.
    shape = Contour(((0, 0, 0), (600, 0, 0), (600, 200, 0), (300, 200, 0), (300, 400, 0), (0, 400, 0)))
    remnant = SheetFactory(length_mm=600, width_mm=400, outline=path_to_record(shape))
    assert remnant.mass_kg == pytest.approx(2.826)


def test_the_mass_of_a_bar():
    # Source: printed table of BS EN 10219:1997, square cold formed 40 x 40 x 3: 3.30 kg/m.
    assert BarFactory(length_mm=6000).mass_kg == pytest.approx(6 * 3.30, rel=0.005)


def test_stock_and_rules_say_what_they_are():
    steel = MaterialFactory(name="S235")
    assert str(SheetFactory(material=steel)) == "S235 2.0 mm, 1000 x 500"
    assert str(BarFactory(material=steel, is_remnant=True)) == "remnant S235, square 40 x 40 x 3, 6000 mm"
    assert str(CuttingRuleFactory(material=steel)) == "S235, sheet, other thicknesses"
    assert str(CuttingRuleFactory(material=steel, thickness_mm=Decimal("1.50"))) == "S235, sheet, 1.5 mm"


def test_a_round_section_is_a_round_one():
    row = TubeSectionFactory(shape="round", height_mm=Decimal("48.3"), width_mm=Decimal("48.3"), corner_radius_mm=0)
    assert str(row) == "round 48.3 x 3"
